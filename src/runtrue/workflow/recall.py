"""Which boxes, piles and samples hold closures: surely, maybe, surely not."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from uuid import UUID

from sqlalchemy import Connection

import runtrue
from runtrue.contract import book as printed
from runtrue.contract.listening import NotJudged
from runtrue.errors import InputError
from runtrue.records import asking, tables
from runtrue.records.asking import RunRow
from runtrue.records.ranges import Share, Stretch, covers, share, stretch
from runtrue.types import Progress
from runtrue.workflow.actions import Ports, check_request
from runtrue.workflow.book_requests import RecallRequest

_BY = {
    "stamper": ("stamper_a", "stamper_b"),
    "batch": ("batch",),
    "labels": ("label_a", "label_b"),
    "settings": ("settings",),
    "operator": ("operator",),
}
"""Option -> kinds of span it names."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Meant:
    """Closures of a run that are asked for."""

    run: RunRow
    stretch: Stretch


def recall(request: RecallRequest, ports: Ports, progress: Progress) -> printed.Recall:
    """Find what holds the closures asked for. Raises ``InputError`` for a name that is not in the book."""
    check_request(request)
    book = ports.open_book(request.book)
    with book.read() as connection:
        words, meant = _meant(connection, request)
        boxes, clear, piles, samples = _hold(connection, meant)
        complaints = [
            row.complaint
            for row in asking.rows_where(connection, tables.Complaint, job=sorted({one.run.job for one in meant}))
            if row.box is None or (row.job, row.box) in {(box.job, box.box) for box in boxes}
        ]
    sent = sorted({box.consignment for box in boxes if box.consignment is not None})
    return printed.Recall(
        said=_said(boxes, piles), act=_act(boxes, piles), asked=words, closures=[_closures(one) for one in meant],
        boxes=boxes, clear_boxes=clear, piles=piles, samples=samples, consignments=sent, complaints=complaints,
        cautions=_cautions(meant),
        not_judged=_not_judged(samples),
        book=book.place.name, version=runtrue.__version__,
    )  # fmt: skip


def _not_judged(samples: Sequence[printed.HeldSample]) -> list[NotJudged]:
    if all(sample.verdict is not None for sample in samples):
        return []
    return [NotJudged(key="samples.verdict", reason="no verdict was entered for some samples")]


def _meant(connection: Connection, asked: RecallRequest) -> tuple[str, list[Meant]]:
    """Closures that the request names, and the request in words."""
    named = [name for name in (*_BY, "pile", "sample") if getattr(asked, name) is not None]
    by_number = asked.first is not None or asked.last is not None
    if len(named) + by_number != 1:
        raise InputError(
            "recall: name one thing: --run with --first and --last, or one of "
            + ", ".join(f"--{name}" for name in (*_BY, "pile", "sample"))
        )
    if by_number:
        return _by_number(connection, asked)
    if asked.sample is not None:
        return _by_sample(connection, asked.sample.strip())
    ref = str(getattr(asked, named[0])).strip()
    rows = asking.spans_of(connection, ("pile",) if named[0] == "pile" else _BY[named[0]], ref)
    if named[0] == "pile" and asked.run is None:
        raise InputError("recall: name the run of the pile with --run")
    if asked.run is not None:
        rows = [row for row in rows if row.run == asked.run.strip()]
    if not rows:
        raise InputError(f"{named[0]} '{ref}' pressed nothing in the book; check the spelling")
    runs = {one.run: one for one in asking.run_rows(connection, run=sorted({row.run for row in rows}))}
    found = [Meant(run=runs[row.run], stretch=asking.stretch_of(row, runs[row.run].closures)) for row in rows]
    return f"{named[0]} {ref}", [one for one in found if one.stretch.length_high > 0]


def _by_number(connection: Connection, asked: RecallRequest) -> tuple[str, list[Meant]]:
    if asked.run is None or asked.first is None or asked.last is None:
        raise InputError("recall: closures need --run, --first and --last")
    run = asking.run_row(connection, asked.run)
    meant = stretch(asked.first, asked.last, asked.slack)
    if asked.first > run.closures:
        raise InputError(f"closure {asked.first} is beyond the counter: run {run.run} has counted {run.closures}")
    return f"closures {meant.words()} of run {run.run}", [Meant(run=run, stretch=meant)]


