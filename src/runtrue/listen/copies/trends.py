"""Noise, treble, offset over the copies: worn metal, punching, placing, and what the stylus alone could have done."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import chdtrc, stdtrit

from runtrue.listen.copies.sample import Float64, Sample
from runtrue.stats.reliability.trend import trend_to_limit

_LEAST = 4
_BOUND = 0.9
"""Closures and playing order that go together as closely as this cannot be parted."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Wear:
    """A value over one stamper's closures: ``slope`` and its U95 [unit a closure], ``by_play`` what each play added.

    ``parted``: playing order was told from the count, so that stylus wear is not taken for stamper wear. ``crossing``:
    closure at which the line meets the limit, with its interval, None where none was given or the slope may be nothing.
    """

    stamper: str | None
    plays: int
    slope: float
    slope_u95: float
    by_play: float | None
    by_play_u95: float | None
    parted: bool
    crossing: float | None
    interval: tuple[float, float] | None

    @property
    def rises(self) -> bool:
        """Whether the slope is more than nothing."""
        return abs(self.slope) > self.slope_u95


def wear(values: Float64, sample: Sample, *, limit: float | None = None) -> list[Wear]:
    r"""Fit a value of each play (plays,), NaN where not measured, over closures and playing order.

    .. math:: y = a_s + b_s\,\text{closure} + c\,\text{order}

    by least squares for each stamper with four counted plays or more; a copy played again between others tells c.
    """
    names, code = sample.values["stamper"]
    closure = sample.closure[sample.copy_of]
    order = np.array([np.nan if p.order is None else float(p.order) for p in sample.plays])
    out = []
    for k in range(max(len(names), 1)):
        use = np.isfinite(values) & np.isfinite(closure) & (code[sample.copy_of] == (k if names else -1))
        if use.sum() >= _LEAST and np.ptp(closure[use]) > 0.0:
            out.append(_fit(names[k] if names else None, closure[use], order[use], values[use], limit))
    return out


def _fit(stamper: str | None, closure: Float64, order: Float64, value: Float64, limit: float | None) -> Wear:
    ordered = bool(np.isfinite(order).all()) and np.ptp(order) > 0.0
    along = float(np.corrcoef(closure, order)[0, 1]) if ordered else 1.0
    parted = bool(ordered and abs(along) < _BOUND and len(value) > _LEAST)
    columns = [np.ones(len(value)), closure - closure.mean()] + ([order - order.mean()] if parted else [])
    design = np.stack(columns, axis=1)
    solved, *_ = np.linalg.lstsq(design, value, rcond=None)
    left = value - design @ solved
    dof = len(value) - design.shape[1]
    variance = float(left @ left) / dof * np.linalg.inv(design.T @ design).diagonal()
    half = float(stdtrit(dof, 0.975)) * np.sqrt(variance)
    corrected = value - (solved[2] * columns[2] if parted else 0.0)
    found = None if limit is None or not parted else trend_to_limit(closure, corrected, limit)
    ends = None if found is None or not found.bounded else found.interval
    return Wear(
        stamper=stamper,
        plays=len(value),
        slope=float(solved[1]),
        slope_u95=float(half[1]),
        by_play=float(solved[2]) if parted else None,
        by_play_u95=float(half[2]) if parted else None,
        parted=parted,
        crossing=None if found is None or ends is None else found.crossing,
        interval=None if ends is None or ends[0] is None or ends[1] is None else (ends[0], ends[1]),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Vector:
    """Off-centre of one play: from groove centre to hole centre [m], and the radius that holds the truth 95 in 100."""

    copy: int
    x: float
    y: float
    u95: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Offset:
    """The offset of one stamper's copies: their mean and its U95 [m], whether they are one vector within their U95
    (``agrees``, None from one copy), and the spread about the mean [m]."""

    stamper: str | None
    copies: tuple[int, ...]
    x: float
    y: float
    u95: float
    spread: float
    agrees: bool | None


_TWO_SIGMA = 2.4477
"""Radius that holds 95 in 100 of a round Gaussian of unit deviation."""


def offsets(vectors: Sequence[Vector], sample: Sample) -> list[Offset]:
    """Compare the vectors of each stamper's copies; plays of one copy are joined by their weights first.

    One vector on all copies was punched or seated so; vectors that scatter more than they are uncertain (chi-square,
    1 in 100) are not the stamper's: the hole moves, or the disc lay otherwise each time.
    """
    names, code = sample.values["stamper"]
    out = []
    for k in range(max(len(names), 1)):
        mine = [v for v in vectors if code[v.copy] == (k if names else -1)]
        if not mine:
            continue
        copies = list(dict.fromkeys(v.copy for v in mine))
        joined = [_mean([v for v in mine if v.copy == copy]) for copy in copies]
        x, y, u95 = _mean_of(joined)
        away = [((a - x) ** 2 + (b - y) ** 2, (u / _TWO_SIGMA) ** 2) for a, b, u in joined]
        chi = sum(square / max(variance, 1e-18) for square, variance in away)
        dof = 2 * (len(joined) - 1)
        agrees = None if dof == 0 else bool(chdtrc(dof, chi) > 0.01)
        spread = float(np.sqrt(np.mean([square for square, _ in away])))
        widened = u95 if agrees is not False else max(u95, spread * _TWO_SIGMA / np.sqrt(2.0 * len(joined)))
        out.append(
            Offset(
                stamper=names[k] if names else None, copies=tuple(copies), x=x, y=y, u95=widened, spread=spread,
                agrees=agrees,
            )
        )  # fmt: skip
    return out


def _mean(vectors: Sequence[Vector]) -> tuple[float, float, float]:
    return _mean_of([(v.x, v.y, v.u95) for v in vectors])


def _mean_of(rows: Sequence[tuple[float, float, float]]) -> tuple[float, float, float]:
    weight = np.array([1.0 / max(u, 1e-9) ** 2 for _, _, u in rows])
    x, y = (float((weight * np.array([row[k] for row in rows])).sum() / weight.sum()) for k in (0, 1))
    return x, y, float(weight.sum() ** -0.5)


@dataclass(frozen=True, slots=True, kw_only=True)
class Together:
    """Whether the offsets of two sides move together over ``copies``: ``likeness`` 0 to 1 of their deviations, turned
    and mirrored at will, and the probability that sides without a bond are as much alike."""

    copies: int
    likeness: float
    probability: float

    @property
    def bound(self) -> bool:
        """Both sides share what moves: the pin or the hole."""
        return self.probability < 0.01


def together(one: NDArray[np.complex128], other: NDArray[np.complex128]) -> Together | None:
    r"""Compare the deviations of two sides' offset vectors, copy by copy, each shape (n,) as x + iy.

    Both sides share the hole, seen as a mirror image and turned by an unknown angle: with deviations d from the mean,
    :math:`\gamma = |\sum d_A d_B| / \sqrt{\sum |d_A|^2 \sum |d_B|^2}` is 1 where only the hole moves. Of unbound
    Gaussian vectors it exceeds a value with probability :math:`(1 - \gamma^2)^{n - 2}` (complex correlation of n - 1
    degrees of freedom). None from fewer than four copies.
    """
    n = len(one)
    if n < _LEAST:
        return None
    a, b = one - one.mean(), other - other.mean()
    scale = float(np.sqrt((np.abs(a) ** 2).sum() * (np.abs(b) ** 2).sum()))
    if scale == 0.0:
        return None
    alike = min(1.0, float(np.abs((a * b).sum())) / scale)
    return Together(copies=n, likeness=alike, probability=float((1.0 - alike**2) ** (n - 2)))
