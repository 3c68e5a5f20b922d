"""A connection pool to the book: one writer at a time, readers that see one moment."""

import os
import sqlite3
from typing import Any
from urllib.parse import quote

from sqlalchemy import Connection, Engine, create_engine, event

from runtrue.records.place import Place
from runtrue.records.trouble import WAIT

_WRITERS = 0x72756E  # advisory lock of the database under which all writing happens


def make_engine(place: Place, *, create: bool = False) -> Engine:
    """Engine of a place; ``create`` lets SQLite begin a new file."""
    if place.file is None:
        return create_engine(place.url, pool_pre_ping=True, connect_args={"connect_timeout": int(WAIT)})
    mode = "rwc" if create else "rw"
    address = f"file:{quote(os.fsencode(place.file))}?mode={mode}"

    def connect() -> sqlite3.Connection:
        return sqlite3.connect(address, uri=True, timeout=WAIT, check_same_thread=False, isolation_level=None)

    engine = create_engine("sqlite://", creator=connect)
    event.listen(engine, "connect", _set_up)
    event.listen(engine, "begin", _begin)
    return engine


def _set_up(connection: sqlite3.Connection, _record: Any) -> None:
    connection.execute("PRAGMA foreign_keys = ON")
    connection.execute("PRAGMA synchronous = FULL")
    connection.execute("PRAGMA cache_size = -32000")


def _begin(connection: Connection) -> None:
    writes = connection.get_execution_options().get("writes", False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")


def take_turn(connection: Connection) -> None:
    """Wait until no one else writes; SQLite has waited when the transaction began."""
    if connection.dialect.name == "postgresql":
        connection.exec_driver_sql(f"SET LOCAL lock_timeout = '{WAIT * 1000:.0f}ms'")
        connection.exec_driver_sql(f"SELECT pg_advisory_xact_lock({_WRITERS})")
