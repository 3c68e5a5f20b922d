"""The family's chart: a lane for each number; the family's batches open, those after filled, what is out a square."""

from runtrue.contract.batch import FamilyNumber, FamilyPart, FamilyResult
from runtrue.paper.drawing import Circle, Drawing, Path, Rect, Shape, Text
from runtrue.paper.faces import Weight, shortened, wrapped
from runtrue.paper.layout import PRINT, Pen
from runtrue.paper.page import BOTTOM, INNER, MARGIN, TOP, Sheet, frame, head, page, paragraph, rule
from runtrue.paper.tokens import Role
from runtrue.paper.words import count, fixed, listed, sentence_case

LANE = 20.0
"""Height of a lane [mm]."""
_LEFT = 62.0
"""Where the lanes begin; the words stand before [mm]."""


def family_pages(result: FamilyResult, *, day: str) -> tuple[Drawing, ...]:
    """Every page of the sheet."""
    part = result.family
    sheet = Sheet(plant=result.input.file, name="Family of batches", key=result.input.sha256, version=result.version,
                  date=day)  # fmt: skip
    after = len(part.batches) - part.baseline
    below = f"{count(part.baseline, 'batch', 'batches')} of the family, {count(after, 'batch', 'batches')} after it"
    opening, y = head(part.verdict, part.said, y=TOP, below=f"{below}, from {part.batches[0]} to {part.batches[-1]}.")
    pages: list[list[Shape]] = [[*opening]]
    for number in part.numbers:
        if y + LANE + 8.0 > BOTTOM:
            pages.append([])
            y = TOP
        pages[-1].append(rule(y))
        pages[-1] += [lane(number, part, pen=PRINT, wide=INNER, high=LANE).placed(MARGIN, y + 1.0)]
        y += LANE + 2.0
    notes, end = _notes(result, y + 1.0)
    if end > BOTTOM:
        pages.append([])
        notes, _ = _notes(result, TOP)
    pages[-1] += notes
    return tuple(
        page("Family of batches", part.said, [*frame(sheet, number, len(pages)), *items])
        for number, items in enumerate(pages, 1)
    )


def _notes(result: FamilyResult, y: float) -> tuple[list[Shape], float]:
    """What the marks mean, what else was judged, the cautions; and the next free height, maybe below the page."""
    part = result.family
    told = (
        "Open: the family's batches; crossed: left out of it; filled: after. The line is the mean of the last batches "
        "(EWMA) in its dashed limits. Beyond the limits lies less than one batch in a hundred of the family, all "
        "numbers together."
    )
    if part.t2 is not None and part.t2_limit is not None:
        worst = max(part.t2, default=0.0)
        together = f"All numbers together: T2 at most {fixed(worst, 1)}, limit {fixed(part.t2_limit, 1)}."
    else:
        together = "All numbers together are not judged: too few whole batches for so many numbers."
    said = [("", told), ("", together)]
    if part.curve is not None:
        curve = part.curve
        text = (
            f"The newest power curve lies {fixed(curve.distance_sd, 2)} sd from its family's, furthest from "
            f"{fixed(curve.from_s, 0)} to {fixed(curve.to_s, 0)} s."
        )
        said.append(("", text))
    said.append(("Safety:", " ".join(result.safety)))
    made: list[Shape] = []
    for strong, text in said:
        more, y = paragraph(text, strong=strong, x=MARGIN, y=y, room=INNER, bottom=BOTTOM + INNER)
        made += more
        y += 1.0
    return made, y


