r"""Before fluxing: how much of each to add so that the mix is the formula again, and whether it goes into the mixer.

Nothing can be taken out of a mix, so it can only grow. With x_i what is in it and f_i the formula's share, the least
batch that holds all of it is

.. math:: M' = \max_i x_i / f_i, \qquad a_i = f_i M' - x_i

and the least that brings every share within its tolerance tau_i is a linear programme. A dry mix that is even may also
be divided and each part made up to a batch. (Arithmetic of the mass balance.)
"""

from dataclasses import dataclass, replace
from enum import StrEnum
from math import ceil, fsum

import numpy as np
from numpy.typing import NDArray

from runtrue.compound.charge import Charge, Line, basis_yield
from runtrue.compound.formula import Basis

_Array = NDArray[np.float64]

WORKING_FILL = 0.85
"""Largest working fill of an internal mixer; 0.50 to 0.85. Memory, common practice."""
MOST_PARTS = 4
"""A mix divided into more parts is nobody's remedy (our choice)."""


class RemedyKind(StrEnum):
    """How the formula comes back."""

    NOTHING = "nothing"
    RESTORE = "restore"
    WITHIN_TOLERANCE = "within_tolerance"
    DIVIDE = "divide"
    NONE = "none"


@dataclass(frozen=True, slots=True, kw_only=True)
class Remedy:
    """What to add: ``additions`` by ingredient [kg as it is] in all; ``parts`` into which the mix is divided first.

    ``batch`` is what it then is in all on the formula's basis [kg], for the check of what was added. ``mass`` is all
    that then lies in the mixers [kg as it is], ``fill`` the share of one mixer for each part; None where mixer or
    densities are not known. ``reason`` says why there is none, or what keeps the full way closed.
    """

    kind: RemedyKind
    additions: dict[str, float]
    mass: float
    batch: float
    fill: float | None
    parts: int = 1
    reason: str = ""


def remedy(
    made: Charge, totals: dict[str, float], tolerances: dict[str, float], *, foreign: bool, chamber: float | None
) -> Remedy:
    """The first of these that goes in: restore the formula, bring it within tolerance, divide the mix.

    Parameters
    ----------
    made : Charge
        What was asked for
    totals : dict
        What lies in the mix [kg as it is], by name
    tolerances : dict
        Of each ingredient [kg as it is]
    foreign : bool
        Whether something that is not in the formula lies in it
    chamber : float, optional
        Net volume of the mixer [m3]

    Examples
    --------
    >>> from runtrue.compound.charge import charge
    >>> from runtrue.compound.formula import Formula, Ingredient, Material
    >>> parts = (Ingredient(name="shellac", material=Material.BINDER, share=0.2, density=1160.0),
    ...          Ingredient(name="slate", material=Material.FILLER, share=0.8, density=2800.0))
    >>> made = charge(Formula(name="-", basis=Basis.DRY, ingredients=parts), 100.0)
    >>> found = remedy(made, {"shellac": 22.0, "slate": 80.0}, {}, foreign=False, chamber=None)
    >>> str(found.kind), found.additions["slate"], found.mass
    ('restore', 8.0, 110.0)
    """
    lines = [line for line in made.lines if line.need > 0.0]
    asked = {line.ingredient.name for line in lines}
    strange = [name for name, mass in totals.items() if mass > 0.0 and name not in asked]
    if foreign or strange:
        what = strange[0] if strange else "something that is not in the formula"
        return _none(made, totals, f"{what} lies in the mix, and no addition takes it out")
    mix = _Mix(made=made, lines=lines, totals=totals, chamber=chamber)
    target = np.array([line.need for line in lines])
    slack = np.array([tolerances.get(line.ingredient.name, 0.0) for line in lines]) * mix.yields / target
    if np.all(np.abs(mix.have - target) <= slack * target * (1.0 + 1e-9) + 1e-12):
        return mix.grown_by(RemedyKind.NOTHING, np.zeros_like(target))
    grown = max(float((mix.have / target).max()), 1.0)
    restored = mix.grown_by(RemedyKind.RESTORE, np.maximum(grown * target - mix.have, 0.0))
    if restored.fill is None or restored.fill <= WORKING_FILL or grown <= 1.0 + 1e-9:
        return restored
    told = f"restoring the formula takes {restored.mass:.4g} kg, {100.0 * restored.fill:.0f} % of the chamber"
    least = _least(mix.have, target / target.sum(), slack)
    if least is not None:
        within = mix.grown_by(RemedyKind.WITHIN_TOLERANCE, least)
        if within.fill is not None and within.fill <= WORKING_FILL:
            return replace(within, reason=told)
    parts = ceil(restored.fill / WORKING_FILL)
    if parts <= MOST_PARTS:
        return replace(restored, kind=RemedyKind.DIVIDE, parts=parts, fill=restored.fill / parts, reason=told)
    return _none(made, totals, told)


class _Mix:
    """What lies in the mixer, ``have`` on the formula's basis [kg], and what an addition makes of it."""

    def __init__(self, *, made: Charge, lines: list[Line], totals: dict[str, float], chamber: float | None) -> None:
        self.lines = lines
        solid = made.formula.basis is Basis.SOLIDS
        self.counted = np.array([line.ingredient.counted if solid else 1.0 for line in lines])
        self.chamber = chamber
        self.yields = np.array([basis_yield(line) for line in lines])
        self.have = np.array([totals.get(line.ingredient.name, 0.0) for line in lines]) * self.yields

    def grown_by(self, kind: RemedyKind, add: _Array) -> Remedy:
        """The remedy that adds so much on the basis [kg]."""
        names = [line.ingredient.name for line in self.lines]
        masses, whole = add / self.yields, (self.have + add) / self.yields
        volume = _volume(self.lines, whole)
        return Remedy(
            kind=kind,
            additions={
                name: float(mass)
                for name, mass, line in zip(names, masses, self.lines, strict=True)
                if mass > 1e-9 * line.mass
            },
            mass=float(whole.sum()),
            batch=float(self.counted @ (self.have + add)),
            fill=None if volume is None or self.chamber is None else volume / self.chamber,
        )


def _none(made: Charge, totals: dict[str, float], reason: str) -> Remedy:
    return Remedy(
        kind=RemedyKind.NONE, additions={}, mass=fsum(totals.values()), batch=made.batch, fill=None, reason=reason
    )


def _least(have: _Array, share: _Array, slack: _Array) -> _Array | None:
    """Least additions on the basis that bring every share within its tolerance; None where there are none."""
    from scipy.optimize import linprog

    n = have.size
    low, high = share * (1.0 - slack), share * (1.0 + slack)
    eye, ones = np.eye(n), np.ones((n, n))
    # share limits of the grown mix: (x + a)_i - f (sum x + sum a) on the right side of zero
    upper = np.vstack([eye - high[:, None] * ones, low[:, None] * ones - eye])
    bound = np.concatenate([high * have.sum() - have, have - low * have.sum()])
    found = linprog(np.ones(n), A_ub=upper, b_ub=bound, bounds=(0.0, None), method="highs")
    return np.asarray(found.x) if found.success else None


def _volume(lines: list[Line], masses: _Array) -> float | None:
    """Volume of the dry compound [m3] of masses as they are [kg]; None where a density is not known."""
    volume = 0.0
    for line, mass in zip(lines, masses, strict=True):
        if line.ingredient.density is None or line.mass == 0.0:
            return None
        volume += float(mass) * line.solids / line.mass / line.ingredient.density
    return volume
