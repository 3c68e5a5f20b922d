"""The book itself: begun, checked, listed."""

from datetime import datetime

import runtrue
from runtrue.contract import book as printed
from runtrue.contract.listening import NotJudged
from runtrue.records import Book, asking, make_book, migrations
from runtrue.records import check as checking
from runtrue.types import Progress
from runtrue.workflow.actions import Ports, check_request
from runtrue.workflow.book_requests import CheckRequest, InitRequest, LogRequest
from runtrue.workflow.papers.paper import moment


def init(request: InitRequest, ports: Ports, progress: Progress) -> printed.BookState:
    """Begin a book, or bring one that is there to this program's form. What is in it stays."""
    check_request(request)
    book, made = make_book(
        request.book, plant=request.plant, who=request.who or ports.who, at=moment("clock", ports.clock())
    )
    said = (
        f"The book of {book.plant} is ready."
        if made
        else f"The book of {book.plant} is there already; nothing was changed."
    )
    return state_of(book, said, [])


def check(request: CheckRequest, ports: Ports, progress: Progress) -> printed.BookState:
    """Check the file, its guards and numbers, and compare every count and span with what the entries give."""
    check_request(request)
    book = ports.open_book(request.book)
    repaired: list[str] = []
    if request.repair:
        with book.change() as connection:
            repaired = checking.repair(connection)
    with book.read() as connection:
        wrong = checking.check(connection, progress)
    said = "The book is sound." if not wrong else f"{len(wrong)} things in the book are not as they have to be."
    return state_of(book, said, wrong, repaired=repaired)


def state_of(
    book: Book, said: str, wrong: list[checking.Wrong], *, repaired: list[str] | None = None, file: str | None = None,
    digest: str | None = None,
) -> printed.BookState:  # fmt: skip
    """A book's state as it is printed."""
    with book.read() as connection:
        entries, rows = checking.size(connection)
    reasons = []
    if digest is None:
        reasons.append(NotJudged(key="digest", reason="worked out when a backup is written or read"))
    if file is None:
        reasons.append(NotJudged(key="file", reason="no backup was asked for"))
    return printed.BookState(
        said=said, verdict="fail" if wrong else "pass", book=book.place.name, plant=book.plant, form=migrations.HEAD,
        entries=entries, rows=rows, digest=digest,
        problems=[printed.Problem(what=one.what, where=one.where, found=one.found) for one in wrong],
        repaired=repaired or [], file=file, not_judged=reasons, version=runtrue.__version__,
    )  # fmt: skip


def log(request: LogRequest, ports: Ports, progress: Progress) -> printed.Log:
    """List the newest entries."""
    check_request(request)
    book = ports.open_book(request.book)
    with book.read() as connection:
        rows = asking.log(connection, last=request.last, kind=request.kind, text=request.about)
    lines = [
        printed.LogLine(
            seq=row.seq, plant=row.plant, kind=row.kind, at=iso(row.at), who=row.who, reason=row.reason,
            stands=row.replaced_by is None, entry=str(row.id),
        )
        for row in rows
    ]  # fmt: skip
    return printed.Log(
        said=f"{len(lines)} entries.", entries=lines, not_judged=[], book=book.place.name, version=runtrue.__version__
    )


def iso(at: datetime) -> str:
    """A moment as it is printed."""
    return at.isoformat(timespec="seconds")
