"""Copies laid over one another: programme time across, copies down by closure and to scale, recurrences as columns.

One block for each stamper. A copy is a thin row with a dot, filled if it has the chosen mark; its ticks are short
uprights by prominence. A mark that came on the press has a wash over the closures that surely have it and a bar at both
ends as high as the closures in doubt. Copies without a count stand below with the closures they were placed on.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from runtrue.contract.copies import Copies, CopyRow, DatedRow, RecurrenceRow
from runtrue.paper.drawing import Circle, Drawing, Path, Rect, Shape, Text
from runtrue.paper.faces import Weight, shortened, width
from runtrue.paper.layout import Pen, minute_step
from runtrue.paper.tokens import Role
from runtrue.paper.words import clock, count, fixed

MOST_NAMED = 40
"""Copies that have room for their names; more are a density of rows."""
MOST_FLAGS = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class _Place:
    """Where things stand: columns of figures, dots and names, and programme time across."""

    dots: float
    left: float
    right: float
    duration: float
    pen: Pen

    def at(self, time: float) -> float:
        """Programme time across."""
        return self.left + min(max(time / max(self.duration, 1e-9), 0.0), 1.0) * (self.right - self.left)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Block:
    """The counted copies of one stamper between two heights, or copies without a count."""

    stamper: str
    rows: tuple[CopyRow, ...]
    top: float
    bottom: float

    def height(self, closure: float) -> float:
        """Where a closure lies, to scale."""
        low, high = self.rows[0].closure or 0, self.rows[-1].closure or 0
        share = 0.5 if high == low else (closure - low) / (high - low)
        return self.top + min(max(share, -0.06), 1.06) * (self.bottom - self.top)


def compared_picture(result: Copies, *, pen: Pen, wide: float) -> Drawing:
    """The picture of compared copies; the first column is the mark that concerns most."""
    size = pen.label
    taking = [row for row in result.copies if row.plays]
    shared = flagged(result)
    names = max((width(row.copy, size=size) for row in taking), default=0.0) if len(taking) <= MOST_NAMED else 0.0
    figures = width("00000", size=size) + 0.6 * size
    place = _Place(
        dots=figures + 0.9 * size, left=figures + 2.6 * size + min(names, 9.0 * size), right=wide - 2.0 * size,
        duration=result.duration_s, pen=pen,
    )  # fmt: skip
    top = 2.6 * size
    blocks, bottom = _blocks(taking, top, pen)
    items: list[Shape] = []
    chosen = shared[0] if shared else None
    for block in blocks:
        items += _wash(block, chosen, place)
    items += _axis(place, top, bottom)
    for block in blocks:
        items += _rows(block, result.dated, chosen, place, named=len(taking) <= MOST_NAMED)
    items += _columns(shared, blocks, place, top, bottom)
    for block in blocks:
        items += _intervals(block, chosen, place)
    said = f"{result.headline} {result.act} {count(len(taking), 'copy', 'copies')} compared."
    return Drawing(
        title="Copies laid over one another", description=said.strip(), width=wide, height=bottom + 2.0 * size,
        unit=pen.unit, items=tuple(items),
    )  # fmt: skip


def flagged(result: Copies) -> list[RecurrenceRow]:
    """The marks that get a flag, what concerns most first."""
    return sorted((row for row in result.recurrences if len(row.copies) > 1), key=_rank)[:MOST_FLAGS]


def _rank(row: RecurrenceRow) -> tuple[bool, bool, float]:
    return not row.fails, row.from_closure is None, -row.prominence_db


def _blocks(rows: Sequence[CopyRow], top: float, pen: Pen) -> tuple[list[_Block], float]:
    """A block for each stamper with counted copies, then one of those without a count."""
    counted = [row for row in rows if row.closure is not None]
    blocks: list[_Block] = []
    y = top
    step = 1.5 * pen.label if len(rows) <= MOST_NAMED else max(0.25 * pen.label, 40.0 * pen.label / len(rows))
    for stamper in dict.fromkeys(row.stamper for row in counted):
        mine = sorted((r for r in counted if r.stamper == stamper), key=lambda r: r.closure or 0)
        first = y + 2.2 * pen.label
        last = first + step * max(len(mine) - 1, 1)
        blocks.append(
            _Block(stamper=f"Stamper {stamper}" if stamper else "Copies", rows=tuple(mine), top=first, bottom=last)
        )
        y = last + 1.1 * pen.label
    rest = tuple(row for row in rows if row.closure is None)
    if rest:
        first = y + 2.2 * pen.label
        blocks.append(
            _Block(stamper="Without a count", rows=rest, top=first, bottom=first + step * max(len(rest) - 1, 1))
        )
        y = blocks[-1].bottom + 1.1 * pen.label
    return blocks, y


def _axis(place: _Place, top: float, bottom: float) -> list[Shape]:
    pen, size = place.pen, place.pen.label
    step = minute_step(place.duration, most=6)
    shapes: list[Shape] = []
    at = 0.0
    while at <= place.duration:
        x = place.at(at)
        shapes.append(Path(points=((x, top), (x, bottom)), stroke=pen.line(Role.HAIR, width=pen.hair)))
        if at <= place.duration - 0.4 * step:
            shapes.append(_figure(x, bottom + 1.1 * size, clock(at, tenths=False), size))
        at += step
    shapes.append(_figure(place.right, bottom + 1.1 * size, clock(place.duration, tenths=False), size))
    return shapes


def _figure(x: float, y: float, text: str, size: float) -> Text:
    return Text(x=x, y=y, text=text, size=size, role=Role.INK_2, anchor="middle")


def _rows(
    block: _Block, dated: Sequence[DatedRow], chosen: RecurrenceRow | None, place: _Place, *, named: bool
) -> list[Shape]:
    """The rows of a block with figures of the count at the left."""
    pen, size = place.pen, place.pen.label
    head = Text(x=0.0, y=block.top - 1.1 * size, text=block.stamper, size=size, weight=Weight.LABEL)
    shapes: list[Shape] = [head]
    written = -1e9
    last = -1e9
    for k, row in enumerate(block.rows):
        y = block.top + k * (block.bottom - block.top) / max(len(block.rows) - 1, 1)
        if not named and row.closure is not None:
            y = block.height(row.closure)
        shapes += _row(row, y, place, faint=not named)
        aside = 0.75 * size if y - last < 0.62 * size else 0.0
        last = y if not aside else -1e9
        has = chosen is not None and row.copy in chosen.copies
        role = Role.ALARM if has and chosen is not None and chosen.fails else Role.INK
        dot = 0.26 * size if named else 0.16 * size
        shapes.append(
            Circle(cx=place.dots - aside, cy=y, radius=dot, fill=role if has else Role.SHEET, stroke=pen.line(role))
        )
        if named:
            room = place.left - place.dots - 1.2 * size
            name = shortened(row.copy, size=size, room=room)
            shapes.append(Text(x=place.dots + 0.6 * size, y=y + 0.35 * size, text=name, size=size))
        told = _told(row, dated)
        if told and y - written > 1.02 * size:
            written = y
            shapes.append(
                Text(x=place.dots - 0.9 * size, y=y + 0.35 * size, text=told, size=size, role=Role.INK_2, anchor="end")
            )
    return shapes


def _told(row: CopyRow, dated: Sequence[DatedRow]) -> str:
    if row.closure is not None:
        return fixed(row.closure, 0)
    return "" if not any(one.copy == row.copy and one.marks for one in dated) else "placed"


def _row(row: CopyRow, y: float, place: _Place, *, faint: bool) -> list[Shape]:
    """The thin line over what was heard, and its ticks."""
    pen, size = place.pen, place.pen.label
    start, end = row.reach_s or (0.0, 0.0)
    role = Role.HAIR if faint else Role.LINE
    shapes: list[Shape] = [
        Path(points=((place.at(start), y), (place.at(end), y)), stroke=pen.line(role, width=pen.hair))
    ]
    for time, over in zip(row.ticks_s or [], row.ticks_db or [], strict=True):
        half = size * (0.10 if faint else min(0.12 + 0.3 * (over - 12.0) / 25.0, 0.45))
        x = place.at(time)
        stroke = pen.line(Role.INK_2, width=pen.hair)
        shapes.append(Path(points=((x, y - half), (x, y + half)), stroke=stroke))
    return shapes


def _height_of(block: _Block, closure: int, *, named: bool) -> float:
    """Height of a closure among the rows: to scale, or by its neighbours where rows stand evenly."""
    if not named:
        return block.height(closure)
    step = (block.bottom - block.top) / max(len(block.rows) - 1, 1)
    counted = [row.closure or 0 for row in block.rows]
    below = [k for k, c in enumerate(counted) if c <= closure]
    if not below:
        return block.top - 0.45 * step
    k = below[-1]
    if k == len(counted) - 1:
        return block.top + (k + (0.0 if counted[k] == closure else 0.45)) * step
    return block.top + (k + (closure - counted[k]) / (counted[k + 1] - counted[k])) * step


def _spans(block: _Block, chosen: RecurrenceRow | None) -> tuple[float, float, float, float | None] | None:
    """Heights of earliest and latest beginning, earliest and latest end of the chosen mark in its stamper's block."""
    if chosen is None or chosen.from_closure is None or block.rows[0].closure is None:
        return None
    which = next((o.which for o in chosen.origins if o.origin == "press_event"), None)
    if which is not None and block.stamper != f"Stamper {which}":
        return None
    named = len(block.rows) <= MOST_NAMED
    a, b = (_height_of(block, c, named=named) for c in chosen.from_closure)
    low, high = chosen.to_closure or (chosen.from_closure[1], None)
    c = _height_of(block, low, named=named)
    return a, b, c, None if high is None else _height_of(block, high, named=named)


