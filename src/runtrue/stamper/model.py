r"""The linear model of readings round the turn, and the readings that do not belong to it.

.. math:: r(\theta) = a + A \cos\theta + B \sin\theta + \sum_{k=2}^{K} (A_k \cos k\theta + B_k \sin k\theta)
          + \frac{p\,\theta}{2\pi} + \sigma (C \cos\theta + D \sin\theta)

p for a spiral whose pitch is fitted; sigma = +1 and -1 in the two sets of a stamper that was pinned and turned by half
a turn, each set with its own a. With one set and nothing else this is :func:`runtrue.stats.circle.runout`, and a test
holds the two together; the further columns and the search for outliers are what is added here.
"""

from dataclasses import dataclass
from math import comb, inf, pi, sqrt

import numpy as np
from numpy.typing import NDArray
from scipy.special import chdtrc, erfc, fdtrc, stdtr

_Array = NDArray[np.float64]

FALSE_ALARM = 0.004
"""Share of sets without any outlier in which one is named. Our choice."""
LEAST_SPREAD = 1e-9
"""Deviation below which residuals say nothing but rounding of numbers [m]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Design:
    """Columns of the model at the angles read. ``names`` has the place of every column; ``matrix`` is (n, columns)."""

    names: tuple[str, ...]
    matrix: _Array

    @property
    def free(self) -> int:
        """Readings beyond the unknowns."""
        return int(self.matrix.shape[0] - self.matrix.shape[1])

    @property
    def sound(self) -> bool:
        """Whether the angles can tell the unknowns apart: condition number of the scaled columns below 100."""
        if self.free < 0:
            return False
        scaled = self.matrix / np.maximum(np.linalg.norm(self.matrix, axis=0), 1e-300)
        singular = np.linalg.svd(scaled, compute_uv=False)
        return bool(singular[-1] > 1e-2 * singular[0])

    def at(self, name: str) -> int:
        """Place of a column."""
        return self.names.index(name)


@dataclass(frozen=True, slots=True, kw_only=True)
class Fitted:
    """Coefficients by the design's names, covariance of unit variance ``inverse``, and what is left over.

    ``deviation`` is that of a reading [m], ``dof`` its degrees of freedom (inf where known), ``left_out`` places of the
    readings left out, ``residual`` of all readings, those left out included [m].
    """

    design: Design
    coefficients: _Array
    inverse: _Array
    deviation: float
    dof: float
    left_out: tuple[int, ...]
    residual: _Array

    def value(self, name: str) -> float:
        """One coefficient [m]."""
        return float(self.coefficients[self.design.at(name)])

    def deviation_of(self, name: str) -> float:
        """Standard deviation of one coefficient [m]."""
        place = self.design.at(name)
        return self.deviation * sqrt(float(self.inverse[place, place]))

    def block(self, first: str, second: str) -> tuple[float, float, float]:
        """Covariance (xx, xy, yy) of two coefficients [m2]."""
        i, j = self.design.at(first), self.design.at(second)
        s2 = self.deviation**2
        return s2 * float(self.inverse[i, i]), s2 * float(self.inverse[i, j]), s2 * float(self.inverse[j, j])


def design(theta: _Array, *, harmonics: int, pitch: bool, second_set: NDArray[np.bool_] | None = None) -> Design:
    """Return the model's columns.

    Parameters
    ----------
    theta : array (n,)
        Angle, growing through the turns of a spiral [rad]
    harmonics : int
        K, 1 or more
    pitch : bool
        Whether a pitch per turn is fitted
    second_set : array of bool (n,), optional
        True for readings with the stamper turned by half a turn on the table

    Examples
    --------
    >>> design(np.arange(4) * pi / 2, harmonics=1, pitch=False).names
    ('mean', 'x', 'y')
    """
    names, columns = ["mean"], [np.ones_like(theta)]
    for k in range(1, harmonics + 1):
        suffix = "" if k == 1 else str(k)
        names += [f"x{suffix}", f"y{suffix}"]
        columns += [np.cos(k * theta), np.sin(k * theta)]
    if pitch:
        names.append("pitch")
        columns.append((theta - theta.mean()) / (2.0 * pi))
    if second_set is not None:
        sign = np.where(second_set, -1.0, 1.0)
        names += ["step", "table_x", "table_y"]
        columns += [sign, sign * np.cos(theta), sign * np.sin(theta)]
    return Design(names=tuple(names), matrix=np.stack(columns, axis=1))


def fit(made: Design, reading: _Array, *, deviation: float | None = None, floor: float = 0.0) -> Fitted:
    """Least squares without the readings that do not belong.

    Parameters
    ----------
    made : Design
        Sound, with 1 reading or more beyond the unknowns unless ``deviation`` is given
    reading : array (n,)
        [m]
    deviation : float, optional
        Known standard deviation of a reading [m]; without it the residuals tell
    floor : float
        Least standard deviation, as from the division of the lens [m]

    Returns
    -------
    fitted : Fitted
    """
    out = outliers(made, reading, deviation=deviation, floor=floor)
    keep = np.ones(reading.size, dtype=bool)
    keep[list(out)] = False
    x = made.matrix[keep]
    inverse = np.asarray(np.linalg.inv(x.T @ x), dtype=np.float64)
    found = inverse @ (x.T @ reading[keep])
    residual = reading - made.matrix @ found
    dof = made.free - len(out)
    if deviation is None:
        s = sqrt(float(residual[keep] @ residual[keep]) / dof)
        s = max(s, floor, LEAST_SPREAD)
    else:
        s = max(deviation, floor, LEAST_SPREAD)
    return Fitted(
        design=made,
        coefficients=found,
        inverse=inverse,
        deviation=s,
        dof=float(dof) if deviation is None else inf,
        left_out=out,
        residual=residual,
    )


def outliers(made: Design, reading: _Array, *, deviation: float | None = None, floor: float = 0.0) -> tuple[int, ...]:
    r"""Places of readings that do not belong to the model, smallest place first.

    For every number i of outliers up to a limit the i readings whose removal lowers the sum of squares most are sought
    (all pairs, then one more at a time). The largest i is taken for which the set as a whole and each of its members
    stand out,

    .. math:: \binom{n}{i} P\left(F_{i,\nu-i} > \frac{(Q_0 - Q_i)/i}{Q_i/(\nu-i)}\right) < \alpha, \quad
              n\,P(|t_{\nu-i}| > |t_j|) < \alpha,

    so that two outliers cannot hide each other. With a known deviation chi-square and the normal take their places.

    Notes
    -----
    alpha is ``FALSE_ALARM``. A sixth of the readings may be left out at most, and two must remain beyond the unknowns;
    with fewer than three beyond them nothing can be named.

    References
    ----------
    .. [1] Mean-shift model with Bonferroni's bound (Cook and Weisberg, Residuals and Influence, 1982, 2.2.2); the step
       back from the largest number is Rosner's, Technometrics 25 (1983) 165. From memory; rates by simulation in tests.
    """
    n = reading.size
    q = np.linalg.qr(made.matrix)[0]
    left = np.eye(n) - q @ q.T
    e = left @ reading
    total = float(e @ e)
    free = made.free
    most = min(max(n // 6, 1), free - 2 if deviation is None else free - 1)
    best: list[tuple[int, ...]] = []
    for count in range(1, most + 1):
        found = _best_set(left, e, count, best[-1] if best else ())
        if found is None:
            break
        best.append(found)
    rest = _Rest(left=left, e=e, total=total, free=free)
    for places in reversed(best):
        if _stands_out(rest, places, deviation, max(floor, LEAST_SPREAD)):
            return tuple(sorted(places))
    return ()


@dataclass(frozen=True, slots=True, kw_only=True)
class _Rest:
    """What the whole fit leaves over: the projector, the residuals, their sum of squares, their freedom."""

    left: _Array
    e: _Array
    total: float
    free: int


def _best_set(left: _Array, e: _Array, count: int, before: tuple[int, ...]) -> tuple[int, ...] | None:
    """The readings whose removal lowers the sum of squares most; None where one would take an unknown with it."""
    n = e.size
    own = np.diag(left)
    if count == 1:
        drop = np.where(own > 1e-6, e**2 / np.maximum(own, 1e-6), -1.0)
        return (int(np.argmax(drop)),) if drop.max() >= 0.0 else None
    if count == 2 and n <= 200:
        i, j = np.triu_indices(n, 1)
        det = own[i] * own[j] - left[i, j] ** 2
        good = det > 1e-6 * own[i] * own[j] + 1e-12
        drop = (own[j] * e[i] ** 2 + own[i] * e[j] ** 2 - 2.0 * left[i, j] * e[i] * e[j]) / np.where(good, det, 1.0)
        drop = np.where(good, drop, -1.0)
        place = int(np.argmax(drop))
        return (int(i[place]), int(j[place])) if drop[place] >= 0.0 else None
    others = np.setdiff1d(np.arange(n), before)
    sets = np.column_stack([np.tile(np.array(before, dtype=int), (others.size, 1)), others])
    blocks = left[sets[:, :, None], sets[:, None, :]]
    good = np.linalg.det(blocks) > 1e-9
    if not good.any():
        return None
    sets, blocks = sets[good], blocks[good]
    drop = np.einsum("ij,ij->i", e[sets], np.linalg.solve(blocks, e[sets][:, :, None])[:, :, 0])
    return tuple(int(place) for place in sets[int(np.argmax(drop))])


def _stands_out(whole: _Rest, places: tuple[int, ...], deviation: float | None, least: float) -> bool:
    at, e = np.array(places), whole.e
    inverse = np.linalg.inv(whole.left[np.ix_(at, at)])
    g = inverse @ e[at]
    drop = float(e[at] @ g)
    shift = g**2 / np.diag(inverse)
    count, ways = len(places), comb(e.size, len(places))
    if deviation is not None:
        s2 = max(deviation, least) ** 2
        return bool(ways * chdtrc(count, drop / s2) < FALSE_ALARM) and bool(
            np.all(e.size * erfc(np.sqrt(shift / s2 / 2.0)) < FALSE_ALARM)
        )
    rest = whole.free - count
    s2 = max((whole.total - drop) / rest, least**2)
    together = ways * float(fdtrc(count, rest, drop / count / s2)) < FALSE_ALARM
    return together and bool(np.all(e.size * 2.0 * stdtr(rest, -np.sqrt(shift / s2)) < FALSE_ALARM))
