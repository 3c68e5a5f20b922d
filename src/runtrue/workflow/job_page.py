"""A job as it stands: its runs, what is on the presses, where its records are, what was found."""

from typing import Any

from sqlalchemy import Connection

import runtrue
from runtrue.contract import book as printed
from runtrue.contract.listening import NotJudged
from runtrue.errors import InputError
from runtrue.records import asking, tables
from runtrue.records.counts import At
from runtrue.types import Progress
from runtrue.workflow.actions import Ports, check_request
from runtrue.workflow.balance import causes
from runtrue.workflow.book_requests import JobRequest

_ON = ("stamper_a", "stamper_b", "batch", "operator")
MOST_FAILED = 50
"""Failed samples that are shown, the newest."""


def job(request: JobRequest, ports: Ports, progress: Progress) -> printed.JobPage:
    """Gather what a page of the job shows."""
    check_request(request)
    book = ports.open_book(request.book)
    with book.read() as connection:
        ticket = asking.newest(connection, tables.Ticket, job=request.job.strip())
        if ticket is None:
            raise InputError(f"job '{request.job.strip()}' is not in the book; check the spelling")
        runs = asking.run_rows(connection, job=ticket.job)
        names = [one.run for one in runs]
        places = asking.holdings(connection, names)
        rejects = asking.moved(
            connection, names, group="cause", source=At.PRESSED.value, target=[At.SCRAPPED.value, At.HELD.value]
        )
        failed = asking.rows_where(connection, tables.Sample, run=names, verdict="fail")[-MOST_FAILED:]
        samples = asking.count_where(connection, tables.Sample, run=names)
        states = [_state(connection, one) for one in runs]
        matrices = asking.rows_where(connection, tables.Side, job=ticket.job)
        complaints = asking.rows_where(connection, tables.Complaint, job=ticket.job)
        analyses = asking.analyses_of(connection, names)
    good = sum(row.records for row in places if row.place in (At.GOOD, At.BOXED, At.SHIPPED))
    return printed.JobPage(
        said=f"Job {ticket.job}, “{ticket.title}”: {good} good of {ticket.ordered} ordered, {len(runs)} runs.",
        matrices=[printed.Link(kind="side", name=row.side, words=f"matrix {row.matrix}") for row in matrices],
        runs=states, samples=samples, analyses=analyses,
        places=[printed.PlaceCount(run=row.run, place=row.place, records=row.records) for row in places],
        rejects=causes(rejects), failed_samples=[_sample(row) for row in failed],
        complaints=[printed.Link(kind="complaint", name=row.complaint, words=row.fault) for row in complaints],
        not_judged=[NotJudged(key="runs.first_off", reason="no first-off was signed") for one in states
                    if one.first_off is None][:1],
        book=book.place.name, version=runtrue.__version__,
        **{name: getattr(ticket, name) for name in ("job", "title", "artist", "customer", "catalogue", "format",
                                                    "ordered", "due")},
    )  # fmt: skip


def _state(connection: Connection, run: asking.RunRow) -> printed.RunState:
    on = {row.kind: row.ref for row in asking.spans_over(connection, run.run, _ON, max(run.closures, 1))}
    first_off = asking.newest(connection, tables.FirstOff, run=run.run)
    last = asking.last_samples(connection, run.run)
    return printed.RunState(
        run=run.run, press=run.press, cavity=run.cavity, closures=run.closures, counter=run.counter,
        first_off=None if first_off is None else first_off.verdict, last_good_sample=last[0], last_sample=last[1],
        piles=asking.count_where(connection, tables.Pile, run=run.run),
        boxes=asking.count_where(connection, tables.Box, run=run.run), **{kind: on.get(kind) for kind in _ON},
    )  # fmt: skip


def _sample(row: Any) -> printed.HeldSample:
    return printed.HeldSample(
        sample=row.sample, run=row.run, closure=row.closure, slack=row.slack, answer="surely", verdict=row.verdict,
        faults=row.faults,
    )  # fmt: skip
