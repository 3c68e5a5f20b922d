"""JSON Schemas of the printed results, made from their dataclasses; ``docs/schema`` holds them."""

from typing import Any

from pydantic import TypeAdapter

from runtrue.contract import book
from runtrue.contract.compound import COMPOUND_RESULTS
from runtrue.contract.copies import COPIES_SCHEMA, Copies
from runtrue.contract.demo import DEMO_SCHEMA, Demonstration
from runtrue.contract.heard import HEARD_RESULTS
from runtrue.contract.listening import SCHEMA, Listening
from runtrue.contract.press import PRESS_RESULTS
from runtrue.contract.rendering import RENDER_SCHEMA, Rendering
from runtrue.contract.ring import RING_SCHEMA, FinderRing
from runtrue.contract.served import SERVED_SCHEMA, Served
from runtrue.contract.stamper import STAMPER_RESULTS

RESULTS: dict[str, type] = {
    **STAMPER_RESULTS,
    SCHEMA: Listening,
    **HEARD_RESULTS,
    RENDER_SCHEMA: Rendering,
    COPIES_SCHEMA: Copies,
    RING_SCHEMA: FinderRing,
    DEMO_SCHEMA: Demonstration,
    SERVED_SCHEMA: Served,
    **COMPOUND_RESULTS,
    **PRESS_RESULTS,
    book.ENTERED_SCHEMA: book.Entered,
    book.BOOK_SCHEMA: book.BookState,
    book.LOG_SCHEMA: book.Log,
    book.RECALL_SCHEMA: book.Recall,
    book.MADE_SCHEMA: book.Made,
    book.AGE_SCHEMA: book.Age,
    book.JOB_SCHEMA: book.JobPage,
    book.BALANCE_SCHEMA: book.Balances,
    book.CHAIN_SCHEMA: book.Chain,
    book.HAND_OVER_SCHEMA: book.HandOverText,
    book.IMPORT_SCHEMA: book.Imported,
    book.COLUMNS_SCHEMA: book.Columns,
    book.EXPORT_SCHEMA: book.Exported,
    book.CAPTURES_SCHEMA: book.Captures,
    book.TASKS_SCHEMA: book.Tasks,
}
"""Every printed result by the name in its ``schema`` key."""


def schema_of(name: str) -> dict[str, Any]:
    """JSON Schema of the result of this name: every key present, no other keys."""
    made = TypeAdapter(RESULTS[name]).json_schema(mode="serialization")
    for part in (made, *made.get("$defs", {}).values()):
        _close(part)
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", "$id": name, **made}


def file_name(name: str) -> str:
    """File in ``docs/schema`` of a result: ``runtrue/listening-1`` is in ``listening-1.json``."""
    return f"{name.rpartition('/')[2]}.json"


def _close(part: dict[str, Any]) -> None:
    """Close an object and take the titles that only repeat the key."""
    properties = part.get("properties")
    if properties is None:
        return
    part["required"] = list(properties)
    part["additionalProperties"] = False
    for value in properties.values():
        value.pop("title", None)
        value.pop("default", None)