def _by_sample(connection: Connection, name: str) -> tuple[str, list[Meant]]:
    """From after the last good sample before a failed one to before the next good one."""
    bad = asking.newest(connection, tables.Sample, sample=name)
    if bad is None:
        raise InputError(f"sample '{name}' is not in the book; check the spelling")
    run = asking.run_row(connection, bad.run)
    good = [one for one in asking.samples_over(connection, bad.run, 1, run.closures) if one.verdict == "pass"]
    before = max((one.closure - one.slack for one in good if one.closure < bad.closure), default=0)
    after = min((one.closure + one.slack for one in good if one.closure > bad.closure), default=run.closures + 1)
    found = Stretch(
        first_low=before + 1, first_high=bad.closure + bad.slack, last_low=bad.closure - bad.slack, last_high=after - 1
    )
    return f"sample {name}, back to the last good one and on to the next", [Meant(run=run, stretch=found)]


Found = dict[tuple[str, str], dict[tuple[UUID, int], "Part"]]
"""Box (job, name) or pile (run, name) -> each of its lines in the book -> what that holds."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """A line of a box or pile: its records, and how many of them are of the closures asked for."""

    records: int
    share: Share

    def or_of(self, other: Share) -> "Part":
        """With a further stretch of closures asked for. At least the larger: the stretches may overlap."""
        most = min(self.records, self.share.most + other.most)
        return Part(records=self.records, share=Share(least=max(self.share.least, other.least), most=most))


def _hold(
    connection: Connection, meant: Sequence[Meant]
) -> tuple[list[printed.HeldBox], list[str], list[printed.HeldPile], list[printed.HeldSample]]:
    boxes: Found = defaultdict(dict)
    piles: Found = defaultdict(dict)
    samples: dict[str, printed.HeldSample] = {}
    for one in meant:
        job = one.run.job
        for row in asking.spans_over(connection, one.run.run, ("box", "pile")):
            records = int(row.records or 0)
            part = share(asking.stretch_of(row, one.run.closures), records, one.stretch)
            holder = (
                piles[(one.run.run, row.ref)] if row.kind == "pile" else boxes[(job, row.ref.removeprefix(f"{job}/"))]
            )
            before = holder.get((row.entry, row.line), Part(records=records, share=Share(least=0, most=0)))
            holder[(row.entry, row.line)] = before.or_of(part)
        for row in asking.samples_over(connection, one.run.run, one.stretch.first_low, one.stretch.last_high):
            answer = covers(one.stretch, stretch(row.closure, row.closure, row.slack))
            if answer != "surely_not" and samples.get(row.sample, _NONE).answer != "surely":
                samples[row.sample] = printed.HeldSample(
                    sample=row.sample, run=row.run, closure=row.closure, slack=row.slack, answer=answer,
                    verdict=row.verdict, faults=row.faults,
                )  # fmt: skip
    held, clear = _boxes(connection, boxes)
    return held, clear, _piles(connection, piles), sorted(samples.values(), key=lambda s: (s.run, s.closure))


_NONE = printed.HeldSample(
    sample="", run="", closure=0, slack=0, answer="surely_not", verdict=None, faults=None
)  # fmt: skip


def _boxes(connection: Connection, found: Found) -> tuple[list[printed.HeldBox], list[str]]:
    places = {job: asking.boxes_by_place(connection, job) for job in sorted({job for job, _ in found})}
    held, clear = [], []
    for (job, box), parts in found.items():
        records, whole = _whole(parts.values())
        if whole.answer == "surely_not":
            clear.append(box)
            continue
        pallets, sent = places[job]
        held.append(
            printed.HeldBox(
                job=job, box=box, answer=whole.answer, records=records, least=whole.least, most=whole.most,
                pallet=pallets.get(box), consignment=sent.get(box),
            )
        )  # fmt: skip
    return sorted(held, key=lambda one: (one.job, natural(one.box))), sorted(clear, key=natural)


def _piles(connection: Connection, found: Found) -> list[printed.HeldPile]:
    boxed: dict[tuple[str, str], int] = defaultdict(int)
    if found:
        for row in asking.rows_where(connection, tables.Box, run=sorted({run for run, _ in found})):
            boxed[(row.run, row.pile)] += row.records
    held = []
    for (run, pile), parts in found.items():
        records, whole = _whole(parts.values())
        if whole.answer != "surely_not":
            held.append(
                printed.HeldPile(
                    run=run, pile=pile, answer=whole.answer, records=records, least=whole.least, most=whole.most,
                    unboxed=max(records - boxed[(run, pile)], 0),
                )
            )  # fmt: skip
    return sorted(held, key=lambda one: (one.run, natural(one.pile)))


def _whole(parts: Iterable[Part]) -> tuple[int, Share]:
    """Records of a holding and the share of its lines together."""
    lines = list(parts)
    least, most = sum(line.share.least for line in lines), sum(line.share.most for line in lines)
    return sum(line.records for line in lines), Share(least=least, most=most)


def natural(name: str) -> tuple[int, str]:
    """Order of names: numbers by their size, then words."""
    return (int(name), "") if name.isascii() and name.isdigit() and len(name) < 18 else (10**18, name)


def _closures(one: Meant) -> printed.Closures:
    return printed.Closures(
        run=one.run.run, job=one.run.job, press=one.run.press, cavity=one.run.cavity,
        first=(one.stretch.first_low, one.stretch.first_high), last=(one.stretch.last_low, one.stretch.last_high),
    )  # fmt: skip


def _cautions(meant: Sequence[Meant]) -> list[str]:
    return [
        f"Run {one.run.run} has counted {one.run.closures}; closures beyond that are not pressed yet."
        for one in meant
        if one.stretch.last_low > one.run.closures
    ]


def _said(boxes: Sequence[printed.HeldBox], piles: Sequence[printed.HeldPile]) -> str:
    surely, maybe = (count(boxes, answer) for answer in ("surely", "maybe"))
    if not boxes:
        loose = sum(pile.unboxed for pile in piles)
        return "No box holds any." + (f" Up to {loose} records of these piles are in no box." if loose else "")
    named = ranges([box.box for box in boxes if box.answer == "surely"])
    parts = [f"{surely} boxes surely hold some{f': {named}' if named else ''}."] if surely else []
    if maybe:
        parts.append(f"{maybe} may: {ranges([box.box for box in boxes if box.answer == 'maybe'])}.")
    return " ".join(parts)


def count(boxes: Sequence[printed.HeldBox], answer: str) -> int:
    """How many boxes have this answer."""
    return sum(box.answer == answer for box in boxes)


def _act(boxes: Sequence[printed.HeldBox], piles: Sequence[printed.HeldPile]) -> str:
    here = [box.box for box in boxes if box.consignment is None]
    sent = [box for box in boxes if box.consignment is not None]
    parts = [f"Hold boxes {ranges(here)}."] if here else []
    if sent:
        gone = sorted({str(box.consignment) for box in sent})
        parts.append(f"Recall boxes {ranges([box.box for box in sent])} of consignment {', '.join(gone)}.")
    loose = [pile.pile for pile in piles if pile.unboxed]
    if loose:
        parts.append(f"Hold what is left of pile {ranges(loose)}.")
    return " ".join(parts) or "Nothing has to be held."


def ranges(names: Iterable[str]) -> str:
    """Names in short: "8 to 15, 17, K-3".

    Examples
    --------
    >>> ranges(["9", "8", "10", "12", "A"])
    '8 to 10, 12, A'
    """
    ordered = sorted(set(names), key=natural)
    numbers = [int(name) for name in ordered if natural(name)[0] < 10**18]
    found: list[list[int]] = []
    for number in numbers:
        if found and number == found[-1][-1] + 1:
            found[-1].append(number)
        else:
            found.append([number])
    words = [f"{run[0]} to {run[-1]}" if len(run) > 2 else ", ".join(map(str, run)) for run in found]
    return ", ".join([*words, *(name for name in ordered if natural(name)[0] == 10**18)])
