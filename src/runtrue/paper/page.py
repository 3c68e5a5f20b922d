"""The printed page: A4, 15 mm margins, head with wordmark and page number, foot with check line, key and version."""

from dataclasses import dataclass

from runtrue.contract.listening import VerdictWord
from runtrue.paper.drawing import Circle, Drawing, Path, Shape, Text
from runtrue.paper.faces import Weight, missing_message, shortened, width, wrapped
from runtrue.paper.layout import PRINT
from runtrue.paper.marks import verdict_mark
from runtrue.paper.tokens import Role
from runtrue.paper.words import NO_BREAK, VERDICT_WORDS

WIDTH, HEIGHT, MARGIN = 210.0, 297.0, 15.0
"""A4 and its margin [mm]."""
INNER = WIDTH - 2.0 * MARGIN
TOP = 26.0
"""First free height under the head [mm]."""
BOTTOM = HEIGHT - MARGIN - 8.0
"""Last free height above the foot [mm]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """What stands on every page of a document."""

    plant: str
    name: str
    key: str
    version: str
    date: str = ""


def wordmark(x: float, y: float, size: float) -> list[Shape]:
    """ "run" in 400 and "true" in 700, beside a ring with its hole at the centre and one mark at 0 degrees."""
    radius = 0.42 * size
    cx, cy = x + radius, y - 0.3 * size
    left = x + 2.0 * radius + 0.35 * size
    ink = PRINT.line(width=0.09 * size)
    return [
        Circle(cx=cx, cy=cy, radius=radius, stroke=ink),
        Circle(cx=cx, cy=cy, radius=0.1 * size, fill=Role.INK),
        Path(points=((cx, cy - radius), (cx, cy - 0.5 * radius)), stroke=ink),
        Text(x=left, y=y, text="run", size=size),
        Text(x=left + width("run", size=size), y=y, text="true", size=size, weight=Weight.VALUE),
    ]


def frame(sheet: Sheet, page: int, pages: int) -> list[Shape]:
    """Head and foot of a page."""
    small = PRINT.label
    right = WIDTH - MARGIN
    parts = [part for part in (sheet.plant, sheet.name, sheet.date) if part]
    tail = f"page {page} of {pages}"
    dot = f"{NO_BREAK}{NO_BREAK}·{NO_BREAK}{NO_BREAK}"
    room = INNER - 40.0 - width(dot + tail, size=small)
    told = shortened(dot.join(parts), size=small, room=room) + dot + tail
    base = HEIGHT - MARGIN
    line = PRINT.line(Role.INK)
    end = MARGIN + 50.0
    return [
        *wordmark(MARGIN, 19.4, 16.0 * 25.4 / 72.0),
        Text(x=right, y=19.2, text=told, size=small, role=Role.INK_2, anchor="end"),
        Path(points=((MARGIN, 22.5), (right, 22.5)), stroke=PRINT.line(width=0.8)),
        Path(points=((MARGIN, base - 1.6), (MARGIN, base), (end, base), (end, base - 1.6)), stroke=line),
        Text(x=MARGIN + 52.0, y=base, text="50 mm when printed at 100 %", size=small, role=Role.INK_2),
        Text(
            x=right, y=base, text=f"result {sheet.key[:12]}{dot}runtrue {sheet.version}", size=small, role=Role.INK_2,
            anchor="end",
        ),
    ]  # fmt: skip


def head(
    verdict: VerdictWord | None, said: str, *, y: float, todo: str = "", detail: str = "", below: str = ""
) -> tuple[list[Shape], float]:
    """Return the opening of a page and the next free height.

    The sentence with its mark and word, what to do in 700, then ``detail`` in section size and ``below`` in the second
    voice. The sentence shrinks by steps when it would take more than three lines.
    """
    mark = 11.0
    left = MARGIN + (mark + 6.0 if verdict else 0.0)
    room = WIDTH - MARGIN - left
    size = PRINT.headline
    while size > 0.66 * PRINT.headline and len(_sentence_lines(said, todo, size, room)) > 3:
        size *= 0.92
    shapes: list[Shape] = []
    if verdict:
        word = VERDICT_WORDS[verdict]
        shapes += verdict_mark(verdict, x=MARGIN, y=y, size=mark, pen=PRINT)
        for place, part in enumerate(word.split(" ")):
            shapes.append(
                Text(
                    x=MARGIN + mark / 2.0, y=y + mark + 3.9 + 3.4 * place, text=part, size=PRINT.text,
                    weight=Weight.VALUE, anchor="middle",
                )
            )  # fmt: skip
    base = y + 0.8 * size
    for weight, line in _sentence_lines(said, todo, size, room):
        shapes.append(Text(x=left, y=base, text=line, size=size, weight=weight))
        base += 1.16 * size
    base -= 0.2 * size
    for text, small, role in ((detail, PRINT.finding, Role.INK), (below, PRINT.text, Role.INK_2)):
        for line in wrapped(text, size=small, room=room) if text else []:
            shapes.append(Text(x=left, y=base + 0.3 * small, text=line, size=small, role=role))
            base += 1.35 * small
        base += 0.2 * small if text else 0.0
    for line in _lost(f"{said} {todo} {detail} {below}", room):
        shapes.append(Text(x=left, y=base + 0.3 * PRINT.text, text=line, size=PRINT.text, weight=Weight.LABEL))
        base += 1.35 * PRINT.text
    return shapes, max(base + 0.8, y + mark + (10.0 if verdict == "cannot_judge" else 6.5))


def _sentence_lines(said: str, todo: str, size: float, room: float) -> list[tuple[Weight, str]]:
    return [
        (weight, line)
        for weight, text in ((Weight.LABEL, said), (Weight.VALUE, todo))
        for line in (_balanced(text, size, room, weight) if text else [])
    ]


def _balanced(text: str, size: float, room: float, weight: Weight) -> list[str]:
    """Lines of nearly one length, so that no word is left alone on the last."""
    lines = wrapped(text, size=size, room=room, weight=weight)
    for share in (0.5, 0.55, 0.6, 0.65, 0.7, 0.75, 0.8, 0.85, 0.9, 0.95):
        tried = wrapped(text, size=size, room=share * room, weight=weight)
        if len(lines) > 1 and len(tried) == len(lines):
            return tried
    return lines


def _lost(text: str, room: float) -> list[str]:
    message = missing_message(text)
    return wrapped(message, size=PRINT.text, room=room) if message else []


def rule(y: float, *, left: float = MARGIN, right: float = WIDTH - MARGIN) -> Path:
    """The rule over a section."""
    return Path(points=((left, y), (right, y)), stroke=PRINT.line(width=0.4))


def paragraph(
    text: str,
    *,
    x: float,
    y: float,
    room: float,
    bottom: float,
    strong: str = "",
    size: float = PRINT.label,
    role: Role = Role.INK_2,
) -> tuple[list[Shape], float]:
    """Return lines of text whose first words may be bold, and the next free height; nothing goes below ``bottom``.

    A paragraph that does not fit is cut at its last line with three points.
    """  # fmt: skip
    lead = 1.35 * size
    bold = wrapped(strong, size=size, room=room, weight=Weight.VALUE) if strong else []
    indent = width(bold[-1] + " ", size=size, weight=Weight.VALUE) if bold else 0.0
    lines = _after(text, size=size, room=room, indent=indent)
    base = y + 0.8 * size
    shapes: list[Shape] = []
    for place, line in enumerate(bold):
        if base <= bottom:
            shapes.append(Text(x=x, y=base, text=line, size=size, weight=Weight.VALUE))
        base += lead if place < len(bold) - 1 else 0.0
    for place, line in enumerate(lines):
        if base > bottom:
            break
        at = x + (indent if place == 0 else 0.0)
        cut = base + lead > bottom and place < len(lines) - 1
        shown = shortened(line + " …", size=size, room=room - (at - x)) if cut else line
        if shown:
            shapes.append(Text(x=at, y=base, text=shown, size=size, role=role))
        base += lead
    return shapes, base - 0.8 * size


def _after(text: str, *, size: float, room: float, indent: float) -> list[str]:
    """Lines of a text whose first line starts at ``indent``; it stays empty when no word fits there."""
    words = text.split(" ")
    first = 0
    while first < len(words) and indent + width(" ".join(words[: first + 1]), size=size) <= room:
        first += 1
    rest = " ".join(words[first:])
    return [" ".join(words[:first]), *(wrapped(rest, size=size, room=room) if rest else [])]


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """A table's column: its heading, where it stands, whether its figures are set to the right."""

    heading: str
    x: float
    right: bool = False


