"""Every picture of every invented recording: nothing overlaps, nothing leaves the frame, places are true to scale."""

import xml.etree.ElementTree as ET
from collections.abc import Callable
from dataclasses import replace
from itertools import combinations
from math import atan2, degrees, hypot

import pytest

from runtrue.contract.listening import Traces
from runtrue.paper import disc, faults, limit_bar, marks, strip
from runtrue.paper.copies import Entry, Shared, copies_picture
from runtrue.paper.drawing import Circle, Drawing, Group, Path, Rect, Shape, Text, texts
from runtrue.paper.layout import PRINT, SCREEN, Pen
from runtrue.paper.svg import to_svg
from runtrue.paper.tokens import Role, Theme
from tests import paper_samples as samples

PENS = {"page": SCREEN, "paper": PRINT}


def overlaps(drawing: Drawing) -> list[tuple[str, str]]:
    """Pairs of texts whose boxes share more than a sliver."""
    boxes = [(text.text, text.box) for text in texts(drawing.items)]
    air = -0.12 * PRINT.label if drawing.unit == "mm" else -0.12 * SCREEN.label
    return [(one, other) for (one, a), (other, b) in combinations(boxes, 2) if a.touches(b, air=air)]


def outside(drawing: Drawing) -> list[str]:
    slack = 0.02 * drawing.width
    return [text.text for text in texts(drawing.items) if not text.box.within(drawing.frame, slack=slack)]


def smallest(drawing: Drawing) -> float:
    return min(text.size for text in texts(drawing.items))


def entries() -> tuple[Entry, ...]:
    names = ["passes", "off_centre", "ticks", "cannot_judge", "many_ticks", "jumps_and_zones", "unclear", "other"]
    closures = [12, 120, 180, 181, 240, 400, 455, 930]
    found = []
    for place, (name, closure) in enumerate(zip(names, closures, strict=True), 1):
        listening, traces = samples.SAMPLES[name]()
        found.append(
            Entry(
                copy=f"copy {place}", side="A", closure=closure, stamper="A-M1-S1", listening=listening, traces=traces
            )
        )
    listening, traces = samples.passes()
    found += [
        Entry(copy="copy 3", side="B", closure=180, stamper="B-M1-S1", listening=listening, traces=traces, note=note)
        for note in ("pushed away", "pushed toward")
    ]
    found.append(Entry(copy="copy 2", side="B", closure=120, stamper="B-M1-S1", listening=None))
    found.append(Entry(copy="copy 1", side="B", closure=12, stamper="B-M1-S1", listening=listening, traces=traces))
    return tuple(found)


SHARED = (Shared(side="A", programme_s=31.2, copies=("copy 1", "copy 2", "copy 3")),)
MAKERS: dict[str, Callable[[samples.Sample, Pen], Drawing]] = {
    "disc": lambda s, pen: disc.disc_picture(*s, pen=pen, wide=80 * pen.grid, side="A"),
    "stamper": lambda s, pen: disc.disc_picture(*s, pen=pen, wide=80 * pen.grid, side="A", face="stamper"),
    "strip": lambda s, pen: strip.strip_picture(*s, pen=pen, wide=180 * pen.grid),
    "findings": lambda s, pen: limit_bar.findings_picture(s[0].findings, pen=pen, wide=100 * pen.grid),
}


@pytest.mark.parametrize("pen", list(PENS))
@pytest.mark.parametrize("kind", list(MAKERS))
@pytest.mark.parametrize("name", list(samples.SAMPLES))
def test_no_text_overlaps_leaves_the_frame_or_is_tiny(name: str, kind: str, pen: str) -> None:
    check(MAKERS[kind](samples.SAMPLES[name](), PENS[pen]), PENS[pen])


@pytest.mark.parametrize("pen", list(PENS))
def test_copies_picture_is_as_tidy(pen: str) -> None:
    check(copies_picture(entries(), pen=PENS[pen], wide=180 * PENS[pen].grid, shared=SHARED), PENS[pen])


def check(drawing: Drawing, pen: Pen) -> None:
    assert overlaps(drawing) == []
    assert outside(drawing) == []
    assert smallest(drawing) >= pen.label
    assert drawing.title
    assert len(drawing.description) > 20
    ET.fromstring(to_svg(drawing, Theme.DARK, name="x"))


