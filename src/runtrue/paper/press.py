"""The temperature picture of a press cycle, and the sheet it is printed on.

Time across, temperature up: the stamper's face and the middle of the record, each with the band that holds 95 of 100;
over them the programme of steam, water and open, across them the plant's own two temperatures.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import ceil, floor
from pathlib import Path as FilePath

from runtrue.contract.press_cycle import PressCycle, PressCycles
from runtrue.paper.drawing import Box, Drawing, Hatch, Path, Rect, Shape, Text
from runtrue.paper.faces import Weight, shortened, width
from runtrue.paper.layout import PRINT, Labels, Pen, around, nice_step
from runtrue.paper.page import BOTTOM, INNER, MARGIN, TOP, Sheet, frame, head, page, paragraph, rule, table
from runtrue.paper.page import Column as PageColumn
from runtrue.paper.pdf import write_pages
from runtrue.paper.tokens import Role
from runtrue.paper.words import NO_BREAK, fixed

MOST = 7
"""Inputs that the sheet lists; the page and the JSON hold them all."""
_FLUIDS = {"steam": "steam", "water": "water", "air": "open", "none": "hold"}


@dataclass(frozen=True, slots=True, kw_only=True)
class _Axes:
    """Where the field lies in the picture, and what it spans."""

    box: Box
    seconds: float
    low: float
    high: float

    def at(self, time: float, degc: float) -> tuple[float, float]:
        """Place of a time and a temperature."""
        box = self.box
        share = (degc - self.low) / (self.high - self.low)
        return box.left + time / self.seconds * (box.right - box.left), box.bottom - share * (box.bottom - box.top)


def temperature_picture(cycles: Sequence[PressCycle], *, pen: Pen, wide: float, high: float) -> Drawing:
    """The temperatures of one cycle, or of two on top of each other, the second dashed and without its bands."""
    size = pen.label
    heads = len(cycles)
    box = Box(
        left=3.4 * size, right=wide - 9.2 * size, top=1.6 * pen.text + (1.9 * size) * heads, bottom=high - 4.6 * size
    )
    axes = _Axes(box=box, seconds=max(one.opens_s for one in cycles), low=_low(cycles), high=_high(cycles))
    items: list[Shape] = [
        Text(x=0.0, y=pen.text, text="Through the cycle", size=pen.text, weight=Weight.LABEL),
        Text(x=wide, y=pen.text, text="bands hold 95 of 100", size=size, role=Role.INK_2, anchor="end"),
        Rect(x=box.left, y=box.top, width=box.right - box.left, height=box.bottom - box.top, fill=Role.WELL),
    ]
    first = cycles[0]
    items += _grid(axes, pen)
    items += _band(axes, first, "stamper_face", pen)
    items += _band(axes, first, "mid_plane", pen)
    labels = Labels(frame=box, air=0.6 * size)
    for one in cycles:
        _block(axes, one, labels, size)
    for place, one in enumerate(cycles):
        items += _programme(axes, one, box.top - (1.9 * size) * (heads - place), pen, named=heads > 1)
        items += _curves(axes, one, pen, dashed=place > 0)
    items += _levels(axes, first, pen, labels)
    items += _names(axes, first, pen, labels)
    items += _ending(cycles, axes, pen)
    y = high - 0.5 * size
    said = f"Dashed: {cycles[1].name}. Bands are those of {first.name}." if heads > 1 else _state(first)
    said = f"{said} No figure is a safe setting."
    items.append(Text(x=0.0, y=y, text=shortened(said, size=size, room=wide), size=size, role=Role.INK_2))
    mid = first.mid_plane_at_opening_degc
    return Drawing(
        title="Through the cycle",
        description=(
            f"{first.name}: opens at {first.opens_s:g} s, mid-plane {mid.value:g} ({mid.low:g} to {mid.high:g}) degC, "
            f"stamper face {first.stamper_face_at_opening_degc.value:g} degC."
        ),
        width=wide, height=high, unit=pen.unit, items=tuple(items),
    )  # fmt: skip


def _state(one: PressCycle) -> str:
    known = "Fitted to this press's log." if one.calibrated else "Not fitted to this press: bands of an unmeasured one."
    start = "Running press." if one.running else f"Starts at {one.mould_start_degc:.0f}{NO_BREAK}°C."
    return f"{known} {start} Uneven channels cannot be seen here."


def _low(cycles: Sequence[PressCycle]) -> float:
    return 20.0 * floor(min(min(one.traces.stamper_face_low_degc) for one in cycles) / 20.0)


def _high(cycles: Sequence[PressCycle]) -> float:
    tops = [max(*one.traces.stamper_face_high_degc, *one.traces.mid_plane_high_degc) for one in cycles]
    return 20.0 * ceil((max(tops) + 2.0) / 20.0)


def _band(axes: _Axes, one: PressCycle, which: str, pen: Pen) -> list[Shape]:
    """A hatched band; the two lean against each other, so that one ink tells them apart."""
    traces = one.traces
    low, high = getattr(traces, f"{which}_low_degc"), getattr(traces, f"{which}_high_degc")
    over = [axes.at(t, v) for t, v in zip(traces.time_s, high, strict=True)]
    under = [axes.at(t, v) for t, v in zip(traces.time_s, low, strict=True)]
    stamper = which == "stamper_face"
    fill = Role.PETROL_WASH if stamper else Role.HAIR
    hatch = Hatch(role=Role.PETROL if stamper else Role.INK_2, gap=1.1 * pen.grid, width=0.6 * pen.hair,
                  leaning="/" if stamper else "\\")  # fmt: skip
    return [Path(points=(*over, *reversed(under)), closed=True, fill=fill, hatch=hatch if pen.unit == "mm" else None)]


def _curves(axes: _Axes, one: PressCycle, pen: Pen, *, dashed: bool) -> list[Shape]:
    traces = one.traces
    found: list[Shape] = []
    for values, role in ((traces.stamper_face_degc, Role.PETROL), (traces.mid_plane_degc, Role.INK)):
        points = tuple(axes.at(t, v) for t, v in zip(traces.time_s, values, strict=True))
        found.append(Path(points=points, stroke=pen.line(role, width=pen.data, dash=dashed)))
    return found


def _grid(axes: _Axes, pen: Pen) -> list[Shape]:
    size, box = pen.label, axes.box
    found: list[Shape] = []
    level = axes.low
    while level <= axes.high + 1e-9:
        y = axes.at(0.0, level)[1]
        found.append(Path(points=((box.left, y), (box.right, y)), stroke=pen.line(Role.HAIR, width=pen.hair)))
        found.append(Text(x=box.left - 0.5 * size, y=y + 0.35 * size, text=fixed(level, 0), size=size, anchor="end"))
        level += 20.0
    found.append(Text(x=0.0, y=box.top - 0.5 * size, text="°C", size=size, role=Role.INK_2))
    step = nice_step(axes.seconds, most=10)
    time = 0.0
    while time <= axes.seconds + 1e-9:
        x = axes.at(time, axes.low)[0]
        last = time + step > axes.seconds + 1e-9
        found.append(Path(points=((x, box.bottom), (x, box.bottom + 0.4 * size)), stroke=pen.line(Role.LINE)))
        text = f"{time:g}{NO_BREAK}s" if last else f"{time:g}"
        found.append(Text(x=x, y=box.bottom + 1.5 * size, text=text, size=size, anchor="middle"))
        time += step
    found.append(Path(points=((box.left, box.bottom), (box.right, box.bottom)), stroke=pen.line(Role.LINE)))
    return found


def _programme(axes: _Axes, one: PressCycle, y: float, pen: Pen, *, named: bool) -> list[Shape]:
    """The phases as boxes over the field: what is in the mould, and how hot."""
    size, tall = pen.label, 1.6 * pen.label
    found: list[Shape] = []
    for phase in one.phases:
        if phase.open or phase.from_s >= axes.seconds:
            continue
        left, right = axes.at(phase.from_s, 0.0)[0], axes.at(min(phase.to_s, axes.seconds), 0.0)[0]
        found.append(Rect(x=left, y=y, width=right - left, height=tall, fill=Role.SHEET, stroke=pen.line(Role.LINE)))
        warm = "" if phase.temperature_degc is None else f" {phase.temperature_degc:.0f}{NO_BREAK}°C"
        for text in (f"{phase.name}{warm}, {phase.to_s - phase.from_s:g}{NO_BREAK}s", phase.name, _FLUIDS[phase.fluid]):
            if width(text, size=size) < right - left - 0.6 * size:
                found.append(Text(x=(left + right) / 2.0, y=y + 1.15 * size, text=text, size=size, anchor="middle"))
                break
    if named:
        end = axes.at(one.opens_s, 0.0)[0] + 0.5 * size
        told = shortened(one.name, size=size, room=9.0 * size + axes.box.right - end)
        found.append(Text(x=end, y=y + 1.15 * size, text=told, size=size, role=Role.INK_2))
    return found


def _block(axes: _Axes, one: PressCycle, labels: Labels, size: float) -> None:
    """Keep labels off the curves."""
    traces = one.traces
    for values in (traces.stamper_face_degc, traces.mid_plane_degc):
        points = [axes.at(t, v) for t, v in zip(traces.time_s, values, strict=True)]
        for (x0, y0), (x1, y1) in pairwise(points):
            top, bottom = min(y0, y1), max(y0, y1)
            labels.block(Box(left=x0, top=top - 0.15 * size, right=x1, bottom=bottom + 0.15 * size))


def _levels(axes: _Axes, one: PressCycle, pen: Pen, labels: Labels) -> list[Shape]:
    """The plant's own temperatures as limit lines, their words where no curve runs."""
    size, box = pen.label, axes.box
    found: list[Shape] = []
    for level, words in ((one.flow_degc, "flows above"), (one.open_below_degc, "open below")):
        if level is None or not axes.low < level < axes.high:
            continue
        y = axes.at(0.0, level)[1]
        found.append(Path(points=((box.left, y), (box.right, y)), stroke=pen.line(width=pen.axis, dash=True)))
        said = f"{words} {level:g}{NO_BREAK}°C"
        steps = range(int((box.right - box.left) / size))
        candidates = [
            Text(x=box.left + (0.5 + k) * size, y=y + drop, text=said, size=size, weight=Weight.LABEL, edge=Role.WELL)
            for drop in (-0.4 * size, 1.05 * size)
            for k in steps
        ]
        placed = labels.place(candidates)
        if placed is not None:
            found.append(placed)
        labels.block(Box(left=box.left, top=y - 0.15 * size, right=box.right, bottom=y + 0.15 * size))
    return found


