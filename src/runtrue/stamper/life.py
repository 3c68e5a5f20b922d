r"""How long a stamper lasts: from retirements of others, and from its own trends; when a change pays.

A stamper that was taken off sound is a life that had not ended (censored). A trend crossing a limit gives the
impression at which it will be reached, with an interval. The stop rule weighs a change against the copies that will be
bad: change now where

.. math:: c_b \sum_{k=1}^{m} P(\text{worn at } n + k \mid \text{sound at } n) > c_c

with c_b the cost of a bad copy, c_c that of a change, and m the copies pressed before anyone listens again.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import floor, inf, sqrt

import numpy as np
from numpy.typing import NDArray
from scipy.special import stdtr, stdtrit

from runtrue.errors import InputError
from runtrue.stats.checks import within
from runtrue.stats.reliability.life import Law, Life, fit_life
from runtrue.stats.reliability.survival import Survival, kaplan_meier
from runtrue.stats.reliability.trend import Trend, trend_to_limit

HORIZON = 20_000
"""Impressions ahead within which a change is sought."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Retirement:
    """A stamper's impressions when it was taken off, and whether it was worn out (else it was sound)."""

    stamper: str
    impressions: int
    worn: bool
    reason: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class StamperLife:
    """Lives of a house's stampers: the curve without any law, and Weibull's law where two ends or more allow it."""

    survival: Survival
    law: Life | None
    reason: str = ""


def lives(retirements: Sequence[Retirement]) -> StamperLife:
    """Fit the lives; the law is left out, with the reason, where fewer than three worn stampers are known.

    Examples
    --------
    >>> seen = [Retirement(stamper=str(n), impressions=n, worn=n < 1500) for n in (800, 1000, 1200, 1500)]
    >>> found = lives(seen)
    >>> [float(s) for s in found.survival.share.round(2)][:3]
    [0.75, 0.5, 0.25]
    >>> found.law.shape > 1.0
    True
    """
    if not retirements:
        raise InputError("retirements: none are known; enter what was taken off, sound ones too")
    time = np.array([one.impressions for one in retirements], dtype=np.float64)
    within("impressions", time, 0.0, above=True)
    ended = np.array([one.worn for one in retirements], dtype=np.int64)
    survival = kaplan_meier(time, ended)
    if np.unique(time[ended == 1]).size < 3:
        return StamperLife(survival=survival, law=None, reason="fewer than three stampers were worn out: no law yet")
    return StamperLife(survival=survival, law=fit_life(time, ended, Law.WEIBULL))


@dataclass(frozen=True, slots=True, kw_only=True)
class Crossing:
    """When a quantity of one stamper reaches its limit: impressions, interval, and the count that is still safe."""

    quantity: str
    at: int | None
    between: tuple[int | None, int | None]
    safe_to: int | None
    trend: Trend


