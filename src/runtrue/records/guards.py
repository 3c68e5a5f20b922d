"""Triggers that keep what is written: no update, no delete, no truncate in the tables that only grow."""

from collections.abc import Iterable

from sqlalchemy import Connection

SAID = "the book only grows: write an entry that replaces this one"


def guard(connection: Connection, tables: Iterable[str]) -> None:
    """Put the triggers on these tables."""
    for statement in statements(connection.dialect.name, tables):
        connection.exec_driver_sql(statement)


def statements(dialect: str, tables: Iterable[str]) -> list[str]:
    """The statements that make the triggers."""
    if dialect == "sqlite":
        return [
            f'CREATE TRIGGER {table}_no_{what} BEFORE {what.upper()} ON "{table}" '
            f"BEGIN SELECT RAISE(ABORT, '{SAID}'); END"
            for table in tables
            for what in ("update", "delete")
        ]
    body = f"BEGIN RAISE EXCEPTION '{SAID}'; END"
    return [
        f"CREATE OR REPLACE FUNCTION book_only_grows() RETURNS trigger LANGUAGE plpgsql AS $$ {body} $$",
        *(
            f'CREATE TRIGGER {table}_only_grows BEFORE UPDATE OR DELETE OR TRUNCATE ON "{table}" '
            "FOR EACH STATEMENT EXECUTE FUNCTION book_only_grows()"
            for table in tables
        ),
    ]


def guarded(connection: Connection) -> set[str]:
    """Names of the triggers that are there."""
    query = (
        "SELECT name FROM sqlite_master WHERE type = 'trigger'"
        if connection.dialect.name == "sqlite"
        else "SELECT tgname FROM pg_trigger WHERE NOT tgisinternal"
    )
    return {row[0] for row in connection.exec_driver_sql(query)}


def expected(dialect: str, tables: Iterable[str]) -> set[str]:
    """Names of the triggers that have to be there."""
    if dialect == "sqlite":
        return {f"{table}_no_{what}" for table in tables for what in ("update", "delete")}
    return {f"{table}_only_grows" for table in tables}
