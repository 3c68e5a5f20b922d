"""The book as files: a CSV or JSON Lines file for each table, and a JSON Schema that says what the columns are."""

import csv
import json
from collections.abc import Iterator
from dataclasses import dataclass
from hashlib import file_digest
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Table, select

from runtrue.records.files import whole
from runtrue.records.tables import PROJECTIONS, Entry, grown, table_of
from runtrue.types import Progress

FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n")
"""What a cell begins with that a spreadsheet would work out in place of showing it (OWASP, CSV injection; memory)."""
_TYPES = {"Text": "string", "String": "string", "BigInteger": "integer", "Float": "number", "Boolean": "boolean"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Written:
    """A table that was written."""

    file: str
    table: str
    rows: int
    sha256: str
    neutralised: int


def export(connection: Connection, folder: Path, form: str, progress: Progress) -> list[Written]:
    """Write every table into a folder that is there; the schema goes last."""
    tables = [*grown(), *(table_of(model) for model in PROJECTIONS)]
    found = []
    for at, table in enumerate(tables):
        progress(f"writing {table.name}", at / len(tables))
        path = folder / f"{table.name}.{form}"
        with whole(path, "export") as part:
            rows, neutralised = (_csv if form == "csv" else _jsonl)(connection, table, part)
        with path.open("rb") as file:
            digest = file_digest(file, "sha256").hexdigest()
        found.append(Written(file=path.name, table=table.name, rows=rows, sha256=digest, neutralised=neutralised))
    with whole(folder / "schema.json", "export") as part:
        part.write_text(json.dumps(schema(tables), indent=1, ensure_ascii=False) + "\n", encoding="utf-8")
    return found


def schema(tables: list[Table]) -> dict[str, Any]:
    """JSON Schema of the rows of each table, by the table's name in ``$defs``."""
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$id": "runtrue/book-tables-1",
        "$defs": {table.name: _row_schema(table) for table in tables},
    }


def _row_schema(table: Table) -> dict[str, Any]:
    properties = {}
    for column in table.columns:
        name = type(column.type).__name__
        kind: dict[str, Any] = {"type": _TYPES.get(name, "string")}
        if name in ("Uuid", "Utc"):
            kind["format"] = "uuid" if name == "Uuid" else "date-time"
        if column.nullable:
            kind["type"] = [kind["type"], "null"]
        properties[column.name] = kind
    return {"type": "object", "properties": properties, "required": list(properties), "additionalProperties": False}


def neutral(text: str) -> str:
    """A text that no spreadsheet takes for a formula.

    Examples
    --------
    >>> neutral("=HYPERLINK(1)"), neutral("A-side")
    ("'=HYPERLINK(1)", 'A-side')
    """
    return f"'{text}" if text.lstrip(" ").startswith(FORMULA) else text


def _rows(connection: Connection, table: Table) -> Iterator[list[Any]]:
    query = select(table)
    if table is table_of(Entry):
        query = query.order_by(table.c.plant, table.c.seq)
    else:
        query = query.order_by(*table.primary_key.columns)
    for row in connection.execution_options(yield_per=2000).execute(query):
        yield [_plain(value) for value in row]


def _plain(value: Any) -> Any:
    if value is None or isinstance(value, str | int | float | bool):
        return value
    return value.isoformat() if hasattr(value, "isoformat") else str(value)


def _csv(connection: Connection, table: Table, path: Path) -> tuple[int, int]:
    count, neutralised = 0, 0
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file)
        writer.writerow([column.name for column in table.columns])
        for row in _rows(connection, table):
            cells = [neutral(value) if isinstance(value, str) else value for value in row]
            neutralised += sum(cell != value for cell, value in zip(cells, row, strict=True))
            writer.writerow(cells)
            count += 1
    return count, neutralised


def _jsonl(connection: Connection, table: Table, path: Path) -> tuple[int, int]:
    names, count = [column.name for column in table.columns], 0
    with path.open("w", encoding="utf-8") as file:
        for row in _rows(connection, table):
            file.write(json.dumps(dict(zip(names, row, strict=True)), ensure_ascii=False, allow_nan=False) + "\n")
            count += 1
    return count, 0
