"""Whatever the size of the blocks a sound is read in, the answer is the same."""

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from runtrue.capture import sound_from_array
from runtrue.demo.composer import compose
from runtrue.disc.arm import Arm
from runtrue.forward import Disc, Play, Player, Recorder, Surface, Tick, render
from runtrue.listen import engine, hear
from runtrue.listen.heard import Heard
from runtrue.listen.setting import Setting
from runtrue.types import silent

pytestmark = pytest.mark.sound

SETTING = Setting(
    turn_frequency=5 / 9, start_radius=0.146, start_radius_u95=1e-4, end_radius=0.144, end_radius_u95=1e-4,
    pitch=1.25e-4, pitch_spread=0.3, arm=Arm(offset=0.0), player_swing=0.0, hole=(7.24e-3, 7.33e-3),
    spindle=(7.05e-3, 7.15e-3),
)  # fmt: skip


@pytest.fixture(scope="module")
def pair() -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    reference = compose("band", 20.0, 3, 48_000)
    disc = Disc(
        turn_frequency=5 / 9, start_radius=0.146, end_radius=0.144, offset=150e-6,
        surface=Surface(level_db=-65.0), ticks=(Tick(programme_time=9.3, peak_db=-25.0),),
    )  # fmt: skip
    play = Play(disc=disc, player=Player(speed=2e-3), recorder=Recorder(lead_in=2.0))
    return render(reference, 48_000, play, seed=4, capture_rate=44_100, parts=False).capture, reference


def judged(
    pair: tuple[NDArray[np.float32], NDArray[np.float32]], block: int, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> Heard:
    monkeypatch.setattr(engine, "_BLOCK", block)
    return hear(
        sound_from_array(pair[0], 44_100), sound_from_array(pair[1], 48_000), SETTING, workspace=folder, progress=silent
    )


def numbers(heard: Heard) -> Iterator[float]:
    assert heard.centre.played is not None
    assert heard.ticks is not None
    assert heard.programme.start is not None
    yield from (heard.centre.played.x * 1e6, heard.centre.played.y * 1e6, heard.programme.start)
    yield from (float(m.value) for m in heard.scalars if isinstance(m.value, float))
    for tick in heard.ticks:
        yield from (tick.programme_time, tick.prominence, tick.peak)


def test_any_block_size(
    pair: tuple[NDArray[np.float32], NDArray[np.float32]], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    first = judged(pair, 65_536, tmp_path, monkeypatch)
    second = judged(pair, 1_777, tmp_path, monkeypatch)
    assert len(first.ticks or ()) == 1
    assert list(numbers(second)) == pytest.approx(list(numbers(first)), rel=1e-6, abs=1e-6)
    assert replace(first.programme, start=0.0) == replace(second.programme, start=0.0)
