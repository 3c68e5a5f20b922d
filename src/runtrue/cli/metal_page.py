"""Study, register, life and trend as pages in the terminal: the sentence first, the table, the cautions."""

from collections.abc import Callable, Sequence

from rich.console import Console
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from runtrue.cli.listening_page import _console, _not_judged, _print_list, _table
from runtrue.contract.life import LifeResult, SurvivalStep, TrendResult
from runtrue.contract.metal import MetalResult, PieceRow
from runtrue.contract.study import AxisStudy, CentringStudyResult
from runtrue.workflow.metal_words import (
    crossing_words,
    life_told,
    metal_told,
    slope_words,
    stop_words,
    study_told,
    trend_told,
)
from runtrue.workflow.words import fixed

_STYLES = {"accept": "cyan", "sand": "yellow", "measure first": "yellow", "refuse": "bold red"}
_MARKS = {"accept": "●", "sand": "◐", "measure first": "◐", "refuse": "■"}


def print_study(result: CentringStudyResult, console: Console | None = None) -> None:
    """Print the page of a study on stdout."""
    page = console or _console()
    page.print(Text(study_told(result), style="bold"))
    table = _table("Standard deviations", ("", ""), ("along x", "right"), ("along y", "right"))
    for words, value in _AXIS_ROWS:
        table.add_row(words, value(result.x), value(result.y))
    page.print(Padding(table, (1, 0, 0, 0)))
    people = _table("People", ("operator", ""), ("bias x", "right"), ("bias y", "right"), ("scatter", "right"))
    for one in result.operators:
        people.add_row(one.operator, _um(one.bias_x_um), _um(one.bias_y_um), _um(one.scatter_um))
    page.print(Padding(people, (1, 0, 0, 0)))
    if result.lens_noise_um is not None:
        page.print()
        page.print(
            f"Scatter of one reading {_um(result.lens_noise_um)}, {result.lens_noise_spare} to spare: "
            f"--lens-noise-um {result.lens_noise_um:.1f} for stamper centre"
        )
    _close(page, result)


def _um(value: float) -> str:
    return f"{fixed(value, 1)} μm"


_AXIS_ROWS: tuple[tuple[str, Callable[[AxisStudy], str]], ...] = (
    ("same person again", lambda a: f"{_um(a.repeatability_um)} ({_ends(a)})"),
    ("between people", lambda a: _um(a.reproducibility_um)),
    ("people and lens together", lambda a: _um(a.gauge_um)),
    ("between stampers", lambda a: _um(a.stampers_um)),
    ("share of the whole spread", lambda a: f"{fixed(a.percent, 0)} %, {a.word}"),
    ("stampers told apart", lambda a: f"{a.categories} classes"),
)


def _ends(axis: AxisStudy) -> str:
    return f"{fixed(axis.repeatability_low_um, 1)} to {fixed(axis.repeatability_high_um, 1)}"


def print_metal(result: MetalResult, console: Console | None = None) -> None:
    """Print the page of a register on stdout."""
    page = console or _console()
    page.print(Text(metal_told(result), style="bold"))
    table = _table(
        "Pieces", ("piece", ""), ("matrix", ""), ("grown", ""), ("state", ""), ("impressions", "right"),
        ("thickness", "right"), ("advice", ""), ("why", ""),
    )  # fmt: skip
    for piece in result.pieces:
        name = f"{'  ' * len(piece.family)}{piece.generation} {piece.id}"
        advice = Text(f"{_MARKS[piece.advice]} {piece.advice}", style=_STYLES[piece.advice])
        table.add_row(name, piece.matrix, piece.grown, piece.state, str(piece.impressions), _thickness(piece), advice,
                      "; ".join([*piece.reasons, *(f"not measured: {w}" for w in piece.not_looked_at)]))  # fmt: skip
    page.print(Padding(table, (1, 0, 0, 0)))
    marks = [(piece, mark, kind) for piece in result.pieces
             for kind, marks in (("fault", piece.faults), ("repair", piece.repairs)) for mark in marks]  # fmt: skip
    if marks:
        seen = _table("Seen", ("piece", ""), ("", ""), ("what", ""), ("place", ""), ("where", ""))
        for piece, mark, kind in marks:
            place = f"{mark.hour:g} o’clock, {fixed(mark.radius_mm, 0)} mm"
            where = "" if kind == "repair" else "recorded part" if mark.recorded else "outside the recorded part"
            seen.add_row(piece.id, kind, mark.what, place, where)
        page.print(Padding(seen, (1, 0, 0, 0)))
    rules = result.rules
    page.print()
    page.print(
        f"Asked for: {rules.thinnest_um:g} to {rules.thickest_um:g} μm thick, wedge at most {rules.wedge_um:g} μm over "
        f"the disc, back at most {rules.back_um:g} μm; {rules.owner}, {rules.source}"
    )
    _close(page, result)


