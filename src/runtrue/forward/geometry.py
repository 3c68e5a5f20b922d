r"""Where the stylus meets the groove, from exact circles and lines; no wow formula anywhere.

Frame (design section 3). The playing face is seen from above as the complex plane; the disc turns clockwise. Fixed to
the disc, with the groove centre as origin, the groove point of groove time u stands at :math:`r(u) e^{i\theta}`,
:math:`\theta = 2\pi f u`, and the axis about which the disc turns at ``axis`` (length = offset, direction = from the
groove centre to the hole centre). Fixed to the player, with the rotation axis as origin, the same point stands at

.. math:: W = (r e^{i\theta} - \mathrm{axis}) e^{-i\phi}, \qquad \phi = \text{angle the platter has turned}.

The stylus can only be on its own curve: a line through the axis (radial arm), a line that leans by b at the radius of
the groove (leaning arm) or a circle about the arm's pivot (pivoted arm). The stylus starts at angle 0 of the player's
frame, groove motion there is -i, so the pivot lies on the +i side: the groove drags the stylus away from the pivot.
Solving "W lies on the curve" for :math:`\delta = \theta - \phi` gives the groove point under the stylus.
"""

from dataclasses import dataclass
from functools import cached_property
from math import acos, asin, cos, pi, sin, tan
from typing import Annotated

import numpy as np
import numpy.typing as npt
from scipy.interpolate import PchipInterpolator

from runtrue.errors import InputError
from runtrue.forward.quantity import Q, check

type_f = npt.NDArray[np.float64]
type_c = npt.NDArray[np.complex128]
TWO_PI = 2.0 * pi
SMALLEST_RADIUS = 5e-3
"""Groove radius [m] below which the spiral is not continued: the hole is there."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LeaningArm:
    """A stylus that swings on a line through the groove's mean place, leaning by ``angle``; 0 is a tangential arm.

    The carriage follows the mean groove along a radius, so nothing of an arc is left: only the once-a-turn part leans.
    """

    angle: Annotated[float, Q("rad", -1.0, 1.0)] = 0.0

    def __post_init__(self) -> None:
        check(self)

    def lean(self, radius: float) -> float:
        """Angle b [rad] between the line stylus to pivot and the groove's tangent, toward the spindle."""
        return self.angle


@dataclass(frozen=True, slots=True, kw_only=True)
class PivotedArm:
    """An arm that turns about a pivot: ``length`` pivot to stylus [m], ``pivot_distance`` pivot to spindle [m]."""

    length: Annotated[float, Q("m", 0.05, 2.0)]
    pivot_distance: Annotated[float, Q("m", 0.05, 2.0)]

    def __post_init__(self) -> None:
        check(self)

    @classmethod
    def from_overhang(cls, length: float, overhang: float) -> "PivotedArm":
        """Return the arm whose stylus reaches ``overhang`` [m] beyond the spindle."""
        return cls(length=length, pivot_distance=length - overhang)

    def lean(self, radius: float) -> float:
        """Angle b [rad] between the line stylus to pivot and the groove's tangent, toward the spindle."""
        sine = (radius**2 + self.length**2 - self.pivot_distance**2) / (2.0 * radius * self.length)
        if abs(sine) >= 1.0:
            raise InputError(
                f"an arm of {self.length * 1e3:g} mm with its pivot {self.pivot_distance * 1e3:g} mm from the spindle "
                f"does not reach the groove at radius {radius * 1e3:g} mm: correct the arm or the radius"
            )
        return asin(sine)

    def axis_angle(self, radius: float) -> float:
        """Angle [rad] at the axis between the directions to the stylus (at ``radius``) and to the pivot."""
        self.lean(radius)
        return acos((radius**2 + self.pivot_distance**2 - self.length**2) / (2.0 * radius * self.pivot_distance))


Arm = LeaningArm | PivotedArm


@dataclass(frozen=True, kw_only=True)
class Spiral:
    """Radius of the groove r [m] over groove time u [s], smooth through the landmarks and straight beyond them."""

    times: tuple[float, ...]
    radii: tuple[float, ...]

    def __post_init__(self) -> None:
        if len(self.times) != len(self.radii) or len(self.times) < 2:
            raise InputError("a spiral needs at least two landmarks, each a time and a radius")
        if any(b <= a for a, b in zip(self.times, self.times[1:], strict=False)):
            raise InputError("the times of the spiral's landmarks must rise")
        if any(b > a for a, b in zip(self.radii, self.radii[1:], strict=False)) or self.radii[-1] < SMALLEST_RADIUS:
            raise InputError("the radii of the spiral's landmarks must not grow and must stay above 5 mm")

    @cached_property
    def _smooth(self) -> tuple[PchipInterpolator, float, float]:
        curve = PchipInterpolator(self.times, self.radii)
        return curve, float(curve(self.times[0], 1)), float(curve(self.times[-1], 1))

    def radius(self, u: npt.ArrayLike) -> type_f:
        """Radius [m] at groove time ``u`` [s], same shape as ``u``."""
        u = np.asarray(u, dtype=np.float64)
        (t0, t1), (r0, r1) = (self.times[0], self.times[-1]), (self.radii[0], self.radii[-1])
        if len(self.times) == 2:
            r = r0 + (r1 - r0) / (t1 - t0) * (u - t0)
        else:
            curve, before, after = self._smooth
            r = curve(np.clip(u, t0, t1)) + before * np.minimum(u - t0, 0.0) + after * np.maximum(u - t1, 0.0)
        return np.maximum(r, SMALLEST_RADIUS)


