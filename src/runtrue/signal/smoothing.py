"""Weighted smoothing of an evenly spaced series: the least bent curve through uncertain points.

Minimises ``sum w (x - y)^2 + stiffness * sum (second difference of x)^2 + pull * sum (first difference of x)^2`` by
one banded solve; points of weight zero are bridged, and over a long gap the weak ``pull`` brings the slope back to
nought. The stiffness can be chosen by marginal likelihood.
"""

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import cho_solve_banded, cholesky_banded

Float64 = NDArray[np.float64]


def _normal(weight: Float64, stiffness: float, pull: float = 0.0) -> Float64:
    """Upper banded normal matrix, shape (3, n)."""
    n = len(weight)
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
    bands[2] = weight + stiffness * square + pull * ends
    bands[1, 1:] = stiffness * first - pull
    bands[0, 2:] = stiffness
    return bands


def smooth(value: Float64, weight: Float64, stiffness: float, pull: float = 0.0) -> Float64:
    """Smoothed series, shape (n,); ``weight`` (n,) 1/variance, ``stiffness`` 1/variance of the second difference."""
    if len(value) < 3 or not weight.any():
        return value.copy()
    bands = _normal(weight + 1e-12 * weight.max(), stiffness, pull)
    return np.asarray(cho_solve_banded((cholesky_banded(bands), False), weight * value))


def likeliest_stiffness(value: Float64, weight: Float64, grid: Float64) -> float:
    """The entry of ``grid`` with the largest marginal likelihood of a doubly integrated random walk seen in noise."""
    best, chosen = -np.inf, float(grid[0])
    n = len(value)
    for stiffness in grid:
        bands = _normal(weight + 1e-12 * weight.max(), float(stiffness))
        factor = cholesky_banded(bands)
        fitted = cho_solve_banded((factor, False), weight * value)
        misfit = float(value @ (weight * (value - fitted)))
        likelihood = 0.5 * (n - 2) * np.log(stiffness) - float(np.log(factor[-1]).sum()) - 0.5 * misfit
        if likelihood > best:
            best, chosen = likelihood, float(stiffness)
    return chosen
