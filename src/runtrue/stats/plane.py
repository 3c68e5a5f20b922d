r"""Vectors in the plane of the disc: the circle, the ellipse, the direction and the length that cover the truth.

A :class:`~runtrue.types.PlaneVector` is an estimate and the distribution of its error: a Gaussian plus a displacement
that is uniform over a disc whose radius is itself uniform over the slack. The probabilities behind everything here are
those of :mod:`runtrue.stats.planemass`; true = estimate + error, with a flat prior over the plane.
"""

from collections.abc import Callable
from math import asin, expm1, hypot, inf, isfinite, isnan, log, pi, sqrt

from runtrue.errors import InputError
from runtrue.stats.planemass import axes_of, disc_mass, ellipse_mass, sector_mass, slack_variance
from runtrue.types import PlaneVector

_TOLERANCE = 1e-5
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
    0.9747

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
    axes = axes_of(covariance, slack)
    if not axes.loose and axes.long - axes.short <= 1e-12 * axes.long:
        return sqrt(-2.0 * axes.long * log(1.0 - probability))
    spread = sqrt(axes.short + axes.long + 2.0 * slack_variance(axes.slack))
    upper = hypot(sqrt(axes.short), sqrt(axes.long)) * sqrt(-2.0 * log((1.0 - probability) / 2.0)) + axes.slack[1]

    def excess(radius: float) -> float:
        return disc_mass((0.0, 0.0), axes, radius) - probability

    return _root(excess, 0.0, upper, first=spread * sqrt(-log(1.0 - probability)))


def covering_ellipse(
    covariance: tuple[float, float, float],
    slack: tuple[float, float] = (0.0, 0.0),
    *,
    probability: float = 0.95,
    dof: float | None = None,
) -> tuple[float, float, float]:
    r"""Ellipse about the estimate, of the shape of the whole covariance, that holds the truth with the probability.

    Without slack its half-axes are sqrt(-2 ln(1 - p)) times the deviations along the axes.

    Parameters
    ----------
    covariance, slack, probability, dof
        As in :func:`covering_radius`

    Returns
    -------
    long, short, direction : float
        Half-axes [m] and direction of the long one, above -pi / 2 and up to pi / 2 [rad]

    Examples
    --------
    >>> covering_ellipse((4.0, 0.0, 1.0))
    (4.8955, 2.4477, 0.0)

    References
    ----------
    .. [1] JCGM 102:2011, 6.5.2, k = 2.45 for two quantities and 95 %.
    """
    _check(covariance, slack)
    if not 0.0 < probability < 1.0:
        raise InputError(f"probability must be above 0 and below 1, got {probability:g}")
    if dof is not None:
        covariance = widened(covariance, dof, probability=probability)
    axes = axes_of(covariance, slack)
    direction = axes.angle - pi / 2
    more = slack_variance(axes.slack)
    short, long = sqrt(axes.short + more), sqrt(axes.long + more)
    factor = sqrt(-2.0 * log(1.0 - probability))
    if axes.loose:

        def excess(k: float) -> float:
            return ellipse_mass(axes, k * short, k * long) - probability

        factor = _root(excess, 0.0, 2.0 * factor, first=0.9 * factor)
    return factor * long, factor * short, direction


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
    xx, xy, yy = covariance
    covariance, slack = (float(xx), float(xy), float(yy)), (float(slack[0]), float(slack[1]))
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
    axes = axes_of(vector.covariance, vector.slack)
    top = asin(vector.u95 / length)

    def excess(half_width: float) -> float:
        return sector_mass((vector.x, vector.y), axes, half_width) - 0.95

    return _root(excess, 0.0, min(1.02 * top, 0.5 * (top + pi / 2)), first=0.8 * top)


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
    if limit == inf:
        return 1.0
    if vector.u95 <= 1e-12 * vector.length or vector.u95 == 0.0:
        return float(vector.length <= limit if inclusive else vector.length < limit)
    return _circle(vector, 1.0, limit)


def _circle(vector: PlaneVector, scale: float, radius: float) -> float:
    """P(|scale * vector + error| <= radius)."""
    if radius <= 0.0:
        return 0.0
    axes = axes_of(vector.covariance, vector.slack)
    return disc_mass((scale * vector.x, scale * vector.y), axes, radius)


def _spread_at(vector: PlaneVector, length: float) -> float:
    """h(T): how far the estimate of a true length T strays, 95 times in 100, in the direction of the vector."""
    scale = length / vector.length if vector.length > 0.0 else 0.0

    def excess(half_width: float) -> float:
        inside = _circle(vector, scale, length + half_width)
        if half_width < length:
            inside -= _circle(vector, scale, length - half_width)
        return inside - 0.95

    return _root(excess, 0.0, 1.001 * vector.u95, first=0.85 * vector.u95)


def _check(covariance: tuple[float, float, float], slack: tuple[float, float]) -> None:
    xx, xy, yy = covariance
    if not (isfinite(xx) and isfinite(xy) and isfinite(yy)):
        raise InputError(f"covariance must be finite, got {covariance}")
    if xx < 0.0 or yy < 0.0 or xy * xy > xx * yy * (1.0 + 1e-9) + 1e-300:
        raise InputError(f"covariance (xx, xy, yy) must be positive semidefinite, got {covariance}")
    if not 0.0 <= slack[0] <= slack[1] < inf:
        raise InputError(f"slack must be 0 or more and rise from least to largest, got {slack}")


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
