"""Work that waits: a worker takes a piece under a lease and renews it; a worker that dies lets the lease run out.

The piece then is another's. What was done is kept by its key elsewhere, so doing a piece again costs a look-up at most
for what was finished, and cannot come out different.
"""

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

from sqlalchemy import Connection, and_, insert, or_, select, update

from runtrue.errors import InputError
from runtrue.records.book import Book
from runtrue.records.ids import new_id
from runtrue.records.tables import Task, table_of

LEASE = timedelta(seconds=60)
"""How long a worker holds a piece without a sign of life. Our choice."""
LONGEST = timedelta(days=1)
"""No lease is longer; one that seems so was given before the clock was set back, and is over."""
MOST_ATTEMPTS = 5
"""A piece that kills its worker so often is given up."""
OPEN = ("waiting", "running")


@dataclass(frozen=True, slots=True, kw_only=True)
class Taken:
    """A piece of work in a worker's hands."""

    id: UUID
    action: str
    request: dict[str, Any]
    attempts: int


def add(book: Book, *, action: str, request: dict[str, Any], who: str, at: datetime, task: UUID | None = None) -> UUID:
    """Let a piece of work wait."""
    task = task or new_id()
    with book.change() as connection:
        connection.execute(
            insert(Task).values(
                id=task, action=action, request=request, state="waiting", created=at, who=who, worker=None,
                lease_until=None, attempts=0, doing=None, share=0.0, cancel=False, result=None, error=None,
                finished=None,
            )
        )  # fmt: skip
    return task


def take(book: Book, worker: str, at: datetime, lease: timedelta = LEASE) -> Taken | None:
    """Take the oldest piece that waits or whose worker is gone; None if there is none."""
    with book.change() as connection:
        _give_up(connection, at)
        free = or_(Task.state == "waiting", _left(at))
        row = connection.execute(select(table_of(Task)).where(free).order_by(Task.created, Task.id).limit(1)).first()
        if row is None:
            return None
        connection.execute(
            update(Task).where(Task.id == row.id)
            .values(state="running", worker=worker, lease_until=at + lease, attempts=row.attempts + 1)
        )  # fmt: skip
    return Taken(id=row.id, action=row.action, request=dict(row.request), attempts=row.attempts + 1)


def _left(at: datetime) -> Any:
    """Condition: the piece is under way and its lease is over."""
    return and_(Task.state == "running", or_(Task.lease_until < at, Task.lease_until > at + LONGEST))


def _give_up(connection: Connection, at: datetime) -> None:
    """End what was cancelled while nobody held it, and what has killed worker after worker."""
    gone = _left(at)
    connection.execute(
        update(Task).where(gone, Task.cancel.is_(True)).values(state="cancelled", finished=at, worker=None)
    )
    connection.execute(
        update(Task).where(gone, Task.attempts >= MOST_ATTEMPTS)
        .values(state="failed", finished=at, error=f"its worker died {MOST_ATTEMPTS} times")
    )  # fmt: skip


def renew(
    book: Book, task: UUID, worker: str, at: datetime, *, doing: str, share: float, lease: timedelta = LEASE
) -> bool:
    """Give a sign of life with the progress; False when the piece is no longer this worker's, or was cancelled."""
    with book.change() as connection:
        mine = and_(Task.id == task, Task.worker == worker, Task.state == "running")
        done = connection.execute(
            update(Task).where(mine, Task.cancel.is_(False)).values(lease_until=at + lease, doing=doing, share=share)
        )
        return bool(done.rowcount == 1)


def finish(
    book: Book, task: UUID, worker: str, at: datetime, *, state: str, result: str | None = None,
    error: str | None = None,
) -> bool:  # fmt: skip
    """Put an end to a piece, or let it wait again; False when it is another worker's by now."""
    with book.change() as connection:
        done = connection.execute(
            update(Task).where(Task.id == task, Task.worker == worker, Task.state == "running")
            .values(
                state=state, finished=None if state == "waiting" else at, result=result, error=error,
                share=1.0 if state == "done" else Task.share,
            )
        )  # fmt: skip
        return bool(done.rowcount == 1)


def cancel(book: Book, task: UUID, at: datetime) -> str:
    """Cancel a piece: at once while it waits, at its next sign of life while it is done; the state it had."""
    with book.change() as connection:
        row = connection.execute(select(Task.state).where(Task.id == task)).first()
        if row is None:
            raise InputError(f"task {task} is not in the book; `runtrue book tasks` lists them")
        if row.state == "waiting":
            connection.execute(update(Task).where(Task.id == task).values(state="cancelled", cancel=True, finished=at))
        elif row.state == "running":
            connection.execute(update(Task).where(Task.id == task).values(cancel=True))
        return str(row.state)


def tasks(connection: Connection, *, last: int = 50) -> list[Any]:
    """The newest pieces of work, oldest first."""
    query = select(table_of(Task)).order_by(Task.created.desc(), Task.id.desc()).limit(last)
    return list(reversed(connection.execute(query).all()))
