r"""Charts that remember: EWMA and CUSUM, for small lasting shifts."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from runtrue.stats.charts.chart import Chart, make_chart
from runtrue.stats.checks import vector, within

_Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Cusum:
    """Upper and lower cumulative sum in the unit of the values, the decision limit, and where each side signals.

    ``began`` for a signal is the position of the first value after the sum last stood at zero: the usual first guess of
    when the shift happened.
    """

    upper: _Array
    lower: _Array
    limit: float
    high_signals: tuple[int, ...]
    low_signals: tuple[int, ...]

    @property
    def first_signal(self) -> int | None:
        """Position of the first signal, from 0; None where there is none."""
        signals = self.high_signals[:1] + self.low_signals[:1]
        return min(signals) if signals else None

    @property
    def began(self) -> int | None:
        """Position at which the sum that signals first left zero."""
        first = self.first_signal
        if first is None:
            return None
        side = self.upper if first in self.high_signals[:1] else self.lower
        zeros = np.flatnonzero(side[:first] <= 0.0)
        return int(zeros[-1]) + 1 if zeros.size else 0


def ewma(
    values: ArrayLike,
    *,
    target: float,
    sigma: float,
    weight: float = 0.2,
    width: float = 3.0,
    start: float | None = None,
    steady: bool = False,
) -> Chart:
    r"""Exponentially weighted moving average.

    .. math:: z_t = \lambda x_t + (1 - \lambda) z_{t-1}, \qquad
              \mu_0 \pm L \sigma \sqrt{\tfrac{\lambda}{2 - \lambda} [1 - (1 - \lambda)^{2 t}]}

    Parameters
    ----------
    values : array_like
        In the order they were made
    target, sigma : float
        mu0 and the standard deviation of a value, above 0
    weight : float
        lambda, above 0 and up to 1 [-]
    width : float
        L, above 0 [-]
    start : float, optional
        z_0; the target where not given
    steady : bool
        Limits of the steady state from the first point on

    Returns
    -------
    chart : Chart
        Of z; ``z`` of the chart is not for run rules, because neighbouring points are not independent

    Examples
    --------
    >>> chart = ewma([52.0, 47.0, 53.0], target=50.0, sigma=2.0539, weight=0.3, steady=True)
    >>> [round(float(point), 2) for point in chart.points], float(chart.upper[0])
    ([50.6, 49.52, 50.56], 52.5884)

    References
    ----------
    .. [1] Roberts 1959; NIST/SEMATECH e-Handbook 6.3.2.4, which uses the steady state.
    """
    x = vector("values", values)
    within("sigma", sigma, 0.0, above=True)
    within("weight", weight, 0.0, 1.0, above=True)
    within("width", width, 0.0, above=True)
    from scipy.signal import lfilter

    first = target if start is None else start
    z, _ = lfilter([weight], [1.0, weight - 1.0], x, zi=np.array([(1.0 - weight) * first]))
    share = weight / (2.0 - weight)
    grown = 1.0 if steady else 1.0 - (1.0 - weight) ** (2.0 * np.arange(1, x.size + 1))
    deviation = sigma * np.sqrt(share * grown)
    return make_chart(
        "EWMA",
        np.asarray(z),
        centre=target,
        sigma=deviation,
        lower=target - width * deviation,
        upper=target + width * deviation,
    )


def cusum(
    values: ArrayLike, *, target: float, sigma: float = 1.0, k: float = 0.5, h: float = 5.0, head_start: float = 0.0
) -> Cusum:
    r"""Two one-sided cumulative sums.

    .. math:: C^+_t = \max(0, C^+_{t-1} + x_t - \mu_0 - k \sigma), \qquad
              C^-_t = \max(0, C^-_{t-1} - x_t + \mu_0 - k \sigma), \qquad \text{signal above } h \sigma

    Computed at once for any length: C_t = S_t - min(-C_0, min_{j<=t} S_j) with S the plain cumulative sum.

    Parameters
    ----------
    values : array_like
        In the order they were made
    target : float
        mu0
    sigma : float
        Standard deviation of a value, above 0; 1 when k and h are in the unit of the values
    k, h : float
        Slack 0 or more and decision limit above 0, in sigma; k is half the shift to be found
    head_start : float
        C_0 in sigma, 0 or more and below h; h / 2 finds a process that is wrong from the start sooner

    Returns
    -------
    sums : Cusum

    Examples
    --------
    >>> found = cusum([0.1, -0.2, 0.3, 2.0, 1.8, 2.2, 2.1], target=0.0)
    >>> found.first_signal, found.began
    (6, 3)

    References
    ----------
    .. [1] Page 1954; Lucas and Crosier 1982 for the head start; NIST/SEMATECH e-Handbook 6.3.2.3.
    """
    x = vector("values", values)
    within("sigma", sigma, 0.0, above=True)
    within("k", k, 0.0)
    within("h", h, 0.0, above=True)
    within("head_start", head_start, 0.0, h, below=True)
    deviation = x - target
    begin, slack, limit = head_start * sigma, k * sigma, h * sigma
    upper, lower = _one_side(deviation - slack, begin), _one_side(-deviation - slack, begin)
    return Cusum(
        upper=upper,
        lower=lower,
        limit=limit,
        high_signals=tuple(int(i) for i in np.flatnonzero(upper > limit)),
        low_signals=tuple(int(i) for i in np.flatnonzero(lower > limit)),
    )


def _one_side(steps: _Array, begin: float) -> _Array:
    total = np.cumsum(steps)
    return np.asarray(total - np.minimum(np.minimum.accumulate(total), -begin))
