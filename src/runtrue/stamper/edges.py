r"""Edges and lines of a picture along rays from a centre, to a fraction of a pixel.

Pictures are arrays (rows, columns). Places are (x, y) in the frame of the face looked at: x up, y to the left, so that
angle 0 is at the top and angles grow against the clock; row = -x and column = -y.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from runtrue.stats.circle import Circle, fit_circle

_Array = NDArray[np.float64]
Picture = NDArray[np.uint8] | NDArray[np.uint16]

STEP = 0.5
"""Distance of samples along a ray [px]."""
SOFT = 1.2
"""Deviation of the smoothing along a ray [px]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Ring:
    """A circle through edge points [px]: the fit, the points kept (x, y), how many were left out.

    ``arc`` is the part of the turn that the kept points cover (0 to 1); ``shape`` the cosine and sine parts at two and
    at three a turn; ``burr`` the largest departure (outward positive) that three neighbouring rays or more share, at
    ``burr_at`` [rad].
    """

    circle: Circle
    x: _Array
    y: _Array
    left_out: int
    arc: float
    shape: tuple[float, float, float, float]
    burr: float
    burr_at: float

    @property
    def count(self) -> int:
        """Points kept."""
        return int(self.x.size)

    @property
    def uneven(self) -> tuple[float, float]:
        """Amplitudes at two and at three a turn [px]."""
        return float(np.hypot(*self.shape[:2])), float(np.hypot(*self.shape[2:]))

    @property
    def oval(self) -> tuple[float, float]:
        """Cosine and sine part at two a turn over the radius [-]: the stretch and skew of a round thing."""
        return self.shape[0] / self.circle.radius, self.shape[1] / self.circle.radius

    @property
    def oval_u(self) -> float:
        """Standard deviation of either part of ``oval``."""
        return float(self.circle.deviation * np.sqrt(2.0 / self.count) / self.circle.radius)


def rays(picture: Picture, centre: tuple[float, float], angles: _Array, radii: _Array) -> _Array:
    """Brightness along rays (angles, radii); NaN outside the picture. ``centre`` is (x, y) [px], angles [rad]."""
    row = -(centre[0] + np.cos(angles)[:, None] * radii)
    column = -(centre[1] + np.sin(angles)[:, None] * radii)
    high, wide = picture.shape
    outside = (row < 1) | (column < 1) | (row > high - 3) | (column > wide - 3)
    if outside.all():
        return np.full(row.shape, np.nan)
    row, column = np.clip(row, 1, high - 3), np.clip(column, 1, wide - 3)
    top, left = np.floor(row).astype(np.int64), np.floor(column).astype(np.int64)
    down, across = _cubic(row - top), _cubic(column - left)
    found, flat, first = np.zeros(row.shape), picture.reshape(-1), (top - 1) * wide + left - 1
    for i in range(4):
        line = np.zeros(row.shape)
        for j in range(4):
            line += across[j] * flat.take(first + (i * wide + j))
        found += down[i] * line
    return np.asarray(np.where(outside, np.nan, found))


def _cubic(t: _Array) -> tuple[_Array, _Array, _Array, _Array]:
    """Weights of four neighbours by cubic convolution (Keys, IEEE ASSP-29 (1981) 1153, a = -1/2; from memory).

    Linear weights would pull an edge toward the pixels' grid, the same way for all rays near an axis.
    """
    return (
        ((-0.5 * t + 1.0) * t - 0.5) * t,
        (1.5 * t - 2.5) * t * t + 1.0,
        ((-1.5 * t + 2.0) * t + 0.5) * t,
        (0.5 * t - 0.5) * t * t,
    )


def step_edges(profiles: _Array, radii: _Array) -> tuple[_Array, _Array]:
    """Radius of the steepest place of every ray and its slope (signed by the picture's common sense); NaN for none."""
    slope = np.gradient(gaussian_filter1d(np.nan_to_num(profiles), SOFT / STEP, axis=1), axis=1)
    slope[np.isnan(profiles)] = 0.0
    sense = np.sign(np.median(np.where(slope.max(axis=1) > -slope.min(axis=1), slope.max(axis=1), slope.min(axis=1))))
    return _peaks(slope * (sense or 1.0), radii)


