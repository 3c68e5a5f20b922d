"""Results of the press as pages in the terminal: the sentence first, then the numbers, what matters, the cautions."""

from collections.abc import Callable
from typing import Any

from rich.console import Console
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from runtrue.cli.listening_page import _console, _findings, _not_judged, _print_list, _table, _word
from runtrue.contract.press_biscuit import PressBiscuit
from runtrue.contract.press_calibration import PressCalibration
from runtrue.contract.press_cycle import PressCycle, PressCycles
from runtrue.contract.press_rest import PressRest
from runtrue.contract.press_shorten import PressShorten
from runtrue.contract.press_trial import PressTrial
from runtrue.workflow.press_words import (
    bad_words,
    biscuit_told,
    calibration_told,
    compared_words,
    cycle_rows,
    cycles_told,
    difference_rows,
    fitted_words,
    input_rows,
    ranged,
    rest_told,
    setting_rows,
    shorten_told,
    trial_told,
)


def print_press(result: Any) -> None:
    """Print what an action of the press came to."""
    pages: dict[type, Callable[[Any, Console], None]] = {
        PressCycles: print_cycles,
        PressCalibration: print_calibration,
        PressShorten: print_shorten,
        PressTrial: print_trial,
        PressRest: print_rest,
        PressBiscuit: print_biscuit,
    }
    pages[type(result)](result, _console())


def print_cycles(result: PressCycles, page: Console) -> None:
    """Print the page of one or two cycles."""
    for sentence in cycles_told(result):
        page.print(Text(sentence, style="bold"))
    page.print()
    page.print(_side_by_side(result))
    if result.difference is not None:
        page.print(Padding(_rows("Second less first", difference_rows(result.difference)), (1, 0, 0, 0)))
    page.print(Padding(_inputs(result.cycles[0]), (1, 0, 0, 0)))
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


def _inputs(one: PressCycle) -> Table:
    table = _table(
        "What matters for the mid-plane at opening", ("input", ""), ("if it is off by", "right"),
        ("mid-plane", "right"), ("stamper face", "right"), ("share of the doubt", "right"),
    )  # fmt: skip
    for row in input_rows(one):
        table.add_row(*row)
    return table


def print_calibration(result: PressCalibration, page: Console) -> None:
    """Print the page of a calibrated press."""
    page.print(Text(calibration_told(result), style="bold"))
    page.print()
    table = _table(
        "Fitted", ("input", ""), ("press file", "right"), ("this press", "right"), ("before", "right"),
        ("after", "right"), ("the log tells it", ""),
    )  # fmt: skip
    for row in result.inputs:
        table.add_row(
            row.words, f"{row.stated:g}", fitted_words(row), f"± {row.before_percent:.0f} %",
            f"± {row.after_percent:.0f} %", "yes" if row.told else "no",
        )  # fmt: skip
    page.print(table)
    along = [(row.words, f"{row.value:+.2f} {row.unit}".replace("-", "−")) for row in result.along]
    along.append(("scatter of a reading about the fit", f"{result.scatter_k:.2f} K"))
    page.print(Padding(_rows("Fitted along", along), (1, 0, 0, 0)))
    _close(result.cautions, _not_judged(result.not_judged), result.safety, page)
    log = result.log
    page.print(
        Text(
            f"Limits are 95 %. runtrue {result.version}, {result.file} {result.sha256[:12]}, {log.file} "
            f"{log.sha256[:12]}, {log.readings} readings; --json prints what press shorten takes",
            style="dim",
        )
    )


