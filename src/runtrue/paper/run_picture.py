"""A run with its copies: programme time across, closures down and to scale, the boxes they went into at the right.

One thin row for each copy that was played, its dot filled if it has the chosen mark. The mark is a column with its time
in a flag; a wash leads from the closures that surely have it to the boxes to hold; bars as high as the closures in
doubt stand at both ends.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from runtrue.contract.copies import Copies, CopyRow, RecurrenceRow
from runtrue.paper.compared import flagged
from runtrue.paper.drawing import Circle, Drawing, Path, Rect, Shape, Text
from runtrue.paper.faces import Weight, width
from runtrue.paper.layout import Pen, minute_step, nice_step
from runtrue.paper.tokens import Role
from runtrue.paper.words import clock, count, fixed


@dataclass(frozen=True, slots=True, kw_only=True)
class Box:
    """A box with the closures it holds; ``held`` says that it is to be held."""

    name: str
    first: int
    last: int
    held: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """Closures that one stamper pressed."""

    stamper: str
    first: int
    last: int


@dataclass(frozen=True, slots=True, kw_only=True)
class _Place:
    """Where closures and programme times lie."""

    top: float
    bottom: float
    left: float
    right: float
    ladder: float
    wide: float
    first: int
    last: int
    duration: float
    pen: Pen

    def x(self, time: float) -> float:
        """Programme time across."""
        return self.left + min(max(time / max(self.duration, 1e-9), 0.0), 1.0) * (self.right - self.left)

    def y(self, closure: float) -> float:
        """Closure down."""
        share = (closure - self.first) / max(self.last - self.first, 1)
        return self.top + min(max(share, 0.0), 1.0) * (self.bottom - self.top)


def run_picture(
    result: Copies, *, pen: Pen, wide: float, high: float, closures: int, boxes: Sequence[Box] = (),
    stampers: Sequence[Stretch] = (), chosen: RecurrenceRow | None = None,
) -> Drawing:  # fmt: skip
    """Return the picture of a run, ``wide`` by ``high``; copies without a closure are not in it."""
    size = pen.label
    counted = sorted((row for row in result.copies if row.closure is not None and row.plays), key=_closure)
    place = _Place(
        top=3.4 * size, bottom=high - 2.4 * size, left=9.6 * size, right=wide - (8.2 * size if boxes else 1.2 * size),
        ladder=wide - 6.6 * size, wide=wide, first=1, last=max(closures, counted[-1].closure or 1 if counted else 1),
        duration=result.duration_s, pen=pen,
    )  # fmt: skip
    items: list[Shape] = [
        *_wash(chosen, place, to_boxes=bool(boxes)), *_axes(place), *_changes(stampers, place),
        *_rows(counted, chosen, place), *_columns(flagged(result), chosen, counted, place),
        *_ends(chosen, place), *_ladder(boxes, place, chosen),
    ]  # fmt: skip
    held = [box.name for box in boxes if box.held]
    said = f"{result.headline} {count(len(counted), 'copy', 'copies')} of {closures} closures played."
    said += f" Boxes to hold: {', '.join(held)}." if held else ""
    return Drawing(
        title="Copies of the run", description=said, width=wide, height=high, unit=pen.unit, items=tuple(items)
    )


def _closure(row: CopyRow) -> int:
    return row.closure or 0


def _span(chosen: RecurrenceRow | None, place: _Place) -> tuple[int, int, int, int] | None:
    """First closure in doubt and sure, last sure and in doubt, of a mark that came on the press."""
    if chosen is None or chosen.from_closure is None:
        return None
    low, high = chosen.to_closure or (chosen.from_closure[1], None)
    return chosen.from_closure[0], chosen.from_closure[1], low, place.last if high is None else high


def _wash(chosen: RecurrenceRow | None, place: _Place, *, to_boxes: bool) -> list[Shape]:
    span = _span(chosen, place)
    if span is None or chosen is None:
        return []
    role = Role.ALARM_WASH if chosen.fails else Role.WELL
    right = place.ladder if to_boxes else place.right
    top, bottom = place.y(span[1]), place.y(span[2])
    left = place.left - 0.9 * place.pen.label
    return [Rect(x=left, y=top, width=right - left, height=max(bottom - top, 2.0), fill=role)]


def _axes(place: _Place) -> list[Shape]:
    pen, size = place.pen, place.pen.label
    shapes: list[Shape] = [Text(x=0.0, y=place.top - 1.0 * size, text="Closure", size=size, weight=Weight.LABEL)]
    step = minute_step(place.duration, most=6)
    at = 0.0
    while at <= place.duration:
        x = place.x(at)
        shapes.append(Path(points=((x, place.top), (x, place.bottom)), stroke=pen.line(Role.HAIR, width=pen.hair)))
        if at <= place.duration - 0.4 * step:
            shapes.append(_figure(x, place.bottom + 1.5 * size, clock(at, tenths=False), size))
        at += step
    shapes.append(_figure(place.right, place.bottom + 1.5 * size, clock(place.duration, tenths=False), size))
    by = int(nice_step(float(place.last), most=6))
    marks = [1, *range(by, place.last - by // 3, max(by, 1)), place.last]
    shapes += [
        Text(
            x=3.6 * size, y=place.y(mark) + 0.35 * size, text=fixed(mark, 0), size=size, role=Role.INK_2, anchor="end",
            tabular=True,
        )
        for mark in dict.fromkeys(marks)
    ]  # fmt: skip
    return shapes


def _figure(x: float, y: float, text: str, size: float) -> Text:
    return Text(x=x, y=y, text=text, size=size, role=Role.INK_2, anchor="middle")


def _changes(stampers: Sequence[Stretch], place: _Place) -> list[Shape]:
    """Where a stamper was changed: a dashed line with the name of each at its own end."""
    pen, size = place.pen, place.pen.label
    shapes: list[Shape] = []
    for before, after in pairwise(stampers):
        y = place.y(after.first - 0.5)
        line = pen.line(Role.LINE, width=pen.hair, dash=True)
        shapes.append(Path(points=((place.left, y), (place.right, y)), stroke=line))
        for words, base in (
            (f"stamper {before.stamper}", y - 0.4 * size),
            (f"stamper {after.stamper}", y + 1.1 * size),
        ):
            shapes.append(
                Text(
                    x=place.right - 0.3 * size, y=base, text=words, size=size, role=Role.INK_2, anchor="end",
                    edge=Role.SHEET,
                )
            )  # fmt: skip
    return shapes


def _rows(rows: Sequence[CopyRow], chosen: RecurrenceRow | None, place: _Place) -> list[Shape]:
    """A line over what was heard of each copy, its ticks, its dot and, where there is room, its name."""
    pen, size = place.pen, place.pen.label
    shapes: list[Shape] = []
    last_dot = last_name = -1e9
    aside = False
    for row in rows:
        y = place.y(row.closure or 0)
        start, end = row.reach_s or (0.0, 0.0)
        shapes.append(Path(points=((place.x(start), y), (place.x(end), y)), stroke=pen.line(Role.LINE, width=pen.hair)))
        for time, over in zip(row.ticks_s or [], row.ticks_db or [], strict=True):
            half = size * min(0.14 + 0.3 * (over - 12.0) / 25.0, 0.5)
            x = place.x(time)
            shapes.append(Path(points=((x, y - half), (x, y + half)), stroke=pen.line(Role.INK_2, width=pen.axis)))
        has = chosen is not None and row.copy in chosen.copies
        role = Role.ALARM if has and chosen is not None and chosen.fails else Role.INK
        aside = y - last_dot < 0.8 * size and not aside
        last_dot = y
        at = place.left - (2.5 if aside else 1.6) * size
        shapes.append(
            Circle(cx=at, cy=y, radius=0.34 * size, fill=role if has else Role.SHEET, stroke=pen.line(role, width=1.5))
        )
        name = row.copy.removeprefix("copy ")
        if y - last_name > 1.05 * size and width(name, size=size) < 4.0 * size:
            last_name = y
            shapes.append(
                Text(
                    x=place.left - 3.2 * size,
                    y=y + 0.35 * size,
                    text=name,
                    size=size,
                    weight=Weight.LABEL,
                    anchor="end",
                )
            )
    return shapes


def _columns(
    shared: Sequence[RecurrenceRow], chosen: RecurrenceRow | None, rows: Sequence[CopyRow], place: _Place
) -> list[Shape]:
    """The chosen mark as a column with a flag, the others as dashes with their times above."""
    pen, size = place.pen, place.pen.label
    shapes: list[Shape] = []
    taken: list[tuple[float, float]] = []
    for row in sorted(shared, key=lambda one: one is not chosen):
        x = place.x(row.programme_s)
        is_chosen = row is chosen
        role = Role.ALARM if row.fails else Role.INK
        half = (0.32 if is_chosen else 0.12) * size
        heights = [place.y(one.closure or 0) for one in rows if one.copy in row.copies]
        if not heights:
            continue
        thread = pen.line(role, width=pen.hair, dots=not is_chosen)
        shapes.append(Path(points=((x, place.top - 0.5 * size), (x, max(heights))), stroke=thread))
        shapes += [Rect(x=x - half, y=y - 0.42 * size, width=2 * half, height=0.84 * size, fill=role) for y in heights]
        time = clock(row.programme_s)
        room = [(words, *_across(x, words, place)) for words in _heads(time, row, is_chosen)]
        free = [one for one in room if not any(one[1] < b and a < one[1] + one[2] for a, b in taken)]
        if not free:
            continue
        words, left, run = free[0]
        taken.append((left, left + run))
        if is_chosen:
            shapes.append(Rect(x=left, y=place.top - 2.5 * size, width=run, height=1.7 * size, fill=role))
        shapes.append(
            Text(
                x=left + run / 2.0, y=place.top - 1.3 * size, text=words, size=size, weight=Weight.VALUE,
                role=Role.ON_FILL if is_chosen else role, anchor="middle",
            )
        )  # fmt: skip
    return shapes


def _heads(time: str, row: RecurrenceRow, is_chosen: bool) -> list[str]:
    """What may stand over a column, the most telling first."""
    return [time] if is_chosen or row.without else [f"{time} on every copy", time]


def _across(x: float, words: str, place: _Place) -> tuple[float, float]:
    """Left end and length of words over a column."""
    run = width(words, size=place.pen.label, weight=Weight.VALUE) + place.pen.label
    return min(max(x - run / 2.0, place.left), place.right - run), run


def _ends(chosen: RecurrenceRow | None, place: _Place) -> list[Shape]:
    span = _span(chosen, place)
    if span is None or chosen is None:
        return []
    a, b, c, d = span
    shapes = _end(chosen, (a, b), f"starts, closure {_words(a, b)}", place, above=True)
    if chosen.to_closure is not None and chosen.to_closure[1] is not None:
        shapes += _end(chosen, (c, d), f"ends, closure {_words(c, d)}", place, above=False)
    return shapes


def _words(low: int, high: int) -> str:
    return f"{low} to {high}" if low < high else str(low)


def _end(chosen: RecurrenceRow, span: tuple[int, int], words: str, place: _Place, *, above: bool) -> list[Shape]:
    """A bar as high as the closures in doubt, beside the column, and its words."""
    pen, size = place.pen, place.pen.label
    x = place.x(chosen.programme_s)
    run = width(words, size=size, weight=Weight.LABEL)
    right = x + 5.0 * size + run < place.right
    left = x + 0.9 * size if right else x - 3.9 * size
    top, bottom = place.y(span[0]), place.y(span[1])
    high = max(bottom - top, pen.limit)
    base = top - 0.45 * size if above else top + high + 1.05 * size
    return [
        Rect(x=left, y=top, width=3.0 * size, height=high, fill=Role.INK),
        Text(
            x=left if right else left + 3.0 * size, y=base, text=words, size=size, weight=Weight.LABEL,
            anchor="start" if right else "end", edge=Role.SHEET,
        ),
    ]  # fmt: skip


def _ladder(boxes: Sequence[Box], place: _Place, chosen: RecurrenceRow | None) -> list[Shape]:
    """The boxes with their numbers as far as there is room; those to hold are filled, first and last say so."""
    if not boxes:
        return []
    pen, size = place.pen, place.pen.label
    left, wide = place.ladder, place.wide - place.ladder
    role = Role.ALARM if chosen is not None and chosen.fails else Role.INK
    held = [box for box in boxes if box.held]
    said = {held[0].name, held[-1].name} if held else set()
    shapes: list[Shape] = [
        Text(x=left + wide / 2, y=place.top - 1.0 * size, text="Boxes", size=size, weight=Weight.LABEL, anchor="middle")
    ]
    written = -1e9
    blocked = [_middle(box, place) for box in held if box.name in said]
    for box in boxes:
        top, bottom = place.y(box.first - 0.5), place.y(box.last + 0.5)
        gap = 1.0 if bottom - top > 4.0 else 0.0
        edge = pen.line(role if box.held else Role.LINE, width=pen.hair)
        shapes.append(
            Rect(
                x=left, y=top, width=wide, height=max(bottom - top - gap, 0.5), fill=role if box.held else None,
                stroke=edge,
            )
        )  # fmt: skip
        y = _middle(box, place)
        must = box.name in said
        near = any(abs(y - other) < 1.05 * size for other in blocked)
        if not must and (y - written < 1.05 * size or near or (box.held and bottom - top < 0.9 * size)):
            continue
        written = y
        tone = Role.ON_FILL if box.held else Role.INK_2
        back = role if box.held else Role.SHEET
        weight = Weight.VALUE if box.held else Weight.TEXT
        shapes.append(
            Text(
                x=left + wide - 0.5 * size, y=y + 0.35 * size, text=box.name, size=size, role=tone, anchor="end",
                weight=weight, edge=back,
            )
        )  # fmt: skip
        if must:
            shapes.append(
                Text(
                    x=left + 0.5 * size, y=y + 0.35 * size, text="hold", size=size, role=tone, weight=weight, edge=back
                )
            )
    return shapes


def _middle(box: Box, place: _Place) -> float:
    return 0.5 * (place.y(box.first - 0.5) + place.y(box.last + 0.5))
