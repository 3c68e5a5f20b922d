"""One paper into the book: who and when are settled, the paper's own function writes, all of it is kept or nothing."""

from collections.abc import Callable
from datetime import datetime
from functools import cache
from importlib import import_module
from typing import Any
from uuid import UUID

import runtrue
from runtrue.contract.book import Entered
from runtrue.contract.listening import NotJudged
from runtrue.errors import InputError
from runtrue.records import tables
from runtrue.records.pen import Pen
from runtrue.types import Progress
from runtrue.workflow.actions import Ports, check_request
from runtrue.workflow.papers.ask_ship import WithdrawRequest
from runtrue.workflow.papers.catalogue import paper_of
from runtrue.workflow.papers.paper import Paper, PaperRequest, Told, moment
from runtrue.workflow.papers.shipping import was_shipped

NO_VERDICT = "nothing was there to judge by"
Writes = Callable[[Any, Pen, UUID], Told]


def enter(request: PaperRequest, ports: Ports, progress: Progress) -> Entered:
    """Write one paper. Raises ``InputError`` for what cannot be, ``SurroundingsError`` where the book is not free."""
    check_request(request)
    when = when_of(request, ports)
    book = ports.open_book(request.book)
    with book.write(who=request.who or ports.who, at=when, reason=request.reason or "") as pen:
        entry, told, kind = write(request, pen)
        seq = pen.seq
    return Entered(
        not_judged=[] if told.verdict is not None else [NotJudged(key="verdict", reason=NO_VERDICT)],
        entry=str(entry), seq=seq, kind=kind, said=told.said, verdict=told.verdict, cautions=list(told.cautions),
        at=when.isoformat(timespec="seconds"), who=pen.who, book=book.place.name, version=runtrue.__version__,
    )  # fmt: skip


def when_of(request: PaperRequest, ports: Ports) -> datetime:
    """When it happened."""
    return moment("at", request.at or ports.clock())


def write(request: PaperRequest, pen: Pen, source: str | None = None) -> tuple[UUID, Told, str]:
    """Write a paper with a pen that is in hand; the entry, what is told of it, and its kind."""
    paper = paper_of(type(request))
    replaced = _replaced(request, pen)
    if replaced is not None:
        _may_change(pen, replaced, request)
    entry = pen.enter(paper.verb, replaces=replaced, source=source)
    told = function_of(paper)(request, pen, entry)
    pen.settle()
    return entry, told, paper.verb


_NAMED: dict[str, tuple[type[tables.Base], str]] = {
    "ticket": (tables.Ticket, "job"),
    "metal": (tables.MetalPiece, "metal"),
    "batch": (tables.Batch, "batch"),
    "labels": (tables.LabelLot, "lot"),
    "set-up": (tables.Run, "run"),
    "sample": (tables.Sample, "sample"),
    "complaint": (tables.Complaint, "complaint"),
}
"""Kinds whose name others hold: a correction keeps it."""


def _replaced(request: PaperRequest, pen: Pen) -> UUID | None:
    if isinstance(request, WithdrawRequest):
        return pen.entry_of("entry", request.entry)
    return pen.entry_of("replaces", request.replaces) if request.replaces else None


def _may_change(pen: Pen, old: UUID, request: PaperRequest) -> None:
    """Refuse a correction that would pull a name or a shipped box from under others."""
    kind = pen.kind_of(old)
    if kind in _NAMED and not isinstance(request, WithdrawRequest):
        model, column = _NAMED[kind]
        row = pen.where(model, entry=old)
        given = str(getattr(request, column, "")).strip()
        if row is not None and getattr(row, column) != given:
            raise InputError(
                f"a corrected {kind} keeps its {column}, {getattr(row, column)}, for others refer to it; got '{given}'"
            )
    row = pen.where(tables.Box, entry=old) if kind == "box" else None
    if row is not None and was_shipped(pen, row.job, row.box):
        raise InputError(f"box {row.box} of job {row.job} was shipped; correct the consignment first")


@cache
def function_of(paper: Paper) -> Writes:
    """The function that writes a paper."""
    module, _, name = paper.function.partition(":")
    found: Writes = getattr(import_module(module), name)
    return found
