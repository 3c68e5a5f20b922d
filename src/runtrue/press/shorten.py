r"""Can it run some seconds shorter? The output gained against the odds of what a hotter opening and less flow bring.

Whether a record comes out too hot follows from the physics and what a log left unknown. Warp after 24 h and non-fill
do not: physics says which way they go, and how often comes from the plant's own counts at two settings or more,

.. math:: \operatorname{logit} p = a + b (x - x_0)

with x the mid-plane at opening (warp, per 10 K) or the time above flow temperature (non-fill, per second), fitted by
Bayes' rule over a, b and every press that its log allows: where the counts lie along x is no better known than the
press is.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache
from math import log, pi

import numpy as np
from numpy.typing import NDArray

from runtrue.errors import InputError
from runtrue.press.calibrate import Posterior, drawn_press
from runtrue.press.conduction import ROUGH_MESH, Mesh, Press
from runtrue.press.cycle import Outcome, Recipe, drawn, known_input, pieces, settle, varied, work
from runtrue.press.materials import Number
from runtrue.stats.comparison import sample_size_means, sample_size_shares

_Array = NDArray[np.float64]
DRAWS = 600
"""Cycles that are drawn at each setting."""
PRESSES = 100
"""Presses that its log allows, over which the plant's counts are weighed."""
_POINTS = 20_000
_TAILS = 4.0
"""Degrees of freedom of the points drawn about the best level and slope: broad, to hold a skewed belief."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Spread:
    """Draws of one setting: mid-plane and stamper face at opening [K], time at flow temperature [s], (draws,)."""

    duration: float
    mid_plane: _Array
    stamper_face: _Array
    at_flow: _Array | None


def running(recipe: Recipe) -> Recipe:
    """The same press, running: each cycle starts where the one before left the mould."""
    return replace(recipe, mould=None)


def draws_of(posterior: Posterior, u95: Mapping[str, float], count: int, rng: np.random.Generator) -> dict[str, Number]:
    """What is not known: the press's inputs as its log left them, the cycle's own as they differ between records."""
    cycle = {name: half for name, half in u95.items() if known_input(name).each_cycle}
    return drawn_press(posterior, count) | drawn(cycle, count, rng)


def spread_at(
    recipe: Recipe,
    durations: Sequence[float],
    phase: int,
    draws: Mapping[str, Number],
    mesh: Mesh = ROUGH_MESH,
) -> tuple[Spread, ...]:
    """Work a running press with one phase at several durations [s], each with the same draws.

    Parameters
    ----------
    recipe : Recipe
    durations : sequence of float
    phase : int
        Number of the phase
    draws : mapping
        Inputs by name, each (draws,)
    mesh : Mesh

    Returns
    -------
    spreads : tuple of Spread
        One for each duration
    """
    made = running(recipe)
    count = max((v.size for v in draws.values() if isinstance(v, np.ndarray)), default=1)
    middle = {name: float(np.mean(value)) for name, value in draws.items()}
    found = []
    for duration in durations:
        at = made.with_duration(phase, duration)
        alone = Press(at.stack, 1, mesh)
        # of the mould alone: a record of another thickness is cut into other cells
        guess = np.delete(settle(varied(at, middle), alone).temperature, alone.spans[at.compound], axis=1)
        parts = []
        for piece in pieces(count):
            some = {n: v[piece] if isinstance(v, np.ndarray) else v for n, v in draws.items()}
            moved = varied(at, some)
            press = Press(moved.stack, piece.stop - piece.start, mesh)
            parts.append(work(moved, mesh, start=settle(moved, press, guess=guess)))
        found.append(_joined(duration, parts))
    return tuple(found)


def _joined(duration: float, parts: Sequence[Outcome]) -> Spread:
    flows = [part.at_flow for part in parts if part.at_flow is not None]
    return Spread(
        duration=duration,
        mid_plane=np.concatenate([part.mid_plane for part in parts]),
        stamper_face=np.concatenate([part.stamper_face for part in parts]),
        at_flow=np.concatenate(flows) if flows else None,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Tally:
    """Records pressed at one setting: where it stands (x, one for each press that may be), how many, how many bad."""

    x: _Array
    records: int
    bad: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Slope:
    """What is believed of a share before any count: level and slope of its logit, means and deviations; our choice."""

    level: float
    level_deviation: float
    slope: float
    slope_deviation: float


WARP = Slope(level=-4.0, level_deviation=2.0, slope=0.8, slope_deviation=0.8)
"""Warp after 24 h: some 2 in 100, from hardly any to one in two; hotter by 10 K likely more, from none to ten times."""
NON_FILL = Slope(level=-4.0, level_deviation=2.0, slope=-0.6, slope_deviation=0.6)
"""Non-fill, per second of flow: likely fewer with more time."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Share:
    """A share with the ends of its 95 % interval [-]."""

    value: float
    low: float
    high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Shares:
    """Shares of bad records now and at the new setting; ``more``: odds that they rise by the margin or over."""

    now: Share
    new: Share
    more: float


