"""Trains out of lists of ticks: scratches askew and with gaps are found whole, crackle makes none."""

import numpy as np
import pytest

from runtrue.listen.heard import HeardTick
from runtrue.listen.trains import find_trains, turn_of_trains
from runtrue.types import Channel

TURN = 1.8


def ticks_at(*times: float) -> tuple[HeardTick, ...]:
    return tuple(
        HeardTick(
            programme_time=t, time_u95=2e-5, capture_time=t, peak=-30.0, prominence=25.0, duration=1e-4,
            channel=Channel.LATERAL,
        )
        for t in sorted(times)
    )  # fmt: skip


def crackle(rate: float, seconds: float, seed: int) -> list[float]:
    rng = np.random.default_rng(seed)
    return list(rng.uniform(0.0, seconds, rng.poisson(rate * seconds)))


def test_a_scratch_that_lies_askew_and_misses_two_ticks_is_one_train() -> None:
    rng = np.random.default_rng(3)
    period = TURN * 1.004
    times = [20.0 + period * k + rng.normal(0.0, 2e-4) for k in range(14) if k not in (5, 9)]
    (train,) = find_trains(ticks_at(*times, *crackle(0.1, 60.0, 2)), turn_period=TURN)
    assert len(train.members) == 12
    assert train.period == pytest.approx(period, abs=1e-3)


def test_a_bent_scratch_is_not_split() -> None:
    times = [10.0 + TURN * k + 1e-4 * k**2 for k in range(20)]
    (train,) = find_trains(ticks_at(*times), turn_period=TURN)
    assert len(train.members) == 20


def test_crackle_makes_no_train() -> None:
    found = [find_trains(ticks_at(*crackle(8.0, 60.0, seed)), turn_period=0.767) for seed in range(8)]
    assert sum(len(trains) for trains in found) == 0


def test_two_scratches_in_crackle_are_both_found() -> None:
    first = [5.0 + 0.767 * k for k in range(12)]
    second = [5.3 + 0.767 * 0.997 * k for k in range(9)]
    trains = find_trains(ticks_at(*first, *second, *crackle(2.0, 40.0, 4)), turn_period=0.767)
    assert sorted(len(t.members) for t in trains) == [9, 12]


def test_three_ticks_are_no_train() -> None:
    assert find_trains(ticks_at(1.0, 2.8, 4.6), turn_period=TURN) == ()


def test_trains_that_agree_tell_the_turn() -> None:
    rng = np.random.default_rng(8)
    true = TURN * (1.0 + 60e-6)
    times = [s + true * k + rng.normal(0.0, 5e-5) for s in (3.0, 40.3, 80.9, 130.1) for k in range(15)]
    ticks = ticks_at(*times)
    found = turn_of_trains(find_trains(ticks, turn_period=TURN), ticks)
    assert found is not None
    value, u95 = found
    assert abs(value - true) < u95 < 1e-4 * TURN


def test_trains_that_disagree_tell_nothing() -> None:
    times = [s + TURN * (1.0 + d) * k for s, d in ((3.0, 2e-3), (40.3, -1e-3), (80.9, 4e-3)) for k in range(12)]
    ticks = ticks_at(*times)
    trains = find_trains(ticks, turn_period=TURN)
    assert len(trains) == 3
    assert turn_of_trains(trains, ticks) is None
