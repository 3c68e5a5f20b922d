"""Noise of a record and its player: surface, zones, rumble, hum. Every stream is a function of seed and sample number.

The spectra are shapes for making test sounds, typical of the trade's descriptions, not measured values.
"""

from collections import OrderedDict
from math import pi
from typing import Literal

import numpy as np
import numpy.typing as npt
from scipy import fft
from scipy.interpolate import CubicSpline

from runtrue.forward.faults import Hum, Rumble
from runtrue.forward.geometry import type_f
from runtrue.forward.groove import type_s
from runtrue.forward.timeline import generator

SHAPES: dict[str, tuple[tuple[float, float], ...]] = {
    "vinyl": (
        (10, 6),
        (30, 16),
        (100, 10),
        (200, 7),
        (500, 3),
        (1e3, 0),
        (3e3, -3),
        (8e3, -7),
        (16e3, -12),
        (24e3, -20),
    ),
    "shellac": ((10, -10), (50, -4), (200, -2), (1e3, 0), (3e3, 3), (6e3, 1), (10e3, -6), (16e3, -16), (24e3, -30)),
    "white": ((10, 0), (24e3, 0)),
    "burst": ((300, -60), (700, -12), (1e3, 0), (16e3, 0), (19e3, -12), (24e3, -40)),
}
"""Amplitude density (Hz, dB re 1 kHz) of the noise as heard through the playback characteristic."""
NORMAL_FROM = {"vinyl": 200.0, "shellac": 200.0, "white": 200.0, "burst": 1000.0}
"""Lowest frequency [Hz] of the band in which the noise has rms 1."""
TILE = 1 << 16
SURFACE, ZONE, TEARING, SPIT, RUMBLE, HUM, DITHER, TICKS, WOW_TRACK = 1, 2, 3, 4, 5, 6, 7, 8, 9
"""First words of the streams of random numbers."""