def shares(tallies: Sequence[Tally], prior: Slope, *, now: _Array, new: _Array, margin: float) -> Shares | None:
    """Shares at two settings from counts at several; None where all counts stand at one setting.

    Parameters
    ----------
    tallies : sequence of Tally
        The plant's own counts
    prior : Slope
    now, new : ndarray
        Where the two settings stand in each press that may be, (presses,), in the unit of the tallies' x
    margin : float
        Rise that counts as more, 0 or above [-]

    Returns
    -------
    shares : Shares or None
        Odds carry what the counts and the log leave open

    Examples
    --------
    >>> here, there = np.array([0.0]), np.array([1.0])
    >>> found = shares([Tally(x=here, records=1000, bad=10), Tally(x=there, records=1000, bad=30)], WARP, now=here,
    ...                new=there, margin=0.005)
    >>> round(found.now.value, 3), round(found.new.value, 2), round(found.more, 2)
    (0.011, 0.03, 0.99)
    """
    if len({round(float(t.x.mean()), 3) for t in tallies}) < 2:
        return None
    x = np.stack([t.x - now for t in tallies], axis=1)
    records, bad = (np.array([getattr(t, name) for t in tallies], dtype=float) for name in ("records", "bad"))
    level, slope, spread = best_trend(x, records, bad, prior)
    u, v, log_drawn = _broad(max(_POINTS // now.size, 100) * now.size, now.size)
    # points about the best of each press, spread as the curvature there
    a = level[:, np.newaxis] + spread[0] * u
    b = slope[:, np.newaxis] + spread[1] * u + spread[2] * v
    weight = -0.5 * ((a - prior.level) / prior.level_deviation) ** 2
    weight -= 0.5 * ((b - prior.slope) / prior.slope_deviation) ** 2
    for k in range(len(tallies)):
        logit = a + b * x[:, k, np.newaxis]
        weight += bad[k] * logit - records[k] * np.logaddexp(0.0, logit)
    weight += np.log(spread[0] * spread[2]) - log_drawn
    weight = np.exp(weight - weight.max())
    weight /= weight.sum()
    first, second = (1.0 / (1.0 + np.exp(-(a + b * at[:, np.newaxis]))) for at in (0.0 * now, new - now))
    return Shares(
        now=_share(first.ravel(), weight.ravel()), new=_share(second.ravel(), weight.ravel()),
        more=float(weight[second - first >= margin].sum()),
    )  # fmt: skip


def best_trend(x: _Array, records: _Array, bad: _Array, prior: Slope) -> tuple[_Array, _Array, tuple[_Array, ...]]:
    """Likeliest level and slope by counts and belief, and how they spread about it, of many presses at once.

    Parameters
    ----------
    x : ndarray
        Places from the present setting, (presses, settings)
    records, bad : ndarray
        (settings,) or (presses, settings)
    prior : Slope

    Returns
    -------
    level, slope : ndarray
        (presses,)
    spread : tuple of ndarray
        Lower triangle of the Cholesky factor of their covariance by the curvature: level, slope with level, slope;
        each (presses, 1)
    """
    level, slope = np.full(x.shape[0], prior.level), np.full(x.shape[0], prior.slope)
    one, two = prior.level_deviation**-2, prior.slope_deviation**-2
    for _ in range(60):
        p = 1.0 / (1.0 + np.exp(-(level[:, np.newaxis] + slope[:, np.newaxis] * x)))
        off, stiff = bad - records * p, records * p * (1.0 - p)
        g = off.sum(axis=1) - (level - prior.level) * one, (off * x).sum(axis=1) - (slope - prior.slope) * two
        h = stiff.sum(axis=1) + one, (stiff * x).sum(axis=1), (stiff * x * x).sum(axis=1) + two
        det = h[0] * h[2] - h[1] ** 2
        steps = (h[2] * g[0] - h[1] * g[1]) / det, (h[0] * g[1] - h[1] * g[0]) / det
        # a long step would overshoot where the shares are all but none
        shrink = 1.0 / np.maximum(1.0, np.maximum(np.abs(steps[0]) / prior.level_deviation,
                                                  np.abs(steps[1]) / prior.slope_deviation))  # fmt: skip
        level, slope = level + shrink * steps[0], slope + shrink * steps[1]
        if max(float(np.abs(step).max()) for step in steps) < 1e-6:
            break
    first = np.sqrt(h[2] / det)
    mixed = -h[1] / det / first
    second = np.sqrt(h[0] / det - mixed**2)
    return level, slope, (first[:, np.newaxis], mixed[:, np.newaxis], second[:, np.newaxis])


@cache
def _broad(count: int, presses: int) -> tuple[_Array, _Array, _Array]:
    """Evenly strewn points of a two-dimensional Student's t and the log of its density, each (presses, points).

    Roberts' additive sequence, from the real root of g^3 = g + 1.
    """
    root = 1.324717957244746
    number = np.arange(1, count + 1)
    radius, turn = ((0.5 + number * root**-power) % 1.0 for power in (1, 2))
    square = _TAILS * ((1.0 - radius) ** (-2.0 / _TAILS) - 1.0)
    log_drawn = -0.5 * (_TAILS + 2.0) * np.log1p(square / _TAILS)
    u, v = np.sqrt(square) * np.cos(2.0 * pi * turn), np.sqrt(square) * np.sin(2.0 * pi * turn)
    u, v, log_drawn = (part.reshape(-1, presses).T for part in (u, v, log_drawn))
    return u, v, log_drawn


def _share(values: _Array, weight: _Array) -> Share:
    order = np.argsort(values)
    reached = np.cumsum(weight[order])
    low, high = (float(values[order][int(np.searchsorted(reached, q))]) for q in (0.025, 0.975))
    return Share(value=float((values * weight).sum()), low=low, high=high)


@dataclass(frozen=True, slots=True, kw_only=True)
class Trial:
    """What would prove it: records at each setting that show a rise of the share, or a shift of half a deviation."""

    by_share: int | None
    share_now: float
    share_new: float
    by_height: int


def trial_for(known: Shares | None) -> Trial:
    """Size of the trial, run alternately at both settings, laid flat for 24 h.

    By the share it takes the plant's own shares, or 1 and 3 in 100 where none are known (common practice); by the
    height of the warp a shift of half its own standard deviation.
    """
    now, new = (0.01, 0.03) if known is None else (known.now.value, known.new.value)
    apart = abs(log(new / (1.0 - new)) - log(now / (1.0 - now))) > 0.05
    return Trial(
        by_share=sample_size_shares(now, new) if apart else None, share_now=now, share_new=new,
        by_height=sample_size_means(0.5, 1.0),
    )  # fmt: skip


def together(correlation: _Array, *, least: float = 0.5) -> list[list[int]]:
    """Groups of inputs bound by correlation; each input is in one.

    Examples
    --------
    >>> together(np.array([[1.0, 0.1, 0.8], [0.1, 1.0, 0.0], [0.8, 0.0, 1.0]]))
    [[0, 2], [1]]
    """
    left, groups = list(range(correlation.shape[0])), []
    while left:
        group = [left.pop(0)]
        for member in group:
            bound = [k for k in left if abs(correlation[member, k]) >= least]
            group += bound
            left = [k for k in left if k not in bound]
        groups.append(sorted(group))
    return groups


def bound_effects(effects: _Array, covariance: _Array) -> list[tuple[list[int], float]]:
    """What inputs that are bound to each other do together: their numbers, and the square of their common effect.

    Parameters
    ----------
    effects : ndarray
        Of each input at its own half-width, signed, (inputs,)
    covariance : ndarray
        Of the inputs

    Returns
    -------
    groups : list of tuple
        Each input is in one; effects that cancel because their inputs go together are seen to do so

    Examples
    --------
    >>> bound_effects(np.array([3.0, -3.0, 1.0]), np.array([[1.0, 1.0, 0.0], [1.0, 1.0, 0.0], [0.0, 0.0, 4.0]]))
    [([0, 1], 0.0), ([2], 1.0)]
    """
    deviation = np.sqrt(np.diag(covariance))
    correlation = covariance / np.outer(deviation, deviation)
    return [
        (group, max(float(effects[group] @ correlation[np.ix_(group, group)] @ effects[group]), 0.0))
        for group in together(correlation)
    ]


def phase_to_shorten(recipe: Recipe, name: str | None) -> int:
    """Number of the phase of this name, or of the last water before the opening."""
    closed = recipe.closed
    if name is not None:
        for number, phase in enumerate(closed):
            if phase.name == name:
                return number
        raise InputError(
            f"phase '{name}' is unknown; known are {', '.join(p.name for p in closed)}: choose one of them"
        )
    waters = [number for number, phase in enumerate(closed) if phase.fluid == "water"]
    if not waters:
        raise InputError("phase: there is no water phase to shorten; name one of the phases with --phase")
    return waters[-1]
