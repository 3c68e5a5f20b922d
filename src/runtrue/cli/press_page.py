"""Results of the press as pages in the terminal: the sentence first, then the numbers, what matters, the cautions."""

from typing import Any

from rich.console import Console
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from runtrue.cli.listening_page import _console, _not_judged, _print_list, _table
from runtrue.contract.press_cycle import InputEffect, PressCycles
from runtrue.workflow.press_words import cycle_rows, cycles_told, difference_rows, signed


def print_press(result: Any) -> None:
    """Print what an action of the press came to."""
    match result:
        case PressCycles():
            print_cycles(result)
        case _:
            raise TypeError(f"no page for {type(result).__name__}")


def print_cycles(result: PressCycles, console: Console | None = None) -> None:
    """Print the page on stdout."""
    page = console or _console()
    for sentence in cycles_told(result):
        page.print(Text(sentence, style="bold"))
    page.print()
    page.print(_side_by_side(result))
    if result.difference is not None:
        page.print(Padding(_rows("Second less first", difference_rows(result.difference)), (1, 0, 0, 0)))
    page.print(Padding(_inputs(result.cycles[0].inputs), (1, 0, 0, 0)))
    _close(result.cautions, _not_judged(result.not_judged), result.safety, page)
    files = ", ".join(f"{one.file} {one.sha256[:12]}" for one in result.cycles)
    page.print(Text(f"± and ranges are 95 %. runtrue {result.version}, {files}", style="dim"))
    if result.picture is not None:
        page.print(f"Picture: {result.picture}")


def _close(cautions: list[str], not_judged: list[str], safety: list[str], page: Console) -> None:
    _print_list(page, "Cautions", cautions)
    _print_list(page, "Not judged", not_judged)
    _print_list(page, "Safety", safety)


def _side_by_side(result: PressCycles) -> Table:
    table = _table("Worked out", ("", ""), *((one.name, "right") for one in result.cycles))
    columns = [cycle_rows(one) for one in result.cycles]
    for row in zip(*columns, strict=True):
        table.add_row(row[0][0], *(value for _, value in row))
    return table


def _rows(title: str, rows: list[tuple[str, str]]) -> Table:
    table = _table(title, ("", ""), ("", "right"))
    table.show_header = False
    for words, value in rows:
        table.add_row(words, value)
    return table


def _inputs(inputs: list[InputEffect]) -> Table:
    table = _table(
        "What matters for the mid-plane at opening", ("input", ""), ("if it is off by", "right"),
        ("mid-plane", "right"), ("stamper face", "right"), ("share of the doubt", "right"),
    )  # fmt: skip
    for row in inputs:
        off = f"{row.u95_percent:g} %" if row.u95_percent is not None else f"{row.u95_k:g} K"
        table.add_row(
            row.words, off, signed(row.mid_plane_k, "K"), signed(row.stamper_face_k, "K"), f"{row.share_percent:.0f} %"
        )
    return table