def _names(axes: _Axes, one: PressCycle, pen: Pen, labels: Labels) -> list[Shape]:
    """Each curve's name where there is room beside it."""
    size, traces = pen.label, one.traces
    found: list[Shape] = []
    for name, values, role, share in (
        ("stamper face", traces.stamper_face_degc, Role.PETROL, 0.18),
        ("middle of the record", traces.mid_plane_degc, Role.INK, 0.62),
    ):
        for moved in (0.0, 0.1, -0.1, 0.2, -0.2, 0.3):
            k = min(range(len(values)), key=lambda i: abs(traces.time_s[i] - (share + moved) * one.opens_s))
            x, y = axes.at(traces.time_s[k], values[k])
            placed = labels.place(
                around(x, y, 0.8 * size, name, size=size, weight=Weight.LABEL, role=role, edge=Role.WELL)
            )
            if placed is not None:
                found.append(placed)
                break
    return found


def _ending(cycles: Sequence[PressCycle], axes: _Axes, pen: Pen) -> list[Shape]:
    """What both are at the opening, beside the field, as far apart as they need; a second cycle's below."""
    size, x, one = pen.label, axes.box.right + 0.9 * pen.label, cycles[0]
    rows = [
        ([c.mid_plane_at_opening_degc for c in cycles], Role.INK),
        ([c.stamper_face_at_opening_degc for c in cycles], Role.PETROL),
    ]
    heights = [axes.at(0.0, values[0].value)[1] for values, _ in rows]
    tall = (1.5 if len(cycles) == 1 else 2.8) * size
    need = tall + pen.text + 0.5 * size
    if abs(heights[1] - heights[0]) < need:
        middle = sum(heights) / 2.0
        down = 0.5 * need if heights[1] >= heights[0] else -0.5 * need
        heights = [middle - down, middle + down]
    lift = max(max(heights) + tall - axes.box.bottom, 0.0)
    found: list[Shape] = []
    for (values, role), height in zip(rows, heights, strict=True):
        y, first = height - lift, values[0]
        said = [f"{fixed(first.low, 0)} to {fixed(first.high, 0)}"]
        said += [f"dashed {fixed(second.value, 0)}{NO_BREAK}°C" for second in values[1:]]
        found.append(Text(x=x, y=y, text=f"{fixed(first.value, 0)}{NO_BREAK}°C", size=pen.text, weight=Weight.VALUE,
                          role=role))  # fmt: skip
        found += [
            Text(x=x, y=y + 1.25 * size * (k + 1), text=text, size=size, role=Role.INK_2) for k, text in enumerate(said)
        ]
    opens = axes.at(one.opens_s, 0.0)[0]
    line = pen.line(Role.INK, width=pen.axis)
    found.append(Path(points=((opens, axes.box.top), (opens, axes.box.bottom)), stroke=line))
    told = f"opens at {one.opens_s:g}{NO_BREAK}s"
    found.append(Text(x=opens, y=axes.box.bottom + 2.8 * size, text=told, size=size, anchor="middle"))
    return found


