r"""Was it weighed? Each weighing judged as it arrives, then the whole: double, missing, swapped, and what it does.

A weighing is judged on the running sum of its ingredient, so that one ingredient may be weighed in portions. The
probability that the sum lies within its tolerance is JCGM 106's, with the scale's doubt; without one it is exact.
"""

from dataclasses import dataclass
from enum import StrEnum
from math import erf, fsum, sqrt
from typing import NamedTuple

from runtrue.compound.charge import Charge, basis_yield
from runtrue.compound.formula import Basis
from runtrue.stats.conformity import U95_PER_DEVIATION, word_for
from runtrue.types import Rule, Verdict

_RULE = Rule()
USUAL_TOLERANCE = 0.005
"""Of the set mass, where a formula states none: 0.5 %. Common practice, no source."""
HELD_UP_TO = 3.0
"""After fluxing a batch is held for a decision up to so many tolerances, refused beyond (our choice)."""


class Call(StrEnum):
    """What a weighing is."""

    RIGHT = "right"
    PORTION = "portion"
    DOUBTFUL = "doubtful"
    OVER = "over"
    DOUBLE = "double"
    SWAPPED = "swapped"
    WRONG_LOT = "wrong_lot"
    STRANGER = "stranger"


BAD = frozenset({Call.OVER, Call.DOUBLE, Call.SWAPPED, Call.WRONG_LOT, Call.STRANGER})
"""Calls that stop the work."""


class FaultKind(StrEnum):
    """What is wrong with a charge that was weighed."""

    MISSING = "missing"
    LIGHT = "light"
    OVER = "over"
    DOUBLE = "double"
    SWAPPED = "swapped"
    WRONG_LOT = "wrong_lot"
    STRANGER = "stranger"


class Judged(NamedTuple):
    """A weighing with what it is.

    ``ingredient`` is what it counts as; ``total`` its sum so far, ``away`` the sum less its target [kg]. ``about``
    is the lot that is none of its own, or the other ingredient of a swap: the one it was weighed as where the lot tells
    (``by_lot``), else the one whose mass it is.
    """

    call: Call
    ingredient: str
    total: float
    away: float
    about: str = ""
    by_lot: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """A fault of the whole charge. ``away`` [kg as it is] and in ``tolerances``; ``about`` the other ingredient."""

    kind: FaultKind
    ingredient: str
    away: float
    tolerances: float | None
    about: str = ""


@dataclass(slots=True)
class _Target:
    name: str
    mass: float
    tolerance: float
    lots: frozenset[str]
    total: float = 0.0
    variance: float = 0.0
    count: int = 0