def _thickness(piece: PieceRow) -> str:
    found = piece.thickness
    if found is None:
        return ""
    return f"{fixed(found.mean_um, 0)} μm, wedge {fixed(found.wedge_um, 0)}"


def print_life(result: LifeResult, console: Console | None = None) -> None:
    """Print the page of lives on stdout."""
    page = console or _console()
    page.print(Text(life_told(result), style="bold"))
    page.print()
    page.print(f"{result.stampers} stampers: {result.worn_out} worn out, {result.taken_off_sound} taken off sound")
    if result.survival:
        table = _table(
            "Still good", ("after", "right"), ("on press", "right"), ("worn out", "right"), ("share good", "right"),
            ("95 % limits", "right"),
        )  # fmt: skip
        for step in thinned(result.survival):
            table.add_row(str(step.impressions), str(step.on_press), str(step.worn_out), fixed(step.share_good, 2),
                          f"{fixed(step.low, 2)} to {fixed(step.high, 2)}")  # fmt: skip
        page.print(Padding(table, (1, 0, 0, 0)))
    if result.law is not None:
        law = result.law
        table = _plain("Weibull's law")
        table.add_row("shape", f"{fixed(law.shape, 2)} ({fixed(law.shape_low, 2)} to {fixed(law.shape_high, 2)})")
        table.add_row("one in ten worn", f"{law.tenth_worn_impressions:.0f} ({law.tenth_worn_low:.0f} to "
                      f"{law.tenth_worn_high:.0f}) impressions")  # fmt: skip
        table.add_row("half worn", f"{law.half_worn_impressions:.0f} ({law.half_worn_low:.0f} to "
                      f"{law.half_worn_high:.0f}) impressions")  # fmt: skip
        table.add_row("mean", f"{law.mean_impressions:.0f} impressions")
        page.print(Padding(table, (1, 0, 0, 0)))
    table = _table("Why taken off", ("reason", ""), ("stampers", "right"))
    for reason, many in result.reasons.items():
        table.add_row(reason, str(many))
    page.print(Padding(table, (1, 0, 0, 0)))
    _close(page, result)


MOST_STEPS = 20
"""Steps of the curve that are shown; the JSON has all."""


def thinned(steps: Sequence[SurvivalStep]) -> Sequence[SurvivalStep]:
    """At most ``MOST_STEPS`` of the steps, the last among them."""
    apart = -(-len(steps) // MOST_STEPS)
    return steps[::-1][::apart][::-1] if apart else steps


def print_trend(result: TrendResult, console: Console | None = None) -> None:
    """Print the page of trends on stdout."""
    page = console or _console()
    page.print(Text(trend_told(result), style="bold"))
    table = _table(
        "Trends", ("stamper", ""), ("what", ""), ("copies", "right"), ("last", "right"), ("per 100", "right"),
        ("limit", "right"), ("meets it at", ""), ("next copy safe to", "right"),
    )  # fmt: skip
    for row in result.trends:
        unit = f" {row.unit}" if row.unit else ""
        table.add_row(
            row.stamper, row.words, str(row.values), f"{fixed(row.last_value, 1)}{unit} at {row.last_impressions}",
            slope_words(row), "" if row.limit is None else f"{fixed(row.limit, 1)}{unit}",
            "" if row.crosses_at is None else crossing_words(row), "" if row.safe_to is None else str(row.safe_to),
        )  # fmt: skip
    page.print(Padding(table, (1, 0, 0, 0)))
    _print_list(page, "Stop rule", [f"{row.stamper}, {row.words}: {stop_words(row.stop)}" for row in result.trends
                                    if row.stop is not None])  # fmt: skip
    _close(page, result)


def _plain(title: str) -> Table:
    table = Table(title=title, title_justify="left", title_style="bold", box=None, pad_edge=False, show_header=False,
                  padding=(0, 2, 0, 0))  # fmt: skip
    for _ in range(2):
        table.add_column(overflow="fold")
    return table


def _close(page: Console, result: CentringStudyResult | MetalResult | LifeResult | TrendResult) -> None:
    """What stands at the foot of every page of the station."""
    _print_list(page, "Cautions", result.cautions)
    _print_list(page, "Not judged", _not_judged(result.not_judged))
    _print_list(page, "Safety", result.safety)
    file = f"{result.input.file} {result.input.sha256[:12]}"
    page.print(Text(f"Limits and ± are 95 %. runtrue {result.version}, {file}", style="dim"))
