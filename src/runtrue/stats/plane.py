r"""Vectors in the plane of the disc: the circle, the direction and the length that cover the truth.

A :class:`~runtrue.types.PlaneVector` is an estimate and the distribution of its error: a Gaussian with covariance C
plus a displacement that is uniform over a disc whose radius is itself uniform over the slack. Everything here is one
probability, that of ``estimate + error`` falling into a region that has one interval of y over each x:

.. math:: P = \int \frac{dR}{s_1 - s_0} \int \frac{2}{\pi} \cos^2 t \, dt \int dx \, \varphi(x - m_x - R \sin t)
          \; P(y \in [a(x), b(x)] \mid x, R, t)

The last factor is closed: given x the error in y is uniform over +-R cos t plus a Gaussian. The rest is Gauss-Legendre
quadrature, so no random numbers are drawn and the same input gives the same digits. Error of the probability: below
1e-6 without slack, below 2e-4 with it (``tests/truth/test_stats_plane.py`` compares with simulation).
"""

from collections.abc import Callable
from functools import lru_cache
from math import asin, atan2, cos, expm1, hypot, isfinite, isnan, log, pi, sin, sqrt

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from runtrue.errors import InputError
from runtrue.types import PlaneVector

_Array = NDArray[np.float64]
_Interval = Callable[[_Array], tuple[_Array, _Array]]

_REACH = 6.0
"""Standard deviations of the Gaussian that are integrated on each side; 2e-9 lies beyond."""
_NEGLIGIBLE = 1e-6
"""Slack or deviation below this share of the rest is left out."""
_TOLERANCE = 2e-6
"""A root is found when the probability is met this closely."""


def covering_radius(
    covariance: tuple[float, float, float],
    slack: tuple[float, float] = (0.0, 0.0),
    *,
    probability: float = 0.95,
    dof: float | None = None,
) -> float:
    r"""Radius of the circle about the estimate that holds the true vector with the probability.

    .. math:: P(|G + S| \le r) = p

    with G Gaussian and S the slack. For C = s^2 I and no slack, r = s sqrt(-2 ln(1 - p)), which is 2.4477 s at 95 %.
    With ``dof`` the covariance is an estimate from that many degrees of freedom, r = s sqrt(2 F(p; 2, dof)); for an
    unequal covariance the Gaussian is widened by that same ratio.

    Parameters
    ----------
    covariance : tuple of 3 floats
        xx, xy, yy of the Gaussian part [m2], positive semidefinite
    slack : tuple of 2 floats
        Least and largest radius of the disc of displacement [m], 0 <= least <= largest
    probability : float
        p, above 0 and below 1 [-]
    dof : float, optional
        Degrees of freedom of the covariance, above 0; None for a known covariance

    Returns
    -------
    radius : float
        r [m]

    Notes
    -----
    Raises ``InputError`` outside the ranges above.

    Examples
    --------
    >>> covering_radius((1.0, 0.0, 1.0))
    2.4477
    >>> covering_radius((1.0, 0.0, 0.0))
    1.9600
    >>> covering_radius((1.0, 0.0, 1.0), dof=10)
    2.8645
    >>> covering_radius((0.0, 0.0, 0.0), (1.0, 1.0))
    0.97

    References
    ----------
    .. [1] Rayleigh distribution, closed form; the second example is the normal 97.5 % point; the third sqrt(2 F) with
       F(0.95; 2, 10) = 4.103 of any printed table; the last sqrt(0.95).
    """
    _check(covariance, slack)
    if not 0.0 < probability < 1.0:
        raise InputError(f"probability must be above 0 and below 1, got {probability:g}")
    if dof is not None:
        covariance = widened(covariance, dof, probability=probability)
    minor, major, _ = _principal(covariance)
    upper = hypot(sqrt(major), sqrt(minor)) * sqrt(-2.0 * log((1.0 - probability) / 2.0)) + slack[1]
    if upper == 0.0:
        return 0.0
    if not slack[1] > _NEGLIGIBLE * sqrt(major) and major - minor <= 1e-12 * major:
        return sqrt(-2.0 * major * log(1.0 - probability))
    return _root(lambda r: _circle((0.0, 0.0), covariance, slack, r) - probability, 0.0, upper)