def edge_response(profiles: _Array) -> _Array:
    """How steeply a ray rises at every radius, over the spread of its slope."""
    whole = np.nan_to_num(profiles, nan=float(np.nanmedian(profiles)) if np.isfinite(profiles).any() else 0.0)
    slope = gaussian_filter1d(whole, SOFT / STEP, axis=1, order=1)
    slope[np.isnan(profiles)] = 0.0
    return np.asarray(slope / (1.4826 * np.median(np.abs(slope), axis=1, keepdims=True) + 0.05))


def line_response(profiles: _Array) -> _Array:
    """How much a ray looks like a thin line at every radius: minus the smoothed second derivative, either sense."""
    whole = np.nan_to_num(profiles, nan=float(np.nanmedian(profiles)) if np.isfinite(profiles).any() else 0.0)
    bent = -gaussian_filter1d(whole, SOFT / STEP, axis=1, order=2)
    bent[np.isnan(profiles)] = 0.0
    spread = 1.4826 * np.median(np.abs(bent), axis=1, keepdims=True) + 1e-9
    return np.asarray(bent / spread)


def _peaks(response: _Array, radii: _Array) -> tuple[_Array, _Array]:
    """Highest place of every row, by a parabola through its three samples, and its height."""
    at = np.clip(np.argmax(response, axis=1), 1, response.shape[1] - 2)
    row = np.arange(response.shape[0])
    low, middle, high = response[row, at - 1], response[row, at], response[row, at + 1]
    bend = low - 2.0 * middle + high
    shift = np.where(bend < 0.0, 0.5 * (low - high) / np.where(bend < 0.0, bend, -1.0), 0.0)
    radius = radii[0] + (at + np.clip(shift, -0.5, 0.5)) * (radii[1] - radii[0])
    return np.where(middle > 0.0, radius, np.nan), middle


def line_peaks(response: _Array, radii: _Array) -> tuple[_Array, _Array]:
    """Radius and height of the strongest line of every ray."""
    return _peaks(response, radii)


def ring_through(angle: _Array, radius: _Array, centre: tuple[float, float], *, least: int = 24) -> Ring | None:
    """Circle through points at ``radius`` along rays from ``centre``; points that do not belong are dropped.

    Points farther than 4 robust deviations from the circle with its oval and three-cornered part are dropped and the
    fit repeated until nothing changes; None where fewer than ``least`` points or half of them stay.
    """
    good = np.isfinite(radius)
    if good.sum() < least:
        return None
    angle, radius = angle[good], radius[good]
    x, y = centre[0] + radius * np.cos(angle), centre[1] + radius * np.sin(angle)
    keep = np.abs(radius - np.median(radius)) < max(8.0 * 1.4826 * _mad(radius), 2.0)
    for _ in range(12):
        if keep.sum() < max(least, 0.4 * angle.size):
            return None
        rest = _shaped(x, y, keep)[2]
        now = np.abs(rest) < 4.0 * max(1.4826 * _mad(rest[keep]), 0.01)
        if np.array_equal(now, keep):
            break
        keep = now
    return _ring(x, y, keep)


def moved(ring: Ring, matrix: _Array, about: tuple[float, float]) -> Ring:
    """The ring through its points after a linear map (2, 2) of the picture's places about one of them."""
    x, y = matrix @ np.stack([ring.x - about[0], ring.y - about[1]])
    made = _ring(x + about[0], y + about[1], np.ones(x.size, dtype=bool))
    return replace(made, left_out=ring.left_out, burr=ring.burr, burr_at=ring.burr_at)


