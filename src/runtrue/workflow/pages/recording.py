"""One recording: verdict and why, its faults on disc and side, what is heard at one, what was not judged."""

from dataclasses import dataclass, replace
from math import cos, radians, sin
from typing import Any

import numpy as np
from sqlalchemy import Connection

from runtrue.contract.listening import FindingRow, Listening, Tick, Traces
from runtrue.disc.wow import wow_from_offset
from runtrue.paper import faults
from runtrue.paper.disc import disc_picture, map_of
from runtrue.paper.faults import Fault
from runtrue.paper.layout import SCREEN
from runtrue.paper.limit_bar import limit_bar
from runtrue.paper.recording import format_words, not_judged_words
from runtrue.paper.strip import duration_of, span_of, strip_picture
from runtrue.paper.words import (
    CHANNEL_WORDS,
    clock,
    copy_title,
    fixed,
    limit_words,
    number,
    odds,
    sentence,
    sentence_case,
)
from runtrue.records import asking, tables
from runtrue.types import silent
from runtrue.units import MM
from runtrue.workflow.actions import Ports
from runtrue.workflow.pages.library import Played, plays_of_sample, recording, result_of
from runtrue.workflow.pages.page import Head, Picture, Tag, degrees_words, head, picture
from runtrue.workflow.papers.ask_press import HeardRequest
from runtrue.workflow.papers.entering import enter
from runtrue.workflow.words import advice

