"""What a database says when something is wrong, in the words of the book."""

from collections.abc import Iterator
from contextlib import contextmanager

from sqlalchemy.exc import DBAPIError, NoSuchModuleError, TimeoutError

from runtrue.errors import InputError, SurroundingsError
from runtrue.records.place import Place

WAIT = 10.0
"""How long a second writer waits for the first one [s]. Our choice."""

_TOLD = (
    (("locked", "lock timeout", "canceling statement due to lock"),
     f"is being written by another program for more than {WAIT:.0f} s; nothing was entered: try again"),
    (("readonly", "read-only", "permission denied", "must be owner"),
     "may not be written to; check the rights to the file and its folder"),
    (("disk is full", "no space left", "could not extend file"),
     "the disk is full; nothing was entered: make room, then try again"),
    (("not a database", "malformed", "corrupt"),
     "is no book or is damaged; put the latest backup in its place with `runtrue book restore`"),
    (("unable to open",), "cannot be opened; check the path and the rights to the folder"),
    (("disk i/o", "input/output error"),
     "the disk does not answer; nothing was entered: check it, and make a backup elsewhere"),
    (("connection refused", "could not translate", "connection failed", "server closed the connection",
      "terminating connection", "connection is bad", "starting up", "shutting down", "timeout expired"),
     "does not answer; see that the database runs and that the address is right, then try again"),
    (("password authentication", "does not exist", "no password supplied"),
     "refuses the connection; check user, password and name of the database"),
)  # fmt: skip
"""Words of the databases and what we say. The first that fits counts."""


@contextmanager
def foreseen(place: Place) -> Iterator[None]:
    """Turn what a database may say into one line; what nobody foresees stays as it is."""
    try:
        yield
    except NoSuchModuleError:
        raise InputError(f"book {place.name}: this kind of database is unknown; use a path or PostgreSQL") from None
    except TimeoutError:
        raise SurroundingsError(f"book {place.name}: all connections are in use; try again") from None
    except DBAPIError as error:
        said = told(error)
        if said is None:
            raise
        raise SurroundingsError(f"book {place.name}: {said}") from None


def told(error: DBAPIError) -> str | None:
    """What to say about a database's error; None if it is none that is foreseen."""
    heard = str(error.orig).lower()
    return next((said for words, said in _TOLD if any(word in heard for word in words)), None)
