"""Ticks and trains against the maker's truth; a tick counts as prominent by the maker's exact noise alone."""

import numpy as np
import pytest

from bench.prominence import prominence_db
from runtrue.forward import Pulse, Tick, Train
from runtrue.types import Channel
from tests.truth.listened import Listened, level_db, listen, piece, record

pytestmark = pytest.mark.sound

SECONDS = 25.0
PROMINENT_DB = 20.0
WITHIN_S = 1e-3
WALLS = {"lateral": Channel.LATERAL, "vertical": Channel.VERTICAL, "left": Channel.LEFT, "right": Channel.RIGHT}


def many(surface_db: float, seed: int) -> list[Tick]:
    """Twelve ticks of many shapes, 10 to 45 dB above the surface noise, two seconds apart."""
    rng = np.random.default_rng(seed)
    return [
        Tick(
            programme_time=float(at + rng.uniform(-0.5, 0.5)), peak_db=surface_db + float(rng.uniform(10.0, 45.0)),
            axis=str(rng.choice(list(WALLS))), sign=int(rng.choice([-1, 1])),  # type: ignore[arg-type]
            pulse=Pulse(width=float(rng.uniform(10e-6, 50e-6)), resonance=float(rng.uniform(2000.0, 12_000.0))),
        )
        for at in np.linspace(1.5, SECONDS - 1.5, 12)
    ]  # fmt: skip


def missed(got: Listened) -> list[str]:
    """Prominent ticks that are not listed."""
    times = np.array([t.programme_time for t in got.heard.ticks or ()] or [-1e9])
    return [
        f"{t.axis} at {t.programme_time:.3f} s"
        for t in got.made.truth.ticks
        if np.abs(times - t.programme_time).min() > WITHIN_S
        and prominence_db(got.made.noise, got.made.rate, t) >= PROMINENT_DB
    ]


def false(got: Listened) -> list[str]:
    """Events where the maker made none."""
    true = np.array([t.programme_time for t in got.made.truth.ticks])
    return [
        f"{t.programme_time:.3f} s, {t.prominence:.1f} dB"
        for t in got.heard.ticks or ()
        if np.abs(true - t.programme_time).min() > 3.0 * WITHIN_S
    ]


@pytest.mark.parametrize(("character", "seed"), [("applause", 3), ("hard_clipped", 4)])
def test_prominent_ticks_are_found_and_nothing_else(character: str, seed: int) -> None:
    reference = piece(character, SECONDS)
    disc = record(reference, seconds=SECONDS, ticks=many(level_db(reference) - 50.0, seed))
    got = listen(reference, disc)
    assert missed(got) == []
    assert false(got) == []
    assert got.heard.threshold_raised is not None
    for tick in got.heard.ticks or ():
        assert tick.waveform is not None
        assert tick.waveform.shape == (2, 97)
        assert abs(int(np.abs(tick.waveform.astype(float)).max(axis=0).argmax()) - 48) <= 24
    assert got.heard.threshold_raised < 0.1


def test_the_wall_is_named_and_the_height_is_right() -> None:
    reference = piece("band", SECONDS)
    top = level_db(reference) - 8.0
    places = dict(zip(WALLS, (4.0, 9.0, 14.0, 19.0), strict=True))
    ticks = [Tick(programme_time=at, peak_db=top, axis=axis) for axis, at in places.items()]  # type: ignore[arg-type]
    got = listen(reference, record(reference, seconds=SECONDS, ticks=ticks))
    heard = got.heard.ticks or ()
    assert [t.channel for t in heard] == [WALLS[axis] for axis in places]
    for tick, at in zip(heard, places.values(), strict=True):
        assert tick.programme_time == pytest.approx(at, abs=2e-4)
        exact = next(t for t in got.made.truth.ticks if t.programme_time == at)
        assert tick.prominence == pytest.approx(prominence_db(got.made.noise, got.made.rate, exact), abs=3.0)


def test_a_scratch_is_a_train() -> None:
    reference = piece("band", SECONDS)
    scratch = Train(programme_time=5.0, count=9, peak_db=level_db(reference) - 10.0)
    got = listen(reference, record(reference, seconds=SECONDS, trains=(scratch,)))
    (train,) = got.heard.trains or ()
    (true,) = got.made.truth.trains
    assert len(train.members) == true.count
    assert train.period == pytest.approx(true.period, abs=1e-3)
