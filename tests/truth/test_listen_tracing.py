"""Tracing: the batched method against plain geometry point by point; a render with the usual ball judged clean."""

import numpy as np
import pytest
from numpy.typing import NDArray

from runtrue.disc.frame import Frame, Spiral
from runtrue.forward import Stylus
from runtrue.listen.tracing import BALL, Ball, _moved
from tests.truth.listened import listen, piece, record, rig


def slowly(wave: NDArray[np.float64], rate: float, speed: float, size: float, at: int) -> float:
    """Velocity of the ball's centre over sample ``at``: the touching point found by halving, on the wave itself."""

    def reach(place: float) -> float:
        x = float(np.interp(place, np.arange(len(wave)), wave))
        slope = x * size / BALL / speed
        return BALL / speed * rate * slope / np.sqrt(1.0 + slope**2)

    low, high = at - 60.0, at + 60.0
    for _ in range(60):
        middle = 0.5 * (low + high)
        if middle - reach(middle) < at:
            low = middle
        else:
            high = middle
    return float(np.interp(low, np.arange(len(wave)), wave))


def test_the_ball_meets_the_wall_where_geometry_says() -> None:
    rate, speed, size = 192_000.0, 0.25, 18e-6 * 0.08
    time = np.arange(4000) / rate
    wave = 0.5 * np.sin(2.0 * np.pi * 3000.0 * time) + 0.2 * np.sin(2.0 * np.pi * 5200.0 * time + 1.0)
    fast, bend = _moved(wave.astype(np.float32), np.full(2000, 1.0 / speed, dtype=np.float32), size)
    assert bend.max() < 0.95
    slow = np.array([slowly(wave, rate, speed, size, at) for at in range(200, 3800, 38)])
    assert fast[100:1900:19] == pytest.approx(slow, abs=3e-3)
    assert np.abs(slow - wave[200:3800:38]).max() > 0.05


def test_a_ball_of_no_size_changes_nothing() -> None:
    spiral = Spiral(start=0.1, start_u95=0.0, end=0.09, end_u95=0.0, duration=10.0)
    ball = Ball(Frame(turn_frequency=5 / 9, turn_frequency_u95=0.0, spiral=spiral), size=(0.0, 0.0))
    sound = np.random.default_rng(1).standard_normal((5000, 2)).astype(np.float32)
    assert ball.traced(sound, 0.0) is sound


@pytest.mark.sound
def test_loud_treble_traced_by_a_ball_is_no_fault() -> None:
    reference = piece("sibilants", 20.0)
    got = listen(reference, record(reference, seconds=20.0), rig(stylus=Stylus()))
    assert len(got.heard.ticks or ()) <= 1
    assert got.heard.bursts == ()
    assert got.vector_error < 5e-6
