"""The disc as a map: every fault at its place, and the off-centre in the label field.

Radius is true to scale; the angle is the groove's angle. On the playing face angles grow against the clock; the
stamper's face is its mirror image. The recorded band is toned where it was judged.
"""

from dataclasses import dataclass
from math import sqrt

from runtrue.contract.listening import Centre, Listening, Traces
from runtrue.paper import faults
from runtrue.paper.drawing import (
    Box,
    Circle,
    Drawing,
    Hatch,
    Path,
    Sector,
    Shape,
    Stroke,
    Text,
    arrow,
    polar,
)
from runtrue.paper.faces import Weight, wrapped
from runtrue.paper.faults import Fault, Outline
from runtrue.paper.layout import Labels, Pen, around, minute_step
from runtrue.paper.tokens import Role
from runtrue.paper.words import BURST_WORDS, NO_BREAK, clock, count, fixed, number, sentence_case

MAGNIFICATIONS = (10.0, 20.0, 30.0, 50.0, 100.0, 150.0, 200.0, 300.0, 500.0, 1000.0, 2000.0)
MOST_TIMES = 5
"""So many faults beside the chosen one have their time written."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Map:
    """Where the disc lies in the picture: centre, drawing units in a millimetre, and its sense of angle."""

    cx: float
    cy: float
    scale: float
    sense: float

    def at(self, radius_mm: float, angle: float) -> tuple[float, float]:
        """A place on the disc."""
        return polar(self.cx, self.cy, radius_mm * self.scale, self.sense * angle)

    def circle(self, radius_mm: float, *, fill: Role | None = None, stroke: Stroke | None = None) -> Circle:
        """A circle about the groove's centre."""
        return Circle(cx=self.cx, cy=self.cy, radius=radius_mm * self.scale, fill=fill, stroke=stroke)

    def piece(
        self,
        inner: float,
        outer: float,
        start: float,
        sweep: float,
        *,
        fill: Role | None = None,
        hatch: Hatch | None = None,
        stroke: Stroke | None = None,
    ) -> Sector:
        """A ring piece, radii in millimetres, from angle ``start`` over ``sweep`` in the direction of the groove."""
        return Sector(
            cx=self.cx, cy=self.cy, inner=inner * self.scale, outer=outer * self.scale, start=self.sense * start,
            sweep=self.sense * sweep, fill=fill, hatch=hatch, stroke=stroke,
        )  # fmt: skip


def _body(on: Map, outline: Outline, listening: Listening, traces: Traces, pen: Pen) -> list[Shape]:
    """Rim, recorded band (toned where judged), finishing groove, label, minute rings."""
    shapes: list[Shape] = [on.circle(outline.rim, fill=Role.DISC_GAP, stroke=pen.line(Role.LINE))]
    radius = traces.radius_mm
    if radius:
        first, last = radius[0], radius[-1]
        reach = listening.programme.reach_s
        heard = [r for t, r in zip(traces.programme_s, radius, strict=True) if reach and reach[0] <= t <= reach[1]]
        whole = pen.line(Role.LINE, width=pen.hair, dots=True)
        shapes += [on.circle(first, stroke=whole), on.circle(last, stroke=whole)]
        if heard:
            shapes.append(on.piece(heard[-1], heard[0], 0.0, 360.0, fill=Role.DISC))
        step = minute_step(traces.programme_s[-1], most=5)
        at = step
        while at < traces.programme_s[-1] - 0.4 * step:
            ring = faults.radius_at(traces, at)
            if ring is not None:
                shapes.append(on.circle(ring, stroke=pen.line(Role.LINE, width=pen.hair, dots=True)))
            at += step
    shapes.append(on.circle(outline.finishing, stroke=pen.line(Role.LINE, width=pen.hair)))
    shapes.append(on.circle(outline.label, fill=Role.DISC_LABEL, stroke=pen.line(Role.LINE)))
    return shapes


def _minutes(on: Map, traces: Traces, labels: Labels, pen: Pen) -> list[Shape]:
    """Times beside the minute rings where the band leaves room; never over a fault."""
    if not traces.programme_s:
        return []
    step = minute_step(traces.programme_s[-1], most=5)
    shapes: list[Shape] = []
    at = step
    while at < traces.programme_s[-1] - 0.4 * step:
        ring = faults.radius_at(traces, at)
        following = faults.radius_at(traces, at + step)
        if ring is not None and following is not None and (ring - following) * on.scale > 1.4 * pen.label:
            spots = (on.at(ring, angle) for angle in (250.0, 285.0, 230.0, 320.0, 200.0, 160.0, 130.0, 40.0))
            text = labels.place(
                Text(
                    x=x, y=y + 0.36 * pen.label, text=clock(at, tenths=False), size=pen.label, role=Role.INK_2,
                    anchor="middle", edge=Role.DISC,
                )
                for x, y in spots
            )  # fmt: skip
            shapes += [text] if text else []
        at += step
    return shapes


