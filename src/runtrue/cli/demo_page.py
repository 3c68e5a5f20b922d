"""The demonstration's outcome as a page in the terminal: the sentence, one row for each recording, who has to act."""

from rich.console import Console
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from runtrue.cli.listening_page import _console, _table, _word
from runtrue.contract.demo import DemoCopy, Demonstration
from runtrue.workflow.words import number


def print_demonstration(outcome: Demonstration, page: Console | None = None) -> None:
    """Print the page on stdout."""
    page = page or _console()
    page.print()
    page.print(Text(outcome.headline, style="bold"))
    page.print(Text(outcome.act, style="bold"))
    page.print()
    page.print(_copies(outcome))
    page.print()
    page.print(Text("What was found, and what to do", style="bold"))
    for one in outcome.advice:
        line = Text.assemble((f"{one.station}: ", "bold"), one.found, " ", (one.act, "bold"))
        page.print(Padding(line, (0, 0, 0, 2)))
    page.print()
    page.print(
        Text(
            f"The dossier is {outcome.out}/dossier.pdf; results and the truth lie beside it. ± is 95 %. Copies fail on "
            "purpose: the demonstration itself ran, exit code 0.",
            style="dim",
        )
    )


def _copies(outcome: Demonstration) -> Table:
    rows = _table(
        outcome.title, ("copy", ""), ("closure", "right"), ("stamper", ""), ("side", ""), ("verdict", ""),
        ("found", ""), ("off-centre, μm", "right"), ("ticks", "right"),
    )  # fmt: skip
    for row in outcome.copies:
        rows.add_row(
            f"{row.copy}, {row.note}" if row.note else row.copy, str(row.closure), row.stamper, row.side,
            _word(row.verdict), row.found, _offset(row), "–" if row.ticks is None else str(row.ticks),
        )  # fmt: skip
    return rows


def _offset(row: DemoCopy) -> str:
    return "–" if row.offset_um is None else str(number(row.offset_um, row.offset_u95_um, "", decimals=0))
