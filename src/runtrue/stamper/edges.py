r"""Edges and lines of a picture along rays from a centre, to a fraction of a pixel.

Pictures are arrays (rows, columns). Places are (x, y) in the frame of the face looked at: x up, y to the left, so that
angle 0 is at the top and angles grow against the clock; row = -x and column = -y.
"""

from dataclasses import dataclass

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
    """A circle through edge points [px]: the fit, the points kept and their angles, and what was left out.

    ``arc`` is the part of the turn that the kept points cover (0 to 1), ``uneven`` the amplitudes of two and three a
    turn, ``burr`` the largest radial departure of a kept or dropped point from the circle.
    """

    circle: Circle
    angle: _Array
    radius: _Array
    left_out: int
    arc: float
    uneven: tuple[float, float]
    burr: float


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
    found = np.zeros(row.shape)
    for i in range(4):
        line = np.zeros(row.shape)
        for j in range(4):
            line += across[j] * picture[top + i - 1, left + j - 1]
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
    keep = np.abs(radius - np.median(radius)) < max(8.0 * 1.4826 * _mad(radius), 2.0)
    x, y = centre[0] + radius * np.cos(angle), centre[1] + radius * np.sin(angle)
    uneven, away = np.zeros(4), np.zeros_like(angle)
    for _ in range(12):
        if keep.sum() < max(least, 0.4 * angle.size):
            return None
        circle = fit_circle(x[keep], y[keep])
        away = np.hypot(x - circle.x, y - circle.y) - circle.radius
        turned = np.arctan2(y - circle.y, x - circle.x)
        rest = away
        if coverage(angle[keep]) > 0.7:
            shape = np.stack([np.cos(2 * turned), np.sin(2 * turned), np.cos(3 * turned), np.sin(3 * turned)], axis=1)
            uneven = np.linalg.lstsq(shape[keep], away[keep], rcond=None)[0]
            rest = away - shape @ uneven
        spread = max(1.4826 * _mad(rest[keep]), 0.01)
        now = np.abs(rest) < 4.0 * spread
        if np.array_equal(now, keep):
            break
        keep = now
    circle = fit_circle(x[keep], y[keep])
    return Ring(
        circle=circle,
        angle=angle[keep],
        radius=radius[keep],
        left_out=int(angle.size - keep.sum()),
        arc=coverage(angle[keep]),
        uneven=(float(np.hypot(uneven[0], uneven[1])), float(np.hypot(uneven[2], uneven[3]))),
        burr=float(np.max(np.abs(away[np.abs(away) < 0.2 * circle.radius]), initial=0.0)),
    )


def coverage(angle: _Array) -> float:
    """Part of the turn covered by points, in sectors of 10 degrees (0 to 1)."""
    return float(np.unique(np.floor(np.degrees(angle) % 360.0 / 10.0)).size / 36.0)


def _mad(values: _Array) -> float:
    return float(np.median(np.abs(values - np.median(values))))
