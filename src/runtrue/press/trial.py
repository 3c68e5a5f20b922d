"""Two settings of a press compared by records that were pressed at both: warp at 24 h, noise, mass, non-fill."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from runtrue.errors import InputError
from runtrue.stats.comparison import SharesCompared, ValuesCompared, compare_shares, compare_values

_Array = NDArray[np.float64]
LEAST = 5
"""Records at a setting below which a share says nothing; our choice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """One quantity over two samples; ``compared`` is None where fewer than 2 values stand on a side."""

    quantity: str
    n: tuple[int, int]
    medians: tuple[float | None, float | None]
    compared: ValuesCompared | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Counted:
    """A share of bad records over two samples; ``compared`` is None where fewer than 5 records stand on a side."""

    quantity: str
    n: tuple[int, int]
    bad: tuple[int, int]
    compared: SharesCompared | None


def measured(quantity: str, first: _Array, second: _Array) -> Measured:
    """Compare values, second less first; NaN is a record that was not measured."""
    x, y = (np.asarray(v, dtype=np.float64) for v in (first, second))
    x, y = x[np.isfinite(x)], y[np.isfinite(y)]
    return Measured(
        quantity=quantity,
        n=(int(x.size), int(y.size)),
        medians=(float(np.median(x)) if x.size else None, float(np.median(y)) if y.size else None),
        compared=compare_values(y, x) if min(x.size, y.size) >= 2 else None,
    )


def counted(quantity: str, bad: tuple[int, int], n: tuple[int, int]) -> Counted:
    """Compare shares of bad records, second less first."""
    if min(n) < LEAST:
        return Counted(quantity=quantity, n=n, bad=bad, compared=None)
    return Counted(quantity=quantity, n=n, bad=bad, compared=compare_shares((bad[1], bad[0]), (n[1], n[0])))


def holm(p_values: Sequence[float]) -> list[float]:
    """Probabilities adjusted for looking at several quantities at once (Holm), in the order given.

    Examples
    --------
    >>> holm([0.01, 0.04, 0.03])
    [0.03, 0.06, 0.06]

    References
    ----------
    .. [1] Holm, Scandinavian Journal of Statistics 6 (1979) 65.
    """
    if any(not 0.0 <= p <= 1.0 for p in p_values):
        raise InputError("probabilities must be 0 to 1")
    order = sorted(range(len(p_values)), key=lambda k: p_values[k])
    found, worst = [0.0] * len(p_values), 0.0
    for rank, place in enumerate(order):
        worst = max(worst, min(1.0, (len(p_values) - rank) * p_values[place]))
        found[place] = worst
    return found
