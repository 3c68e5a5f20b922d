"""Long actions that wait in the book and the worker that does them."""

import os
import socket
import threading
import time
from dataclasses import asdict, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any
from uuid import UUID

import runtrue
from runtrue.contract import book as printed
from runtrue.contract.listening import NotJudged
from runtrue.errors import CancelledError, InputError, RuntrueError
from runtrue.records import Book, queue
from runtrue.types import Progress
from runtrue.workflow.actions import Kind, Ports, action, asks, check_request
from runtrue.workflow.book_requests import CancelRequest, LaterRequest, TasksRequest, WorkRequest
from runtrue.workflow.papers.paper import moment

SIGN = 2.0
"""Seconds between a worker's signs of life, which a page shows as progress. Our choice, a thirtieth of the lease."""
PAUSE = 1.0
"""Seconds between looks for work where there was none."""


def later(request: LaterRequest, ports: Ports, progress: Progress) -> printed.Tasks:
    """Let a recording be judged later by a worker."""
    check_request(request)
    for name in ("capture", "reference", "rig", "limits"):
        path = getattr(request, name)
        if path is not None and not path.is_file():
            raise InputError(f"{name} {path}: there is no such file: check the spelling and the folder")
    book = ports.open_book(request.book)
    waiting = {name: _kept(value) for name, value in asdict(request).items() if name != "book"}
    queue.add(book, action="listen check", request=waiting, who=ports.who, at=moment("clock", ports.clock()))
    return _tasks(book, "It waits; `runtrue work` does it.", 1)


def _kept(value: Any) -> Any:
    """A value of a request as it waits: paths from the root on, for the worker may stand in another folder."""
    return str(value.absolute()) if isinstance(value, Path) else value


def listed(request: TasksRequest, ports: Ports, progress: Progress) -> printed.Tasks:
    """List work that waits, is under way or is done."""
    check_request(request)
    return _tasks(ports.open_book(request.book), None, request.last)


def cancel(request: CancelRequest, ports: Ports, progress: Progress) -> printed.Tasks:
    """Cancel a piece of work."""
    check_request(request)
    book = ports.open_book(request.book)
    try:
        task = UUID(request.task.strip())
    except ValueError:
        raise InputError(f"task '{request.task[:40]}' is no id; `runtrue book tasks` lists them") from None
    was = queue.cancel(book, task, moment("clock", ports.clock()))
    said = {
        "waiting": "It is cancelled.", "running": "Its worker stops at the next sign of life.",
    }.get(was, f"It is {was} already; nothing was changed.")  # fmt: skip
    return _tasks(book, said, 50)


def task_rows(book: Book, last: int) -> list[Any]:
    """The newest pieces of work, oldest first."""
    with book.read() as connection:
        return queue.tasks(connection, last=last)


def _tasks(book: Book, said: str | None, last: int) -> printed.Tasks:
    rows = task_rows(book, last)
    lines = [
        printed.TaskRow(
            id=str(row.id), action=row.action, state=row.state, doing=row.doing, share=round(row.share, 4),
            attempts=row.attempts, worker=row.worker, who=row.who, created=_iso(row.created),
            finished=None if row.finished is None else _iso(row.finished), result=row.result, error=row.error,
        )
        for row in rows
    ]  # fmt: skip
    opened = sum(line.state in queue.OPEN for line in lines)
    return printed.Tasks(
        said=said or f"{opened} pieces of work are open.", tasks=lines,
        not_judged=[NotJudged(key="tasks.result", reason="it is not done")] if opened else [],
        book=book.place.name, version=runtrue.__version__,
    )  # fmt: skip


def _iso(at: datetime) -> str:
    return at.isoformat(timespec="seconds")


def work(request: WorkRequest, ports: Ports, progress: Progress) -> printed.Tasks:
    """Do what waits, piece by piece, until nothing does, or on and on with ``stay``."""
    check_request(request)
    book = ports.open_book(request.book)
    worker = f"{socket.gethostname()}/{os.getpid()}"
    lease = timedelta(seconds=request.lease_s)
    done = 0
    while True:
        taken = queue.take(book, worker, _now(), lease)
        if taken is not None:
            ports.tell(f"{taken.action}: {_do(book, taken, worker, ports=ports, progress=progress, lease=lease)}")
            done += 1
        elif request.stay:
            time.sleep(PAUSE)
        else:
            return _tasks(book, f"{done} pieces of work are done; nothing waits.", max(done, 1))


def _now() -> datetime:
    """Leases go by the clock of the computer, whatever the clock of the entries is."""
    return datetime.now(UTC)


class _Life:
    """Signs of life from a thread of its own; knows when the piece was cancelled or went to another worker."""

    def __init__(self, book: Book, taken: queue.Taken, worker: str, lease: timedelta) -> None:
        self._book, self._taken, self._worker, self._lease = book, taken, worker, lease
        self.doing, self.share = "begun", 0.0
        self.lost = threading.Event()
        self._over = threading.Event()
        self._thread = threading.Thread(target=self._signs, daemon=True)

    def __enter__(self) -> "_Life":
        self._thread.start()
        return self

    def __exit__(self, *_error: object) -> None:
        self._over.set()
        self._thread.join()

    def _signs(self) -> None:
        while not self._over.wait(min(SIGN, self._lease.total_seconds() / 4)):
            try:
                held = queue.renew(
                    self._book, self._taken.id, self._worker, _now(), doing=self.doing, share=self.share,
                    lease=self._lease,
                )  # fmt: skip
            except RuntrueError:
                continue  # the book is busy; the lease outlasts several signs
            if not held:
                self.lost.set()
                return


def _do(book: Book, taken: queue.Taken, worker: str, *, ports: Ports, progress: Progress, lease: timedelta) -> str:
    """Do a piece and write how it ended; a sentence."""
    with _Life(book, taken, worker, lease) as life:

        def watched(what: str, share: float) -> None:
            life.doing, life.share = what, share
            progress(what, share)
            if life.lost.is_set():
                raise CancelledError("cancelled")

        state, result, error = "done", None, None
        try:
            result = key_of(_run(taken, replace(ports, tell=lambda _said: None), watched, book))
            if life.lost.is_set():
                raise CancelledError("cancelled")
        except CancelledError:
            state, error = "cancelled", "cancelled"
        except RuntrueError as trouble:
            state, error = "failed", str(trouble)
        except BaseException:
            queue.finish(book, taken.id, worker, _now(), state="waiting")  # stopped by hand: another may go on
            raise
    if not queue.finish(book, taken.id, worker, _now(), state=state, result=result, error=error):
        return "another worker has it by now"
    return error or "done"


def _run(taken: queue.Taken, ports: Ports, progress: Progress, book: Book) -> Any:
    found = action(taken.action)
    kinds = {item.name: how.kind for item, how in asks(found.request)}
    values = {
        name: Path(value) if kinds[name] is Kind.PATH else value
        for name, value in taken.request.items()
        if value is not None and name in kinds
    }
    if "book" in kinds:
        values["book"] = book.place.name  # what it finds belongs into the book it waited in
    return found.run(found.request(**values), replace(ports, open_book=lambda _given: book), progress)


def key_of(outcome: Any) -> str | None:
    """Key of a result in the book, where the action has one."""
    analysis = getattr(outcome, "analysis", None)
    return getattr(analysis, "id", None)
