"""What the book prints, as a page in the terminal: the sentence first, then each list as a table."""

from collections.abc import Sequence
from dataclasses import fields, is_dataclass
from typing import Any

from rich.console import Console
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from runtrue.cli.listening_page import _MARKS, _STYLES, _console, _print_list
from runtrue.workflow.words import VERDICT_WORDS

_LEFT_OUT = frozenset(
    {"schema", "said", "act", "verdict", "cautions", "not_judged", "version", "book", "text", "entry", "plant", "form"}
)
MOST_ROWS = 40
"""Rows of a table that are shown; --json prints all."""


def print_book(result: Any, console: Console | None = None) -> None:
    """Print a result of the book on stdout."""
    page = console or _console()
    page.print(
        Text(result.text if hasattr(result, "text") else result.said, style="" if hasattr(result, "text") else "bold")
    )
    if getattr(result, "act", ""):
        page.print(Text(result.act, style="bold"))
    verdict = getattr(result, "verdict", None)
    if verdict is not None:
        page.print(Text(f"{_MARKS[verdict]} {VERDICT_WORDS[verdict]}", style=_STYLES[verdict]))
    single = [(item.name, getattr(result, item.name)) for item in fields(result) if item.name not in _LEFT_OUT]
    rows = [(name, _cell(value)) for name, value in single if value not in (None, []) and not _is_table(value)]
    if rows:
        page.print(Padding(_pairs(rows), (1, 0, 0, 0)))
    for name, value in single:
        if _is_table(value):
            page.print(Padding(_table(name, value), (1, 0, 0, 0)))
    _print_list(page, "Cautions", getattr(result, "cautions", []))
    page.print(Text(", ".join([f"runtrue {result.version}", getattr(result, "book", "")]).rstrip(", "), style="dim"))


def _is_table(value: Any) -> bool:
    return isinstance(value, list) and bool(value) and is_dataclass(value[0])


def _pairs(rows: Sequence[tuple[str, str]]) -> Table:
    table = Table(box=None, show_header=False, pad_edge=False, padding=(0, 2, 0, 0))
    table.add_column(style="dim")
    table.add_column(overflow="fold")
    for name, value in rows:
        table.add_row(_words(name), value)
    return table


def _table(name: str, rows: Sequence[Any]) -> Table:
    table = Table(title=_words(name).capitalize(), title_justify="left", title_style="bold", box=None, pad_edge=False,
                  header_style="dim", padding=(0, 2, 0, 0))  # fmt: skip
    shown = [item.name for item in fields(rows[0])
             if item.name != "entry" and any(getattr(row, item.name) is not None for row in rows)]  # fmt: skip
    for column in shown:
        number = all(isinstance(getattr(row, column), int | float | None) for row in rows)
        table.add_column(_words(column), justify="right" if number else "left", overflow="fold")
    for row in rows[:MOST_ROWS]:
        table.add_row(*(_cell(getattr(row, column)) for column in shown))
    if len(rows) > MOST_ROWS:
        table.caption = f"and {len(rows) - MOST_ROWS} more; --json prints all"
        table.caption_justify = "left"
    return table


def _words(name: str) -> str:
    return name.replace("_", " ")


def _cell(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, tuple):
        return f"{value[0]}" if value[0] == value[1] else f"{value[0]} to {value[1]}"
    if isinstance(value, list):
        return ", ".join(str(one) for one in value)
    if isinstance(value, float):
        return f"{value:g}"
    return str(value).replace("_", " ") if value in ("surely_not", "cannot_judge") else str(value)
