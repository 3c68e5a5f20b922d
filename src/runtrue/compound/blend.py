r"""The nearest formula that what lies in the store allows: a lot short, wet or off, within stated bounds.

Unknown are the masses x_i on the formula's basis of a batch T = sum x. Every bound is linear in them: shares of classes
and ingredients, ratios, cost, water, named properties by mass, and the density through the volume, since

.. math:: \sum s_i / \rho_i \le \sum s_i / \rho_{min}

with s_i the solids of x_i. "Nearest" is the least sum of the deviations from the formula, each counted in tolerances:
sum |x_i - f_i T| / (tau_i f_i T_0). Whole bags are integers. (Additive volumes and mass rules: arithmetic.)
"""

from dataclasses import dataclass, replace
from enum import StrEnum
from math import fsum

import numpy as np
from numpy.typing import NDArray

from runtrue.compound.formula import Basis, Formula, Ingredient, Material
from runtrue.compound.linear import Binding, Clash, Optimum, Row, solve
from runtrue.compound.weighing import USUAL_TOLERANCE
from runtrue.errors import InputError
from runtrue.units import G_PER_CM3, PERCENT

_Array = NDArray[np.float64]


class Goal(StrEnum):
    """What is made least."""

    NEAREST = "nearest"
    CHEAPEST = "cheapest"


@dataclass(frozen=True, slots=True, kw_only=True)
class Bound:
    """Bounds on one number; None for none on that side. Shares and density in SI."""

    lower: float | None = None
    upper: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Property:
    """A named property that mixes by mass: its value in each ingredient, and the bounds on the mixture."""

    name: str
    unit: str
    values: dict[str, float]
    bound: Bound


@dataclass(frozen=True, slots=True, kw_only=True)
class Ratio:
    """Mass of one ingredient or class over another's."""

    of: str
    to: str
    bound: Bound


@dataclass(frozen=True, slots=True, kw_only=True)
class Bounds:
    """What the new formula must keep. ``bags`` [kg as it is] are taken whole; ``swing``: how far the batch may move."""

    goal: Goal = Goal.NEAREST
    swing: float = 0.0
    classes: dict[Material, Bound]
    ingredients: dict[str, Bound]
    ratios: tuple[Ratio, ...] = ()
    properties: tuple[Property, ...] = ()
    density: Bound = Bound()
    cost: Bound = Bound()
    water: Bound = Bound()
    bags: dict[str, float]
    stock: dict[str, float]


