"""A book that is open: read it at one moment, or write in it by one transaction."""

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path

from sqlalchemy import Connection, Engine, select

import runtrue
from runtrue.errors import InputError, MissingFileError, SurroundingsError
from runtrue.records import migrations
from runtrue.records.engine import make_engine, take_turn
from runtrue.records.pen import Pen, clean_name
from runtrue.records.place import Place, place_of, refuse_share
from runtrue.records.tables import Entry, Opened
from runtrue.records.trouble import foreseen


class Book:
    """An open book. Threads may share it; processes open their own."""

    def __init__(self, place: Place, engine: Engine, plant: str) -> None:
        self.place = place
        self.engine = engine
        self.plant = plant

    @contextmanager
    def read(self) -> Iterator[Connection]:
        """A connection that sees the book at one moment, and changes nothing."""
        with foreseen(self.place), self.engine.connect() as plain:
            level = {"isolation_level": "REPEATABLE READ", "postgresql_readonly": True}
            connection = plain.execution_options(**level) if self.place.file is None else plain
            with connection.begin():
                yield connection

    @contextmanager
    def write(self, *, who: str, at: datetime, reason: str = "") -> Iterator[Pen]:
        """A pen for one transaction: all of it is kept, or nothing. A second writer waits, or is told."""
        with self.change() as connection:
            pen = Pen(connection, plant=self.plant, who=who, at=at, reason=reason)
            yield pen
            pen.finish()

    @contextmanager
    def change(self) -> Iterator[Connection]:
        """A connection for the tables that may change: projections, and work that waits."""
        with (
            foreseen(self.place),
            self.engine.connect().execution_options(writes=True) as connection,
            connection.begin(),
        ):
            take_turn(connection)
            yield connection

    def close(self) -> None:
        """Let go of all connections."""
        self.engine.dispose()


def open_book(given: str | None = None, *, as_copy: bool = False) -> Book:
    """Open the book that a path or URL names, or the default one. Raises one line for whatever is wrong with it.

    ``as_copy`` opens a backup, which nobody writes in and which may lie on a share.
    """
    place = place_of(given)
    if place.file is not None and place.file.is_dir():
        raise InputError(f"book {place.file}: is a folder; give the path of the file itself")
    if place.file is not None and not place.file.is_file():
        raise MissingFileError(f"book {place.file}: there is no book; begin one with `runtrue book init`")
    if place.file is not None and not as_copy:
        refuse_share(place.file)
    engine = make_engine(place)
    try:
        with foreseen(place), engine.connect() as connection, connection.begin():
            _check_form(place, migrations.revision(connection))
            plant = connection.execute(select(Entry.plant).where(Entry.seq == 1).order_by(Entry.id).limit(1)).scalar()
    except BaseException:
        engine.dispose()
        raise
    return Book(place, engine, str(plant))


def _check_form(place: Place, form: str | None) -> None:
    if form is None:
        raise InputError(f"book {place.name}: is no book of runtrue; begin one elsewhere with `runtrue book init`")
    if not migrations.known(form):
        raise InputError(
            f"book {place.name}: was written by a newer runtrue (form {form}); this one, {runtrue.__version__}, knows "
            f"{migrations.HEAD}: install the newer one"
        )
    if form != migrations.HEAD:
        raise InputError(f"book {place.name}: has the older form {form}; bring it up with `runtrue book init`")


def make_book(given: str | None, *, plant: str, who: str, at: datetime | None = None) -> tuple[Book, bool]:
    """Begin a book, or bring one that is there to this program's form; whether anything was made."""
    place, name = place_of(given), clean_name("plant", plant)
    if place.file is not None:
        refuse_share(place.file)
        if place.file.is_dir():
            raise InputError(f"book {place.file}: is a folder; give the path of the file itself")
        make_folder(place.file)
    engine = make_engine(place, create=True)
    try:
        with foreseen(place), engine.connect() as connection:
            if place.file is not None:
                connection.exec_driver_sql("COMMIT")
                connection.exec_driver_sql("PRAGMA journal_mode = WAL")
                connection.rollback()
        with foreseen(place), engine.connect().execution_options(writes=True) as connection, connection.begin():
            take_turn(connection)
            form = migrations.revision(connection)
            if form is not None and not migrations.known(form):
                _check_form(place, form)
            made = form != migrations.HEAD
            if made:
                migrations.upgrade(connection)
                known = connection.execute(select(Entry.plant).where(Entry.seq == 1).limit(1)).scalar()
                pen = Pen(connection, plant=known or name, who=who, at=at or datetime.now(UTC))
                entry = pen.enter("opened")
                pen.add(Opened, entry, revision=migrations.HEAD, version=runtrue.__version__)
                pen.finish()
    except BaseException:
        engine.dispose()
        raise
    engine.dispose()
    return open_book(given), made


def make_folder(file: Path) -> None:
    """Make the folder that a book is to lie in."""
    try:
        file.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise SurroundingsError(
            f"book {file}: its folder cannot be made ({error.strerror}); check the rights, or name another"
        ) from None