def _wash(block: _Block, chosen: RecurrenceRow | None, place: _Place) -> list[Shape]:
    span = _spans(block, chosen)
    if span is None or chosen is None:
        return []
    over = 0.4 * place.pen.label
    role = Role.ALARM_WASH if chosen.fails else Role.WELL
    _, first, last, _ = span
    return [
        Rect(x=place.left, y=first - over, width=place.right - place.left, height=last - first + 2.0 * over, fill=role)
    ]


def _columns(
    shared: Sequence[RecurrenceRow], blocks: Sequence[_Block], place: _Place, top: float, bottom: float
) -> list[Shape]:
    """A flag for each recurrence and a widened mark on each copy that has it."""
    pen, size = place.pen, place.pen.label
    shapes: list[Shape] = []
    taken: list[tuple[float, float]] = []
    named = sum(len(block.rows) for block in blocks) <= MOST_NAMED
    for row in shared:
        x = place.at(row.programme_s)
        role = Role.ALARM if row.fails else Role.INK
        half = 0.16 * size if named else 0.1 * size
        for block in blocks:
            for k, copy in enumerate(block.rows):
                if copy.copy in row.copies:
                    even = block.top + k * (block.bottom - block.top) / max(len(block.rows) - 1, 1)
                    y = even if named or copy.closure is None else block.height(copy.closure)
                    high = 0.5 * size if named else 0.16 * size
                    shapes.append(Rect(x=x - half, y=y - high, width=2.0 * half, height=2.0 * high, fill=role))
        flag = clock(row.programme_s)
        run = width(flag, size=size, weight=Weight.VALUE) + 0.8 * size
        left = min(max(x - run / 2.0, place.left), place.right - run)
        if any(left < b and a < left + run for a, b in taken):
            continue
        taken.append((left, left + run))
        shapes += [
            Path(points=((x, top - 0.4 * size), (x, bottom)), stroke=pen.line(role, width=pen.hair, dots=True)),
            Rect(x=left, y=top - 1.9 * size, width=run, height=1.4 * size, fill=role),
            Text(
                x=left + run / 2.0, y=top - 0.85 * size, text=flag, size=size, weight=Weight.VALUE, role=Role.ON_FILL,
                anchor="middle",
            ),
        ]  # fmt: skip
    return shapes


