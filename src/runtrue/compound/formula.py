r"""A formula: ingredients with their shares, what the shares are of, and whether they close.

======================  ================================================  ==========================================
basis                   a share is                                        mass as it lies in the store, per kg batch
======================  ================================================  ==========================================
dry                     pure dry substance in the dry compound            s / (a (1 - w)); of a solution s / c
solids                  charged, dry; the solids alone make up the whole  s / (a (1 - w)); counted as s c
as charged              mass as it goes into the mixer                    s
======================  ================================================  ==========================================

s share, w moisture, a assay (of the dry mass, or of the mass as is, where moisture is in it already), c strength of a
solution. Source of the relations: definitions of moisture and assay (memory, sure). The three readings of "percent" are
those found in print: formulas of shellac compound are dry, US patent 3,960,790 (1976) closes on solids only.
"""

from dataclasses import dataclass
from enum import StrEnum
from math import fsum

from runtrue.errors import InputError
from runtrue.stats.checks import within
from runtrue.units import PERCENT

CLOSES_WITHIN = 0.05 * PERCENT
"""How far shares may sum from 1: printed formulas carry a tenth of a percent (our choice)."""


class Material(StrEnum):
    """Class of an ingredient."""

    BINDER = "binder"
    RESIN = "resin"
    FILLER = "filler"
    COLOUR = "colour"
    FIBRE = "fibre"
    LUBRICANT = "lubricant"
    STABILISER = "stabiliser"
    PLASTICISER = "plasticiser"
    REGRIND = "regrind"
    OTHER = "other"


class Basis(StrEnum):
    """What the shares of a formula are of."""

    DRY = "dry"
    AS_CHARGED = "as_charged"
    SOLIDS = "solids"


@dataclass(frozen=True, slots=True, kw_only=True)
class Lot:
    """A supplier's lot in the store: mass left [kg], day it came (ISO), its own moisture or assay where measured."""

    id: str
    mass: float
    received: str
    moisture: float | None = None
    assay: float | None = None

    def __post_init__(self) -> None:
        """Refuse what cannot lie in a store."""
        within(f"lot {self.id}: mass", self.mass, 0.0)
        _fractions(f"lot {self.id}", moisture=self.moisture, assay=self.assay)


@dataclass(frozen=True, slots=True, kw_only=True)
class Ingredient:
    """One line of a formula. ``share`` is a fraction of the formula's basis as written.

    ``assay`` is active substance over dry mass, or over the mass as it is where ``assay_as_is``; ``strength`` the
    solids of a solution; ``density`` [kg/m3] of what stays in the compound; ``tolerance`` a fraction of the set mass;
    ``price`` per kg as it is. ``order`` is the place in the order of addition; ``add_at`` the temperature [K] the
    mix must have reached first. ``lots`` is None where nobody said what lies in the store.
    """

    name: str
    material: Material
    share: float
    moisture: float = 0.0
    assay: float = 1.0
    assay_as_is: bool = False
    strength: float | None = None
    density: float | None = None
    tolerance: float | None = None
    price: float | None = None
    lots: tuple[Lot, ...] | None = None
    hazards: tuple[str, ...] = ()
    order: int = 0
    add_at: float | None = None

    def __post_init__(self) -> None:
        """Refuse what no material has."""
        if not self.name.strip():
            raise InputError("an ingredient has no name; write one")
        within(f"{self.name}: share", self.share, 0.0)
        _fractions(self.name, moisture=self.moisture, assay=self.assay, strength=self.strength)
        for what, value in (("density", self.density), ("tolerance", self.tolerance)):
            if value is not None:
                within(f"{self.name}: {what}", value, 0.0, above=True)
        if self.price is not None:
            within(f"{self.name}: price", self.price, 0.0)

    @property
    def counted(self) -> float:
        """Solids over share: the strength of a solution, 1 for anything else."""
        return 1.0 if self.strength is None else self.strength

    def per_share(self, basis: Basis, moisture: float | None = None, assay: float | None = None) -> float:
        """Mass as it lies in the store for one unit of share; a lot's own ``moisture`` and ``assay`` where given."""
        if basis is Basis.AS_CHARGED:
            return 1.0
        wet = self.moisture if moisture is None else moisture
        pure = self.assay if assay is None else assay
        dry = pure if self.assay_as_is else pure * (1.0 - wet)
        return 1.0 / (dry * self.counted) if basis is Basis.DRY else 1.0 / dry

    def solids(self, moisture: float | None = None) -> float:
        """What stays in the compound of one kg as it is."""
        return (1.0 - (self.moisture if moisture is None else moisture)) * self.counted


