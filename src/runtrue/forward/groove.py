"""What is in the groove and how the stylus and the player change it: the reference, read at any programme time.

The reference is taken in tiles on a fixed grid (so that the block size of the output changes nothing), filtered and
doubled in rate by FFT, and read between its samples with a 16-tap windowed sinc: error below -100 dB to 20 kHz.
"""

from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise
from math import pi
from pathlib import Path
from typing import Any, Protocol

import numpy as np
import numpy.typing as npt
import soundfile
from scipy import fft

from runtrue.errors import InputError, MissingFileError, RecordingError
from runtrue.forward.faults import Play, Stylus
from runtrue.forward.geometry import type_f
from runtrue.forward.timeline import TimeMap

type_s = npt.NDArray[np.float32]
MARGIN = 8192
"""Reference samples read beyond each end of a tile: every filter here has died away within them."""
TILE = 2**17 - 2 * MARGIN
TAPS = 16
PHASES = 2048
KAISER_BETA = 11.5
KEEP = 64
"""Samples kept beyond a tile's end for the reading kernel."""
DRIVE_STEP = 32
"""Samples of the doubled rate per value of the programme's envelope."""
SPIT_FROM = 4000.0
"""The part of the programme [Hz] whose envelope drives mistracking."""


class Source(Protocol):
    """A reference that can be read anywhere; outside its ends it is silent."""

    @property
    def rate(self) -> int:
        """Samples a second."""

    @property
    def frames(self) -> int:
        """Length in samples."""

    def read(self, start: int, count: int) -> type_f:
        """``count`` samples from ``start`` as (2, count)."""


class ArraySource:
    """A reference held in memory, (frames,) or (frames, 1 or 2)."""

    def __init__(self, samples: npt.NDArray[Any], rate: int) -> None:
        data = np.asarray(samples)
        if data.ndim == 1:
            data = data[:, None]
        if data.ndim != 2 or data.shape[1] not in (1, 2) or data.shape[0] == 0:
            raise InputError(f"a reference is (frames,) or (frames, 1 or 2) and not empty, got {np.shape(samples)}")
        if not np.issubdtype(data.dtype, np.floating):
            raise InputError(f"a reference holds floating point samples re full scale 1.0, got {data.dtype}")
        self._data, self._rate = data, int(rate)

    @property
    def rate(self) -> int:
        """Samples a second."""
        return self._rate

    @property
    def frames(self) -> int:
        """Length in samples."""
        return int(self._data.shape[0])

    def read(self, start: int, count: int) -> type_f:
        """``count`` samples from ``start`` as (2, count), silence outside the ends."""
        out = np.zeros((2, count))
        a, b = max(start, 0), min(start + count, self.frames)
        if b > a:
            out[:, a - start : b - start] = self._data[a:b].T
        return out


class FileSource:
    """A reference in a file, read piece by piece."""

    def __init__(self, path: str | Path) -> None:
        if not Path(path).is_file():
            raise MissingFileError(f"reference {path} is not a file: give the path of a WAV, FLAC or AIFF file")
        try:
            self._file = soundfile.SoundFile(str(path))
        except soundfile.LibsndfileError as reason:
            raise RecordingError(f"reference {path} cannot be read ({reason}): give a WAV, FLAC or AIFF file") from None
        if self._file.channels not in (1, 2) or self._file.frames == 0:
            raise RecordingError(
                f"reference {path} has {self._file.channels} channels and {self._file.frames} samples: "
                "it must hold mono or stereo sound"
            )

    @property
    def rate(self) -> int:
        """Samples a second."""
        return int(self._file.samplerate)

    @property
    def frames(self) -> int:
        """Length in samples."""
        return int(self._file.frames)

    def read(self, start: int, count: int) -> type_f:
        """``count`` samples from ``start`` as (2, count), silence outside the ends."""
        out = np.zeros((2, count))
        a, b = max(start, 0), min(start + count, self.frames)
        if b > a:
            self._file.seek(a)
            out[:, a - start : b - start] = self._file.read(b - a, dtype="float64", always_2d=True).T
        return out

    def close(self) -> None:
        """Give the file back."""
        self._file.close()


