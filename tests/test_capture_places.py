"""Needle and programme found from levels: make a play, find its moments, say nothing where nothing shows."""

import numpy as np
import numpy.typing as npt
import pytest

from runtrue.capture import PlaceFinder, Places, sound_from_array

pytestmark = pytest.mark.sound

RATE = 44_100
Samples = npt.NDArray[np.float64]


def _play(
    *,
    down: float = 1.3,
    start: float = 4.2,
    end: float = 16.6,
    up: float = 20.1,
    length: float = 22.0,
    surface_db: float = -55.0,
    idle_db: float = -85.0,
    fade: float = 0.0,
) -> Samples:
    """A play with thumps, surface noise, ticks, rumble and a programme that breathes."""
    rng = np.random.default_rng(3)
    count = round(length * RATE)
    time = np.arange(count) / RATE
    sound = 10.0 ** (idle_db / 20.0) * rng.standard_normal((count, 2))
    groove = ((time >= down) & (time < up))[:, np.newaxis]
    sound += groove * 10.0 ** (surface_db / 20.0) * rng.standard_normal((count, 2))
    sound += groove * 0.005 * np.sin(2.0 * np.pi * 12.0 * time)[:, np.newaxis]
    for tick in rng.integers(round(down * RATE), round(up * RATE) - 20, 50):
        sound[tick : tick + 20] += 0.1 * rng.standard_normal((20, 2))
    for thump in (down, up):
        after = time - thump
        shape = np.where((after >= 0.0) & (after < 0.15), np.exp(-after.clip(0.0) / 0.03), 0.0)
        sound += (0.5 * shape * np.sin(2.0 * np.pi * 30.0 * after))[:, np.newaxis]
    swell = 0.3 * (0.6 + 0.4 * np.sin(2.0 * np.pi * 0.7 * time)) * ((time >= start) & (time < end))
    if fade:
        swell = swell * np.clip((end - time) / fade, 0.0, 1.0)
    tones = sum(np.sin(2.0 * np.pi * f * time + f) / np.sqrt(f / 110.0) for f in (110.0, 223.0, 441.0, 1760.0))
    sound += (swell * (0.4 * tones))[:, np.newaxis] + 0.02 * swell[:, np.newaxis] * rng.standard_normal((count, 2))
    return sound


def _find(samples: Samples, *, size: int = 10_000) -> Places:
    sound = sound_from_array(samples, RATE)
    finder = PlaceFinder(rate=RATE, channels=sound.channels)
    for block in sound.blocks(size):
        finder.push(block)
    return finder.finish()


@pytest.mark.parametrize(("surface_db", "idle_db"), [(-55.0, -85.0), (-65.0, -95.0), (-42.0, -80.0), (-55.0, -300.0)])
def test_a_whole_play(surface_db: float, idle_db: float) -> None:
    found = _find(_play(surface_db=surface_db, idle_db=idle_db))
    for moment, true in (
        (found.needle_down, 1.3),
        (found.programme_start, 4.2),
        (found.programme_end, 16.6),
        (found.needle_up, 20.1),
    ):
        assert moment is not None
        assert moment.u95 <= 0.25
        assert abs(moment.at - true) <= moment.u95
    assert found.lead_in is not None
    assert found.lead_out is not None
    assert 1.3 < found.lead_in[0] < found.lead_in[1] <= 4.2
    assert 16.6 <= found.lead_out[0] < found.lead_out[1] < 20.1


def test_any_block_size_the_same_answer() -> None:
    samples = _play()
    first = _find(samples, size=997)
    assert all(_find(samples, size=size) == first for size in (4096, 10**6))


def test_a_fade_is_less_sure() -> None:
    found = _find(_play(fade=4.0))
    assert found.programme_end is not None
    assert found.programme_end.u95 > 0.1
    assert abs(found.programme_end.at - 16.6) <= found.programme_end.u95


def test_a_recording_cut_to_the_programme_shows_nothing() -> None:
    found = _find(_play(down=0.0, start=0.0, end=12.0, up=12.0, length=12.0))
    assert found == Places(
        needle_down=None, lead_in=None, programme_start=None, programme_end=None, lead_out=None, needle_up=None
    )


def test_programme_from_the_first_groove_is_not_taken_for_a_lead_in() -> None:
    found = _find(_play(start=1.3))
    assert found.lead_in is None
    assert found.programme_start is None


@pytest.mark.parametrize("samples", [np.zeros((RATE, 2)), np.zeros((300, 1)), np.ones((3 * RATE, 1))])
def test_nothing_to_find(samples: Samples) -> None:
    found = _find(samples)
    assert found.needle_down is None
    assert found.programme_start is None
    assert found.programme_end is None
