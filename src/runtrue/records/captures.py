"""Recordings and pictures by their digest, each kept as long as its class says; then gone, digest kept.

The file goes in before its entry is written and goes out after the entry that says so: a process that is killed in
between leaves a file that nobody names, never a name without its file.
"""

import shutil
from dataclasses import dataclass
from datetime import datetime, timedelta
from hashlib import file_digest
from pathlib import Path
from typing import Any, Literal

from runtrue.errors import InputError, MissingFileError, SurroundingsError
from runtrue.records import asking
from runtrue.records.book import Book
from runtrue.records.files import whole
from runtrue.records.tables import Capture, CaptureGone

KEEP: dict[str, timedelta | None] = {
    "week": timedelta(days=7),
    "quarter": timedelta(days=92),
    "year": timedelta(days=366),
    "ten_years": timedelta(days=3653),
    "always": None,
}
"""Retention classes. Our choice; how long evidence must be kept is for the house and its contracts."""

State = Literal["kept", "gone", "missing"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Kept:
    """A capture of the book: where its file is, or that it is gone and only the digest is kept."""

    digest: str
    name: str
    size: int
    keep: str
    until: datetime | None
    state: State
    path: Path | None


def place_of(store: Path, digest: str) -> Path:
    """Where the file of a digest lies."""
    if len(digest) != 64 or not set(digest) <= set("0123456789abcdef"):
        raise InputError(f"capture '{digest[:70]}' is no digest; SHA-256 has 64 hexadecimal digits")
    return store / "captures" / digest[:2] / digest


def keep(book: Book, path: Path, *, keep_as: str, who: str, at: datetime, name: str = "", move: bool = False) -> Kept:
    """Keep a file under its name or ``name``; one that is there already is kept as long as the longer class says.

    ``move``: the file has no other place afterwards; it loses the one it had when all is kept.
    """
    if keep_as not in KEEP:
        raise InputError(f"keep '{keep_as}' is unknown; known are {', '.join(KEEP)}: choose one of them")
    try:
        with path.open("rb") as file:
            digest = file_digest(file, "sha256").hexdigest()
        size = path.stat().st_size
    except (FileNotFoundError, IsADirectoryError, NotADirectoryError):
        raise MissingFileError(f"capture {path}: there is no such file: check the spelling and the folder") from None
    target = place_of(book.place.store, digest)
    _put(path, target, digest, size, link=move)
    span = KEEP[keep_as]
    until = None if span is None else at + span
    with book.write(who=who, at=at) as pen:
        _put(path, target, digest, size, link=move)  # its time may have ended meanwhile
        before = next((one for one in listed_rows(pen.connection) if one.digest == digest), None)
        if before is None or before.gone or (before.until is not None and (until is None or until > before.until)):
            entry = pen.enter("keep")
            pen.add(Capture, entry, digest=digest, name=name or path.name, size=size, keep=keep_as, until=until)
    if move and path.resolve() != target.resolve():
        path.unlink(missing_ok=True)
    return next(one for one in listed(book) if one.digest == digest)


def _put(path: Path, target: Path, digest: str, size: int, *, link: bool) -> None:
    """Put the file into the store, if it is not there whole: a copy, or a second name for it where the disk is one."""
    if target.is_file() and target.stat().st_size == size:
        return
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        if link and path.stat().st_dev == target.parent.stat().st_dev:
            target.unlink(missing_ok=True)
            target.hardlink_to(path)
            return
    except OSError as error:
        raise SurroundingsError(
            f"capture {path}: cannot be kept ({error.strerror}); check the disk and rights"
        ) from None
    with whole(target, "capture") as part:
        shutil.copyfile(path, part)
        with part.open("rb") as file:
            if file_digest(file, "sha256").hexdigest() != digest:
                raise SurroundingsError(f"capture {path}: changed while it was copied; try again when it is written")


@dataclass(frozen=True, slots=True, kw_only=True)
class Listed:
    """What the book says of a digest."""

    digest: str
    name: str
    size: int
    keep: str
    until: datetime | None
    gone: bool


def listed_rows(connection: Any) -> list[Listed]:
    """Every digest once, by its newest entry."""
    seq = {row.id: row.seq for row in asking.entries_of(connection, ("keep", "expire"))}
    gone_after = {row.digest: seq[row.entry] for row in asking.rows_where(connection, CaptureGone)}
    newest = {row.digest: row for row in asking.rows_where(connection, Capture)}
    return [
        Listed(
            digest=row.digest, name=row.name, size=row.size, keep=row.keep, until=row.until,
            gone=gone_after.get(row.digest, 0) > seq[row.entry],
        )
        for row in newest.values()
    ]  # fmt: skip


def listed(book: Book) -> list[Kept]:
    """Every capture of the book and whether its file is there."""
    with book.read() as connection:
        rows = listed_rows(connection)
    return [_kept(book.place.store, row) for row in rows]


def _kept(store: Path, row: Listed) -> Kept:
    path = place_of(store, row.digest)
    there = path.is_file() and path.stat().st_size == row.size
    state: State = "gone" if row.gone else ("kept" if there else "missing")
    return Kept(
        digest=row.digest, name=row.name, size=row.size, keep=row.keep, until=row.until, state=state,
        path=path if state == "kept" else None,
    )  # fmt: skip


def find(book: Book, digest: str) -> Path:
    """File of a capture; raises ``MissingFileError`` that says since when it is gone."""
    for one in listed(book):
        if one.digest == digest:
            if one.path is not None:
                return one.path
            why = "its retention ended" if one.state == "gone" else "its file is missing from the store"
            raise MissingFileError(f"capture {one.name} is gone, digest kept: {why}; results made of it stay")
    raise InputError(f"capture {digest[:12]} is not in the book; check the digest")


def find_kept(book: Book, digest: str) -> Path:
    """File of a capture, asked by its digest alone: not a look through the whole list. Raises as ``find`` does."""
    path = place_of(book.place.store, digest)
    with book.read() as connection:
        row = asking.newest(connection, Capture, digest=digest)
    return path if row is not None and path.is_file() and path.stat().st_size == row.size else find(book, digest)


def expire(book: Book, *, who: str, at: datetime) -> list[Kept]:
    """Let go of captures whose time is over: the entry first, then the file. What went."""
    due = [one for one in listed(book) if one.state != "gone" and one.until is not None and one.until <= at]
    if due:
        with book.write(who=who, at=at, reason="retention ended") as pen:
            for one in due:
                pen.add(CaptureGone, pen.enter("expire"), digest=one.digest)
    with book.change() as connection:  # nobody keeps one of them again meanwhile
        for row in listed_rows(connection):
            if row.gone:
                _remove(place_of(book.place.store, row.digest), row.name)
    return due


def _remove(path: Path, name: str) -> None:
    try:
        path.unlink(missing_ok=True)
    except OSError as error:
        raise SurroundingsError(
            f"capture {name}: its file cannot be removed ({error.strerror}); check the rights, then expire again"
        ) from None
