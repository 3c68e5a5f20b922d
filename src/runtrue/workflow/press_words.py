"""Results of the press in words: what was worked out, in the trade's terms."""

from runtrue.contract.press_biscuit import PressBiscuit
from runtrue.contract.press_calibration import CalibratedInput, PressCalibration
from runtrue.contract.press_cycle import CycleDifference, PressCycle, PressCycles, Range
from runtrue.contract.press_rest import PressRest
from runtrue.contract.press_shorten import BadShares, PressShorten, SettingOutcome
from runtrue.contract.press_trial import PressTrial, ShareCompared, ValueCompared
from runtrue.paper.words import NO_BREAK, count, fixed, listed, odds


def ranged(value: Range | None, unit: str, *, decimals: int = 1) -> str:
    """ "69.7 (61.2 to 78.0) °C"; "–" where it was not judged.

    Examples
    --------
    >>> ranged(Range(value=69.7, low=61.2, high=78.0), "°C").replace(NO_BREAK, " ")
    '69.7 (61.2 to 78.0) °C'
    """
    if value is None:
        return "–"
    ends = f"({fixed(value.low, decimals)} to {fixed(value.high, decimals)})"
    return f"{fixed(value.value, decimals)} {ends}{NO_BREAK}{unit}"


def signed(value: float | None, unit: str, *, decimals: int = 1) -> str:
    """A difference with its sign.

    Examples
    --------
    >>> signed(2.04, "K").replace(NO_BREAK, " "), signed(-0.34, "K").replace(NO_BREAK, " "), signed(0.01, "s")[:3]
    ('+2.0 K', '−0.3 K', '0.0')
    """
    if value is None:
        return "–"
    text = fixed(value, decimals)
    plus = "+" if round(value, decimals) > 0.0 else ""
    return f"{plus}{text}{NO_BREAK}{unit}" if unit else f"{plus}{text}"


def cycles_told(result: PressCycles) -> list[str]:
    """What one or two cycles come to, a sentence each."""
    return [_told(one) for one in result.cycles]


def _told(one: PressCycle) -> str:
    mid = one.mid_plane_at_opening_degc
    said = f"{one.name}: opens at {one.opens_s:g} s with the middle of the record at {ranged(mid, '°C', decimals=0)}"
    if one.open_below_degc is None:
        return f"{said}."
    limit = f"the plant's {one.open_below_degc:g}{NO_BREAK}°C"
    if one.earliest_opening_s is None:
        return f"{said}; it does not surely get below {limit}."
    return f"{said}; it is below {limit} from {ranged(one.earliest_opening_s, 's')} on."


def cycle_rows(one: PressCycle) -> list[tuple[str, str]]:
    """The numbers of a cycle, words and value; the same rows for every cycle."""
    energy = one.energy
    rows = [
        ("cycle", f"{one.cycle_s:g} s, opens at {one.opens_s:g} s"),
        ("mould at the start", f"{one.mould_start_degc:.1f} °C" + (", running" if one.running else "")),
        ("mid-plane at opening", ranged(one.mid_plane_at_opening_degc, "°C")),
        ("stamper face at opening", ranged(one.stamper_face_at_opening_degc, "°C")),
        ("mean of the record at opening", ranged(one.mean_at_opening_degc, "°C")),
        ("stamper face, hottest", ranged(one.hottest_stamper_face_degc, "°C")),
        ("skin above flow temperature", ranged(one.at_flow_s, "s", decimals=2)),
        ("earliest opening", ranged(one.earliest_opening_s, "s", decimals=2)),
    ]
    if energy is None:
        return [*rows, ("steam, water", "–"), ("heat into the moulds", "–")]
    steam = "–" if energy.steam_kg is None else f"{energy.steam_kg:.2f} kg"
    water = "–" if energy.water_kg is None else f"{energy.water_kg:.0f} kg"
    return [
        *rows,
        ("steam, water", f"{steam} ({energy.heat_kwh:.2f} kWh), {water}"),
        ("heat into the moulds", f"{energy.moulds_percent:.0f} % of the steam's"),
    ]


def input_rows(one: PressCycle) -> list[tuple[str, str, str, str, str]]:
    """What matters for the opening: input, how far it may be off, mid-plane, stamper face, share of the doubt."""
    return [
        (
            row.words, f"{row.u95_percent:g} %" if row.u95_percent is not None else f"{row.u95_k:g} K",
            signed(row.mid_plane_k, "K"), signed(row.stamper_face_k, "K"), f"{row.share_percent:.0f} %",
        )
        for row in one.inputs
    ]  # fmt: skip


