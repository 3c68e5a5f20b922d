"""All that hangs together with a name, from job to complaint."""

from collections.abc import Iterator

from sqlalchemy import Connection

import runtrue
from runtrue.contract import book as printed
from runtrue.errors import InputError
from runtrue.records import asking, tables
from runtrue.types import Progress
from runtrue.workflow.actions import Ports, check_request
from runtrue.workflow.book_requests import ChainRequest
from runtrue.workflow.recall import natural, ranges

ORDER = (
    "job", "side", "cut", "father", "mother", "stamper", "batch", "ingredient", "label lot", "run", "settings",
    "operator", "pile", "sample", "play", "analysis", "box", "pallet", "consignment", "complaint",
)  # fmt: skip
"""The chain, from the order to what comes back."""

NAMED: tuple[tuple[type[tables.Base], str, str], ...] = (
    (tables.Ticket, "job", "job"),
    (tables.Ticket, "catalogue", "job"),
    (tables.Side, "matrix", "matrix"),
    (tables.MetalPiece, "metal", "metal"),
    (tables.Batch, "batch", "batch"),
    (tables.Weighing, "lot", "supplier's lot"),
    (tables.LabelLot, "lot", "label lot"),
    (tables.Run, "run", "run"),
    (tables.Sample, "sample", "sample"),
    (tables.Box, "box", "box"),
    (tables.Pallet, "pallet", "pallet"),
    (tables.Consignment, "consignment", "consignment"),
    (tables.Complaint, "complaint", "complaint"),
)
"""Where a name may stand: table, column, what it is."""


def chain(request: ChainRequest, ports: Ports, progress: Progress) -> printed.Chain:
    """Find a name and tell what it hangs together with."""
    check_request(request)
    name = request.name.strip()
    book = ports.open_book(request.book)
    with book.read() as connection:
        kinds = [what for model, column, what in NAMED if asking.count_where(connection, model, **{column: name})]
        if not kinds:
            raise InputError(f"'{name[:60]}' names nothing in the book; check the spelling")
        runs = sorted(set(_runs(connection, name)))
        jobs = {row.job for row in asking.rows_where(connection, tables.Run, run=runs)}
        jobs |= set(_jobs(connection, name))
        links = list(_links(connection, name, sorted(jobs), runs))
    unique = {(link.kind, link.name): link for link in links}
    ordered = sorted(unique.values(), key=lambda link: (ORDER.index(link.kind), natural(link.name)))
    what = " and ".join(dict.fromkeys(kinds))
    return printed.Chain(
        said=f"{name}: {what}; job {', '.join(sorted(jobs)) or 'none'}, run {', '.join(runs) or 'none'}.",
        name=name, links=ordered, not_judged=[], book=book.place.name, version=runtrue.__version__,
    )  # fmt: skip


def _jobs(connection: Connection, name: str) -> Iterator[str]:
    """Jobs that a name belongs to without a run."""
    for model, column in (
        (tables.Ticket, "job"), (tables.Ticket, "catalogue"), (tables.Side, "matrix"), (tables.LabelLot, "lot"),
        (tables.Complaint, "complaint"), (tables.Box, "box"), (tables.Pallet, "pallet"),
    ):  # fmt: skip
        yield from (row.job for row in asking.rows_where(connection, model, **{column: name}))
    for piece in asking.rows_where(connection, tables.MetalPiece, metal=name):
        yield from (row.job for row in asking.rows_where(connection, tables.Side, matrix=piece.matrix))


def _runs(connection: Connection, name: str) -> Iterator[str]:
    """Runs that a name was part of."""
    for model, column in (
        (tables.Run, "run"), (tables.Run, "job"), (tables.Sample, "sample"), (tables.Box, "box"),
    ):  # fmt: skip
        yield from (row.run for row in asking.rows_where(connection, model, **{column: name}))
    jobs = list(_jobs(connection, name))
    named_box = asking.count_where(connection, tables.Box, box=name)
    stampers = [name, *(row.metal for row in _descendants(connection, name))]
    batches = [name, *(row.batch for row in asking.rows_where(connection, tables.Weighing, lot=name))]
    for ref in (*stampers, *batches):
        kinds = ("stamper_a", "stamper_b", "batch", "label_a", "label_b")
        yield from (row.run for row in asking.spans_of(connection, kinds, ref))
    for row in asking.rows_where(connection, tables.Pallet, pallet=_pallets(connection, name)):
        yield from (one.run for one in asking.rows_where(connection, tables.Box, job=row.job, box=row.box))
    for row in asking.rows_where(connection, tables.Consignment, consignment=name, pallet=None):
        yield from (one.run for one in asking.rows_where(connection, tables.Box, job=row.job, box=row.box))
    for row in asking.rows_where(connection, tables.Complaint, complaint=name):
        box = {} if row.box is None else {"box": row.box}
        yield from (one.run for one in asking.rows_where(connection, tables.Box, job=row.job, **box))
    if jobs and not named_box and not any(asking.spans_of(connection, ("stamper_a", "stamper_b"), s) for s in stampers):
        yield from (row.run for row in asking.rows_where(connection, tables.Run, job=sorted(set(jobs))))


