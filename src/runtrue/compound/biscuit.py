r"""From compound to biscuits: mass of a disc, of the biscuit that makes it, and how many a batch gives."""

from dataclasses import dataclass
from math import floor, pi

from runtrue.errors import InputError
from runtrue.stats.checks import within
from runtrue.units import GRAM, PERCENT

FLASH = 15.0 * PERCENT
"""Flash over biscuit where nobody says; 10 to 25 % for 12 in, more for 7 in. Common practice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class UsualMass:
    """A disc's mass [kg] where nobody says, and how it is known."""

    mass: float
    source: str


USUAL_MASS = {
    "12in-33": UsualMass(mass=140.0 * GRAM, source="the industry's first carbon footprint report, 140 g (read)"),
    "12in-45": UsualMass(mass=140.0 * GRAM, source="the industry's first carbon footprint report, 140 g (read)"),
    "10in-33": UsualMass(mass=100.0 * GRAM, source="90 to 110 g (memory)"),
    "10in-45": UsualMass(mass=100.0 * GRAM, source="90 to 110 g (memory)"),
    "7in-33": UsualMass(mass=40.0 * GRAM, source="38 to 50 g (memory)"),
    "7in-45": UsualMass(mass=40.0 * GRAM, source="38 to 50 g (memory)"),
    "10in-78": UsualMass(mass=177.0 * GRAM, source="GB patent 865,702 as quoted, 170 to 184 g (read)"),
    "12in-78": UsualMass(mass=255.0 * GRAM, source="the 10 in disc's mass by area, 245 to 265 g (worked out)"),
}
"""By format. A plant's own scale says better."""


def disc_mass(*, diameter: float, thickness: float, density: float) -> float:
    r"""Mass of a disc [kg]: pi/4 D^2 t rho, the hole left out (0.05 % of a 10 in disc).

    Parameters
    ----------
    diameter, thickness : float
        Of the disc, its mean thickness [m], above 0
    density : float
        [kg/m3], above 0

    Examples
    --------
    >>> disc_mass(diameter=0.250, thickness=1.727e-3, density=2006.0)
    0.1701

    References
    ----------
    .. [1] Geometry; the figures of GB patent 865,702 (1957) as quoted on the ARSC list, 2014-09.
    """
    for name, value in (("diameter", diameter), ("thickness", thickness), ("density", density)):
        within(name, value, 0.0, above=True)
    return pi / 4.0 * diameter**2 * thickness * density


def mean_thickness(*, mass: float, diameter: float, density: float) -> float:
    """Mean thickness [m] of a disc of this mass [kg], diameter [m] and density [kg/m3]; the way back.

    Examples
    --------
    >>> 1e3 * mean_thickness(mass=0.140, diameter=0.301, density=1380.0)
    1.43
    """
    return mass / disc_mass(diameter=diameter, thickness=1.0, density=density)


def biscuit_mass(disc: float, flash: float = FLASH) -> float:
    """Mass of the biscuit [kg] for a disc [kg] and a share of flash in the biscuit [-].

    Examples
    --------
    >>> biscuit_mass(0.140, 0.20)
    0.175
    """
    within("disc", disc, 0.0, above=True)
    within("flash", flash, 0.0, 1.0, below=True)
    return disc / (1.0 - flash)


def biscuits_from(solids: float, biscuit: float) -> int:
    """Whole biscuits [count] that a batch gives, of its solids [kg] and the mass of one [kg].

    Examples
    --------
    >>> biscuits_from(1.0, 0.2)
    5
    """
    within("biscuit", biscuit, 0.0, above=True)
    return floor(solids / biscuit * (1.0 + 1e-12))


def usual_mass(format_name: str) -> UsualMass:
    """The usual mass of a disc of this format; raises ``InputError`` with what to do."""
    try:
        return USUAL_MASS[format_name]
    except KeyError:
        raise InputError(f"no usual mass is known for {format_name}: give the disc's mass") from None