def shape_filter(shape: str, rate: float) -> type_f:
    """Taps of a linear-phase filter that turns white noise of variance 1 into the shape with rms 1 in its band."""
    taps = 2 * int(0.02 * rate) + 1
    n = 1 << int(np.ceil(np.log2(8 * taps)))
    f = np.asarray(fft.rfftfreq(n, 1.0 / rate), dtype=np.float64)
    hz, db = np.array(SHAPES[shape]).T
    gain = 10.0 ** (np.interp(np.log(np.maximum(f, 1.0)), np.log(hz), db) / 20.0)
    long = np.roll(np.asarray(fft.irfft(gain, n), dtype=np.float64), taps // 2)[:taps] * np.hanning(taps + 2)[1:-1]
    made = np.abs(np.asarray(fft.rfft(long, n))) ** 2
    band = f >= NORMAL_FROM[shape]
    if shape == "burst":
        band &= f <= 16e3
    return np.asarray(long / np.sqrt(2.0 * made[band].sum() / n), dtype=np.float64)


class Noise:
    """Endless noise of one shape, independent in its channels, the same whatever block it is asked in."""

    def __init__(self, shape: str, rate: float, seed: int, stream: tuple[int, ...], channels: int = 2) -> None:
        taps = shape_filter(shape, rate)
        self._tail = taps.size - 1
        self._size = int(fft.next_fast_len(TILE + self._tail, real=True))
        self._response = np.asarray(fft.rfft(taps.astype(np.float32), self._size))
        self._seed, self._stream, self._channels = seed, stream, channels
        self._white: OrderedDict[int, type_s] = OrderedDict()
        self._made: OrderedDict[int, type_s] = OrderedDict()

    def _draw(self, k: int) -> type_s:
        if k not in self._white:
            rng = generator(self._seed, *self._stream, k)
            self._white[k] = rng.standard_normal((self._channels, TILE), dtype=np.float32)
            if len(self._white) > 3:
                self._white.popitem(last=False)
        return self._white[k]

    def _tile(self, k: int) -> type_s:
        if k not in self._made:
            joined = np.concatenate([self._draw(k)[:, -self._tail :], self._draw(k + 1)], axis=1)
            spectrum = np.asarray(fft.rfft(joined, self._size, axis=-1)) * self._response
            made = np.asarray(fft.irfft(spectrum, self._size, axis=-1), dtype=np.float32)
            self._made[k] = made[:, self._tail : self._tail + TILE]
            if len(self._made) > 3:
                self._made.popitem(last=False)
        return self._made[k]

    def block(self, start: int, stop: int) -> type_s:
        """Samples [start, stop) of the capture's count, start >= 0, (channels, stop - start)."""
        parts = []
        for k in range(start // TILE, (stop - 1) // TILE + 1):
            parts.append(self._tile(k)[:, max(start - k * TILE, 0) : stop - k * TILE])
        return np.concatenate(parts, axis=1) if len(parts) != 1 else parts[0]


class RumbleNoise:
    """Low random noise over capture time, lateral and vertical parts as splines."""

    def __init__(self, rumble: Rumble, duration: float, seed: int) -> None:
        step = 1.0 / (12.0 * rumble.upper)
        n = int(fft.next_fast_len(int((duration + 2.0) / step) + 16, real=True))
        f = np.asarray(fft.rfftfreq(n, step), dtype=np.float64)
        power = np.zeros_like(f)
        power[1:] = 1.0 / ((1.0 + (rumble.lower / f[1:]) ** 6) * (1.0 + (f[1:] / rumble.upper) ** 6))
        rng = generator(seed, RUMBLE)
        amount = 10.0 ** (rumble.level_db / 20.0)
        self._parts = []
        for share in (1.0 - rumble.vertical_share, rumble.vertical_share):
            z = (rng.standard_normal(f.size) + 1j * rng.standard_normal(f.size)) * np.sqrt(power)
            sound = np.asarray(fft.irfft(z, n), dtype=np.float64)
            # The expected rms, not this draw's, so that a level means the same in every render.
            expected = np.sqrt(4.0 * power.sum()) / n
            self._parts.append(CubicSpline(np.arange(n) * step - 1.0, sound / expected * amount * np.sqrt(share)))

    def block(self, tc: type_f) -> type_s:
        """Left and right at capture times ``tc`` [s]."""
        lateral, vertical = (part(tc) for part in self._parts)
        return np.asarray([lateral + vertical, lateral - vertical], dtype=np.float32)


def hum_block(hum: Hum, tc: type_f, seed: int) -> type_s:
    """The mains family at capture times ``tc`` [s], the same in both channels, (2, len(tc))."""
    levels = 10.0 ** (np.array(hum.harmonics_db) / 20.0)
    levels *= 10.0 ** (hum.level_db / 20.0) / np.sqrt(np.sum(levels**2)) * np.sqrt(2.0)
    phases = generator(seed, HUM).uniform(0.0, 2.0 * pi, levels.size)
    turn = (2.0 * pi * np.mod(hum.frequency * tc, 1.0)).astype(np.float32)
    sound = np.zeros(tc.size, dtype=np.float32)
    for n, (level, phase) in enumerate(zip(levels, phases, strict=True), start=1):
        sound += np.float32(level) * np.sin(np.float32(n) * turn + np.float32(phase))
    return np.broadcast_to(sound, (2, tc.size))


def arc_gate(angle: type_f, start: float, end: float, edge: float) -> type_f:
    """1 inside the arc from ``start`` counter-clockwise to ``end`` [rad], 0 outside, smooth over ``edge`` inside."""
    span = end - start
    if abs(span) >= 2.0 * pi - 1e-9:
        return np.ones_like(angle)
    width = span % (2.0 * pi)
    into = np.mod(angle - start, 2.0 * pi)
    depth = np.minimum(into, width - into) / min(edge, max(width / 2.0, 1e-9))
    return np.asarray(0.5 - 0.5 * np.cos(pi * np.clip(depth, 0.0, 1.0)), dtype=np.float64)


def time_gate(t: type_f, start: float, end: float, edge: float) -> type_f:
    """1 from ``start`` to ``end`` [s], 0 outside, smooth over ``edge`` inside."""
    depth = np.minimum(t - start, end - t) / min(edge, (end - start) / 2.0)
    return np.asarray(0.5 - 0.5 * np.cos(pi * np.clip(depth, 0.0, 1.0)), dtype=np.float64)


def on_axis(axis: Literal["lateral", "vertical", "left", "right"]) -> npt.NDArray[np.float32]:
    """Gain of an event on an axis in the left and right channel, (2,)."""
    gains = {"lateral": (1.0, 1.0), "vertical": (1.0, -1.0), "left": (1.0, 0.0), "right": (0.0, 1.0)}
    return np.array(gains[axis], dtype=np.float32)
