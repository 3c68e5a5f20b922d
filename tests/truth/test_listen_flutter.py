"""Flutter off a time line whose speed is known: the reading of the standard, its U95, its bandwidth."""

import numpy as np
import pytest

from bench.judged import judge
from bench.scenes import draw
from runtrue.listen.flutter import flutter_of
from runtrue.listen.line import Line, Piece
from runtrue.signal.smoothing import Points, likeliest_stiffness, smooth
from runtrue.signal.weighting import flutter_weighting, two_sigma, weigh

STEP, TURN = 0.01, 1.8


def line_of(speed: dict[float, float], *, seconds: float, error: float, seed: int) -> tuple[Line, float]:
    """A line found from points ``error`` [s] unsure, of sines of speed {Hz: peak}; and its exact reading."""
    rng = np.random.default_rng(seed)
    knots = STEP * np.arange(round(seconds / STEP))
    phases = {f: rng.uniform(0.0, 2.0 * np.pi) for f in speed}
    exact = knots + sum(a / (2 * np.pi * f) * np.sin(2 * np.pi * f * knots + phases[f]) for f, a in speed.items())
    fine = np.arange(0.0, seconds, 1e-3)
    deviation = sum(a * np.cos(2 * np.pi * f * fine + phases[f]) for f, a in speed.items())
    truth = two_sigma(weigh(np.asarray(deviation), flutter_weighting, rate=1e3, mirror=4.0)[1000:-1000])
    weight = np.full(len(knots), 1.0 / error**2)
    points = Points.at_knots(exact - knots + error * rng.standard_normal(len(knots)), weight)
    stiffness = likeliest_stiffness(points, np.geomspace(1e9, 1e16, 15))
    found = knots + smooth(points, stiffness)
    return Line(pieces=(Piece(start=0.0, step=STEP, programme=found, weight=weight, stiffness=stiffness),)), truth


def test_a_sine_at_4_hz_reads_its_peak() -> None:
    """0.99692 of the peak: sin(0.95 pi/2), the two-sigma reading of a sine (derived); 0 dB at 4 Hz by the table."""
    line, _ = line_of({4.0: 1e-3}, seconds=60.0, error=1e-9, seed=1)
    weighted, without, bandwidth = flutter_of(line, duration=100.0, turn_period=TURN)
    assert weighted.value == pytest.approx(0.99692e-3, rel=2e-3)
    assert without.value == pytest.approx(weighted.value, rel=5e-3)
    assert isinstance(bandwidth.value, float)
    assert bandwidth.value > 45.0


def test_once_a_turn_is_taken_off() -> None:
    line, _ = line_of({1.0 / TURN: 2e-3, 8.0: 1e-4}, seconds=90.0, error=1e-8, seed=2)
    weighted, without, _ = flutter_of(line, duration=100.0, turn_period=TURN)
    alone = two_sigma(1e-4 * 10.0 ** (float(flutter_weighting(8.0)) / 20.0) * np.sin(np.linspace(0.0, 6283.2, 100_001)))
    assert weighted.value > 4.0 * alone
    assert without.value == pytest.approx(alone, rel=0.03)


@pytest.mark.parametrize("error", [3e-8, 3e-7, 1e-6])
def test_u95_covers(error: float) -> None:
    inside, n = 0, 40
    for seed in range(n):
        rng = np.random.default_rng([seed, 5])
        speed = {float(rng.uniform(0.5, 9.0)): float(10.0 ** rng.uniform(-4.5, -3.3)) for _ in range(4)}
        line, truth = line_of(speed, seconds=30.0, error=error, seed=seed)
        weighted = flutter_of(line, duration=100.0, turn_period=TURN)[0]
        if weighted.value is None:
            n -= 1
            continue
        inside += abs(weighted.value - truth) <= weighted.u95
        assert abs(weighted.value - truth) < max(0.05 * truth, 2e-5)
    assert inside >= 0.9 * n > 20


def test_a_line_that_follows_only_slow_changes_says_so() -> None:
    line, _ = line_of({0.5: 1e-4}, seconds=30.0, error=3e-5, seed=3)
    found = flutter_of(line, duration=100.0, turn_period=TURN)
    assert [m.value for m in found] == [None] * 3
    assert "4 are needed" in found[0].reason


def test_too_short() -> None:
    line, _ = line_of({4.0: 1e-3}, seconds=6.0, error=1e-9, seed=4)
    assert "less than 5 s" in flutter_of(line, duration=100.0, turn_period=TURN)[0].reason


@pytest.mark.sound
def test_a_render_is_read_as_its_maker_made_it() -> None:
    outcome = judge(draw("measure", "band", 71, seconds=20.0))
    assert outcome.flutter is not None
    value, u95, truth = outcome.flutter
    assert abs(value - truth) < max(0.05 * truth, 2e-5)
    assert abs(value - truth) < 2.0 * u95
