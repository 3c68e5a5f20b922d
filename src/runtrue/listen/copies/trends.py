"""Noise, treble, offset over the copies: worn metal, punching, placing, and what the stylus alone could have done."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.special import chdtrc, fdtri, stdtrit

from runtrue.listen.copies.sample import Float64, Sample

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
    cover = float(left @ left) / dof * np.linalg.inv(design.T @ design)
    quantile = float(stdtrit(dof, 0.975))
    half = quantile * np.sqrt(cover.diagonal())
    found = _meets(solved, cover, limit, quantile) if limit is not None and parted else None
    return Wear(
        stamper=stamper,
        plays=len(value),
        slope=float(solved[1]),
        slope_u95=float(half[1]),
        by_play=float(solved[2]) if parted else None,
        by_play_u95=float(half[2]) if parted else None,
        parted=parted,
        crossing=None if found is None else float(closure.mean() + found[0]),
        interval=None if found is None else (float(closure.mean() + found[1]), float(closure.mean() + found[2])),
    )


def _meets(solved: Float64, cover: Float64, limit: float, quantile: float) -> tuple[float, float, float] | None:
    r"""Where the line meets the limit, with its interval, re the middle of the places; None where the slope may be 0.

    Fieller: the x of :math:`(a + b x - L)^2 \le t^2 (V_{aa} + 2 V_{ab} x + V_{bb} x^2)`. The covariances are those of
    the whole fit, so that what the playing order leaves open is inside. Source: Fieller 1954, J. R. Stat. Soc. B 16.
    """
    over, slope, t = float(solved[0]) - limit, float(solved[1]), quantile**2
    square = slope**2 - t * float(cover[1, 1])
    if square <= 0.0:
        return None
    linear = over * slope - t * float(cover[0, 1])
    root = max(linear**2 - square * (over**2 - t * float(cover[0, 0])), 0.0) ** 0.5
    return -over / slope, (-linear - root) / square, (-linear + root) / square


@dataclass(frozen=True, slots=True, kw_only=True)
class Vector:
    """Off-centre of one play: from groove centre to hole centre [m], as this placing of the disc played it.

    ``u95`` is the radius that holds what was played 95 in 100, ``slack`` the one that holds how far the loose hole lets
    the disc lie off.
    """

    copy: int
    x: float
    y: float
    u95: float
    slack: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Offset:
    """The offset of one stamper's copies: their mean and its U95 [m], whether they are one vector as played
    (``agrees``, None from one copy), whether they scatter no more than placing does (``placing``, None where they do
    not scatter), and the spread about the mean [m].

    ``u95_played`` is that of the mean without the slack: what one vector is told from nothing by.
    """

    stamper: str | None
    copies: tuple[int, ...]
    x: float
    y: float
    u95: float
    u95_played: float
    spread: float
    agrees: bool | None
    placing: bool | None


_TWO_SIGMA = 2.4477
"""Radius that holds 95 in 100 of a round Gaussian of unit deviation."""
_RARE = 0.01
_SETTLED = 0.95


def offsets(vectors: Sequence[Vector], sample: Sample) -> list[Offset]:
    """Compare the vectors of each stamper's copies; plays of one copy are joined by their weights first.

    One vector on all copies was punched or seated so, or all discs settled on the spindle the same way: then the slack
    does not average out. Vectors that scatter more than they are uncertain (chi-square, 1 in 100) are not the
    stamper's: the disc lay otherwise each time, or, where they scatter more than the slack lets them, the hole moved.
    """
    names, code = sample.values["stamper"]
    out = []
    for k in range(max(len(names), 1)):
        mine = [v for v in vectors if code[v.copy] == (k if names else -1)]
        if mine:
            out.append(_offset(mine, names[k] if names else None))
    return out


def _offset(vectors: Sequence[Vector], stamper: str | None) -> Offset:
    copies = list(dict.fromkeys(v.copy for v in vectors))
    joined = [_mean_of([v for v in vectors if v.copy == copy]) for copy in copies]
    n = len(joined)
    alike = _mean_of(joined)
    slack = max(v.slack for v in joined)
    agrees = None if n == 1 else _share_above(joined, alike, lambda v: v.u95) > _RARE
    mean = alike if agrees is not False else _mean_of([replace(v, u95=1.0) for v in joined])
    squares = np.array([(v.x - mean.x) ** 2 + (v.y - mean.y) ** 2 for v in joined])
    # Hotelling's region of a mean of n vectors whose common spread is known from themselves
    scattered = float(np.sqrt(squares.sum() / (n - 1) / n * fdtri(2, 2 * (n - 1), 0.95))) if n > 1 else 0.0
    played = alike.u95 if agrees is not False else scattered
    above = _share_above(joined, mean, lambda v: float(np.hypot(v.u95, v.slack)))
    # far less scatter than the slack allows: the discs settled alike, and what is common to them stays
    settled = agrees is not False or above > _SETTLED
    return Offset(
        stamper=stamper,
        copies=tuple(copies),
        x=mean.x,
        y=mean.y,
        u95=float(np.hypot(played, slack if settled else 0.0)),
        u95_played=played,
        spread=float(np.sqrt(squares.mean())),
        agrees=agrees,
        placing=above > _RARE if agrees is False else None,
    )


def _share_above(vectors: Sequence[Vector], mean: Vector, radius: Callable[[Vector], float]) -> float:
    """Probability that vectors scatter about their mean more than these do; ``radius`` holds 95 in 100 of each."""
    chi = sum(((v.x - mean.x) ** 2 + (v.y - mean.y) ** 2) / max(radius(v) / _TWO_SIGMA, 1e-9) ** 2 for v in vectors)
    return float(chdtrc(2 * max(len(vectors) - 1, 1), chi))


def _mean_of(vectors: Sequence[Vector]) -> Vector:
    """Weighted mean as played; its slack is that of one disc, less what several placings average out."""
    weight = np.array([1.0 / max(v.u95, 1e-9) ** 2 for v in vectors])
    x, y = (float(weight @ np.array(each) / weight.sum()) for each in ([v.x for v in vectors], [v.y for v in vectors]))
    slack = max(v.slack for v in vectors) / len(vectors) ** 0.5
    return Vector(copy=vectors[0].copy, x=x, y=y, u95=float(weight.sum() ** -0.5), slack=slack)


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
