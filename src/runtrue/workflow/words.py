"""A judged recording in words: the sentence that comes first, with the advice that only the workflow may give.

The words themselves are paper's, so that screen, page and paper say the same.
"""

from pathlib import PurePath

from runtrue.contract.listening import FindingRow, Listening
from runtrue.paper.words import (
    BURST_WORDS,
    VERDICT_WORDS,
    clock,
    deciding,
    finding_number,
    fixed,
    found,
    limit_words,
    listed,
    number,
    odds,
    sentence,
    sentence_case,
)

__all__ = [
    "BURST_WORDS",
    "VERDICT_WORDS",
    "advice",
    "clock",
    "copy_name",
    "finding_number",
    "fixed",
    "instant",
    "limit_words",
    "listed",
    "number",
    "odds",
    "phrase",
    "sentence",
    "sentence_case",
    "told",
]


def told(result: Listening) -> str:
    """Say what was found and what to do."""
    return sentence(copy_name(result), result, advice(result))


def instant(seconds: float) -> str:
    """Programme time to the millisecond, by which a cutting file is searched.

    Examples
    --------
    >>> instant(83.4164), instant(59.9997)
    ('1:23.416', '1:00.000')
    """
    whole = round(abs(seconds) * 1000)
    minutes, rest = divmod(whole, 60_000)
    return f"{'−' if seconds < 0.0 and whole else ''}{minutes}:{rest // 1000:02d}.{rest % 1000:03d}"


def copy_name(result: Listening) -> str:
    """What to call the record: the file's name without its folder and ending."""
    return PurePath(result.input.file.replace("\\", "/")).stem or result.input.file


def advice(result: Listening) -> str:
    """What to do next; empty where nothing is."""
    if result.reference is None:
        return "Give what the side should sound like with --reference."
    if result.programme.identity == "other":
        return "Check title, side and version."
    if result.programme.identity == "unclear":
        return "Check that the needle played the side, then record it again."
    open_rows = [row for row in result.findings if row.in_verdict and row.verdict == "cannot_judge"]
    if any(row.quantity.startswith("off_centre") and row.value is not None for row in open_rows):
        return "Place it again and record it again to judge its centre."
    if any(_heard_in_part(row, result) for row in open_rows):
        return "Record the whole side to judge the rest."
    return ""


def _heard_in_part(row: FindingRow, result: Listening) -> bool:
    key = f"findings.{row.quantity}"
    return any(item.key == key and item.reason.startswith("heard from") for item in result.not_judged)


def phrase(result: Listening) -> str:
    """What was found in one short phrase for a table; empty for a pass."""
    if result.programme.identity == "other":
        return "another programme"
    if result.programme.identity == "unclear":
        return "programme not recognised"
    if result.verdict == "pass":
        return ""
    return "; ".join(found(row, result, places=True) for row in deciding(result))