def mean_power_db(source: Source) -> float:
    """Rms of the reference re full scale [dB], mean power of left and right; -200 for silence."""
    power, step = 0.0, 1 << 20
    for start in range(0, source.frames, step):
        power += float(np.sum(source.read(start, min(step, source.frames - start)) ** 2))
    return float(10.0 * np.log10(max(power / (2.0 * source.frames), 1e-20)))


def _kernel_table() -> tuple[type_s, type_s]:
    """Windowed sinc for PHASES fractions, rows of TAPS, and the differences to the next row for linear reading."""
    fraction = np.arange(PHASES + 1)[:, None] / PHASES
    x = np.arange(TAPS)[None, :] - (TAPS // 2 - 1) - fraction
    window = np.i0(KAISER_BETA * np.sqrt(np.maximum(1.0 - (2.0 * x / TAPS) ** 2, 0.0))) / np.i0(KAISER_BETA)
    rows = np.sinc(x) * window
    rows /= rows.sum(axis=1, keepdims=True)
    return rows[:-1].astype(np.float32), np.diff(rows, axis=0).astype(np.float32)


_ROWS, _STEPS = _kernel_table()


def read_between(y: type_s, position: type_f) -> type_s:
    """Values of band-limited ``y`` (channels, n) at fractional sample positions, (channels, len(position))."""
    out = np.empty((y.shape[0], position.size), dtype=np.float32)
    views = [np.lib.stride_tricks.sliding_window_view(channel, TAPS) for channel in y]
    for a in range(0, position.size, 8192):
        p = position[a : a + 8192]
        whole = np.floor(p).astype(np.intp)
        phase = (p - whole) * PHASES
        row = phase.astype(np.intp)
        np.minimum(row, PHASES - 1, out=row)
        taps = _STEPS[row]
        taps *= (phase - row).astype(np.float32)[:, None]
        taps += _ROWS[row]
        at = whole - (TAPS // 2 - 1)
        for c, view in enumerate(views):
            out[c, a : a + 8192] = np.einsum("nk,nk->n", view[at], taps)
    return out


def _read_cubic(y: type_f, position: type_f) -> type_f:
    """Values of smooth ``y`` at fractional positions through four samples: enough for where, not for what."""
    k = position.astype(np.intp)
    x = position - k
    a, b, c, d = y[k - 1], y[k], y[k + 1], y[k + 2]
    third = (d - a) / 6.0 + (b - c) / 2.0
    second = (a + c) / 2.0 - b
    return np.asarray(b + x * (c - b - second - third + x * (second + x * third)), dtype=np.float64)


def playback_curve(f: type_f, time_constants: tuple[float, float, float]) -> npt.NDArray[np.complex128]:
    """Complex gain of playback equalisation (1 + s T2)/((1 + s T1)(1 + s T3)), 1 at 1 kHz (facts: IEC 60098 form)."""
    t1, t2, t3 = time_constants

    def gain(s: Any) -> Any:
        return (1.0 + s * t2) / ((1.0 + s * t1) * (1.0 + s * t3))

    curve = gain(2j * pi * f) / abs(gain(2j * pi * 1000.0))
    return np.asarray(curve, dtype=np.complex128)


@dataclass(frozen=True, slots=True)
class _Tile:
    first: int
    """Position of sample 0 of ``sound`` in the reference at the doubled rate."""
    sound: type_s
    drive: type_s
    """(2, n): envelope of the programme and of its part above 4 kHz, re full scale, every DRIVE_STEP samples."""


class Groove:
    """The programme as the stylus gives it, at any programme time."""

    def __init__(self, source: Source, play: Play, line: TimeMap, capture_rate: int) -> None:
        self._source, self._play, self._line = source, play, line
        self._factor = 1 if source.rate > 170e3 else 2
        self._rate = source.rate * self._factor
        self._tiles: OrderedDict[int, _Tile] = OrderedDict()
        f = np.asarray(fft.rfftfreq(TILE + 2 * MARGIN, 1.0 / source.rate), dtype=np.float64)
        self._f = f
        fastest = 1.0 + max(play.player.speed, 0.0) + 0.002
        stop = min(0.5 * source.rate, 0.5 * capture_rate / fastest)
        self._pass = 0.5 + 0.5 * np.cos(pi * np.clip((f / stop - 0.92) / 0.08, 0.0, 1.0))
        self._filter = self._player_filter()
        self._leak = self._crosstalk()
        self._driven = bool(play.disc.tearing) or play.player.mistracking is not None

    def _player_filter(self) -> npt.NDArray[np.complex128]:
        """Wrong response and wrong equalisation, the same for both channels and all along the side."""
        gain = np.ones(self._f.size, dtype=np.complex128)
        response = self._play.player.response
        if response is None:
            return gain
        if response.points:
            hz = np.log(np.array([p[0] for p in response.points]))
            db = np.array([p[1] for p in response.points])
            gain *= 10.0 ** (np.interp(np.log(np.maximum(self._f, 1.0)), hz, db) / 20.0)
        if response.cut_with is not None and response.played_with is not None:
            gain *= playback_curve(self._f, response.played_with) / playback_curve(self._f, response.cut_with)
        return gain

    def _crosstalk(self) -> tuple[type_f, type_f] | None:
        """Gain left into right and right into left over frequency, zero phase."""
        c = self._play.player.crosstalk
        if c is None:
            return None
        octaves = np.log2(np.maximum(self._f, 20.0) / 1000.0)
        return (
            10.0 ** (np.minimum(c.left_into_right_db + c.slope_db * octaves, -3.0) / 20.0),
            10.0 ** (np.minimum(c.right_into_left_db + c.slope_db * octaves, -3.0) / 20.0),
        )

    def _tile(self, k: int) -> _Tile:
        if k in self._tiles:
            self._tiles.move_to_end(k)
            return self._tiles[k]
        tile = self._make(k)
        self._tiles[k] = tile
        if len(self._tiles) > 4:
            self._tiles.popitem(last=False)
        return tile

    def _back(self, spectrum: npt.NDArray[np.complex128]) -> type_f:
        """Samples at the doubled rate of a spectrum at the reference's rate."""
        n = (TILE + 2 * MARGIN) * self._factor
        return np.asarray(fft.irfft(spectrum, n, axis=-1), dtype=np.float64) * self._factor

    def _speed(self, t: type_f) -> type_f:
        """Groove speed [m/s] at reference time ``t``."""
        u = np.nan_to_num(self._line.programme.groove(t))
        return 2.0 * pi * self._line.frequency * self._line.spiral.radius(u)

    def _make(self, k: int) -> _Tile:
        first = k * TILE - MARGIN
        x = self._source.read(first, TILE + 2 * MARGIN)
        spectrum = np.asarray(fft.rfft(x, axis=-1), dtype=np.complex128) * self._pass
        stylus = self._play.player.stylus
        if stylus is not None:
            spectrum = self._traced(spectrum, stylus, first)
        spectrum = spectrum * self._filter
        if self._leak is not None:
            left, right = spectrum
            spectrum = np.stack([left + self._leak[1] * right, right + self._leak[0] * left])
        y = self._worn(spectrum, first)
        a = MARGIN * self._factor - KEEP
        b = (MARGIN + TILE) * self._factor + KEEP
        drive = self._drives(spectrum, y) if self._driven else np.zeros((2, 1), dtype=np.float32)
        return _Tile(first=first * self._factor + a, sound=y[:, a:b].astype(np.float32), drive=drive)

    def _traced(self, spectrum: npt.NDArray[np.complex128], stylus: Stylus, first: int) -> npt.NDArray[np.complex128]:
        """Tracing by a ball, exact as long as the ball touches one point of the wall.

        The ball's centre runs on the curve parallel to the wall at distance R; parallel curves have the same slope at
        touching points, and the touching point lies R p / sqrt(1 + p^2) ahead of the centre, p the slope. So the traced
        velocity at t is the wall's velocity at t + tau with tau = (R / v) p(t + tau) / sqrt(1 + p(t + tau)^2).
        """
        record = 1.0 / playback_curve(self._f, stylus.time_constants)
        wall = self._back(spectrum * record)
        n = wall.shape[1]
        t = (first + np.arange(n) / self._factor) / self._source.rate
        over_v = 1.0 / self._speed(t)
        base = np.arange(n, dtype=np.float64)
        limit = float(MARGIN // 2)
        traced = np.empty_like(wall)
        for c, velocity in enumerate(wall):
            slope = velocity * stylus.full_scale_velocity * over_v
            reach = stylus.radius * over_v * self._rate * slope / np.sqrt(1.0 + slope**2)
            # Where the ball's centre is when it touches at each sample; where it would touch twice, the first holds.
            centre = np.maximum.accumulate(base - reach)
            where = np.interp(base, centre, base)
            np.clip(where, base - limit, base + limit, out=where)
            np.clip(where, TAPS, n - TAPS - 1, out=where)
            # One Newton step, for the inverse between samples is only as good as a straight line.
            steep = np.maximum(1.0 - np.interp(where, base, np.gradient(reach)), 0.3)
            miss = where - _read_cubic(reach, where) - base
            where -= np.clip(miss / steep, -0.5, 0.5)
            np.clip(where, TAPS, n - TAPS - 1, out=where)
            traced[c] = read_between(velocity[None, :].astype(np.float32), where)[0]
        bins = self._f.size
        out = np.asarray(fft.rfft(traced, axis=-1), dtype=np.complex128)[:, :bins] / self._factor
        return out * playback_curve(self._f, stylus.time_constants) * self._pass

    def _worn(self, spectrum: npt.NDArray[np.complex128], first: int) -> type_f:
        """Back to samples, with the treble that short waves lose: two ends of the tile, blended along it."""
        loss = self._play.disc.treble_loss
        if loss is None:
            return self._back(spectrum)
        length = TILE + 2 * MARGIN
        ends = self._speed(np.array([first, first + length]) / self._source.rate)
        sounds = [self._back(spectrum * 2.0 ** (-0.5 * (loss.wavelength * self._f / v) ** 2)) for v in ends]
        blend = np.arange(sounds[0].shape[1]) / sounds[0].shape[1]
        return np.asarray(sounds[0] * (1.0 - blend) + sounds[1] * blend, dtype=np.float64)

    def _drives(self, spectrum: npt.NDArray[np.complex128], y: type_f) -> type_s:
        treble = self._back(spectrum * (0.5 - 0.5 * np.cos(pi * np.clip(self._f / SPIT_FROM - 0.5, 0.0, 1.0))))
        out = []
        for sound in (y, treble):
            power = (sound**2).max(axis=0).reshape(-1, DRIVE_STEP).mean(axis=1)
            smooth = np.convolve(power, np.hanning(7) / 3.0, mode="same")
            out.append(np.sqrt(2.0 * np.maximum(smooth, 0.0)))
        return np.asarray(out, dtype=np.float32)

    def _runs(self, t: type_f, do: Callable[[int, int, _Tile], None]) -> None:
        """Call ``do`` for each run of samples that lies in one tile, skipping what is outside the reference."""
        if t.size == 0:
            return
        k = np.floor(t * (self._source.rate / TILE)).astype(np.int64)
        edges = np.concatenate([[0], np.flatnonzero(np.diff(k)) + 1, [t.size]])
        last = (self._source.frames - 1) // TILE
        for a, b in pairwise(edges):
            # One tile beyond each end: the sinc rings a little before the first and after the last sample.
            if -1 <= k[a] <= last + 1:
                do(int(a), int(b), self._tile(int(k[a])))

    def sound(self, t: type_f) -> type_s:
        """Programme at reference times ``t`` [s], (2, len(t))."""
        out = np.zeros((2, t.size), dtype=np.float32)

        def do(a: int, b: int, tile: _Tile) -> None:
            out[:, a:b] = read_between(tile.sound, t[a:b] * self._rate - tile.first)

        self._runs(t, do)
        return out

    def drive(self, t: type_f) -> type_s:
        """Envelope of the programme, and of its part above 4 kHz, at reference times ``t`` [s], (2, len(t))."""
        out = np.zeros((2, t.size), dtype=np.float32)
        shift = MARGIN * self._factor - KEEP

        def do(a: int, b: int, tile: _Tile) -> None:
            at = (t[a:b] * self._rate - tile.first + shift) / DRIVE_STEP - 0.5
            knots = np.arange(tile.drive.shape[1])
            for row in range(2):
                out[row, a:b] = np.interp(at, knots, tile.drive[row])

        self._runs(t, do)
        return out
