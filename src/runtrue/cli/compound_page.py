"""The compound station's results as pages in the terminal: the sentence first, then the tables, then the cautions."""

from collections.abc import Sequence
from typing import Any

from rich.console import Console
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from runtrue.cli.listening_page import _MARKS, _STYLES, _console, _findings, _not_judged, _print_list, _table, _word
from runtrue.contract.batch import BatchResult, FamilyPart, FamilyResult
from runtrue.contract.blend import Blend
from runtrue.contract.charge import ChargeSheet
from runtrue.contract.compound_store import BalanceResult, LotResult, SheetResult, TraceResult
from runtrue.contract.weighed import Weighed
from runtrue.workflow.compound_told import (
    batch_facts,
    biscuits_words,
    blend_facts,
    certificate_row,
    charge_facts,
    charge_told,
    family_row,
    kg,
    lot_facts,
    number_word,
    sheet_row,
    weigh_facts,
)
from runtrue.workflow.words import VERDICT_WORDS, fixed

FEW_ROWS = 60
"""A page shows so many weighings; the JSON holds all."""


def print_compound(result: Any, console: Console | None = None) -> None:
    """Print the page of a result on stdout."""
    page = console or _console()
    _PAGES[type(result)](result, page)
    _print_list(page, "Cautions", result.cautions)
    _print_list(page, "Safety", result.safety)


def _head(page: Console, said: str, verdict: str | None) -> None:
    page.print(Text(said, style="bold"))
    if verdict is not None:
        word = f"{_MARKS[verdict]} {VERDICT_WORDS[verdict]}"  # type: ignore[index]
        page.print(Text(word, style=_STYLES[verdict]))  # type: ignore[index]
    page.print()


def _facts(title: str, rows: Sequence[tuple[str, str]]) -> Padding:
    table = Table(title=title, title_justify="left", title_style="bold", box=None, pad_edge=False, show_header=False,
                  padding=(0, 2, 0, 0))  # fmt: skip
    for _ in range(2):
        table.add_column(overflow="fold")
    for words, value in rows:
        table.add_row(words, value)
    return Padding(table, (1, 0, 0, 0))


def _charge(result: ChargeSheet, page: Console) -> None:
    _head(page, charge_told(result), None)
    table = _table(
        "Weigh in this order", ("", "right"), ("ingredient", ""), ("from lot", ""), ("kg", "right"), ("± kg", "right"),
        ("scale step", "right"),
    )  # fmt: skip
    for line in result.lines:
        lots = ", ".join(f"{d.lot} {kg(d.mass_kg)}" if len(line.draws) > 1 else d.lot for d in line.draws)
        table.add_row(
            str(line.line), line.ingredient, lots or "–", kg(line.mass_kg), kg(line.tolerance_kg),
            "–" if line.division_kg is None else f"{line.division_kg:g} kg",
        )  # fmt: skip
    page.print(table)
    page.print(_facts("The batch", charge_facts(result)))


def _weighed(result: Weighed, page: Console) -> None:
    _head(page, result.said, result.verdict)
    odd = [row for row in result.weighings if row.said]
    if odd:
        table = _table("Weighings to look at", ("line", "right"), ("ingredient", ""), ("kg", "right"), ("what", ""))
        for row in odd[:FEW_ROWS]:
            table.add_row(str(row.line), row.ingredient, kg(row.mass_kg), row.said)
        page.print(table)
        if len(odd) > FEW_ROWS:
            page.print(f"and {len(odd) - FEW_ROWS} more; --json prints all")
        page.print()
    table = _table(
        "The mix", ("ingredient", ""), ("asked, kg", "right"), ("weighed", "right"), ("away", "right"),
        ("formula %", "right"), ("mix %", "right"), ("", ""),
    )  # fmt: skip
    for line in result.lines:
        table.add_row(
            line.ingredient, kg(line.target_kg), kg(line.weighed_kg), kg(line.away_kg, signed=True),
            fixed(line.formula_percent, 2), fixed(line.mix_percent, 2), _word(line.verdict),
        )  # fmt: skip
    page.print(table)
    page.print(_facts("What it does", weigh_facts(result)))
    if result.remedy is not None and result.remedy.additions:
        each = " to each part" if result.remedy.parts > 1 else ""
        added = [(row.ingredient, kg(row.mass_kg)) for row in result.remedy.additions]
        page.print(_facts(f"Add{each}", added))
    _print_list(page, "Not judged", _not_judged(result.not_judged))


