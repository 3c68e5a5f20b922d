"""A measurement beside its limit: U95 as a bar, value as an upright tick, the far side of the limit hatched."""

from dataclasses import dataclass
from math import ceil, floor

from runtrue.contract.listening import FindingRow
from runtrue.paper.drawing import Drawing, Group, Path, Rect, Shape, Text
from runtrue.paper.faces import Weight, shortened, width
from runtrue.paper.layout import Pen, nice_step
from runtrue.paper.marks import VERDICT_ROLES, WORD_ROLES, number, verdict_mark
from runtrue.paper.tokens import Role
from runtrue.paper.words import (
    NO_BREAK,
    VERDICT_WORDS,
    bound,
    finding_number,
    limit_words,
    odds_words,
    quantity_of,
    sentence_case,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Scale:
    """Maps values from ``low`` to ``high`` onto a length that starts at ``x`` and is ``width`` long."""

    low: float
    high: float
    x: float
    width: float

    def at(self, value: float) -> float:
        """Place of a value, held inside the scale."""
        share = (value - self.low) / (self.high - self.low)
        return self.x + self.width * min(max(share, 0.0), 1.0)


def scale_of(row: FindingRow, *, x: float, width: float) -> Scale:
    """Choose a round scale that holds value, U95 and limits; lengths, counts and rates start at 0."""
    u95 = row.u95 or 0.0
    marks = [limit for limit in (row.lower, row.upper) if limit is not None]
    if row.value is not None:
        marks += [row.value - u95, row.value + u95]
    least, most = min(marks), max(marks)
    from_zero = least >= 0.0 or (
        row.value is not None and row.value >= 0.0 and row.lower is None and (row.upper or 0) >= 0
    )
    span = (most - (0.0 if from_zero else least)) or 1.0
    step = nice_step(span, most=8)
    high = ceil((most + 0.12 * span) / step) * step
    low = 0.0 if from_zero else floor((least - 0.12 * span) / step) * step
    return Scale(low=low, high=high, x=x, width=width)


def bar(row: FindingRow, scale: Scale, *, y: float, pen: Pen, thick: float) -> list[Shape]:
    """Return axis, hatch, U95 bar, value and limit about the height ``y``. Nothing is drawn for what has no limit."""
    left, right = scale.x, scale.x + scale.width
    half = 0.85 * thick
    shapes: list[Shape] = []
    for limit, far in ((row.lower, left), (row.upper, right)):
        if limit is not None:
            a, b = sorted((scale.at(limit), far))
            shapes.append(Rect(x=a, y=y - half, width=b - a, height=2 * half, hatch=pen.hatch))
    shapes.append(Path(points=((left, y), (right, y)), stroke=pen.line(Role.LINE)))
    if row.value is not None:
        if row.u95:
            a, b = scale.at(row.value - row.u95), scale.at(row.value + row.u95)
            edge = pen.line(Role.INK) if row.verdict == "cannot_judge" else None
            fill = VERDICT_ROLES[row.verdict]
            hatch = pen.doubt if row.verdict == "cannot_judge" and pen.unit == "mm" else None
            shapes.append(Rect(x=a, y=y - thick / 2, width=b - a, height=thick, fill=fill, hatch=hatch, stroke=edge))
        at = scale.at(row.value)
        wide = pen.limit * 2.6
        shapes.append(Rect(x=at - wide / 2, y=y - half, width=wide, height=2 * half, fill=Role.SHEET))
        shapes.append(Path(points=((at, y - half), (at, y + half)), stroke=pen.line(width=pen.limit)))
    for limit in (row.lower, row.upper):
        if limit is not None:
            at = scale.at(limit)
            shapes.append(Path(points=((at, y - 1.5 * half), (at, y + 1.3 * half)), stroke=pen.line(width=pen.limit)))
    return shapes


def _notes(row: FindingRow, scale: Scale, *, y: float, pen: Pen) -> tuple[list[Text], int]:
    """Words under a bar: stated low end at the left, the limit under its line, the odds at the right or below."""
    known = quantity_of(row)
    size = pen.label
    left, right = scale.x, scale.x + scale.width
    low = bound(scale.low, "", known.decimals if known else 1)
    words = [Text(x=left, y=y, text=low, size=size, role=Role.INK_2)]
    said = limit_words(row)
    if row.lower is not None and row.upper is not None:
        run = width(said, size=size)
        centre = (scale.at(row.lower) + scale.at(row.upper)) / 2.0
        at = min(max(centre, words[0].box.right + size + run / 2.0), right - run / 2.0)
    else:
        run = width(said, size=size)
        limit = row.upper if row.upper is not None else row.lower
        at = min(max(scale.at(limit or 0.0), words[0].box.right + size + run / 2.0), right - run / 2.0)
    words.append(Text(x=at, y=y, text=said, size=size, anchor="middle"))
    sure = odds_words(row) if row.in_verdict else "Not in the verdict: it judges the player first."
    if not sure or (row.verdict == "pass" and row.in_verdict and (row.conformance_probability or 0.0) > 0.99):
        return words, 1
    beside = Text(x=right, y=y, text=sure, size=size, role=Role.INK_2, anchor="end")
    if beside.box.left > words[-1].box.right + size:
        return [*words, beside], 1
    words.append(Text(x=left, y=y + 1.35 * size, text=sure, size=size, role=Role.INK_2))
    return words, 2


def has_bar(row: FindingRow) -> bool:
    """Whether a bar says more than the number: something was measured against a limit other than "none"."""
    if row.value is None or not limit_words(row):
        return False
    return not (row.value == 0.0 and row.upper == 0.0)


def limit_bar(row: FindingRow, *, pen: Pen, wide: float, short: bool = False) -> Drawing:
    """Return one finding: mark, verdict word and name at the left, number at the right, the bar with its words below.

    ``short`` leaves the bar out and keeps the words.
    """
    size = pen.text
    mark = 1.35 * size
    indent = mark + 0.6 * size
    base = 1.05 * size
    word = VERDICT_WORDS[row.verdict]
    shown = finding_number(row)
    figure = number(shown, x=wide, y=base, size=1.06 * size, right=True)
    name_left = indent + width(word, size=size, weight=Weight.VALUE) + 0.5 * size
    name = shortened(
        sentence_case(row.words), size=size, weight=Weight.LABEL, room=figure[0].box.left - name_left - 0.6 * size
    )
    items: list[Shape] = [
        *verdict_mark(row.verdict, x=0.0, y=0.0, size=mark, pen=pen),
        Text(x=indent, y=base, text=word, size=size, weight=Weight.VALUE, role=WORD_ROLES[row.verdict]),
        Text(x=name_left, y=base, text=name, size=size, weight=Weight.LABEL),
        *figure,
    ]
    high = mark + 0.2 * size
    if has_bar(row) and not short:
        scale = scale_of(row, x=indent, width=wide - indent)
        thick = 2.5 * pen.grid if pen.unit == "px" else 1.9 * pen.grid
        y = mark + 0.12 * size + thick
        items += bar(row, scale, y=y, pen=pen, thick=thick)
        notes, lines = _notes(row, scale, y=y + 1.15 * thick + 0.85 * pen.label, pen=pen)
        items += notes
        high = y + 1.15 * thick + (1.35 * lines - 0.2) * pen.label
    elif limit_words(row):
        said = limit_words(row)
        items.append(Text(x=indent, y=high + 0.75 * pen.label, text=said, size=pen.label, role=Role.INK_2))
        high += 1.1 * pen.label
    told = ", ".join(part for part in (str(shown), limit_words(row)) if part)
    words = f"{sentence_case(row.words)}: {told}; {word}. {odds_words(row)}".replace(NO_BREAK, " ")
    return Drawing(
        title=sentence_case(row.words),
        description=words.strip(),
        width=wide,
        height=high,
        unit=pen.unit,
        items=tuple(items),
    )


def _stacked(made: list[Drawing], gap: float) -> float:
    return sum(one.height + 2.0 * gap for one in made)


def findings_picture(rows: list[FindingRow], *, pen: Pen, wide: float, high: float | None = None) -> Drawing:
    """Return findings one under another, those that decide first.

    When they would be higher than ``high``, passes lose their bar from the end on; what still does not fit is counted.
    """
    order = {"fail": 0, "cannot_judge": 1, "pass": 2}
    ranked = sorted(rows, key=lambda row: (not row.in_verdict, order[row.verdict], not has_bar(row)))
    made = [limit_bar(row, pen=pen, wide=wide) for row in ranked]
    gap = 0.36 * pen.text
    last = len(ranked)
    while high is not None and last > 0 and _stacked(made, gap) > high:
        last -= 1
        if ranked[last].verdict == "pass":
            made[last] = limit_bar(ranked[last], pen=pen, wide=wide, short=True)
    items: list[Shape] = []
    y = 0.0
    told: list[str] = []
    for place, one in enumerate(made):
        left = len(made) - place
        if high is not None and y + one.height + (1.6 * pen.label if left > 1 else 0.0) > high:
            items.append(
                Text(x=0.0, y=y + pen.label, text=f"and {left} more in the result", size=pen.label, role=Role.INK_2)
            )
            y += 1.6 * pen.label
            break
        items.append(Group(items=one.items, dx=0.0, dy=y))
        told.append(one.description)
        y += one.height
        if left > 1:
            y += gap
            items.append(Path(points=((0.0, y), (wide, y)), stroke=pen.line(Role.HAIR, width=pen.hair)))
            y += gap
    if not rows:
        items.append(
            Text(x=0.0, y=pen.text, text="No limit is laid beside this recording.", size=pen.text, role=Role.INK_2)
        )
        y = 1.6 * pen.text
    return Drawing(
        title="What was judged", description=" ".join(told) or "No limit is laid beside this recording.",
        width=wide, height=y, unit=pen.unit, items=tuple(items),
    )  # fmt: skip
