"""Results of the press in words: what was worked out, in the trade's terms."""

from runtrue.contract.press_cycle import CycleDifference, PressCycle, PressCycles, Range
from runtrue.paper.words import NO_BREAK, fixed


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
