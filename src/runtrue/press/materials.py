"""What the press, its stampers and the record are made of: properties that may change with temperature.

Defaults are placeholders until the supplier's data stand in their place; a result that used one says so.
"""

import itertools
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from runtrue.errors import InputError, unknown_name
from runtrue.units import ZERO_DEGC

_Array = NDArray[np.float64]
Number = float | _Array
"""One value, or one for each of several cycles that are worked at once."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Curve:
    """A property over temperature: straight between points (temperature [K], value), level beyond the ends.

    ``factor`` scales the whole curve; one value, or one for each cycle. ``span`` is the range of temperature in which
    the values are known, None where nobody said; outside it a result carries a caution.
    """

    points: tuple[tuple[float, float], ...]
    factor: Number = 1.0
    span: tuple[float, float] | None = None

    def __post_init__(self) -> None:
        """Refuse points that make no curve."""
        if not self.points or any(value <= 0.0 for _, value in self.points):
            raise InputError("a property needs at least one point, and values above 0")
        temperatures = [t for t, _ in self.points]
        if any(b <= a for a, b in itertools.pairwise(temperatures)):
            raise InputError("the temperatures of a property must rise from point to point")

    @property
    def constant(self) -> bool:
        """Whether temperature changes nothing."""
        return len(self.points) == 1

    def at(self, temperature: _Array) -> _Array:
        """Value at temperatures [K] of shape (cycles, cells)."""
        if self.constant:
            return np.asarray(self.points[0][1] * _column(self.factor) + np.zeros_like(temperature))
        t, v = np.array(self.points).T
        return np.asarray(np.interp(temperature, t, v) * _column(self.factor))


class Ready:
    """A curve made ready to be read many times: a sum of ramps, each from one of its points on.

    Exact for the straight pieces, as is the integral.
    """

    def __init__(self, curve: Curve) -> None:
        t, v = np.array(curve.points).T
        self._from, self._first = t[:, np.newaxis], float(v[0])
        self._bends = np.diff(np.concatenate([[0.0], np.diff(v) / np.diff(t), [0.0]]))
        self._factor = _column(curve.factor)
        self._zero = 0.5 * float(self._bends @ np.maximum(ZERO_DEGC - t, 0.0) ** 2)

    def value(self, temperature: _Array) -> _Array:
        """Value at temperatures [K] of shape (cycles, cells)."""
        return np.asarray(
            (self._first + self._bends @ self._over(temperature)).reshape(temperature.shape) * self._factor
        )

    def with_integral(self, temperature: _Array) -> tuple[_Array, _Array]:
        """Value, and its integral over temperature from 0 degC."""
        over = self._over(temperature)
        value = self._first + self._bends @ over
        bent = 0.5 * (self._bends @ (over * over)) - self._zero
        integral = self._first * (temperature - ZERO_DEGC) + bent.reshape(temperature.shape)
        return value.reshape(temperature.shape) * self._factor, integral * self._factor

    def _over(self, temperature: _Array) -> _Array:
        """How far above each point the temperatures are, (points, temperatures) [K]."""
        return np.asarray(np.maximum(temperature.reshape(1, -1) - self._from, 0.0))


def constant(value: float, *, factor: Number = 1.0) -> Curve:
    """A property that temperature does not change."""
    return Curve(points=((ZERO_DEGC + 20.0, value),), factor=factor)


def _column(number: Number) -> Any:
    return number[:, np.newaxis] if isinstance(number, np.ndarray) else number


@dataclass(frozen=True, slots=True, kw_only=True)
class Material:
    """Density [kg/m3], conductivity [W/(m K)] and specific heat [J/(kg K)], with their source."""

    name: str
    density: float
    conductivity: Curve
    specific_heat: Curve
    source: str
    placeholder: bool = False

    def __post_init__(self) -> None:
        """Refuse matter without mass."""
        if not self.density > 0.0:
            raise InputError(f"{self.name}: density must be above 0, got {self.density:g} kg/m3")

    @property
    def diffusivity(self) -> float:
        """Conductivity over heat capacity at the first points [m2/s]: the scale of the grid."""
        return self.conductivity.points[0][1] / (self.density * self.specific_heat.points[-1][1])

    def scaled(self, *, conductivity: Number = 1.0, specific_heat: Number = 1.0) -> "Material":
        """The same matter with properties times factors."""
        return replace(
            self,
            conductivity=replace(self.conductivity, factor=self.conductivity.factor * conductivity),
            specific_heat=replace(self.specific_heat, factor=self.specific_heat.factor * specific_heat),
        )


def effusivity(conductivity: float, density: float, specific_heat: float) -> float:
    """How strongly a body holds its surface at its own temperature, sqrt(k rho c) [W s^0.5/(m2 K)].

    Examples
    --------
    >>> round(effusivity(90.7, 8900.0, 444.0)), round(effusivity(0.17, 1330.0, 1500.0), 1)
    (18932, 582.4)
    """
    return float(np.sqrt(conductivity * density * specific_heat))


def contact_temperature(first: tuple[float, float], second: tuple[float, float]) -> float:
    r"""Temperature of the joint face of two bodies that touch perfectly, from (effusivity, temperature) of each.

    .. math:: T = \frac{e_1 T_1 + e_2 T_2}{e_1 + e_2}

    Holds at all times for half spaces, early for finite bodies.

    Examples
    --------
    >>> round(contact_temperature((582.4, 150.0), (18932.0, 100.0)), 3)
    101.492
    """
    (e1, t1), (e2, t2) = first, second
    return (e1 * t1 + e2 * t2) / (e1 + e2)


def contact_flux(
    time: _Array, *, conductance: float, step: float, first_effusivity: float, second_effusivity: float
) -> _Array:
    r"""Heat flux between two half spaces that touch through a conductance.

    .. math:: q = h \Delta T \, e^{a^2 t} \operatorname{erfc}(a \sqrt t), \quad a = h (1/e_1 + 1/e_2)

    Parameters
    ----------
    time : ndarray
        Since they touched, above 0 [s]
    conductance : float
        h, above 0 [W/(m2 K)]
    step : float
        First temperature less second [K]
    first_effusivity, second_effusivity : float
        [W s^0.5/(m2 K)]

    Returns
    -------
    flux : ndarray
        From first to second [W/m2]

    Examples
    --------
    >>> round(float(contact_flux(np.array(1.0), conductance=5000.0, step=50.0, first_effusivity=18932.09,
    ...                          second_effusivity=582.366)))
    15838

    References
    ----------
    .. [1] Laplace solution; of the kind in Carslaw and Jaeger, Conduction of Heat in Solids, 2nd edition, 2.4.
    """
    from scipy.special import erfcx

    a = conductance * (1.0 / first_effusivity + 1.0 / second_effusivity)
    return np.asarray(conductance * step * erfcx(a * np.sqrt(time)))


def _celsius(*points: tuple[float, float]) -> Curve:
    shifted = tuple((t + ZERO_DEGC, v) for t, v in points)
    return Curve(points=shifted, span=(shifted[0][0], shifted[-1][0]))


_PLACEHOLDER = "placeholder: replace with the supplier's data"
MATERIALS: dict[str, Material] = {
    "steel": Material(
        name="steel", density=7850.0, conductivity=constant(45.0), specific_heat=constant(475.0),
        source="handbook values of a plain tool steel (memory)",
    ),
    "stainless": Material(
        name="stainless", density=7900.0, conductivity=constant(17.0), specific_heat=constant(460.0),
        source="EN 12524:2000",
    ),
    "nickel": Material(
        name="nickel", density=8900.0, conductivity=constant(90.7), specific_heat=constant(444.0),
        source="handbook values of pure nickel (memory)",
    ),
    "aluminium": Material(
        name="aluminium", density=2700.0, conductivity=constant(160.0), specific_heat=constant(900.0),
        source="handbook values of a wrought alloy (memory)",
    ),
    "vinyl": Material(
        name="vinyl", density=1380.0, conductivity=_celsius((0.0, 0.16), (60.0, 0.17), (190.0, 0.17)),
        specific_heat=_celsius((0.0, 900.0), (66.0, 1000.0), (78.0, 1500.0), (190.0, 1550.0)),
        source=f"{_PLACEHOLDER}; rigid PVC, range read in several tables", placeholder=True,
    ),
    "shellac": Material(
        name="shellac", density=2000.0, conductivity=constant(0.55), specific_heat=constant(1030.0),
        source=f"{_PLACEHOLDER}; rule of mixture for a filled binder", placeholder=True,
    ),
}  # fmt: skip
"""Property sets by name; densities in kg/m3. What is not marked is handbook knowledge, not this plant's."""


def material(name: str) -> Material:
    """Return the property set of this name; raises ``UnknownNameError``."""
    try:
        return MATERIALS[name]
    except KeyError:
        raise unknown_name("material", name, list(MATERIALS)) from None
