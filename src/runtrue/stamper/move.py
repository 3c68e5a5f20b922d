"""The move in words: how far, toward which hour on the face, and what that is for the two screws."""

from dataclasses import dataclass
from math import atan2, hypot

from runtrue.stamper.axis import Machine
from runtrue.units import DEG, MM, UM


@dataclass(frozen=True, slots=True, kw_only=True)
class Move:
    """Move the stamper by (x, y) of the face [m]: ``distance`` [m] toward ``hour`` (1 to 12, halves), 0 deg at 12."""

    x: float
    y: float
    machine_x: float
    machine_y: float
    distance: float
    hour: float
    words: str
    screws: str


NOTHING = 0.5 * UM
"""A move below this is none [m]."""


def move_of(x: float, y: float, machine: Machine | None = None) -> Move:
    """Return the move (x, y) [m] of the face, x at 0 deg, which stands at 12 o'clock as the person sees it.

    Angles grow against the clock, so 90 deg is at 9 o'clock.

    Examples
    --------
    >>> move_of(0.0, -74e-6).words
    '0.074 mm toward 3 o\N{RIGHT SINGLE QUOTATION MARK}clock'
    """
    machine = machine or Machine()
    mx, my = machine.to_machine(x, y)
    distance = hypot(x, y)
    hour = clock_hour(atan2(y, x) / DEG)
    words = "leave it where it is" if distance < NOTHING else f"{distance / MM:.3f} mm toward {hour_words(hour)}"
    parts = [
        f"{name} screw {abs(v) / MM:.3f} mm to {'+' if v > 0 else '−'}" for name, v in (("x", mx), ("y", my))
        if abs(v) >= NOTHING
    ]  # fmt: skip
    return Move(
        x=x, y=y, machine_x=mx, machine_y=my, distance=distance, hour=hour, words=words,
        screws=", ".join(parts) if parts else "both screws stay",
    )  # fmt: skip


def clock_hour(direction: float) -> float:
    """Hour toward which a direction [deg, 0 at 12, against the clock] points, to the half hour, 0.5 to 12.

    Examples
    --------
    >>> clock_hour(0.0), clock_hour(90.0), clock_hour(-45.0), clock_hour(180.0)
    (12.0, 9.0, 1.5, 6.0)
    """
    hour = round((-direction % 360.0) / 15.0) / 2.0 % 12.0
    return hour or 12.0


def hour_words(hour: float) -> str:
    """ "half past 1", "6 o'clock"."""
    if hour != int(hour):
        return f"half past {int(hour) or 12}"
    return f"{int(hour)} o\N{RIGHT SINGLE QUOTATION MARK}clock"
