"""What made a closure; a stamper's age; all that hangs together with a name."""

from collections.abc import Iterator
from typing import Any

from sqlalchemy import Connection

import runtrue
from runtrue.contract import book as printed
from runtrue.errors import InputError
from runtrue.records import asking, tables
from runtrue.records.pen import ended_runs
from runtrue.records.ranges import Stretch, covers, stretch
from runtrue.types import Progress
from runtrue.workflow.actions import Ports, check_request
from runtrue.workflow.book_requests import AgeRequest, MadeRequest
from runtrue.workflow.hand_over import plain

KINDS = ("stamper_a", "stamper_b", "batch", "label_a", "label_b", "settings", "operator", "blank", "pile")
"""What is told of a closure, in this order."""


def made(request: MadeRequest, ports: Ports, progress: Progress) -> printed.Made:
    """Say which stampers, batch, labels, settings and operator made a closure, a sample or a box."""
    check_request(request)
    book = ports.open_book(request.book)
    with book.read() as connection:
        run, meant = _meant(connection, request)
        held = list(_held(connection, run, meant))
        stampers = [one.ref for one in held if one.kind.startswith("stamper_")]
        metal = [words for name in stampers for words in family(connection, name)]
        batches = [one.ref for one in held if one.kind == "batch"]
        lots = [f"{row.ingredient} {row.lot}" for row in asking.rows_where(connection, tables.Weighing, batch=batches)]
    return printed.Made(
        said=_said(meant, held), run=run.run, job=run.job, press=run.press, cavity=run.cavity,
        first=(meant.first_low, meant.first_high), last=(meant.last_low, meant.last_high), held=held,
        metal=list(dict.fromkeys(metal)), lots=list(dict.fromkeys(lots)), not_judged=[], book=book.place.name,
        version=runtrue.__version__,
    )  # fmt: skip


def _meant(connection: Connection, asked: MadeRequest) -> tuple[asking.RunRow, Stretch]:
    ways = [asked.run is not None, asked.sample is not None, asked.box is not None]
    if sum(ways) != 1:
        raise InputError("made: name one thing: --run with --closure, --sample, or --job with --box")
    if asked.run is not None:
        run = asking.run_row(connection, asked.run)
        if asked.closure is None:
            raise InputError("made: name the closure with --closure")
        if asked.closure > run.closures:
            raise InputError(f"closure {asked.closure} is beyond the counter: run {run.run} has counted {run.closures}")
        return run, stretch(asked.closure, asked.closure, asked.slack)
    if asked.sample is not None:
        row = asking.newest(connection, tables.Sample, sample=asked.sample.strip())
        if row is None:
            raise InputError(f"sample '{asked.sample.strip()}' is not in the book; check the spelling")
        return asking.run_row(connection, row.run), stretch(row.closure, row.closure, row.slack)
    if asked.job is None:
        raise InputError("made: name the job of the box with --job")
    rows = asking.spans_of(connection, ("box",), f"{asked.job.strip()}/{(asked.box or '').strip()}")
    if not rows:
        raise InputError(f"box '{(asked.box or '').strip()}' of job '{asked.job.strip()}' is not in the book")
    if len({row.run for row in rows}) > 1:
        raise InputError(f"box {(asked.box or '').strip()} holds records of several runs; ask by run and closure")
    run = asking.run_row(connection, rows[0].run)
    first, last = rows[0], rows[-1]
    return run, Stretch(
        first_low=min(row.first_low for row in rows), first_high=first.first_high,
        last_low=last.last_low, last_high=max(row.last_high for row in rows),
    )  # fmt: skip


def _held(connection: Connection, run: asking.RunRow, meant: Stretch) -> Iterator[printed.Held]:
    rows = asking.spans_over(connection, run.run, KINDS, meant.first_low, meant.last_high)
    for row in sorted(rows, key=lambda one: (KINDS.index(one.kind), one.first_low)):
        answer = covers(asking.stretch_of(row, max(run.closures, meant.last_high)), meant)
        if answer != "surely_not":
            yield printed.Held(
                kind=row.kind, ref=row.ref, answer=answer, first=(row.first_low, row.first_high),
                last=None if row.last_low is None else (row.last_low, row.last_high),
            )  # fmt: skip


def _said(meant: Stretch, held: list[printed.Held]) -> str:
    named = ", ".join(f"{plain(one.kind)} {one.ref}" for one in held if one.answer == "surely")
    doubt = ", ".join(f"{plain(one.kind)} {one.ref}" for one in held if one.answer == "maybe")
    what = f"Closure {meant.first_low}" if meant.first_low == meant.last_high else f"Closures {meant.words()}"
    return f"{what}: {named or 'nothing for sure'}." + (f" In part or perhaps: {doubt}." if doubt else "")


def family(connection: Connection, metal: str) -> list[str]:
    """A piece and what it was grown from: "stamper A-M1-S1", "mother A-M1", ..."""
    return [f"{row.generation} {row.metal}" for row in asking.lineage(connection, metal)]


def age(request: AgeRequest, ports: Ports, progress: Progress) -> printed.Age:
    """Count a stamper's impressions: those it came with, and the closures of every span it was on the press."""
    check_request(request)
    name = request.stamper.strip()
    book = ports.open_book(request.book)
    with book.read() as connection:
        piece = asking.newest(connection, tables.MetalPiece, metal=name)
        if piece is None:
            raise InputError(f"stamper '{name}' is not in the book; check the spelling")
        rows = asking.spans_of(connection, ("stamper_a", "stamper_b"), name)
        runs = {one.run: one for one in asking.run_rows(connection, run=sorted({row.run for row in rows}))}
        over = ended_runs(connection, sorted(runs))
        sessions = [_session(row, runs[row.run], over=row.run in over) for row in rows]
        card = asking.newest(connection, tables.MetalCard, metal=name)
        lines = family(connection, name)
    low = piece.impressions + sum(one.impressions[0] for one in sessions)
    high = piece.impressions + sum(one.impressions[1] for one in sessions)
    count = f"{low}" if low == high else f"{low} to {high}"
    times = "1 session" if len(sessions) == 1 else f"{len(sessions)} sessions"
    return printed.Age(
        said=f"{name} has made {count} impressions in {times}.", stamper=name, matrix=piece.matrix,
        came_with=piece.impressions, impressions=(low, high), sessions=sessions,
        state="new" if card is None else card.state, family=lines, not_judged=[], book=book.place.name,
        version=runtrue.__version__,
    )  # fmt: skip


def _session(row: Any, run: asking.RunRow, *, over: bool) -> printed.Session:
    ends = asking.stretch_of(row, run.closures)
    return printed.Session(
        run=run.run, job=run.job, press=run.press, first=(ends.first_low, ends.first_high),
        last=(ends.last_low, ends.last_high), impressions=(ends.length_low, ends.length_high),
        on_press=row.last_low is None and not over,
    )  # fmt: skip
