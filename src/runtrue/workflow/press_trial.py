"""The proof: two settings compared by records pressed at both, warp measured after 24 h."""

import csv
import io
from collections.abc import Mapping
from dataclasses import dataclass, replace
from hashlib import sha256
from math import isfinite, nan

import numpy as np
from numpy.typing import NDArray

import runtrue
from runtrue.contract import press_trial as printed
from runtrue.errors import InputError
from runtrue.paper.words import count
from runtrue.press.trial import Counted, Measured, counted, holm, measured
from runtrue.stats.comparison import sample_size_shares
from runtrue.types import Progress
from runtrue.workflow.actions import Ports, check_request
from runtrue.workflow.press_requests import PressTrialRequest
from runtrue.workflow.press_results import SAFETY, reasoned
from runtrue.workflow.press_words import trial_told
from runtrue.workflow.toml_file import read_text

_Array = NDArray[np.float64]
VALUES = {
    "warp_24h_mm": ("warp after 24 h", "mm", 2),
    "noise_db_a": ("surface noise (A)", "dB", 2),
    "mass_g": ("mass", "g", 2),
}
"""Column: words, unit, decimals."""
KNOWN = ("setting", "copy", *VALUES, "non_fill")
DIFFERS = 0.05
"""Adjusted probability up to which two settings are said to differ (common practice)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Results:
    """Columns of the results by name; ``setting`` of each row."""

    digest: str
    setting: list[str]
    columns: dict[str, _Array]


def trial(request: PressTrialRequest, ports: Ports, progress: Progress) -> printed.PressTrial:
    """Compare two settings. Raises ``InputError`` for what is not usable."""
    check_request(request)
    results = _load(request)
    first, second = _settings(results, request.first)
    here = np.array([name == first for name in results.setting])
    values = [measured(name, column[here], column[~here]) for name, column in results.columns.items() if name in VALUES]
    shares = [
        counted(name, (int(column[here].sum()), int(column[~here].sum())), (int(here.sum()), int((~here).sum())))
        for name, column in _shares(results, request.warp_limit_mm)
    ]
    adjusted = _adjusted(values, shares)
    result = printed.PressTrial(
        file=request.results.name,
        sha256=results.digest,
        first=first,
        second=second,
        warp_limit_mm=request.warp_limit_mm,
        values=[_value(one, adjusted) for one in values],
        shares=[_share(one, adjusted) for one in shares],
        more_records=_more(shares),
        told="",
        not_judged=[],
        cautions=_cautions(values, shares, results),
        safety=list(SAFETY),
        version=runtrue.__version__,
    )
    result.not_judged.extend(
        reasoned(
            result,
            {
                "warp_limit_mm": "no warp limit was given",
                "more_records": "no share of bad records to tell apart",
                "low": "too few records for an interval",
                "high": "too few records for an interval",
                **dict.fromkeys(
                    ("shift", "p_value", "p_adjusted", "differs", "difference_percent", "low_percent", "high_percent"),
                    "too few records at a setting",
                ),
                "first_median": "not measured at this setting",
                "second_median": "not measured at this setting",
            },
        )
    )
    return replace(result, told=trial_told(result))


def _load(request: PressTrialRequest) -> _Results:
    where = f"results {request.results}"
    text = read_text(request.results, where).removeprefix("\ufeff")
    if ";" in text.partition("\n")[0]:
        raise InputError(f"{where}: columns are parted by ';'; save it with commas and decimal points")
    try:
        reader = csv.DictReader(io.StringIO(text, newline=""), strict=True)
        names = [name.strip() for name in reader.fieldnames or []]
        reader.fieldnames = names
        rows: list[tuple[int, Mapping[str, str]]] = [
            (reader.line_num, row) for row in reader if any((v or "") and str(v).strip() for v in row.values())
        ]
    except csv.Error as error:
        raise InputError(f"{where}: is no table with commas ({error}); save it as CSV") from None
    for name in names:
        if name not in KNOWN:
            raise InputError(f"{where}: column '{name}' is unknown; known are {', '.join(KNOWN)}: rename or remove it")
    if "setting" not in names:
        raise InputError(f"{where}: column 'setting' is missing; it says at which setting a record was pressed: add it")
    columns = [name for name in names if name not in ("setting", "copy")]
    if not columns:
        raise InputError(f"{where}: holds nothing to compare; add one of {', '.join((*VALUES, 'non_fill'))}")
    for line, row in rows:
        if None in row:
            raise InputError(f"{where}, line {line}: more values than columns; write a decimal point, not a comma")
        if not (row.get("setting") or "").strip():
            raise InputError(f"{where}, line {line}: setting is empty; say at which setting the record was pressed")
    return _Results(
        digest=sha256(request.results.read_bytes()).hexdigest(),
        setting=[(row["setting"] or "").strip() for _, row in rows],
        columns={name: np.array([_number(row, name, line, where) for line, row in rows]) for name in columns},
    )


def _number(row: Mapping[str, str], name: str, line: int, where: str) -> float:
    text = (row.get(name) or "").strip()
    if name == "non_fill":
        if text not in ("0", "1"):
            raise InputError(f"{where}, line {line}: non_fill '{text}' must be 1 or 0; correct it")
        return float(text)
    if not text:
        return nan
    try:
        value = float(text)
    except ValueError:
        raise InputError(f"{where}, line {line}: {name} '{text}' is no number; write a number") from None
    if not isfinite(value) or "_" in text:
        raise InputError(f"{where}, line {line}: {name} '{text}' is no finite number; write a number")
    if name in ("warp_24h_mm", "mass_g") and not 0.0 <= value <= 2000.0:
        raise InputError(f"{where}, line {line}: {name} must be 0 to 2000, got {value:g}: check the unit")
    return value


def _settings(results: _Results, asked: str | None) -> tuple[str, str]:
    names = list(dict.fromkeys(results.setting))
    if len(names) != 2:
        raise InputError(
            f"results: hold {len(names)} settings ({', '.join(names) or 'none'}); a trial compares two: give two"
        )
    if asked is None:
        return names[0], names[1]
    if asked not in names:
        raise InputError(f"first '{asked}' is unknown; known are {', '.join(names)}: choose one of them")
    return (names[0], names[1]) if asked == names[0] else (names[1], names[0])


def _shares(results: _Results, warp_limit: float | None) -> list[tuple[str, _Array]]:
    found = []
    if "non_fill" in results.columns:
        found.append(("non_fill", results.columns["non_fill"]))
    warp = results.columns.get("warp_24h_mm")
    if warp_limit is not None:
        if warp is None:
            raise InputError("warp_limit_mm: the results hold no warp_24h_mm; remove the limit or add the column")
        found.append(("warped_24h", np.where(np.isfinite(warp), warp > warp_limit, 0.0)))
    return found


def _adjusted(values: list[Measured], shares: list[Counted]) -> dict[str, float]:
    known = [(v.quantity, v.compared.p_value) for v in values if v.compared is not None]
    known += [(s.quantity, s.compared.boschloo) for s in shares if s.compared is not None]
    return dict(zip([name for name, _ in known], holm([p for _, p in known]), strict=True))


def _value(one: Measured, adjusted: Mapping[str, float]) -> printed.ValueCompared:
    words, unit, decimals = VALUES[one.quantity]
    found = one.compared
    low, high = (None, None) if found is None else (
        round(end, decimals + 1) if isfinite(end) else None for end in found.interval
    )  # fmt: skip
    p = adjusted.get(one.quantity)
    return printed.ValueCompared(
        quantity=one.quantity, words=words, unit=unit, first_n=one.n[0], second_n=one.n[1],
        first_median=_rounded(one.medians[0], decimals), second_median=_rounded(one.medians[1], decimals),
        shift=None if found is None else round(found.shift, decimals + 1), low=low, high=high,
        p_value=None if found is None else round(found.p_value, 5), p_adjusted=_rounded(p, 5),
        differs=None if p is None else p <= DIFFERS,
    )  # fmt: skip


def _share(one: Counted, adjusted: Mapping[str, float]) -> printed.ShareCompared:
    found = one.compared
    p = adjusted.get(one.quantity)
    words = {"non_fill": "non-fill", "warped_24h": "warped over the limit after 24 h"}[one.quantity]
    return printed.ShareCompared(
        quantity=one.quantity, words=words, first_bad=one.bad[0], first_n=one.n[0], second_bad=one.bad[1],
        second_n=one.n[1],
        difference_percent=None if found is None else round(100.0 * found.difference, 2),
        low_percent=None if found is None else round(100.0 * found.interval[0], 2),
        high_percent=None if found is None else round(100.0 * found.interval[1], 2),
        p_value=None if found is None else round(found.boschloo, 5), p_adjusted=_rounded(p, 5),
        differs=None if p is None else p <= DIFFERS,
    )  # fmt: skip


def _rounded(value: float | None, decimals: int) -> float | None:
    return None if value is None else round(value, decimals)


def _more(shares: list[Counted]) -> int | None:
    """Records at each setting that would show the shares as they were found, where this trial did not."""
    for one in shares:
        p1, p2 = one.bad[0] / max(one.n[0], 1), one.bad[1] / max(one.n[1], 1)
        if (
            one.compared is not None
            and one.compared.boschloo > DIFFERS
            and 0.0 < p1 < 1.0
            and 0.0 < p2 < 1.0
            and p1 != p2
        ):
            return sample_size_shares(p1, p2)
    return None


def _cautions(values: list[Measured], shares: list[Counted], results: _Results) -> list[str]:
    said = []
    if "warp_24h_mm" not in results.columns:
        said.append("Warp after 24 h was not measured: a shorter cycle shows its cost there, and this trial cannot.")
    few = [v.n for v in values if min(v.n) < 20]
    if few:
        said.append(
            f"{count(min(min(n) for n in few), 'record')} at a setting can show only large differences: no difference "
            "shown is not no difference."
        )
    changes = sum(a != b for a, b in zip(results.setting, results.setting[1:], strict=False))
    if changes == 1 and len(results.setting) > 9:
        said.append(
            "All records of one setting stand before those of the other: warming up, wear and batch would look like "
            "the setting; press in turns."
        )
    return said
