"""The audit: spoil a sound in a known way, find it; the same answer for any block size."""

from dataclasses import replace
from math import inf

import numpy as np
import numpy.typing as npt
import pytest

from runtrue.capture import Audit, Auditor, sound_from_array

pytestmark = pytest.mark.sound

RATE = 44_100
Samples = npt.NDArray[np.float64]


def _audit(samples: Samples, *, size: int = 10_000, rate: int = RATE) -> Audit:
    sound = sound_from_array(samples, rate)
    auditor = Auditor(rate=rate, channels=sound.channels)
    for block in sound.blocks(size):
        auditor.push(block)
    return auditor.finish()


def _music(seconds: float = 3.0, *, channels: int = 2, level: float = 0.1, seed: int = 1) -> Samples:
    """Noise in 16 bits."""
    noise = level * np.random.default_rng(seed).standard_normal((round(seconds * RATE), channels))
    return np.round(np.clip(noise, -0.9, 0.9) * 32768.0) / 32768.0


def test_a_sound_recording_needs_no_caution() -> None:
    found = _audit(_music())
    assert found.cautions == ()
    assert found.clipped.count == found.dropouts.count == found.silences.count == 0
    assert found.hum is None
    assert found.level == pytest.approx((-20.0, -20.0), abs=0.1)
    assert found.duration == pytest.approx(3.0)


def test_any_block_size_the_same_answer() -> None:
    samples = _music(5.0)
    samples[RATE : RATE + 12, 0] = 0.99
    samples[2 * RATE : 2 * RATE + 5000] = 0.0
    for i in range(40):  # some of these lie across the edges of the audit's own frames
        start = 3 * RATE + i * 1103
        samples[start : start + 15] = samples[start]
    first = _audit(samples, size=1009)
    assert first.dropouts.count >= 38
    for size in (4096, 22_050, 10**6):
        other = _audit(samples, size=size)
        assert replace(other, level=(), offset=()) == replace(first, level=(), offset=())
        assert other.level == pytest.approx(first.level, abs=1e-9)


@pytest.mark.parametrize("length", [3, 40, 2000])
def test_clipping(length: int) -> None:
    samples = _music()
    samples[50_000 : 50_000 + length, 1] = -0.97
    found = _audit(samples)
    assert found.clipped.count == 1
    assert found.clipped.total == pytest.approx(length / RATE)
    assert found.clipped.first[0].start == pytest.approx(50_000 / RATE)
    assert found.clipped.first[0].channel == "R"
    assert found.dropouts.count == 0
    assert "clipped in 1 place (" in found.cautions[0]
    assert "first at 1.134 s on the right: turn the recorder down" in found.cautions[0]


def test_a_square_wave_is_all_clipping() -> None:
    time = np.arange(2 * RATE) / RATE
    found = _audit(np.sign(np.sin(2.0 * np.pi * 441.0 * (time + 1e-5)))[:, np.newaxis])
    assert found.clipped.total == pytest.approx(2.0, abs=0.01)
    assert found.peak == (1.0,)
    assert found.level == pytest.approx((0.0,), abs=0.01)
    assert found.dropouts.count == 0


@pytest.mark.parametrize(("frequency", "level"), [(20.0, 0.97), (20.0, 0.5), (997.0, 0.97), (50.0, 0.01)])
def test_the_top_of_a_slow_wave_is_neither_clipped_nor_held(frequency: float, level: float) -> None:
    wave = level * np.sin(2.0 * np.pi * frequency * np.arange(3 * RATE) / RATE)
    found = _audit(np.round(wave * 32768.0)[:, np.newaxis] / 32768.0)
    assert found.clipped.count == 0
    assert found.dropouts.count == 0


