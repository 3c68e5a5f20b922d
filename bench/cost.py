"""What a side of 20 minutes at 96 kHz costs: time as R + kF measured in the same run, and the largest memory held.

R: reading the capture's FLAC once (24 bit, blocks of 65,536, float32). F: one float32 ``scipy.fft.rfft`` pass over it,
blocks of 65,536, 16 a call. Each stands in a process of its own that does nothing else.
"""

import resource
import sys
import time
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from multiprocessing import get_context
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import soundfile
from scipy import fft

from runtrue.capture import open_sound
from runtrue.demo.composer import compose_blocks
from runtrue.disc.arm import Arm
from runtrue.forward import Disc, Play, Player, RandomWow, Recorder, Surface, render_to_file
from runtrue.listen import hear
from runtrue.listen.setting import Setting
from runtrue.types import silent

RATE = 96_000
LIMIT_BYTES = 1 << 30
_BLOCK = 65_536
_CALL = 16


@dataclass(frozen=True, slots=True, kw_only=True)
class Cost:
    """Seconds and bytes of judging one side."""

    seconds: float
    read: float
    transform: float
    memory: int
    before: int
    """Bytes held after the imports, before the side was opened."""

    def words(self) -> str:
        """Time as R + kF, and memory."""
        passes = (self.seconds - self.read) / self.transform
        return (
            f"{self.seconds:.1f} s = R + {passes:.0f} F (R {self.read:.2f} s, F {self.transform:.2f} s; capture and "
            f"reference both read); {self.memory / 2**20:.0f} MiB at most, of them {self.before / 2**20:.0f} MiB "
            "before the start"
        )


def measure(folder: str, minutes: float) -> Cost:
    """Make a side of ``minutes`` in ``folder``, judge it and take the yardsticks, each in a process of its own."""
    with ProcessPoolExecutor(1, mp_context=get_context("spawn")) as pool:
        pool.submit(make_side, folder, minutes).result()
    with ProcessPoolExecutor(1, mp_context=get_context("spawn")) as pool:
        seconds, memory, before = pool.submit(judge_side, folder, minutes).result()
    read, transform = yardsticks(folder)
    return Cost(seconds=seconds, read=read, transform=transform, memory=memory, before=before)


def make_side(folder: str, minutes: float) -> None:
    """Write reference and capture."""
    seconds = 60.0 * minutes
    path = Path(folder)
    with soundfile.SoundFile(path / "reference.flac", "w", RATE, 2, "PCM_24") as file:
        for block in compose_blocks("band", seconds, 5, RATE):
            file.write(block)
    play = Play(
        disc=Disc(turn_frequency=100.0 / 180.0, start_radius=0.146, end_radius=_end(seconds), offset=120e-6,
                  direction=1.0, surface=Surface(level_db=-50.0, re="programme")),
        player=Player(speed=0.002, wow=RandomWow(density=2e-5)), recorder=Recorder(lead_in=4.0),
    )  # fmt: skip
    render_to_file(path / "reference.flac", path / "capture.flac", play, seed=5)


def _end(seconds: float) -> float:
    return 0.146 - 0.125e-3 * seconds * 100.0 / 180.0


def judge_side(folder: str, minutes: float) -> tuple[float, int, int]:
    """Seconds, largest memory and memory before [bytes] of one listening test."""
    path = Path(folder)
    setting = Setting(
        turn_frequency=100.0 / 180.0, start_radius=0.146, start_radius_u95=1e-4, end_radius=_end(60.0 * minutes),
        end_radius_u95=1e-4, pitch=0.125e-3, pitch_spread=0.3, arm=Arm(offset=0.0), player_swing=0.0,
        hole=(7.24e-3, 7.33e-3), spindle=(7.05e-3, 7.15e-3),
    )  # fmt: skip
    before = _largest_memory()
    begin = time.perf_counter()
    with TemporaryDirectory() as work:
        hear(
            open_sound(path / "capture.flac"), open_sound(path / "reference.flac"), setting,
            workspace=Path(work), progress=silent,
        )  # fmt: skip
    seconds = time.perf_counter() - begin
    return seconds, _largest_memory(), before


def _largest_memory() -> int:
    """Largest resident memory of this process so far [bytes]."""
    unit = 1 if sys.platform == "darwin" else 1024
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * unit


def yardsticks(folder: str) -> tuple[float, float]:
    """R and F [s], best of three."""
    return min(_read(folder) for _ in range(3)), min(_transform(folder) for _ in range(3))


def _read(folder: str) -> float:
    buffer = np.empty((_BLOCK, 2), dtype=np.float32)
    begin = time.perf_counter()
    with soundfile.SoundFile(Path(folder) / "capture.flac") as file:
        while file.buffer_read_into(buffer, "float32") == _BLOCK:
            pass
    return time.perf_counter() - begin


def _transform(folder: str) -> float:
    frames = soundfile.info(str(Path(folder) / "capture.flac")).frames
    data = np.random.default_rng(1).standard_normal((_CALL, _BLOCK), dtype=np.float32)
    calls = max(1, round(2 * frames / data.size))
    begin = time.perf_counter()
    for _ in range(calls):
        fft.rfft(data, workers=1)
    return (time.perf_counter() - begin) * 2 * frames / (calls * data.size)