def _pallets(connection: Connection, name: str) -> list[str]:
    sent = asking.rows_where(connection, tables.Consignment, consignment=name)
    return [name, *(row.pallet for row in sent if row.pallet is not None)]


def _descendants(connection: Connection, metal: str) -> Iterator[tables.MetalPiece]:
    """Pieces grown from a piece, to the last generation."""
    for row in asking.rows_where(connection, tables.MetalPiece, parent=metal):
        yield row
        yield from _descendants(connection, row.metal)


def _links(connection: Connection, name: str, jobs: list[str], runs: list[str]) -> Iterator[printed.Link]:
    for row in asking.rows_where(connection, tables.Ticket, job=jobs):
        yield printed.Link(kind="job", name=row.job, words=f"“{row.title}”, {row.format}, {row.ordered} ordered")
    for row in asking.rows_where(connection, tables.Side, job=jobs):
        yield printed.Link(kind="side", name=f"{row.job}/{row.side}", words=f"matrix {row.matrix}")
    for run in asking.run_rows(connection, run=runs):
        words = f"press {run.press}, cavity {run.cavity}, {run.closures} closures"
        yield printed.Link(kind="run", name=run.run, words=words)
        yield from _of_run(connection, run)
    yield from _sent(connection, name, jobs, runs)


def _of_run(connection: Connection, run: asking.RunRow) -> Iterator[printed.Link]:
    piles = [row.ref for row in asking.spans_over(connection, run.run, ("pile",))]
    if piles:
        yield printed.Link(kind="pile", name=f"{run.run}: {ranges(piles)}", words=f"{len(piles)} piles")
    kinds = ("stamper_a", "stamper_b", "batch", "label_a", "label_b", "settings", "operator")
    for row in asking.spans_over(connection, run.run, kinds):
        where = f"closures {asking.stretch_of(row, run.closures).words()} of run {run.run}"
        if row.kind.startswith("stamper_"):
            for piece in asking.lineage(connection, row.ref):
                words = where if piece.metal == row.ref else f"matrix {piece.matrix}"
                yield printed.Link(kind=piece.generation, name=piece.metal, words=words)
            continue
        kind = "label lot" if row.kind.startswith("label_") else row.kind
        yield printed.Link(kind=kind, name=row.ref, words=where)
        if row.kind == "batch":
            for line in asking.rows_where(connection, tables.Weighing, batch=row.ref):
                yield printed.Link(kind="ingredient", name=line.lot, words=f"{line.ingredient} in batch {row.ref}")
    for row in asking.rows_where(connection, tables.Sample, run=run.run):
        words = f"closure {row.closure} of run {run.run}" + (f", {row.verdict}" if row.verdict else "")
        yield printed.Link(kind="sample", name=row.sample, words=words)
        for play in asking.rows_where(connection, tables.Play, sample=row.sample):
            words = f"side {play.side or '?'}, placing {play.placing}"
            yield printed.Link(kind="play", name=f"{row.sample}/{play.side or '?'}/{play.placing}", words=words)
            if play.analysis is not None:
                yield printed.Link(kind="analysis", name=play.analysis, words=f"of sample {row.sample}")


def _sent(connection: Connection, name: str, jobs: list[str], runs: list[str]) -> Iterator[printed.Link]:
    for job in jobs:
        pallets, sent = asking.boxes_by_place(connection, job)
        boxes = {row.box for row in asking.rows_where(connection, tables.Box, job=job, run=runs)}
        if name in boxes:
            boxes = {name}
        if boxes:
            yield printed.Link(kind="box", name=f"{job}: {ranges(boxes)}", words=f"{len(boxes)} boxes")
        for pallet in {pallets[box] for box in boxes if box in pallets}:
            on_it = [box for box in boxes if pallets.get(box) == pallet]
            yield printed.Link(kind="pallet", name=pallet, words=f"boxes {ranges(on_it)}")
        for consignment in {sent[box] for box in boxes if box in sent}:
            in_it = [box for box in boxes if sent.get(box) == consignment]
            yield printed.Link(kind="consignment", name=consignment, words=f"boxes {ranges(in_it)}")
        for row in asking.rows_where(connection, tables.Complaint, job=job):
            if row.box is None or row.box in boxes:
                yield printed.Link(kind="complaint", name=row.complaint, words=row.fault)