def zero_and_sense(on: Map, outline: Outline, pen: Pen) -> list[Shape]:
    """Zero mark at the top; on the playing face an arrow shows the disc turning with the clock."""
    x, y = on.at(outline.rim, 0.0)
    half, high = 1.9 * pen.grid, 3.4 * pen.grid
    shapes: list[Shape] = [
        Path(points=((x - half, y - high), (x + half, y - high), (x, y - 0.2 * pen.grid)), closed=True, fill=Role.INK),
        Path(points=((x, y), (x, y + 2.0 * pen.grid)), stroke=pen.line(width=pen.data)),
        Text(x=x + half + pen.grid, y=y - 0.9 * pen.grid, text="0°", size=pen.label, weight=Weight.LABEL),
    ]
    if on.sense > 0.0:
        out = outline.rim * on.scale + 2.0 * pen.grid
        points = tuple(polar(on.cx, on.cy, out, angle) for angle in range(-34, -57, -2))
        shapes.append(Path(points=points, stroke=pen.line(Role.INK_2)))
        tip = polar(on.cx, on.cy, out, -56.0 - 140.0 * pen.grid / out)
        shapes += arrow(points[-1], tip, stroke=pen.line(Role.INK_2), head=3.0 * pen.grid)
    return shapes


def _spots(points: list[tuple[float, float]], half: float) -> list[Box]:
    return [Box(left=x - half, top=y - half, right=x + half, bottom=y + half) for x, y in points]


def _sense_boxes(on: Map, outline: Outline, pen: Pen) -> list[Box]:
    """Where the turning arrow lies."""
    if on.sense < 0.0:
        return []
    out = outline.rim * on.scale + 2.0 * pen.grid
    return _spots([polar(on.cx, on.cy, out, angle) for angle in range(-32, -64, -3)], 1.2 * pen.grid)


def _zone_boxes(on: Map, listening: Listening, traces: Traces, pen: Pen) -> list[Box]:
    """Where the noise zones lie."""
    points: list[tuple[float, float]] = []
    for zone in listening.bursts or []:
        radius = faults.radius_at(traces, (zone.from_s + zone.to_s) / 2.0)
        if radius is not None:
            sweep = (zone.to_deg - zone.from_deg) % 360.0
            points += [on.at(radius, zone.from_deg + sweep * k / 24.0) for k in range(25)]
    return _spots(points, 0.8 * pen.grid)


def _dot(weight: float, pen: Pen) -> float:
    """Radius of a tick's dot: its area grows with prominence."""
    return pen.grid * 0.85 * sqrt(max(weight, 6.0) / 20.0)


def _faults(on: Map, listening: Listening, traces: Traces, pen: Pen) -> list[Shape]:
    """Zones as hatched ring pieces, trains as arcs through their dots, ticks as dots, jumps as bars with a head."""
    shapes: list[Shape] = []
    least = 1.2 * pen.grid / on.scale
    for zone in listening.bursts or []:
        outer, inner = faults.radius_at(traces, zone.from_s), faults.radius_at(traces, zone.to_s)
        if outer is None or inner is None:
            continue
        spare = max(0.0, least - (outer - inner)) / 2.0
        sweep = (zone.to_deg - zone.from_deg) % 360.0
        hatch = Hatch(role=Role.INK, gap=1.1 * pen.grid, width=pen.hair)
        shapes.append(
            on.piece(
                inner - spare, outer + spare, zone.from_deg, sweep, fill=Role.DISC_GAP, hatch=hatch, stroke=pen.line()
            )
        )
    ticks = faults.ticks_of(listening)
    for train in listening.trains or []:
        members = [on.at(tick.radius_mm, tick.angle_deg) for tick in listening.ticks or [] if tick.train == train.id]
        if len(members) > 1:
            shapes.append(Path(points=tuple(members), stroke=pen.line(width=pen.axis)))
    for tick, told in zip(ticks, listening.ticks or [], strict=True):
        x, y = on.at(tick.radius_mm, tick.angle_deg)
        fill = Role.ALARM if tick.failing else Role.INK
        # a train's dots lie a pitch apart: edges of the later ones would wash out the earlier
        edge = pen.line(Role.DISC, width=pen.hair) if told.train is None else None
        shapes.append(Circle(cx=x, cy=y, radius=_dot(tick.weight, pen), fill=fill, stroke=edge))
    for jump in faults.jumps_of(listening, traces):
        reach = 2.6 * pen.grid / on.scale * (1.0 if jump.turns > 0 else -1.0)
        role = Role.ALARM if jump.failing else Role.INK
        tail, tip = (on.at(jump.radius_mm + side * reach, jump.angle_deg) for side in (1.0, -1.0))
        shapes += arrow(tail, tip, stroke=pen.line(role, width=pen.limit), head=2.6 * pen.grid)
    return shapes


