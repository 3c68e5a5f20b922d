"""Forms of the book, each made from the one before. ``HEAD`` is the form this program writes."""

from pathlib import Path

from sqlalchemy import Connection, inspect

HEAD = "0002"
"""Newest revision; a test holds it to the files in ``versions``."""


def revision(connection: Connection) -> str | None:
    """Form of the book; None where there is none."""
    if not inspect(connection).has_table("alembic_version"):
        return None
    found = connection.exec_driver_sql("SELECT version_num FROM alembic_version").scalar()
    return None if found is None else str(found)


def known(name: str) -> bool:
    """Whether this program knows a form."""
    return any(path.name.startswith(f"{name}_") for path in (Path(__file__).parent / "versions").glob("*.py"))


def upgrade(connection: Connection, to: str = HEAD) -> None:
    """Bring the book to a form, within the transaction that is open."""
    from alembic import command
    from alembic.config import Config

    config = Config()
    config.set_main_option("script_location", str(Path(__file__).parent).replace("%", "%%"))
    config.attributes["connection"] = connection
    command.upgrade(config, to)