def cycle_sheet(
    result: PressCycles, said: Sequence[str], rows: Sequence[tuple[str, ...]], inputs: Sequence[tuple[str, ...]], *,
    date: str,
) -> Drawing:  # fmt: skip
    """One A4 sheet: the sentence, the picture, the numbers, what they hang on, the cautions.

    ``rows``: words, then each cycle's value; ``inputs`` of the first cycle: words, off by, mid-plane, face, share.
    """
    first = result.cycles[0]
    sheet = Sheet(plant="", name=first.name, key=first.sha256, version=result.version, date=date)
    opening, y = head(None, said[0], y=TOP, below=" ".join(said[1:]))
    picture = temperature_picture(result.cycles, pen=PRINT, wide=INNER, high=88.0)
    shapes: list[Shape] = [*frame(sheet, 1, 1), *opening, rule(y), picture.placed(MARGIN, y + 3.0)]
    y += picture.height + 6.0
    ends = [MARGIN + INNER] if len(result.cycles) == 1 else [MARGIN + 0.68 * INNER, MARGIN + INNER]
    columns = (
        PageColumn(heading="", x=MARGIN),
        *(PageColumn(heading=one.name, x=end, right=True) for one, end in zip(result.cycles, ends, strict=True)),
    )
    drawn, y = table(columns, list(rows), y=y, left=MARGIN, end=MARGIN + INNER, step=4.6)
    shapes += drawn
    y += 6.0
    ends = [MARGIN + share * INNER for share in (0.55, 0.7, 0.86, 1.0)]
    heads = ("if it is off by", "mid-plane", "stamper face", "share of the doubt")
    columns = (
        PageColumn(heading="What matters most at the opening", x=MARGIN),
        *(PageColumn(heading=words, x=end, right=True) for words, end in zip(heads, ends, strict=True)),
    )
    drawn, y = table(columns, list(inputs[:MOST]), y=y, left=MARGIN, end=MARGIN + INNER, step=4.6)
    shapes += drawn
    y += 3.0
    for strong, texts in (("Cautions. ", result.cautions), ("Safety. ", result.safety)):
        text, y = paragraph(" ".join(texts), x=MARGIN, y=y, room=INNER, bottom=BOTTOM, strong=strong.strip())
        shapes += text
        y += 2.5
    return page(f"Press cycle {first.name}", picture.description, shapes)


def write_cycle_sheet(path: FilePath, sheet: Drawing) -> None:
    """Write the sheet as PDF."""
    write_pages(path, (sheet,), title=sheet.title, author="runtrue")