@dataclass(frozen=True, slots=True, kw_only=True)
class Rise:
    """A warp as the stylus meets it: height ``height`` cos(order (theta - high)), half its peak-to-peak [m].

    ``tilt_radius``: None for equal height at every radius, else the radius [m] where a height that grows with r is
    ``height``. ``elevation``: angle [rad] at which the arm's pivot stands above the stylus.
    """

    height: float
    high: float
    order: int
    tilt_radius: float | None
    elevation: float


def _heights(rises: tuple[Rise, ...], theta: type_f, r: type_f) -> type_f:
    """Sum over the warps of height times tan(elevation) [m]: how far the groove pushes the stylus from the pivot."""
    total = np.zeros_like(theta)
    for w in rises:
        grow = 1.0 if w.tilt_radius is None else r / w.tilt_radius
        total += w.height * tan(w.elevation) * grow * np.cos(w.order * (theta - w.high))
    return total


def _reach(arm: PivotedArm, rises: tuple[Rise, ...], theta: type_f, r: type_f) -> type_f | float:
    """Horizontal distance pivot to stylus [m]; a rigid arm whose stylus is lifted by z reaches further by z tan(a)."""
    if not rises:
        return arm.length
    a = rises[0].elevation
    if a == 0.0:
        return arm.length
    z = _heights(rises, theta, r) / tan(a)
    pivot_height = arm.length * tan(a)
    return np.asarray(np.sqrt(arm.length**2 + pivot_height**2 - (pivot_height - z) ** 2), dtype=np.float64)


def groove_angle(
    *,
    platter: npt.ArrayLike,
    spiral: Spiral,
    turn_frequency: float,
    arm: Arm,
    axis: npt.ArrayLike = 0.0,
    rises: tuple[Rise, ...] = (),
    turns: int = 0,
    iterations: int = 6,
) -> type_f:
    r"""Angle theta [rad] of the groove point under the stylus when the platter has turned by phi.

    Parameters
    ----------
    platter : array
        Angle phi the platter has turned since the mean groove point of u = 0 was under the stylus [rad]
    spiral, turn_frequency
        r(u) and f with theta = 2 pi f u [Hz]
    arm
        The stylus' own curve
    axis : array of complex, broadcast with ``platter``
        From groove centre to rotation axis, in the disc's frame [m]
    rises
        Warps
    turns
        Whole turns skipped forward (+) or gone back (-) by jumps so far

    Notes
    -----
    Newton on one unknown, delta = theta - phi, where the derivative leaves out that r changes with delta; that makes
    each step 1/5000 as wrong as the one before (pitch over circumference), so six steps end at rounding, 1e-13 rad.
    """
    phi = np.asarray(platter, dtype=np.float64)
    vector = np.asarray(axis, dtype=np.complex128)
    phi, vector = np.broadcast_arrays(phi, vector)
    g = -vector * np.exp(-1j * phi)
    whole = TWO_PI * turns
    r = spiral.radius((phi + whole) / (TWO_PI * turn_frequency))
    if isinstance(arm, PivotedArm):
        start = float(spiral.radius(0.0))
        pivot = arm.pivot_distance * np.exp(1j * arm.axis_angle(start))
        for edge in (float(r.min()), float(r.max())):
            arm.lean(edge)
        cosine = (r**2 + arm.pivot_distance**2 - arm.length**2) / (2.0 * r * arm.pivot_distance)
        delta = arm.axis_angle(start) - np.arccos(cosine)
    else:
        delta = np.zeros_like(phi)
        sin_b, cos_b = sin(arm.angle), cos(arm.angle)
    for _ in range(iterations):
        theta = phi + delta + whole
        r = spiral.radius(theta / (TWO_PI * turn_frequency))
        spoke = r * np.exp(1j * delta)
        w = g + spoke
        if isinstance(arm, PivotedArm):
            away = w - pivot
            miss = away.real**2 + away.imag**2 - _reach(arm, rises, theta, r) ** 2
            slope = 2.0 * (away.imag * spoke.real - away.real * spoke.imag)
        else:
            miss = -sin_b * (w.real - r) + cos_b * w.imag + _heights(rises, theta, r)
            slope = sin_b * spoke.imag + cos_b * spoke.real
        delta = delta - miss / slope
    return np.asarray(phi + delta + whole, dtype=np.float64)
