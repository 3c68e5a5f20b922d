"""Copies down in closure order, programme time across: what each copy shows, and what they share.

One block for each side. A rail at the left holds the closures to scale; each played copy has one thin row with its
verdict, its ticks, jumps and zones, and at the right its off-centre with U95 against the one limit.
"""

from dataclasses import dataclass, field

from runtrue.contract.listening import Centre, Listening, Traces
from runtrue.paper import faults
from runtrue.paper.drawing import Circle, Drawing, Group, Hatch, Path, Rect, Shape, Stroke, Text, arrow
from runtrue.paper.faces import Weight, width
from runtrue.paper.layout import Pen, minute_step, nice_step
from runtrue.paper.marks import VERDICT_ROLES, verdict_mark
from runtrue.paper.strip import duration_of
from runtrue.paper.tokens import Role
from runtrue.paper.words import NO_BREAK, VERDICT_WORDS, clock, copy_title, count, fixed, why

SAME_S = 0.05
"""A fault within so much programme time is the shared one [s]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One recording of one side of a copy; ``listening`` is None for a copy that was not played.

    ``copy`` is the copy's name in running text ("copy 5"). ``note`` tells two recordings of one side apart ("pushed
    away"). ``advice`` is the workflow's sentence on what to do.
    """

    copy: str
    side: str
    closure: int | None = None
    stamper: str = ""
    listening: Listening | None = None
    traces: Traces = field(default_factory=Traces)
    advice: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Shared:
    """A fault that several copies show at one programme time, in the workflow's words.

    ``begins`` and ``ends``: closures between which it came and went, where it came on the press.
    """

    side: str
    programme_s: float
    copies: tuple[str, ...]
    words: str = ""
    begins: tuple[int, int] | None = None
    ends: tuple[int, int | None] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class _Columns:
    """Where things stand across the picture."""

    rail: float
    mark: float
    size: float
    name: float
    left: float
    right: float
    bars: float
    wide: float


def ordered(entries: tuple[Entry, ...]) -> list[Entry]:
    """Entries by side, then by closure; those without a closure last, in the order given."""
    return sorted(entries, key=lambda e: (e.side, e.closure is None, e.closure or 0))


def name_of(entry: Entry) -> str:
    """The copy's name with what tells its recordings apart."""
    return f"{copy_title(entry.copy)}, {entry.note}" if entry.note else copy_title(entry.copy)


def _columns(entries: list[Entry], pen: Pen, wide: float, mark: float) -> _Columns:
    size = pen.label
    names = max((width(name_of(e), size=size, weight=Weight.LABEL) for e in entries), default=0.0)
    stampers = max((width(e.stamper, size=size) for e in entries), default=0.0)
    rail = 6.0 * size
    name = rail + mark + 0.6 * size
    left = name + names + (0.7 * size + stampers if stampers else 0.0) + 1.2 * size
    bars = 9.5 * size
    return _Columns(
        rail=rail - 0.3 * size,
        mark=rail,
        size=mark,
        name=name,
        left=left,
        right=wide - bars - 3.0 * size,
        bars=wide - bars,
        wide=wide,
    )


def _rail(entries: list[Entry], rows: list[float], columns: _Columns, pen: Pen) -> list[Shape]:
    """Closures to scale on a rail; a thin line leads from each to its row."""
    placed = [(e.closure, y) for e, y in zip(entries, rows, strict=True) if e.closure is not None]
    size = pen.label
    if len({closure for closure, _ in placed}) < 2:
        return [
            Text(x=columns.rail - size, y=y + 0.35 * size, text=fixed(k, 0), size=size, role=Role.INK_2, anchor="end")
            for k, y in placed
        ]
    first, last = placed[0][0], placed[-1][0]
    top, bottom = rows[0], rows[-1]
    x, end = columns.rail - 2.0 * size, columns.rail - 0.5 * size
    shapes: list[Shape] = [Path(points=((x, top), (x, bottom)), stroke=pen.line(Role.LINE))]
    written = top - 10.0 * size
    for place, (closure, y) in enumerate(placed):
        at = top + (bottom - top) * (closure - first) / (last - first)
        points = ((x, at), (x + 0.3 * (end - x), at), (end - 0.2 * (end - x), y), (end, y))
        shapes.append(Path(points=points, stroke=pen.line(Role.LINE, width=pen.hair)))
        room_below = place == len(placed) - 1 or bottom - at > 1.05 * size
        if at - written > 1.05 * size and room_below:
            shapes.append(
                Text(
                    x=x - 0.4 * size, y=at + 0.35 * size, text=fixed(closure, 0), size=size, role=Role.INK_2,
                    anchor="end",
                )
            )  # fmt: skip
            written = at
    return shapes


