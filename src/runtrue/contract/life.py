"""The objects ``runtrue/life-1`` and ``runtrue/trend-1``: how long stampers last, and where one is heading.

Impressions count from a stamper's first closure. ``None`` means not judged: key and reason are in ``not_judged``.
"""

from dataclasses import dataclass
from typing import Literal

from runtrue.contract.listening import NotJudged

LIFE_SCHEMA: Literal["runtrue/life-1"] = "runtrue/life-1"
TREND_SCHEMA: Literal["runtrue/trend-1"] = "runtrue/trend-1"


@dataclass(frozen=True, slots=True, kw_only=True)
class SurvivalStep:
    """Share of stampers still good after these impressions, with 95 % limits."""

    impressions: int
    on_press: int
    worn_out: int
    share_good: float
    low: float
    high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Law:
    """Weibull's law with 95 % limits; shape above 1 means wear, below 1 early failures."""

    shape: float
    shape_low: float
    shape_high: float
    scale_impressions: float
    mean_impressions: float
    tenth_worn_impressions: float
    tenth_worn_low: float
    tenth_worn_high: float
    half_worn_impressions: float
    half_worn_low: float
    half_worn_high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class StopNow:
    """Whether a change now pays: bad copies to expect before anyone listens again, and how many weigh a change.

    ``change_at`` is the first count at which it pays; null where it does not within ``looked_to`` impressions.
    """

    impressions: int
    change: bool
    bad_copies: float
    bad_copies_that_weigh_a_change: float
    change_at: int | None
    looked_to: int


@dataclass(frozen=True, slots=True, kw_only=True)
class TableInput:
    """The file that was judged, and how many of its lines count."""

    file: str
    sha256: str
    lines: int


@dataclass(frozen=True, slots=True, kw_only=True)
class LifeSettings:
    """What was asked."""

    now: int | None
    change_cost: float | None
    bad_copy_cost: float | None
    check_every: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class LifeResult:
    """The whole result over the retirements of a house."""

    schema: Literal["runtrue/life-1"] = LIFE_SCHEMA
    stampers: int
    worn_out: int
    taken_off_sound: int
    reasons: dict[str, int]
    survival: list[SurvivalStep]
    law: Law | None
    stop: StopNow | None
    not_judged: list[NotJudged]
    cautions: list[str]
    safety: list[str]
    input: TableInput
    settings: LifeSettings
    version: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TrendRow:
    """One quantity of one stamper: the line through what was measured and where it meets its limit.

    ``crosses_at`` with its 95 % interval is where the line itself meets the limit; up to ``safe_to`` the next value
    stays within it with 97.5 in 100. ``per_hundred`` is the change over a hundred impressions. ``beyond_already``: the
    line is surely beyond the limit at the last copy.
    """

    stamper: str
    quantity: str
    words: str
    unit: str
    values: int
    last_impressions: int
    last_value: float
    per_hundred: float
    per_hundred_u95: float
    limit: float | None
    crosses_at: int | None
    crosses_low: int | None
    crosses_high: int | None
    safe_to: int | None
    beyond_already: bool
    stop: StopNow | None


@dataclass(frozen=True, slots=True, kw_only=True)
class TrendResult:
    """The whole result over what was measured on the copies of one stamper or more."""

    schema: Literal["runtrue/trend-1"] = TREND_SCHEMA
    trends: list[TrendRow]
    not_judged: list[NotJudged]
    cautions: list[str]
    safety: list[str]
    input: TableInput
    settings: LifeSettings
    version: str