def difference_rows(less: CycleDifference) -> list[tuple[str, str]]:
    """What the second cycle changes."""
    return [
        ("cycle", signed(less.cycle_s, "s")),
        ("records an hour", signed(less.per_hour, "")),
        ("mid-plane at opening", signed(less.mid_plane_at_opening_k, "K")),
        ("stamper face at opening", signed(less.stamper_face_at_opening_k, "K")),
        ("skin above flow temperature", signed(less.at_flow_s, "s", decimals=2)),
        ("earliest opening", signed(less.earliest_opening_s, "s", decimals=2)),
        ("steam", signed(less.steam_kg, "kg", decimals=3)),
    ]


def calibration_told(result: PressCalibration) -> str:
    """What the log told, and what it did not."""
    told = [row for row in result.inputs if row.told]
    if not told:
        return f"The log tells nothing about {result.name}. {result.advice}"
    best = min(told, key=lambda row: row.after_percent)
    said = f"{result.name}: the log tells {len(told)} of {len(result.inputs)} inputs, best the {best.words}"
    parts = [f"{said} ({fitted_words(best)})."]
    if result.cannot_tell_apart:
        pairs = "; ".join(f"{a} and {b}" for a, b in result.cannot_tell_apart)
        parts.append(f"It cannot tell apart: {pairs}.")
    return " ".join([*parts, result.advice]).strip()


def fitted_words(row: CalibratedInput) -> str:
    """ "7840 (7510 to 8190) W/(m2 K)"."""
    places = 0 if row.fitted.value >= 100.0 else 3
    return ranged(row.fitted, row.unit, decimals=places)


def shorten_told(result: PressShorten) -> list[str]:
    """The gain, then the odds, then what to do; one sentence or two each."""
    gain = (
        f"{result.by_s:g} s off {result.phase}: {signed(result.gain_per_hour, '')} records an hour "
        f"({signed(result.gain_percent, '%')})"
    )
    if result.now is None or result.shorter is None:
        return [f"{gain}. Cannot judge what it costs: the press is not calibrated.", result.log_needed or ""]
    now, then = result.now, result.shorter
    lines = [f"{gain}; the middle of the record opens at {ranged(then.mid_plane_degc, '°C', decimals=0)}."]
    if then.too_hot_odds is not None and now.too_hot_odds is not None:
        before, after = odds(now.too_hot_odds), odds(then.too_hot_odds)
        change = f"stay {after}" if before == after else f"go from {before} to {after}"
        lines[0] = f"{gain}; odds that a record opens above {result.open_below_degc:g}{NO_BREAK}°C {change}."
    for name, found in (("warped records after 24 h", result.warp_24h), ("non-fill", result.non_fill)):
        if found is not None:
            lines.append(f"Odds of more {name}: {odds(found.more_odds)}; {bad_words(found)}.")
    return [*lines, _act(result)]


def _act(result: PressShorten) -> str:
    """What to do about a shorter cycle."""
    if result.open_below_degc is None:
        return "Say in [limits] below which temperature a record may come out."
    up_to = result.passes_up_to_s
    some = f" {up_to:g} s would pass." if up_to is not None and 0.1 <= up_to < result.by_s else ""
    if result.verdict == "pass":
        return "Prove it by the trial below before it becomes the setting."
    if result.verdict == "fail":
        return f"Keep the setting: most records would come out too hot.{some}"
    return f"Too close to say.{some} Cool the water, or take the trial below."


def bad_words(found: BadShares) -> str:
    """ "0.8 % now, 2.3 % (0.5 to 6.4) then"."""
    then = found.shorter_percent
    return (
        f"{fixed(found.now_percent.value, 1)}{NO_BREAK}% now, {fixed(then.value, 1)}{NO_BREAK}% "
        f"({fixed(then.low, 1)} to {fixed(then.high, 1)}) then"
    )


