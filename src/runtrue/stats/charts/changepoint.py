r"""When something changed: one change in the mean of values or in the rate of counts, with an interval for the place.

The largest likelihood ratio over all places is not chi-square distributed, so its limit is found by simulation of
series without a change, with a fixed seed.
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import gammaln, xlogy

from runtrue.errors import InputError
from runtrue.stats.checks import counts, same_length, vector, whole, within

_Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangePoint:
    """Best place for one change, and whether there is one.

    ``after`` values lie before the change (the first value of the new level has position ``after``, from 0);
    ``interval`` is the least and the largest ``after`` of the 95 % set; ``likelihood_ratio`` is twice the logarithm;
    ``p_value`` the share of series without a change that show as much; ``cusum`` max|S| / (s sqrt n), against 1.358
    (5 %) and 1.628 (1 %), None for counts.
    """

    after: int
    interval: tuple[int, int]
    before_level: float
    after_level: float
    likelihood_ratio: float
    p_value: float
    cusum: float | None


def mean_change(values: ArrayLike, *, confidence: float = 0.95, series: int = 2000) -> ChangePoint:
    r"""One change in the mean of Gaussian values with one unknown deviation.

    .. math:: LR = n \ln (SST / SS_{min}), \qquad
              P(k \mid x) \propto [k (n - k)]^{-1/2} \, SS_k^{-(n - 2) / 2}

    The interval holds the places of highest probability that together reach the confidence (flat over places and
    levels, 1/sigma for the deviation).

    Parameters
    ----------
    values : array_like
        In the order they were made, 5 or more
    confidence : float
        Of the interval, above 0 and below 1 [-]
    series : int
        Simulated series behind the p-value, 1 or more

    Returns
    -------
    change : ChangePoint

    Examples
    --------
    >>> found = mean_change([1.0, 1.2, 0.9, 1.1, 1.0, 2.0, 2.1, 1.9, 2.2, 2.0])
    >>> found.after, found.interval, found.p_value < 0.01
    (5, (5, 5), True)

    References
    ----------
    .. [1] Hawkins, J. American Statistical Association 72 (1977) 180; the interval is the posterior of Smith,
       Biometrika 62 (1975) 407 (both from memory, rederived).
    """
    x = vector("values", values, least=5)
    within("confidence", confidence, 0.0, 1.0, above=True, below=True)
    whole("series", series, 1)
    n = x.size
    left, total = _split_squares(x[np.newaxis, :])
    squares, all_squares = left[0], float(total[0])
    if all_squares <= 0.0:
        raise InputError("values are all equal: there is no change to look for")
    floor = 1e-12 * all_squares
    squares = np.maximum(squares, floor)
    best = int(np.argmin(squares)) + 1
    ratio = n * float(np.log(all_squares / squares[best - 1]))
    k = np.arange(1, n)
    log_weight = -0.5 * np.log(k * (n - k)) - 0.5 * (n - 2) * np.log(squares / squares.min())
    sums = np.cumsum(x - x.mean())
    return ChangePoint(
        after=best,
        interval=_highest(log_weight, confidence),
        before_level=float(x[:best].mean()),
        after_level=float(x[best:].mean()),
        likelihood_ratio=ratio,
        p_value=_share_above(_null_mean(n, series), ratio),
        cusum=float(np.abs(sums).max()) / (float(x.std(ddof=1)) * float(np.sqrt(n))),
    )


def rate_change(
    events: ArrayLike, exposure: ArrayLike | None = None, *, confidence: float = 0.95, series: int = 2000
) -> ChangePoint:
    r"""One change in the rate of counted events.

    .. math:: LR = 2 \left[ N_1 \ln \frac{N_1}{t_1} + N_2 \ln \frac{N_2}{t_2} - N \ln \frac{N}{T} \right], \qquad
              P(k \mid x) \propto \frac{\Gamma(N_1 + \frac12) \Gamma(N_2 + \frac12)}
              {t_1^{N_1 + 1/2} t_2^{N_2 + 1/2}}

    Parameters
    ----------
    events : array_like
        Whole numbers in order, 5 or more, not all 0
    exposure : array_like, optional
        Records, sides or hours behind each count, above 0; 1 each where not given
    confidence : float
        Of the interval, above 0 and below 1 [-]
    series : int
        Simulated series behind the p-value, 1 or more

    Returns
    -------
    change : ChangePoint
        Levels are events per unit of exposure

    Examples
    --------
    >>> found = rate_change([3, 4, 2, 5, 3, 0, 1, 0, 0, 1])
    >>> found.after, found.before_level, found.after_level
    (5, 3.4, 0.4)

    References
    ----------
    .. [1] Worsley, Biometrika 73 (1986) 91 for the ratio; the interval as for the mean, with Jeffreys' prior.
    """
    x = counts("events", events, least=5)
    t = np.ones(x.size) if exposure is None else vector("exposure", exposure)
    same_length(events=x, exposure=t)
    within("exposure", t, 0.0, above=True)
    within("confidence", confidence, 0.0, 1.0, above=True, below=True)
    whole("series", series, 1)
    if x.sum() == 0:
        raise InputError("events are all 0: there is no change to look for")
    n1, t1 = np.cumsum(x)[:-1].astype(np.float64), np.cumsum(t)[:-1]
    n2, t2 = float(x.sum()) - n1, float(t.sum()) - t1
    ratios = _rate_ratio(n1, t1, n2, t2)
    best = int(np.argmax(ratios)) + 1
    log_weight = gammaln(n1 + 0.5) + gammaln(n2 + 0.5) - (n1 + 0.5) * np.log(t1) - (n2 + 0.5) * np.log(t2)
    null = _null_rate(int(x.sum()), tuple(float(v) for v in t / t.sum()), series)
    return ChangePoint(
        after=best,
        interval=_highest(log_weight, confidence),
        before_level=float(n1[best - 1] / t1[best - 1]),
        after_level=float(n2[best - 1] / t2[best - 1]),
        likelihood_ratio=float(ratios[best - 1]),
        p_value=_share_above(null, float(ratios[best - 1])),
        cusum=None,
    )


def _split_squares(x: _Array) -> tuple[_Array, _Array]:
    """Sum of squares about the two part means for each split, and about the whole mean; x is (series, n)."""
    n = x.shape[1]
    centred = x - x.mean(axis=1, keepdims=True)
    total = (centred**2).sum(axis=1)
    k = np.arange(1, n)
    first = np.cumsum(centred, axis=1)[:, :-1]
    return total[:, np.newaxis] - first**2 * n / (k * (n - k)), total


def _rate_ratio(n1: _Array, t1: _Array, n2: _Array, t2: _Array) -> _Array:
    n, t = n1 + n2, t1 + t2
    return np.asarray(2.0 * (xlogy(n1, n1 / t1) + xlogy(n2, n2 / t2) - xlogy(n, n / t)))


def _highest(log_weight: _Array, confidence: float) -> tuple[int, int]:
    weight = np.exp(log_weight - log_weight.max())
    order = np.argsort(-weight, kind="stable")
    reached = np.cumsum(weight[order]) / weight.sum()
    taken = order[: int(np.searchsorted(reached, confidence)) + 1]
    return int(taken.min()) + 1, int(taken.max()) + 1


def _share_above(null: _Array, found: float) -> float:
    """Simulated p-value; never 0, because one more series was seen: the one at hand."""
    return float((1 + np.count_nonzero(null >= found)) / (1 + null.size))


@lru_cache(maxsize=8)
def _null_mean(n: int, series: int) -> _Array:
    rng = np.random.default_rng(n)
    found = []
    for start in range(0, series, 200):
        left, total = _split_squares(rng.standard_normal((min(200, series - start), n)))
        found.append(n * np.log(total / left.min(axis=1)))
    return np.concatenate(found)


@lru_cache(maxsize=8)
def _null_rate(events: int, shares: tuple[float, ...], series: int) -> _Array:
    rng = np.random.default_rng(events)
    drawn = rng.multinomial(events, np.array(shares) / sum(shares), size=series)
    n1 = np.cumsum(drawn, axis=1)[:, :-1].astype(np.float64)
    t1 = np.cumsum(shares)[:-1]
    return np.asarray(_rate_ratio(n1, t1, events - n1, np.sum(shares) - t1).max(axis=1))
