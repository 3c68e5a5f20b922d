"""The disc's frame: programme time to turn, angle and radius, each with its uncertainty.

Angle 0 is the groove point played at programme time 0. On the playing face the disc turns clockwise and the angle
grows counter-clockwise; on the stamper's face, a mirror image, it grows clockwise.
"""

from dataclasses import dataclass
from math import floor, sqrt

import numpy as np
from numpy.typing import ArrayLike, NDArray

from runtrue.errors import InputError

TURN_SPREAD_U95 = 100e-6
"""Relative U95 of a turn that is nominal only: lathe against file clock, common practice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """Where a programme time lies on the disc: angle in degrees [0, 360), radius in metres."""

    turn: int
    angle: float
    angle_u95: float
    radius: float
    radius_u95: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Spiral:
    """Radius along the side, linear in programme time from ``start`` at 0 to ``end`` at ``duration`` [m, s].

    Both ends carry a 95 % uncertainty [m]; they are independent.
    """

    start: float
    start_u95: float
    end: float
    end_u95: float
    duration: float

    def __post_init__(self) -> None:
        """A side runs inward and stays on the disc."""
        if not self.duration > 0.0:
            raise InputError(f"spiral: duration must be above 0 s, got {self.duration:g} s")
        if not 0.02 < self.end < self.start < 0.2:
            raise InputError(
                f"spiral: radius must fall from start to end within 20 to 200 mm, got {self.start * 1e3:.1f} mm to "
                f"{self.end * 1e3:.1f} mm; check the start and end radius"
            )

    def radius(self, time: ArrayLike) -> NDArray[np.float64]:
        """Radius at programme time [s] -> [m], same shape."""
        share = np.asarray(time, dtype=np.float64) / self.duration
        return np.asarray(self.start + (self.end - self.start) * share)

    def radius_u95(self, time: ArrayLike) -> NDArray[np.float64]:
        """U95 of the radius at programme time [s] -> [m], same shape."""
        share = np.asarray(time, dtype=np.float64) / self.duration
        return np.asarray(np.hypot(self.start_u95 * (1.0 - share), self.end_u95 * share))


@dataclass(frozen=True, slots=True, kw_only=True)
class Frame:
    """Ties programme time to the disc. ``turn_frequency`` in turns per second of programme time [Hz]."""

    turn_frequency: float
    turn_frequency_u95: float
    spiral: Spiral

    @property
    def turn_period(self) -> float:
        """Programme time of one turn [s]."""
        return 1.0 / self.turn_frequency

    @property
    def turn_period_u95(self) -> float:
        """U95 of the turn [s]."""
        return self.turn_frequency_u95 / self.turn_frequency**2

    def locate(self, time: float, *, time_u95: float = 0.0) -> Place:
        """Place of programme time ``time`` [s] known to ``time_u95`` [s].

        ``turn = floor(f t)``, ``angle = 360 (f t mod 1)``; the angle's U95 grows with t as the turn's does.

        Examples
        --------
        >>> spiral = Spiral(start=0.146, start_u95=0.001, end=0.06, end_u95=0.001, duration=1200.0)
        >>> Frame(turn_frequency=5 / 9, turn_frequency_u95=0.0, spiral=spiral).locate(1.35).angle
        270.0
        """
        turns = self.turn_frequency * time
        turn = floor(turns)
        u95 = 360.0 * sqrt((self.turn_frequency_u95 * time) ** 2 + (self.turn_frequency * time_u95) ** 2)
        return Place(
            turn=turn,
            angle=(turns - turn) * 360.0 % 360.0,
            angle_u95=min(u95, 180.0),
            radius=float(self.spiral.radius(time)),
            radius_u95=float(self.spiral.radius_u95(time)),
        )


def mirrored(angle: float) -> float:
    """Angle as read counter-clockwise on the stamper's face for a playing-face angle, both in degrees [0, 360).

    The stamper is the mirror image: its angle grows clockwise, so read counter-clockwise it is the negative.

    Examples
    --------
    >>> mirrored(120.0)
    240.0
    """
    return -angle % 360.0 % 360.0  # the remainder of a tiny negative number rounds to 360 itself
