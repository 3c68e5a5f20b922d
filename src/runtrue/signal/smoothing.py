"""Weighted smoothing of an evenly spaced series: the least bent curve through uncertain points.

Minimises ``sum w (x(at) - y)^2 + hold * sum (x - toward)^2 + stiffness * sum (second difference of x)^2 + pull * sum
(first difference of x)^2`` by one banded solve. A point may stand up to half a step beside its knot (``late``); points
of weight zero are bridged, and over a long gap the weak ``pull`` brings the slope back to nought. The stiffness can be
chosen by marginal likelihood.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import cho_solve_banded, cholesky_banded

Float64 = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Points:
    """Uncertain points, one a knot, all of shape (n,).

    ``value`` as measured, ``weight`` 1/variance, ``late`` where each stands beside its knot, in steps (-0.5 to 0.5).
    """

    value: Float64
    weight: Float64
    late: Float64

    @classmethod
    def at_knots(cls, value: Float64, weight: Float64) -> "Points":
        """Points that stand on their knots."""
        return cls(value=value, weight=weight, late=np.zeros(len(value)))

    def read(self, series: Float64) -> Float64:
        """``series`` read where the points stand, by straight lines."""
        index = np.arange(len(series))
        return np.asarray(np.interp(index + self.late, index, series))

    def normal(self) -> tuple[Float64, Float64]:
        """Upper banded normal matrix, shape (3, n), and its right-hand side, shape (n,)."""
        n = len(self.value)
        index = np.arange(n)
        first = np.clip(index - (self.late < 0.0), 0, n - 2)
        share = np.clip(index + self.late - first, 0.0, 1.0)
        bands, right = np.zeros((3, n)), np.zeros(n)
        weight = self.weight + 1e-12 * self.weight.max()
        for at, part in ((first, 1.0 - share), (first + 1, share)):
            bands[2] += np.bincount(at, weight * part**2, minlength=n)
            right += np.bincount(at, weight * part * self.value, minlength=n)
        bands[1] = np.bincount(first + 1, weight * share * (1.0 - share), minlength=n)
        return bands, right


def _bent(n: int, stiffness: float, pull: float) -> Float64:
    """Upper banded matrix of what bending and slope cost, shape (3, n)."""
    bands = np.zeros((3, n))
    square = np.zeros(n)
    square[:-2] += 1.0
    square[1:-1] += 4.0
    square[2:] += 1.0
    first = np.zeros(n - 1)
    first[:-1] -= 2.0
    first[1:] -= 2.0
    ends = np.full(n, 2.0)
    ends[[0, -1]] = 1.0
    bands[2] = stiffness * square + pull * ends
    bands[1, 1:] = stiffness * first - pull
    bands[0, 2:] = stiffness
    return bands


def smooth(
    points: Points, stiffness: float, pull: float = 0.0, *, toward: Float64 | None = None, hold: float = 0.0
) -> Float64:
    """Smoothed series, shape (n,); ``stiffness`` is 1/variance of the second difference.

    ``toward`` (n,) is a series it is held to with weight ``hold``.
    """
    n = len(points.value)
    if n < 3 or not points.weight.any():
        return points.value.copy() if toward is None else toward.copy()
    bands, right = points.normal()
    bands += _bent(n, stiffness, pull)
    if toward is not None:
        bands[2] += hold
        right += hold * toward
    return np.asarray(cho_solve_banded((cholesky_banded(bands), False), right))


def likeliest_stiffness(points: Points, grid: Float64) -> float:
    """The entry of ``grid`` with the largest marginal likelihood of a doubly integrated random walk seen in noise."""
    best, chosen = -np.inf, float(grid[0])
    n = len(points.value)
    seen, right = points.normal()
    for stiffness in grid:
        factor = cholesky_banded(seen + _bent(n, float(stiffness), 0.0))
        fitted = points.read(cho_solve_banded((factor, False), right))
        misfit = float(points.value @ (points.weight * (points.value - fitted)))
        likelihood = 0.5 * (n - 2) * np.log(stiffness) - float(np.log(factor[-1]).sum()) - 0.5 * misfit
        if likelihood > best:
            best, chosen = likelihood, float(stiffness)
    return chosen
