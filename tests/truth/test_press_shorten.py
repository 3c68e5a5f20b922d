"""The odds of a shorter cycle, small forms: shares from counts against sampling, odds against what happens."""

import numpy as np
import pytest

from bench.press_logs import believed
from bench.press_odds import Decided, decisions, reliability
from runtrue.press.shorten import WARP, Shares, Tally, shares, spread_at, trial_for


def at(*x: float) -> np.ndarray:
    """Places of a setting in each press that may be."""
    return np.array(x)


def test_shares_are_those_of_sampling() -> None:
    """Against weighted draws from the same belief, the press being one of three that lie apart."""
    places = {"first": at(0.0, 0.0, 0.0), "second": at(-0.2, -0.4, -0.6), "new": at(0.4, 0.8, 1.2)}
    tallies = [Tally(x=places["first"], records=600, bad=6), Tally(x=places["second"], records=500, bad=1)]
    found = shares(tallies, WARP, now=places["first"], new=places["new"], margin=0.005)
    assert found is not None
    rng = np.random.default_rng(2)
    level = rng.normal(WARP.level, WARP.level_deviation, 200_000)
    slope = rng.normal(WARP.slope, WARP.slope_deviation, level.size)
    press = rng.integers(3, size=level.size)
    weight = np.zeros(level.size)
    for tally in tallies:
        logit = level + slope * tally.x[press]
        weight += tally.bad * logit - tally.records * np.logaddexp(0.0, logit)
    weight = np.exp(weight - weight.max())
    weight /= weight.sum()
    now, new = 1.0 / (1.0 + np.exp(-level)), 1.0 / (1.0 + np.exp(-(level + places["new"][press] * slope)))
    assert found.now.value == pytest.approx(float(now @ weight), rel=0.02)
    assert found.new.value == pytest.approx(float(new @ weight), rel=0.03)
    assert found.more == pytest.approx(float(weight @ (new - now >= 0.005)), abs=0.015)


def test_a_press_less_known_leaves_more_open() -> None:
    """The same counts, the settings' distance known or not: the share at the new setting is less sure."""

    def width(spread: float) -> float:
        far = np.linspace(1.0 - spread, 1.0 + spread, 41)
        tallies = [Tally(x=0.0 * far, records=3000, bad=30), Tally(x=-far, records=3000, bad=10)]
        found = shares(tallies, WARP, now=0.0 * far, new=np.ones(41), margin=0.005)
        assert found is not None
        return found.new.high - found.new.low

    assert width(0.6) > 1.1 * width(0.0)


def test_counts_at_one_setting_tell_no_trend() -> None:
    assert shares([Tally(x=at(1.0), records=900, bad=9), Tally(x=at(1.0), records=800, bad=5)], WARP, now=at(1.0),
                  new=at(2.0), margin=0.005) is None  # fmt: skip


def test_more_counts_sharpen() -> None:
    def told(many: int) -> Shares:
        tallies = [Tally(x=at(0.0), records=100 * many, bad=many), Tally(x=at(1.0), records=100 * many, bad=3 * many)]
        found = shares(tallies, WARP, now=at(0.0), new=at(1.0), margin=0.0)
        assert found is not None
        return found

    few, many = told(1), told(1000)
    assert many.new.high - many.new.low < 0.1 * (few.new.high - few.new.low)
    assert many.new.value == pytest.approx(0.03, abs=5e-4)
    assert many.more > 0.99
    assert trial_for(many).by_share is not None


def test_no_bad_record_is_no_proof() -> None:
    """Against the same sum over a plain grid: a belief that is all skew."""
    found = shares([Tally(x=at(0.0), records=400, bad=0), Tally(x=at(-1.0), records=400, bad=0)], WARP, now=at(0.0),
                   new=at(1.0), margin=0.005)  # fmt: skip
    assert found is not None
    level, slope = np.meshgrid(np.linspace(-16.0, 4.0, 801), np.linspace(-3.2, 4.8, 401))
    weight = -0.5 * ((level - WARP.level) / WARP.level_deviation) ** 2
    weight -= 0.5 * ((slope - WARP.slope) / WARP.slope_deviation) ** 2
    weight -= 400.0 * (np.logaddexp(0.0, level) + np.logaddexp(0.0, level - slope))
    weight = np.exp(weight - weight.max())
    weight /= weight.sum()
    new = 1.0 / (1.0 + np.exp(-(level + slope)))
    assert found.new.value == pytest.approx(float((new * weight).sum()), rel=0.02)
    rise = new - 1.0 / (1.0 + np.exp(-level))
    assert found.more == pytest.approx(float(weight[rise >= 0.005].sum()), abs=0.01)


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
        tallies = [Tally(x=at(x), records=900, bad=int(rng.binomial(900, share[k]))) for k, x in enumerate((0.0, -0.4))]
        found = shares(tallies, WARP, now=at(0.0), new=at(0.8), margin=0.005)
        assert found is not None
        stated.append(found.more)
        came.append(share[2] - share[0] >= 0.005)
    odds, happened = np.array(stated), np.array(came)
    assert abs(odds.mean() - happened.mean()) < 0.075
    assert happened[odds > 0.5].mean() > happened[odds < 0.5].mean() + 0.3


def decided(truth: float, presses: int, *, together: bool = False) -> list[Decided]:
    """Decisions stated at 0.55 that come with odds ``truth``, ten on a press, each for itself or all alike."""
    rng = np.random.default_rng(4)
    rows = []
    for press in range(presses):
        came = rng.random(10) < truth if not together else np.full(10, rng.random() < truth)
        rows += [Decided(press=press, stated={"warped": 0.55}, came={"warped": bool(one)}) for one in came]
    return rows


def test_the_rule_of_the_tenths_can_say_no_and_cannot_tell() -> None:
    """Right odds pass, odds off by 10 points fail, few decisions or presses that err together cannot tell."""
    (right,), (off,), (few,), (bound,) = (
        reliability(decided(*given, together=alike))
        for *given, alike in ((0.55, 300, False), (0.69, 300, False), (0.55, 10, False), (0.55, 200, True))
    )
    assert [tenth.right for tenth in (right, off, few, bound)] == [True, False, None, None]
    assert right.error == pytest.approx(np.sqrt(0.55 * 0.45 / 3000), rel=0.15)


def test_stated_odds_come_true() -> None:
    """A small form of the bench, one press: what concerns the single record comes as stated."""
    rows = decisions(range(900, 901), draws=60)
    for kind in ("too_hot", "warped"):
        pairs = np.array([(row.stated[kind], float(row.came[kind])) for row in rows if kind in row.stated])
        assert abs(pairs[:, 0].mean() - pairs[:, 1].mean()) < 0.35
    assert {tenth.kind for tenth in reliability(rows)} == {"too_hot", "warped", "more_warp", "non_fill", "more_fill"}


def test_records_of_any_thickness_are_drawn() -> None:
    """Draws whose mean lies off the file's thickness, so that a record is cut into other cells than the file's."""
    for shift in (-0.1, 0.0, 0.1):
        thick = {"thickness": shift + np.linspace(-0.03, 0.03, 5)}
        (found,) = spread_at(believed(mirror=True), (12.0,), 1, thick)
        assert np.all(np.diff(found.mid_plane) > 0.0)
