"""Weightings in use: gains on spectra, series without delay, and the meter against its slow rule."""

import numpy as np
import numpy.typing as npt
import pytest

from runtrue.errors import InputError, UnknownNameError
from runtrue.signal.weighting import (
    QuasiPeak,
    a_weighting,
    bs468_weighting,
    flutter_weighting,
    gains,
    rumble_band,
    two_sigma,
    weigh,
    weigh_spectra,
    weighted_power,
)

RATE = 48_000
Array = npt.NDArray[np.float64]


def _noise(seconds: float, channels: int = 1, seed: int = 2) -> Array:
    return np.random.default_rng(seed).standard_normal((round(seconds * RATE), channels))


@pytest.mark.parametrize(("curve", "level"), [(a_weighting, -2.05), (bs468_weighting, 7.30)])
def test_white_noise_from_20_hz_to_20_khz(curve: object, level: float) -> None:
    f = np.arange(20.0, 20_000.0, 1.0)
    power = 10.0 ** (curve(f) / 10.0)  # type: ignore[operator]
    assert 10.0 * np.log10(power.mean()) == pytest.approx(level, abs=0.01)


def test_spectra_keep_their_precision_and_shape() -> None:
    gain = gains(a_weighting, length=1024, rate=RATE)
    assert gain[0] == 0.0
    blocks = _noise(1.0)[:40_960, 0].reshape(40, 1024).astype(np.float32)
    spectra = np.fft.rfft(blocks).astype(np.complex64)
    weighted = weigh_spectra(spectra, gain)
    assert weighted.dtype == np.complex64
    power = weighted_power((np.abs(spectra) ** 2).astype(np.float32), gain)
    assert power.shape == (40,)
    np.testing.assert_allclose(power, (np.abs(weighted) ** 2).sum(axis=1), rtol=1e-4)


@pytest.mark.parametrize("frequency", [100.0, 1000.0, 6300.0])
def test_a_tone_is_weighted_in_place(frequency: float) -> None:
    time = np.arange(RATE) / RATE
    tone = np.sin(2.0 * np.pi * frequency * time)[:, np.newaxis] * np.array([1.0, 0.5])
    weighted = weigh(tone, a_weighting, rate=RATE)
    gain = 10.0 ** (float(a_weighting(frequency)) / 20.0)
    middle = slice(RATE // 4, -RATE // 4)
    np.testing.assert_allclose(weighted[middle], gain * tone[middle], atol=2e-3 * gain)


def test_once_a_turn_keeps_its_weight_to_the_ends() -> None:
    rate, turn = 100.0, 100.0 / 180.0
    time = np.arange(12_000) / rate
    wow = 0.003 * np.sin(2.0 * np.pi * turn * time + 0.3)
    weighted = weigh(wow, flutter_weighting, rate=rate, mirror=10.0)
    inner = weighted[100:-100]
    assert float(np.abs(inner).max()) == pytest.approx(0.003 * 10.0 ** (-10.23 / 20.0), rel=0.05)
    assert two_sigma(inner) == pytest.approx(0.99692 * 0.003 * 10.0 ** (-10.23 / 20.0), rel=0.005)


def _slow_meter(samples: Array) -> Array:
    """The rule sample by sample: charge toward what is above, leak; reading every 10 ms."""
    first = second = np.zeros(samples.shape[1])
    readings = []
    for number, x in enumerate(np.abs(samples), 1):
        first = first * np.exp(-3.44 / RATE) + (1.0 - np.exp(-672.8 / RATE)) * np.maximum(x - first, 0.0)
        second = second * np.exp(-3.16 / RATE) + (1.0 - np.exp(-3.97 / RATE)) * np.maximum(first - second, 0.0)
        if number % 480 == 0:
            readings.append(second)
    return np.array(readings)


@pytest.mark.slow
def test_the_meter_follows_the_slow_rule() -> None:
    samples = _noise(2.5, 4)
    samples[:, 1] *= np.where(np.arange(len(samples)) // 24_000 % 2, 0.02, 1.0)
    samples[:, 2] = 0.0
    samples[::16_000, 2] = 5.0
    samples[:, 3] = np.sin(2.0 * np.pi * 1000.0 * np.arange(len(samples)) / RATE)
    meter = QuasiPeak(4)
    meter.push(samples)
    found, slow = meter.finish(), _slow_meter(samples)
    assert found.shape == slow.shape
    ratio = 20.0 * np.log10(found[100:] / (slow[100:] * np.sqrt(0.5) / 0.53366))
    assert np.abs(ratio).max() < 0.1


def test_any_block_size_the_same_readings() -> None:
    samples = _noise(3.3, 2)
    whole = QuasiPeak(2)
    whole.push(samples)
    parts = QuasiPeak(2)
    for start in range(0, len(samples), 7001):
        parts.push(samples[start : start + 7001])
    np.testing.assert_array_equal(whole.finish(), parts.finish())


def test_a_meter_without_sound_reads_nothing() -> None:
    assert QuasiPeak(2).finish().shape == (0, 2)


def test_refusals() -> None:
    with pytest.raises(InputError, match="frequency must be 0 Hz or more, got -1 Hz"):
        a_weighting(-1.0)
    with pytest.raises(InputError, match="length must be 1 or more"):
        gains(a_weighting, length=0, rate=RATE)
    with pytest.raises(InputError, match="1 sample or more"):
        weigh(np.zeros(0), a_weighting, rate=RATE)
    with pytest.raises(InputError, match="a row of 1 or more"):
        two_sigma([])
    with pytest.raises(UnknownNameError, match="known are IEC 60098, unweighted since 1987"):
        rumble_band("IEC")
