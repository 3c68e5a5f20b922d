"""Cramer-Rao bounds of delay and frequency.

Sources (formulas from memory, values derived from them): A. H. Quazi, IEEE Trans. ASSP-29 (1981) 527-533 for the
delay; D. C. Rife and R. R. Boorstyn, IEEE Trans. IT-20 (1974) 591-598, and S. M. Kay, Estimation Theory (1993),
example 3.14, for the frequency.
"""

import numpy as np
import pytest

from runtrue.errors import InputError
from runtrue.signal.bounds import delay_bound, frequency_bound


@pytest.mark.parametrize(("snr_db", "microseconds"), [(20, 0.3496), (10, 1.130), (0, 4.271)])
def test_delay(snr_db: float, microseconds: float) -> None:
    bound = delay_bound(duration=0.05, low=100.0, high=5000.0, snr=10.0 ** (snr_db / 10.0))
    assert bound * 1e6 == pytest.approx(microseconds, abs=5e-4)


@pytest.mark.parametrize(
    ("count", "snr_db", "hertz", "half"),
    # the collection the values come from prints .2517 where the formula gives .25164: one unit of the last digit
    [(480, 20, 0.2517, 1e-4), (480, 40, 0.02517, 1e-5), (4800, 20, 7.958e-3, 5e-7), (48000, 40, 25.17e-6, 1e-8)],
)
def test_frequency(count: int, snr_db: float, hertz: float, half: float) -> None:
    assert frequency_bound(count=count, rate=48e3, snr=10.0 ** (snr_db / 10.0)) == pytest.approx(hertz, abs=half)


def test_least_squares_reaches_the_frequency_bound() -> None:
    """The phase slope of a sine in weak noise is an efficient estimator: its scatter is the bound's."""
    rng = np.random.default_rng(5)
    count, rate, snr = 480, 48e3, 100.0
    t = np.arange(count) / rate
    noise = rng.standard_normal((2000, count)) + 1j * rng.standard_normal((2000, count))
    # a complex sine of amplitude 1 in noise of variance 1 / snr a sample has eta = snr / 2 in the real sine's terms
    phase = np.unwrap(np.angle(np.exp(2j * np.pi * 3150.0 * t) + noise * np.sqrt(0.5 / snr)), axis=1)
    found = np.polyfit(t, phase.T, 1)[0] / (2.0 * np.pi)
    assert found.std() == pytest.approx(frequency_bound(count=count, rate=rate, snr=2.0 * snr), rel=0.06)


@pytest.mark.parametrize("wrong", [{"duration": 0.0}, {"low": 6000.0}, {"snr": 0.0}])
def test_outside_the_range(wrong: dict[str, float]) -> None:
    with pytest.raises(InputError, match="delay bound"):
        delay_bound(**{"duration": 0.05, "low": 100.0, "high": 5000.0, "snr": 1.0, **wrong})
