"""Repeatability of operators and lens: the same stampers centred by several people several times."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from runtrue.errors import InputError
from runtrue.stats.gauge import GaugeStudy, gauge_study


@dataclass(frozen=True, slots=True, kw_only=True)
class CentringStudy:
    """Study of x and of y, lengths [m]; ``deviation`` is that of one centring by anybody, the worse of the two axes."""

    x: GaugeStudy
    y: GaugeStudy

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
    return CentringStudy(x=gauge_study(values[..., 0]), y=gauge_study(values[..., 1]))
