"""Repeatability of operators and lens: the same stampers centred by several people several times."""

from dataclasses import dataclass
from math import sqrt

import numpy as np
from numpy.typing import ArrayLike, NDArray

from runtrue.errors import InputError
from runtrue.stats.gauge import GaugeStudy, gauge_study
from runtrue.stats.plane import covering_radius


@dataclass(frozen=True, slots=True, kw_only=True)
class CentringStudy:
    """Study of x and of y, lengths [m].

    ``deviation`` is that of one centring by anybody, the worse of the two axes; ``bias`` (operators, 2) the mean
    departure of each person from the mean of all; ``scatter`` (operators,) from one centring to the next, per axis.
    """

    x: GaugeStudy
    y: GaugeStudy
    bias: NDArray[np.float64]
    scatter: NDArray[np.float64]
    shape: tuple[int, int, int]

    @property
    def circle(self) -> float:
        """Radius about one centring by anybody that holds the true offset 95 times in 100 [m]."""
        return covering_radius((self.x.gauge**2, 0.0, self.y.gauge**2))

    def repeatability_limits(self, axis: GaugeStudy) -> tuple[float, float]:
        """95 % limits of a repeatability by chi-square on the freedom of the repeats and what was pooled [m]."""
        from scipy.special import chdtri

        operators, stampers, repeats = self.shape
        freedom = operators * stampers * (repeats - 1) + (operators - 1) * (stampers - 1) * axis.pooled
        low, high = (sqrt(freedom / float(chdtri(freedom, p))) for p in (0.025, 0.975))
        return axis.repeatability * low, axis.repeatability * high

    @property
    def deviation(self) -> float:
        """Standard deviation of one centring, operators and repeats together [m]."""
        return max(self.x.gauge, self.y.gauge)


def centring_study(offsets: ArrayLike) -> CentringStudy:
    """Judge a study.

    Parameters
    ----------
    offsets : array (operators, stampers, repeats, 2)
        Offset x and y as each operator found it [m]; two of each or more

    Examples
    --------
    >>> base = np.array([[1e-5, 2e-5], [8e-5, -3e-5], [-4e-5, 5e-5]])
    >>> noise = 2e-6 * np.random.default_rng(1).standard_normal((2, 3, 3, 2))
    >>> 1e-6 < centring_study(base[None, :, None, :] + noise).deviation < 4e-6
    True
    """
    values = np.asarray(offsets, dtype=np.float64)
    if values.ndim != 4 or values.shape[3] != 2 or min(values.shape[:3]) < 2:
        raise InputError(
            f"offsets must be operators by stampers by repeats by 2, two of each or more, got shape {values.shape}"
        )
    within = values - values.mean(axis=2, keepdims=True)
    operators, stampers, repeats = values.shape[:3]
    return CentringStudy(
        x=gauge_study(values[..., 0]),
        y=gauge_study(values[..., 1]),
        bias=values.mean(axis=(1, 2)) - values.mean(axis=(0, 1, 2)),
        scatter=np.sqrt((within**2).sum(axis=(1, 2, 3)) / (2.0 * stampers * (repeats - 1))),
        shape=(operators, stampers, repeats),
    )


def pooled_deviation(deviations: ArrayLike, freedom: ArrayLike) -> float:
    """Scatter of one reading over many sets, each with its own degrees of freedom [m].

    Examples
    --------
    >>> pooled_deviation([3.0, 4.0], [1, 1])
    3.5355
    """
    s, f = np.asarray(deviations, dtype=np.float64), np.asarray(freedom, dtype=np.float64)
    return sqrt(float((f * s**2).sum() / f.sum()))
