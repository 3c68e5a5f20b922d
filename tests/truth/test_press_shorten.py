"""The odds of a shorter cycle, small forms: shares from counts against sampling, odds against what happens."""

import numpy as np
import pytest

from bench.press import decisions, reliability
from runtrue.press.shorten import WARP, Tally, shares, trial_for


def test_shares_are_those_of_sampling() -> None:
    """The grid against weighted draws from the same belief."""
    tallies = [Tally(x=0.0, records=600, bad=6), Tally(x=-0.4, records=500, bad=1)]
    found = shares(tallies, WARP, now=0.0, new=0.8, margin=0.005)
    assert found is not None
    rng = np.random.default_rng(2)
    level = rng.normal(WARP.level, WARP.level_deviation, 400_000)
    slope = rng.normal(WARP.slope, WARP.slope_deviation, 400_000)
    weight = np.zeros(level.size)
    for tally in tallies:
        logit = level + slope * tally.x
        weight += tally.bad * logit - tally.records * np.logaddexp(0.0, logit)
    weight = np.exp(weight - weight.max())
    weight /= weight.sum()
    now, new = 1.0 / (1.0 + np.exp(-level)), 1.0 / (1.0 + np.exp(-(level + 0.8 * slope)))
    assert found.now.value == pytest.approx(float(now @ weight), rel=0.02)
    assert found.new.value == pytest.approx(float(new @ weight), rel=0.03)
    assert found.more == pytest.approx(float(weight @ (new - now >= 0.005)), abs=0.015)


def test_counts_at_one_setting_tell_no_trend() -> None:
    assert shares([Tally(x=1.0, records=900, bad=9), Tally(x=1.0, records=800, bad=5)], WARP, now=1.0, new=2.0,
                  margin=0.005) is None  # fmt: skip


def test_more_counts_sharpen() -> None:
    few = shares(
        [Tally(x=0.0, records=100, bad=1), Tally(x=1.0, records=100, bad=3)], WARP, now=0.0, new=1.0, margin=0.0
    )
    many = shares(
        [Tally(x=0.0, records=10_000, bad=100), Tally(x=1.0, records=10_000, bad=300)],
        WARP,
        now=0.0,
        new=1.0,
        margin=0.0,
    )
    assert few is not None
    assert many is not None
    assert many.new.high - many.new.low < 0.3 * (few.new.high - few.new.low)
    assert many.more > 0.99
    assert trial_for(many).by_share is not None


def test_odds_of_more_come_true() -> None:
    """Presses drawn from the station's belief, each with its counts: the odds of a rise are those with which it comes.

    400 presses, odds near 1/2 at most: three deviations of the mean are 0.075.
    """
    rng = np.random.default_rng(8)
    stated, came = [], []
    for _ in range(400):
        level = rng.normal(WARP.level, WARP.level_deviation)
        slope = rng.normal(WARP.slope, WARP.slope_deviation)
        share = 1.0 / (1.0 + np.exp(-(level + slope * np.array([0.0, -0.4, 0.8]))))
        tallies = [Tally(x=x, records=900, bad=int(rng.binomial(900, share[k]))) for k, x in enumerate((0.0, -0.4))]
        found = shares(tallies, WARP, now=0.0, new=0.8, margin=0.005)
        assert found is not None
        stated.append(found.more)
        came.append(share[2] - share[0] >= 0.005)
    odds, happened = np.array(stated), np.array(came)
    assert abs(odds.mean() - happened.mean()) < 0.075
    assert happened[odds > 0.5].mean() > happened[odds < 0.5].mean() + 0.3


@pytest.mark.slow
def test_stated_odds_come_true() -> None:
    """A small form of the bench, 2 presses of 50 decisions each: what concerns the single record comes as stated."""
    rows = decisions(range(900, 902), draws=100)
    for kind in ("too_hot", "warped"):
        stated = np.array([row.stated[kind] for row in rows])
        came = np.array([row.came[kind] for row in rows])
        assert abs(float(stated.mean()) - float(came.mean())) < 0.15
    assert {tenth.kind for tenth in reliability(rows)} == {"too_hot", "warped", "more_warp", "non_fill", "more_fill"}
