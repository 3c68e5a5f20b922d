r"""Do listeners agree: Cohen's and Fleiss' kappa, and each listener against the reference.

Kappa alone falls where faults are rare; the plain share of agreement stands beside it.
"""

from dataclasses import dataclass
from math import sqrt

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import ndtri

from runtrue.errors import InputError
from runtrue.stats.checks import within

_Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Agreement:
    """``kappa`` with its interval, the share on which they agree and the share that chance alone would give.

    ``by_category`` holds kappa of each category against the rest. ``u_zero`` is the deviation of kappa were there no
    agreement beyond chance, ``z`` kappa over it.
    """

    kappa: float
    interval: tuple[float, float] | None
    agreed: float
    chance: float
    u_zero: float
    z: float
    by_category: tuple[float, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class AgainstReference:
    """One listener beside the reference: share right, faults heard, faults invented, kappa."""

    right: float
    heard: float | None
    invented: float | None
    kappa: float


def cohen(table: ArrayLike, *, confidence: float = 0.95) -> Agreement:
    r"""Agreement of two listeners, or of one with himself on another day.

    .. math:: \kappa = \frac{P_o - P_e}{1 - P_e}

    Parameters
    ----------
    table : array_like (k, k)
        Records by category of the first (rows) and the second listener (columns)
    confidence : float
        Above 0 and below 1 [-]

    Returns
    -------
    agreement : Agreement
        Interval from the large-sample deviation

    Examples
    --------
    >>> found = cohen([[20, 5], [10, 15]])
    >>> found.kappa, found.agreed
    (0.4, 0.7)

    References
    ----------
    .. [1] Cohen 1960; Fleiss, Cohen and Everitt, Psychological Bulletin 72 (1969) 323 for the deviations.
    """
    counts = np.asarray(table, dtype=np.float64)
    within("confidence", confidence, 0.0, 1.0, above=True, below=True)
    if counts.ndim != 2 or counts.shape[0] != counts.shape[1] or counts.shape[0] < 2:
        raise InputError(f"table must be square with 2 categories or more, got shape {counts.shape}")
    within("table", counts, 0.0)
    n = float(counts.sum())
    if n == 0.0:
        raise InputError("table is empty")
    p = counts / n
    row, column = p.sum(axis=1), p.sum(axis=0)
    agreed, chance = float(np.trace(p)), float(row @ column)
    if chance >= 1.0:
        raise InputError("all records are in one category: agreement beyond chance is not defined")
    kappa = (agreed - chance) / (1.0 - chance)
    both = row[:, np.newaxis] + column
    zero = chance + chance**2 - float((row * column * (row + column)).sum())
    u_zero = sqrt(max(zero, 0.0) / n) / (1.0 - chance)
    diagonal = float((np.diag(p) * (1.0 - (row + column) * (1.0 - kappa)) ** 2).sum())
    off = (1.0 - kappa) ** 2 * float(((p - np.diag(np.diag(p))) * both.T**2).sum())
    variance = (diagonal + off - (kappa - chance * (1.0 - kappa)) ** 2) / (n * (1.0 - chance) ** 2)
    half = float(ndtri(0.5 + confidence / 2.0)) * sqrt(max(variance, 0.0))
    alone = [
        (p[i, i] - row[i] * column[i]) / (0.5 * (row[i] + column[i]) - row[i] * column[i]) for i in _used(row, column)
    ]
    return Agreement(
        kappa=kappa,
        interval=(kappa - half, min(1.0, kappa + half)),
        agreed=agreed,
        chance=chance,
        u_zero=u_zero,
        z=kappa / u_zero if u_zero > 0.0 else 0.0,
        by_category=tuple(float(k) for k in alone),
    )


def fleiss(counts: ArrayLike) -> Agreement:
    r"""Agreement of several listeners.

    .. math:: P_i = \frac{\sum_j n_{ij}^2 - n}{n (n - 1)}, \quad P_e = \sum_j p_j^2, \quad
              \kappa = \frac{\bar P - P_e}{1 - P_e}

    Parameters
    ----------
    counts : array_like (records, categories)
        How many of the n listeners put the record into the category; every row sums to n, 2 or more

    Returns
    -------
    agreement : Agreement
        Without an interval; ``z`` tests for agreement beyond chance

    Examples
    --------
    >>> fleiss([[4, 0], [4, 0], [0, 4], [1, 3]]).kappa
    0.746

    References
    ----------
    .. [1] Fleiss, Psychological Bulletin 76 (1971) 378; deviation as corrected by Fleiss, Nee and Landis 1979.
    """
    table = np.asarray(counts, dtype=np.float64)
    if table.ndim != 2 or table.shape[1] < 2:
        raise InputError(f"counts must be rows of 2 categories or more, got shape {table.shape}")
    within("counts", table, 0.0)
    raters = table.sum(axis=1)
    n = float(raters[0])
    if n < 2 or np.any(raters != n):
        raise InputError("counts: every record must have been judged by the same 2 listeners or more")
    share = table.sum(axis=0) / table.sum()
    agreed = float((((table**2).sum(axis=1) - n) / (n * (n - 1.0))).mean())
    chance = float((share**2).sum())
    if chance >= 1.0:
        raise InputError("all judgements are in one category: agreement beyond chance is not defined")
    pq = share * (1.0 - share)
    total = float(pq.sum())
    spread = max(total * total - float((pq * (1.0 - 2.0 * share)).sum()), 0.0)
    u_zero = sqrt(2.0 * spread / (table.shape[0] * n * (n - 1.0))) / total
    kappa = (agreed - chance) / (1.0 - chance)
    mixed = (table * (n - table)).sum(axis=0) / (table.shape[0] * n * (n - 1.0))
    with np.errstate(divide="ignore", invalid="ignore"):
        alone = np.where(pq > 0.0, 1.0 - mixed / pq, 0.0)
    return Agreement(
        kappa=kappa,
        interval=None,
        agreed=agreed,
        chance=chance,
        u_zero=u_zero,
        z=kappa / u_zero if u_zero > 0.0 else 0.0,
        by_category=tuple(float(k) for k in alone),
    )


def against_reference(judged: ArrayLike, reference: ArrayLike) -> AgainstReference:
    """One listener's good (0) and bad (1) beside what is known of the records.

    Parameters
    ----------
    judged, reference : array_like
        0 or 1, same length, 1 or more

    Returns
    -------
    found : AgainstReference
        ``heard`` share of bad records called bad (None without bad ones), ``invented`` share of good ones called bad

    Examples
    --------
    >>> found = against_reference([1, 1, 0, 0, 1, 0], [1, 1, 1, 0, 0, 0])
    >>> found.right, found.heard, found.invented, found.kappa
    (0.6667, 0.6667, 0.3333, 0.3333)
    """
    said, true = np.asarray(judged), np.asarray(reference)
    if said.shape != true.shape or said.ndim != 1 or said.size == 0:
        raise InputError("judged and reference must be lists of one length, 1 or more")
    if not (np.isin(said, (0, 1)).all() and np.isin(true, (0, 1)).all()):
        raise InputError("judged and reference must be 0 (good) or 1 (bad)")
    bad, good = true == 1, true == 0
    agreed = float((said == true).mean())
    chance = float(said.mean() * true.mean() + (1 - said.mean()) * (1 - true.mean()))
    return AgainstReference(
        right=agreed,
        heard=float(said[bad].mean()) if bad.any() else None,
        invented=float(said[good].mean()) if good.any() else None,
        kappa=(agreed - chance) / (1.0 - chance) if chance < 1.0 else 1.0,
    )


def _used(row: _Array, column: _Array) -> list[int]:
    return [i for i in range(row.size) if 0.0 < row[i] + column[i] < 2.0]