def widened(
    covariance: tuple[float, float, float], dof: float, *, probability: float = 0.95
) -> tuple[float, float, float]:
    r"""Covariance whose Gaussian circle is that of a covariance estimated with ``dof`` degrees of freedom.

    .. math:: C' = C \, F(p; 2, \nu) \cdot 2 / \chi^2(p; 2)
              \quad F(p; 2, \nu) = \tfrac{\nu}{2} \left[ (1 - p)^{-2/\nu} - 1 \right]

    Exact for the circle at the probability when C is s^2 I; the shape of an unequal covariance is kept.

    Parameters
    ----------
    covariance : tuple of 3 floats
        xx, xy, yy [m2]
    dof : float
        Degrees of freedom, above 0 [-]
    probability : float
        p at which the circles agree, above 0 and below 1 [-]

    Returns
    -------
    covariance : tuple of 3 floats
        xx, xy, yy [m2]

    Examples
    --------
    >>> widened((1.0, 0.0, 1.0), 10.0)[0]
    1.3696

    References
    ----------
    .. [1] F with 2 numerator degrees of freedom inverts in closed form; F(0.95; 2, 10) = 4.103 in printed tables.
    """
    if not dof > 0.0:
        raise InputError(f"dof must be above 0, got {dof:g}")
    log_miss = log(1.0 - probability)
    factor = 1.0 if dof > 1e9 else (dof / 2.0) * expm1(-2.0 * log_miss / dof) / -log_miss
    return covariance[0] * factor, covariance[1] * factor, covariance[2] * factor


def plane_vector(
    x: float,
    y: float,
    covariance: tuple[float, float, float],
    slack: tuple[float, float] = (0.0, 0.0),
    dof: float | None = None,
) -> PlaneVector:
    """Return the vector with its 95 % circle filled in.

    With ``dof`` the stored covariance is the widened one (:func:`widened`), so that circle, direction, length and
    judgement all carry the freedom of the estimate.

    Parameters
    ----------
    x, y : float
        Estimate [m]
    covariance : tuple of 3 floats
        xx, xy, yy [m2], positive semidefinite
    slack : tuple of 2 floats
        Least and largest radius of the disc of displacement [m]
    dof : float, optional
        Degrees of freedom of the covariance, above 0

    Returns
    -------
    vector : PlaneVector
        With ``u95`` [m]

    Examples
    --------
    >>> plane_vector(100e-6, 0.0, (1e-10, 0.0, 1e-10)).u95 * 1e6
    24.477
    """
    if not (isfinite(x) and isfinite(y)):
        raise InputError(f"plane vector: x and y must be finite, got {x}, {y}")
    _check(covariance, slack)
    if dof is not None:
        covariance = widened(covariance, dof)
    return PlaneVector(
        x=float(x), y=float(y), covariance=covariance, slack=slack, u95=covering_radius(covariance, slack)
    )


def direction_half_width(vector: PlaneVector) -> float:
    r"""Half-width of the sector about the estimate's direction that holds the true direction 95 times in 100.

    .. math:: P(|\arg(v + \epsilon) - \arg v| \le h) = 0.95

    Parameters
    ----------
    vector : PlaneVector
        With its distribution

    Returns
    -------
    half_width : float
        h [rad]; pi where u95 is at least the length, for then the direction is not known

    Notes
    -----
    h is at most asin(u95 / length), because the tangents from zero enclose the covering circle.

    Examples
    --------
    >>> direction_half_width(plane_vector(100e-6, 0.0, (1e-10, 0.0, 1e-10)))
    0.1973
    >>> direction_half_width(plane_vector(10e-6, 0.0, (1e-10, 0.0, 1e-10)))
    3.1416

    References
    ----------
    .. [1] Far from zero the small-angle form 1.96 s / length holds; the first example is 0.7 % above it.
    """
    length = vector.length
    if vector.u95 >= length:
        return pi
    if vector.u95 <= 1e-12 * length:
        return 0.0
    minor, major, angle = _principal(vector.covariance)
    mean = _turned(vector.x, vector.y, -angle)
    direction = atan2(mean[1], mean[0])

    def excess(half_width: float) -> float:
        return _mass(mean, (minor, major), vector.slack, None, _sector(direction, half_width)) - 0.95

    top = asin(vector.u95 / length)
    return _root(excess, 0.0, min(1.02 * top, 0.5 * (top + pi / 2)), first=0.8 * top)


