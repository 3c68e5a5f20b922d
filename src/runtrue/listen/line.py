"""The time line: programme time as a function of capture time, in pieces between jumps.

A piece holds knots at even capture times; between knots the line is a cubic through them, so its slope, the speed,
is smooth.
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline

Float64 = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Piece:
    """One stretch without a jump.

    ``start`` and ``step`` place the knots in capture time [s]; ``programme`` is their programme time [s], shape (n,);
    ``weight`` the information each delay holds [1/s2], zero where nothing was heard (bridged by its neighbours);
    ``stiffness`` [1/s2] what its second differences were held to nought with, 0 for one not yet sharpened.
    """

    start: float
    step: float
    programme: Float64
    weight: Float64
    stiffness: float = 0.0

    @property
    def knots(self) -> Float64:
        """Capture times of the knots [s], shape (n,)."""
        return np.asarray(self.start + self.step * np.arange(len(self.programme)), dtype=np.float64)

    @property
    def end(self) -> float:
        """Capture time of the last knot [s]."""
        return self.start + self.step * (len(self.programme) - 1)

    def at(self, capture: Float64) -> Float64:
        """Programme time at capture times [s]; beyond the ends the line runs on straight."""
        spline = _spline(self)
        inside = np.clip(capture, self.start, self.end)
        slope = np.where(
            capture < self.start,
            float(spline(self.start, 1)),
            np.where(capture > self.end, float(spline(self.end, 1)), 0.0),
        )
        return np.asarray(spline(inside) + slope * (capture - inside))


@lru_cache(maxsize=4)
def _spline(piece: Piece) -> CubicSpline:
    """The curve through the knots; a piece is asked for it section after section."""
    return CubicSpline(piece.knots, piece.programme, bc_type="natural")


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """All pieces in order of capture time; the capture belongs to the piece whose span holds it."""

    pieces: tuple[Piece, ...]

    def capture_time(self, programme: float) -> float | None:
        """First capture time at which ``programme`` [s] is heard; None where no piece reaches it."""
        for piece in self.pieces:
            knots, values = piece.knots, piece.programme
            if values[0] <= programme <= values[-1]:
                return float(np.interp(programme, values, knots))
        return None

    def piece_at(self, capture: float) -> Piece:
        """The piece that serves capture time ``capture`` [s]: the nearest one outside all spans."""
        for piece in self.pieces:
            if capture <= piece.end:
                return piece
        return self.pieces[-1]
