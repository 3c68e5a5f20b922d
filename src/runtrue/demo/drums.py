"""The drums, the plates and the hands: every stroke is a short float32 array of shape (frames,)."""

from collections.abc import Callable
from dataclasses import dataclass
from math import pi

import numpy as np

from runtrue.demo.synthesis import Rng, Samples, dying_sines, fall, rise, shaped_noise


def _decay(frames: int, seconds: float, rate: int) -> Samples:
    fall_off: Samples = np.exp(-np.arange(frames, dtype=np.float32) / np.float32(seconds * rate))
    return fall_off


def kick(rng: Rng, rate: int) -> Samples:
    """A head that falls from 130 Hz to 50 Hz and a beater's click."""
    n = int(0.4 * rate)
    t = np.arange(n) / rate
    low = float(rng.uniform(47, 51))
    phase = 2 * pi * (low * t + 80.0 * 0.022 * (1.0 - np.exp(-t / 0.022)))
    out = (np.sin(phase) * np.exp(-t / 0.11)).astype(np.float32)
    c = int(0.008 * rate)
    click = shaped_noise(rng, c, rate, ((500, -6), (2500, 0), (7000, -10), (14000, -40)))
    out[:c] += 0.35 * click * _decay(c, 0.002, rate)
    return fall(rise(out, 0.0006, rate), 0.05, rate)


def snare(rng: Rng, rate: int) -> Samples:
    """Two drum modes and the wires under them."""
    n = int(0.32 * rate)
    tone = dying_sines(
        np.array([182.0, 331.0, 430.0]) * float(rng.uniform(0.99, 1.01)),
        np.array([0.5, 0.35, 0.15]),
        np.array([22.0, 30.0, 38.0]),
        rng.uniform(0, 2 * pi, 3),
        frames=n,
        rate=rate,
    )
    wires = shaped_noise(rng, n, rate, ((150, -30), (900, -8), (2500, 0), (7000, 0), (12000, -6), (20000, -18)))
    out = tone + 0.24 * wires * (0.75 * _decay(n, 0.055, rate) + 0.25 * _decay(n, 0.012, rate))
    return fall(rise(out, 0.0004, rate), 0.05, rate)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Plate:
    """A plate: how long it sounds [s], its partials between two frequencies [Hz], how many, and hiss re partials."""

    seconds: float
    low: float
    high: float
    partials: int
    hiss: float = 1.0


def _metal(rng: Rng, rate: int, plate: _Plate) -> Samples:
    n = int(plate.seconds * rate)
    tone = dying_sines(
        plate.low * (plate.high / plate.low) ** rng.random(plate.partials),
        np.full(plate.partials, plate.partials**-0.5),
        rng.uniform(2.5, 7.0, plate.partials) / plate.seconds,
        rng.uniform(0, 2 * pi, plate.partials),
        frames=n,
        rate=rate,
    )
    edges = ((plate.low / 2, -30), (plate.low, -6), (plate.high, 0), (16000, -6), (22000, -20))
    return tone + plate.hiss * shaped_noise(rng, n, rate, edges) * _decay(n, plate.seconds / 5.0, rate)


def hat(rng: Rng, rate: int) -> Samples:
    """Two small plates, closed."""
    return fall(
        rise(0.22 * _metal(rng, rate, _Plate(seconds=0.11, low=5200.0, high=13000.0, partials=18)), 0.0003, rate),
        0.02,
        rate,
    )


def open_hat(rng: Rng, rate: int) -> Samples:
    """Two small plates, open."""
    return fall(
        rise(0.2 * _metal(rng, rate, _Plate(seconds=0.5, low=4800.0, high=13000.0, partials=26)), 0.0004, rate),
        0.1,
        rate,
    )


def foot(rng: Rng, rate: int) -> Samples:
    """Two small plates closed by foot."""
    return fall(
        rise(
            0.16 * _metal(rng, rate, _Plate(seconds=0.09, low=3500.0, high=9000.0, partials=14, hiss=0.7)), 0.002, rate
        ),
        0.02,
        rate,
    )


def ride(rng: Rng, rate: int) -> Samples:
    """A large plate struck with the tip."""
    out = 0.13 * _metal(rng, rate, _Plate(seconds=1.4, low=2400.0, high=12000.0, partials=40, hiss=0.6))
    c = int(0.03 * rate)
    out[:c] += 0.22 * shaped_noise(rng, c, rate, ((1500, -10), (4500, 0), (12000, -6))) * _decay(c, 0.006, rate)
    return fall(rise(out, 0.0004, rate), 0.4, rate)


def crash(rng: Rng, rate: int) -> Samples:
    """A thin plate struck with the shoulder."""
    return fall(
        rise(0.3 * _metal(rng, rate, _Plate(seconds=2.6, low=900.0, high=13000.0, partials=60)), 0.004, rate), 0.9, rate
    )


def rim(rng: Rng, rate: int) -> Samples:
    """A stick across the rim."""
    n = int(0.07 * rate)
    out = dying_sines(
        np.array([820.0, 1740.0, 2550.0]), np.array([0.5, 0.5, 0.3]), np.array([90.0, 110.0, 150.0]),
        rng.uniform(0, 2 * pi, 3), frames=n, rate=rate,
    )  # fmt: skip
    out += 0.12 * shaped_noise(rng, n, rate, ((1000, -6), (4000, 0), (12000, -20))) * _decay(n, 0.004, rate)
    return fall(rise(out, 0.0003, rate), 0.02, rate)


def _tom(f0: float) -> Callable[[Rng, int], Samples]:
    def tom(rng: Rng, rate: int) -> Samples:
        n = int(0.5 * rate)
        t = np.arange(n) / rate
        out = (np.sin(2 * pi * (f0 * t + f0 * 0.3 * 0.03 * (1 - np.exp(-t / 0.03)))) * np.exp(-t / 0.13)).astype(
            np.float32
        )
        skin = shaped_noise(rng, n, rate, ((200, -4), (1200, 0), (5000, -14), (14000, -40)))
        return fall(rise(out + 0.14 * skin * _decay(n, 0.018, rate), 0.0006, rate), 0.1, rate)

    return tom


def brush(rng: Rng, rate: int) -> Samples:
    """A short sweep of wires over the head."""
    n = int(0.3 * rate)
    wires = shaped_noise(rng, n, rate, ((250, -18), (1200, -4), (3500, 0), (8000, -3), (16000, -14)))
    t = np.arange(n, dtype=np.float32) / n
    return (0.3 * wires * (t**0.5) * (1 - t) ** 2 * 2.5).astype(np.float32)


def clap(rng: Rng, rate: int) -> Samples:
    """Two hands."""
    n = int(0.035 * rate)
    centre = float(np.exp(rng.normal(np.log(1500.0), 0.35)))
    noise = shaped_noise(
        rng, n, rate, ((centre / 6, -30), (centre / 1.6, -5), (centre, 0), (centre * 3, -9), (18000, -26))
    )
    return fall(rise(noise * _decay(n, float(rng.uniform(0.003, 0.008)), rate), 0.0005, rate), 0.005, rate)


DRUMS: dict[str, Callable[[Rng, int], Samples]] = {
    "kick": kick, "snare": snare, "hat": hat, "open_hat": open_hat, "foot": foot, "ride": ride, "crash": crash,
    "rim": rim, "brush": brush, "clap": clap, "tom_high": _tom(175.0), "tom_mid": _tom(128.0), "tom_low": _tom(88.0),
}  # fmt: skip
