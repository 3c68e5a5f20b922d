r"""What a decision rule costs: guard bands, and the risks of consumer and producer (JCGM 106:2012).

:mod:`runtrue.stats.conformity` judges one reading. Here the rule itself is looked at: how far inside the limit a
reading must lie, and how often bad records are accepted and good ones refused over everything a process makes.
"""

from dataclasses import dataclass
from math import inf, sqrt
from typing import Any, Literal, Protocol

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import ndtr, ndtri

from runtrue.errors import InputError
from runtrue.stats.checks import within

_Array = NDArray[np.float64]


class Process(Protocol):
    """How the true value varies over what is made: any frozen continuous distribution of ``scipy.stats``."""

    def pdf(self, x: Any, /) -> Any:
        """Density."""
        ...

    def ppf(self, q: Any, /) -> Any:
        """Quantile."""
        ...


@dataclass(frozen=True, slots=True, kw_only=True)
class Risks:
    """Over all that is made: ``consumer`` bad and accepted, ``producer`` good and refused, ``bad`` made bad."""

    consumer: float
    producer: float
    bad: float


def acceptance_reading(
    limit: float,
    *,
    u: float | None = None,
    relative_u: float | None = None,
    probability: float = 0.95,
    side: Literal["upper", "lower"] = "upper",
) -> float:
    r"""Reading at which a limit is kept with the probability: the limit less its guard band (guarded acceptance).

    .. math:: A_U = T_U - z_p u, \qquad A_U = T_U / (1 + z_p u_{rel})

    Parameters
    ----------
    limit : float
        T
    u, relative_u : float
        Standard uncertainty, absolute or as a share of the reading; give one, 0 or more
    probability : float
        Conformance probability at that reading, above 0 and below 1 [-]
    side : str
        upper or lower limit

    Returns
    -------
    reading : float
        Unit of the limit

    Examples
    --------
    >>> acceptance_reading(200.0, u=10.0)
    183.55
    >>> acceptance_reading(490.0, u=8.6, side="lower")
    504.15

    References
    ----------
    .. [1] JCGM 106:2012, 8.3.2: w = 1.645 u gives 95 %, w = 2 u 97.7 % (one-sided).
    """
    return _reading(limit, u, relative_u, probability, inward=side == "upper", side=side)


def rejection_reading(
    limit: float,
    *,
    u: float | None = None,
    relative_u: float | None = None,
    probability: float = 0.95,
    side: Literal["upper", "lower"] = "upper",
) -> float:
    r"""Reading from which a limit is broken with the probability (guarded rejection): T + z u, T / (1 - z u_rel).

    Parameters are those of :func:`acceptance_reading`.

    Examples
    --------
    >>> rejection_reading(100.0, relative_u=0.02, probability=0.999)
    106.6

    References
    ----------
    .. [1] JCGM 106:2012, 8.3.3; the example is its speed limit (from memory: 107 km/h after rounding up).
    """
    return _reading(limit, u, relative_u, probability, inward=side != "upper", side=side)


def posterior(reading: float, u: float, process_mean: float, process_deviation: float) -> tuple[float, float]:
    r"""Estimate and standard uncertainty when a reading is joined with what the process usually makes.

    .. math:: y^* = \frac{u^2 y_0 + u_0^2 y}{u^2 + u_0^2}, \qquad u^{*2} = \frac{u_0^2 u^2}{u_0^2 + u^2}

    Parameters
    ----------
    reading, u : float
        y and its standard uncertainty, u above 0
    process_mean, process_deviation : float
        y0, u0 of the Gaussian prior, u0 above 0

    Returns
    -------
    estimate, u : float

    Examples
    --------
    >>> posterior(0.25, 0.1, 0.0, 0.2)
    (0.2, 0.08944)

    References
    ----------
    .. [1] JCGM 106:2012, 7.2.2.
    """
    within("u", u, 0.0, above=True)
    within("process_deviation", process_deviation, 0.0, above=True)
    a, b = u * u, process_deviation**2
    return (a * process_mean + b * reading) / (a + b), sqrt(a * b / (a + b))


def probability_within(estimate: ArrayLike, u: ArrayLike, lower: float = -inf, upper: float = inf) -> _Array:
    r"""Probability that a Gaussian value lies within the limits.

    .. math:: p_c = \Phi\frac{T_U - y}{u} - \Phi\frac{T_L - y}{u}

    Parameters
    ----------
    estimate, u : array_like
        y and its standard uncertainty, above 0
    lower, upper : float
        Limits, lower not above upper

    Returns
    -------
    probability : ndarray
        [-]

    Examples
    --------
    >>> float(probability_within(-5.47, 0.05, upper=-5.40))
    0.919

    References
    ----------
    .. [1] JCGM 106:2012, 7.3 and 7.4; the example is its diode (from memory).
    """
    within("u", u, 0.0, above=True)
    if not lower <= upper:
        raise InputError(f"lower ({lower:g}) must not be above upper ({upper:g})")
    y, deviation = np.asarray(estimate, dtype=np.float64), np.asarray(u, dtype=np.float64)
    below, above = (lower - y) / deviation, (upper - y) / deviation
    flip = below > 0.0
    return np.asarray(ndtr(np.where(flip, -below, above)) - ndtr(np.where(flip, -above, below)))


