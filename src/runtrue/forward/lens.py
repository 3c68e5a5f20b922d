r"""Lens readings of a groove that lies off centre, by exact geometry.

A groove point at phi stands at c + rho(phi) u(phi), c the groove's centre from the axis. Under a lens at theta lies the
point whose ray from the axis has that angle: with n across u(theta), c . n + rho(phi) sin(phi - theta) = 0, and the
reading is c . u(theta) + rho(phi) cos(phi - theta).
"""

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from runtrue.errors import InputError

_Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class GrooveShape:
    """A groove about its own centre.

    ``radius`` at angle 0 [m]; ``growth`` of the radius per turn of growing angle [m], negative inward; ``out_of_round``
    has amplitude [m] and crest [rad] by order.
    """

    radius: float
    growth: float = 0.0
    out_of_round: Mapping[int, tuple[float, float]] = field(default_factory=dict)

    def at(self, phi: _Array) -> _Array:
        """Radius about the groove's own centre [m]."""
        rho = self.radius + self.growth * phi / (2.0 * np.pi)
        for order, (amplitude, crest) in self.out_of_round.items():
            rho = rho + amplitude * np.cos(order * (phi - crest))
        return np.asarray(rho)


def lens_readings(theta: _Array, shape: GrooveShape, centre: tuple[float, float]) -> _Array:
    """Distance of the groove from the axis under a lens at ``theta`` [rad], growing through the turns [m].

    Parameters
    ----------
    theta : array (n,)
        Angle of the groove point under the lens, from the axis, in the frame of the face [rad]
    shape : GrooveShape
        The groove
    centre : tuple of 2 floats
        Groove centre from the axis (x, y) [m]; shorter than a tenth of the radius

    Returns
    -------
    reading : array (n,)

    Examples
    --------
    >>> lens_readings(np.array([0.0, np.pi]), GrooveShape(radius=53e-3), (1e-4, 0.0)) * 1e3
    array([53.1, 52.9])
    """
    if np.hypot(*centre) > 0.1 * shape.radius:
        raise InputError("centre: more than a tenth of the radius off; this is no centring error")
    along = centre[0] * np.cos(theta) + centre[1] * np.sin(theta)
    across = -centre[0] * np.sin(theta) + centre[1] * np.cos(theta)
    phi = np.array(theta, dtype=np.float64)
    for _ in range(50):
        following = theta - np.arcsin(across / shape.at(phi))
        if np.max(np.abs(following - phi), initial=0.0) < 1e-15:
            break
        phi = following
    return np.asarray(along + shape.at(phi) * np.cos(phi - theta))


def spoiled(
    reading: _Array,
    rng: np.random.Generator,
    *,
    noise: float = 5e-6,
    division: float = 0.0,
    outliers: Mapping[int, float] | None = None,
) -> _Array:
    """Readings as an operator writes them: lens noise [m], the lens's division [m], slips by place [m].

    Examples
    --------
    >>> spoiled(np.zeros(3), np.random.default_rng(1), noise=0.0, outliers={1: 2e-4})
    array([0.    , 0.0002, 0.    ])
    """
    made = reading + noise * rng.standard_normal(reading.size)
    for place, slip in (outliers or {}).items():
        made[place] += slip
    return np.asarray(np.round(made / division) * division if division > 0.0 else made)
