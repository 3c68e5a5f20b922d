"""A printed result in words: numbers with their doubt, limits, odds, times, and the sentence that comes first.

Short sentences in the trade's words; the same on screen, paper and page. Takes nothing but printed results.
"""

from math import floor, isfinite, log10
from pathlib import PurePath

from runtrue.contract.listening import FindingRow, Listening, VerdictWord

MARKS: dict[VerdictWord, str] = {"pass": "●", "fail": "■", "cannot_judge": "◐"}
"""Verdict marks in one character: full disc, full square, half disc."""
VERDICTS: dict[VerdictWord, str] = {"pass": "pass", "fail": "fail", "cannot_judge": "cannot judge"}
"""Verdicts as words."""


def number(value: float, decimals: int) -> str:
    """A number with so many decimals (negative: rounded to tens, hundreds) and a true minus sign.

    Examples
    --------
    >>> number(-0.3127, 2)
    '−0.31'
    """
    shown = f"{round(value, decimals):.{max(decimals, 0)}f}"
    if float(shown) == 0.0:
        shown = shown.removeprefix("-")
    return shown.replace("-", "−")


def decimals_of(u95: float) -> int:
    """Decimals that show ``u95`` with two significant figures.

    Examples
    --------
    >>> [decimals_of(u) for u in (0.0501, 9.96, 50.0, 123.0)]
    [3, 0, 0, -1]
    """
    if not (isfinite(u95) and u95 > 0.0):
        return 3
    place = 1 - floor(log10(u95))
    return place if round(u95, place) < 10.0 ** (2 - place) else place - 1


def with_doubt(value: float, u95: float | None, unit: str = "") -> str:
    """Value, U95 with two significant figures and unit; the value to the same place. A count stands alone.

    Examples
    --------
    >>> with_doubt(162.7, 50.2, "μm")
    '163 ± 50 μm'
    >>> with_doubt(3.0, None)
    '3'
    """
    tail = f" {unit}" if unit else ""
    if not u95:
        return f"{number(value, 0 if value == round(value) else 1)}{tail}"
    decimals = decimals_of(u95)
    return f"{number(value, decimals)} ± {number(u95, decimals)}{tail}"


def bounds(lower: float | None, upper: float | None, unit: str = "") -> str:
    """A limit in words.

    Examples
    --------
    >>> bounds(None, 200.0, "μm")
    'at most 200 μm'
    >>> bounds(-0.5, 0.5, "%")
    '−0.5 to 0.5 %'
    """
    tail = f" {unit}" if unit else ""
    low = "" if lower is None else f"{lower:g}".replace("-", "−")
    high = "" if upper is None else f"{upper:g}".replace("-", "−")
    if lower is not None and upper is not None:
        return f"{low} to {high}{tail}"
    if upper is not None:
        return f"at most {high}{tail}"
    return f"at least {low}{tail}" if lower is not None else "no limit"


def odds(probability: float | None) -> str:
    """Odds of lying inside the limit.

    Examples
    --------
    >>> odds(0.913), odds(0.9996), odds(0.0002), odds(None)
    ('91 in 100', 'over 99 in 100', 'under 1 in 100', 'none')
    """
    if probability is None:
        return "none"
    if probability in (0.0, 1.0):
        return f"{100 * probability:.0f} in 100"
    if probability > 0.994:
        return "over 99 in 100"
    return "under 1 in 100" if probability < 0.006 else f"{100 * probability:.0f} in 100"


def clock(seconds: float, decimals: int = 1) -> str:
    """Time on a side as minutes and seconds; rounding never shows 60 seconds.

    Examples
    --------
    >>> clock(83.41), clock(59.97), clock(-0.52, 0)
    ('1:23.4', '1:00.0', '−0:01')
    """
    scale = 10**decimals
    whole = round(abs(seconds) * scale)
    minutes, rest = divmod(whole, 60 * scale)
    width = 3 + decimals if decimals else 2
    sign = "−" if seconds < 0.0 and whole else ""
    return f"{sign}{minutes}:{rest / scale:0{width}.{decimals}f}"


def copy_name(result: Listening) -> str:
    """What to call the record: the file's name without its folder and ending."""
    return PurePath(result.input.file.replace("\\", "/")).stem or result.input.file


def sentence(result: Listening) -> str:
    """What was found and what to do, in one or two short sentences."""
    name = copy_name(result)
    counting = [row for row in result.findings if row.in_verdict]
    failing = [row for row in counting if row.verdict == "fail"]
    open_rows = [row for row in counting if row.verdict == "cannot_judge"]
    if result.reference is None:
        return f"Cannot judge {name}: no reference was given. Give what the side should sound like."
    if any(row.quantity == "programme_identity" for row in failing):
        return f"{name} holds another programme than the reference. Check title, side and version."
    if failing:
        said = f"{name} fails on {_listed([_failure(row) for row in failing])}."
        return f"{said} {_next_step(open_rows)}".strip()
    if any(row.quantity == "programme_identity" for row in open_rows):
        why = next((item.reason for item in result.not_judged if item.key == "findings.programme_identity"), "")
        return f"Cannot judge {name}: the programme was not recognised{f' ({why})' if why else ''}. Record it again."
    if open_rows:
        return f"Cannot judge {name}: {_doubt(result, open_rows[0])}. {_next_step(open_rows)}".strip()
    return f"{name} passes on all that {result.settings.limits} bounds and was judged."


def _failure(row: FindingRow) -> str:
    count = int(row.value) if row.value is not None else 0
    if row.quantity == "jumps_per_side":
        return "one jump" if count == 1 else f"{count} jumps"
    if row.quantity.endswith("ticks_per_side"):
        return f"one {row.words.removesuffix('s')}" if count == 1 else f"{count} {row.words}"
    shown = with_doubt(row.value, row.u95, row.unit) if row.value is not None else ""
    return f"{_short(row)} ({shown}, {bounds(row.lower, row.upper, row.unit)})"


def _short(row: FindingRow) -> str:
    if row.quantity.startswith("off_centre"):
        return f"its centre, {row.meaning or 'offset'}"
    return row.words


def _doubt(result: Listening, row: FindingRow) -> str:
    if row.conformance_probability is None:
        why = next((item.reason for item in result.not_judged if item.key == f"findings.{row.quantity}"), "")
        return f"{_short(row)} was not measured{f' ({why})' if why else ''}"
    asked = row.rule.removeprefix("pass at ").partition(",")[0]
    return (
        f"{_short(row)}, odds inside the limit {odds(row.conformance_probability)}, "
        f"{100 * float(asked):.0f} are asked for"
    )


def _next_step(open_rows: list[FindingRow]) -> str:
    if any(row.quantity.startswith("off_centre") for row in open_rows):
        return "Place it again to judge its centre."
    return "Record the whole side to judge the rest." if open_rows else ""


def _listed(items: list[str]) -> str:
    return items[0] if len(items) == 1 else f"{', '.join(items[:-1])} and {items[-1]}"