def _marks(entry: Entry, x: "_Time", y: float, step: float, pen: Pen) -> list[Shape]:
    """A copy's faults as uprights on its row, height by prominence; what was not heard is a dotted row."""
    listening = entry.listening
    if listening is None or listening.programme.reach_s is None:
        dots = pen.line(Role.LINE, dots=True)
        return [Path(points=((x.left, y), (x.right, y)), stroke=dots)]
    start, end = listening.programme.reach_s
    shapes: list[Shape] = [Path(points=((x.at(start), y), (x.at(end), y)), stroke=pen.line(Role.LINE, width=pen.hair))]
    for zone in listening.bursts or []:
        hatch = Hatch(role=Role.INK, gap=0.8 * pen.grid, width=pen.hair)
        a, b = x.at(zone.from_s), max(x.at(zone.to_s), x.at(zone.from_s) + 0.8 * pen.grid)
        shapes.append(
            Rect(
                x=a, y=y - 0.22 * step, width=b - a, height=0.44 * step, fill=Role.SHEET, hatch=hatch,
                stroke=pen.line(width=pen.hair),
            )
        )  # fmt: skip
    for tick in faults.ticks_of(listening):
        half = step * min(0.16 + 0.28 * (tick.weight - 12.0) / 25.0, 0.46)
        role = Role.ALARM if tick.failing else Role.INK
        stroke = pen.line(role, width=pen.limit if tick.failing else pen.axis)
        at = x.at(tick.programme_s)
        shapes.append(Path(points=((at, y - half), (at, y + half)), stroke=stroke))
    for jump in listening.jumps or []:
        role = Role.ALARM if faults.fails(listening, "jumps_per_side") else Role.INK
        at, reach = x.at(jump.programme_s), 1.6 * pen.grid * (1.0 if jump.turns > 0 else -1.0)
        shapes.append(Path(points=((at, y - 0.4 * step), (at, y + 0.4 * step)), stroke=pen.line(role, width=pen.axis)))
        shapes += arrow((at - reach, y), (at + reach, y), stroke=pen.line(role, width=pen.data), head=1.8 * pen.grid)
    return shapes


@dataclass(frozen=True, slots=True, kw_only=True)
class _Time:
    """Programme time across."""

    left: float
    right: float
    duration: float

    def at(self, time: float) -> float:
        return self.left + min(max(time / self.duration, 0.0), 1.0) * (self.right - self.left)


