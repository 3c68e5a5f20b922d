"""Backup and restore: a copy of one moment, made while others write, and held to the original row by row.

A backup is a book in one SQLite file whatever the book lies in, so that it can be opened, checked and asked like any.
"""

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass
from datetime import datetime
from hashlib import sha256
from pathlib import Path
from typing import Any
from uuid import UUID

from sqlalchemy import Connection, Table, func, insert, select

from runtrue.errors import InputError, SurroundingsError
from runtrue.records import migrations
from runtrue.records.book import Book, make_folder, open_book
from runtrue.records.check import check, size
from runtrue.records.engine import make_engine, take_turn
from runtrue.records.files import whole
from runtrue.records.place import Place, place_of, refuse_share
from runtrue.records.tables import PROJECTIONS, Entry, grown, table_of
from runtrue.records.trouble import foreseen
from runtrue.types import Progress

_ROWS = 2000


@dataclass(frozen=True, slots=True, kw_only=True)
class Copied:
    """What a copy holds: entries, rows, and the digest of them all."""

    entries: int
    rows: int
    digest: str


def backup(book: Book, out: Path, progress: Progress) -> Copied:
    """Write a backup of the book to a new file, checked and compared with the book. Others may write meanwhile."""
    if out.exists():
        raise InputError(f"out {out}: is there already; a backup overwrites nothing: name another file")
    if not out.parent.is_dir():
        raise InputError(f"out {out}: there is no folder {out.parent}; make it first")
    with whole(out, "backup") as part:
        progress("copying the book", 0.0)
        if book.place.file is not None:
            with foreseen(book.place):
                _copy_file(book.place.file, part)
        else:
            _copy_to_file(book, part)
        copied = _verified(part, progress)
        with book.read() as connection:
            original = digest(connection, upto=_last(part))
        if original != copied.digest:
            raise SurroundingsError(f"backup {out}: differs from the book; the disk cannot be trusted: use another")
    return copied


def restore(backup_file: Path, given: str | None, progress: Progress) -> tuple[Book, Copied]:
    """Make a book of a backup where there is none yet."""
    place = place_of(given)
    if not backup_file.is_file():
        raise InputError(f"backup {backup_file}: there is no such file; check the spelling and the folder")
    if place.file is not None:
        for left in (place.file, *(place.file.with_name(f"{place.file.name}-{end}") for end in ("wal", "shm"))):
            if left.exists():  # a log of an older book would be taken for the new one's
                raise InputError(f"book {left}: is there already; move it away first, a restore overwrites nothing")
        refuse_share(place.file)
        make_folder(place.file)
        with whole(place.file, "book") as part:
            _copy_file(backup_file, part)
            copied = _verified(part, progress)
        with closing(sqlite3.connect(place.file)) as connection:
            connection.execute("PRAGMA journal_mode = WAL")
    else:
        copied = _copy_to_database(backup_file, place, progress)
    return open_book(given), copied


def digest(connection: Connection, upto: int | None = None) -> str:
    """Digest of every row of the tables that grow, of entries numbered up to ``upto`` where given."""
    found = sha256()
    for table in grown():
        found.update(f"{table.name}\n".encode())
        for row in _rows(connection, table, upto):
            found.update(repr([_plain(value) for value in row]).encode())
    return found.hexdigest()


def _plain(value: Any) -> Any:
    """The same value from either database."""
    return str(value) if isinstance(value, UUID | datetime) else value


def _rows(connection: Connection, table: Table, upto: int | None) -> Iterator[Any]:
    entry = table_of(Entry)
    if table is entry:
        query = select(entry).order_by(entry.c.plant, entry.c.seq)
    else:
        line = [table.c.line] if "line" in table.c else []
        query = select(table).join(entry, entry.c.id == table.c.entry).order_by(entry.c.plant, entry.c.seq, *line)
    if upto is not None:
        query = query.where(entry.c.seq <= upto)
    yield from connection.execution_options(yield_per=_ROWS).execute(query)


def _verified(part: Path, progress: Progress) -> Copied:
    """Check a copy and say what it holds."""
    book = open_book(str(part), as_copy=True)
    try:
        with book.read() as connection:
            progress("checking the copy", 0.4)
            wrong = check(connection, lambda _what, _share: None)
            if wrong:
                raise InputError(
                    f"the copy is not sound: {wrong[0].what}, {wrong[0].where}: {wrong[0].found}; "
                    "see `runtrue book check`"
                )
            progress("reading the copy", 0.7)
            entries, rows = size(connection)
            return Copied(entries=entries, rows=rows, digest=digest(connection))
    finally:
        book.close()


def _last(part: Path) -> int:
    book = open_book(str(part), as_copy=True)
    try:
        with book.read() as connection:
            return int(connection.execute(select(func.max(Entry.seq))).scalar_one())
    finally:
        book.close()


def _copy_file(source: Path, target: Path) -> None:
    """Copy a SQLite file page by page while others use it; the copy is one file without a log beside it."""
    with (
        closing(sqlite3.connect(f"{source.absolute().as_uri()}?mode=ro", uri=True)) as old,
        closing(sqlite3.connect(target)) as new,
    ):
        try:
            old.backup(new, pages=4000)
            new.execute("PRAGMA journal_mode = DELETE")
        except sqlite3.DatabaseError as error:
            raise SurroundingsError(f"book {source}: cannot be copied ({error}); check it and the disk") from None


def _copy_to_file(book: Book, target: Path) -> None:
    """Write the rows of a database into a new SQLite book."""
    place = Place(url="sqlite://", file=target, store=target)
    engine = make_engine(place, create=True)
    try:
        with (
            book.read() as source,
            engine.connect().execution_options(writes=True) as connection,
            connection.begin(),
        ):
            migrations.upgrade(connection)
            _copy_rows(source, connection)
    finally:
        engine.dispose()


def _copy_to_database(backup_file: Path, place: Place, progress: Progress) -> Copied:
    """Write the rows of a backup into a database that holds no book, all in one transaction."""
    copied = _verified(backup_file, progress)
    source, engine = open_book(str(backup_file), as_copy=True), make_engine(place)
    try:
        with (
            foreseen(place),
            source.read() as rows,
            engine.connect().execution_options(writes=True) as connection,
            connection.begin(),
        ):
            take_turn(connection)
            if migrations.revision(connection) is not None:
                raise InputError(
                    f"book {place.name}: is there already; a restore overwrites nothing: use an empty database"
                )
            migrations.upgrade(connection)
            _copy_rows(rows, connection)
            if digest(connection) != copied.digest:
                raise SurroundingsError(f"book {place.name}: differs from the backup; nothing was kept: try again")
    finally:
        source.close()
        engine.dispose()
    return copied


def _copy_rows(source: Connection, target: Connection) -> None:
    for table in (*grown(), *(table_of(model) for model in PROJECTIONS)):
        order = [table.c.seq] if table is table_of(Entry) else []  # what is replaced comes before what replaces it
        rows = source.execution_options(yield_per=_ROWS).execute(select(table).order_by(*order)).mappings()
        for part in rows.partitions(_ROWS):
            target.execute(insert(table), [dict(row) for row in part])
