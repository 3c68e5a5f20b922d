r"""From a formula to what is weighed: masses as they lie in the store, lots first in first out, water, fill, cost."""

from dataclasses import dataclass
from math import floor, fsum, log10

from runtrue.compound.formula import Basis, Formula, Ingredient, Lot, formula_density, mixture_density
from runtrue.errors import InputError
from runtrue.stats.checks import within

DIVISIONS_IN_TOLERANCE = 10.0
"""A scale's division is at most a tenth of the tolerance. Common practice, no source."""
_SERIES = (1.0, 2.0, 5.0)
_NOTHING = 1e-6
"""A milligram on a kilogram is not short."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Draw:
    """What is taken from a lot [kg as it is], and the water in it [kg]."""

    lot: str
    mass: float
    water: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """What is weighed of one ingredient.

    ``need`` is its mass on the formula's basis, ``mass`` as it lies in the store, ``solids`` what stays in the
    compound, ``solvent`` what leaves it besides the ``water``; ``tolerance`` and the scale's ``division`` that it
    needs; all in kg. ``short`` is what the lots lack. ``cost`` in the formula's currency.
    """

    ingredient: Ingredient
    need: float
    mass: float
    solids: float
    water: float
    solvent: float
    tolerance: float | None
    division: float | None
    draws: tuple[Draw, ...]
    short: float
    cost: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Charge:
    """A batch to be weighed, in the order of addition. ``batch`` [kg] is on the formula's basis.

    ``density`` [kg/m3] and ``volume`` [m3] are of the dry compound without pores; None where a density is not known.
    """

    formula: Formula
    batch: float
    lines: tuple[Line, ...]
    density: float | None

    @property
    def mass(self) -> float:
        """All that goes into the mixer [kg]."""
        return fsum(line.mass for line in self.lines)

    @property
    def solids(self) -> float:
        """What stays in the compound [kg]."""
        return fsum(line.solids for line in self.lines)

    @property
    def water(self) -> float:
        """Water carried in [kg]."""
        return fsum(line.water for line in self.lines)

    @property
    def volume(self) -> float | None:
        """Volume of the dry compound [m3]."""
        return None if self.density is None else self.solids / self.density

    @property
    def cost(self) -> float | None:
        """Of all ingredients; None where a price is not known."""
        costs = [line.cost for line in self.lines if line.cost is not None]
        return fsum(costs) if len(costs) == len(self.lines) else None


def charge(formula: Formula, batch: float) -> Charge:
    """What to weigh for ``batch`` kg on the formula's basis.

    Parameters
    ----------
    formula : Formula
        Closed on its basis; an ingredient with lots is taken from them, first in first out
    batch : float
        Mass on the formula's basis [kg], above 0

    Returns
    -------
    charge : Charge
        Lines in the order of addition

    Examples
    --------
    >>> from runtrue.compound.formula import Material
    >>> parts = (Ingredient(name="shellac", material=Material.BINDER, share=0.2, moisture=0.02),
    ...          Ingredient(name="slate", material=Material.FILLER, share=0.8, moisture=0.005))
    >>> made = charge(Formula(name="-", basis=Basis.DRY, ingredients=parts), 100.0)
    >>> made.mass, made.water
    (100.8102, 0.8102)
    """
    within("batch", batch, 0.0, above=True)
    lines = tuple(_line(formula, item, batch * item.share / formula.total) for item in formula.ingredients)
    ordered = tuple(sorted(lines, key=lambda line: line.ingredient.order))
    parts = [(line.solids, line.ingredient.density) for line in lines]
    density = None
    if all(d is not None for _, d in parts):
        density = mixture_density(tuple(m for m, _ in parts), tuple(d for _, d in parts if d is not None))
    return Charge(formula=formula, batch=batch, lines=ordered, density=density)


def batch_for(formula: Formula, *, chamber: float, fill: float) -> float:
    r"""Batch that fills a mixer: W = V rho FF, a first value that the plant tunes by trial.

    Parameters
    ----------
    formula : Formula
        With the density of every ingredient
    chamber : float
        Net volume of the chamber [m3], above 0; wear makes it larger
    fill : float
        Share of the chamber the dry compound takes, above 0, up to 1

    Returns
    -------
    batch : float
        On the formula's basis [kg]

    References
    ----------
    .. [1] rubbermachineryworld.com, 2015-03-17, batch weight (read): W = net volume x relative density x fill factor.
       75 l at 2.08 and 0.70 gives 109.2 kg.
    """
    within("chamber", chamber, 0.0, above=True)
    within("fill", fill, 0.0, 1.0, above=True)
    density = formula_density(formula)
    if density is None:
        lacking = [i.name for i in formula.ingredients if i.density is None]
        raise InputError(f"density of {', '.join(lacking)} is not known: add density_g_cm3, or give the batch in kg")
    one = charge(formula, 1.0)
    return chamber * fill * density / one.solids


def check_chamber(made: Charge, chamber: float) -> float:
    """Share of the chamber that is filled; raises ``InputError`` where the batch does not go in."""
    if made.volume is None:
        raise InputError(
            "the batch's volume is not known, so neither is the fill: add density_g_cm3 to each ingredient"
        )
    if made.volume > chamber:
        raise InputError(
            f"batch of {made.batch:g} kg takes {1e3 * made.volume:.1f} l, the chamber holds {1e3 * chamber:g} l: at "
            f"most "
            f"{made.batch * chamber / made.volume:.4g} kg go in; make it smaller"
        )
    return made.volume / chamber


def division_for(tolerance: float) -> float:
    """Largest division (1, 2, 5 times a power of ten) of a scale that can hold a tolerance; same unit.

    Examples
    --------
    >>> division_for(0.0413), division_for(0.05)
    (0.002, 0.005)
    """
    within("tolerance", tolerance, 0.0, above=True)
    most = tolerance / DIVISIONS_IN_TOLERANCE * (1.0 + 1e-9)
    power = 10.0 ** floor(log10(most))
    return max(step * power for step in _SERIES if step * power <= most)


def analysis(made: Charge, masses: dict[str, float]) -> dict[str, float]:
    """Shares on the formula's basis of what was really charged: the way back from ``charge``.

    Parameters
    ----------
    made : Charge
        What was asked for; its draws say from which lots
    masses : dict
        Mass of each ingredient as it was weighed [kg]; a missing one counts as 0

    Returns
    -------
    shares : dict
        By name, as written in the formula; summing to 1 as they count
    """
    needs = {line.ingredient.name: masses.get(line.ingredient.name, 0.0) * basis_yield(line) for line in made.lines}
    solids = made.formula.basis is Basis.SOLIDS
    total = fsum(needs[i.name] * (i.counted if solids else 1.0) for i in made.formula.ingredients)
    within("masses", total, 0.0, above=True)
    return {name: need / total for name, need in needs.items()}


def basis_yield(line: Line) -> float:
    """Mass on the formula's basis in one kg as it is, of the lots the line draws from."""
    return line.need / line.mass if line.mass > 0.0 else 1.0 / line.ingredient.per_share(Basis.DRY)


