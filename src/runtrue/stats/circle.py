r"""Circles and once-a-turn readings: centre of a ring of points, eccentricity of a groove read round the turn.

Of a circle A (x^2 + y^2) + B x + C y + D = 0 the centre is (-B / 2A, -C / 2A). The algebraic fits minimise the sum of
squares of the left side under different normalisations, in one step; the geometric fit minimises the distances. An
unsuitable normalisation moves the centre by more than the ring is wide (the unit norm on six points of Gander, Golub
and Strebel: 4.3 units), so Taubin's starts and the geometric one finishes.
"""

from dataclasses import dataclass
from math import exp, hypot, inf, log1p, pi, sin, sqrt
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from runtrue.errors import InputError
from runtrue.stats.checks import same_length, vector, whole, within
from runtrue.stats.plane import plane_vector
from runtrue.types import PlaneVector

_Array = NDArray[np.float64]
Method = Literal["geometric", "taubin", "pratt", "kasa", "unit_norm"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Circle:
    """Centre, radius, sum of squared distances from it, deviation of a point, covariance of (x, y, radius) (3, 3)."""

    x: float
    y: float
    radius: float
    method: str
    sum_of_squares: float
    deviation: float
    dof: int
    covariance: _Array
    cautions: tuple[str, ...] = ()

    @property
    def centre(self) -> PlaneVector:
        """Centre with its distribution, the freedom of the deviation included; needs 4 points or more."""
        c = self.covariance
        return plane_vector(self.x, self.y, (float(c[0, 0]), float(c[0, 1]), float(c[1, 1])), dof=float(self.dof))


@dataclass(frozen=True, slots=True, kw_only=True)
class Runout:
    """Once-a-turn part of readings round the turn.

    ``offset`` = sqrt(A^2 + B^2) toward ``direction`` [rad], ``pitch`` per turn (0 where not fitted), ``harmonics`` the
    amplitudes of 2, 3, ... a turn, ``covariance`` of (A, B), ``deviation`` of a reading, ``residuals`` studentised,
    ``p_zero`` the probability of such readings from a groove without eccentricity.
    """

    mean: float
    a: float
    b: float
    pitch: float
    harmonics: tuple[float, ...]
    covariance: _Array
    pitch_u: float
    deviation: float
    dof: float
    residuals: _Array
    p_zero: float

    @property
    def offset(self) -> float:
        """Length of (A, B)."""
        return hypot(self.a, self.b)

    @property
    def direction(self) -> float:
        """Direction of (A, B) [rad]."""
        return float(np.arctan2(self.b, self.a))

    @property
    def vector(self) -> PlaneVector:
        """(A, B) with its distribution, the freedom of the deviation included."""
        c = self.covariance
        return plane_vector(self.a, self.b, (float(c[0, 0]), float(c[0, 1]), float(c[1, 1])), dof=self.dof)


def fit_circle(x: ArrayLike, y: ArrayLike, *, method: Method = "geometric") -> Circle:
    r"""Circle through points.

    .. math:: \min \sum_i \left( \sqrt{(x_i - a)^2 + (y_i - b)^2} - R \right)^2

    for the geometric fit. With Z = x^2 + y^2, centred: Kasa A = 1; Pratt B^2 + C^2 - 4 A D = 1; Taubin
    4 A^2 mean(Z) + B^2 + C^2 = 1; unit norm A^2 + B^2 + C^2 + D^2 = 1 on the coordinates as given.

    Parameters
    ----------
    x, y : array_like
        Coordinates, 3 points or more not on one line, 4 for a deviation [m or any length]
    method : str
        geometric, taubin, pratt, kasa or unit_norm

    Returns
    -------
    circle : Circle
        In the unit of the points; its covariance is that of the geometric fit at the circle found

    Notes
    -----
    Bias of the radius on a full circle with noise s: geometric s^2 / 2R, Taubin and Kasa s^2 / R, Pratt 2 s^2 / R
    (Al-Sharadqah and Chernov 2009, from memory). Kasa's radius collapses on short arcs: R 10, s 0.2, 90 degrees loses
    0.39. A caution names an arc below 180 degrees.

    Examples
    --------
    >>> circle = fit_circle([1, 2, 5, 7, 9, 3], [7, 6, 8, 7, 5, 7])
    >>> circle.x, circle.y, circle.radius
    (4.7398, 2.9835, 4.7142)

    References
    ----------
    .. [1] Gander, Golub and Strebel, BIT 34 (1994) 558; Chernov, Circular and Linear Regression, 2010.
    """
    px, py = vector("x", x, least=3), vector("y", y, least=3)
    same_length(x=px, y=py)
    middle_x, middle_y = float(px.mean()), float(py.mean())
    scale = float(np.sqrt(np.mean((px - middle_x) ** 2 + (py - middle_y) ** 2)))
    if scale == 0.0:
        raise InputError("the points of a circle must differ")
    u, v = (px - middle_x) / scale, (py - middle_y) / scale
    if np.linalg.svd(np.stack([u, v]), compute_uv=False)[1] < 1e-9:
        raise InputError("the points lie on one line: no circle goes through them")
    if method == "unit_norm":
        design = np.stack([px**2 + py**2, px, py, np.ones_like(px)], axis=1)
        a, b, radius = _from_coefficients(np.linalg.svd(design)[2][-1])
    elif method in _ALGEBRAIC:
        a, b, radius = _ALGEBRAIC[method](u, v)
        a, b, radius = middle_x + scale * a, middle_y + scale * b, scale * radius
    elif method == "geometric":
        a, b, radius = _geometric(u, v, _ALGEBRAIC["taubin"](u, v))
        a, b, radius = middle_x + scale * a, middle_y + scale * b, scale * radius
    else:
        raise InputError(f"method must be geometric, taubin, pratt, kasa or unit_norm, got {method}")
    return _circle_with_spread(px, py, (a, b, radius), method)


def arc_precision(arc: float) -> tuple[float, float, float]:
    r"""Variance of a geometric fit over an arc, in units of s^2 / n: centre along the bisector, across it, radius.

    .. math:: \left( \frac1\alpha \int_{-\alpha/2}^{\alpha/2} g g^\top d\varphi \right)^{-1}, \quad
              g = (\cos\varphi, \sin\varphi, 1)

    Parameters
    ----------
    arc : float
        alpha, above 0 and up to 2 pi [rad]

    Returns
    -------
    along, across, radius : float
        [-]

    Examples
    --------
    >>> arc_precision(2 * pi), arc_precision(pi / 2)
    ((2.0, 2.0, 1.0), (129.192, 5.5039, 105.719))

    References
    ----------
    .. [1] Fisher information of the fit. Read the finishing groove all the way round.
    """
    within("arc", arc, 0.0, 2.0 * pi, above=True)
    half = arc / 2.0
    first = sin(half) / half
    second = 0.5 + sin(arc) / (2.0 * arc)
    determinant = second - first * first
    return 1.0 / determinant, 1.0 / (1.0 - second), second / determinant


def runout(
    angle: ArrayLike, reading: ArrayLike, *, spiral: bool = False, harmonics: int = 1, deviation: float | None = None
) -> Runout:
    r"""Eccentricity from readings round the turn.

    .. math:: r(\theta) = a + A \cos\theta + B \sin\theta + \frac{p \, \theta}{2 \pi} + \sum_{k=2}^{K}
              (A_k \cos k\theta + B_k \sin k\theta)

    Parameters
    ----------
    angle : array_like
        theta, growing through the turns when a spiral is read over more than one [rad]
    reading : array_like
        r, same length
    spiral : bool
        Fit the pitch p; without it the groove must be closed or the pitch taken off before
    harmonics : int
        K, 1 or more: take ovals and the like out of the once-a-turn part
    deviation : float, optional
        Known standard deviation of a reading; without it the residuals tell

    Returns
    -------
    found : Runout
        Lengths in the unit of the readings

    Notes
    -----
    A pitch left out over one turn makes a false eccentricity p / pi on the sine axis (100 um: 31.8 um). A pitch fitted
    over one turn costs 2.55 times the variance of B; two turns cost 1.18 (:func:`runout_precision`).

    Examples
    --------
    >>> theta = np.radians(np.arange(0, 360, 30))
    >>> found = runout(theta, 3.0 * np.cos(theta) + 4.0 * np.sin(theta) + 0.1 * np.cos(5 * theta))
    >>> found.offset, found.direction
    (5.0, 0.9273)

    References
    ----------
    .. [1] Least squares; p_zero by F = (A, B) C^-1 (A, B)' / 2 with 2 and n - (parameters) degrees of freedom.
    """
    theta, r = vector("angle", angle), vector("reading", reading)
    same_length(angle=theta, reading=r)
    whole("harmonics", harmonics, 1)
    orders = range(1, harmonics + 1)
    columns = [np.ones_like(theta)]
    for k in orders:
        columns += [np.cos(k * theta), np.sin(k * theta)]
    if spiral:
        columns.append((theta - theta.mean()) / (2.0 * pi))
    design = np.stack(columns, axis=1)
    free = design.shape[0] - design.shape[1]
    if free < (1 if deviation is None else 0) or np.linalg.matrix_rank(design) < design.shape[1]:
        raise InputError(
            f"{r.size} readings do not fix {design.shape[1]} unknowns: read more angles, spread round the turn"
        )
    inverse = np.linalg.inv(design.T @ design)
    found = inverse @ (design.T @ r)
    left = r - design @ found
    s = sqrt(float(left @ left) / free) if deviation is None else deviation
    within("deviation", s, 0.0)
    dof = float(free) if deviation is None else inf
    covariance = s * s * inverse
    both = found[1:3]
    block = covariance[1:3, 1:3]
    if s > 0.0:
        ratio = float(both @ np.linalg.solve(block, both)) / 2.0
        p_zero = exp(-ratio) if dof == inf else exp(-0.5 * dof * log1p(2.0 * ratio / dof))
    else:
        p_zero = 0.0 if np.any(both != 0.0) else 1.0
    seen = 1.0 - np.einsum("ij,jk,ik->i", design, inverse, design)
    return Runout(
        mean=float(found[0]) - (float(found[-1]) * float(theta.mean()) / (2.0 * pi) if spiral else 0.0),
        a=float(both[0]),
        b=float(both[1]),
        pitch=float(found[-1]) if spiral else 0.0,
        harmonics=tuple(hypot(float(found[2 * k - 1]), float(found[2 * k])) for k in orders if k > 1),
        covariance=np.asarray(block),
        pitch_u=sqrt(float(covariance[-1, -1])) if spiral else 0.0,
        deviation=s,
        dof=dof,
        residuals=left / np.where(seen > 1e-12, np.sqrt(np.maximum(seen, 1e-12)) * s, np.inf) if s > 0.0 else left,
        p_zero=p_zero,
    )


def runout_precision(turns: int) -> tuple[float, float, float]:
    r"""Variance of A, B and pitch when the pitch is fitted over whole turns, in units of s^2 / n.

    .. math:: 2, \quad \frac{2}{1 - 6 / (\pi^2 m^2)}, \quad \frac{12 / m^2}{1 - 6 / (\pi^2 m^2)}

    Parameters
    ----------
    turns : int
        m, 1 or more, from angle 0

    Returns
    -------
    a, b, pitch : float

    Examples
    --------
    >>> runout_precision(1), runout_precision(2)
    ((2.0, 5.1011, 30.6066), (2.0, 2.3584, 3.5377))

    References
    ----------
    .. [1] Worked out here for many evenly spread readings.
    """
    whole("turns", turns, 1)
    lost = 1.0 - 6.0 / (pi * pi * turns * turns)
    return 2.0, 2.0 / lost, 12.0 / (turns * turns * lost)


def _kasa(u: _Array, v: _Array) -> tuple[float, float, float]:
    z = u * u + v * v
    solution = np.linalg.lstsq(np.stack([u, v, np.ones_like(u)], axis=1), z, rcond=None)[0]
    a, b = solution[0] / 2.0, solution[1] / 2.0
    return float(a), float(b), sqrt(float(solution[2] + a * a + b * b))


def _taubin(u: _Array, v: _Array) -> tuple[float, float, float]:
    z = u * u + v * v
    mean = float(z.mean())
    last = np.linalg.svd(np.stack([(z - mean) / (2.0 * sqrt(mean)), u, v], axis=1), full_matrices=False)[2][-1]
    first = float(last[0]) / (2.0 * sqrt(mean))
    return _from_coefficients(np.array([first, last[1], last[2], -mean * first]))


def _pratt(u: _Array, v: _Array) -> tuple[float, float, float]:
    design = np.stack([u * u + v * v, u, v, np.ones_like(u)], axis=1)
    _, singular, rows = np.linalg.svd(design, full_matrices=False)
    if u.size < 4 or singular[-1] < 1e-12 * singular[0]:
        return _from_coefficients(rows[-1]) if u.size >= 4 else _kasa(u, v)
    weighted = rows.T * singular
    inverse_norm = np.array([[0.0, 0.0, 0.0, -0.5], [0.0, 1.0, 0.0, 0.0], [0.0, 0.0, 1.0, 0.0], [-0.5, 0.0, 0.0, 0.0]])
    vectors = np.linalg.eigh(weighted.T @ inverse_norm @ weighted)[1]
    return _from_coefficients(rows.T @ (vectors[:, 1] / singular))


_ALGEBRAIC = {"kasa": _kasa, "taubin": _taubin, "pratt": _pratt}


def _from_coefficients(c: _Array) -> tuple[float, float, float]:
    """Centre and radius from A, B, C, D."""
    if abs(c[0]) < 1e-14 * float(np.abs(c).max()):
        raise InputError("the points are too straight: the best circle is a line")
    a, b = -c[1] / (2.0 * c[0]), -c[2] / (2.0 * c[0])
    return float(a), float(b), sqrt(max(float(a * a + b * b - c[3] / c[0]), 0.0))


def _geometric(u: _Array, v: _Array, start: tuple[float, float, float]) -> tuple[float, float, float]:
    from scipy.optimize import least_squares

    def distance(p: _Array) -> _Array:
        return np.asarray(np.hypot(u - p[0], v - p[1]) - p[2])

    def slope(p: _Array) -> _Array:
        d = np.maximum(np.hypot(u - p[0], v - p[1]), 1e-300)
        return np.stack([(p[0] - u) / d, (p[1] - v) / d, -np.ones_like(u)], axis=1)

    found = least_squares(distance, start, jac=slope, method="lm", xtol=1e-15, ftol=1e-15, gtol=1e-15)
    return float(found.x[0]), float(found.x[1]), float(found.x[2])


def _circle_with_spread(px: _Array, py: _Array, found: tuple[float, float, float], method: str) -> Circle:
    a, b, radius = found
    away = np.hypot(px - a, py - b)
    squares = float(((away - radius) ** 2).sum())
    dof = px.size - 3
    s2 = squares / dof if dof > 0 else 0.0
    angle = np.arctan2(py - b, px - a)
    g = np.stack([np.cos(angle), np.sin(angle), np.ones_like(angle)], axis=1)
    cautions = () if dof > 0 else ("three points fix a circle and say nothing about its uncertainty",)
    gaps = np.diff(np.sort(angle), append=np.sort(angle)[0] + 2.0 * pi)
    arc = 2.0 * pi - float(gaps.max())
    if arc < pi:
        along = arc_precision(max(arc, 1e-3))[0] / 2.0
        cautions = (
            *cautions,
            f"the points span {np.degrees(arc):.0f} degrees: the variance of the centre is about {along:.0f} times "
            "that of a full circle",
        )
    return Circle(
        x=a,
        y=b,
        radius=radius,
        method=method,
        sum_of_squares=squares,
        deviation=sqrt(s2),
        dof=dof,
        covariance=np.asarray(s2 * np.linalg.pinv(g.T @ g)),
        cautions=cautions,
    )