def circles(items: tuple[Shape, ...]) -> list[Circle]:
    found: list[Circle] = []
    for item in items:
        if isinstance(item, Circle):
            found.append(item)
        elif isinstance(item, Group):
            found += circles(item.items)
    return found


@pytest.mark.parametrize(("face", "sense"), [("playing", 1.0), ("stamper", -1.0)])
def test_a_tick_lies_at_its_radius_and_angle(face: str, sense: float) -> None:
    listening, traces = samples.passes()
    assert listening.ticks is not None
    listening = replace(listening, ticks=listening.ticks[:1])
    tick = listening.ticks[0]  # type: ignore[index]
    drawing = disc.disc_picture(listening, traces, pen=SCREEN, wide=400.0, face=face)
    rim = max(circles(drawing.items), key=lambda c: c.radius)
    dot = next(c for c in circles(drawing.items) if c.fill is Role.INK)
    outline = faults.outline_of("12in-33")
    scale = rim.radius / outline.rim
    assert hypot(dot.cx - rim.cx, dot.cy - rim.cy) / scale == pytest.approx(tick.radius_mm, abs=0.01)
    angle = degrees(atan2(-(dot.cx - rim.cx), -(dot.cy - rim.cy)))
    assert (angle - sense * tick.angle_deg + 180.0) % 360.0 - 180.0 == pytest.approx(0.0, abs=0.01)


def test_off_centre_is_to_scale_with_its_doubt_and_its_limit() -> None:
    listening, traces = samples.fails_off_centre()
    drawing = disc.disc_picture(listening, traces, pen=SCREEN, wide=400.0)
    rim = max(circles(drawing.items), key=lambda c: c.radius)
    scale = rim.radius / faults.outline_of("12in-33").rim
    times = float(next(t.text for t in texts(drawing.items) if t.text.startswith("label")).split("× ")[1])
    disc_centre = listening.off_centre.disc
    assert disc_centre is not None
    doubt = next(c for c in circles(drawing.items) if c.hatch is not None)
    um = times * scale / 1000.0
    assert hypot(doubt.cx - rim.cx, doubt.cy - rim.cy) == pytest.approx(disc_centre.offset_um * um)
    assert doubt.radius == pytest.approx(disc_centre.u95_um * um)
    dashed = next(c for c in circles(drawing.items) if c.stroke and c.stroke.dash == SCREEN.line(dash=True).dash)
    assert dashed.radius == pytest.approx(200.0 * um)
    assert doubt.stroke is not None
    assert doubt.stroke.role is Role.ALARM


def test_a_limit_on_the_swing_is_drawn_as_half_of_it() -> None:
    listening, _ = samples.fails_off_centre()
    row = replace(listening.findings[0], quantity="off_centre_swing_um", upper=400.0)
    assert faults.centre_limit(replace(listening, findings=[row])) == 200.0


def test_the_chosen_fault_is_the_one_that_decided() -> None:
    assert faults.chosen_fault(*samples.passes()) is None
    tick = faults.chosen_fault(*samples.fails_ticks())
    assert tick is not None
    assert (tick.kind, tick.time) == ("tick", "1:27.0")
    jump = faults.chosen_fault(*samples.jumps_and_zones())
    assert jump is not None
    assert (jump.kind, jump.turns) == ("jump", 1)


def test_alarm_means_out_of_limit_and_nothing_else() -> None:
    for name in ("passes", "cannot_judge", "unclear", "swapped_and_cut"):
        sample = samples.SAMPLES[name]()
        for kind in ("disc", "strip", "findings"):
            assert 'fill="#B8270A"' not in to_svg(MAKERS[kind](sample, SCREEN)), (name, kind)
    assert 'fill="#B8270A"' in to_svg(MAKERS["disc"](samples.fails_ticks(), SCREEN))


def test_what_was_not_judged_is_said_and_left_blank() -> None:
    said = [t.text for t in texts(MAKERS["strip"](samples.empty(), SCREEN).items)]
    assert said.count("not judged") == 4
    said = [t.text for t in texts(MAKERS["disc"](samples.empty(), SCREEN).items)]
    assert "off-centre not judged" in said
    half = Traces(programme_s=[0.0, 1.0, 2.0, 3.0], radius_mm=[140.0] * 4, level_db=[-3.0, None, -4.0, -5.0])
    assert len(strip.stretches(half.programme_s, half.level_db)) == 2


