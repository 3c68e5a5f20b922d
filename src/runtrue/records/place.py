"""Where a book lies: one SQLite file on a disk of this computer, or a PostgreSQL database by its URL."""

import os
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from platformdirs import user_data_path

from runtrue.errors import InputError, SurroundingsError

VARIABLE = "RUNTRUE_BOOK"
"""Environment variable that names the book where no option does."""
POSTGRES = "postgresql+psycopg://"
_SHARES = frozenset({"nfs", "nfs4", "cifs", "smb3", "smbfs", "afs", "9p", "fuse.sshfs", "fuse.glusterfs", "ceph"})
"""File systems of other computers, by their names in the kernel's table of mounts."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """A book's place: ``file`` is None for PostgreSQL. ``store`` is the folder of its captures and results."""

    url: str
    file: Path | None
    store: Path

    @property
    def name(self) -> str:
        """What to call it in a message; never holds a password."""
        if self.file is not None:
            return str(self.file)
        from sqlalchemy import make_url

        return make_url(self.url).render_as_string(hide_password=True)


def data_folder() -> Path:
    """The person's folder for data of programs."""
    return user_data_path("runtrue", appauthor=False)


def default_file() -> Path:
    """The book that is used when nobody names one."""
    return data_folder() / "book.sqlite"


def place_of(given: str | None, environment: Mapping[str, str] = os.environ) -> Place:
    """Place of the book that a person names by a path or a URL; of the default one for None."""
    named = environment.get(VARIABLE) or str(default_file()) if given is None else given
    if "\0" in named:
        raise InputError("book: the path holds a NUL character; check the spelling")
    if not named.strip():
        raise InputError("book: the path is empty; give it, or leave the option out for the default book")
    if "://" not in named:
        file = _file(named)
        return Place(url="sqlite://", file=file, store=file.with_name(f"{file.stem}-store"))
    if named.startswith(("postgresql://", "postgres://")):
        named = POSTGRES + named.partition("://")[2]
    if not named.startswith(POSTGRES):
        raise InputError(
            f"book: '{named.partition('://')[0]}://' is unknown; allowed are a path or {POSTGRES}user@host/database"
        )
    from sqlalchemy import make_url
    from sqlalchemy.exc import ArgumentError

    try:
        database = make_url(named).database
    except (ArgumentError, ValueError):
        raise InputError(f"book: the URL cannot be read; write it as {POSTGRES}user@host/database") from None
    if not database:
        raise InputError(f"book: the URL names no database; write it as {POSTGRES}user@host/database")
    return Place(url=named, file=None, store=data_folder() / f"{database}-store")


def _file(named: str) -> Path:
    """The file itself, however many links lead to it, so that all find the same captures and results beside it."""
    try:
        file = Path(named).expanduser().resolve()
    except (OSError, RuntimeError) as error:
        raise InputError(f"book {named}: the path leads nowhere ({error}); check the links and the spelling") from None
    if not file.name:
        raise InputError(f"book {file}: is a folder; give the path of the file itself")
    return file


def is_there(place: Place) -> bool:
    """Whether there may be a book; a database is asked only when it is opened."""
    return place.file is None or place.file.is_file()


def refuse_share(file: Path, mounts: str | None = None) -> None:
    """Refuse a folder of another computer: SQLite's locks and log are not safe there.

    ``mounts`` is the kernel's table of mounts; read where the system has one.
    """
    if str(file).startswith(("\\\\", "//")) or _file_system(file, mounts) in _SHARES:
        raise SurroundingsError(
            f"book {file}: lies on a network share, where two writers can spoil it; keep it on a disk of this "
            "computer, or use PostgreSQL"
        )


def _file_system(file: Path, mounts: str | None) -> str:
    """Kind of the file system a path lies on; empty where it cannot be told."""
    if mounts is None:
        try:
            mounts = Path("/proc/self/mounts").read_text(encoding="utf-8")
        except (OSError, UnicodeDecodeError):
            return ""
    best, kind = "", ""
    for line in mounts.splitlines():
        parts = line.split()
        if len(parts) < 3:
            continue
        at = parts[1].replace("\\040", " ")
        inside = at == "/" or str(file) == at or str(file).startswith(at.rstrip("/") + "/")
        if inside and len(at) >= len(best):
            best, kind = at, parts[2]
    return kind
