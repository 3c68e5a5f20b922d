"""The words of cue points and of a refit hearing."""

from rich.console import Console
from rich.text import Text

from runtrue.cli.listening_page import _console, _print_list, _table
from runtrue.contract.heard import CuedCopy, Ears, RefitHearing


def print_heard(result: CuedCopy | RefitHearing, console: Console | None = None) -> None:
    """Print either."""
    page = console or _console()
    if isinstance(result, CuedCopy):
        page.print(Text(f"{result.file}: cue points: {len(result.cues)}.", style="bold"))
    else:
        _print_hearing(result, page)
    _print_list(page, "Cautions", result.cautions)


def _print_hearing(result: RefitHearing, page: Console) -> None:
    page.print(
        Text(
            f"The threshold lies {result.shift_db:+.1f} ± {result.shift_u95_db:.1f} dB from the computed one, spread "
            f"{result.spread_db:.1f} dB; {result.marks} marks, {result.heard} heard.",
            style="bold",
        )
    )
    table = _table(
        "Ears and program", ("who", ""), ("marks", "right"), ("heard", "right"), ("alike", "right"), ("kappa", "right")
    )
    for row in (result.before, result.after, *result.listeners, *result.between):
        table.add_row(*_row(row))
    page.print(table)
    page.print(
        f"Use it: listen check --hearing-shift-db {result.shift_db:.1f} --hearing-spread-db {result.spread_db:.1f}"
    )


def _row(ears: Ears) -> tuple[str, ...]:
    kappa = "" if ears.kappa is None else f"{ears.kappa:.2f}"
    return ears.listener, str(ears.marks), str(ears.heard), f"{ears.alike_percent:.0f} %", kappa