def _sector(direction: float, half_width: float) -> _Interval:
    """Interval of y over each x inside the sector from zero, half-width below pi / 2."""
    edges = ((direction - half_width, 1.0), (direction + half_width, -1.0))

    def interval(x: _Array) -> tuple[_Array, _Array]:
        bottom, top = np.full(x.shape, -np.inf), np.full(x.shape, np.inf)
        for edge, sign in edges:
            lean = cos(edge) if abs(cos(edge)) > 1e-12 else 1e-12
            y = x * (sin(edge) / lean)
            if sign * lean > 0.0:
                bottom = np.maximum(bottom, y)
            else:
                top = np.minimum(top, y)
        return bottom, np.maximum(bottom, top)

    return interval


def length_half_width(vector: PlaneVector) -> float:
    r"""Half-width h such that length +- h holds the true length at least 95 times in 100.

    With h(T) the number for which a true length T is estimated within +-h(T) 95 times in 100,

    .. math:: P(\,\bigl||T + \epsilon| - T\bigr| \le h(T)\,) = 0.95,

    the half-width for an estimate L is the h(T) of the smallest T that is still compatible with L. Far from zero this
    is 1.96 s. Near zero an estimated length is too long, and simply taking h(L) would hold the truth only 84 times in
    100: where zero itself is compatible (L below u95) the half-width reaches down to zero.

    Parameters
    ----------
    vector : PlaneVector
        With its distribution

    Returns
    -------
    half_width : float
        h [m]

    Examples
    --------
    >>> length_half_width(plane_vector(1e-3, 0.0, (1e-10, 0.0, 1e-10))) * 1e6
    19.60
    >>> length_half_width(plane_vector(20e-6, 0.0, (1e-10, 0.0, 1e-10))) * 1e6
    20.00

    References
    ----------
    .. [1] Inversion of the 95 % acceptance region (Neyman), worked out here; coverage by simulation in the tests.
    """
    length, u95 = vector.length, vector.u95
    if u95 == 0.0:
        return 0.0
    if length <= u95:
        return max(length, _spread_at(vector, length))
    half_width = _spread_at(vector, length)
    return max(half_width, _spread_at(vector, max(length - half_width, 0.0)))


def length_probability(vector: PlaneVector, *, upper: float | None = None, lower: float | None = None) -> float:
    """Probability that the true vector's length lies within the limits, over the vector's distribution.

    The true vector is taken as estimate plus error (a flat prior over the plane).

    Parameters
    ----------
    vector : PlaneVector
        With its distribution
    upper, lower : float, optional
        Limits on the length [m]; None for no limit on that side

    Returns
    -------
    probability : float
        From 0 to 1 [-]

    Examples
    --------
    >>> length_probability(plane_vector(0.0, 0.0, (1.0, 0.0, 1.0)), upper=2.4477)
    0.9500
    >>> length_probability(plane_vector(90e-6, 0.0, (1e-10, 0.0, 1e-10)), upper=100e-6)
    0.8282

    References
    ----------
    .. [1] Rice distribution for a round Gaussian; the second example is the noncentral chi-square (2 degrees of
       freedom, noncentrality 81) below 100.
    """
    for name, limit in (("upper", upper), ("lower", lower)):
        if limit is not None and isnan(limit):
            raise InputError(f"{name} limit on a length must be a number, got {limit}")
    below_upper = 1.0 if upper is None else _length_below(vector, upper, inclusive=True)
    below_lower = 0.0 if lower is None else _length_below(vector, lower, inclusive=False)
    return min(1.0, max(0.0, below_upper - below_lower))


