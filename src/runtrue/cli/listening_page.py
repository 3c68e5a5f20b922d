"""The listening result as a page in the terminal: the sentence first, then the reasons, then where each fault lies."""

import sys
from collections.abc import Sequence

from rich.console import Console
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from runtrue.contract.listening import Burst, Centre, FindingRow, Listening, NotJudged, Tick, VerdictWord
from runtrue.workflow.words import (
    BURST_WORDS,
    VERDICT_WORDS,
    clock,
    finding_number,
    fixed,
    instant,
    limit_words,
    listed,
    number,
    odds,
    sentence_case,
    told,
)

FIRST = 20
"""Ticks that are shown."""
HEARD = 0.5
"""Odds of being heard from which a tick leads the page."""
WIDE = 120
"""Columns of a page that goes to a file."""
_STYLES: dict[VerdictWord, str] = {"pass": "cyan", "fail": "bold red", "cannot_judge": "yellow"}
_MARKS: dict[VerdictWord, str] = {"pass": "●", "fail": "■", "cannot_judge": "◐"}


def print_listening(result: Listening, console: Console | None = None) -> None:
    """Print the page on stdout."""
    page = console or _console()
    page.print(Text(told(result), style="bold"))
    page.print(_word(result.verdict))
    page.print()
    page.print(_findings(result.findings))
    page.print(_measured(result))
    _print_faults(result, page)
    _print_list(page, "Cautions", result.cautions)
    _print_list(page, "Not judged", _not_judged(result.not_judged))
    page.print(Text(f"± is 95 %. runtrue {result.version}, {result.settings.format}, {_file(result)}", style="dim"))


class _Page(Console):
    """A console that says so when its reader has gone, where the original ends the program with code 1."""

    def on_broken_pipe(self) -> None:
        """Leave it to the command line."""
        raise BrokenPipeError


def _console() -> Console:
    wide = None if sys.stdout.isatty() else WIDE
    return _Page(file=sys.stdout, width=wide, highlight=False, soft_wrap=False, emoji=False, markup=False)


def _word(verdict: VerdictWord) -> Text:
    return Text(f"{_MARKS[verdict]} {VERDICT_WORDS[verdict]}", style=_STYLES[verdict])


def _file(result: Listening) -> str:
    return f"{result.input.file} {result.input.sha256[:12]}"


def _table(title: str, *columns: tuple[str, str]) -> Table:
    table = Table(
        title=title, title_justify="left", title_style="bold", box=None, pad_edge=False, header_style="dim",
        padding=(0, 2, 0, 0),
    )  # fmt: skip
    for name, justify in columns:
        table.add_column(
            name, justify="right" if justify == "right" else "left", overflow="fold", no_wrap=name == "value"
        )
    return table


def _findings(rows: Sequence[FindingRow]) -> Table:
    table = _table(
        "Findings", ("what", ""), ("value", "right"), ("limit", ""), ("odds inside", ""), ("verdict", ""), ("by", "")
    )
    for row in rows:
        table.add_row(
            row.words,
            _value(row),
            _limit(row),
            _odds(row),
            _word(row.verdict)
            if row.in_verdict
            else Text(f"({VERDICT_WORDS[row.verdict]}; about the rig)", style="dim"),
            _source(row),
        )
    return table


def _value(row: FindingRow) -> str:
    if row.quantity == "programme_identity" and row.value is not None:
        return "as the reference" if row.value else "another"
    return str(finding_number(row))


def _odds(row: FindingRow) -> str:
    """Odds of a measured value; a count is exact and has none."""
    return "" if row.conformance_probability is None or row.u95 is None else odds(row.conformance_probability)


def _source(row: FindingRow) -> str:
    """Who sets the limit, short; the JSON has it whole."""
    return "runtrue" if row.quantity == "programme_identity" else row.source.partition(",")[0]


def _limit(row: FindingRow) -> str:
    return "as the reference" if row.quantity == "programme_identity" else limit_words(row)


def _measured(result: Listening) -> Padding:
    table = _table("Measured", ("what", ""), ("value", ""))
    for words, value in _measured_rows(result):
        table.add_row(words, value)
    return Padding(table, (1, 0, 0, 0))


def _measured_rows(result: Listening) -> list[tuple[str, str]]:
    rows: list[tuple[str, str]] = []
    programme, speed, off, noise = result.programme, result.speed, result.off_centre, result.noise
    if programme.reach_s is not None and programme.start_s is not None:
        reach = f"{clock(programme.reach_s[0])} to {clock(programme.reach_s[1])}"
        rows.append(("heard", f"{reach}, starts {fixed(programme.start_s, 3)} s into the recording"))
    if programme.channels is not None and (programme.channels != "straight" or programme.polarity == -1):
        rows.append(("channels", programme.channels + (", polarity inverted" if programme.polarity == -1 else "")))
    if speed.deviation_percent is not None:
        rows.append(("speed", _number(speed.deviation_percent, speed.u95_percent, "%", 3)))
    flutter = result.flutter
    steady = flutter.weighted_without_once_a_turn_percent
    if flutter.weighted_percent is not None and steady is not None and flutter.bandwidth_hz is not None:
        reach = (
            f"{fixed(steady, 3)} % without what comes once a turn; followed up to {fixed(flutter.bandwidth_hz, 0)} Hz"
        )
        weighted = _number(flutter.weighted_percent, flutter.u95_percent, "%", 3)
        rows.append(("flutter, weighted", f"{weighted}, {reach}"))
    turn = "fitted" if result.turn.fitted else "nominal"
    rows.append(("turn", f"{_number(result.turn.period_s, result.turn.u95_s, 's', 5)}, {turn}"))
    rows += [(f"off-centre, {name}", _centre(c)) for name, c in (("disc", off.disc), ("this placing", off.played)) if c]
    levels = (
        ("surface noise (A)", noise.surface_db_a), ("surface noise (468)", noise.surface_db_468),
        ("swish", noise.swish_db), ("rumble", noise.rumble_db), ("hum", noise.hum_db),
    )  # fmt: skip
    for words, level in levels:
        if level is not None:
            reference = "" if words == "swish" else f" re {result.level_reference}"
            rows.append((words, f"{fixed(level, 1)} dB{reference}"))
    return rows


