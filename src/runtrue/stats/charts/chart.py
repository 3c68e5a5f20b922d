"""What every control chart returns."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

_Array = NDArray[np.float64]

FEWEST_POINTS = 15
"""Limits estimated from fewer points than this are not judged by (common practice asks for 20 to 25)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Chart:
    """Points with centre line and limits; all arrays have the length of ``points``.

    ``sigma`` is the standard deviation of each plotted point in control, ``judged`` is False where the limits come from
    too few points, then ``out`` says only where a point would lie outside.
    """

    name: str
    points: _Array
    centre: _Array
    lower: _Array
    upper: _Array
    sigma: _Array
    judged: bool = True
    cautions: tuple[str, ...] = ()

    @property
    def out(self) -> tuple[int, ...]:
        """Positions, from 0, of the points beyond a limit."""
        beyond = (self.points > self.upper) | (self.points < self.lower)
        return tuple(int(i) for i in np.flatnonzero(beyond))

    @property
    def z(self) -> _Array:
        """Points in standard deviations from the centre line, for the run rules."""
        return (self.points - self.centre) / self.sigma


def make_chart(
    name: str,
    points: _Array,
    *,
    centre: _Array | float,
    sigma: _Array | float,
    lower: _Array | float | None = None,
    upper: _Array | float | None = None,
    used: int | None = None,
    cautions: tuple[str, ...] = (),
) -> Chart:
    """Fill the arrays; three sigma limits where none are given; ``used`` is how many points the limits come from."""
    centre_line, deviation = (np.broadcast_to(np.asarray(x, dtype=np.float64), points.shape) for x in (centre, sigma))
    low = centre_line - 3.0 * deviation if lower is None else np.broadcast_to(np.asarray(lower, float), points.shape)
    high = centre_line + 3.0 * deviation if upper is None else np.broadcast_to(np.asarray(upper, float), points.shape)
    judged = used is None or used >= FEWEST_POINTS
    if not judged:
        cautions = (*cautions, f"limits come from {used} points; below {FEWEST_POINTS} nothing can be judged by them")
    return Chart(
        name=name,
        points=points,
        centre=centre_line,
        lower=low,
        upper=high,
        sigma=deviation,
        judged=judged,
        cautions=cautions,
    )