def _shaped(x: _Array, y: _Array, keep: NDArray[np.bool_]) -> tuple[Circle, _Array, _Array]:
    """Circle through the points kept, its parts at two and three a turn, and how far all points lie from both.

    Where the points go round far enough the parts are fitted together with the circle, so that an oval neither widens
    the doubt of its centre nor is taken for none.
    """
    circle = fit_circle(x[keep], y[keep])
    away = np.hypot(x - circle.x, y - circle.y) - circle.radius
    turned = np.arctan2(y - circle.y, x - circle.x)
    if coverage(turned[keep]) <= 0.7:
        return circle, np.zeros(4), away
    terms = np.stack([f(k * turned) for k in (1, 2, 3) for f in (np.cos, np.sin)] + [np.ones_like(turned)], axis=1)
    terms = terms[:, [0, 1, 6, 2, 3, 4, 5]]
    inverse = np.linalg.inv(terms[keep].T @ terms[keep])
    found = inverse @ (terms[keep].T @ away[keep])
    rest = away - terms @ found
    squares, dof = float(rest[keep] @ rest[keep]), int(keep.sum()) - 7
    s2 = squares / dof
    whole = replace(
        circle, x=circle.x + float(found[0]), y=circle.y + float(found[1]), radius=circle.radius + float(found[2]),
        sum_of_squares=squares, deviation=float(np.sqrt(s2)), dof=dof, covariance=np.asarray(s2 * inverse[:3, :3]),
    )  # fmt: skip
    return whole, np.asarray(found[3:]), rest


def _ring(x: _Array, y: _Array, keep: NDArray[np.bool_]) -> Ring:
    circle, shape, rest = _shaped(x, y, keep)
    turned = np.arctan2(y - circle.y, x - circle.x)
    burr, burr_at = _burr(turned, rest, 0.2 * circle.radius)
    return Ring(
        circle=circle,
        x=x[keep],
        y=y[keep],
        left_out=int(x.size - keep.sum()),
        arc=coverage(turned[keep]),
        shape=(float(shape[0]), float(shape[1]), float(shape[2]), float(shape[3])),
        burr=burr,
        burr_at=burr_at,
    )


def _burr(turned: _Array, rest: _Array, most: float) -> tuple[float, float]:
    """Largest departure shared by three neighbours, and where: dust of one ray is none."""
    order = np.argsort(turned)
    near = rest[order]
    shared = np.median(np.stack([np.roll(near, 1), near, np.roll(near, -1)]), axis=0)
    shared = np.where(np.abs(shared) < most, shared, 0.0)
    at = int(np.argmax(np.abs(shared)))
    return float(shared[at]), float(turned[order][at])


def roundness(ring: Ring, orders: int = 15) -> tuple[float, float]:
    r"""Peak to valley of the ring about its least-squares circle, up to ``orders`` waves a turn, and its U95 [px].

    The edge is smoothed by a Fourier series, as roundness is filtered before it is judged; U95 is what the points'
    scatter s does to the highest and the lowest place, 1.96 s sqrt(2 (2 K - 2) / n).

    References
    ----------
    .. [1] ISO 12181-1 and -2, least-squares reference circle, filter of 15 undulations per revolution (from memory).
    """
    away = np.hypot(ring.x - ring.circle.x, ring.y - ring.circle.y) - ring.circle.radius
    turned = np.arctan2(ring.y - ring.circle.y, ring.x - ring.circle.x)

    def waves(angle: _Array) -> _Array:
        return np.stack([f(k * angle) for k in range(2, orders + 1) for f in (np.cos, np.sin)], axis=1)

    terms = waves(turned)
    parts = np.linalg.lstsq(terms, away, rcond=None)[0]
    spread = float(np.std(away - terms @ parts))
    curve = waves(np.linspace(-np.pi, np.pi, 721)) @ parts
    return float(np.ptp(curve)), 1.96 * spread * float(np.sqrt(2.0 * terms.shape[1] / ring.count))


def coverage(angle: _Array) -> float:
    """Part of the turn covered by points, in sectors of 10 degrees (0 to 1)."""
    return float(np.unique(np.floor(np.degrees(angle) % 360.0 / 10.0)).size / 36.0)


def _mad(values: _Array) -> float:
    return float(np.median(np.abs(values - np.median(values))))