def global_risks(
    process: Process,
    u: float,
    *,
    lower: float = -inf,
    upper: float = inf,
    accept_from: float = -inf,
    accept_to: float = inf,
) -> Risks:
    r"""Risks of a rule over everything the process makes.

    .. math:: R_C = \int_{bad} g_0(\eta) \, P(reading \in A \mid \eta) \, d\eta, \qquad
              R_P = \int_{good} g_0(\eta) \, P(reading \notin A \mid \eta) \, d\eta

    Parameters
    ----------
    process : Process
        g0, the distribution of the true value
    u : float
        Standard uncertainty of a reading, Gaussian, above 0
    lower, upper : float
        Limits on the true value, at least one finite
    accept_from, accept_to : float
        Readings that are accepted; without a guard band the limits themselves

    Returns
    -------
    risks : Risks
        [-]

    Examples
    --------
    >>> from scipy.stats import gamma
    >>> risks = global_risks(gamma(4, scale=0.25), 0.25, upper=2.0, accept_to=2.0)
    >>> risks.bad, risks.consumer, risks.producer
    (0.0424, 0.0080, 0.0174)

    References
    ----------
    .. [1] JCGM 106:2012, 9.5.4 (ball bearings): 0.0424 and 0.0080; producer's risk recomputed.
    """
    within("u", u, 0.0, above=True)
    if lower == -inf and upper == inf:
        raise InputError("give lower, upper or both: a rule without a limit has no risk")
    start, end = float(process.ppf(1e-12)), float(process.ppf(1.0 - 1e-12))

    def over(low: float, high: float, *, accepted: bool) -> float:
        low, high = max(low, start), min(high, end)
        if not high > low:
            return 0.0
        x, weight = _panels(low, high, 0.5 * u)
        taken = probability_within(x, u, accept_from, accept_to)
        return float(weight @ (np.asarray(process.pdf(x)) * (taken if accepted else 1.0 - taken)))

    consumer = over(-inf, lower, accepted=True) + over(upper, inf, accepted=True)
    producer = over(lower, upper, accepted=False)
    bad = consumer + over(-inf, lower, accepted=False) + over(upper, inf, accepted=False)
    return Risks(consumer=consumer, producer=producer, bad=bad)


def acceptance_limit_for_risk(process: Process, u: float, *, upper: float, consumer_risk: float) -> float:
    """Upper reading to accept so that the consumer's risk over all that is made is the one asked for.

    Parameters
    ----------
    process, u : as in :func:`global_risks`
    upper : float
        Limit on the true value
    consumer_risk : float
        Above 0 and below the share made bad [-]

    Returns
    -------
    accept_to : float

    Examples
    --------
    >>> from scipy.stats import gamma
    >>> acceptance_limit_for_risk(gamma(4, scale=0.25), 0.25, upper=2.0, consumer_risk=0.001)
    1.672

    References
    ----------
    .. [1] JCGM 106:2012, 9.5.4.
    """
    from scipy.optimize import brentq

    bad = global_risks(process, u, upper=upper).bad
    within("consumer_risk", consumer_risk, 0.0, bad, above=True, below=True)

    def excess(accept_to: float) -> float:
        return global_risks(process, u, upper=upper, accept_to=accept_to).consumer - consumer_risk

    return float(brentq(excess, upper - 12.0 * u, float(process.ppf(1.0 - 1e-12)) + 12.0 * u, xtol=1e-10))


def _panels(low: float, high: float, width: float) -> tuple[_Array, _Array]:
    """Gauss-Legendre nodes over panels not wider than ``width`` (but at most 400 of them)."""
    nodes, weights = np.polynomial.legendre.leggauss(12)
    count = int(min(400, max(8, np.ceil((high - low) / width))))
    edges = np.linspace(low, high, count + 1)
    half = 0.5 * np.diff(edges)[:, np.newaxis]
    return (edges[:-1, np.newaxis] + half * (nodes + 1.0)).ravel(), (half * weights).ravel()


def _reading(
    limit: float, u: float | None, relative_u: float | None, probability: float, *, inward: bool, side: str
) -> float:
    within("probability", probability, 0.0, 1.0, above=True, below=True)
    if side not in ("upper", "lower"):
        raise InputError(f"side must be upper or lower, got {side}")
    if (u is None) == (relative_u is None):
        raise InputError("give u or relative_u, one of the two")
    z = float(ndtri(probability)) * (-1.0 if inward else 1.0)
    if u is not None:
        within("u", u, 0.0)
        return limit + z * u
    assert relative_u is not None
    within("relative_u", relative_u, 0.0)
    if not 1.0 - z * relative_u > 0.0:
        raise InputError(f"relative_u {relative_u:g} is too large for a decision at {probability:g}")
    return limit / (1.0 - z * relative_u)
