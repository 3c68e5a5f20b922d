"""Metal in words: the sentence that comes first on the pages of study, register, life and trend."""

from runtrue.contract.life import LifeResult, StopNow, TrendResult, TrendRow
from runtrue.contract.metal import MetalResult
from runtrue.contract.study import CentringStudyResult
from runtrue.paper.words import count, fixed, listed, number, sentence_case

_GOOD = {"good": "Good gauge", "conditional": "Gauge of conditional use", "poor": "Poor gauge"}


def study_told(result: CentringStudyResult) -> str:
    """How good people and lens are together."""
    worst = max((result.x, result.y), key=lambda axis: axis.percent)
    said = f"{_GOOD[worst.word]}: one centring is right within {fixed(result.one_centring_u95_um, 0)} μm."
    if result.share_of_limit_percent is not None:
        said += f" That is {fixed(result.share_of_limit_percent, 0)} % of the limit."
    if worst.reproducibility_um > worst.repeatability_um:
        return f"{said} People differ more than one person's readings: read together, through one lens."
    return f"{said} One person's readings differ more than people: read more angles."


def metal_told(result: MetalResult) -> str:
    """What to do with the pieces, those that need something first."""
    acts = (
        ("refuse", "Refuse"),
        ("sand", "Sand the back of"),
        ("measure first", "Measure before use:"),
        ("accept", "Accept"),
    )
    parts = []
    for word, act in acts:
        names = [piece.id for piece in result.pieces if piece.advice == word]
        if names:
            named = listed(names) if len(names) <= 4 else f"{', '.join(names[:3])} and {len(names) - 3} more"
            parts.append(f"{act} {named}.")
    return " ".join(parts)


def life_told(result: LifeResult) -> str:
    """How long stampers last, and whether the one on the press is to be changed."""
    parts = []
    if result.law is not None:
        law = result.law
        parts.append(
            f"One in ten stampers is worn after {fixed(law.tenth_worn_impressions, -1)} impressions "
            f"({fixed(law.tenth_worn_low, -1)} to {fixed(law.tenth_worn_high, -1)}), half after "
            f"{fixed(law.half_worn_impressions, -1)}."
        )
    else:
        why = next((one.reason for one in result.not_judged if one.key == "law"), "")
        parts.append(f"{sentence_case(why)}.")
    if result.stop is not None:
        parts.append(stop_words(result.stop))
    return " ".join(parts)


def stop_words(stop: StopNow) -> str:
    """What the stop rule says."""
    bad = f"{fixed(stop.bad_copies, 1)} bad copies are to be expected up to the next listening"
    weigh = f"{fixed(stop.bad_copies_that_weigh_a_change, 1)} weigh a change"
    if stop.change:
        return f"Change the stamper now: {bad}, {weigh}."
    if stop.change_at is None:
        return f"Go on: {bad}, {weigh}."
    return f"Go on, change it at {stop.change_at} impressions: {bad}, {weigh}."


def trend_told(result: TrendResult) -> str:
    """The trend that meets its limit first, and the stop rule where costs were given."""
    heading = [row for row in result.trends if row.crosses_at is not None]
    if not heading and not any(row.beyond_already for row in result.trends):
        if not result.trends:
            return "Nothing to lay a line through: measure copies at three counts or more."
        return "No trend toward a limit is sure."
    over = [row for row in result.trends if row.beyond_already]
    if over:
        what = listed([row.words for row in over if row.stamper == over[0].stamper])
        return f"Change {over[0].stamper} now: beyond the limit in {what}."
    first = min(heading, key=lambda row: row.crosses_at or 0)
    said = f"{first.stamper}: {first.words} meets its limit at {crossing_words(first)}."
    stops = [(row, row.stop) for row in heading if row.stop is not None]
    if stops:
        row, stop = max(stops, key=lambda pair: pair[1].bad_copies)
        return (
            f"{said} {stop_words(stop)}"
            if row.stamper == first.stamper
            else f"{said} {row.stamper}: {stop_words(stop)}"
        )
    if first.safe_to is not None:
        return f"{said} Listen again by {max(first.safe_to, first.last_impressions)}."
    return said


def crossing_words(row: TrendRow) -> str:
    """ "1420 impressions (1310 to 1580)"."""
    if row.crosses_at is None:
        return "no count that can be named"
    if row.crosses_low is None or row.crosses_high is None:
        return count(row.crosses_at, "impression")
    return f"{count(row.crosses_at, 'impression')} ({row.crosses_low} to {row.crosses_high})"


def slope_words(row: TrendRow) -> str:
    """Change over a hundred impressions."""
    return str(number(row.per_hundred, row.per_hundred_u95, row.unit, decimals=2))