def _length_below(vector: PlaneVector, limit: float, *, inclusive: bool) -> float:
    if limit == np.inf:
        return 1.0
    if vector.u95 <= 1e-12 * vector.length or vector.u95 == 0.0:
        return float(vector.length <= limit if inclusive else vector.length < limit)
    return _circle((vector.x, vector.y), vector.covariance, vector.slack, limit)


def _spread_at(vector: PlaneVector, length: float) -> float:
    """h(T): how far the estimate of a true length T strays, 95 times in 100, in the direction of the vector."""
    scale = length / vector.length if vector.length > 0.0 else 0.0
    mean = (vector.x * scale, vector.y * scale)

    def excess(half_width: float) -> float:
        inside = _circle(mean, vector.covariance, vector.slack, length + half_width)
        if half_width < length:
            inside -= _circle(mean, vector.covariance, vector.slack, length - half_width)
        return inside - 0.95

    return _root(excess, 0.0, 1.001 * vector.u95)


def _check(covariance: tuple[float, float, float], slack: tuple[float, float]) -> None:
    xx, xy, yy = covariance
    if not (isfinite(xx) and isfinite(xy) and isfinite(yy)):
        raise InputError(f"covariance must be finite, got {covariance}")
    if xx < 0.0 or yy < 0.0 or xy * xy > xx * yy * (1.0 + 1e-9) + 1e-300:
        raise InputError(f"covariance (xx, xy, yy) must be positive semidefinite, got {covariance}")
    if not 0.0 <= slack[0] <= slack[1] < np.inf:
        raise InputError(f"slack must be 0 or more and rise from least to largest, got {slack}")


def _principal(covariance: tuple[float, float, float]) -> tuple[float, float, float]:
    """Smaller and larger eigenvalue and the angle of the smaller's axis [rad]."""
    xx, xy, yy = covariance
    middle, half = 0.5 * (xx + yy), hypot(0.5 * (xx - yy), xy)
    return max(middle - half, 0.0), middle + half, 0.5 * atan2(2.0 * xy, xx - yy) + pi / 2


def _turned(x: float, y: float, angle: float) -> tuple[float, float]:
    """Turn a vector counter-clockwise."""
    c, s = cos(angle), sin(angle)
    return c * x - s * y, s * x + c * y


def _circle(
    mean: tuple[float, float], covariance: tuple[float, float, float], slack: tuple[float, float], radius: float
) -> float:
    """P(|mean + error| <= radius)."""
    if radius <= 0.0:
        return 0.0
    minor, major, angle = _principal(covariance)

    def interval(x: _Array) -> tuple[_Array, _Array]:
        height = np.sqrt(np.maximum(radius * radius - x * x, 0.0))
        return -height, height

    return _mass(_turned(mean[0], mean[1], -angle), (minor, major), slack, radius, interval)


@lru_cache(maxsize=8)
def _nodes(count: int) -> tuple[_Array, _Array]:
    nodes, weights = np.polynomial.legendre.leggauss(count)
    return 0.5 * (nodes + 1.0), 0.5 * weights


