"""The record and the biscuit it is pressed from: volume, mass, thickness, flash, shrinkage, pressure from force."""

from dataclasses import dataclass
from math import pi

import numpy as np
from numpy.typing import NDArray

from runtrue.errors import InputError
from runtrue.press.conduction import Mesh, Press, Probe, run
from runtrue.press.layers import Layer, Phase, Side, Stack
from runtrue.press.materials import Material

_Array = NDArray[np.float64]


def disc_volume(*, diameter: float, thickness: float, hole: float = 0.0) -> float:
    """Volume of a flat disc with a hole [m3].

    Examples
    --------
    >>> 1e6 * disc_volume(diameter=0.301, thickness=1.9e-3, hole=7.26e-3)
    135.12
    """
    if not diameter > hole >= 0.0:
        raise InputError(f"diameter must be above the hole, got {diameter * 1e3:g} and {hole * 1e3:g} mm")
    if not thickness > 0.0:
        raise InputError(f"thickness must be above 0 mm, got {thickness * 1e3:g} mm")
    return pi / 4.0 * (diameter**2 - hole**2) * thickness


def disc_thickness(*, mass: float, density: float, diameter: float, hole: float = 0.0) -> float:
    """Mean thickness of a disc from its mass [m].

    Examples
    --------
    >>> 1e3 * disc_thickness(mass=0.140, density=1380.0, diameter=0.301, hole=7.26e-3)
    1.4265
    """
    if not (mass > 0.0 and density > 0.0):
        raise InputError("mass and density must be above 0")
    return mass / density / disc_volume(diameter=diameter, thickness=1.0, hole=hole)


def mould_size(size: float, contraction: float) -> float:
    """Size the mould needs for a size at room temperature, with linear contraction [-] from pressing to room.

    Examples
    --------
    >>> 1e3 * mould_size(0.301, 0.0035)
    302.057
    """
    if not 0.0 <= contraction < 0.1:
        raise InputError(f"contraction must be 0 to below 10 %, got {100.0 * contraction:g} %")
    return size / (1.0 - contraction)


def mean_pressure(force: float, diameter: float) -> float:
    """Mean pressure on a full disc from the press's force [Pa].

    Examples
    --------
    >>> 1e-6 * mean_pressure(150e3 * 9.80665, 0.301)
    20.67
    """
    if not (force > 0.0 and diameter > 0.0):
        raise InputError("force and diameter must be above 0")
    return force / (pi * diameter**2 / 4.0)


def ram_force(line_pressure: float, ram_diameter: float) -> float:
    """Force of a ram from the pressure of its oil or water [N]: line pressure is not pressure on the record.

    Examples
    --------
    >>> round(1e-3 * ram_force(150e5, 0.35))
    1443
    """
    if not (line_pressure > 0.0 and ram_diameter > 0.0):
        raise InputError("line pressure and ram diameter must be above 0")
    return line_pressure * pi * ram_diameter**2 / 4.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Biscuit:
    """A round biscuit: mass [kg], diameter and thickness [m]."""

    mass: float
    diameter: float
    thickness: float


def biscuit_for(*, record_mass: float, flash: float, density: float, diameter: float) -> Biscuit:
    """Biscuit for a record, with flash as a share of the record's mass.

    Parameters
    ----------
    record_mass : float
        [kg]
    flash : float
        0 or more [-]
    density : float
        Of the warm biscuit [kg/m3]
    diameter : float
        Of the biscuit [m]

    Returns
    -------
    biscuit : Biscuit

    Examples
    --------
    >>> made = biscuit_for(record_mass=0.14, flash=0.15, density=1380.0, diameter=0.12)
    >>> 1e3 * made.mass, 1e3 * made.thickness
    (161.0, 10.316)
    """
    if not 0.0 <= flash < 1.0:
        raise InputError(f"flash must be 0 to below 100 % of the record, got {100.0 * flash:g} %")
    mass = record_mass * (1.0 + flash)
    return Biscuit(
        mass=mass, diameter=diameter, thickness=disc_thickness(mass=mass, density=density, diameter=diameter)
    )


WARM_MESH = Mesh(first=0.01, longest=8.0)
"""Nothing switches on a table: the steps may grow long."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Warming:
    """A slab on a plate or in the air: times [s], its coldest, hottest and mean temperature [K]."""

    time: _Array
    coldest: _Array
    hottest: _Array
    mean: _Array

    def when_coldest_reaches(self, temperature: float) -> float | None:
        """First time at which nothing in it is colder [s]; None where it does not come to that."""
        return _first(self.time, self.coldest, temperature)


def _first(time: _Array, values: _Array, level: float) -> float | None:
    over = np.flatnonzero(values >= level)
    if over.size == 0:
        return None
    k = int(over[0])
    if k == 0:
        return float(time[0])
    share = (level - values[k - 1]) / (values[k] - values[k - 1])
    return float(time[k - 1] + share * (time[k] - time[k - 1]))


def warm(
    material: Material,
    thickness: float,
    *,
    start: float,
    below: Side,
    above: Side,
    seconds: float,
    mesh: Mesh = WARM_MESH,
) -> Warming:
    """Follow a slab that takes heat from below and above: a biscuit on a steam table, a puck that waits in the air.

    Heat flows through the thickness only, so a puck as high as it is wide cools faster than this.

    Parameters
    ----------
    material : Material
    thickness : float
        [m]
    start : float
        [K]
    below, above : Side
        Plate with its contact as film, air with its film
    seconds : float
        How long

    Returns
    -------
    warming : Warming
    """
    stack = Stack(layers=(Layer(name="biscuit", material=material, thickness=thickness),), contacts=(), mirror=False)
    press = Press(stack, 1, mesh)
    places = [Probe(layer=0, at=x) for x in (0.0, 0.1, 0.25, 0.5, 0.75, 0.9, 1.0)]
    phase = Phase(name="table", fluid="none", duration=seconds, a=below, b=above)
    seen = run(press, [phase], press.start(start), probes=places)
    inside = seen.probes[:, :, 0]
    return Warming(time=seen.time[:, 0], coldest=inside.min(axis=1), hottest=inside.max(axis=1), mean=seen.mean[:, 0])
