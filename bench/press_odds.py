"""Whether the odds of a shorter cycle come true: presses and plants with a hidden truth, asked and then run."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bench.press_logs import U95, believed, fitted
from runtrue.press.calibrate import drawn_press
from runtrue.press.conduction import Mesh
from runtrue.press.cycle import INPUTS, Recipe, drawn, varied
from runtrue.press.materials import Number
from runtrue.press.shorten import (
    NON_FILL,
    PRESSES,
    WARP,
    Slope,
    Spread,
    Tally,
    best_trend,
    draws_of,
    shares,
    spread_at,
)
from runtrue.stats.conformity import judge
from runtrue.types import Limit, Measurement

_Array = NDArray[np.float64]
KINDS = {
    "too_hot": "a record opens too hot", "warped": "a record is warped after 24 h",
    "non_fill": "a record is not filled",
    "more_warp": "warp rises by the margin", "more_fill": "non-fill rises by the margin",
}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Decided:
    """One decision on one press: odds as stated, and what came of it, by kind."""

    press: int
    stated: dict[str, float]
    came: dict[str, bool]


CUTS = (1.0, 2.0, 4.0)
_Odds = tuple[dict[str, float], dict[str, bool]]
"""Odds as stated and what came, by kind."""
OPENINGS, ASKED = 100, 20
"""Decisions on a press: records that may open too hot, and plants with their counts."""
COUNTED = ((0.0, 1500), (2.0, 800), (-2.0, 800))
"""Settings the plant has counted at: change of the water [s], records."""
SPREAD = {item.name: item.u95 for item in INPUTS if item.each_cycle}
COARSE = Mesh(
    fine=0.3, growth=1.3, coarsest=0.15, first=0.01, step_growth=1.5, longest=1.0, tolerance=1e-2, settled=0.2
)
"""Of the cycles that are decided on, of the press as it is known and as it is alike: cheap, and neither is favoured."""
PLANTS = 500
"""Plants that are drawn with their counts for each decision asked; see :func:`_plants`."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """A kind of bad record: names of its odds, what is believed before, where a setting stands."""

    bad: str
    more: str
    prior: Slope
    at: Callable[[Spread], _Array]


def _mid(spread: Spread) -> _Array:
    return spread.mid_plane / 10.0


def _flow(spread: Spread) -> _Array:
    assert spread.at_flow is not None
    return spread.at_flow


OF_BAD = (
    Kind(bad="warped", more="more_warp", prior=WARP, at=_mid),
    Kind(bad="non_fill", more="more_fill", prior=NON_FILL, at=_flow),
)


def decisions(seeds: range, *, draws: int = 100) -> list[Decided]:
    """Presses with a hidden truth, each fitted to its log and asked: what is stated, and what happens."""
    return [row for seed in seeds for row in _asked(seed, draws)]


def _asked(seed: int, draws: int) -> list[Decided]:
    """Water shortened by one of three cuts, steam by a third of it; each decision is another record's, or plant's."""
    rng = np.random.default_rng([seed, 21])
    press, found = fitted(seed)
    truth = varied(believed(), press.inputs)
    water = 14.0 - CUTS[int(rng.integers(len(CUTS)))]
    openings = _openings(truth, draws_of(found.posterior, U95, draws, rng), water, rng)
    plants = _plants(drawn_press(found.posterior, PRESSES), truth, water, rng)
    return [Decided(press=seed, stated=stated, came=came) for stated, came in (*openings, *plants)]


def _openings(truth: Recipe, unsure: Mapping[str, Number], water: float, rng: np.random.Generator) -> Iterator[_Odds]:
    """Odds of a record that opens too hot, by limits that lie about the opening as it is foretold."""
    seen = _both(believed(), [water], unsure)[0].mid_plane
    true = _both(truth, [water], dict(drawn(SPREAD, OPENINGS, rng)))[0].mid_plane
    middle, u95 = float(seen.mean()), 1.96 * float(seen.std(ddof=1))
    for opened in true:
        limit = middle + float(rng.normal(0.0, u95 / 1.96))
        bound = Limit(quantity="opening_mid_plane", upper=limit, owner="-", source="-", date="-")
        judged = judge([Measurement(quantity="opening_mid_plane", value=middle, u95=u95)], [bound])[0]
        assert judged.conformance_probability is not None
        yield {"too_hot": 1.0 - judged.conformance_probability}, {"too_hot": bool(opened > limit)}


def _plants(unsure: Mapping[str, Number], truth: Recipe, water: float, rng: np.random.Generator) -> Iterator[_Odds]:
    """Odds of warp and of non-fill, each decision by a plant of its own with its own counts.

    Plants are drawn from what is believed, by the thousand, with their counts; of these one is asked whose counts, and
    nothing else, point at a share that was drawn evenly from 0 to 1. So every tenth of the odds is asked as often, and
    what is known of the plant is no more than its counts say. The margin lies about the rise that the counts suggest.
    """
    waters = [*(14.0 - change for change, _ in COUNTED), water]
    known, plain = _both(believed(), waters, unsure), _both(truth, waters, {})
    for _ in range(ASKED):
        (warp, warped), (fill, filled) = (_plant(kind, known, plain, rng) for kind in OF_BAD)
        yield warp | fill, warped | filled


def _plant(kind: Kind, known: Sequence[Spread], plain: Sequence[Spread], rng: np.random.Generator) -> _Odds:
    """One decision on one kind: odds as stated, and what came; the last setting is the new one."""
    records = np.array([count for _, count in COUNTED])
    level = rng.normal(kind.prior.level, kind.prior.level_deviation, (PLANTS, 1))
    slope = rng.normal(kind.prior.slope, kind.prior.slope_deviation, (PLANTS, 1))
    true = np.array([float(kind.at(one)[0]) for one in plain])
    share = _share_of(level + slope * (true - true[0]))
    bad = rng.binomial(records, share[:, :-1])
    # what the counts alone point at, the log's doubt left aside
    middle = np.array([float(kind.at(one).mean()) for one in known])
    place, far = np.tile(middle[:-1] - middle[0], (PLANTS, 1)), middle[-1] - middle[0]
    a, b, spread = best_trend(place, records + 0.0 * bad, bad.astype(float), kind.prior)
    here, there = _share_of(a), _share_of(a + b * far)
    chosen = int(np.argmin(np.abs(there - rng.random())))
    by_level = (there * (1.0 - there) - here * (1.0 - here))[chosen]
    by_slope = (there * (1.0 - there))[chosen] * far
    unsure = np.hypot(by_level * spread[0][chosen] + by_slope * spread[1][chosen], by_slope * spread[2][chosen])
    margin = max(0.001, float((there - here)[chosen] + rng.normal(0.0, float(unsure[0]))))
    now, *_, new = (kind.at(one) for one in known)
    tallies = [
        Tally(x=kind.at(one), records=int(count), bad=int(many))
        for one, count, many in zip(known[:-1], records, bad[chosen], strict=True)
    ]
    told = shares(tallies, kind.prior, now=now, new=new, margin=margin)
    if told is None:
        return {}, {}
    before, after = float(share[chosen, 0]), float(share[chosen, -1])
    return (
        {kind.bad: told.new.value, kind.more: told.more},
        {kind.bad: bool(rng.random() < after), kind.more: after - before >= margin},
    )


def _share_of(logit: _Array) -> _Array:
    return np.asarray(1.0 / (1.0 + np.exp(-logit)))


def _both(recipe: Recipe, waters: list[float], draws: Mapping[str, Number]) -> tuple[Spread, ...]:
    """Settings of water, the steam shortened by a third of the cut so that the flow changes too."""
    found: list[Spread] = []
    for water in waters:
        at = recipe.with_duration(0, 9.0 - (14.0 - water) / 3.0)
        found += spread_at(at, (water,), 1, draws, COARSE)
    return tuple(found)


WITHIN = 0.05
SURE, WEAK = 2.3263478740408408, 1.6448536269514722
"""Standard errors that chance passes once in 100, once in 20: the same chances as those of :mod:`bench.acceptance`."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Tenth:
    """One tenth of the odds of one kind: how many decisions, mean stated, share that came true, and its standard error.

    Decisions on one press err together, so the error is that of the presses' sums.
    """

    kind: str
    low: float
    count: int
    stated: float
    came: float
    error: float

    @property
    def right(self) -> bool | None:
        """Whether the odds came as stated; None where there are too few decisions to tell.

        Right: within 5 points, no allowance made for chance, and with so many decisions that odds which are off by 10
        would be as near once in 20 at most. Wrong: so far beyond 5 points as chance takes odds that are off by 5 once
        in 100 at most.
        """
        off = abs(self.came - self.stated)
        if off <= WITHIN:
            return True if WEAK * self.error <= WITHIN else None
        return False if off - WITHIN > SURE * self.error else None


def reliability(rows: list[Decided]) -> list[Tenth]:
    """Stated odds beside what came, tenth by tenth."""
    found = []
    for kind in KINDS:
        some = [r for r in rows if kind in r.stated]
        if not some:
            continue
        stated, came = np.array([(r.stated[kind], float(r.came[kind])) for r in some]).T
        tenth = np.minimum((10.0 * stated).astype(int), 9)
        _, press = np.unique([r.press for r in some], return_inverse=True)
        for k in np.unique(tenth):
            inside = tenth == k
            off, p = (came - stated)[inside], stated[inside].mean()
            # never below the error of so many draws with these odds, each for itself
            sums = max(float((np.bincount(press[inside], off) ** 2).sum()), float(inside.sum() * p * (1.0 - p)))
            found.append(
                Tenth(
                    kind=kind, low=0.1 * float(k), count=int(inside.sum()), stated=float(p),
                    came=float(came[inside].mean()), error=float(np.sqrt(sums)) / int(inside.sum()),
                )
            )  # fmt: skip
    return found
