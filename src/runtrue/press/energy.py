"""What a record costs in steam, water and electricity, and how much of the heat goes into the moulds."""

from dataclasses import dataclass
from math import pi

from runtrue.errors import InputError
from runtrue.press.steam import saturated, water

KWH = 3.6e6
"""Joules in a kilowatt-hour, exact."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Use:
    """What one cycle takes: condensed steam [kg] and its heat [J], water [kg], electricity [J].

    ``moulds`` is the share of the steam's heat that the record does not take [-]. None for what was not said.
    """

    steam: float
    heat: float
    water: float | None
    electricity: float | None
    moulds: float


def face_area(diameter: float) -> float:
    """Face of one mould half [m2] from its diameter [m]; raises ``InputError`` unless above 0."""
    if not diameter > 0.0:
        raise InputError(f"mould diameter must be above 0 mm, got {diameter * 1e3:g} mm")
    return pi * diameter**2 / 4.0


def steam_mass(heat: float, pressure: float) -> float:
    r"""Steam that condenses to give a heat, the condensate leaving at the boiling point.

    .. math:: m = Q / (h_g - h_f)

    Parameters
    ----------
    heat : float
        [J]
    pressure : float
        Absolute [Pa]

    Returns
    -------
    mass : float
        [kg]; what a trap lets pass and what the pipes lose comes on top

    Examples
    --------
    >>> round(steam_mass(1.43e6, 8e5), 2)
    0.7
    """
    return heat / saturated(pressure).latent_heat


def water_mass(heat: float, cold: float, rise: float, *, pressure: float = 3e5) -> float:
    """Cooling water that carries a heat away, warmed by ``rise`` from ``cold`` [K]; enthalpies of IF97 region 1.

    Examples
    --------
    >>> round(water_mass(1.43e6, 291.15, 5.0), 1)
    68.4
    """
    if not rise > 0.0:
        raise InputError(f"water_rise_k must be above 0 K, got {rise:g} K")
    return heat / (water(pressure, cold + rise).enthalpy - water(pressure, cold).enthalpy)


def swing_heat(mass: float, specific_heat: float, swing: float) -> float:
    """Heat that a mass takes when it swings by so many kelvins [J].

    Examples
    --------
    >>> swing_heat(30.0, 475.0, 100.0)
    1425000.0
    """
    return mass * specific_heat * swing