def setting_rows(one: SettingOutcome) -> list[tuple[str, str]]:
    """The numbers of a setting, words and value."""
    return [
        ("phase, cycle", f"{one.phase_s:g} s, {one.cycle_s:g} s"),
        ("records an hour", fixed(one.per_hour, 1)),
        ("mid-plane at opening, single records", ranged(one.mid_plane_degc, "°C")),
        ("stamper face at opening", ranged(one.stamper_face_degc, "°C")),
        ("skin above flow temperature", ranged(one.at_flow_s, "s", decimals=2)),
        ("odds that a record opens too hot", "–" if one.too_hot_odds is None else odds(one.too_hot_odds)),
    ]


def trial_told(result: PressTrial) -> str:
    """What the trial showed."""
    rows = result.rows
    differ = [row.words for row in rows if row.differs]
    alike = [row.words for row in rows if row.differs is False]
    open_rows = [row.words for row in rows if row.differs is None]
    parts = []
    if differ:
        parts.append(f"{result.second} differs from {result.first} in {listed(differ)}.")
    if alike:
        parts.append(f"No difference shown in {listed(alike)}; the intervals say what may hide there.")
    if open_rows:
        parts.append(f"Cannot judge {listed(open_rows)}: too few records.")
    if result.more_records is not None:
        parts.append(f"To show the shares as found, {count(result.more_records, 'record')} at each setting.")
    return " ".join(parts)


def compared_words(row: ValueCompared | ShareCompared) -> tuple[str, str, str]:
    """First, second and difference of a row."""
    if isinstance(row, ShareCompared):
        first, second = f"{row.first_bad} of {row.first_n}", f"{row.second_bad} of {row.second_n}"
        if row.difference_percent is None:
            return first, second, "–"
        ends = _ends(row.low_percent, row.high_percent, 1)
        return first, second, f"{signed(row.difference_percent, '', decimals=1)}{ends}{NO_BREAK}points"
    return (
        _median(row.first_median, row.first_n), _median(row.second_median, row.second_n),
        "–" if row.shift is None else f"{signed(row.shift, '', decimals=2)}{_ends(row.low, row.high, 2)}"
        f"{NO_BREAK}{row.unit}",
    )  # fmt: skip


def _median(value: float | None, n: int) -> str:
    return f"none of {n}" if value is None else f"{fixed(value, 2)} ({n})"


def _ends(low: float | None, high: float | None, decimals: int) -> str:
    if low is None or high is None:
        return " (open)"
    return f" ({signed(low, '', decimals=decimals)} to {signed(high, '', decimals=decimals)})"


def rest_told(result: PressRest) -> str:
    """How long a pile waits."""
    what = f"{result.name}: {count(result.records, 'record')} laid at {result.start_degc:g}{NO_BREAK}°C"
    if result.rest_h is None:
        return f"{what} do not surely get below {result.below_degc:g}{NO_BREAK}°C in the middle within two days."
    upper = fixed(result.rest_h.high, 1)
    when = f", that is {result.ready_at}" if result.ready_at else ""
    return (
        f"{what} are below {result.below_degc:g}{NO_BREAK}°C in the middle after {ranged(result.rest_h, 'h')}. "
        f"Wait {upper}{NO_BREAK}h{when}."
    )


def biscuit_told(result: PressBiscuit) -> list[str]:
    """The biscuit, then what it goes through."""
    record, made = result.record, result.biscuit
    lines = [
        f"A {record.format} of {record.mass_g:.0f} g, {record.thickness_mm:.2f} mm thick, needs a biscuit of "
        f"{made.mass_g:.0f} g: {made.diameter_mm:g} mm across and {made.thickness_mm:.1f} mm high, "
        f"{made.over_record:.1f} times the record's thickness."
    ]
    if result.preheat is not None and result.preheat.ready_s is not None:
        lines.append(
            f"On a table of {result.preheat.table_degc:g}{NO_BREAK}°C its core is at "
            f"{result.preheat.core_degc:g}{NO_BREAK}°C after {ranged(result.preheat.ready_s, 's', decimals=0)}."
        )
    if result.waiting is not None:
        wait = result.waiting
        lines.append(
            f"After {wait.seconds_s:g} s in the air its skin is at {wait.skin_degc:.0f}{NO_BREAK}°C, its mean at "
            f"{wait.mean_degc:.0f}{NO_BREAK}°C."
        )
    if result.pressing is not None:
        press = result.pressing
        lines.append(
            f"{press.force_kn:g} kN hold the full record at {press.pressure_mpa:.1f} MPa "
            f"({press.pressure_psi:.0f} psi)."
        )
    return lines