def _chosen(on: Map, outline: Outline, fault: Fault, pen: Pen) -> list[Shape]:
    """Ring, ray from the label, dotted arc from zero at its own radius; a wedge where the angle's doubt exceeds it."""
    role = Role.ALARM if fault.failing else Role.INK
    x, y = on.at(fault.radius_mm, fault.angle_deg)
    ring = _dot(fault.weight, pen) + 1.5 * pen.grid
    shapes: list[Shape] = []
    dots = Stroke(role=role, width=pen.data, dash=(0.5 * pen.grid, 0.8 * pen.grid))
    shapes.append(on.piece(fault.radius_mm, fault.radius_mm, 0.0, fault.angle_deg, stroke=dots))
    if fault.angle_u95_deg * 3.14159 / 180.0 * fault.radius_mm * on.scale > ring:
        from_deg, sweep = fault.angle_deg - fault.angle_u95_deg, 2.0 * fault.angle_u95_deg
        shapes.append(
            on.piece(
                outline.label, fault.radius_mm, from_deg, sweep, hatch=pen.hatch, stroke=pen.line(role, width=pen.hair)
            )
        )
    start = on.at(outline.label, fault.angle_deg)
    span = ((x - start[0]) ** 2 + (y - start[1]) ** 2) ** 0.5
    if span > ring:
        share = 1.0 - ring / span
        end = (start[0] + (x - start[0]) * share, start[1] + (y - start[1]) * share)
        shapes.append(Path(points=(start, end), stroke=pen.line(role)))
    shapes.append(Circle(cx=x, cy=y, radius=ring, stroke=pen.line(role, width=pen.ring)))
    return shapes


def magnification(centre: Centre, limit: float | None, *, room_mm: float) -> float:
    """Return how many times the off-centre is enlarged so that it, its U95 and the limit fill the label field."""
    reach = max(centre.offset_um + min(centre.u95_um, centre.offset_um + 400.0), limit or 0.0, 1.0) / 1000.0
    return max((m for m in MAGNIFICATIONS if m * reach <= room_mm), default=MAGNIFICATIONS[0])


def _off_centre(on: Map, outline: Outline, listening: Listening, pen: Pen) -> tuple[list[Shape], float | None]:
    """Cross = groove centre, arrow to the hole's centre, hatched circle = 95 %, dashed circle = limit."""
    main, other = faults.centres(listening)
    size = 1.3 * pen.grid
    cross: list[Shape] = [
        Path(points=((on.cx - size, on.cy), (on.cx + size, on.cy)), stroke=pen.line()),
        Path(points=((on.cx, on.cy - size), (on.cx, on.cy + size)), stroke=pen.line()),
    ]
    if main is None:
        return [on.circle(outline.hole, stroke=pen.line(Role.LINE)), *cross], None
    limit = faults.centre_limit(listening)
    times = magnification(main, limit, room_mm=0.93 * outline.label)
    enlarged = times / 1000.0
    failing = faults.fails(listening, "off_centre_offset", "off_centre_swing")
    shapes: list[Shape] = []
    if limit is not None:
        shapes.append(on.circle(limit * enlarged, stroke=pen.line(width=pen.data, dash=True)))
    if other is not None and other.offset_um * enlarged < outline.label:
        x, y = on.at(other.offset_um * enlarged, other.direction_deg)
        shapes.append(Path(points=((on.cx, on.cy), (x, y)), stroke=pen.line(Role.INK_2)))
        shapes.append(
            Circle(
                cx=x, cy=y, radius=max(other.u95_um * enlarged * on.scale, 0.9 * pen.grid),
                stroke=pen.line(Role.INK_2),
            )
        )  # fmt: skip
    x, y = on.at(main.offset_um * enlarged, main.direction_deg)
    role = Role.ALARM if failing else Role.INK
    circle = Circle(
        cx=x, cy=y, radius=main.u95_um * enlarged * on.scale, fill=None, hatch=pen.doubt, stroke=pen.line(role)
    )
    shapes.append(circle)
    shapes += arrow((on.cx, on.cy), (x, y), stroke=pen.line(role, width=pen.limit), head=2.4 * pen.grid)
    return shapes + cross, times


