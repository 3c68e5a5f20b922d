r"""Lives seen in part: Kaplan-Meier survival with limits, and the log-rank comparison of groups.

A stamper that was taken off while still good is censored: it lived at least so long. Leaving it out makes lives short.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import chdtrc, ndtri

from runtrue.errors import InputError
from runtrue.stats.checks import same_length, vector, within

_Array = NDArray[np.float64]
Transform = Literal["log", "log-log", "plain"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Survival:
    """Share still good after each time of an end; all arrays have one length. Before the first time it is 1."""

    time: _Array
    at_risk: _Array
    ended: _Array
    share: _Array
    deviation: _Array
    lower: _Array
    upper: _Array

    def at(self, time: ArrayLike) -> _Array:
        """Share still good just after the times."""
        index = np.searchsorted(self.time, np.asarray(time, dtype=np.float64), side="right")
        return np.concatenate([[1.0], self.share])[index]

    def quantile(self, ended: float = 0.5) -> tuple[float | None, float | None, float | None]:
        """Time by which the share has ended, with its limits; None where the lives seen do not reach so far."""
        within("ended", ended, 0.0, 1.0, above=True, below=True)
        left = 1.0 - ended

        def first(curve: _Array) -> float | None:
            reached = np.flatnonzero(curve <= left + 1e-12)
            return float(self.time[reached[0]]) if reached.size else None

        return first(self.share), first(self.lower), first(self.upper)


@dataclass(frozen=True, slots=True, kw_only=True)
class LogRank:
    """Comparison of groups: ends seen and expected if all groups lived alike, in the order of ``groups``."""

    groups: tuple[str, ...]
    observed: tuple[float, ...]
    expected: tuple[float, ...]
    chi_square: float
    dof: int
    p_value: float


def kaplan_meier(
    time: ArrayLike, ended: ArrayLike, *, confidence: float = 0.95, transform: Transform = "log-log"
) -> Survival:
    r"""Survival from lives of which some are censored.

    .. math:: R(t) = \prod_{t_i \le t} \frac{n_i - d_i}{n_i}, \qquad
              \operatorname{var} R = R^2 \sum_{t_i \le t} \frac{d_i}{n_i (n_i - d_i)} \quad (Greenwood)

    Parameters
    ----------
    time : array_like
        Life or time of censoring, 0 or more (closures, hours, plays)
    ended : array_like
        1 where the life ended, 0 where it was censored; same length
    confidence : float
        Of the limits at each time, above 0 and below 1 [-]
    transform : str
        Scale on which the limits are symmetric: log-log (keeps to 0..1 and covers best in small samples), log, plain

    Returns
    -------
    survival : Survival

    Examples
    --------
    >>> life = kaplan_meier([10, 32, 56, 98, 122, 181, 50, 100, 125, 150] + [200] * 10, [1] * 6 + [0] * 14)
    >>> [round(float(share), 3) for share in life.share]
    [0.95, 0.9, 0.847, 0.794, 0.737, 0.67]

    References
    ----------
    .. [1] Kaplan and Meier 1958; NIST/SEMATECH e-Handbook 8.2.1.5.
    """
    t, d = _lives(time, ended)
    within("confidence", confidence, 0.0, 1.0, above=True, below=True)
    ends = np.unique(t[d == 1])
    if ends.size == 0:
        raise InputError("every life is censored: nothing has ended, so there is no curve")
    at_risk = (t[:, np.newaxis] >= ends).sum(axis=0).astype(np.float64)
    died = ((t[:, np.newaxis] == ends) & (d[:, np.newaxis] == 1)).sum(axis=0).astype(np.float64)
    share = np.cumprod((at_risk - died) / at_risk)
    with np.errstate(divide="ignore", invalid="ignore"):
        relative = np.sqrt(np.cumsum(died / (at_risk * (at_risk - died))))
    deviation = np.where(share > 0.0, share * np.where(share > 0.0, relative, 0.0), 0.0)
    lower, upper = _limits(share, relative, float(ndtri(0.5 + confidence / 2.0)), transform)
    return Survival(time=ends, at_risk=at_risk, ended=died, share=share, deviation=deviation, lower=lower, upper=upper)


def log_rank(time: ArrayLike, ended: ArrayLike, group: ArrayLike) -> LogRank:
    r"""Do the groups live equally long?

    .. math:: \chi^2 = (O - E)^\top V^{-1} (O - E), \qquad
              V_{gh} = \sum_i \frac{d_i (n_i - d_i)}{n_i - 1} \frac{n_{gi}}{n_i}
              \left( \delta_{gh} - \frac{n_{hi}}{n_i} \right)

    with one group left out of the vector, whose degrees of freedom are the groups less one.

    Parameters
    ----------
    time, ended : array_like
        As in :func:`kaplan_meier`
    group : array_like
        Name of each life's group, same length, two groups or more

    Returns
    -------
    comparison : LogRank

    Examples
    --------
    >>> found = log_rank([1, 2, 3, 4, 5, 6, 7, 8], [1] * 8, ["a", "a", "a", "a", "b", "b", "b", "b"])
    >>> found.chi_square, found.p_value
    (7.344, 0.0067)

    References
    ----------
    .. [1] Mantel 1966; Peto and Peto 1972.
    """
    t, d = _lives(time, ended)
    names = np.asarray(group).astype(str)
    if names.shape != t.shape:
        raise InputError(f"group must name each of the {t.size} lives, got {names.size}")
    groups, index = np.unique(names, return_inverse=True)
    if groups.size < 2:
        raise InputError("group must hold two names or more")
    ends = np.unique(t[d == 1])
    member = index == np.arange(groups.size)[:, np.newaxis]
    at_risk = member.astype(float) @ (t[:, np.newaxis] >= ends)
    died = member.astype(float) @ ((t[:, np.newaxis] == ends) & (d[:, np.newaxis] == 1))
    n, deaths = at_risk.sum(axis=0), died.sum(axis=0)
    share = at_risk / n
    expected = (share * deaths).sum(axis=1)
    weight = np.where(n > 1.0, deaths * (n - deaths) / np.maximum(n - 1.0, 1.0), 0.0)
    variance = np.diag((share * weight).sum(axis=1)) - (share * weight) @ share.T
    excess = (died.sum(axis=1) - expected)[:-1]
    chi_square = float(excess @ np.linalg.pinv(variance[:-1, :-1]) @ excess)
    return LogRank(
        groups=tuple(str(name) for name in groups),
        observed=tuple(float(x) for x in died.sum(axis=1)),
        expected=tuple(float(x) for x in expected),
        chi_square=chi_square,
        dof=groups.size - 1,
        p_value=float(chdtrc(groups.size - 1, chi_square)),
    )


def _lives(time: ArrayLike, ended: ArrayLike) -> tuple[_Array, _Array]:
    t, d = vector("time", time), vector("ended", ended)
    same_length(time=t, ended=d)
    within("time", t, 0.0)
    if np.any((d != 0.0) & (d != 1.0)):
        raise InputError("ended must be 1 (the life ended) or 0 (censored)")
    return t, d


def _limits(share: _Array, relative: _Array, z: float, transform: str) -> tuple[_Array, _Array]:
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        if transform == "plain":
            low, high = share * (1.0 - z * relative), share * (1.0 + z * relative)
        elif transform == "log":
            low, high = share * np.exp(-z * relative), share * np.exp(z * relative)
        elif transform == "log-log":
            step = np.exp(z * relative / np.log(share))
            low, high = share ** (1.0 / step), share**step
        else:
            raise InputError(f"transform must be log, log-log or plain, got {transform}")
    gone = share <= 0.0
    return np.where(gone, 0.0, np.clip(low, 0.0, 1.0)), np.where(gone, 1.0, np.clip(high, 0.0, 1.0))
