"""The run-out plot and the move field: what the lens read, and which way to move the stamper."""

from runtrue.contract.centre import StamperCentre
from runtrue.paper.drawing import Circle, Drawing, Path, Rect, Shape, Text, arrow, polar
from runtrue.paper.faces import Weight
from runtrue.paper.layout import Pen, nice_step
from runtrue.paper.tokens import Role
from runtrue.paper.words import fixed, number


def _limit_offset(result: StamperCentre) -> float | None:
    """Limit as an offset [um]; a limit on the swing is half of it."""
    if not result.findings or result.findings[0].upper is None:
        return None
    row = result.findings[0]
    assert row.upper is not None
    return row.upper / 2.0 if row.meaning == "swing" else row.upper


def runout_plot(result: StamperCentre, *, pen: Pen, wide: float, high: float) -> Drawing:
    """Lens angle across, reading up: open dots with U95, the fit, the allowed swing as a band, the swing bracketed."""
    size = pen.label
    left, right, top, bottom = 4.6 * size, wide - 9.5 * size, 1.6 * size, high - 2.6 * size
    if result.curve is None or result.offset_um is None:
        said = Text(x=left, y=(top + bottom) / 2, text="No centre yet: read more angles.", size=pen.text)
        return Drawing(title="Run-out", description=said.text, width=wide, height=high, unit=pen.unit, items=(said,))
    curve, points = result.curve, result.points
    mean = sum(v for _, v in curve) / len(curve)
    limit = _limit_offset(result)
    noise = 1.96 * (result.scatter_um or 0.0)
    reach = max(max(abs(v - mean) for _, v in curve) + 2.0 * noise, 1.25 * (limit or 0.0), 5.0)
    first, last = curve[0][0], curve[-1][0]

    def at(angle: float, value: float) -> tuple[float, float]:
        share = (angle - first) / (last - first)
        held = min(max(value - mean, -reach), reach)
        return left + share * (right - left), (top + bottom) / 2 - held / reach * (bottom - top) / 2

    items: list[Shape] = []
    if limit is not None:
        upper, lower = at(first, mean + limit)[1], at(first, mean - limit)[1]
        items += [
            Rect(x=left, y=top, width=right - left, height=upper - top, hatch=pen.hatch),
            Rect(x=left, y=lower, width=right - left, height=bottom - lower, hatch=pen.hatch),
            Path(points=((left, upper), (right, upper)), stroke=pen.line(width=pen.limit)),
            Path(points=((left, lower), (right, lower)), stroke=pen.line(width=pen.limit)),
            Text(x=left + 0.4 * size, y=upper + 1.1 * size, text=f"allowed swing {fixed(2 * limit, 0)} μm", size=size,
                 role=Role.INK_2, edge=Role.SHEET),
        ]  # fmt: skip
    items.append(Path(points=((left, top), (left, bottom), (right, bottom)), stroke=pen.line(Role.LINE)))
    step = nice_step(reach, most=2)
    for k in range(-int(reach / step), int(reach / step) + 1):
        y = at(first, mean + k * step)[1]
        items += [
            Path(points=((left - 0.4 * size, y), (left, y)), stroke=pen.line(Role.LINE)),
            Text(x=left - 0.6 * size, y=y + 0.35 * size, text=fixed(k * step, 0), size=size, anchor="end"),
        ]
    for angle in _angles(first, last):
        x = at(angle, mean)[0]
        items.append(Text(x=x, y=bottom + 1.2 * size, text=f"{angle:.0f}°", size=size, anchor="middle"))
    items.append(Text(x=left, y=0.9 * size, text=_axis_words(result), size=size, role=Role.INK_2))
    items.append(
        Text(x=right, y=bottom + 2.4 * size, text="angle under the lens", size=size, role=Role.INK_2, anchor="end")
    )
    items.append(Path(points=tuple(at(a, v) for a, v in curve), stroke=pen.line(width=pen.data)))
    for point in points:
        angle = point.angle_deg % 360.0 + 360.0 * (point.turn - 1) if last - first > 360.5 else point.angle_deg
        x, y = at(angle, point.level_um)
        dot = 0.32 * size
        if point.left_out:
            items += [
                Path(points=((x - dot, y - dot), (x + dot, y + dot)), stroke=pen.line(width=pen.data)),
                Path(points=((x - dot, y + dot), (x + dot, y - dot)), stroke=pen.line(width=pen.data)),
                Text(x=x + 0.7 * size, y=y + 0.9 * size, text=f"reading {point.row} left out", size=size,
                     edge=Role.SHEET),
            ]  # fmt: skip
            continue
        items += [
            Path(points=(at(angle, point.level_um - noise), at(angle, point.level_um + noise)), stroke=pen.line()),
            Circle(cx=x, cy=y, radius=dot, fill=Role.SHEET, stroke=pen.line(width=pen.axis)),
        ]
    swing = result.swing_um or 0.0
    high_y, low_y = at(first, mean + swing / 2)[1], at(first, mean - swing / 2)[1]
    x = right + 0.8 * size
    items.append(
        Path(points=((x - 0.4 * size, high_y), (x, high_y), (x, low_y), (x - 0.4 * size, low_y)),
             stroke=pen.line(width=pen.data))
    )  # fmt: skip
    shown = number(swing, 2 * (result.offset_u95_um or 0.0), "μm", decimals=0)
    items += [
        Text(x=x + 0.5 * size, y=(high_y + low_y) / 2 - 0.1 * size, text=f"swing {shown.value}", size=pen.text,
             weight=Weight.VALUE),
        Text(x=x + 0.5 * size, y=(high_y + low_y) / 2 + 1.2 * size, text=shown.doubt, size=size, role=Role.INK_2),
    ]  # fmt: skip
    if result.axis.aim is not None:
        at_punch = Text(x=x + 0.5 * size, y=(high_y + low_y) / 2 + 2.4 * size, text="at the punch", size=size,
                        role=Role.INK_2)  # fmt: skip
        items.append(at_punch)
    words = f"{len(points)} readings, swing {shown}".replace("\N{NO-BREAK SPACE}", " ")
    return Drawing(title="Run-out", description=words, width=wide, height=high, unit=pen.unit, items=tuple(items))