def _intervals(block: _Block, chosen: RecurrenceRow | None, place: _Place) -> list[Shape]:
    """Bars at both ends of the chosen mark, as high as the closures in doubt, with the words."""
    span = _spans(block, chosen)
    if span is None or chosen is None or chosen.from_closure is None:
        return []
    a, b, c, d = span
    shapes = _bar(place.at(chosen.programme_s), (a, b), f"starts, closure {_words(chosen.from_closure)}", place)
    if d is not None and chosen.to_closure is not None:
        low, high = chosen.to_closure[0], chosen.to_closure[1] or chosen.to_closure[0]
        shapes += _bar(place.at(chosen.programme_s), (c, d), f"ends, closure {_words((low, high))}", place)
    return shapes


def _words(span: tuple[int, int]) -> str:
    return f"{span[0]} to {span[1]}" if span[0] < span[1] else str(span[0])


def _bar(x: float, span: tuple[float, float], words: str, place: _Place) -> list[Shape]:
    pen, size = place.pen, place.pen.label
    run = width(words, size=size, weight=Weight.LABEL)
    right = x + 2.4 * size + run <= place.right
    left = x + 0.7 * size if right else x - 1.3 * size
    high = max(span[1] - span[0], pen.limit)
    y = 0.5 * (span[0] + span[1]) + 0.35 * size
    return [
        Rect(x=left, y=span[0], width=0.6 * size, height=high, fill=Role.INK),
        Text(
            x=left + 1.0 * size if right else left - 0.4 * size, y=y, text=words, size=size, weight=Weight.LABEL,
            anchor="start" if right else "end", edge=Role.SHEET,
        ),
    ]  # fmt: skip