class Check:
    """The state of one charge on the scales. :meth:`take` judges a weighing as it arrives."""

    def __init__(self, made: Charge) -> None:
        self.made = made
        self._targets = {
            line.ingredient.name: _Target(
                name=line.ingredient.name,
                mass=line.mass,
                tolerance=line.tolerance if line.tolerance is not None else USUAL_TOLERANCE * line.mass,
                lots=frozenset(lot.id for lot in line.ingredient.lots or ()),
            )
            for line in made.lines
        }
        owners: dict[str, set[str]] = {}
        for target in self._targets.values():
            for lot in target.lots:
                owners.setdefault(lot, set()).add(target.name)
        self._owner = {lot: next(iter(names)) for lot, names in owners.items() if len(names) == 1}
        self.strangers: dict[str, float] = {}
        self._marked: list[Fault] = []

    def take(self, *, ingredient: str, mass: float, lot: str = "", u95: float = 0.0) -> Judged:
        """Judge a weighing and count it in, under the ingredient that its lot says it is.

        ``mass`` as it is and the scale's ``u95`` there in kg; ``lot`` and ``u95`` where they are known.
        """
        named = self._targets.get(ingredient)
        owner = self._owner.get(lot) if lot else None
        target = self._targets[owner] if owner is not None else named
        if target is None:
            self.strangers[ingredient] = self.strangers.get(ingredient, 0.0) + mass
            return Judged(Call.STRANGER, ingredient, self.strangers[ingredient], mass)
        before = target.total
        target.total = before + mass
        target.variance += u95 * u95
        target.count += 1
        away = target.total - target.mass
        if owner is not None and owner != ingredient:
            self._mark(FaultKind.SWAPPED, owner, ingredient)
            return Judged(Call.SWAPPED, owner, target.total, away, ingredient, True)
        if lot and owner is None and target.lots and lot not in target.lots:
            self._mark(FaultKind.WRONG_LOT, target.name, lot)
            return Judged(Call.WRONG_LOT, target.name, target.total, away, lot)
        return self._weigh(target, before, mass, away)

    def _weigh(self, target: _Target, before: float, mass: float, away: float) -> Judged:
        word = _inside(away, target.tolerance, target.variance)
        if word is Verdict.PASS:
            return Judged(Call.RIGHT, target.name, target.total, away)
        if word is Verdict.CANNOT_JUDGE:
            return Judged(Call.DOUBTFUL, target.name, target.total, away)
        other = self._looks_like(target, mass) if before == 0.0 else ""
        if other:
            return Judged(Call.SWAPPED, target.name, target.total, away, other)
        if away < 0.0:
            return Judged(Call.PORTION, target.name, target.total, away)
        if before >= target.mass - target.tolerance and abs(mass - target.mass) <= 3.0 * target.tolerance:
            return Judged(Call.DOUBLE, target.name, target.total, away)
        return Judged(Call.OVER, target.name, target.total, away)

    def _looks_like(self, target: _Target, mass: float) -> str:
        """The one other ingredient, not yet weighed right, whose target this mass is; "" for none or several."""
        fits = [
            other.name
            for other in self._targets.values()
            if other is not target
            and abs(mass - other.mass) <= other.tolerance
            and abs(other.total - other.mass) > other.tolerance
        ]
        return fits[0] if len(fits) == 1 else ""

    def _mark(self, kind: FaultKind, name: str, about: str) -> None:
        if not any(f.kind is kind and f.ingredient == name and f.about == about for f in self._marked):
            self._marked.append(Fault(kind=kind, ingredient=name, away=0.0, tolerances=None, about=about))

    @property
    def totals(self) -> dict[str, float]:
        """Mass of each ingredient so far [kg as it is]."""
        return {target.name: target.total for target in self._targets.values()}

    def state(self, name: str) -> tuple[Verdict, int]:
        """Whether an ingredient's sum is within its tolerance, and how often it was weighed."""
        target = self._targets[name]
        if target.count == 0:
            return (Verdict.PASS if target.mass == 0.0 else Verdict.FAIL), 0
        return _inside(target.total - target.mass, target.tolerance, target.variance), target.count

    def tolerance(self, name: str) -> float:
        """Tolerance of an ingredient [kg]."""
        return self._targets[name].tolerance

    def faults(self) -> tuple[Fault, ...]:
        """Everything that is wrong, told once: a pair that was swapped is one fault."""
        out = {
            t.name: t
            for t in self._targets.values()
            if (t.count or t.mass) and _inside(t.total - t.mass, t.tolerance, t.variance) is Verdict.FAIL
        }
        found = list(self._marked)
        for first in list(out.values()):
            second = self._partner(first, out)
            if first.name in out and second is not None:
                found.append(_fault(FaultKind.SWAPPED, first, about=second.name))
                del out[first.name], out[second.name]
        found += [_fault(_kind(t), t) for t in out.values()]
        found += [
            Fault(kind=FaultKind.STRANGER, ingredient=name, away=mass, tolerances=None)
            for name, mass in self.strangers.items()
        ]
        return tuple(found)

    @staticmethod
    def _partner(first: _Target, out: dict[str, _Target]) -> _Target | None:
        for second in out.values():
            if (
                second is not first
                and first.count
                and second.count
                and abs(first.total - second.mass) <= second.tolerance
                and abs(second.total - first.mass) <= first.tolerance
            ):
                return second
        return None


def shares(check: Check) -> dict[str, float]:
    """What is in the mix so far, as shares of the formula's basis that sum to 1; strangers count as they are."""
    made = check.made
    solids = made.formula.basis is Basis.SOLIDS
    counted = {
        line.ingredient.name: check.totals[line.ingredient.name]
        * basis_yield(line)
        * (line.ingredient.counted if solids else 1.0)
        for line in made.lines
    }
    total = fsum(counted.values()) + fsum(check.strangers.values())
    return {name: (part / total if total > 0.0 else 0.0) for name, part in {**counted, **check.strangers}.items()}


def after_fluxing(faults: tuple[Fault, ...]) -> bool:
    """Whether a fluxed batch may still be held for a decision; False: refused.

    Held: every deviation within three tolerances and nothing foreign in it.
    """
    return all(
        fault.kind is not FaultKind.STRANGER and (fault.tolerances is None or abs(fault.tolerances) <= HELD_UP_TO)
        for fault in faults
    )


def _kind(target: _Target) -> FaultKind:
    away = target.total - target.mass
    if target.count == 0:
        return FaultKind.MISSING
    if away < 0.0:
        return FaultKind.LIGHT
    if target.count > 1 and abs(away - target.mass) <= 3.0 * target.tolerance:
        return FaultKind.DOUBLE
    return FaultKind.OVER


def _fault(kind: FaultKind, target: _Target, about: str = "") -> Fault:
    away = target.total - target.mass
    return Fault(
        kind=kind,
        ingredient=target.name,
        away=away,
        tolerances=away / target.tolerance if target.tolerance > 0.0 else None,
        about=about,
    )


def _inside(away: float, tolerance: float, variance: float) -> Verdict:
    """Verdict on a deviation within +- a tolerance, both in kg; ``variance`` is the sum of squared U95."""
    if variance <= 0.0:
        return Verdict.PASS if abs(away) <= tolerance * (1.0 + 1e-9) + 1e-12 else Verdict.FAIL
    deviation = sqrt(variance) / U95_PER_DEVIATION * sqrt(2.0)
    return word_for(0.5 * (erf((tolerance - away) / deviation) + erf((tolerance + away) / deviation)), _RULE)
