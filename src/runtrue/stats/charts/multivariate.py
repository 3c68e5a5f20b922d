r"""Hotelling's T2: several values of one record watched together, because each may look well and the pair not."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from runtrue.errors import InputError
from runtrue.stats.charts.chart import FEWEST_POINTS
from runtrue.stats.checks import within

_Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class TSquare:
    """T2 of each row, its limit, and how much each value adds: T2 less the T2 without that value, (rows, values)."""

    t2: _Array
    limit: float
    parts: _Array
    judged: bool
    cautions: tuple[str, ...] = ()

    @property
    def out(self) -> tuple[int, ...]:
        """Positions, from 0, of the rows beyond the limit."""
        return tuple(int(i) for i in np.flatnonzero(self.t2 > self.limit))


def hotelling(rows: ArrayLike, *, baseline: ArrayLike | None = None, probability: float = 0.9973) -> TSquare:
    r"""Distance of each row from the mean in the metric of the covariance.

    .. math:: T^2 = (x - \bar x)^\top S^{-1} (x - \bar x)

    With m baseline rows of p values the limit for a new row is

    .. math:: \frac{p (m + 1)(m - 1)}{m (m - p)} F_{p, m - p}

    and for the baseline's own rows (no ``baseline`` given) (m - 1)^2 / m times a Beta(p / 2, (m - p - 1) / 2) quantile.

    Parameters
    ----------
    rows : array_like (k, p)
        Rows to be judged
    baseline : array_like (m, p), optional
        Rows known to be in control, m of p + 2 or more
    probability : float
        Share of rows in control inside the limit, above 0 and below 1 [-]

    Returns
    -------
    found : TSquare
        ``judged`` is False below max(15, 5 p) baseline rows

    Examples
    --------
    >>> import numpy as np
    >>> made = np.random.default_rng(1).normal(size=(100, 1)) + 0.1 * np.random.default_rng(2).normal(size=(100, 2))
    >>> found = hotelling([[1.0, -1.0]], baseline=made)
    >>> found.out, bool(abs(1.0) < 3 * made[:, 0].std())
    ((0,), True)

    References
    ----------
    .. [1] Tracy, Young and Mason, J. Quality Technology 24 (1992) 88 (from memory); NIST/SEMATECH e-Handbook 6.5.4.3.
    """
    from scipy.stats import beta, f

    within("probability", probability, 0.0, 1.0, above=True, below=True)
    table = np.asarray(rows, dtype=np.float64)
    base = table if baseline is None else np.asarray(baseline, dtype=np.float64)
    if table.ndim != 2 or base.ndim != 2 or table.shape[1] != base.shape[1]:
        raise InputError(
            f"rows and baseline must be tables with one number of columns, got {table.shape}, {base.shape}"
        )
    m, p = base.shape
    if m < p + 2:
        raise InputError(f"baseline must have at least {p + 2} rows for {p} values, got {m}")
    if not (np.all(np.isfinite(table)) and np.all(np.isfinite(base))):
        raise InputError("rows and baseline must hold finite numbers only")
    mean, covariance = base.mean(axis=0), np.atleast_2d(np.cov(base, rowvar=False))
    if np.linalg.matrix_rank(covariance) < p:
        raise InputError("two of the values say the same in the baseline: leave one out")
    away = table - mean
    inverse = np.linalg.inv(covariance)
    t2 = np.einsum("ij,jk,ik->i", away, inverse, away)
    parts = (away @ inverse) ** 2 / np.diag(inverse)
    if baseline is None:
        limit = (m - 1) ** 2 / m * float(beta.ppf(probability, p / 2.0, (m - p - 1) / 2.0))
    else:
        limit = p * (m + 1.0) * (m - 1.0) / (m * (m - p)) * float(f.ppf(probability, p, m - p))
    fewest = max(FEWEST_POINTS, 5 * p)
    cautions = () if m >= fewest else (f"the baseline has {m} rows; below {fewest} nothing can be judged by it",)
    return TSquare(t2=t2, limit=limit, parts=parts, judged=m >= fewest, cautions=cautions)
