"""A run as a strip: closures across, stampers above, samples below as verdict marks, the order and the next due."""

from dataclasses import dataclass

from runtrue.contract.listening import VerdictWord
from runtrue.paper.drawing import Anchor, Box, Drawing, Path, Rect, Shape, Text
from runtrue.paper.faces import Weight, shortened
from runtrue.paper.layout import Labels, Pen, nice_step
from runtrue.paper.marks import verdict_mark
from runtrue.paper.tokens import Role
from runtrue.paper.words import VERDICT_WORDS, count


@dataclass(frozen=True, slots=True, kw_only=True)
class StamperStretch:
    """A stamper over closures ``first`` to ``last``."""

    side: str
    name: str
    first: int
    last: int


@dataclass(frozen=True, slots=True, kw_only=True)
class SampleDot:
    """A sample at its closure; ``verdict`` is None for one that nobody judged yet."""

    closure: int
    verdict: VerdictWord | None


@dataclass(frozen=True, slots=True, kw_only=True)
class RunStrip:
    """What is drawn of a run; ``due`` is the closure of the next sample."""

    run: str
    closures: int
    ordered: int
    due: int
    stampers: tuple[StamperStretch, ...]
    samples: tuple[SampleDot, ...]


def run_strip(run: RunStrip, *, pen: Pen, wide: float) -> Drawing:
    """Draw the strip; closures are to scale from 0 to the order or the next due, whichever is more."""
    size = pen.label
    left, right = 0.8 * size, wide - 0.8 * size
    most = max(run.ordered, run.due, run.closures, 1)

    def x_of(closure: float) -> float:
        return left + (right - left) * closure / most

    sides = sorted({one.side for one in run.stampers})
    lanes = {side: 1.1 * size + 1.9 * size * place for place, side in enumerate(sides)}
    bar = 1.9 * size * len(sides) + 3.0 * size
    marks, figures = bar + 1.9 * size, bar + 5.0 * size
    items: list[Shape] = []
    for one in run.stampers:
        items += _stretch(one, x_of(one.first - 1), x_of(one.last), lanes[one.side], pen)
    items += [
        Rect(x=left, y=bar, width=right - left, height=size, fill=Role.WELL, stroke=pen.line(Role.LINE)),
        Rect(x=left, y=bar, width=x_of(run.closures) - left, height=size, fill=Role.INK_2),
    ]
    labels = Labels(frame=Box(left=0.0, top=0.0, right=wide, bottom=figures + size), air=0.35 * size)
    over: list[Shape] = []
    anchors: tuple[Anchor, ...] = ("middle", "end", "start")
    for x, words, dash in (
        (x_of(run.due), f"sample due at {run.due}", True),
        (x_of(run.ordered), f"{run.ordered} ordered", False),
    ):
        said = labels.place(
            Text(x=x, y=bar - row * size, text=words, size=size, weight=Weight.LABEL, anchor=anchor, edge=Role.SHEET)
            for row in (0.75, 2.4)
            for anchor in anchors
        )
        foot = bar if said is None else said.y + 0.25 * size
        stroke = pen.line(width=pen.data if dash else pen.limit, dash=dash)
        items.append(Path(points=((x, foot), (x, bar + 1.5 * size)), stroke=stroke))
        if said is not None:
            over.append(said)
    items += over
    for sample in run.samples:
        items += _sample(sample, x_of(sample.closure), marks, pen)
    step = int(max(1, nice_step(most, most=5)))
    for closure in range(0, most + 1, step):
        found = labels.place(
            [Text(x=x_of(closure), y=figures, text=str(closure), size=size, role=Role.INK_2, anchor="middle"),
             Text(x=left, y=figures, text=str(closure), size=size, role=Role.INK_2)]
        )  # fmt: skip
        if found is not None:
            items.append(found)
    return Drawing(
        title=f"Run {run.run}", description=_words(run), width=wide, height=figures + 0.6 * size, unit=pen.unit,
        items=tuple(items),
    )  # fmt: skip


def _stretch(one: StamperStretch, start: float, end: float, y: float, pen: Pen) -> list[Shape]:
    size = pen.label
    room = end - start - 0.8 * size
    name = shortened(f"{one.side}: {one.name}", size=size, weight=Weight.LABEL, room=room) if room > 2 * size else ""
    return [
        Path(points=((start, y + 0.75 * size), (start, y + 0.3 * size), (end, y + 0.3 * size), (end, y + 0.75 * size)),
             stroke=pen.line()),
        *([Text(x=start + 0.4 * size, y=y, text=name, size=size, weight=Weight.LABEL)] if name else []),
    ]  # fmt: skip


def _sample(one: SampleDot, x: float, y: float, pen: Pen) -> list[Shape]:
    size = pen.label
    stem = Path(points=((x, y - 0.9 * size), (x, y)), stroke=pen.line())
    if one.verdict is None:
        edge = pen.line(width=pen.data)
        side = 0.8 * size
        return [stem, Rect(x=x - side / 2, y=y, width=side, height=side, fill=Role.SHEET, stroke=edge)]
    return [stem, *verdict_mark(one.verdict, x=x - 0.55 * size, y=y, size=1.1 * size, pen=pen)]


def _words(run: RunStrip) -> str:
    by = [
        f"{word} at closure {', '.join(str(one.closure) for one in run.samples if one.verdict == verdict)}"
        for verdict, word in VERDICT_WORDS.items()
        if any(one.verdict == verdict for one in run.samples)
    ]
    open_ones = [str(one.closure) for one in run.samples if one.verdict is None]
    by += [f"not judged yet at closure {', '.join(open_ones)}"] if open_ones else []
    metal = [f"{one.name} on side {one.side} over closures {one.first} to {one.last}" for one in run.stampers]
    return " ".join(
        f"{part}."
        for part in (
            f"Run {run.run}: {run.closures} of {run.ordered} closures", *metal,
            f"{count(len(run.samples), 'sample')}" + (f": {'; '.join(by)}" if by else ""),
            f"The next sample is due at closure {run.due}",
        )
    )  # fmt: skip
