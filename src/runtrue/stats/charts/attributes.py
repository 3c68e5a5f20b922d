r"""Charts for counted faults: share of bad records (p) and faults per unit (u), with exact limits for small counts."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from runtrue.errors import InputError
from runtrue.stats.charts.chart import Chart, make_chart
from runtrue.stats.checks import counts, same_length, vector, within

_Array = NDArray[np.float64]

_SMALL_MEAN = 5.0
"""Below this expected count three sigma limits are wrong and exact quantiles are used (common practice)."""
_TAIL = 0.001349898031630
"""Share of a Gaussian beyond three sigma on one side."""


def p_chart(bad: ArrayLike, inspected: ArrayLike, *, share: float | None = None) -> Chart:
    r"""Share of bad records in each sample.

    .. math:: \bar p \pm 3 \sqrt{\bar p (1 - \bar p) / n_i}

    Where n p is below 5 the limits are the exact binomial quantiles with 0.135 % beyond each.

    Parameters
    ----------
    bad, inspected : array_like
        Whole numbers of one length, bad not above inspected, inspected 1 or more
    share : float, optional
        Known share, above 0 and below 1; without it the mean of the samples

    Returns
    -------
    chart : Chart
        Of shares [-]

    Examples
    --------
    >>> chart = p_chart([12, 8, 10], [200, 200, 200])
    >>> float(chart.centre[0]), float(chart.upper[0])
    (0.05, 0.0962)

    References
    ----------
    .. [1] NIST/SEMATECH e-Handbook 6.3.3.2; exact limits by the binomial distribution.
    """
    x, n = counts("bad", bad), counts("inspected", inspected)
    same_length(bad=x, inspected=n)
    if np.any(n < 1) or np.any(x > n):
        raise InputError("inspected must be 1 or more and bad not above it, in every sample")
    used = x.size if share is None else None
    p = float(x.sum() / n.sum()) if share is None else share
    within("share", p, 0.0, 1.0)
    sigma = np.sqrt(p * (1.0 - p) / n)
    from scipy.stats import binom

    exact = n * min(p, 1.0 - p) < _SMALL_MEAN
    lower = np.where(exact, np.asarray(binom.ppf(_TAIL, n, p)) / n, np.maximum(0.0, p - 3.0 * sigma))
    upper = np.where(exact, binom.ppf(1.0 - _TAIL, n, p) / n, np.minimum(1.0, p + 3.0 * sigma))
    return make_chart("p", x / n, centre=p, sigma=sigma, lower=lower, upper=upper, used=used)


def u_chart(faults: ArrayLike, units: ArrayLike, *, rate: float | None = None) -> Chart:
    r"""Faults per unit (record, side, minute of playing) in each sample; with one unit a sample this is the c chart.

    .. math:: \bar u \pm 3 \sqrt{\bar u / n_i}

    Where n u is below 5 the limits are the exact Poisson quantiles with 0.135 % beyond each.

    Parameters
    ----------
    faults : array_like
        Whole numbers
    units : array_like
        Size of each sample, above 0, same length
    rate : float, optional
        Known faults per unit, above 0; without it the mean of the samples

    Returns
    -------
    chart : Chart
        Of faults per unit

    Examples
    --------
    >>> chart = u_chart([9, 16, 11], [1.0, 2.0, 1.0])
    >>> float(chart.centre[0]), float(chart.upper[0]), float(chart.upper[1])
    (9.0, 18.0, 15.36)

    References
    ----------
    .. [1] NIST/SEMATECH e-Handbook 6.3.3.1; exact limits by the Poisson distribution.
    """
    x, n = counts("faults", faults), vector("units", units)
    same_length(faults=x, units=n)
    within("units", n, 0.0, above=True)
    used = x.size if rate is None else None
    u = float(x.sum() / n.sum()) if rate is None else rate
    within("rate", u, 0.0)
    sigma = np.sqrt(u / n)
    from scipy.stats import poisson

    exact = n * u < _SMALL_MEAN
    lower = np.where(exact, np.asarray(poisson.ppf(_TAIL, n * u)) / n, np.maximum(0.0, u - 3.0 * sigma))
    upper = np.where(exact, poisson.ppf(1.0 - _TAIL, n * u) / n, u + 3.0 * sigma)
    return make_chart("u", x / n, centre=u, sigma=sigma, lower=lower, upper=upper, used=used)
