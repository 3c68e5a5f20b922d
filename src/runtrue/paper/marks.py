"""Small marks that every page shares: the verdict, a number with its doubt, the tag with a fault's address."""

from runtrue.contract.listening import VerdictWord
from runtrue.paper.drawing import Box, Circle, Drawing, Path, Rect, Sector, Shape, Text, polar
from runtrue.paper.faces import Weight, width
from runtrue.paper.layout import Pen
from runtrue.paper.tokens import Role
from runtrue.paper.words import VERDICT_WORDS, Shown

VERDICT_ROLES: dict[VerdictWord, Role] = {"pass": Role.PETROL, "fail": Role.ALARM, "cannot_judge": Role.BRASS}
"""The fill of a verdict's bar and mark."""
WORD_ROLES: dict[VerdictWord, Role] = {"pass": Role.PETROL, "fail": Role.ALARM, "cannot_judge": Role.INK}
"""The colour of a verdict's word; brass is never text."""


def verdict_mark(verdict: VerdictWord, *, x: float, y: float, size: float, pen: Pen) -> tuple[Shape, ...]:
    """Return the mark in a square of ``size`` with its top left corner at (x, y).

    Pass: full disc, hole at the centre. Fail: full square, hole off the centre. Cannot judge: left half of a disc,
    right half open.
    """
    radius = size / 2.0
    cx, cy = x + radius, y + radius
    hole = size * 0.13
    match verdict:
        case "pass":
            return (
                Circle(cx=cx, cy=cy, radius=radius, fill=Role.PETROL),
                Circle(cx=cx, cy=cy, radius=hole, fill=Role.SHEET),
            )
        case "fail":
            return (
                Rect(x=x, y=y, width=size, height=size, fill=Role.ALARM),
                Circle(cx=x + 0.70 * size, cy=y + 0.30 * size, radius=hole * 1.15, fill=Role.SHEET),
            )
        case "cannot_judge":
            edge = pen.line(Role.INK, width=max(pen.axis, size * 0.055))
            gaps = max(size * 0.14, pen.hair * 2.0)
            inset = radius - edge.width / 2.0
            dashed = type(edge)(role=edge.role, width=edge.width, dash=(gaps, gaps * 0.8))
            hatch = type(pen.hatch)(role=Role.INK, gap=max(size * 0.16, 3.5 * pen.hair), width=pen.hair)
            half = Sector(
                cx=cx, cy=cy, inner=0.0, outer=inset, start=0.0, sweep=180.0, fill=Role.BRASS,
                hatch=hatch if pen.unit == "mm" else None, stroke=edge,
            )  # fmt: skip
            return half, Sector(cx=cx, cy=cy, inner=inset, outer=inset, start=0.0, sweep=-180.0, stroke=dashed)


def verdict_picture(verdict: VerdictWord, *, size: float, pen: Pen) -> Drawing:
    """The mark alone, as it stands at the head of a page."""
    word = VERDICT_WORDS[verdict]
    return Drawing(
        title=f"Verdict: {word}", description=f"The verdict is {word}.", width=size, height=size, unit=pen.unit,
        items=verdict_mark(verdict, x=0.0, y=0.0, size=size, pen=pen),
    )  # fmt: skip


def number(
    shown: Shown, *, x: float, y: float, size: float, right: bool = False, strong: bool = True
) -> tuple[Text, ...]:
    """Return value in 700 and doubt in 400, starting at x, or ending there when ``right``."""
    weight = Weight.VALUE if strong else Weight.TEXT
    gap = size * 0.26 if shown.doubt else 0.0
    value_run = width(shown.value, size=size, weight=weight)
    doubt_run = width(shown.doubt, size=size) if shown.doubt else 0.0
    left = x - value_run - gap - doubt_run if right else x
    value = Text(x=left, y=y, text=shown.value, size=size, weight=weight)
    if not shown.doubt:
        return (value,)
    return value, Text(x=left + value_run + gap, y=y, text=shown.doubt, size=size, role=Role.INK_2)


def address_tag(
    *, where: str, detail: str, angle: float | None, share: float, x: float, y: float, pen: Pen, failing: bool = False
) -> tuple[tuple[Shape, ...], Box]:
    """Return the tag "A 1:23.4 | turn 46, 120° ± 2°" and the box it covers.

    The small disc shows the spot at ``angle`` [deg] and at ``share`` of its radius. One corner is clipped.
    """
    size = pen.label
    high = 2.0 * size
    disc = 0.72 * high
    gap = 0.5 * size
    where_run = width(where, size=size, weight=Weight.LABEL)
    detail_run = width(detail, size=size)
    wide = 3.0 * gap + disc + where_run + gap + detail_run + gap
    clip = 0.5 * size
    cx, cy, radius = x + gap + disc / 2.0, y + high / 2.0, disc / 2.0
    base = y + high / 2.0 + 0.35 * size
    outline = ((x, y), (x + wide - clip, y), (x + wide, y + clip), (x + wide, y + high), (x, y + high))
    shapes: list[Shape] = [
        Path(points=outline, closed=True, fill=Role.WELL, stroke=pen.line(Role.LINE)),
        Circle(cx=cx, cy=cy, radius=radius, stroke=pen.line(Role.INK_2)),
        Path(points=((cx, cy - radius), (cx, cy - 0.55 * radius)), stroke=pen.line(Role.INK, width=pen.data)),
    ]
    if angle is not None:
        dot = polar(cx, cy, radius * min(max(share, 0.0), 1.0), angle)
        spot = Role.ALARM if failing else Role.INK
        shapes.append(Circle(cx=dot[0], cy=dot[1], radius=0.2 * radius + pen.hair, fill=spot))
    left = cx + radius + gap
    shapes.append(Text(x=left, y=base, text=where, size=size, weight=Weight.LABEL))
    shapes.append(Text(x=left + where_run + gap, y=base, text=detail, size=size, role=Role.INK_2))
    return tuple(shapes), Box(left=x, top=y, right=x + wide, bottom=y + high)
