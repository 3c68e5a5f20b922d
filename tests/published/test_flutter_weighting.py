"""Flutter weighting and the two-sigma reading.

IEC 60386 / AES6-2008, table of 17 values: FROM MEMORY; abstracts confirm the shape (read). Values at turntable speeds:
derived by interpolation over the logarithm of frequency. Two-sigma of a sine, 0.99692: derived.
"""

import numpy as np
import pytest

from runtrue.signal.weighting import flutter_filter, flutter_weighting, two_sigma, weigh

TABLE = (
    (0.1, -48.0), (0.2, -30.6), (0.315, -19.7), (0.4, -15.0), (0.63, -8.4), (0.8, -6.0), (1.0, -4.2), (1.6, -1.8),
    (2.0, -0.9), (4.0, 0.0), (6.3, -0.9), (10.0, -2.1), (20.0, -5.9), (40.0, -10.4), (63.0, -14.2), (100.0, -17.3),
    (200.0, -23.0),
)  # fmt: skip
SPEEDS = (
    (16.0 + 2.0 / 3.0, -22.7, 0.05), (100.0 / 3.0, -10.23, 0.005), (45.0, -6.65, 0.005), (77.92, -2.87, 0.005),
    (78.26, -2.84, 0.0055),
)  # fmt: skip


@pytest.mark.parametrize(("frequency", "level"), TABLE)
def test_table(frequency: float, level: float) -> None:
    assert float(flutter_weighting(frequency)) == pytest.approx(level, abs=1e-9)


@pytest.mark.parametrize(("frequency", "level"), TABLE)
def test_the_realisable_filter_follows_the_table(frequency: float, level: float) -> None:
    assert float(flutter_filter(frequency)) == pytest.approx(level, abs=0.35)


@pytest.mark.parametrize(("rpm", "level", "half"), SPEEDS)
def test_turntable_speeds(rpm: float, level: float, half: float) -> None:
    assert float(flutter_weighting(rpm / 60.0)) == pytest.approx(level, abs=half)


def test_filter_at_33_rpm() -> None:
    assert float(flutter_filter(100.0 / 180.0)) == pytest.approx(-9.89, abs=0.01)  # constants as printed, four digits


def test_two_sigma_of_a_long_sine() -> None:
    sine = 0.001 * np.sin(2.0 * np.pi * 4.0 * np.arange(60_000) / 997.3)
    assert two_sigma(sine) == pytest.approx(0.0009969, abs=2e-6)
    weighted = weigh(sine, flutter_weighting, rate=997.3, mirror=5.0)
    assert two_sigma(weighted[1000:-1000]) == pytest.approx(0.0009969, abs=2e-6)