def test_limit_bar_draws_the_interval_and_the_limit_to_one_scale() -> None:
    row = samples.fails_off_centre()[0].findings[0]
    scale = limit_bar.scale_of(row, x=0.0, width=400.0)
    assert (scale.low, scale.at(scale.low), scale.at(scale.high)) == (0.0, 0.0, 400.0)
    shapes = limit_bar.bar(row, scale, y=10.0, pen=SCREEN, thick=10.0)
    interval = next(s for s in shapes if isinstance(s, Rect) and s.fill is Role.ALARM)
    assert interval.width == pytest.approx(2.0 * 31.0 / (scale.high - scale.low) * 400.0)
    lines = [s.points[0][0] for s in shapes if isinstance(s, Path)]
    assert scale.at(200.0) in lines


def test_limit_bar_hatches_both_sides_of_a_two_sided_limit() -> None:
    row = samples.row("speed_deviation", "speed", "%", 0.05, 0.01, lower=-0.5, upper=0.5)
    shapes = limit_bar.bar(row, limit_bar.scale_of(row, x=0.0, width=400.0), y=0.0, pen=SCREEN, thick=10.0)
    assert sum(isinstance(s, Rect) and s.hatch is not None for s in shapes) == 2


def test_findings_fit_the_height_they_are_given() -> None:
    rows = samples.many_ticks()[0].findings
    full = limit_bar.findings_picture(rows, pen=PRINT, wide=96.0)
    tight = limit_bar.findings_picture(rows, pen=PRINT, wide=96.0, high=0.86 * full.height)
    assert tight.height <= 0.86 * full.height
    none_left_out = [t.text for t in texts(tight.items) if "more in the result" in t.text]
    assert none_left_out == []
    small = limit_bar.findings_picture(rows, pen=PRINT, wide=96.0, high=0.3 * full.height)
    assert any("more in the result" in t.text for t in texts(small.items))


def test_verdict_marks_differ_in_shape_and_say_their_word() -> None:
    kinds = {
        verdict: [type(s).__name__ for s in marks.verdict_picture(verdict, size=24.0, pen=SCREEN).items]
        for verdict in ("pass", "fail", "cannot_judge")
    }
    assert kinds == {"pass": ["Circle"] * 2, "fail": ["Rect", "Circle"], "cannot_judge": ["Sector"] * 2}
    assert "cannot judge" in marks.verdict_picture("cannot_judge", size=24.0, pen=SCREEN).title


def test_address_tag_holds_its_texts() -> None:
    shapes, box = marks.address_tag(
        where="A 1:23.4", detail="turn 46, 120° ± 2°", angle=120.0, share=0.95, x=10.0, y=10.0, pen=SCREEN, failing=True
    )
    assert all(t.box.within(box) for t in shapes if isinstance(t, Text))
    assert any(isinstance(s, Circle) and s.fill is Role.ALARM for s in shapes)


def test_copies_stand_in_closure_order_and_shared_faults_have_a_flag() -> None:
    drawing = copies_picture(entries(), pen=PRINT, wide=180.0, shared=SHARED)
    found = [t for t in texts(drawing.items) if t.text.startswith("Copy ")]
    assert [t.text for t in found[:8]] == [f"Copy {k}" for k in range(1, 9)]
    assert [t.text for t in found[8:]] == ["Copy 1", "Copy 2", "Copy 3, pushed away", "Copy 3, pushed toward"]
    assert any(t.text == "0:31.2" for t in texts(drawing.items))
    assert any(t.text == "not played" for t in texts(drawing.items))


def test_a_low_picture_keeps_the_bad_copies_and_their_neighbours() -> None:
    good, traces = samples.passes()
    bad, _ = samples.fails_off_centre()
    found = tuple(
        Entry(copy=f"copy {k}", side="A", closure=k, listening=bad if k == 30 else good, traces=traces)
        for k in range(60)
    )
    drawing = copies_picture(found, pen=PRINT, wide=180.0, high=40.0)
    shown = {t.text for t in texts(drawing.items)}
    assert {"Copy 29", "Copy 30", "Copy 31"} <= shown
    assert any("more recordings stand in the table only." in text for text in shown)
    assert drawing.height <= 40.0


def test_no_copies_is_an_empty_picture_and_no_crash() -> None:
    assert copies_picture((), pen=PRINT, wide=180.0).items == ()
