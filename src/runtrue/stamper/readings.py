"""What was read under the lens, and whether it can be used at all."""

from dataclasses import dataclass
from enum import StrEnum
from math import pi

import numpy as np
from numpy.typing import NDArray

from runtrue.errors import InputError
from runtrue.units import DEG, UM

_Array = NDArray[np.float64]


class Groove(StrEnum):
    """Kind of groove under the lens: a closed ring, or a turn of a spiral."""

    LOCKED = "locked"
    SPIRAL = "spiral"


class Face(StrEnum):
    """The face looked at. The stamper's is the mirror image of the record's."""

    STAMPER = "stamper"
    RECORD = "record"


@dataclass(frozen=True, slots=True, kw_only=True)
class Readings:
    """Radial position of one groove against angle, as read.

    ``angle`` in the frame of the face looked at, against the clock, growing through the turns [rad]; ``radius`` outward
    positive from any zero [m]; ``second_set`` True where the stamper was turned by half a turn on the table.
    """

    angle: _Array
    radius: _Array
    second_set: NDArray[np.bool_]

    def __post_init__(self) -> None:
        """Refuse what is no list of readings."""
        if not self.angle.shape == self.radius.shape == self.second_set.shape or self.angle.ndim != 1:
            raise InputError("readings: angle, radius and set must be lists of one length")
        if not (np.isfinite(self.angle).all() and np.isfinite(self.radius).all()):
            raise InputError("readings: an angle or a reading is no finite number; correct it")

    @property
    def count(self) -> int:
        """How many."""
        return int(self.angle.size)

    @property
    def places(self) -> _Array:
        """Different angles within the turn, rising, to a tenth of a degree [rad]."""
        tenths = np.unique(np.round(self.angle / DEG * 10.0).astype(np.int64) % 3600)
        return np.asarray(tenths * DEG / 10.0)

    @property
    def turns(self) -> float:
        """Turns from the first angle to the last."""
        return float(np.ptp(self.angle)) / (2.0 * pi)


LEAST_READINGS = 4
"""Three unknowns, the mean and the centre's x and y, and one reading to judge the scatter by."""
LEAST_PLACES = 3
"""Different angles below which no circle is fixed."""
WIDEST_GAP = 200.0 * DEG
"""Part of the turn that may stay unread [rad]. Our choice: beyond it an arc of less than 160 degrees is fitted."""


def hindrance(readings: Readings, *, division: float = 0.0) -> str:
    """Say why these readings cannot give a centre and what to add; empty where they can.

    Readings that are all equal are a centred groove only where the lens's ``division`` [m] is stated.

    Examples
    --------
    >>> two = Readings(angle=np.array([0.0, 0.0, pi, pi]), radius=np.zeros(4), second_set=np.zeros(4, dtype=bool))
    >>> hindrance(two)
    'readings at 2 angles only (0 and 180 deg): read at 90 and 270 deg too'
    """
    places = readings.places
    if places.size < LEAST_PLACES:
        shown = " and ".join(f"{p / DEG:.0f}" for p in places)
        more = " and ".join(f"{a:.0f}" for a in angles_to_add(places, 4 - places.size))
        return f"readings at {places.size} angles only ({shown} deg): read at {more} deg too"
    if readings.count < LEAST_READINGS:
        more = " and ".join(f"{a:.0f}" for a in angles_to_add(places, LEAST_READINGS - readings.count))
        return f"{readings.count} readings leave nothing to judge the scatter by: read at {more} deg too"
    if np.ptp(readings.radius) == 0.0 and division == 0.0:
        return "all readings are equal: the lens or the scale did not move; read again, or state its division"
    gap, middle = widest_gap(places)
    if gap > WIDEST_GAP:
        return f"nothing was read over {gap / DEG:.0f} deg of the turn: read there too, first at {middle / DEG:.0f} deg"
    return ""


def radians_by_mistake(degrees: _Array) -> bool:
    """Whether angles given as degrees look like radians: four or more, spread over 2 to 12.6, and not whole numbers.

    Examples
    --------
    >>> radians_by_mistake(np.array([0.0, 1.571, 3.142, 4.712]))
    True
    >>> radians_by_mistake(np.array([0.0, 90.0, 180.0, 270.0]))
    False
    """
    inside = np.abs(degrees) <= 4.0 * pi + 0.01
    fractions = np.abs(degrees - np.round(degrees)) > 1e-3
    return bool(degrees.size >= 3 and inside.all() and np.ptp(degrees) > 2.0 and fractions.any())


def widest_gap(places: _Array) -> tuple[float, float]:
    """Largest unread part of the turn and its middle [rad]."""
    gaps = np.diff(places, append=places[0] + 2.0 * pi)
    at = int(np.argmax(gaps))
    return float(gaps[at]), float((places[at] + gaps[at] / 2.0) % (2.0 * pi))


def angles_to_add(places: _Array, count: int) -> list[float]:
    """Angles that fill the widest gaps, one after another, rising [deg].

    Examples
    --------
    >>> angles_to_add(np.array([0.0, pi / 2]), 2)
    [180.0, 270.0]
    """
    known = np.sort(np.asarray(places, dtype=np.float64) % (2.0 * pi))
    added: list[float] = []
    for _ in range(min(count, 36)):
        gap, middle = widest_gap(known)
        if gap >= 1.4 * pi and known.size == 2:
            middle = float((middle - gap / 6.0) % (2.0 * pi))
        middle = float(np.round(middle / DEG / 5.0) * 5.0 * DEG) if gap > 20.0 * DEG else middle
        added.append(round(middle / DEG % 360.0, 1))
        known = np.sort(np.append(known, middle % (2.0 * pi)))
    return sorted(added)


STOPPING_GROOVE = 1000.0 * UM
"""Offset above which a closed groove is taken for one that is off centre on purpose [m]. The groove that stops a 78 is
cut off centre by some 3 mm; punching errors are a tenth of this at most."""