def crossing(quantity: str, impressions: Sequence[float], values: Sequence[float], limit: float) -> Crossing:
    """Impression at which a trend (noise, treble, ticks) meets its limit.

    A trend that may be nothing names no end, and its reason stands in ``trend.reason``.

    Examples
    --------
    >>> found = crossing("surface", [0, 200, 400, 600, 800], [-60.0, -59.1, -57.9, -57.1, -56.0], -50.0)
    >>> found.at, found.between
    (2004, (1859, 2179))
    """
    trend = trend_to_limit(impressions, values, limit)
    low, high = trend.interval
    return Crossing(
        quantity=quantity,
        at=None if trend.crossing is None or not trend.bounded else floor(trend.crossing),
        between=(None if low is None else floor(low), None if high is None else floor(high)),
        safe_to=None if trend.early is None else max(floor(trend.early), 0),
        trend=trend,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class StopRule:
    """What a change is weighed against: its cost, the cost of a bad copy, copies pressed between two listenings."""

    change_cost: float
    bad_copy_cost: float
    between_checks: int

    def __post_init__(self) -> None:
        """Refuse costs that weigh nothing."""
        within("change_cost", self.change_cost, 0.0, above=True)
        within("bad_copy_cost", self.bad_copy_cost, 0.0, above=True)
        within("between_checks", self.between_checks, 1.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Stop:
    """Whether to change now, bad copies to expect up to the next listening, the impression at which a change pays."""

    change: bool
    bad_copies: float
    change_at: int | None


def stop(law: Life, impressions: int, rule: StopRule, *, horizon: int = HORIZON) -> Stop:
    """Weigh a change now against the bad copies of the next stretch; ``change_at`` is the first that pays."""
    within("impressions", float(impressions), 0.0)
    expected = expected_bad(law, float(impressions), rule.between_checks)
    threshold = rule.change_cost / rule.bad_copy_cost
    counts = np.arange(impressions, impressions + horizon, max(1, rule.between_checks // 4))
    pays = next((int(n) for n in counts if expected_bad(law, float(n), rule.between_checks) > threshold), None)
    return Stop(change=expected > threshold, bad_copies=expected, change_at=pays)


def stop_by_trend(trend: Trend, limit: float, impressions: int, rule: StopRule, *, horizon: int = HORIZON) -> Stop:
    """As :func:`stop`, from what one stamper's own copies show: a copy is bad where its value is beyond the limit."""
    within("impressions", float(impressions), 0.0)
    weigh = rule.change_cost / rule.bad_copy_cost
    counts = np.arange(impressions, impressions + horizon + 1, dtype=np.float64)
    bad = np.concatenate([[0.0], np.cumsum(beyond(trend, limit, counts + 1.0))])
    ahead = np.minimum(np.arange(counts.size) + rule.between_checks, counts.size)
    expected = bad[ahead] - bad[np.arange(counts.size)]
    pays = np.flatnonzero(expected[: counts.size - rule.between_checks] > weigh)
    return Stop(
        change=bool(expected[0] > weigh),
        bad_copies=float(expected[0]),
        change_at=int(counts[pays[0]]) if pays.size else None,
    )


def beyond(trend: Trend, limit: float, impressions: NDArray[np.float64]) -> NDArray[np.float64]:
    r"""Probability that a copy at these impressions lies beyond the limit, on the side toward which the line runs.

    .. math:: P\left(t_{n-2} > \frac{L - \hat y(x)}{s \sqrt{1 + 1/n + (x - \bar x)^2 / S_{xx}}}\right)
    """
    spread = (trend.deviation / trend.slope_u) ** 2 if trend.slope_u > 0.0 else inf
    single = trend.deviation**2 * (1.0 + 1.0 / (trend.dof + 2) + (impressions - trend.middle) ** 2 / spread)
    short = limit - (trend.intercept + trend.slope * impressions)
    sense = 1.0 if trend.slope >= 0.0 else -1.0
    with np.errstate(divide="ignore", invalid="ignore"):
        score = np.where(single > 0.0, sense * short / np.sqrt(single), sense * short * inf)
    return np.asarray(stdtr(trend.dof, -score))


def surely_beyond(trend: Trend, limit: float, impressions: float, way: float) -> bool:
    """Whether the line is beyond the limit at these impressions with 97.5 in 100; ``way`` is +1 for above, -1 below."""
    spread = (trend.deviation / trend.slope_u) ** 2 if trend.slope_u > 0.0 else inf
    here = trend.deviation * sqrt(1.0 / (trend.dof + 2) + (impressions - trend.middle) ** 2 / spread)
    over = way * (trend.intercept + trend.slope * impressions - limit)
    return over > float(stdtrit(trend.dof, 0.975)) * here


def expected_bad(law: Life, impressions: float, copies: int) -> float:
    """Bad copies to expect among the next ones from a stamper that is sound now."""
    ahead = impressions + np.arange(1, copies + 1)
    now = float(law.share_good(np.array([impressions]))[0]) if impressions > 0.0 else 1.0
    if now <= 0.0:
        return float(copies)
    return float(np.sum(1.0 - law.share_good(ahead) / now))
