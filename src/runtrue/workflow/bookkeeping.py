"""The book itself: begun, checked, listed, kept safe, written out."""

from datetime import datetime

import runtrue
from runtrue.contract import book as printed
from runtrue.contract.listening import NotJudged
from runtrue.errors import InputError
from runtrue.records import Book, asking, captures, copying, make_book, migrations
from runtrue.records import check as checking
from runtrue.records import export as exporting
from runtrue.types import Progress
from runtrue.workflow.actions import Ports, check_request
from runtrue.workflow.book_requests import (
    BackupRequest,
    CapturesRequest,
    CheckRequest,
    ExpireRequest,
    ExportRequest,
    InitRequest,
    KeepRequest,
    LogRequest,
    RestoreRequest,
)
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


def backup(request: BackupRequest, ports: Ports, progress: Progress) -> printed.BookState:
    """Back the book up while others use it, check the copy and hold it to the book."""
    check_request(request)
    book = ports.open_book(request.book)
    copied = copying.backup(book, request.out.absolute(), progress)
    said = f"Backed up to {request.out}: {copied.entries} entries, {copied.rows} rows, checked and compared."
    return state_of(book, said, [], file=str(request.out), digest=copied.digest)


def restore(request: RestoreRequest, ports: Ports, progress: Progress) -> printed.BookState:
    """Make a book of a backup, where there is none."""
    check_request(request)
    book, copied = copying.restore(request.backup, request.book, progress)
    said = f"The book of {book.plant} is back: {copied.entries} entries, {copied.rows} rows, checked and compared."
    return state_of(book, said, [], file=str(request.backup), digest=copied.digest)


def export(request: ExportRequest, ports: Ports, progress: Progress) -> printed.Exported:
    """Write every table of the book to a folder, with a schema."""
    check_request(request)
    out = request.out
    if out.exists() and (not out.is_dir() or any(out.iterdir())):
        raise InputError(f"out {out}: is there already and not an empty folder; name another")
    if not out.absolute().parent.is_dir():
        raise InputError(f"out {out}: there is no folder {out.absolute().parent}; make it first")
    book = ports.open_book(request.book)
    out.mkdir(exist_ok=True)
    with book.read() as connection:
        written = exporting.export(connection, out, request.form, progress)
    files = [printed.ExportedFile(file=one.file, table=one.table, rows=one.rows, sha256=one.sha256) for one in written]
    neutralised = sum(one.neutralised for one in written)
    return printed.Exported(
        said=f"{len(files)} tables, {sum(one.rows for one in written)} rows to {out}, with schema.json.",
        folder=str(out), form="csv" if request.form == "csv" else "jsonl", files=files, neutralised=neutralised,
        not_judged=[], book=book.place.name, version=runtrue.__version__,
    )  # fmt: skip


def keep(request: KeepRequest, ports: Ports, progress: Progress) -> printed.Captures:
    """Keep a recording or picture by its digest."""
    check_request(request)
    book = ports.open_book(request.book)
    one = captures.keep(
        book, request.file, keep_as=request.keep, move=request.move, who=ports.who, at=moment("clock", ports.clock())
    )
    until = "always" if one.until is None else f"until {one.until:%Y-%m-%d}"
    return _captures(book, f"{one.name} is kept {until} as {one.digest[:12]}.", [one])


def expire(request: ExpireRequest, ports: Ports, progress: Progress) -> printed.Captures:
    """Let go of captures whose time is over; results made of them stay."""
    check_request(request)
    book = ports.open_book(request.book)
    gone = captures.expire(book, who=ports.who, at=moment("clock", ports.clock()))
    return _captures(book, f"{len(gone)} captures are gone, their digests are kept.", gone)


def captures_of(request: CapturesRequest, ports: Ports, progress: Progress) -> printed.Captures:
    """List captures."""
    check_request(request)
    book = ports.open_book(request.book)
    found = captures.listed(book)
    kept = sum(one.state == "kept" for one in found)
    return _captures(book, f"{kept} of {len(found)} captures are kept.", found)


def _captures(book: Book, said: str, found: list[captures.Kept]) -> printed.Captures:
    rows = [
        printed.CaptureRow(
            name=one.name, state=one.state, keep=one.keep, until=None if one.until is None else iso(one.until),
            bytes=one.size, sha256=one.digest,
        )
        for one in found
    ]  # fmt: skip
    return printed.Captures(said=said, captures=rows, not_judged=[], book=book.place.name, version=runtrue.__version__)


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
