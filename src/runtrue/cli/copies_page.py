"""Copies compared as a page in the terminal: the sentence, what they share and who could have made it, what is next."""

from collections.abc import Sequence

from rich.console import Console
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from runtrue.cli.listening_page import _console, _not_judged, _print_list, _table, _word
from runtrue.contract.copies import Copies, CopyRow, RecurrenceRow
from runtrue.contract.ring import FinderRing
from runtrue.workflow.copies_words import copy_words, dated_words, interval_words, origin_words
from runtrue.workflow.words import fixed, instant, number, odds, sentence_case

FIRST = 12
"""Recurrences that are told in full; the others stand in the JSON."""


def print_copies(result: Copies, console: Console | None = None) -> None:
    """Print the page on stdout."""
    page = console or _console()
    page.print(Text(result.headline, style="bold"))
    if result.act:
        page.print(Text(result.act, style="bold"))
    page.print(_word(result.verdict))
    page.print()
    page.print(_copies(result.copies))
    several = [row for row in result.recurrences if len(row.copies) > 1]
    for row in several[:FIRST]:
        _print_recurrence(row, page)
    alone = len(result.recurrences) - len(several)
    left = [f"{len(several) - FIRST} more that several copies share"] if len(several) > FIRST else []
    left += [f"{alone} that every play of one copy has"] if alone else []
    if left:
        page.print(Padding(f"Not shown here: {' and '.join(left)}; --json has them.", (1, 0, 0, 0)))
    if result.dated:
        page.print(Padding(_dated(result), (1, 0, 0, 0)))
    if result.offsets:
        page.print(Padding(_offsets(result), (1, 0, 0, 0)))
    for pair in result.together or []:
        page.print(f"Both sides, {copy_words(pair.copies)}: {pair.advice}")
    if result.trends:
        page.print(Padding(_trends(result), (1, 0, 0, 0)))
    _print_list(page, "Cautions", result.cautions)
    _print_list(page, "Not judged", _not_judged(result.not_judged))
    laid = result.reference.file or f"the mean of {len(result.reference.copies)} copies"
    page.print(Text(f"± is 95 %. runtrue {result.version}, {result.format}, laid over {laid}", style="dim"))


def _copies(rows: Sequence[CopyRow]) -> Table:
    table = _table(
        "Copies", ("copy", ""), ("closure", "right"), ("stamper", ""), ("plays", "right"), ("ticks", "right"),
        ("noise (A)", "right"), ("off-centre", "right"), ("verdict", ""), ("", ""),
    )  # fmt: skip
    for row in rows:
        centre = row.off_centre
        table.add_row(
            row.copy,
            "" if row.closure is None else str(row.closure),
            row.stamper or "",
            str(row.plays),
            "" if row.ticks_s is None else str(len(row.ticks_s)),
            "" if row.surface_db_a is None else f"{fixed(row.surface_db_a, 1)} dB",
            "" if centre is None else str(number(centre.offset_um, centre.offset_u95_um, "μm", decimals=0)),
            _word(row.verdict),
            row.reason or "",
        )
    return table


def _print_recurrence(row: RecurrenceRow, page: Console) -> None:
    page.print()
    train = "" if row.train is None else f", train {row.train}"
    angle = number(row.angle_deg, row.angle_u95_deg, "", decimals=0)
    where = f"turn {row.turn}, {angle}°, radius {fixed(row.radius_mm, 1)} mm"
    page.print(Text(f"Tick at {instant(row.programme_s)} on {copy_words(row.copies)}{train}", style="bold"))
    facts = [where, f"{fixed(row.prominence_db, 1)} dB over noise"]
    facts += [f"not on {copy_words(row.without)}"] if row.without else ["on every copy that could show it"]
    facts += [f"{copy_words(row.untold)} cannot say"] if row.untold else []
    page.print(Padding("; ".join(facts) + ".", (0, 0, 0, 2)))
    for one in row.origins[:4]:
        if one.probability >= 0.01:
            page.print(Padding(f"{odds(one.probability):>14}  {origin_words(one.origin, one.which)}", (0, 0, 0, 2)))
    if row.chance_probability >= 0.001:
        page.print(Padding(f"{odds(row.chance_probability):>14}  chance", (0, 0, 0, 2)))
    for tie in row.cannot_tell_apart:
        told = " / ".join(origin_words(one.origin, one.which) for one in tie.origins)
        page.print(Padding(f"Cannot tell apart: {told}: {tie.because}.", (0, 0, 0, 2)))
    if row.from_closure is not None:
        end = "" if row.to_closure is None else f"; last seen {interval_words(row.to_closure)}"
        page.print(Padding(f"If it came on the press: begins {interval_words(row.from_closure)}{end}.", (0, 0, 0, 2)))
    if row.rises_db_per_1000 is not None:
        page.print(
            Padding(f"Its level changes by {fixed(row.rises_db_per_1000, 1)} dB in 1000 closures.", (0, 0, 0, 2))
        )
    page.print(Padding(row.advice, (0, 0, 0, 2)))
    if row.next is not None:
        page.print(Padding(f"Next: {row.next.words}.", (0, 0, 0, 2)))


def _dated(result: Copies) -> Table:
    table = _table("Copies without a count", ("copy", ""), ("closure", ""), ("stamper", ""), ("by", ""))
    for row in result.dated:
        sure = "" if row.stamper is None else f"{row.stamper} ({odds(row.stamper_probability)})"
        by = f"{row.marks} mark{'' if row.marks == 1 else 's'}" if row.marks else "no mark tells: anywhere in the run"
        table.add_row(row.copy, dated_words(row.stretches), sure, by)
    return table


def _offsets(result: Copies) -> Table:
    table = _table("Off-centre by stamper", ("stamper", ""), ("offset", "right"), ("toward", "right"), ("", ""))
    for row in result.offsets:
        offset = number(row.offset_um, row.u95_um, "μm", decimals=0)
        table.add_row(row.stamper or "", str(offset), f"{fixed(row.direction_deg, 0)}°", row.advice)
    return table


def _trends(result: Copies) -> Table:
    table = _table("Over the count", ("what", ""), ("stamper", ""), ("in 1000 closures", "right"), ("", ""))
    for row in result.trends:
        what = "surface noise (A)" if row.quantity == "surface_db_a" else "treble"
        crossing = "" if row.crossing_closure is None else f" Meets its limit at closure {row.crossing_closure:.0f}."
        change = number(row.per_1000_closures, row.u95, "dB", decimals=1)
        table.add_row(what, row.stamper or "", str(change), sentence_case(row.advice) + crossing)
    return table


def print_ring(result: FinderRing, console: Console | None = None) -> None:
    """Print what the ring marks."""
    page = console or _console()
    page.print(Text(f"{result.file}: print at 100 %, lay it with 0 at {result.zero}.", style="bold"))
    table = _table(
        "", ("", ""), ("time", "right"), ("turn", "right"), ("angle", "right"), ("radius", "right"), ("on", "")
    )
    for mark in result.marks:
        angle = number(mark.angle_deg, mark.angle_u95_deg, "", decimals=0)
        radius = number(mark.radius_mm, mark.radius_u95_mm, "mm", decimals=1)
        table.add_row(
            mark.letter, instant(mark.programme_s), str(mark.turn), f"{angle}°", str(radius), copy_words(mark.copies)
        )
    page.print(table)
    if result.left_out:
        page.print(f"{result.left_out} lesser faults have no place on it.")
    _print_list(page, "Cautions", result.cautions)