def _angles(first: float, last: float) -> list[float]:
    """Round angles along the axis: every quarter turn, or every half or whole one where more turns were read."""
    step = next(s for s in (90.0, 180.0, 360.0, 720.0, 3600.0) if (last - first) / s <= 5.0 or s == 3600.0)
    start = -(-first // step) * step
    return [start + k * step for k in range(int((last - start) // step) + 1)]


def _axis_words(result: StamperCentre) -> str:
    taken = ", pitch taken off" if result.settings.groove == "spiral" else ""
    return f"μm from the mean, outward up{taken}"


def move_field(result: StamperCentre, *, pen: Pen, wide: float, high: float, screws: bool = True) -> Drawing:
    """The face as seen: cross is the axis, hatched circle the groove centre, dashed the limit, the arrow the move.

    ``screws`` writes below which screw to turn how far; leave it out where that stands beside the picture.
    """
    size = pen.label
    words_high = 4.2 * size
    cx, cy = wide / 2, (high - words_high) / 2
    radius = min(wide, high - words_high) / 2 - 1.6 * size
    items: list[Shape] = [Circle(cx=cx, cy=cy, radius=radius, stroke=pen.line(Role.LINE))]
    for hour in range(1, 13):
        x, y = polar(cx, cy, radius + 0.85 * size, -30.0 * hour)
        items.append(Text(x=x, y=y + 0.35 * size, text=str(hour), size=size, anchor="middle"))
    if result.move is None or result.offset_um is None or result.u95_um is None:
        text = "No move yet: read more angles."
        items.append(Text(x=cx, y=high - 1.5 * size, text=text, size=pen.text, anchor="middle"))
        return Drawing(title="Move", description=text, width=wide, height=high, unit=pen.unit, items=tuple(items))
    limit = _limit_offset(result)
    scale = 0.82 * radius / max(result.offset_um + result.u95_um, limit or 0.0, 5.0)
    if limit is not None:
        items.append(Circle(cx=cx, cy=cy, radius=limit * scale, stroke=pen.line(width=pen.data, dash=True)))
        label = f"limit {fixed(limit, 0)} μm"
        items.append(Text(x=cx, y=cy + limit * scale - 0.9 * size, text=label, size=size, anchor="middle",
                          role=Role.INK_2, edge=Role.SHEET))  # fmt: skip
    groove = _place(cx, cy, -scale * result.move.x_um, -scale * result.move.y_um)
    items.append(
        Circle(cx=groove[0], cy=groove[1], radius=max(result.u95_um * scale, 0.25 * size), hatch=pen.doubt,
               stroke=pen.line())
    )  # fmt: skip
    arm = 0.7 * size
    items += [
        Path(points=((cx - arm, cy), (cx + arm, cy)), stroke=pen.line(width=pen.data)),
        Path(points=((cx, cy - arm), (cx, cy + arm)), stroke=pen.line(width=pen.data)),
    ]
    if result.verdict != "pass" and result.move.distance_um > result.u95_um:
        items += list(arrow(groove, (cx, cy), stroke=pen.line(Role.PETROL, width=1.6 * pen.limit), head=1.3 * size))
    items += [
        Text(x=cx, y=high - 2.7 * size, text=result.move.words, size=pen.finding, weight=Weight.VALUE, anchor="middle"),
    ]
    if screws:
        items.append(
            Text(x=cx, y=high - 1.0 * size, text=result.move.screws, size=size, role=Role.INK_2, anchor="middle")
        )
    return Drawing(
        title="Move", description=f"Move it {result.move.words}; {result.move.screws}.", width=wide, height=high,
        unit=pen.unit, items=tuple(items),
    )  # fmt: skip


def _place(cx: float, cy: float, up: float, left: float) -> tuple[float, float]:
    """A place ``up`` toward 12 and ``left`` toward 9 of the middle."""
    return cx - left, cy - up