def _centre(centre: Centre) -> str:
    direction = (
        "direction not known"
        if centre.direction_u95_deg >= 180.0
        else f"toward {_number(centre.direction_deg, centre.direction_u95_deg, '', 0)}°"
    )
    return (
        f"offset {_number(centre.offset_um, centre.offset_u95_um, 'μm', 0)} "
        f"(swing {fixed(centre.swing_um, 0)} μm), {direction}"
    )


def _print_faults(result: Listening, page: Console) -> None:
    if result.jumps:
        table = _table("Jumps", ("time", "right"), ("what", ""))
        for jump in result.jumps:
            way = "skips forward" if jump.turns > 0 else "goes back and repeats"
            turns = abs(jump.turns)
            table.add_row(clock(jump.programme_s), f"{way} {turns} turn{'' if turns == 1 else 's'}")
        page.print(Padding(table, (1, 0, 0, 0)))
    if result.ticks:
        _print_ticks(result.ticks, page)
    if result.bursts:
        page.print(Padding(_bursts(result.bursts), (1, 0, 0, 0)))
    reach = result.programme.reach_s
    looked = (("tick", result.ticks), ("jump", result.jumps), ("noise zone", result.bursts))
    none = [name for name, found in looked if found == []]
    if none and reach is not None:
        page.print()
        nothing = sentence_case(listed([f"no {name}" for name in none]))
        page.print(f"{nothing} found from {clock(reach[0], tenths=False)} to {clock(reach[1], tenths=False)}.")


def _print_ticks(ticks: Sequence[Tick], page: Console) -> None:
    """Those that are heard and those of trains first; the rest in one line."""
    judged = [tick for tick in ticks if tick.audible_probability is not None]
    leading = [tick for tick in ticks if (tick.audible_probability or 0.0) >= HEARD or tick.train is not None]
    if not judged:
        leading = list(ticks)
    if leading:
        page.print(
            Padding(_ticks(leading, "Ticks" if not judged else "Ticks that are heard, and trains"), (1, 0, 0, 0))
        )
    rest = len(ticks) - len(leading)
    if rest:
        page.print()
        page.print(f"{rest} more tick{'' if rest == 1 else 's'} that the music hides; --json has them all.")


def _ticks(ticks: Sequence[Tick], title: str) -> Table:
    """The most prominent ticks, in the order of the side."""
    loudest = sorted(ticks, key=lambda tick: (-(tick.audible_margin_db or 0.0), -tick.prominence_db))[:FIRST]
    shown = sorted(loudest, key=lambda tick: tick.programme_s)
    many = len(ticks)
    title = f"{title} ({many})" if many <= FIRST else f"{title} (the {FIRST} most prominent of {many})"
    table = _table(
        title, ("time", "right"), ("turn", "right"), ("angle", "right"), ("radius", "right"), ("over noise", "right"),
        ("odds heard", "right"), ("channel", ""), ("train", "right"),
    )  # fmt: skip
    for tick in shown:
        table.add_row(
            instant(tick.programme_s),
            str(tick.turn),
            _number(tick.angle_deg, tick.angle_u95_deg, "", 0) + "°",
            _number(tick.radius_mm, tick.radius_u95_mm, "mm", 1),
            f"{fixed(tick.prominence_db, 1)} dB",
            "" if tick.audible_probability is None else odds(tick.audible_probability),
            tick.channel,
            "" if tick.train is None else str(tick.train),
        )
    return table


def _bursts(bursts: Sequence[Burst]) -> Table:
    """Zones and thumps in the order of the side."""
    table = _table(
        f"Zones and thumps ({len(bursts)})", ("from", "right"), ("to", "right"), ("arc", "right"), ("turns", "right"),
        ("over noise", "right"), ("channel", ""), ("like", ""),
    )  # fmt: skip
    for burst in bursts[:FIRST]:
        table.add_row(
            clock(burst.from_s), clock(burst.to_s), f"{fixed(burst.from_deg, 0)}° to {fixed(burst.to_deg, 0)}°",
            str(burst.turns), f"{fixed(burst.prominence_db, 1)} dB", burst.channel, BURST_WORDS[burst.kind],
        )  # fmt: skip
    return table


def _not_judged(items: Sequence[NotJudged]) -> list[str]:
    """One line per reason, with all that it holds for."""
    by_reason: dict[str, list[str]] = {}
    for item in items:
        by_reason.setdefault(item.reason, []).append(item.key)
    return [f"{', '.join(keys)}: {reason}" for reason, keys in by_reason.items()]


def _number(value: float, u95: float | None, unit: str, decimals: int) -> str:
    return str(number(value, u95, unit, decimals=decimals))


def _print_list(page: Console, title: str, items: Sequence[str]) -> None:
    if not items:
        return
    page.print()
    page.print(Text(title, style="bold"))
    for item in items:
        page.print(Padding(item, (0, 0, 0, 2)))
