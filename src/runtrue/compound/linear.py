r"""Linear programmes whose limits have names: the optimum, which limits bind and what they cost, which clash.

Minimises c'x over x >= 0 under named limits l <= a'x <= u, some x whole numbers, with HiGHS (scipy.optimize).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from runtrue.errors import InputError

_Array = NDArray[np.float64]
_TIGHT = 1e-7


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One limit on a'x from ``lower`` to ``upper``; None for none.

    The words name each side ("binder at least 23 %"); a row without them is arithmetic. Where the stated bound b stands
    in the row as b (g'x), ``grow`` is g, so that the price is per unit of b; None where the bound is the row's own.
    """

    coefficients: _Array
    lower: float | None = None
    upper: float | None = None
    lower_words: str = ""
    upper_words: str = ""
    unit: str = ""
    grow: _Array | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Binding:
    """A limit that binds. ``price`` is the change of the minimum for one ``unit`` more of the bound."""

    words: str
    price: float
    unit: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Optimum:
    """The best x with its value, and the limits that bind there; prices hold whole numbers fast."""

    x: _Array
    value: float
    bindings: tuple[Binding, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Clash:
    """No x keeps all limits: each of ``words`` is needed for that, without any one of them there is an x.

    ``whole`` says that only the whole numbers do not fit: with parts of a bag there is an x.
    """

    words: tuple[str, ...]
    whole: bool = False


def solve(cost: _Array, rows: tuple[Row, ...], whole: tuple[int, ...] = ()) -> Optimum | Clash:
    """Least ``cost`` under the limits.

    Parameters
    ----------
    cost : array (n)
        Of one unit of each x
    rows : tuple of Row
        Limits, each with n coefficients
    whole : tuple of int
        Places of x that are whole numbers

    Returns
    -------
    found : Optimum or Clash

    Examples
    --------
    >>> import numpy as np
    >>> found = solve(np.array([-1.0, -1.0]), (Row(coefficients=np.array([1.0, 2.0]), upper=4.0, upper_words="stock"),))
    >>> found.x.tolist(), found.value, found.bindings[0].price
    ([4.0, 0.0], -4.0, -1.0)
    """
    sides = _sides(rows)
    x = _least(cost, sides, whole)
    if x is None:
        if whole and _least(cost, sides, ()) is not None:
            return Clash(words=tuple(s.words for s in sides if s.words), whole=True)
        return Clash(words=_clash(sides, cost.size))
    fixed = np.array([x[k] for k in whole])
    x, marginals = _priced(cost, sides, whole, fixed)
    bindings = []
    for side, marginal in zip(sides, marginals, strict=True):
        if side.words and abs(float(side.coefficients @ x) - side.bound) <= _TIGHT * max(1.0, abs(side.bound)):
            scale = 1.0 if side.grow is None else float(side.grow @ x)
            # the marginal is per unit of the bound as "at most": a lower limit stands there with its sign turned
            bindings.append(Binding(words=side.words, price=float(marginal) * side.sign * scale, unit=side.unit))
    return Optimum(x=x, value=float(cost @ x), bindings=tuple(bindings))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Side:
    """coefficients'x <= bound."""

    coefficients: _Array
    bound: float
    words: str
    unit: str
    grow: _Array | None
    sign: float


def _sides(rows: tuple[Row, ...]) -> tuple[_Side, ...]:
    found = []
    for row in rows:
        for bound, words, sign in ((row.lower, row.lower_words, -1.0), (row.upper, row.upper_words, 1.0)):
            if bound is not None:
                if not np.isfinite(bound) or not np.all(np.isfinite(row.coefficients)):
                    raise InputError(f"limit '{words}' is no number; correct it")
                found.append(
                    _Side(
                        coefficients=sign * row.coefficients, bound=sign * bound, words=words, unit=row.unit,
                        grow=row.grow, sign=sign,
                    )
                )  # fmt: skip
    return tuple(found)


def _least(cost: _Array, sides: tuple[_Side, ...], whole: tuple[int, ...]) -> _Array | None:
    """Best x; None where there is none. Raises ``InputError`` where nothing holds it."""
    from scipy.optimize import linprog

    integrality = np.zeros(cost.size, dtype=np.int64)
    integrality[list(whole)] = 1
    found = linprog(
        cost, A_ub=np.array([s.coefficients for s in sides]), b_ub=np.array([s.bound for s in sides]),
        bounds=(0.0, None), method="highs", integrality=integrality if whole else None,
    )  # fmt: skip
    if found.status == 3:
        raise InputError("the limits leave the quantities without a bound: say how large the batch is")
    return np.asarray(found.x) if found.success else None


def _priced(cost: _Array, sides: tuple[_Side, ...], whole: tuple[int, ...], fixed: _Array) -> tuple[_Array, _Array]:
    """Best x and what each side costs, whole numbers held at ``fixed``."""
    from scipy.optimize import linprog

    bounds: list[tuple[float, float | None]] = [(0.0, None)] * cost.size
    for place, value in zip(whole, fixed, strict=True):
        bounds[place] = (round(value), round(value))
    found = linprog(
        cost, A_ub=np.array([s.coefficients for s in sides]), b_ub=np.array([s.bound for s in sides]), bounds=bounds,
        method="highs",
    )  # fmt: skip
    assert found.success, found.message
    return np.asarray(found.x), np.asarray(found.ineqlin.marginals)


def _clash(sides: tuple[_Side, ...], n: int) -> tuple[str, ...]:
    """A set of named limits that clash, none of which can be left out: each is tried in turn."""
    zero = np.zeros(n)
    kept = list(sides)
    for side in sides:
        if side.words:
            fewer = tuple(s for s in kept if s is not side)
            if _feasible_without(zero, fewer):
                continue
            kept = list(fewer)
    return tuple(s.words for s in kept if s.words)


def _feasible_without(zero: _Array, sides: tuple[_Side, ...]) -> bool:
    return not sides or _least(zero, sides, ()) is not None