NO_BOUNDS = Bounds(classes={}, ingredients={}, bags={}, stock={})
"""Nothing but what lies in the store."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Blended:
    """The new formula, its batch on the basis [kg], how far it is from the old, and the limits that bind.

    ``moved`` is the change of each share; ``tolerances`` the sum of the deviations in tolerances; ``cost`` of a kg of
    compound, None where a price is not known. Prices of the bindings are in tolerances, or money for the cheapest.
    """

    formula: Formula
    batch: float
    moved: dict[str, float]
    tolerances: float
    cost: float | None
    bags: dict[str, int]
    bindings: tuple[Binding, ...]


def blend(formula: Formula, batch: float, bounds: Bounds = NO_BOUNDS) -> Blended | Clash:
    """The nearest (or cheapest) formula within the bounds.

    Parameters
    ----------
    formula : Formula
        Where to stay near to; an ingredient of share 0 is a spare that may come in; lots are the stock
    batch : float
        On the formula's basis [kg], above 0
    bounds : Bounds
        What must be kept

    Returns
    -------
    found : Blended or Clash
        A clash names the limits that cannot stand together

    Examples
    --------
    >>> from runtrue.compound.formula import Basis, Lot
    >>> lot = (Lot(id="S", mass=15.0, received="2026-01-01"),)
    >>> parts = (Ingredient(name="shellac", material=Material.BINDER, share=0.2, lots=lot),
    ...          Ingredient(name="copal", material=Material.BINDER, share=0.1),
    ...          Ingredient(name="slate", material=Material.FILLER, share=0.7))
    >>> made = Formula(name="-", basis=Basis.DRY, ingredients=parts)
    >>> keep = Bounds(classes={Material.BINDER: Bound(lower=0.3)}, ingredients={}, bags={}, stock={})
    >>> found = blend(made, 100.0, keep)
    >>> [round(i.share, 3) for i in found.formula.ingredients]
    [0.15, 0.15, 0.7]
    """
    problem = _Problem(formula, batch, bounds)
    found = solve(problem.cost(), tuple(problem.rows()), problem.whole)
    return found if isinstance(found, Clash) else problem.blended(found)


class _Problem:
    """Columns: x of each ingredient, its deviation d, then the bags."""

    def __init__(self, formula: Formula, batch: float, bounds: Bounds) -> None:
        self.formula, self.batch, self.bounds = formula, batch, bounds
        self.items = formula.ingredients
        self.n = len(self.items)
        self.bagged = [k for k, item in enumerate(self.items) if item.name in bounds.bags]
        self.size = 2 * self.n + len(self.bagged)
        self.whole = tuple(range(2 * self.n, self.size))
        self.per = np.array([_as_is(formula, item) for item in self.items])
        self.solids = np.array([_as_is(formula, item) * _solids(item) for item in self.items])
        solid = formula.basis is Basis.SOLIDS
        self.counted = np.array([item.counted if solid else 1.0 for item in self.items])
        self.shares = np.array([item.share / formula.total for item in self.items])
        self.weights = 1.0 / np.array([_tolerance(item, formula) * batch for item in self.items])
        self._check_names()

    def _check_names(self) -> None:
        known = {item.name for item in self.items}
        classes = {m.value for m in Material}
        for where, names in (
            ("ingredient", [*self.bounds.ingredients, *self.bounds.bags, *self.bounds.stock]),
            ("property", [name for p in self.bounds.properties for name in p.values]),
        ):
            for name in names:
                if name not in known:
                    raise InputError(f"bounds, {where} '{name}': the formula has none; it has {', '.join(known)}")
        for ratio in self.bounds.ratios:
            for name in (ratio.of, ratio.to):
                if name not in known and name not in classes:
                    raise InputError(f"bounds, ratio: '{name}' is no ingredient and no class of this formula")

    def cost(self) -> _Array:
        nearest = np.concatenate([np.zeros(self.n), self.weights, np.zeros(len(self.bagged))])
        if self.bounds.goal is Goal.NEAREST:
            return nearest
        return self.column(self.prices() * self.per) + 1e-6 * nearest  # of equals the nearer one

    def prices(self) -> _Array:
        lacking = [item.name for item in self.items if item.price is None]
        if lacking:
            raise InputError(f"price of {', '.join(lacking)} is not stated: add price_per_kg to the formula")
        return np.array([item.price for item in self.items], dtype=np.float64)

    def column(self, values: _Array) -> _Array:
        return np.concatenate([values, np.zeros(self.size - self.n)])

    def rows(self) -> "list[Row]":
        swing = self.bounds.swing
        found = [
            Row(
                coefficients=self.column(self.counted), lower=self.batch * (1.0 - swing), upper=self.batch * (1.0 +
                swing), lower_words=f"batch at least {self.batch * (1.0 - swing):.6g} kg",
                upper_words=f"batch at most {self.batch * (1.0 + swing):.6g} kg", unit="kg",
            ),
            *self._deviations(),
        ]  # fmt: skip
        for material, bound in self.bounds.classes.items():
            member = np.array([float(item.material is material) for item in self.items])
            found += self._share(f"{material.value}", member, bound)
        for name, bound in self.bounds.ingredients.items():
            member = np.array([float(item.name == name) for item in self.items])
            found += self._share(name, member, bound)
        for ratio in self.bounds.ratios:
            found += self._scaled(
                f"{ratio.of} to {ratio.to}",
                self._member(ratio.of) * self.counted,
                self._member(ratio.to) * self.counted,
                ratio.bound,
                ("", 1.0),
            )
        found += self._density() + self._money() + self._water()
        for prop in self.bounds.properties:
            values = np.array([prop.values.get(item.name, np.nan) for item in self.items])
            if np.isnan(values).any():
                lacking = self.items[int(np.argmax(np.isnan(values)))].name
                raise InputError(f"bounds, property {prop.name}: no value for {lacking}; give one for each ingredient")
            found += self._scaled(prop.name, values * self.solids, self.solids, prop.bound, (prop.unit, 1.0))
        return found + self._stock() + self._bags()

    def _member(self, name: str) -> _Array:
        return np.array([float(name in (item.name, item.material.value)) for item in self.items])

    def _deviations(self) -> list[Row]:
        found = []
        for k in range(self.n):
            away = np.zeros(self.size)
            away[: self.n] = -self.shares[k] * self.counted
            away[k] += 1.0
            for sign in (1.0, -1.0):
                row = sign * away
                row[self.n + k] = -1.0
                found.append(Row(coefficients=row, upper=0.0))
        return found

    def _share(self, words: str, member: _Array, bound: Bound) -> list[Row]:
        return self._scaled(words, member * self.counted, self.counted, bound, ("%", PERCENT))

    def _scaled(self, words: str, part: _Array, whole: _Array, bound: Bound, shown: tuple[str, float]) -> list[Row]:
        """Rows for lower <= part / whole <= upper, the price per shown unit of the bound."""
        unit, factor = shown
        found = []
        for value, side, is_lower in ((bound.lower, "at least", True), (bound.upper, "at most", False)):
            if value is None:
                continue
            told = f"{words} {side} {value / factor:.6g}{' ' + unit if unit else ''}"
            row = Row(
                coefficients=self.column(part - value * whole), lower=0.0 if is_lower else None,
                upper=None if is_lower else 0.0, lower_words=told, upper_words=told, unit=unit or "1",
                grow=self.column(factor * whole),
            )  # fmt: skip
            found.append(row)
        return found

    def _density(self) -> list[Row]:
        bound = self.bounds.density
        if bound.lower is None and bound.upper is None:
            return []
        lacking = [item.name for item in self.items if item.density is None]
        if lacking:
            raise InputError(f"density of {', '.join(lacking)} is not stated: add density_g_cm3 to the formula")
        volume = self.solids / np.array([item.density for item in self.items], dtype=np.float64)
        found = []
        for value, is_lower in ((bound.lower, True), (bound.upper, False)):
            if value is None:
                continue
            told = f"density {'at least' if is_lower else 'at most'} {value / G_PER_CM3:.4g} g/cm3"
            row = Row(
                coefficients=self.column(value * volume - self.solids), upper=0.0 if is_lower else None,
                lower=None if is_lower else 0.0, lower_words=told, upper_words=told, unit="0.01 g/cm3",
                grow=self.column(-0.01 * G_PER_CM3 * volume),
            )  # fmt: skip
            found.append(row)
        return found

    def _money(self) -> list[Row]:
        bound = self.bounds.cost
        if bound.lower is None and bound.upper is None:
            return []
        return self._scaled("cost", self.prices() * self.per, self.solids, bound, ("per kg", 1.0))

    def _water(self) -> list[Row]:
        wet = np.array([_moisture(item) for item in self.items]) * self.per
        return self._scaled("water", wet, self.per, self.bounds.water, ("%", PERCENT))

    def _stock(self) -> list[Row]:
        found = []
        for k, item in enumerate(self.items):
            have = self.bounds.stock.get(item.name)
            if have is None and item.lots is not None:
                have = fsum(lot.mass for lot in item.lots)
            if have is not None:
                row = np.zeros(self.size)
                row[k] = self.per[k]
                found.append(
                    Row(coefficients=row, upper=have, upper_words=f"{item.name} in the store, {have:.6g} kg", unit="kg")
                )
        return found

    def _bags(self) -> list[Row]:
        found = []
        for place, k in enumerate(self.bagged):
            bag = self.bounds.bags[self.items[k].name]
            row = np.zeros(self.size)
            row[k], row[2 * self.n + place] = self.per[k], -bag
            found.append(Row(coefficients=row, lower=0.0, upper=0.0))
        return found

    def blended(self, found: Optimum) -> Blended:
        masses = np.maximum(found.x[: self.n], 0.0)
        total = float(self.counted @ masses)
        shares = masses / total
        new = tuple(replace(item, share=float(share)) for item, share in zip(self.items, shares, strict=True))
        costs = [item.price for item in self.items]
        cost = None
        if all(price is not None for price in costs):
            cost = float(self.prices() * self.per @ masses / (self.solids @ masses))
        away = np.abs(masses - self.shares * total) * self.weights
        return Blended(
            formula=replace(self.formula, ingredients=new),
            batch=total,
            moved={item.name: float(share - item.share) for item, share in zip(self.items, shares, strict=True)},
            tolerances=float(away.sum()),
            cost=cost,
            bags={
                self.items[k].name: round(found.x[2 * self.n + place]) for place, k in enumerate(self.bagged)
            },
            bindings=found.bindings,
        )  # fmt: skip


def _moisture(item: Ingredient) -> float:
    """Of the lots together where they have their own, else the ingredient's."""
    lots = item.lots or ()
    mass = fsum(lot.mass for lot in lots)
    if mass <= 0.0:
        return item.moisture
    return fsum(lot.mass * (item.moisture if lot.moisture is None else lot.moisture) for lot in lots) / mass


def _solids(item: Ingredient) -> float:
    return item.solids(_moisture(item))


def _as_is(formula: Formula, item: Ingredient) -> float:
    """kg as it is for one kg on the basis, over all lots."""
    return item.per_share(formula.basis, _moisture(item))


def _tolerance(item: Ingredient, formula: Formula) -> float:
    """Tolerance as a share of the batch; a spare's is that of the largest of its class."""
    relative = USUAL_TOLERANCE if item.tolerance is None else item.tolerance
    if item.share > 0.0:
        return relative * item.share
    peers = [other.share for other in formula.ingredients if other.material is item.material]
    largest = max(peers) if max(peers) > 0.0 else max(other.share for other in formula.ingredients)
    return relative * largest
