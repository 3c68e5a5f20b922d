r"""How a process in control lies in its limits: Cp and Cpk with their intervals."""

from dataclasses import dataclass
from math import inf, nan, sqrt

from runtrue.errors import InputError
from runtrue.stats.checks import within


@dataclass(frozen=True, slots=True, kw_only=True)
class Capability:
    """Indices with their intervals; Cp and k are None where only one limit exists.

    ``upper_index`` and ``lower_index`` are the distances to each limit over 3 sigma, ``off_middle`` (k) the distance of
    the mean from the middle over half the tolerance.
    """

    cp: float | None
    cp_interval: tuple[float, float] | None
    cpk: float
    cpk_interval: tuple[float, float]
    upper_index: float | None
    lower_index: float | None
    off_middle: float | None


def capability(
    mean: float,
    sigma: float,
    n: int,
    *,
    lower: float | None = None,
    upper: float | None = None,
    dof: float | None = None,
    confidence: float = 0.95,
) -> Capability:
    r"""Cp, Cpk and intervals.

    .. math:: C_p = \frac{U - L}{6 s}, \quad C_{pk} = \frac{\min(U - \bar x, \bar x - L)}{3 s}, \quad
              C_p \sqrt{\chi^2_{\alpha/2, \nu} / \nu} \dots C_p \sqrt{\chi^2_{1 - \alpha/2, \nu} / \nu}, \quad
              C_{pk} \pm z \sqrt{\frac{1}{9 n} + \frac{C_{pk}^2}{2 \nu}}

    Parameters
    ----------
    mean, sigma : float
        Of the values, sigma above 0
    n : int
        Number of values, 2 or more
    lower, upper : float
        Limits, at least one
    dof : float, optional
        Degrees of freedom of sigma; n - 1 where not given, about 0.6 (n - 1) for the mean moving range, 0.9 k (m - 1)
        for the mean range of k subgroups of m
    confidence : float
        Above 0 and below 1 [-]

    Returns
    -------
    indices : Capability

    Notes
    -----
    The process must be in control first (:func:`runtrue.stats.charts.phase_one`); an index of a process that wanders
    says nothing about tomorrow.

    Examples
    --------
    >>> found = capability(16.0, 2.0, 50, lower=8.0, upper=20.0)
    >>> found.cp, found.cpk, found.off_middle
    (1.0, 0.6667, 0.3333)

    References
    ----------
    .. [1] NIST/SEMATECH e-Handbook 6.1.6; Bissell, Applied Statistics 39 (1990) 331 for the interval of Cpk.
    """
    from scipy.special import chdtri, ndtri

    within("sigma", sigma, 0.0, above=True)
    within("n", n, 2)
    within("confidence", confidence, 0.0, 1.0, above=True, below=True)
    if lower is None and upper is None:
        raise InputError("give lower, upper or both")
    if lower is not None and upper is not None and not lower < upper:
        raise InputError(f"lower ({lower:g}) must be below upper ({upper:g})")
    nu = float(n - 1) if dof is None else dof
    within("dof", nu, 0.0, above=True)
    above = inf if upper is None else (upper - mean) / (3.0 * sigma)
    below = inf if lower is None else (mean - lower) / (3.0 * sigma)
    cpk = min(above, below)
    half = float(ndtri(0.5 + confidence / 2.0)) * sqrt(1.0 / (9.0 * n) + cpk * cpk / (2.0 * nu))
    both = (nan, nan) if lower is None or upper is None else (lower, upper)
    cp = (both[1] - both[0]) / (6.0 * sigma)
    tail = (1.0 - confidence) / 2.0
    two_limits = lower is not None and upper is not None
    return Capability(
        cp=cp if two_limits else None,
        cp_interval=(
            (cp * sqrt(float(chdtri(nu, 1.0 - tail)) / nu), cp * sqrt(float(chdtri(nu, tail)) / nu))
            if two_limits
            else None
        ),
        cpk=cpk,
        cpk_interval=(cpk - half, cpk + half),
        upper_index=None if upper is None else above,
        lower_index=None if lower is None else below,
        off_middle=abs(mean - 0.5 * (both[0] + both[1])) / (0.5 * (both[1] - both[0])) if two_limits else None,
    )