def _blend(result: Blend, page: Console) -> None:
    _head(page, result.said, None)
    for words in result.clash:
        page.print(f"  {words}")
    if result.lines is not None:
        table = _table("The blend", ("ingredient", ""), ("was %", "right"), ("now %", "right"), ("moved", "right"),
                       ("kg", "right"), ("bags", "right"))  # fmt: skip
        for line in result.lines:
            moved = fixed(line.moved_percent, 3)
            table.add_row(
                line.ingredient, fixed(line.was_percent, 3), fixed(line.percent, 3),
                "" if moved in ("0.000", "−0.000") else f"+{moved}" if line.moved_percent > 0.0 else moved,
                kg(line.mass_kg), "" if line.bags is None else str(line.bags),
            )  # fmt: skip
        page.print(table)
        page.print(_facts("It is", blend_facts(result)))
    _print_list(page, "What binds", [row.said for row in result.binding or ()])


def _batch(result: BatchResult, page: Console) -> None:
    _head(page, result.said, result.verdict)
    if result.findings:
        page.print(_findings(result.findings))
    page.print(_facts("Measured", batch_facts(result)))
    if result.family is not None:
        page.print()
        _family_table(result.family, page)
    _print_list(page, "Not judged", _not_judged(result.not_judged))


def _family(result: FamilyResult, page: Console) -> None:
    _head(page, result.said, result.verdict)
    _family_table(result.family, page)
    _print_list(page, "Not judged", _not_judged(result.not_judged))


def _family_table(part: FamilyPart, page: Console) -> None:
    for one in part.out[:FEW_ROWS]:
        page.print(f"  {one.said}")
    table = _table(
        "The family", ("number", ""), ("family", "right"), ("sd", "right"), ("newest", "right"), ("limits", "right"),
        ("", ""),
    )  # fmt: skip
    for number in part.numbers:
        table.add_row(*family_row(number), _word(number_word(number, part)))
    page.print(table)


def _lot(result: LotResult, page: Console) -> None:
    _head(page, result.said, result.verdict)
    if result.findings:
        page.print(_findings(result.findings))
    if result.certificate:
        table = _table("Certificate and own test", ("what", ""), ("certificate", "right"), ("own", "right"), ("", ""))
        for row in result.certificate:
            table.add_row(*certificate_row(row))
        page.print(table)
    page.print(_facts("The lot", lot_facts(result)))
    if result.family is not None:
        page.print()
        _family_table(result.family, page)
    _print_list(page, "Not judged", _not_judged(result.not_judged))


def _sheet(result: SheetResult, page: Console) -> None:
    _head(page, result.said, result.verdict)
    table = _table("Sheet and biscuits", ("what", ""), ("readings", "right"), ("mean", "right"), ("sd", "right"),
                   ("Cpk", "right"), ("", ""))  # fmt: skip
    for row in result.rows:
        table.add_row(*sheet_row(row), _word(row.verdict))
    page.print(table)
    for row in result.rows:
        _print_list(page, f"Worth a look, {row.words}", row.rules[:10])
    _print_list(page, "Not judged", _not_judged(result.not_judged))


def _balance(result: BalanceResult, page: Console) -> None:
    _head(page, result.said, result.verdict)
    table = _table("Masses", ("post", ""), ("kg", "right"), ("% of in", "right"))
    for row in result.posts:
        table.add_row(row.post.replace("_", " "), fixed(row.kg, 2), fixed(row.percent, 2))
    table.add_row("gap", f"{fixed(result.gap_kg, 2)} ± {fixed(result.gap_u95_kg, 2)}", fixed(result.gap_percent, 2))
    page.print(table)
    page.print(f"discs over in: {fixed(result.disc_yield_percent, 1)} %; to grind: {fixed(result.to_grind_kg, 1)} kg")


def _trace(result: TraceResult, page: Console) -> None:
    _head(page, result.said, None)
    table = _table("Batches", ("batch", ""), ("how", ""), ("biscuits", "right"), ("lots", ""))
    for link in result.batches:
        table.add_row(link.batch, link.how, biscuits_words(link), ", ".join(link.lots))
    page.print(table)
    if result.hours:
        table = _table("Press hours, UTC", ("press", ""), ("batch", ""), ("how", ""), ("surely", ""), ("at most", ""))
        for row in result.hours:
            sure = "–" if row.from_time is None else f"{row.from_time} to {row.to_time}"
            table.add_row(row.press, row.batch, row.how, sure, f"{row.maybe_from} to {row.maybe_to}")
        page.print(table)


_PAGES: dict[type, Any] = {
    ChargeSheet: _charge, Weighed: _weighed, Blend: _blend, BatchResult: _batch, FamilyResult: _family, LotResult: _lot,
    SheetResult: _sheet, BalanceResult: _balance, TraceResult: _trace,
}  # fmt: skip
