"""Reading between samples: error against the formula of a sine, by frequency."""

import numpy as np
import pytest

from runtrue.signal.warp import read_along

RATE = 48_000.0


def error_db(frequency: float, ratio: float) -> float:
    n = np.arange(24_000)
    sine = np.sin(2.0 * np.pi * frequency / RATE * n)[:, None].astype(np.float32)
    position = np.arange(100.0, 23_000.0) * ratio
    position = position[position < 23_900.0]
    found = read_along(sine, position)[:, 0]
    truth = np.sin(2.0 * np.pi * frequency / RATE * position)
    return float(20.0 * np.log10(np.std(found - truth) / np.std(truth)))


@pytest.mark.parametrize("ratio", [1.0, 1.000137, 0.94, 1.06])
@pytest.mark.parametrize(
    ("frequency", "at_most"), [(100.0, -90.0), (1e3, -88.0), (1e4, -78.0), (13e3, -75.0), (18e3, -33.0)]
)
def test_error(frequency: float, at_most: float, ratio: float) -> None:
    assert error_db(frequency, ratio) < at_most


def test_outside_is_silent_and_order_does_not_matter() -> None:
    signal = np.ones((100, 2), dtype=np.float32)
    position = np.array([50.0, -500.0, 20.5, 4000.0])
    found = read_along(signal, position)
    assert found[[1, 3]] == pytest.approx(0.0)
    assert found[[0, 2]] == pytest.approx(1.0, abs=1e-5)


def test_whole_positions_give_the_samples() -> None:
    rng = np.random.default_rng(1)
    signal = rng.standard_normal((400, 1)).astype(np.float32)
    assert read_along(signal, np.arange(50.0, 300.0)) == pytest.approx(signal[50:300], abs=1e-6)