def print_shorten(result: PressShorten, page: Console) -> None:
    """Print the page of the question whether it can run shorter."""
    for sentence in shorten_told(result):
        page.print(Text(sentence, style="bold"))
    page.print(_word(result.verdict), "of the temperature at opening alone; warp and non-fill have odds and no limit")
    page.print()
    if result.now is not None and result.shorter is not None:
        table = _table("At both settings", ("", ""), ("now", "right"), ("shorter", "right"))
        for now, then in zip(setting_rows(result.now), setting_rows(result.shorter), strict=True):
            table.add_row(now[0], now[1], then[1])
        page.print(table)
    kinds = (("warped after 24 h", result.warp_24h), ("non-fill", result.non_fill))
    known = [(words, bad_words(found)) for words, found in kinds if found is not None]
    if known:
        page.print(Padding(_rows("From the plant's own counts", known), (1, 0, 0, 0)))
    if result.findings:
        page.print(Padding(_findings(result.findings), (1, 0, 0, 0)))
    if result.matters:
        matters = _table(
            "What the doubt comes from", ("input", ""), ("differs by", ""), ("mid-plane", "right"), ("share", "right")
        )
        for row in result.matters:
            of = "record to record" if row.of == "record" else "what the log left open"
            matters.add_row(row.words, of, f"± {row.mid_plane_k:.1f} K", f"{row.share_percent:.0f} %")
        page.print(Padding(matters, (1, 0, 0, 0)))
    _print_list(page, "The trial that would prove it", [result.trial.words])
    _close(result.cautions, _not_judged(result.not_judged), result.safety, page)
    page.print(
        Text(
            f"Ranges hold 95 of 100. runtrue {result.version}, {result.file} {result.sha256[:12]}, calibration "
            f"{result.calibration or 'none'}",
            style="dim",
        )
    )


def print_trial(result: PressTrial, page: Console) -> None:
    """Print the page of a trial."""
    page.print(Text(trial_told(result), style="bold"))
    page.print()
    table = _table(
        "Median (records), or bad of all", ("", ""), (result.first, "right"), (result.second, "right"),
        ("second less first, 95 %", "right"), ("p", "right"), ("differs", ""),
    )  # fmt: skip
    for row in result.rows:
        first, second, shift = compared_words(row)
        p = "–" if row.p_adjusted is None else f"{row.p_adjusted:.3f}"
        table.add_row(
            row.words, first, second, shift, p, {True: "yes", False: "not shown", None: "cannot judge"}[row.differs]
        )
    page.print(table)
    _close(result.cautions, _not_judged(result.not_judged), result.safety, page)
    page.print(
        Text(f"p adjusted for several looks. runtrue {result.version}, {result.file} {result.sha256[:12]}", style="dim")
    )


def print_rest(result: PressRest, page: Console) -> None:
    """Print the page of a pile that cools."""
    page.print(Text(rest_told(result), style="bold"))
    page.print()
    rows = [
        ("middle of the pile below", f"{result.below_degc:g} °C"),
        ("room", f"{result.room_degc:g} °C"),
        ("rest", ranged(result.rest_h, "h")),
        ("ready at, at the latest", result.ready_at or "–"),
    ]
    page.print(_rows("Rest", rows))
    _close(result.cautions, _not_judged(result.not_judged), result.safety, page)
    page.print(Text(f"Ranges are 95 %. runtrue {result.version}, {result.file} {result.sha256[:12]}", style="dim"))


def print_biscuit(result: PressBiscuit, page: Console) -> None:
    """Print the page of a biscuit."""
    for sentence in biscuit_told(result):
        page.print(Text(sentence, style="bold"))
    page.print()
    record, made = result.record, result.biscuit
    rows = [
        ("record", f"{record.mass_g:.1f} g, {record.thickness_mm:.2f} mm, {record.volume_cm3:.1f} cm³"),
        ("mould for it", f"{record.mould_diameter_mm:.1f} mm, contraction {record.contraction_percent:g} %"),
        ("biscuit", f"{made.mass_g:.1f} g, of it flash {made.flash_g:.1f} g"),
    ]
    if result.pressing is not None:
        press = result.pressing
        rows += [
            ("spreads, if nothing froze", "–" if press.spread_free_ms is None else f"{press.spread_free_ms:.2f} ms"),
            ("closes with ram and skin", "–" if press.closes_s is None else f"{press.closes_s:.2f} s"),
            ("skin by then, each face", "–" if press.skin_um is None else f"{press.skin_um:.0f} μm"),
        ]
    page.print(_rows("Sizes", rows))
    _close(result.cautions, _not_judged(result.not_judged), result.safety, page)
    page.print(Text(f"Ranges are 95 %. runtrue {result.version}", style="dim"))
