"""The finder ring at 1:1: laid on the label of a disc or on a stamper, its rays lead to each fault.

Two rings, for the playing face and mirrored for the stamper's, a rule of radii from the spindle, and the same in a
table. Angles grow against the clock on the playing face and with the clock on the stamper's.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from runtrue.contract.ring import RingMark
from runtrue.paper.drawing import Circle, Drawing, Path, Rect, Sector, Shape, Text, polar
from runtrue.paper.faces import Weight, shortened
from runtrue.paper.layout import PRINT
from runtrue.paper.page import (
    BOTTOM,
    INNER,
    MARGIN,
    TOP,
    WIDTH,
    Column,
    Sheet,
    frame,
    head,
    page,
    paragraph,
    rule,
    table,
)
from runtrue.paper.tokens import Role
from runtrue.paper.words import clock, fixed, number

HOLE = 7.24
"""Small hole [mm]; what is cut out of the ring."""
_WORDS = 55.0
"""Rays nearer to straight up or down than this run through the words there [deg]."""
LEFT = MARGIN + 5.0
"""Where the rule of radii begins: the spindle's centre [mm]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RingSheet:
    """What the sheet prints. ``ring_mm`` is the diameter of the rings; ``zero`` says what lies at 0 deg."""

    said: str
    below: str
    marks: tuple[RingMark, ...]
    ring_mm: float
    zero: str
    side: str
    sheet: Sheet


def ring_page(sheet: RingSheet) -> Drawing:
    """The sheet as one page."""
    items: list[Shape] = [*frame(sheet.sheet, 1, 1)]
    top, y = head(None, sheet.said, y=TOP + 1.0, below=sheet.below)
    items += [*top, rule(y)]
    y += 2.0
    items.append(
        Text(x=MARGIN, y=y + 3.6, text="Find it on the disc or the stamper", size=PRINT.finding, weight=Weight.LABEL)
    )
    y += 10.0
    radius = sheet.ring_mm / 2.0
    middle = y + radius
    for place, mirrored in ((0.25, False), (0.75, True)):
        items += _ring(sheet, MARGIN + place * INNER, middle, radius, mirrored=mirrored)
    y = middle + radius + 6.0
    how = (
        f"Print at 100 %. Cut out a ring and its hole and lay it on the spindle, 0 at {sheet.zero}. Follow the ray of "
        "a letter outward to its radius on the rule and put the magnifier there. Grey wedges and grey bars hold the "
        "spot 95 times in 100."
    )
    lines, y = paragraph(how, x=MARGIN, y=y, room=INNER, bottom=BOTTOM, size=PRINT.text, role=Role.INK)
    items += lines
    items += _rule(sheet.marks, y + 12.0)
    y += 26.0
    items += _table(sheet.marks, y)
    told = f"{sheet.said} " + " ".join(
        f"{m.letter}: {clock(m.programme_s)}, {m.angle_deg:.0f} deg." for m in sheet.marks
    )
    return page("Finder ring", told, items)


def _ring(sheet: RingSheet, cx: float, cy: float, radius: float, *, mirrored: bool) -> list[Shape]:
    """One ring: a tick each 5 deg, figures each 30, the zero notch, a ray and a wedge for each fault."""
    sense = -1.0 if mirrored else 1.0
    hair, line = PRINT.line(width=PRINT.hair), PRINT.line(width=PRINT.axis)
    inner = 0.78 * radius
    shapes: list[Shape] = []
    for mark in sheet.marks:
        half = min(mark.angle_u95_deg, 180.0)
        start = sense * mark.angle_deg - half
        shapes.append(
            Sector(cx=cx, cy=cy, inner=HOLE, outer=radius, start=start, sweep=max(2.0 * half, 0.2), fill=Role.HAIR)
        )
    shapes += [
        Circle(cx=cx, cy=cy, radius=radius, stroke=line),
        Circle(cx=cx, cy=cy, radius=inner, stroke=PRINT.line(Role.LINE, width=PRINT.hair)),
        Circle(cx=cx, cy=cy, radius=HOLE / 2.0, fill=Role.SHEET, stroke=line),
        Path(points=((cx - 1.2, cy), (cx + 1.2, cy)), stroke=hair),
        Path(points=((cx, cy - 1.2), (cx, cy + 1.2)), stroke=hair),
        Path(
            points=((cx, cy - radius), (cx - 2.0, cy - radius - 4.0), (cx + 2.0, cy - radius - 4.0)), closed=True,
            fill=Role.INK,
        ),
    ]  # fmt: skip
    for degree in range(0, 360, 5):
        length = 3.4 if degree % 10 == 0 else 1.8
        angle = sense * degree
        ends = polar(cx, cy, radius, angle), polar(cx, cy, radius - length, angle)
        shapes.append(Path(points=ends, stroke=line if degree % 10 == 0 else hair))
        if degree % 30 == 0:
            x, y = polar(cx, cy, radius - 6.0, angle)
            weight = Weight.VALUE if degree == 0 else Weight.TEXT
            shapes.append(
                Text(x=x, y=y + 0.35 * PRINT.label, text=str(degree), size=PRINT.label, weight=weight, anchor="middle",
                     edge=Role.SHEET)
            )  # fmt: skip
    shapes += _rays(sheet.marks, cx, cy, radius, sense)
    face, turning = (
        ("stamper's face", "angles with the clock") if mirrored else ("playing face", "angles against the clock")
    )
    up = 0.0 if _rays_near(sheet.marks, 0.0) <= _rays_near(sheet.marks, 180.0) else 20.0
    for text, size, weight, drop in (
        (face, PRINT.finding, Weight.VALUE, up - 9.5), (turning, PRINT.label, Weight.TEXT, up - 5.5),
        (sheet.side, PRINT.label, Weight.LABEL, -6.0 if up else 11.0),
    ):  # fmt: skip
        shapes.append(Text(x=cx, y=cy + drop, text=text, size=size, weight=weight, anchor="middle", edge=Role.SHEET))
    return shapes


