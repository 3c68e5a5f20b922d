"""The side from its start to its end: ticks, level, noise, speed over one axis of time and radius.

Limits are ink lines, what is out of limit is hatched, what was not judged is left blank and says so.
"""

from collections.abc import Callable
from dataclasses import dataclass
from math import ceil, floor

from runtrue.contract.listening import Listening, Traces
from runtrue.paper import faults
from runtrue.paper.drawing import Circle, Drawing, Hatch, Path, Point, Rect, Shape, Stroke, Text, arrow
from runtrue.paper.faces import Weight, wrapped
from runtrue.paper.faults import Fault
from runtrue.paper.layout import Pen, minute_step, nice_step
from runtrue.paper.tokens import Role
from runtrue.paper.words import LOUD_DB, bound, clock, count, fixed

Values = list[float | None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Lane:
    """One row of the strip: its place, its scale, its names."""

    top: float
    height: float
    left: float
    right: float
    low: float
    high: float
    duration: float

    def x(self, time: float) -> float:
        """Place of a programme time, held inside the lane."""
        share = min(max(time / self.duration, 0.0), 1.0)
        return self.left + share * (self.right - self.left)

    def y(self, value: float) -> float:
        """Height of a value, held inside the lane."""
        share = min(max((value - self.low) / (self.high - self.low), 0.0), 1.0)
        return self.top + self.height * (1.0 - share)

    @property
    def bottom(self) -> float:
        """The lane's lower edge."""
        return self.top + self.height


def stretches(times: list[float], values: Values) -> list[list[tuple[float, float]]]:
    """Split a curve where it was not judged.

    Examples
    --------
    >>> stretches([0.0, 1.0, 2.0, 3.0], [5.0, None, 6.0, 7.0])
    [[(0.0, 5.0)], [(2.0, 6.0), (3.0, 7.0)]]
    """
    found: list[list[tuple[float, float]]] = []
    open_stretch = False
    for time, value in zip(times, values, strict=False):
        if value is None:
            open_stretch = False
            continue
        if not open_stretch:
            found.append([])
            open_stretch = True
        found[-1].append((time, value))
    return found


def _ground(lane: Lane, pen: Pen) -> list[Shape]:
    wide = lane.right - lane.left
    edge = pen.line(Role.LINE, width=pen.hair)
    return [
        Rect(x=lane.left, y=lane.top, width=wide, height=lane.height, fill=Role.WELL),
        Path(points=((lane.left, lane.bottom), (lane.right, lane.bottom)), stroke=edge),
    ]


def _limits(lane: Lane, lower: float | None, upper: float | None, pen: Pen) -> list[Shape]:
    shapes: list[Shape] = []
    wide = lane.right - lane.left
    for limit, above in ((upper, True), (lower, False)):
        if limit is None or not lane.low < limit < lane.high:
            continue
        y = lane.y(limit)
        top, bottom = (lane.top, y) if above else (y, lane.bottom)
        shapes.append(Rect(x=lane.left, y=top, width=wide, height=bottom - top, hatch=pen.hatch))
        shapes.append(Path(points=((lane.left, y), (lane.right, y)), stroke=pen.line(width=pen.data)))
    return shapes


def _band(lane: Lane, times: list[float], low: Values, high: Values) -> list[tuple[Point, ...]]:
    """Closed outlines between two curves."""
    pairs: list[tuple[float, float] | None] = [
        None if a is None or b is None else (a, b) for a, b in zip(low, high, strict=False)
    ]
    outlines: list[tuple[Point, ...]] = []
    run: list[tuple[float, float, float]] = []
    for time, pair in [*zip(times, pairs, strict=False), (0.0, None)]:
        if pair is not None:
            run.append((time, *pair))
            continue
        if run:
            over = [(lane.x(t), lane.y(b)) for t, _, b in run]
            under = [(lane.x(t), lane.y(a)) for t, a, _ in reversed(run)]
            outlines.append((*over, *under))
        run = []
    return outlines


def _line(lane: Lane, times: list[float], values: Values, stroke: Stroke) -> list[Shape]:
    return [
        Path(points=tuple((lane.x(t), lane.y(v)) for t, v in run), stroke=stroke)
        for run in stretches(times, values)
        if len(run) > 1
    ]


def _ticks(lane: Lane, listening: Listening, traces: Traces, pen: Pen) -> list[Shape]:
    """Stems by prominence, trains under one bar, jumps as arrows; under the grey no tick can be told from the noise."""
    shapes: list[Shape] = []
    floor_values: Values = [lane.low for _ in traces.programme_s]
    for outline in _band(lane, traces.programme_s, floor_values, traces.tick_threshold_db):
        shapes.append(Path(points=outline, closed=True, fill=Role.HAIR))
    if faults.finding(listening, "loud_ticks_per_side") is not None:
        y = lane.y(LOUD_DB)
        shapes.append(Path(points=((lane.left, y), (lane.right, y)), stroke=pen.line(Role.INK_2, dash=True)))
    for tick in faults.ticks_of(listening):
        x, y = lane.x(tick.programme_s), lane.y(tick.weight)
        role = Role.ALARM if tick.failing else Role.INK
        shapes.append(Path(points=((x, lane.bottom), (x, y)), stroke=pen.line(role, width=pen.data)))
        if tick.failing:
            shapes.append(Circle(cx=x, cy=y, radius=0.6 * pen.grid, fill=role))
    for train in listening.trains or []:
        y = lane.bottom - 0.5 * pen.grid
        ends = ((lane.x(train.from_s), y), (max(lane.x(train.to_s), lane.x(train.from_s) + pen.grid), y))
        shapes.append(Path(points=ends, stroke=pen.line(width=pen.limit)))
    middle = lane.top + 0.55 * lane.height
    for jump in listening.jumps or []:
        x = lane.x(jump.programme_s)
        role = Role.ALARM if faults.fails(listening, "jumps_per_side") else Role.INK
        shapes.append(Path(points=((x, lane.top), (x, lane.bottom)), stroke=pen.line(role, width=pen.data)))
        reach = 2.6 * pen.grid * (1.0 if jump.turns > 0 else -1.0)
        shapes += arrow((x, middle), (x + reach, middle), stroke=pen.line(role, width=pen.data), head=2.2 * pen.grid)
    return shapes


def _zones(lane: Lane, listening: Listening, pen: Pen) -> list[Shape]:
    """Noise zones as hatched spans at the foot of the noise lane."""
    hatch = Hatch(role=Role.INK, gap=1.1 * pen.grid, width=pen.hair)
    shapes: list[Shape] = []
    for zone in listening.bursts or []:
        left = lane.x(zone.from_s)
        wide = max(lane.x(zone.to_s) - left, 0.8 * pen.grid)
        shapes.append(
            Rect(
                x=left, y=lane.bottom - 0.28 * lane.height, width=wide, height=0.28 * lane.height, fill=Role.SHEET,
                hatch=hatch, stroke=pen.line(),
            )
        )  # fmt: skip
    return shapes


def _range(values: list[Values], *, step_parts: int, extra: tuple[float | None, ...]) -> tuple[float, float] | None:
    known = [value for curve in values for value in curve if value is not None]
    if not known:
        return None
    known += [value for value in extra if value is not None]
    low, high = min(known), max(known)
    span = (high - low) or 1.0
    step = nice_step(span * 1.1, most=step_parts)
    return floor((low - 0.04 * span) / step) * step, ceil((high + 0.04 * span) / step) * step


@dataclass(frozen=True, slots=True, kw_only=True)
class _Row:
    """A lane before it has its place."""

    name: str
    unit: str
    grids: float
    span: tuple[float, float] | None
    lower: float | None
    upper: float | None
    paint: Callable[[Lane], list[Shape]]


def _rows(listening: Listening, traces: Traces, pen: Pen) -> list[_Row]:
    tick = faults.finding(listening, "tick_prominence")
    noise = faults.finding(listening, "surface")
    speed = faults.finding(listening, "speed_deviation")
    loudest = max((t.prominence_db for t in listening.ticks or []), default=0.0)
    limit = tick.upper if tick else None
    top = 10.0 * ceil(max(loudest * 1.08, (limit or 0.0) * 1.25, 24.0) / 10.0)
    times = traces.programme_s
    noise_span = _range([traces.noise_db_a], step_parts=3, extra=(noise.upper if noise else None,))
    swings = [traces.speed_low_percent, traces.speed_high_percent]
    widest = max((abs(v) for curve in swings for v in curve if v is not None), default=0.0)
    bounds = tuple(b for b in ((speed.lower, speed.upper) if speed else ()) if b is not None and abs(b) < 1.8 * widest)
    pad = tuple(1.15 * b for b in bounds)
    speed_span = _range(swings, step_parts=4, extra=(0.0, *pad))
    reference = "dB re programme" if listening.level_reference == "programme" else "dB"

    def level(lane: Lane) -> list[Shape]:
        foot: Values = [lane.low for _ in times]
        return [
            Path(points=outline, closed=True, fill=Role.HATCH) for outline in _band(lane, times, foot, traces.level_db)
        ]

    def noise_line(lane: Lane) -> list[Shape]:
        drawn = _line(lane, times, traces.noise_db_a, pen.line(Role.PETROL, width=pen.data))
        return [*_zones(lane, listening, pen), *drawn]

    def speed_band(lane: Lane) -> list[Shape]:
        tone = Role.DISC if pen.unit == "mm" else Role.PETROL_WASH  # the wash prints white
        shapes: list[Shape] = [Path(points=outline, closed=True, fill=tone) for outline in _band(lane, times, *swings)]
        for curve in swings:
            shapes += _line(lane, times, curve, pen.line(Role.PETROL, width=pen.data))
        zero = ((lane.left, lane.y(0.0)), (lane.right, lane.y(0.0)))
        return [*shapes, Path(points=zero, stroke=pen.line(Role.LINE, width=pen.hair, dash=True))]

    return [
        _Row(
            name="Ticks", unit="dB over noise", grids=11.0, span=None if listening.ticks is None else (0.0, top),
            lower=None, upper=limit, paint=lambda lane: _ticks(lane, listening, traces, pen),
        ),
        _Row(
            name="Level", unit=reference, grids=8.0,
            span=(-50.0, 10.0) if any(v is not None for v in traces.level_db) else None, lower=None,
            upper=None, paint=level,
        ),
        _Row(
            name="Noise (A)", unit=reference, grids=9.0, span=noise_span, lower=None,
            upper=noise.upper if noise else None, paint=noise_line,
        ),
        _Row(
            name="Speed", unit="% of nominal", grids=11.0, span=speed_span,
            lower=speed.lower if speed else None, upper=speed.upper if speed else None, paint=speed_band,
        ),
    ]  # fmt: skip


def _scale_words(row: _Row, lane: Lane, pen: Pen) -> list[Shape]:
    """At the right of a lane: its limits where they lie inside, else its two ends."""
    size = pen.label
    x = lane.right + 1.2 * pen.grid
    inside = [b for b in (row.upper, row.lower) if b is not None and lane.low < b < lane.high]
    shapes: list[Shape] = []
    heights: list[float] = []
    for limit in inside:
        heights.append(min(max(lane.y(limit) + 0.35 * size, lane.top + 0.75 * size), lane.bottom))
        shapes.append(Text(x=x, y=heights[-1], text=f"limit {bound(limit, '', 3)}", size=size))
    for value, y in ((lane.high, lane.top + 0.72 * size), (lane.low, lane.bottom)):
        if all(abs(y - other) > 1.15 * size for other in heights):
            heights.append(y)
            shapes.append(Text(x=x, y=y, text=bound(value, "", 3), size=size, role=Role.INK_2))
    return shapes


def _axis(lane: Lane, traces: Traces, y: float, pen: Pen) -> list[Shape]:
    """Time in bold with its radius; the last label ends at the right edge."""
    size = pen.label
    step = minute_step(lane.duration, most=5)
    marks = [k * step for k in range(int(lane.duration / step) + 1)]
    if lane.duration - marks[-1] < 0.55 * step and len(marks) > 1:
        marks.pop()
    marks.append(lane.duration)
    room = 7.5 * size / (lane.right - lane.left) * lane.duration
    marks = [at for at in marks[:-1] if at < marks[-1] - 1.9 * room] + marks[-1:]
    shapes: list[Shape] = []
    for place, at in enumerate(marks):
        last = place == len(marks) - 1
        time = Text(x=lane.x(at), y=y, text=clock(at, tenths=False), size=size, weight=Weight.VALUE)
        radius = faults.radius_at(traces, at)
        where = "" if radius is None else f"{fixed(radius, 0)} mm"
        told = Text(x=time.box.right + 0.35 * size, y=y, text=where, size=size, role=Role.INK_2)
        run = told.box.right - time.box.left if where else time.box.right - time.box.left
        shift = -run if last else 0.0
        shapes.append(Path(points=((lane.x(at), y - 1.75 * size), (lane.x(at), y - size)), stroke=pen.line(Role.LINE)))
        for text in (time, told) if where else (time,):
            shapes.append(type(text)(
                x=text.x + shift, y=text.y, text=text.text, size=size, weight=text.weight, role=text.role
            ))  # fmt: skip
    return shapes


def _unheard(lane: Lane, listening: Listening, pen: Pen) -> list[Shape]:
    """Blank parts of the side, outside what was heard, with a slanted grey that means "not judged"."""
    reach = listening.programme.reach_s
    if reach is None:
        return []
    return [
        Rect(
            x=lane.x(a), y=lane.top, width=lane.x(b) - lane.x(a), height=lane.height, fill=Role.SHEET,
            stroke=pen.line(Role.LINE, width=pen.hair, dash=True),
        )
        for a, b in ((0.0, reach[0]), (reach[1], lane.duration))
        if lane.x(b) - lane.x(a) > pen.grid
    ]  # fmt: skip


def _legend(listening: Listening, traces: Traces) -> str:
    """What the lanes' marks mean, as far as they are there."""
    parts: list[str] = []
    if any(value is not None for value in traces.tick_threshold_db):
        parts.append("Grey under the ticks: what cannot be told from the noise.")
    if listening.ticks is not None and faults.finding(listening, "loud_ticks_per_side") is not None:
        parts.append(f"Dashed at {fixed(LOUD_DB, 0)}: loud from here.")
    if listening.trains:
        parts.append("Bar at the foot: ticks once a turn.")
    if listening.bursts:
        parts.append("Boxes in the noise: noise zones.")
    if listening.jumps:
        parts.append("Arrows: jumps, forward or back.")
    if any(value is not None for value in traces.speed_high_percent):
        parts.append("Speed: between its once-a-turn extremes; it tells about the player as well as the disc.")
    return " ".join(parts)


def duration_of(listening: Listening, traces: Traces) -> float:
    """How long the side is [s]: the reference's length, else what the traces hold, else the recording's length."""
    ends = [traces.programme_s[-1]] if traces.programme_s else []
    ends += [listening.programme.reach_s[1]] if listening.programme.reach_s else []
    if ends:
        return max(ends)
    return listening.reference.duration_s if listening.reference else listening.input.duration_s


def span_of(pen: Pen, wide: float) -> tuple[float, float]:
    """Where the side begins and ends across a strip ``wide`` across."""
    return 8.4 * pen.label, wide - 5.4 * pen.label


def strip_picture(
    listening: Listening, traces: Traces, *, pen: Pen, wide: float, chosen: Fault | None = None
) -> Drawing:
    """Return the strip, ``wide`` across. Without ``chosen`` it points at the fault that decided, if one has a place."""
    chosen = chosen if chosen is not None else faults.chosen_fault(listening, traces)
    duration = duration_of(listening, traces)
    left, right = span_of(pen, wide)
    size = pen.label
    heard = listening.programme.reach_s is not None
    caption = "hatched beyond a line: out of limit" if heard else ""
    shapes: list[Shape] = [
        Text(x=0.0, y=pen.text, text="Along the side", size=pen.text, weight=Weight.LABEL),
        Text(x=wide, y=pen.text, text=caption, size=size, role=Role.INK_2, anchor="end"),
    ]
    y = 1.2 * pen.text + 1.9 * size
    first = y
    told: list[str] = []
    lane = Lane(top=y, height=1.0, left=left, right=right, low=0.0, high=1.0, duration=duration)
    rows = _rows(listening, traces, pen)
    for row in rows:
        low, high = row.span or (0.0, 1.0)
        height = max(row.grids * pen.grid, 2.3 * size)
        lane = Lane(top=y, height=height, left=left, right=right, low=low, high=high, duration=duration)
        shapes += _ground(lane, pen)
        shapes += [
            Text(x=0.0, y=y + 0.8 * pen.text, text=row.name, size=pen.text, weight=Weight.LABEL),
            Text(x=0.0, y=y + 0.8 * pen.text + 1.25 * size, text=row.unit, size=size, role=Role.INK_2),
        ]
        if row.span is None:
            words = Text(
                x=(left + right) / 2, y=y + height / 2 + 0.35 * size, text="not judged", size=size, role=Role.INK_2,
                anchor="middle",
            )  # fmt: skip
            edge = pen.line(Role.LINE, width=pen.hair, dash=True)
            shapes.append(Rect(x=left, y=y, width=right - left, height=height, stroke=edge))
            shapes.append(words)
            told.append(f"{row.name}: not judged.")
        else:
            shapes += _limits(lane, row.lower, row.upper, pen)
            shapes += row.paint(lane)
            shapes += _scale_words(row, lane, pen)
            shapes += _unheard(lane, listening, pen)
            told.append(f"{row.name} from {bound(low, '', 3)} to {bound(high, '', 3)} {row.unit}.")
        y += height + 2.2 * pen.grid
    if chosen is not None:
        shapes += _pointer(lane, chosen, first, y, pen)
    y += 1.75 * size
    shapes.append(Text(x=0.0, y=y, text="Time, radius", size=size, role=Role.INK_2))
    shapes += _axis(lane, traces, y, pen)
    y += 0.4 * size
    for line in wrapped(_legend(listening, traces), size=size, room=wide):
        y += 1.35 * size
        shapes.append(Text(x=0.0, y=y, text=line, size=size, role=Role.INK_2))
    ticks = (
        "Ticks were not judged." if listening.ticks is None else f"{count(len(listening.ticks), 'tick')} on the side."
    )
    points = f" Chosen: {chosen.kind} at {chosen.time}." if chosen else ""
    return Drawing(
        title="Along the side",
        description=f"0:00 to {clock(duration, tenths=False)}. {ticks}{points} {' '.join(told)}",
        width=wide, height=y + 0.4 * size, unit=pen.unit, items=tuple(shapes),
    )  # fmt: skip


def _pointer(lane: Lane, chosen: Fault, top: float, bottom: float, pen: Pen) -> list[Shape]:
    """One dotted line through all lanes with the time over it."""
    role = Role.ALARM if chosen.failing else Role.INK
    x = lane.x(chosen.programme_s)
    size = pen.label
    text = Text(x=x, y=top - 0.45 * size, text=chosen.time, size=size, weight=Weight.VALUE, role=role, anchor="middle")
    over = max(lane.left - text.box.left, 0.0) + min(lane.right - text.box.right, 0.0)
    moved = Text(x=x + over, y=text.y, text=text.text, size=size, weight=text.weight, role=role, anchor="middle")
    dots = Stroke(role=role, width=pen.axis, dash=(0.4 * pen.grid, 0.5 * pen.grid))
    return [Path(points=((x, top - 0.25 * size), (x, bottom - 2.2 * pen.grid)), stroke=dots), moved]