DISC, BARS = 330.0, 510.0
STRIP, SMALL_STRIP = 1330.0, 930.0
"""Widths of the pictures [px]; each is shown as wide as there is room."""
_SAME_S = 0.05
"""A word or an address so near a fault is about it [s]."""
MOST_DRAWN = 2000
"""Ticks in a drawing; the marks of the disc picture in the browser are all of them."""
MOST_ROWS = 200
"""Faults in the table; the disc picture and the JSON of the result hold all."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FaultRow:
    """A fault of the table."""

    kind: str
    time: str
    turn: str
    angle: str
    radius: str
    over_noise: str
    where: str
    heard: str
    failing: bool
    chosen: bool
    href: str


@dataclass(frozen=True, slots=True, kw_only=True)
class HeardRow:
    """What a listener said of the chosen place."""

    who: str
    word: str
    at: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Chosen:
    """The chosen fault: where it is, how it sounds, what listeners say; links to the one before and after."""

    tag: Tag
    programme_s: float
    capture: str
    reference: str
    difference: str
    waves: str
    spectrograms: list[str]
    heard: list[HeardRow]
    before: str
    after: str
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LimitRow:
    """A limit in force and who answers for it."""

    words: str
    limit: str
    owner: str
    source: str
    date: str


@dataclass(frozen=True, slots=True, kw_only=True)
class NotJudgedRow:
    """What was not judged, and why."""

    what: str
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class OtherPlay:
    """Another recording of the same copy: its other side, or another placing."""

    words: str
    href: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordingPage:
    """One recording."""

    head: Head
    key: str
    name: str
    playable: bool
    disc: Picture
    face: str
    faces: list[tuple[str, str, bool]]
    outline: dict[str, float]
    marks: str
    findings: list[Picture]
    strip: Picture
    strip_small: Picture
    strip_spans: list[tuple[float, float]]
    duration_s: float
    chosen: Chosen | None
    swing: str
    faults: list[FaultRow]
    more: str
    limits: list[LimitRow]
    limits_name: str
    not_judged: list[NotJudgedRow]
    cautions: list[str]
    copies: str
    others: list[OtherPlay]


def recording_page(ports: Ports, key: str, *, at: float | None = None, face: str = "playing") -> RecordingPage:
    """The page of a recording; ``at`` chooses the fault nearest to a programme time, or the place itself."""
    book = ports.open_book(None)
    with book.read() as connection:
        played = recording(connection, key)
        words = asking.rows_where(connection, tables.Heard, analysis=key)
        entries = {row.id: row for row in asking.entry_rows(connection, [word.entry for word in words])}
        others = plays_of_sample(connection, played.sample)
        kept = {digest for digest in (played.capture, played.reference) if digest and _is_kept(connection, digest)}
    checked = result_of(book, key)
    report, traces = checked.listening, checked.traces
    found = places(report, traces)
    shown = thinned(report)
    chosen = _chosen(report, traces, found, at)
    said = sentence(_label(played), report, "", places=True)
    rows = _rows(key, report, found, chosen)
    return RecordingPage(
        head=head(
            "Recording", said, act=advice(report), verdict=report.verdict,
            detail=_detail(played, report),
        ),
        key=key, name=played.name, playable=played.capture in kept,
        disc=picture(
            disc_picture(shown, traces, pen=SCREEN, wide=DISC, side=played.side, face=face, chosen=chosen), "disc"
        ),
        face=face,
        faces=[("playing", "Playing face", face == "playing"), ("stamper", "Stamper", face == "stamper")],
        outline=outline(report, traces), marks=f"/recordings/{key}/marks.bin",
        findings=[
            picture(limit_bar(row, pen=SCREEN, wide=BARS), f"finding-{place}")
            for place, row in enumerate(_ranked(report))
        ],
        strip=picture(strip_picture(shown, traces, pen=SCREEN, wide=STRIP, chosen=chosen), "strip"),
        strip_small=picture(
            strip_picture(shown, traces, pen=SCREEN, wide=SMALL_STRIP, chosen=chosen), "strip-small"
        ),
        strip_spans=[_shares(wide) for wide in (STRIP, SMALL_STRIP)], duration_s=round(duration_of(report, traces), 3),
        chosen=None if chosen is None else _told(
            report, played, chosen, found=found,
            heard=[_said(one, entries[one.entry]) for one in words if _there(one.programme_s, chosen)],
        ),
        swing=swing_words(report, traces),
        faults=rows[:MOST_ROWS], more=f"and {len(rows) - MOST_ROWS} more" if len(rows) > MOST_ROWS else "",
        limits=_limits(report), limits_name=report.settings.limits,
        not_judged=[NotJudgedRow(what=sentence_case(what), reason=why) for what, why in not_judged_words(report)],
        cautions=report.cautions,
        copies=f"/copies/{played.job}/{played.side or '-'}" if played.job else "",
        others=[_other(one) for one in others if one.analysis != key],
    )  # fmt: skip


def _shares(wide: float) -> tuple[float, float]:
    """Where the side begins and ends across a strip, as shares of its width."""
    left, right = span_of(SCREEN, wide)
    return round(left / wide, 5), round(right / wide, 5)


def _other(play: Any) -> OtherPlay:
    told = {"yes": ", washed", "no": ", not washed"}.get(play.washed or "", "")
    words = f"Side {play.side or '-'}" + (f", pushed {play.push}" if play.push else "") + told
    return OtherPlay(words=words, href=f"/recordings/{play.analysis}")


def _is_kept(connection: Connection, digest: str) -> bool:
    return asking.newest(connection, tables.Capture, digest=digest) is not None


def _label(played: Played) -> str:
    if played.sample is None:
        return copy_title(played.name)
    pushed = f", pushed {played.push}" if played.push else ""
    washed = {True: ", washed", False: ", not washed", None: ""}[played.washed]
    side = f", side {played.side}" if played.side else ""
    return f"Copy {played.sample}{side}{pushed}{washed}" + ("," if side or pushed or washed else "")


def _detail(played: Played, report: Listening) -> str:
    parts = [
        f"job {played.job}" if played.job else "", f"closure {played.closure}" if played.closure is not None else "",
        format_words(report.settings.format), f"limits: {report.settings.limits}",
    ]  # fmt: skip
    reach = report.programme.reach_s
    parts += [f"judged from {clock(reach[0], tenths=False)} to {clock(reach[1], tenths=False)}"] if reach else []
    return sentence_case(", ".join(part for part in parts if part)) + "."


def _ranked(report: Listening) -> list[FindingRow]:
    order = {"fail": 0, "cannot_judge": 1, "pass": 2}
    return sorted(report.findings, key=lambda row: (not row.in_verdict, order[row.verdict]))


def thinned(report: Listening) -> Listening:
    """The recording with its loudest ticks alone, where a drawing could not hold all."""
    ticks = report.ticks or []
    if len(ticks) <= MOST_DRAWN:
        return report
    least = sorted((tick.prominence_db for tick in ticks), reverse=True)[MOST_DRAWN - 1]
    return replace(report, ticks=[tick for tick in ticks if tick.prominence_db >= least][:MOST_DRAWN])


def places(report: Listening, traces: Traces) -> list[Fault]:
    """Every fault with a place, by programme time."""
    return sorted([*faults.ticks_of(report), *faults.jumps_of(report, traces)], key=lambda one: one.programme_s)


def _chosen(report: Listening, traces: Traces, found: list[Fault], at: float | None) -> Fault | None:
    if at is None:
        loudest = max(found, key=lambda one: one.weight, default=None)
        return faults.chosen_fault(report, traces) or loudest
    near = min(found, key=lambda one: abs(one.programme_s - at), default=None)
    if near is not None and _there(at, near):
        return near
    radius = faults.radius_at(traces, at)
    if radius is None:
        return near
    return Fault(
        kind="place", programme_s=at, angle_deg=faults.turn_angle(report, at), angle_u95_deg=0.0, radius_mm=radius
    )


def _there(time: float, chosen: Fault) -> bool:
    return abs(time - chosen.programme_s) < _SAME_S


def _said(row: Any, entry: Any) -> HeardRow:
    return HeardRow(who=entry.who, word=row.word.replace("_", " "), at=f"{entry.at:%Y-%m-%d %H:%M}")


def _told(
    report: Listening, played: Played, chosen: Fault, *, found: list[Fault], heard: list[HeardRow]
) -> Chosen:  # fmt: skip
    """What the page says of the chosen fault."""
    key = played.key
    rim = faults.outline_of(report.settings.format).rim
    share, angle = min(chosen.radius_mm / rim, 1.0), radians(chosen.angle_deg)
    turn = int(chosen.programme_s // report.turn.period_s)
    doubt = chosen.angle_u95_deg or None
    base, query = f"/recordings/{key}", f"at={chosen.programme_s:.3f}"
    before = max((f for f in found if f.programme_s < chosen.programme_s - 1e-4), key=_when, default=None)
    after = min((f for f in found if f.programme_s > chosen.programme_s + 1e-4), key=_when, default=None)
    return Chosen(
        tag=Tag(
            where=f"{played.side} {clock(chosen.programme_s)}".strip(),
            detail=f"turn {turn}, {degrees_words(chosen.angle_deg, doubt)}", programme_s=chosen.programme_s,
            cx=round(-share * sin(angle), 4), cy=round(-share * cos(angle), 4), failing=chosen.failing,
        ),
        programme_s=round(chosen.programme_s, 3),
        capture=f"{base}/sound/capture.wav?{query}",
        reference="" if report.reference is None else f"{base}/sound/reference.wav?{query}",
        difference="" if report.reference is None else f"{base}/sound/difference.wav?{query}",
        waves="" if report.reference is None else f"{base}/waves.bin?{query}",
        spectrograms=[] if report.reference is None else [
            f"{base}/spectrogram/{which}.png?{query}" for which in ("capture", "reference", "difference")
        ],
        heard=heard, before=_link(key, before), after=_link(key, after), words=_words(report, chosen),
    )  # fmt: skip


def _when(fault: Fault) -> float:
    return fault.programme_s


def _link(key: str, fault: Fault | None) -> str:
    return "" if fault is None else f"/recordings/{key}?at={fault.programme_s:.3f}"


def _words(report: Listening, chosen: Fault) -> str:
    """The chosen fault in a sentence."""
    tick = next((t for t in report.ticks or [] if abs(t.programme_s - chosen.programme_s) < 1e-4), None)
    if tick is None:
        return ""
    wall = CHANNEL_WORDS[tick.channel]
    told = f"{fixed(tick.prominence_db, 1)} dB over the noise, {fixed(tick.duration_ms, 1)} ms, {wall}."
    if tick.audible_probability is not None:
        told += f" Heard by a listener: {odds(tick.audible_probability)}."
    return told


def swing_words(report: Listening, traces: Traces) -> str:
    """What the off-centre does to the pitch at both ends of the side."""
    centre = report.off_centre.played or report.off_centre.disc
    reach = report.programme.reach_s
    if centre is None or not traces.radius_mm or reach is None:
        return ""
    outer, inner = (
        100.0 * wow_from_offset(offset=centre.offset_um * 1e-6, radius=radius * MM)
        for radius in (traces.radius_mm[0], traces.radius_mm[-1])
    )
    offset = number(centre.offset_um, centre.offset_u95_um, "μm", decimals=0)
    whose = "this placing" if report.off_centre.played is not None else "the disc"
    return (
        f"Offset of {whose} {offset} (swing {fixed(centre.swing_um, 0)} μm): the pitch swings by {fixed(outer, 2)} % "
        f"each way at the outside and {fixed(inner, 2)} % at the inside."
    )


def _rows(key: str, report: Listening, found: list[Fault], chosen: Fault | None) -> list[FaultRow]:
    ticks = {tick.programme_s: tick for tick in report.ticks or []}
    return [_row(key, report, one, ticks.get(one.programme_s), chosen) for one in found]


def _row(key: str, report: Listening, one: Fault, tick: Tick | None, chosen: Fault | None) -> FaultRow:
    return FaultRow(
        kind=one.kind if tick is None or tick.train is None else f"tick of train {tick.train}", time=one.time,
        turn=str(tick.turn if tick is not None else int(one.programme_s // report.turn.period_s)),
        angle=degrees_words(one.angle_deg, one.angle_u95_deg or None),
        radius=str(number(one.radius_mm, None if tick is None else tick.radius_u95_mm, "mm", decimals=1)),
        over_noise="" if tick is None else f"{fixed(tick.prominence_db, 1)} dB",
        where="" if tick is None else CHANNEL_WORDS[tick.channel],
        heard="" if tick is None or tick.audible_probability is None else odds(tick.audible_probability),
        failing=one.failing, chosen=chosen is not None and one.programme_s == chosen.programme_s,
        href=_link(key, one),
    )  # fmt: skip


def _limits(report: Listening) -> list[LimitRow]:
    return [
        LimitRow(
            words=sentence_case(row.words), limit=limit_words(row), owner=row.owner, source=row.source, date=row.date
        )
        for row in report.findings
    ]


def outline(report: Listening, traces: Traces) -> dict[str, float]:
    """Radii of the disc's circles [mm] and where it lies in its picture, for the one drawn in the browser."""
    found = faults.outline_of(report.settings.format)
    on = map_of(found, pen=SCREEN, wide=DISC, face="playing")
    band = (traces.radius_mm[0], traces.radius_mm[-1]) if traces.radius_mm else (found.outermost, found.finishing)
    return {
        "rim": found.rim, "label": found.label, "hole": found.hole, "finishing": found.finishing, "outer": band[0],
        "inner": band[1], "cx": on.cx, "cy": on.cy, "scale": round(on.scale, 6),
    }  # fmt: skip


FAILS, JUMP = 1, 2
"""Bits of a mark's flags."""


def marks_of(ports: Ports, key: str) -> bytes:
    """Every mark with its place, by programme time: Uint32 count, Float32 time, angle, radius, weight, Uint16 flags.

    Little-endian, one column after another.
    """
    checked = result_of(ports.open_book(None), key)
    return packed(places(checked.listening, checked.traces))


def packed(found: list[Fault]) -> bytes:
    """Faults as columns."""
    columns = [
        np.array([getattr(one, name) for one in found], dtype="<f4").tobytes()
        for name in ("programme_s", "angle_deg", "radius_mm", "weight")
    ]
    flags = np.array([FAILS * one.failing + JUMP * (one.kind == "jump") for one in found], dtype="<u2")
    return b"".join([np.uint32(len(found)).astype("<u4").tobytes(), *columns, flags.tobytes()])


def note_heard(ports: Ports, key: str, programme_s: float, word: str) -> None:
    """Enter what the listener says."""
    with ports.open_book(None).read() as connection:
        recording(connection, key)
    enter(HeardRequest(analysis=key, programme_s=round(programme_s, 3), word=word), ports, silent)