def _rays_near(marks: Sequence[RingMark], angle: float) -> int:
    """Rays that would run through words above (0 deg) or below (180 deg) the hole."""
    return sum(abs((mark.angle_deg - angle + 180.0) % 360.0 - 180.0) < _WORDS for mark in marks)


def _rays(marks: Sequence[RingMark], cx: float, cy: float, radius: float, sense: float) -> list[Shape]:
    """A ray for each fault with its letter outside; letters of rays close together step outward."""
    shapes: list[Shape] = []
    taken: list[float] = []
    for mark in marks:
        angle = sense * mark.angle_deg
        ends = polar(cx, cy, 0.72 * HOLE, angle), polar(cx, cy, radius, angle)
        shapes.append(Path(points=ends, stroke=PRINT.line(width=PRINT.data)))
        near = sum(abs((mark.angle_deg - other + 180.0) % 360.0 - 180.0) < 7.0 for other in taken)
        at_zero = abs((mark.angle_deg + 180.0) % 360.0 - 180.0) < 6.0
        taken.append(mark.angle_deg)
        x, y = polar(cx, cy, radius + 2.8 + 3.8 * near + (4.0 if at_zero else 0.0), angle)
        shapes.append(
            Text(x=x, y=y + 0.36 * PRINT.finding, text=mark.letter, size=PRINT.finding, weight=Weight.VALUE,
                 anchor="middle", edge=Role.SHEET)
        )  # fmt: skip
    return shapes


def _rule(marks: Sequence[RingMark], y: float) -> list[Shape]:
    """Radii from the spindle at 1:1, each millimetre a tick, each ten a figure; a bar for each fault's doubt."""
    line, hair = PRINT.line(width=PRINT.axis), PRINT.line(width=PRINT.hair)
    end = 150
    shapes: list[Shape] = [
        Circle(cx=LEFT, cy=y, radius=HOLE / 2.0, stroke=line),
        Path(points=((LEFT - 1.2, y), (LEFT + 1.2, y)), stroke=hair),
        Path(points=((LEFT, y - 1.2), (LEFT, y + 1.2)), stroke=hair),
        Path(points=((LEFT + HOLE / 2.0, y), (LEFT + end, y)), stroke=line),
    ]
    for mm in range(5, end + 1):
        high = 4.0 if mm % 10 == 0 else 2.8 if mm % 5 == 0 else 1.8
        shapes.append(Path(points=((LEFT + mm, y), (LEFT + mm, y - high)), stroke=line if mm % 10 == 0 else hair))
        if mm % 10 == 0:
            shapes.append(
                Text(x=LEFT + mm, y=y - 4.8, text=str(mm), size=PRINT.label, role=Role.INK_2, anchor="middle")
            )
    at = _spread([LEFT + mark.radius_mm for mark in sorted(marks, key=lambda m: m.radius_mm)])
    for mark, letter in zip(sorted(marks, key=lambda m: m.radius_mm), at, strict=True):
        x = LEFT + mark.radius_mm
        half = max(mark.radius_u95_mm, 0.15)
        shapes += [
            Rect(x=x - half, y=y, width=2.0 * half, height=3.0, fill=Role.HAIR, stroke=hair),
            Path(points=((x, y - 1.8), (x, y + 3.0)), stroke=PRINT.line(width=PRINT.data)),
            Path(points=((x, y + 3.0), (letter, y + 6.0)), stroke=hair),
            Text(x=letter, y=y + 9.4, text=mark.letter, size=PRINT.finding, weight=Weight.VALUE, anchor="middle"),
        ]
    shapes.append(
        Text(
            x=LEFT + 5.0, y=y + 6.4, text="lay this end on the spindle; radii in mm", size=PRINT.label, role=Role.INK_2
        )
    )
    return shapes


def _spread(places: list[float]) -> list[float]:
    """The places, moved apart to 4.5 mm where they are closer, about their common middle."""
    out: list[float] = []
    for place in places:
        out.append(place if not out else max(place, out[-1] + 4.5))
    shift = sum(out) / max(len(out), 1) - sum(places) / max(len(places), 1)
    return [place - shift for place in out]


def _table(marks: Sequence[RingMark], y: float) -> list[Shape]:
    right = WIDTH - MARGIN
    columns = (
        Column(heading="", x=MARGIN),
        Column(heading="Time", x=MARGIN + 22.0, right=True),
        Column(heading="Turn", x=MARGIN + 36.0, right=True),
        Column(heading="Angle, °", x=MARGIN + 60.0, right=True),
        Column(heading="Radius, mm", x=MARGIN + 88.0, right=True),
        Column(heading="Over noise, dB", x=MARGIN + 116.0, right=True),
        Column(heading="On", x=MARGIN + 121.0),
    )
    rows: list[tuple[str, ...]] = [
        (
            m.letter, clock(m.programme_s), fixed(m.turn, 0),
            str(number(m.angle_deg, m.angle_u95_deg, "", decimals=0)),
            str(number(m.radius_mm, m.radius_u95_mm, "", decimals=1)), fixed(m.prominence_db, 1),
            shortened(", ".join(m.copies), size=PRINT.label, room=right - MARGIN - 121.0),
        )
        for m in marks
    ]  # fmt: skip
    return table(columns, rows, y=y, left=MARGIN, end=right)[0]