def lane(number: FamilyNumber, part: FamilyPart, *, pen: Pen, wide: float, high: float) -> Drawing:
    """One number over the batches, with its name, its family's value and what is out."""
    size = pen.label
    outs = {one.batch: one for one in part.out if one.quantity == number.quantity}
    items: list[Shape] = _name(number, pen=pen, outs=[one.batch for one in part.out if one.quantity == number.quantity])
    left, right, top, bottom = _LEFT - MARGIN, wide - 2.0, 2.0, high - 1.5 * size
    shown = [v for v in number.values if v is not None]
    edges = [v for v in (number.lower, number.upper) if v is not None]
    if not shown:
        items.append(Text(x=left, y=high / 2.0, text="No value in the table.", size=size, role=Role.INK_2))
        return _drawing(number, items, wide, high, pen)
    low, high_value = min([*shown, *edges]), max([*shown, *edges])
    span = (high_value - low) or max(abs(low), 1.0)
    low, high_value = low - 0.08 * span, high_value + 0.08 * span
    step = (right - left) / max(len(number.values), 1)

    def x_of(place: float) -> float:
        return left + (place + 0.5) * step

    def y_of(value: float) -> float:
        return bottom - (value - low) / (high_value - low) * (bottom - top)

    border = x_of(number.baseline - 0.5)
    items += [
        Path(points=((left, bottom), (right, bottom)), stroke=pen.line(Role.LINE)),
        Path(points=((border, top), (border, bottom)), stroke=pen.line(Role.LINE, dots=True)),
    ]
    if number.centre is not None:
        items.append(
            Path(points=((left, y_of(number.centre)), (right, y_of(number.centre))), stroke=pen.line(Role.INK_2))
        )
    for edge, far in ((number.lower, bottom), (number.upper, top)):
        if edge is not None:
            at = y_of(edge)
            a, b = sorted((at, far))
            items += [
                Rect(x=border, y=a, width=right - border, height=b - a, hatch=pen.hatch),
                Path(points=((border, at), (right, at)), stroke=pen.line(width=pen.limit)),
            ]
    line = tuple((x_of(number.baseline + k), y_of(v)) for k, v in enumerate(number.ewma))
    for bound in (number.ewma_lower, number.ewma_upper):
        edge_line = tuple((x_of(number.baseline + k), y_of(v)) for k, v in enumerate(bound))
        if len(edge_line) > 1:
            items.append(Path(points=edge_line, stroke=pen.line(Role.INK_2, dash=True)))
    if len(line) > 1:
        items.append(Path(points=line, stroke=pen.line(Role.PETROL, width=pen.data)))
    dot = min(0.30 * step, 0.9)
    for place, (batch, value) in enumerate(zip(number.batches, number.values, strict=True)):
        if value is not None:
            after = place >= number.baseline
            items += _mark(x_of(place), y_of(value), dot, pen, after=after,
                           odd=batch in (outs if after else number.left_out))  # fmt: skip
    first, last = number.batches[0], number.batches[-1]
    items += [
        Text(x=left, y=high - 0.3 * size, text=first, size=size, role=Role.INK_2),
        Text(x=right, y=high - 0.3 * size, text=last, size=size, role=Role.INK_2, anchor="end"),
    ]
    return _drawing(number, items, wide, high, pen)


def _mark(x: float, y: float, dot: float, pen: Pen, *, after: bool, odd: bool) -> list[Shape]:
    """A batch: open in the family, crossed where it was left out; filled after it, a square where it is out."""
    if after and odd:
        return [Rect(x=x - dot, y=y - dot, width=2 * dot, height=2 * dot, fill=Role.ALARM)]
    if after:
        return [Circle(cx=x, cy=y, radius=dot, fill=Role.INK)]
    if odd:
        ends = (((x - dot, y - dot), (x + dot, y + dot)), ((x - dot, y + dot), (x + dot, y - dot)))
        return [Path(points=pair, stroke=pen.line()) for pair in ends]
    return [Circle(cx=x, cy=y, radius=dot, fill=Role.SHEET, stroke=pen.line())]


def _name(number: FamilyNumber, *, pen: Pen, outs: list[str]) -> list[Shape]:
    size, room = pen.label, _LEFT - MARGIN - 4.0
    unit = f" {number.unit}" if number.unit else ""
    items: list[Shape] = []
    y = 4.6
    for text in wrapped(sentence_case(number.words), size=pen.text, room=room, weight=Weight.LABEL)[:2]:
        items.append(Text(x=0.0, y=y, text=text, size=pen.text, weight=Weight.LABEL))
        y += 1.2 * pen.text
    if number.centre is not None and number.sigma is not None:
        places = _places(number.sigma)
        told = f"{fixed(number.centre, places)}{unit}, sd {fixed(number.sigma, places)}"
    else:
        told = f"not judged: {number.reason}"
    lines = [told]
    if number.lower is not None and number.upper is not None and number.sigma is not None:
        places = _places(number.sigma)
        lines.append(f"limits {fixed(number.lower, places)} to {fixed(number.upper, places)}")
    for text in [part for one in lines for part in wrapped(one, size=size, room=room)][:3]:
        items.append(Text(x=0.0, y=y, text=text, size=size, role=Role.INK_2))
        y += 1.25 * size
    if outs:
        names = list(dict.fromkeys(outs))
        said = f"out: {listed(names) if len(names) < 3 else f'{names[0]} to {names[-1]}'}"
        items.append(Text(x=0.0, y=y + 0.4, text=shortened(said, size=size, room=room, weight=Weight.VALUE), size=size,
                          weight=Weight.VALUE, role=Role.ALARM))  # fmt: skip
    return items


def _places(sigma: float) -> int:
    """Decimals that show two figures of a standard deviation."""
    from runtrue.paper.words import decimals_of

    return max(decimals_of(sigma), 0) if sigma > 0.0 else 3


def _drawing(number: FamilyNumber, items: list[Shape], wide: float, high: float, pen: Pen) -> Drawing:
    said = f"{number.words} of {len(number.batches)} batches"
    return Drawing(title=sentence_case(number.words), description=said, width=wide, height=high, unit=pen.unit,
                   items=tuple(items))  # fmt: skip
