"""The playing arm: by what angle the line from stylus to pivot leans from the groove's tangent.

The exact intersection of arm arc and groove circle is the maker's affair (``forward``); here stand the first-order
terms the estimator needs.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from runtrue.errors import InputError
from runtrue.units import DEG

UNKNOWN_OFFSET_RANGE = (0.0, 25.0 * DEG)
"""Where the angle of an arm lies of which nothing is known [rad]: tangential to strongly overhung. Common practice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Arm:
    """Exactly one of: a constant lean ``offset`` [rad], a pivoted arm (``length``, ``overhang`` [m]), or unknown.

    ``overhang`` is how far the stylus would reach past the spindle: the pivot stands ``length - overhang`` from it.
    """

    offset: float | None = None
    length: float | None = None
    overhang: float | None = None

    def __post_init__(self) -> None:
        """Refuse half an arm and impossible geometry."""
        if (self.length is None) != (self.overhang is None):
            raise InputError("arm: length and overhang go together; give both in mm, or only the offset angle in deg")
        if self.offset is not None and self.length is not None:
            raise InputError("arm: give either the offset angle or length and overhang, not both")
        if self.offset is not None and not -45.0 * DEG <= self.offset <= 45.0 * DEG:
            raise InputError(f"arm: offset angle must be -45 to 45 deg, got {self.offset / DEG:g} deg")
        if self.length is not None and self.overhang is not None:
            if not 0.12 <= self.length <= 0.5:
                raise InputError(f"arm: length must be 120 to 500 mm (pivot to stylus), got {self.length * 1e3:g} mm")
            if not -0.03 <= self.overhang <= 0.03:
                raise InputError(f"arm: overhang must be -30 to 30 mm, got {self.overhang * 1e3:g} mm")

    @property
    def known(self) -> bool:
        """Whether the lean is known at every radius."""
        return self.offset is not None or self.length is not None

    def lean(self, radius: ArrayLike) -> NDArray[np.float64]:
        r"""Lean b of the line stylus to pivot from the groove's tangent, toward the spindle [rad].

        .. math:: b(r) = \arcsin\frac{r^2 + L^2 - D^2}{2 r L}

        for a pivoted arm with pivot to stylus L and pivot to spindle D. An unknown arm gives the middle of its range.

        Examples
        --------
        >>> arm = Arm(length=0.230, overhang=0.0165)
        >>> float(np.degrees(arm.lean(0.060)))
        23.3...
        """
        r = np.asarray(radius, dtype=np.float64)
        if self.length is not None and self.overhang is not None:
            distance = self.length - self.overhang
            return np.asarray(np.arcsin((r**2 + self.length**2 - distance**2) / (2.0 * r * self.length)))
        middle = self.offset if self.offset is not None else 0.5 * sum(UNKNOWN_OFFSET_RANGE)
        return np.full(r.shape, middle)

    def polar_angle(self, radius: ArrayLike) -> NDArray[np.float64]:
        r"""Angle at the spindle between the lines to stylus and pivot [rad]; 0 where the geometry is unknown.

        .. math:: \cos\varphi = (r^2 + D^2 - L^2) / (2 r D)

        Its change along the side is what parts the platter's angle from the disc's groove angle.
        """
        r = np.asarray(radius, dtype=np.float64)
        if self.length is None or self.overhang is None:
            return np.zeros(r.shape)
        distance = self.length - self.overhang
        return np.asarray(np.arccos((r**2 + distance**2 - self.length**2) / (2.0 * r * distance)))