@pytest.mark.parametrize("length", [8, 100, 4000])
@pytest.mark.parametrize("held", [True, False])
def test_dropouts(length: int, held: bool) -> None:
    samples = _music()
    where = 77_777
    samples[where + 1 : where + length] = samples[where] if held else 0.0
    if not held:
        samples[where] = 0.0
    found = _audit(samples)
    assert found.dropouts.count == 1
    assert found.dropouts.first[0].start == pytest.approx(where / RATE)
    assert found.dropouts.first[0].duration == pytest.approx(length / RATE)
    assert found.dropouts.first[0].channel == "both"
    assert "the disc is not to blame" in found.cautions[0]


def test_quiet_16_bit_sound_is_no_dropout() -> None:
    assert _audit(_music(level=1e-5)).dropouts.count == 0


@pytest.mark.parametrize(("start", "length"), [(0, 4410), (100_000, 20_000), (120_000, 12_300), (30_001, 90_000)])
def test_digital_silence(start: int, length: int) -> None:
    samples = _music()
    samples[start : start + length] = 0.0
    found = _audit(samples)
    assert found.silences.count == 1
    assert found.silences.first[0].start == pytest.approx(start / RATE)
    assert found.silences.total == pytest.approx(min(length, len(samples) - start) / RATE)
    assert found.dropouts.count == 0


def test_silence_must_be_in_both_channels_and_last() -> None:
    samples = _music()
    samples[10_000:40_000, 0] = 0.0
    samples[60_000:64_000] = 0.0
    assert _audit(samples).silences.count == 0


def test_nothing_but_silence() -> None:
    found = _audit(np.zeros((RATE, 2)))
    assert found.level == (-inf, -inf)
    assert found.peak == (0.0, 0.0)
    assert found.dead == ("L", "R")
    assert not found.twins
    assert found.cautions == ("The recording is silent from end to end: check the cable and the recorder's input.",)


@pytest.mark.parametrize(("mains", "parts"), [(50, (50, 150)), (60, (60, 120, 180))])
def test_hum(mains: int, parts: tuple[int, ...]) -> None:
    samples = _music(16.0)
    samples[: 8 * RATE] *= 0.01  # the lead-in
    time = np.arange(len(samples)) / RATE
    for part in parts:
        samples += 0.002 * np.sin(2.0 * np.pi * 1.0004 * part * time)[:, np.newaxis]
    found = _audit(samples)
    assert found.hum is not None
    assert found.hum.mains == mains
    assert found.hum.level == pytest.approx(10.0 * np.log10(len(parts) * 0.002**2 / 2.0), abs=0.3)


def test_offset_and_peaks_beyond_full_scale() -> None:
    samples = _music()
    samples[:, 1] += 0.02
    samples[5, 0] = 1.25
    found = _audit(samples)
    assert found.offset == pytest.approx((0.0, 0.02), abs=0.001)
    assert "A constant offset of 2.0 % of full scale lies in the right channel." in found.cautions
    assert "Peaks reach 1.25 times full scale; another program will clip them." in found.cautions


def test_twins() -> None:
    mono = _music(channels=1)
    assert _audit(np.repeat(mono, 2, axis=1)).twins
    assert _audit(np.hstack((mono, mono + 1e-5 * _music(channels=1, seed=2)))).twins
    assert not _audit(np.hstack((mono, mono + 0.01 * _music(channels=1, level=1.0, seed=2)))).twins
    assert not _audit(np.hstack((mono, -mono))).twins


def test_a_dead_channel() -> None:
    samples = _music()
    samples[:, 0] *= 0.001
    found = _audit(samples)
    assert found.dead == ("L",)
    assert "There is no sound in the left channel: check the cartridge leads and the plugs." in found.cautions


def test_places_are_limited_but_counted() -> None:
    samples = _music(3.0)
    for i in range(60):
        samples[1000 + 2000 * i : 1020 + 2000 * i] = 0.0
    found = _audit(samples)
    assert found.dropouts.count == 60
    assert len(found.dropouts.first) == 20


def test_very_short_sound() -> None:
    assert _audit(_music(0.001)).duration == pytest.approx(0.001, abs=1e-4)