def _names(
    on: Map, listening: Listening, traces: Traces, *, chosen: Fault | None, labels: Labels, pen: Pen
) -> list[Shape]:
    """Times beside the chosen fault, the jumps, the zones and the loudest ticks, as far as there is room."""
    shapes: list[Shape] = []
    ticks = faults.ticks_of(listening)
    jumps = faults.jumps_of(listening, traces)
    for fault in [*ticks, *jumps]:
        x, y = on.at(fault.radius_mm, fault.angle_deg)
        half = _dot(fault.weight, pen) if fault.kind == "tick" else 2.0 * pen.grid
        labels.block(Box(left=x - half, top=y - half, right=x + half, bottom=y + half))
    named: list[tuple[float, float, str, Weight, Role]] = []
    if chosen is not None:
        role = Role.ALARM if chosen.failing else Role.INK
        named.append((*on.at(chosen.radius_mm, chosen.angle_deg), chosen.time, Weight.VALUE, role))
    for jump in jumps:
        if all(jump.time != text for _, _, text, _, _ in named):
            named.append((*on.at(jump.radius_mm, jump.angle_deg), jump.time, Weight.LABEL, Role.INK))
    for zone in listening.bursts or []:
        outer = faults.radius_at(traces, zone.from_s)
        if outer is not None:
            middle = zone.from_deg + ((zone.to_deg - zone.from_deg) % 360.0) / 2.0
            named.append((*on.at(outer, middle), faults.zone_words(zone), Weight.TEXT, Role.INK))
    loudest = sorted(ticks, key=lambda tick: -tick.weight)
    if len(ticks) <= 3 * MOST_TIMES:
        near = [(t.programme_s, t.radius_mm) for t in ([chosen] if chosen else [])]
        for tick in loudest[:MOST_TIMES]:
            if all(abs(tick.programme_s - t) > 20.0 for t, _ in near):
                near.append((tick.programme_s, tick.radius_mm))
                named.append((*on.at(tick.radius_mm, tick.angle_deg), tick.time, Weight.TEXT, Role.INK))
    for x, y, text, weight, role in named:
        label = labels.place(
            around(x, y, 3.2 * pen.grid, text, size=pen.label, weight=weight, role=role, edge=Role.DISC_GAP)
        )
        shapes += [label] if label else []
    return shapes


def _description(listening: Listening, chosen: Fault | None, face: str) -> str:
    """The picture in words."""
    main, _ = faults.centres(listening)
    parts = [f"{face}."]
    if listening.ticks is None:
        parts.append("Ticks were not judged.")
    else:
        parts.append(f"{count(len(listening.ticks), 'tick')}.".capitalize())
    if chosen is not None:
        angle = number(chosen.angle_deg, chosen.angle_u95_deg or None, "°", decimals=0)
        parts.append(f"Chosen: {chosen.kind} at {chosen.time}, angle {angle}, radius {fixed(chosen.radius_mm, 1)} mm.")
    parts += [
        f"{BURST_WORDS[zone.kind].capitalize()} at {faults.zone_words(zone)}, "
        f"{fixed(zone.from_deg, 0)}° to {fixed(zone.to_deg, 0)}°."
        for zone in listening.bursts or []
    ]
    parts += [f"Jump of {fixed(jump.turns, 0)} at {clock(jump.programme_s)}." for jump in listening.jumps or []]
    if main is not None:
        offset = number(main.offset_um, main.offset_u95_um, "μm", decimals=0)
        parts.append(f"Off-centre {offset}, direction {fixed(main.direction_deg, 0)}°.")
    return " ".join(parts).replace(NO_BREAK, " ")


def _legend(listening: Listening, pen: Pen, wide: float) -> list[str]:
    """What the marks in the label field and on the band mean, as far as they are there."""
    main, other = faults.centres(listening)
    parts: list[str] = []
    if main is not None:
        whose = "the disc" if listening.off_centre.disc is not None else "this placing"
        parts.append(f"arrow: groove centre to hole centre; hatched: {whose}, 95{NO_BREAK}%")
        if other is not None:
            parts.append("open ring: this placing")
        if faults.centre_limit(listening) is not None:
            parts.append("dashed: limit")
    reach = listening.programme.reach_s
    if reach is not None and listening.reference is not None and reach[1] < listening.reference.duration_s - 5.0:
        parts.append("toned band: judged")
    text = "; ".join(parts)
    return wrapped(sentence_case(f"{text}."), size=pen.label, room=wide) if parts else []