def _mass(
    mean: tuple[float, float],
    variances: tuple[float, float],
    slack: tuple[float, float],
    radius: float | None,
    interval: _Interval,
) -> float:
    """Probability of the region {|x| <= radius, y in interval(x)}, x along the axis of the smaller variance.

    Over a circle the nodes are laid by angle, x = r sin t, which takes the infinite slope out of its ends. The
    direction of the larger variance is the one done in closed form, so a needle-shaped Gaussian costs no accuracy.
    """
    size = sqrt(variances[0] + variances[1])
    floor = 1e-9 * (size + slack[1])
    sd_x, sd_y = max(sqrt(variances[0]), floor), max(sqrt(variances[1]), floor)
    loose = slack[1] > _NEGLIGIBLE * size
    shift, half, weight = _slack_nodes(slack) if loose else (np.zeros(1), np.zeros(1), np.ones(1))
    unit, unit_weight = _nodes(28 if loose else 64)
    centre = (mean[0] + shift)[:, np.newaxis]
    low, high = centre - _REACH * sd_x, centre + _REACH * sd_x
    if radius is None:
        split = np.clip(0.0, low, high)  # a sector has a corner over x = 0
        x = np.concatenate([low + (split - low) * unit, split + (high - split) * unit], axis=1)
        x_weight = np.concatenate([(split - low) * unit_weight, (high - split) * unit_weight], axis=1)
    else:
        low = np.arcsin(np.clip(low / radius, -1.0, 1.0))
        high = np.arcsin(np.clip(high / radius, -1.0, 1.0))
        t = low + (high - low) * unit
        x = radius * np.sin(t)
        x_weight = (high - low) * unit_weight * np.sqrt(radius * radius - x * x)
    bottom, top = interval(x)
    z = (x - centre) / sd_x
    x_weight *= np.exp(-0.5 * z * z) / (sd_x * sqrt(2.0 * pi))
    inside = _between((bottom - mean[1]) / sd_y, (top - mean[1]) / sd_y, half[:, np.newaxis] / sd_y, loose=loose)
    return float(weight @ (x_weight * inside).sum(axis=1))


def _slack_nodes(slack: tuple[float, float]) -> tuple[_Array, _Array, _Array]:
    """x shift, half-width in y and weight of the nodes over the disc of displacement."""
    unit, unit_weight = _nodes(20)
    t = pi * (unit - 0.5)
    across = 2.0 * unit_weight * np.cos(t) ** 2
    if slack[1] - slack[0] <= 1e-9 * slack[1]:
        return slack[1] * np.sin(t), slack[1] * np.cos(t), across
    radius_unit, radius_weight = _nodes(8)
    radius = slack[0] + (slack[1] - slack[0]) * radius_unit
    return (
        np.outer(radius, np.sin(t)).ravel(),
        np.outer(radius, np.cos(t)).ravel(),
        np.outer(radius_weight, across).ravel(),
    )


def _between(bottom: _Array, top: _Array, half: _Array, *, loose: bool) -> _Array:
    """P(bottom <= U + Z <= top), Z standard normal, U uniform over +-half; all in units of the deviation of Z."""
    if not loose:
        return np.asarray(ndtr(top) - ndtr(bottom))
    half = np.maximum(half, 1e-5)
    bottom, top = np.maximum(bottom, -1e9), np.minimum(top, 1e9)
    rise = _ramp(top + half) - _ramp(top - half) - _ramp(bottom + half) + _ramp(bottom - half)
    return np.asarray(rise / (2.0 * half))


def _ramp(z: _Array) -> _Array:
    """Integral of the normal distribution function up to z."""
    return np.asarray(z * ndtr(z) + np.exp(-0.5 * z * z) / sqrt(2.0 * pi))


def _root(function: Callable[[float], float], low: float, high: float, *, first: float | None = None) -> float:
    """Root of a rising function between low and high: secant steps kept inside the bracket (Illinois)."""
    f_low, f_high = function(low) if low > 0.0 else -1.0, function(high)
    if f_high <= 0.0:
        return high
    side = 0
    for _ in range(60):
        middle = (low * f_high - high * f_low) / (f_high - f_low)
        if first is not None and low < first < high:
            middle, first = first, None
        f_middle = function(middle)
        if abs(f_middle) < _TOLERANCE or high - low < 1e-9 * high:
            return middle
        if f_middle > 0.0:
            high, f_high = middle, f_middle
            f_low = f_low / 2.0 if side > 0 else f_low
            side = 1
        else:
            low, f_low = middle, f_middle
            f_high = f_high / 2.0 if side < 0 else f_high
            side = -1
    return 0.5 * (low + high)