@dataclass(frozen=True, slots=True, kw_only=True)
class Formula:
    """Ingredients whose shares close on the basis. ``colour`` keeps regrind of other colours out."""

    name: str
    basis: Basis
    ingredients: tuple[Ingredient, ...]
    owner: str = ""
    date: str = ""
    colour: str = ""

    def __post_init__(self) -> None:
        """Refuse doubles, and shares that do not close: by how much, and on which basis they would."""
        if not self.ingredients:
            raise InputError("a formula needs an ingredient; write one")
        seen: set[str] = set()
        for number, item in enumerate(self.ingredients, 1):
            if item.name in seen:
                raise InputError(f"ingredient number {number}: '{item.name}' stands there twice; keep one")
            seen.add(item.name)
        check_closing(self.ingredients, self.basis)

    def ingredient(self, name: str) -> Ingredient:
        """The ingredient of this name; raises ``InputError`` with the list."""
        for item in self.ingredients:
            if item.name == name:
                return item
        raise InputError(
            f"ingredient '{name}' is not in {self.name}; it has {', '.join(i.name for i in self.ingredients)}"
        )

    @property
    def total(self) -> float:
        """Sum of the shares as they count; 1 but for the last printed digit."""
        return closing_sum(self.ingredients, self.basis)


def closing_sum(ingredients: tuple[Ingredient, ...], basis: Basis) -> float:
    """Sum of the shares as they count on a basis [-].

    Examples
    --------
    >>> resin = Ingredient(name="resin", material=Material.BINDER, share=0.994)
    >>> antistat = Ingredient(name="antistat", material=Material.OTHER, share=0.012, strength=0.5)
    >>> both = (resin, antistat)
    >>> round(closing_sum(both, Basis.SOLIDS), 4), round(closing_sum(both, Basis.AS_CHARGED), 4)
    (1.0, 1.006)
    """
    return fsum(i.share * (i.counted if basis is Basis.SOLIDS else 1.0) for i in ingredients)


def check_closing(ingredients: tuple[Ingredient, ...], basis: Basis) -> None:
    """Raise ``InputError`` unless the shares sum to 1 on the basis; the message says on which basis they would."""
    here = closing_sum(ingredients, basis)
    if abs(here - 1.0) <= CLOSES_WITHIN:
        return
    away = f"{abs(here - 1.0) / PERCENT:.4g} too {'many' if here > 1.0 else 'few'}"
    said = f"percentages sum to {here / PERCENT:.6g} {basis_words(basis)}, {away}"
    others = [Basis.AS_CHARGED, Basis.DRY] if basis is Basis.SOLIDS else [Basis.SOLIDS]
    fitting = [other for other in others if abs(closing_sum(ingredients, other) - 1.0) <= CLOSES_WITHIN]
    if fitting:
        words = " or ".join(f'basis = "{other}"' for other in fitting)
        raise InputError(f"{said}; {basis_words(fitting[0])} they sum to 100: write {words}, or correct a percentage")
    told = ", ".join(f"{closing_sum(ingredients, b) / PERCENT:.6g} {basis_words(b)}" for b in others[:1])
    raise InputError(f"{said} ({told}): they close on no basis; correct a percentage")


def basis_words(basis: Basis) -> str:
    """ "on the dry basis", "as charged", "on solids"."""
    return {Basis.DRY: "on the dry basis", Basis.AS_CHARGED: "as charged", Basis.SOLIDS: "on solids"}[basis]


def mixture_density(masses: tuple[float, ...], densities: tuple[float, ...]) -> float:
    r"""Density of a mixture without pores [kg/m3].

    .. math:: \rho = \sum m_i / \sum (m_i / \rho_i)

    Parameters
    ----------
    masses : tuple of float
        Of the parts, any unit, sum above 0
    densities : tuple of float
        Of the parts [kg/m3], above 0

    Notes
    -----
    Volumes add: sound to a few percent for filled shellac, whose discs weigh in at 1.91 to 2.01 g/cm3 (GB patent
    865,702 as quoted on a list), between the two formulas below.

    Examples
    --------
    >>> mixture_density((1.0, 1.0), (1000.0, 3000.0))
    1500.0
    """
    within("densities", densities, 0.0, above=True)
    return fsum(masses) / fsum(m / d for m, d in zip(masses, densities, strict=True))


def formula_density(formula: Formula) -> float | None:
    """Density of the dry compound by its formula [kg/m3]; None where an ingredient's density is not known."""
    dry = [i.share * i.per_share(formula.basis) * i.solids() for i in formula.ingredients]
    known = [i.density for i in formula.ingredients if i.density is not None]
    if len(known) < len(dry):
        return None
    return mixture_density(tuple(dry), tuple(known))


def class_shares(formula: Formula) -> dict[Material, float]:
    """Share of each class of ingredient, as counted on the formula's basis."""
    found: dict[Material, float] = {}
    for item in formula.ingredients:
        weight = item.counted if formula.basis is Basis.SOLIDS else 1.0
        found[item.material] = found.get(item.material, 0.0) + item.share * weight / formula.total
    return found


def _fractions(who: str, **values: float | None) -> None:
    for name, value in values.items():
        if value is None:
            continue
        if name == "moisture":
            within(f"{who}: moisture", value, 0.0, 1.0, below=True)
        else:
            within(f"{who}: {name}", value, 0.0, 1.0, above=True)