def _line(formula: Formula, item: Ingredient, need: float) -> Line:
    """Take a need [kg on the basis] from the lots; what they lack is taken as of the ingredient's own moisture."""
    draws: list[Draw] = []
    water = solids = 0.0
    rest = need
    for lot in sorted(item.lots or (), key=lambda lot: lot.received):
        per = item.per_share(formula.basis, lot.moisture, lot.assay)
        taken = min(lot.mass, rest * per)
        if taken <= 1e-12 * max(need, 1e-9):
            continue
        wet = _moisture(item, lot)
        draws.append(Draw(lot=lot.id, mass=taken, water=taken * wet))
        water += taken * wet
        solids += taken * item.solids(wet)
        rest -= taken / per
    rest = 0.0 if rest < _NOTHING * need else rest
    more = rest * item.per_share(formula.basis)
    water += more * item.moisture
    solids += more * item.solids()
    mass = fsum(d.mass for d in draws) + more
    tolerance = None if item.tolerance is None or mass == 0.0 else item.tolerance * mass
    return Line(
        ingredient=item,
        need=need,
        mass=mass,
        solids=solids,
        water=water,
        solvent=max(mass - solids - water, 0.0),
        tolerance=tolerance,
        division=None if tolerance is None else division_for(tolerance),
        draws=tuple(draws),
        short=0.0 if item.lots is None else more,
        cost=None if item.price is None else item.price * mass,
    )


def _moisture(item: Ingredient, lot: Lot) -> float:
    return item.moisture if lot.moisture is None else lot.moisture