def _empty(on: Map, outline: Outline, listening: Listening, pen: Pen) -> list[Shape]:
    """One sentence where the faults would be, when nothing has a place."""
    if listening.ticks is not None or listening.off_centre.played is not None:
        return []
    lines = wrapped(
        "No fault has a place: the sides could not be laid over each other.",
        size=pen.label,
        room=1.2 * outline.rim * on.scale,
    )
    y = on.cy + outline.label * on.scale + 1.8 * pen.label
    return [
        Text(x=on.cx, y=y + 1.35 * place * pen.label, text=line, size=pen.label, role=Role.INK_2, anchor="middle")
        for place, line in enumerate(lines)
    ]


def map_of(outline: Outline, *, pen: Pen, wide: float, face: str) -> Map:
    """Where the disc lies in a picture ``wide`` across."""
    top = pen.text * 1.2 + 6.0 * pen.grid
    radius = wide / 2.0 - 4.0 * pen.grid
    return Map(cx=wide / 2.0, cy=top + radius, scale=radius / outline.rim, sense=1.0 if face == "playing" else -1.0)


def disc_picture(
    listening: Listening,
    traces: Traces,
    *,
    pen: Pen,
    wide: float,
    side: str = "",
    face: str = "playing",
    chosen: Fault | None = None,
) -> Drawing:
    """Return the disc picture, ``wide`` across. ``face`` is "playing" or "stamper", which is the mirror image.

    Without ``chosen`` the picture points at the fault that decided, if one has a place.
    """  # fmt: skip
    outline = faults.outline_of(listening.settings.format)
    chosen = chosen if chosen is not None else faults.chosen_fault(listening, traces)
    on = map_of(outline, pen=pen, wide=wide, face=face)
    top, radius = on.cy - on.scale * outline.rim, on.scale * outline.rim
    named = f"Side {side}, {face} face" if side else f"{face.capitalize()} face"
    shapes = [
        *_body(on, outline, listening, traces, pen),
        *zero_and_sense(on, outline, pen),
        *_faults(on, listening, traces, pen),
    ]
    if chosen is not None:
        shapes += _chosen(on, outline, chosen, pen)
    centre, times = _off_centre(on, outline, listening, pen)
    shapes += centre
    frame = Box(left=0.0, top=1.5 * pen.text, right=wide, bottom=top + 2.0 * radius + pen.grid)
    labels = Labels(frame=frame, air=0.3 * pen.grid)
    field = outline.label * on.scale
    labels.block(
        Box(left=on.cx - 0.8 * field, top=on.cy - 0.8 * field, right=on.cx + 0.8 * field, bottom=on.cy + 0.8 * field),
        Box(left=on.cx - 2 * pen.grid, top=top - 6 * pen.grid, right=on.cx + 8 * pen.grid, bottom=top + 2 * pen.grid),
        *_sense_boxes(on, outline, pen),
        *_zone_boxes(on, listening, traces, pen),
    )
    shapes += _names(on, listening, traces, chosen=chosen, labels=labels, pen=pen)
    shapes += _minutes(on, traces, labels, pen)
    shapes += _empty(on, outline, listening, pen)
    caption = [Text(x=0.0, y=pen.text, text=named, size=pen.text, weight=Weight.LABEL)]
    if times is not None:
        told = f"label: offset × {fixed(times, 0)}"
        caption.append(Text(x=wide, y=pen.text, text=told, size=pen.label, role=Role.INK_2, anchor="end"))
    elif listening.off_centre.played is None:
        told = "off-centre not judged"
        caption.append(Text(x=wide, y=pen.text, text=told, size=pen.label, role=Role.INK_2, anchor="end"))
    y = top + 2.0 * radius + 0.5 * pen.grid
    for line in _legend(listening, pen, wide):
        y += 1.3 * pen.label
        caption.append(Text(x=0.0, y=y, text=line, size=pen.label, role=Role.INK_2))
    return Drawing(
        title=named, description=_description(listening, chosen, named), width=wide,
        height=y + 1.5 * pen.grid, unit=pen.unit, items=(*shapes, *caption),
    )  # fmt: skip
