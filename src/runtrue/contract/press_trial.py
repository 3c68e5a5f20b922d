"""The object ``runtrue/press-trial-1``: two settings compared; differences are second less first."""

from dataclasses import dataclass
from typing import Literal

from runtrue.contract.listening import NotJudged

PRESS_TRIAL_SCHEMA: Literal["runtrue/press-trial-1"] = "runtrue/press-trial-1"


@dataclass(frozen=True, slots=True, kw_only=True)
class ValueCompared:
    """A measured quantity in ``unit``: records and median of each, shift with its 95 % interval (null end: open)."""

    quantity: str
    words: str
    unit: str
    first_n: int
    second_n: int
    first_median: float | None
    second_median: float | None
    shift: float | None
    low: float | None
    high: float | None
    p_value: float | None
    p_adjusted: float | None
    differs: bool | None


@dataclass(frozen=True, slots=True, kw_only=True)
class ShareCompared:
    """Bad records of each setting, difference of the shares with its 95 % interval."""

    quantity: str
    words: str
    first_bad: int
    first_n: int
    second_bad: int
    second_n: int
    difference_percent: float | None
    low_percent: float | None
    high_percent: float | None
    p_value: float | None
    p_adjusted: float | None
    differs: bool | None


@dataclass(frozen=True, slots=True, kw_only=True)
class PressTrial:
    """The whole result. ``p_adjusted`` counts that several quantities are looked at (Holm)."""

    schema: Literal["runtrue/press-trial-1"] = PRESS_TRIAL_SCHEMA
    file: str
    sha256: str
    first: str
    second: str
    warp_limit_mm: float | None
    values: list[ValueCompared]
    shares: list[ShareCompared]
    more_records: int | None
    told: str
    not_judged: list[NotJudged]
    cautions: list[str]
    safety: list[str]
    version: str

    @property
    def rows(self) -> "tuple[ValueCompared | ShareCompared, ...]":
        """Values, then shares."""
        return (*self.values, *self.shares)
