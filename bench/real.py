"""Real music and a real record's surface, where Debian packages that hold some are installed: no bench fetches them."""

import shutil
import subprocess
from dataclasses import replace
from math import pi
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import soundfile
import soxr
from numpy.typing import NDArray

from bench.judged import Outcome, measured
from bench.scenes import HOLE, SPINDLE, SURFACE_DB
from runtrue.capture import sound_from_array
from runtrue.disc.arm import Arm
from runtrue.forward import Disc, Play, Player, RandomWow, Recorder, Tick
from runtrue.forward.sound import render
from runtrue.listen import hear
from runtrue.listen.setting import Setting
from runtrue.types import silent

MUSIC_PACKAGE, SURFACE_PACKAGE = "hyperrogue-music", "sonic-pi-samples"
RATE = 44_100
SECONDS = 60.0
_LONGEST = 12


def files(package: str, *suffixes: str) -> tuple[Path, ...]:
    """Sound files of an installed Debian package."""
    if shutil.which("dpkg") is None:
        return ()
    listed = subprocess.run(["dpkg", "-L", package], capture_output=True, text=True, check=False).stdout.splitlines()
    return tuple(sorted(p for p in map(Path, listed) if p.suffix.lower() in suffixes and p.is_file()))


def pieces() -> tuple[Path, ...]:
    """Music that is long enough."""
    long = [
        p for p in files(MUSIC_PACKAGE, ".ogg", ".mp3", ".flac") if soundfile.info(str(p)).duration > SECONDS + 30.0
    ]
    return tuple(long[:_LONGEST])


def surface_file() -> Path | None:
    """A recording of a record's surface."""
    return next((p for p in files(SURFACE_PACKAGE, ".flac", ".wav") if "vinyl_hiss" in p.name), None)


def _read(path: Path, start: float, seconds: float) -> NDArray[np.float32]:
    with soundfile.SoundFile(path) as file:
        file.seek(min(round(start * file.samplerate), file.frames))
        sound = file.read(round(seconds * file.samplerate), dtype="float32", always_2d=True)
        rate = file.samplerate
    sound = np.repeat(sound, 2, axis=1) if sound.shape[1] == 1 else sound[:, :2]
    return np.asarray(soxr.resample(sound, rate, RATE), dtype=np.float32)


def _surface(path: Path, count: int, level: float) -> NDArray[np.float32]:
    """Noise with the spectrum of the recording, both channels apart, (count, 2) of rms ``level`` above 200 Hz."""
    hiss = _read(path, 0.0, 60.0)[:, 0].astype(np.float64)
    frames = np.lib.stride_tricks.sliding_window_view(hiss, 4096)[::2048] * np.hanning(4096)
    # the median over frames leaves the recording's own ticks out
    shape = np.sqrt(np.median(np.abs(np.fft.rfft(frames, axis=1)) ** 2, axis=0))
    frequency = np.fft.rfftfreq(count, 1.0 / RATE)
    gain = np.where(frequency > 200.0, np.interp(frequency, np.fft.rfftfreq(4096, 1.0 / RATE), shape), 0.0)
    white = np.random.default_rng(9).standard_normal((2, count))
    noise = np.fft.irfft(np.fft.rfft(white, axis=1) * gain, count, axis=1)
    return np.asarray((noise * (level / noise.std())).T, dtype=np.float32)


def run(index: int) -> Outcome:
    """Play and judge one piece."""
    path, surface = pieces()[index], surface_file()
    assert surface is not None
    rng = np.random.default_rng([index, 5])
    reference = _read(path, 20.0, SECONDS)
    level = float(np.sqrt(np.mean(reference**2)))
    floor = 20.0 * float(np.log10(level)) + SURFACE_DB
    ticks = tuple(
        Tick(programme_time=float(t + rng.uniform(0.0, 3.0)), peak_db=floor + float(rng.uniform(15.0, 40.0)))
        for t in np.arange(3.0, SECONDS - 6.0, 5.0)
    )
    end = 0.140 - 0.125e-3 * SECONDS * 100.0 / 180.0
    play = Play(
        disc=Disc(turn_frequency=100.0 / 180.0, start_radius=0.140, end_radius=end, ticks=ticks,
                  offset=float(rng.uniform(20e-6, 300e-6)), direction=float(rng.uniform(0.0, 2.0 * pi))),
        player=Player(speed=float(rng.uniform(-0.004, 0.004)), wow=RandomWow(density=2e-5)), recorder=Recorder(),
    )  # fmt: skip
    made = render(reference, RATE, play, seed=index)
    noise = _surface(surface, len(made.capture), level * 10.0 ** (SURFACE_DB / 20.0))
    made = replace(made, capture=made.capture + noise, background=noise)
    setting = Setting(
        turn_frequency=100.0 / 180.0, start_radius=0.140, start_radius_u95=1e-4, end_radius=end, end_radius_u95=1e-4,
        pitch=0.125e-3, pitch_spread=0.3, arm=Arm(offset=0.0), player_swing=0.0, hole=HOLE, spindle=SPINDLE,
    )  # fmt: skip
    with TemporaryDirectory() as work:
        heard = hear(
            sound_from_array(made.capture, RATE), sound_from_array(reference, RATE), setting,
            workspace=Path(work), progress=silent,
        )  # fmt: skip
    return measured(made, heard, ticks=True)
