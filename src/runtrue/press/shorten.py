r"""Can it run some seconds shorter? The output gained against the odds of what a hotter opening and less flow bring.

Whether a record comes out too hot follows from the physics and what a log left unknown. Warp after 24 h and non-fill
do not: physics says which way they go, and how often comes from the plant's own counts at two settings or more,

.. math:: \operatorname{logit} p = a + b (x - x_0)

with x the mid-plane at opening (warp, per 10 K) or the time above flow temperature (non-fill, per second), fitted by
Bayes' rule on a grid.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from math import log

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
_STEPS = 121


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
    return drawn_press(posterior, count, rng) | drawn(cycle, count, rng)


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
        guess = settle(varied(at, middle), alone).temperature
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
    """Records pressed at one setting: where it stands (x), how many, how many were bad."""

    x: float
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


def shares(tallies: Sequence[Tally], prior: Slope, *, now: float, new: float, margin: float) -> Shares | None:
    """Shares at two settings from counts at several; None where all counts stand at one setting.

    Parameters
    ----------
    tallies : sequence of Tally
        The plant's own counts
    prior : Slope
    now, new : float
        Where the two settings stand, in the unit of the tallies' x
    margin : float
        Rise that counts as more, 0 or above [-]

    Returns
    -------
    shares : Shares or None
        Odds carry what the counts leave open

    Examples
    --------
    >>> found = shares([Tally(x=0.0, records=1000, bad=10), Tally(x=1.0, records=1000, bad=30)], WARP, now=0.0, new=1.0,
    ...                margin=0.005)
    >>> round(found.now.value, 3), round(found.new.value, 2), round(found.more, 2)
    (0.011, 0.03, 0.99)
    """
    if len({round(t.x, 3) for t in tallies}) < 2:
        return None
    level = prior.level + prior.level_deviation * np.linspace(-4.5, 4.5, _STEPS)[:, np.newaxis]
    slope = prior.slope + prior.slope_deviation * np.linspace(-4.5, 4.5, _STEPS)[np.newaxis, :]
    weight = -0.5 * ((level - prior.level) / prior.level_deviation) ** 2
    weight = weight - 0.5 * ((slope - prior.slope) / prior.slope_deviation) ** 2
    for tally in tallies:
        logit = level + slope * (tally.x - now)
        weight = weight + tally.bad * logit - tally.records * np.logaddexp(0.0, logit)
    weight = np.exp(weight - weight.max())
    weight = (weight / weight.sum()).ravel()
    first = (1.0 / (1.0 + np.exp(-level + 0.0 * slope))).ravel()
    second = (1.0 / (1.0 + np.exp(-(level + slope * (new - now))))).ravel()
    return Shares(
        now=_share(first, weight), new=_share(second, weight), more=float(weight[second - first >= margin].sum())
    )


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
