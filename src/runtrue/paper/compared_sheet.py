"""Compared copies as a sheet: the sentence, the copies, and where on the disc and on the stamper the marks lie."""

from pathlib import Path as FilePath

from runtrue.contract.copies import Copies, RecurrenceRow
from runtrue.paper.compared import compared_picture, flagged
from runtrue.paper.disc import Map, zero_and_sense
from runtrue.paper.drawing import Box, Circle, Drawing, Shape, Text
from runtrue.paper.faces import Weight
from runtrue.paper.faults import Outline, outline_of
from runtrue.paper.layout import PRINT, Labels, around
from runtrue.paper.page import BOTTOM, INNER, MARGIN, TOP, Sheet, frame, head, page, paragraph, rule
from runtrue.paper.pdf import write_pages
from runtrue.paper.tokens import Role
from runtrue.paper.words import clock

RADIUS = 32.0
"""Of the two discs [mm]."""


def compared_pages(result: Copies, *, date: str = "") -> tuple[Drawing, ...]:
    """One page; where the copies take all of it, the discs stand on a second one."""
    picture = compared_picture(result, pen=PRINT, wide=INNER)
    sheet = Sheet(
        plant="", name="Copies compared", key=result.reference.sha256 or "0" * 12, version=result.version, date=date
    )
    marks = flagged(result)
    top, y = head(result.verdict, result.headline, y=TOP + 1.0, todo=result.act)
    y += 4.0
    below = y + picture.height + 4.0
    second = bool(marks) and below + 2.0 * RADIUS + 34.0 > BOTTOM
    pages = 2 if second else 1
    first: list[Shape] = [*frame(sheet, 1, pages), *top, rule(y - 3.0), picture.placed(MARGIN, y)]
    if not marks:
        return (page("Copies compared", picture.description, first),)
    discs = _discs(result, marks, TOP + 2.0 if second else below)
    if not second:
        return (page("Copies compared", picture.description, [*first, *discs]),)
    later = page("Where the marks lie", picture.description, [*frame(sheet, 2, 2), *discs])
    return page("Copies compared", picture.description, first), later


def _discs(result: Copies, marks: list[RecurrenceRow], y: float) -> list[Shape]:
    """Playing face and, mirrored, the stamper's face with the marks at their places; below, what is said of each."""
    outline = outline_of(result.format)
    items: list[Shape] = [rule(y)]
    for share, sense, face in ((0.25, 1.0, "playing face"), (0.75, -1.0, "stamper's face")):
        on = Map(cx=MARGIN + share * INNER, cy=y + 14.0 + RADIUS, scale=RADIUS / outline.rim, sense=sense)
        items += _disc(on, outline, marks, face)
    y += 20.0 + 2.0 * RADIUS
    for mark in marks:
        after = "" if mark.next is None else f" Next: {mark.next.words}."
        lines, y = paragraph(
            mark.advice + after,
            x=MARGIN,
            y=y,
            room=INNER,
            bottom=BOTTOM,
            strong=f"{clock(mark.programme_s)}:",
            role=Role.INK,
        )
        items += lines
    return items


def _disc(on: Map, outline: Outline, marks: list[RecurrenceRow], face: str) -> list[Shape]:
    """A disc to scale with each mark as a dot and its time."""
    hair = PRINT.line(Role.LINE, width=PRINT.hair)
    shapes: list[Shape] = [
        on.circle(outline.rim, fill=Role.DISC_GAP, stroke=PRINT.line(Role.LINE)),
        on.circle(outline.outermost, fill=Role.DISC, stroke=hair),
        on.circle(outline.finishing, fill=Role.DISC_LABEL, stroke=hair),
        on.circle(outline.label, fill=Role.DISC_LABEL, stroke=PRINT.line(Role.LINE)),
        on.circle(outline.hole, fill=Role.SHEET, stroke=PRINT.line(Role.LINE)),
        *zero_and_sense(on, outline, PRINT),
        Text(
            x=on.cx, y=on.cy + 0.55 * outline.label * on.scale, text=face, size=PRINT.label, weight=Weight.LABEL,
            anchor="middle",
        ),
    ]  # fmt: skip
    reach = 1.4 * RADIUS
    room = Box(left=on.cx - reach, top=on.cy - reach, right=on.cx + reach, bottom=on.cy + reach)
    labels = Labels(frame=room, air=0.3)
    dots = [on.at(mark.radius_mm, mark.angle_deg) for mark in marks]
    labels.block(*(Box(left=x - 1.2, top=y - 1.2, right=x + 1.2, bottom=y + 1.2) for x, y in dots))
    for mark, (x, y) in zip(marks, dots, strict=True):
        sweep = 2.0 * min(mark.angle_u95_deg, 179.0)
        low, high = mark.radius_mm - 0.8, mark.radius_mm + 0.8
        shapes.append(on.piece(low, high, mark.angle_deg - 0.5 * sweep, sweep, fill=Role.LINE))
        role = Role.ALARM if mark.fails else Role.INK
        shapes.append(Circle(cx=x, cy=y, radius=1.0, fill=role, stroke=PRINT.line(Role.SHEET, width=PRINT.hair)))
        text = labels.place(
            around(x, y, 1.8, clock(mark.programme_s), size=PRINT.label, weight=Weight.VALUE, edge=Role.SHEET)
        )
        shapes += [text] if text is not None else []
    return shapes


def write_compared(path: FilePath, result: Copies, *, date: str = "") -> None:
    """Write the sheet as PDF. The same input gives the same bytes."""
    write_pages(path, compared_pages(result, date=date), title=result.headline, author="runtrue")