def _most_offset(entries: list[Entry]) -> float:
    """The largest offset the bars must hold [um], round."""
    reach = [100.0]
    for entry in entries:
        if entry.listening is not None:
            main, _ = faults.centres(entry.listening)
            limit = faults.centre_limit(entry.listening)
            reach += [main.offset_um + main.offset_u95_um] if main is not None else []
            reach += [limit * 1.2] if limit is not None else []
    step = nice_step(max(reach) * 1.05, most=4)
    return step * -(-max(reach) * 1.05 // step)


def _offset_bar(
    centre: Centre | None, entry: Entry, *, y: float, step: float, columns: _Columns, most: float, pen: Pen
) -> list[Shape]:
    listening = entry.listening
    if listening is None:
        text = Text(
            x=columns.bars, y=y + 0.35 * pen.label, text="not played", size=pen.label, role=Role.INK_2, edge=Role.SHEET
        )
        return [text]
    if centre is None:
        text = Text(
            x=columns.bars - 0.8 * pen.label,
            y=y + 0.35 * pen.label,
            text="not judged",
            size=pen.label,
            role=Role.INK_2,
            edge=Role.SHEET,
        )
        return [text]
    room = columns.wide - columns.bars

    def at(value: float) -> float:
        return columns.bars + room * min(max(value / most, 0.0), 1.0)

    row = faults.finding(listening, "off_centre_offset", "off_centre_swing")
    verdict = row.verdict if row is not None else None
    low, high = at(centre.offset_um - centre.offset_u95_um), at(centre.offset_um + centre.offset_u95_um)
    thick = 0.36 * step
    fill = VERDICT_ROLES[verdict] if verdict else Role.HATCH
    edge = pen.line(width=pen.axis) if verdict == "cannot_judge" else None
    hatch = pen.doubt if verdict == "cannot_judge" and pen.unit == "mm" else None
    wide = max(high - low, pen.data)
    x = at(centre.offset_um)
    return [
        Path(points=((columns.bars, y), (columns.wide, y)), stroke=pen.line(Role.HAIR, width=pen.hair)),
        Rect(x=low, y=y - thick / 2, width=wide, height=thick, fill=fill, hatch=hatch, stroke=edge),
        Rect(x=x - 1.1 * pen.data, y=y - 0.8 * thick, width=2.2 * pen.data, height=1.6 * thick, fill=Role.SHEET),
        Path(points=((x, y - 0.8 * thick), (x, y + 0.8 * thick)), stroke=pen.line(width=pen.data)),
    ]  # fmt: skip


def _limit_area(
    entries: list[Entry], *, top: float, bottom: float, columns: _Columns, most: float, pen: Pen
) -> list[Shape]:
    limits = {
        limit for e in entries if e.listening is not None and (limit := faults.centre_limit(e.listening)) is not None
    }
    if len(limits) != 1:
        return []
    x = columns.bars + (columns.wide - columns.bars) * min(limits.pop() / most, 1.0)
    return [
        Rect(x=x, y=top, width=columns.wide - x, height=bottom - top, hatch=pen.hatch),
        Path(points=((x, top), (x, bottom)), stroke=pen.line(width=pen.limit)),
    ]


def _limit_words(entries: list[Entry]) -> str:
    limits = {
        limit for e in entries if e.listening is not None and (limit := faults.centre_limit(e.listening)) is not None
    }
    return f"at most {fixed(limits.pop(), 0)}" if len(limits) == 1 else ""


def _out_of_limit(fault: Shared, entries: list[Entry]) -> bool:
    """Whether a copy that shares the fault fails on it; one that every copy may have stays ink."""
    return any(
        one.failing and abs(one.programme_s - fault.programme_s) < SAME_S
        for entry in entries
        if entry.listening is not None and entry.copy in fault.copies
        for one in [*faults.ticks_of(entry.listening), *faults.jumps_of(entry.listening, entry.traces)]
    )


def _heard(entry: Entry, time: float) -> bool:
    """Whether the recording reaches the place."""
    reach = None if entry.listening is None else entry.listening.programme.reach_s
    return reach is not None and reach[0] <= time <= reach[1]


def _shared(
    shared: tuple[Shared, ...], entries: list[Entry], rows: list[float], *, x: _Time, top: float, pen: Pen
) -> list[Shape]:
    """A column through the copies that share a fault, its time in a flag on top."""
    shapes: list[Shape] = []
    size = pen.label
    taken: list[tuple[float, float]] = []
    for fault in shared:
        if fault.side != entries[0].side:
            continue
        at = x.at(fault.programme_s)
        hit = [y for e, y in zip(entries, rows, strict=True) if e.copy in fault.copies and _heard(e, fault.programme_s)]
        flag = clock(fault.programme_s)
        run = width(flag, size=size, weight=Weight.VALUE) + 0.8 * size
        left = min(max(at - run / 2, x.left), x.right - run)
        if not hit or any(left < b and a < left + run for a, b in taken):
            continue
        taken.append((left, left + run))
        role = Role.ALARM if _out_of_limit(fault, entries) else Role.INK
        dots = Stroke(role=role, width=pen.axis, dash=(0.4 * pen.grid, 0.5 * pen.grid))
        shapes += [
            Path(points=((at, top), (at, hit[-1])), stroke=dots),
            *(Circle(cx=at, cy=y, radius=1.4 * pen.grid, stroke=pen.line(Role.SHEET, width=4 * pen.data)) for y in hit),
            *(Circle(cx=at, cy=y, radius=1.4 * pen.grid, stroke=pen.line(role, width=pen.data)) for y in hit),
            Rect(x=left, y=top - 1.35 * size, width=run, height=1.35 * size, fill=role),
            Text(
                x=left + run / 2, y=top - 0.38 * size, text=flag, size=size, weight=Weight.VALUE, role=Role.ON_FILL,
                anchor="middle",
            ),
        ]  # fmt: skip
    return shapes


def _span(fault: Shared, entries: list[Entry], rows: list[float], step: float) -> tuple[float, float, float, float]:
    """Heights: earliest and latest beginning, earliest and latest end, each on the row of the copy that bounds it."""
    assert fault.begins is not None
    known = [(e.closure, y) for e, y in zip(entries, rows, strict=True) if e.closure is not None]
    ends = fault.ends or (fault.begins[1], None)

    def last_up_to(closure: int) -> float:
        return max((y for k, y in known if k <= closure), default=rows[0] - 0.5 * step)

    def first_from(closure: int) -> float:
        return min((y for k, y in known if k >= closure), default=rows[-1] + 0.5 * step)

    after = rows[-1] + 0.5 * step if ends[1] is None else first_from(ends[1] + 1)
    return last_up_to(fault.begins[0] - 1), first_from(fault.begins[1]), last_up_to(ends[0]), after


def _wash(fault: Shared, entries: list[Entry], rows: list[float], *, x: "_Time", step: float) -> list[Shape]:
    """A wash over the copies from the first that surely has the fault to the last."""
    _, first, last, _ = _span(fault, entries, rows, step)
    low, high = first - 0.42 * step, last + 0.42 * step
    return [Rect(x=x.left, y=low, width=x.right - x.left, height=high - low, fill=Role.ALARM_WASH)]


def _ends(fault: Shared, entries: list[Entry], rows: list[float], *, x: "_Time", pen: Pen) -> list[Shape]:
    """Bars over the closures between which the fault begins and ends, with the words beside them."""
    assert fault.begins is not None
    step = rows[1] - rows[0] if len(rows) > 1 else 2.0 * pen.label
    earliest, first, last, latest = _span(fault, entries, rows, step)
    shapes = _interval(x.at(fault.programme_s), (earliest, first), f"starts {_closures(fault.begins)}", x=x, pen=pen)
    if fault.ends is not None and fault.ends[1] is not None:
        words = f"ends {_closures((fault.ends[0], fault.ends[1]))}"
        shapes += _interval(x.at(fault.programme_s), (last, latest), words, x=x, pen=pen)
    return shapes


def _closures(span: tuple[int, int]) -> str:
    return f"{span[0]} to {span[1]}" if span[0] < span[1] else f"at {span[0]}"


def _interval(at: float, span: tuple[float, float], words: str, *, x: "_Time", pen: Pen) -> list[Shape]:
    """A bar beside the column at ``at``, as high as the interval, with its words toward where there is room."""
    size, thick = pen.label, max(span[1] - span[0], pen.limit)
    gap, wide = 2.2 * pen.grid, 0.5 * size
    run = width(words, size=size, weight=Weight.LABEL)
    right = at + gap + wide + 0.3 * size + run <= x.right
    left = at + gap if right else at - gap - wide
    middle = 0.5 * (span[0] + span[1]) + 0.35 * size
    text = Text(
        x=left + wide + 0.3 * size if right else left - 0.3 * size, y=middle, text=words, size=size,
        weight=Weight.LABEL, anchor="start" if right else "end", edge=Role.SHEET,
    )  # fmt: skip
    return [Rect(x=left, y=span[0], width=wide, height=thick, fill=Role.INK), text]


def _block(
    entries: list[Entry], shared: tuple[Shared, ...], *, columns: _Columns, pen: Pen, step: float, most: float
) -> tuple[list[Shape], float]:
    """One side: heading, rows, axis. Returns its shapes and height."""
    size = pen.label
    side = entries[0].side
    mark = columns.size
    duration = max(duration_of(e.listening, e.traces) for e in entries if e.listening is not None) if any(
        e.listening is not None for e in entries
    ) else 60.0  # fmt: skip
    x = _Time(left=columns.left, right=columns.right, duration=duration)
    top = 2.5 * size
    rows = [top + (k + 0.5) * step for k in range(len(entries))]
    bottom = top + len(entries) * step
    shapes: list[Shape] = [
        Text(
            x=0.0, y=1.0 * pen.text, text=f"Side {side}", size=pen.text, weight=Weight.LABEL
        ),
        Text(
            x=columns.bars, y=0.85 * size, text="off-centre, μm", size=size, weight=Weight.LABEL,
        ),
        Text(x=columns.bars, y=2.1 * size, text=_limit_words(entries), size=size, role=Role.INK_2),
        Text(x=0.0, y=pen.text + 1.25 * size, text="closure", size=size, role=Role.INK_2),
    ]  # fmt: skip
    grid = minute_step(duration, most=4)
    at = 0.0
    while at <= duration:
        shapes.append(Path(points=((x.at(at), top), (x.at(at), bottom)), stroke=pen.line(Role.HAIR, width=pen.hair)))
        if at <= duration - 0.3 * grid or at == 0.0:
            label = Text(
                x=x.at(at), y=bottom + 1.15 * size, text=clock(at, tenths=False), size=size, role=Role.INK_2,
                anchor="middle",
            )  # fmt: skip
            shapes.append(label)
        at += grid
    shapes.append(
        Text(
            x=x.right, y=bottom + 1.15 * size, text=clock(duration, tenths=False), size=size, role=Role.INK_2,
            anchor="middle",
        )
    )  # fmt: skip
    shapes += _limit_area(entries, top=top, bottom=bottom, columns=columns, most=most, pen=pen)
    shapes += [
        Text(x=columns.bars, y=bottom + 1.15 * size, text="0", size=size, role=Role.INK_2, anchor="middle"),
        Text(x=columns.wide, y=bottom + 1.15 * size, text=fixed(most, 0), size=size, role=Role.INK_2, anchor="end"),
    ]
    spans = [fault for fault in shared if fault.side == side and fault.begins is not None]
    shapes += [shape for fault in spans for shape in _wash(fault, entries, rows, x=x, step=step)]
    shapes += _rail(entries, rows, columns, pen)
    for entry, y in zip(entries, rows, strict=True):
        if entry.listening is not None:
            shapes += verdict_mark(entry.listening.verdict, x=columns.mark, y=y - mark / 2, size=mark, pen=pen)
        name = Text(x=columns.name, y=y + 0.35 * size, text=name_of(entry), size=size, weight=Weight.LABEL)
        shapes.append(name)
        if entry.stamper:
            shapes.append(
                Text(
                    x=columns.left - 1.2 * size, y=y + 0.35 * size, text=entry.stamper, size=size, role=Role.INK_2,
                    anchor="end",
                )
            )  # fmt: skip
        shapes += _marks(entry, x, y, step, pen)
        centre = faults.centres(entry.listening)[0] if entry.listening is not None else None
        shapes += _offset_bar(centre, entry, y=y, step=step, columns=columns, most=most, pen=pen)
    shapes += _shared(shared, entries, rows, x=x, top=top, pen=pen)
    shapes += [shape for fault in spans for shape in _ends(fault, entries, rows, x=x, pen=pen)]
    return shapes, bottom + 1.9 * size


def kept(entries: list[Entry], most: int) -> list[Entry]:
    """Return at most so many entries in their order: what is bad first, then its neighbours, then the others.

    A neighbour that passes bounds where a fault starts and ends.
    """
    if len(entries) <= most:
        return entries
    bad = [e.listening is not None and e.listening.verdict != "pass" for e in entries]

    def rank(place: int) -> tuple[int, int]:
        beside = any(bad[k] for k in (place - 1, place + 1) if 0 <= k < len(bad))
        return (0 if bad[place] else 1 if beside else 2), place

    places = sorted(sorted(range(len(entries)), key=rank)[:most])
    return [entries[place] for place in places]


def copies_picture(
    entries: tuple[Entry, ...], *, pen: Pen, wide: float, high: float | None = None, shared: tuple[Shared, ...] = ()
) -> Drawing:
    """Return the copies picture, one block for each side.

    With ``high`` the rows shrink to fit, to 1.2 label sizes; what still does not fit is left out and counted below.
    """
    rows = ordered(entries)
    every = len(rows)
    sides = list(dict.fromkeys(entry.side for entry in rows))
    step = 2.1 * pen.label
    if high is not None and rows:
        spare = high - len(sides) * 5.0 * pen.label - 1.4 * pen.label
        rows = kept(rows, max(2, int(spare // (1.2 * pen.label))))
        sides = list(dict.fromkeys(entry.side for entry in rows))
        step = min(1.25 * step, max(1.2 * pen.label, spare / len(rows)))
    most = _most_offset(rows)
    columns = _columns(rows, pen, wide, min(0.78 * step, 1.35 * pen.label))
    items: list[Shape] = []
    told: list[str] = []
    y = 0.0
    for side in sides:
        block = [entry for entry in rows if entry.side == side]
        shapes, height = _block(block, shared, columns=columns, pen=pen, step=step, most=most)
        items.append(Group(items=tuple(shapes), dx=0.0, dy=y))
        y += height + 0.6 * pen.label
        for entry in block:
            if entry.listening is None:
                told.append(f"{name_of(entry)} side {side}: not played.")
                continue
            reason = why(entry.listening)
            word = VERDICT_WORDS[entry.listening.verdict]
            told.append(f"{name_of(entry)} side {side}: {word}{f', {reason}' if reason else ''}.")
    if len(rows) < every:
        said = f"{every - len(rows)} more recordings stand in the table only."
        items.append(Text(x=0.0, y=y + 0.6 * pen.label, text=said, size=pen.label, role=Role.INK_2))
        told.append(said)
        y += 1.4 * pen.label
    played = sum(entry.listening is not None for entry in rows)
    return Drawing(
        title="Copies in closure order",
        description=f"{count(played, 'recording')} judged. {' '.join(told)}".replace(NO_BREAK, " "),
        width=wide, height=y, unit=pen.unit, items=tuple(items),
    )  # fmt: skip