def table(
    columns: tuple[Column, ...], rows: list[tuple[str, ...]], *, y: float, left: float, end: float, step: float = 5.0
) -> tuple[list[Shape], float]:
    """Return a table with hair lines and no zebra, and the next free height. Figures end at the column's right.

    PDF text cannot reach the face's tabular figures, so they keep their own widths.
    """
    size = PRINT.label
    shapes: list[Shape] = []
    base = y + 0.8 * size
    for column in columns:
        anchor = "end" if column.right else "start"
        shapes.append(
            Text(x=column.x, y=base, text=column.heading, size=size, role=Role.INK_2, anchor=anchor)  # type: ignore[arg-type]
        )
    y = base + 1.2
    shapes.append(Path(points=((left, y), (end, y)), stroke=PRINT.line(width=0.4)))
    for row in rows:
        base = y + 0.5 * step + 0.33 * size
        for column, text in zip(columns, row, strict=True):
            anchor = "end" if column.right else "start"
            shapes.append(
                Text(x=column.x, y=base, text=text, size=size, anchor=anchor)  # type: ignore[arg-type]
            )
        y += step
        shapes.append(Path(points=((left, y), (end, y)), stroke=PRINT.line(Role.HAIR, width=0.25)))
    return shapes, y


def page(title: str, description: str, items: list[Shape]) -> Drawing:
    """The page as one drawing."""
    return Drawing(title=title, description=description, width=WIDTH, height=HEIGHT, unit="mm", items=tuple(items))
