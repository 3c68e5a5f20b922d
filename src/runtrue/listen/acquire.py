"""Where in the reference a capture may lie: candidates from how the bands' levels move.

Waveforms cannot be laid over one another before the speed is known to a few parts in ten thousand; the levels of a
dozen bands, fifty times a second, can. Their correlation over a stretch proposes lines (offset and speed); the
waveform then decides (``lattice``).
"""

from dataclasses import dataclass

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray
from scipy import fft
from scipy.ndimage import uniform_filter1d

from runtrue.listen.store import TRACK_RATE

Float32 = NDArray[np.float32]
Float64 = NDArray[np.float64]

FRAME_RATE = 50
"""Level frames a second [Hz]."""
SPEED_RANGE = 0.06
"""Largest relative speed error that is searched."""
BAND_SPEEDS = (-0.06, -0.04, -0.02, 0.0, 0.02, 0.04, 0.06)
"""Speeds for which the bands' edges are moved: a partial that leaves its band takes its level along."""
_WHOLE = 0.9
_FRAME = 512
_HOP = TRACK_RATE // FRAME_RATE
_BANDS = 12
_FLOOR = 10.0**-3.8
_TREND_S = 2.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """A straight line ``programme = (1 + deviation) * capture + offset`` [s] with its correlation."""

    deviation: float
    offset: float
    score: float

    def at(self, capture: float) -> float:
        """Programme time at a capture time [s]."""
        return (1.0 + self.deviation) * capture + self.offset


def levels(track: Float32) -> Float32:
    """Movement of the band levels of a 12 kHz mono track: shape (frames, bands), trend removed, in units of its spread.

    Silence moves nothing: levels are floored 38 dB below the sound's own mean in each band.
    """
    return _in_spreads(_band_levels(_running_power(track), 1.0))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Movement:
    """A capture's level movement, the bands' edges moved as a capture moves them that plays too fast, by deviation."""

    by_speed: dict[float, Float32]

    @property
    def frames(self) -> int:
        """Number of level frames."""
        return len(self.plain)

    @property
    def plain(self) -> Float32:
        """Movement at the nominal speed, (frames, bands)."""
        return self.by_speed[0.0]

    def at_speed(self, deviation: float) -> Float32:
        """Movement for the speed next to ``deviation``, (frames, bands)."""
        return self.by_speed[min(self.by_speed, key=lambda speed: abs(speed - deviation))]

    def part(self, first: int, last: int) -> "Movement":
        """Frames ``first`` to ``last`` (exclusive)."""
        return Movement(by_speed={speed: level[first:last] for speed, level in self.by_speed.items()})

    def reversed(self) -> "Movement":
        """The same with time running backward."""
        return Movement(by_speed={speed: level[::-1] for speed, level in self.by_speed.items()})


def movement_of(track: Float32) -> Movement:
    """Level movement of a capture's 12 kHz mono track, for every speed that is searched."""
    power = _running_power(track)
    return Movement(by_speed={speed: _in_spreads(_band_levels(power, 1.0 + speed)) for speed in BAND_SPEEDS})


def _in_spreads(level: Float32) -> Float32:
    spread = level.std(axis=0) if len(level) else np.ones(_BANDS)
    return np.asarray(level / np.where(spread > 1e-6, spread, np.inf), dtype=np.float32)


def _running_power(track: Float32) -> Float32:
    """Power of 23 Hz bins summed from the lowest up, shape (frames, bins + 1)."""
    if len(track) < _FRAME + _HOP:
        return np.zeros((0, _FRAME // 2 + 2), dtype=np.float32)
    window = np.hanning(_FRAME).astype(np.float32)
    frames = sliding_window_view(track, _FRAME)[::_HOP]
    running = np.zeros((len(frames), _FRAME // 2 + 2), dtype=np.float32)
    for first in range(0, len(frames), 4096):
        spectrum = fft.rfft(frames[first : first + 4096] * window, axis=1, workers=1)
        np.cumsum(spectrum.real**2 + spectrum.imag**2, axis=1, out=running[first : first + len(spectrum), 1:])
    return running


def _band_levels(running: Float32, stretched: float) -> Float32:
    """Logarithm of the band powers less its trend over 2 s, shape (frames, bands); edges times ``stretched``."""
    if len(running) == 0:
        return np.zeros((0, _BANDS), dtype=np.float32)
    edges = np.clip(np.geomspace(110.0, 5200.0, _BANDS + 1) * stretched / TRACK_RATE * _FRAME, 0.0, _FRAME // 2)
    whole = edges.astype(int)
    part = (edges - whole).astype(np.float32)
    at_edges = running[:, whole] * (1 - part) + running[:, whole + 1] * part
    power = np.maximum(np.diff(at_edges, axis=1), 0.0)
    mean = power.mean(axis=0) + np.float32(1e-20)
    level = np.log(power / mean + _FLOOR)
    level -= uniform_filter1d(level, int(_TREND_S * FRAME_RATE), axis=0, mode="nearest")
    return np.asarray(level, dtype=np.float32)


class Finder:
    """Holds the reference's level movement; ``search`` lays stretches of a capture over it."""

    def __init__(self, reference: Float32) -> None:
        self._frames = len(reference)
        self._reference = reference
        self._spectra: dict[int, NDArray[np.complex64]] = {}
        self._energy = np.concatenate([[0.0], np.cumsum((reference.astype(np.float64) ** 2).sum(axis=1))])

    def search(
        self,
        stretch: Movement,
        *,
        start: float,
        centre: float = 0.0,
        span: float = SPEED_RANGE,
        peaks: int = 6,
        held: float = _WHOLE,
    ) -> list[Candidate]:
        """Best lines for ``stretch`` beginning at capture time ``start`` [s].

        Speeds within ``centre`` +- ``span`` are tried in steps that shift the stretch's ends by less than a frame. A
        stretch that lies only partly over the reference is held against ``held`` of the fullest overlap.
        """
        count = stretch.frames
        if count < FRAME_RATE // 2 or self._frames < FRAME_RATE // 2:
            return []
        size = fft.next_fast_len(self._frames + int(count * (1 + SPEED_RANGE)) + 2, real=True)
        if size not in self._spectra:
            self._spectra = {size: fft.rfft(self._reference, n=size, axis=0, workers=1)}
        reference = self._spectra[size]
        step = 1.6 / count
        speeds = centre + np.arange(-round(span / step), round(span / step) + 1) * step
        found: list[Candidate] = []
        for deviation in speeds:
            seen = stretch.at_speed(float(deviation))
            position = np.arange(int(count * (1.0 + deviation))) / (1.0 + deviation)
            whole = np.minimum(position.astype(int), count - 2)
            part = (position - whole).astype(np.float32)[:, None]
            played = seen[whole] * (1 - part) + seen[np.minimum(whole + 1, count - 1)] * part
            spectrum = fft.rfft(played, n=size, axis=0, workers=1)
            product = np.einsum("fb,fb->f", reference, spectrum.conj())
            correlation = fft.irfft(product, n=size, workers=1)
            lag = np.arange(-len(played) + 1, self._frames)
            value = correlation[lag]
            overlap = (
                self._energy[np.clip(lag + len(played), 0, self._frames)] - self._energy[np.clip(lag, 0, self._frames)]
            )
            norm = np.sqrt(float((played**2).sum()) * np.maximum(overlap, held * overlap.max())) + 1e-9
            score = value / norm
            for best in _peaks(score, peaks):
                found.append(
                    Candidate(
                        deviation=float(deviation),
                        offset=float(lag[best]) / FRAME_RATE - (1.0 + float(deviation)) * start,
                        score=float(score[best]),
                    )
                )
        return _distinct(found, at=start + 0.5 * count / FRAME_RATE, peaks=peaks)


def movement(track: Float32) -> float:
    """How much the band levels of a track move [nepers of power, median band]: music 0.5 and more, a tone near 0."""
    return (
        float(np.median(_band_levels(_running_power(track), 1.0).std(axis=0))) if len(track) >= _FRAME + _HOP else 0.0
    )


def _peaks(score: Float64, count: int) -> list[int]:
    """Indices of the largest values at least a quarter second apart."""
    left = score.copy()
    out = []
    for _ in range(count):
        best = int(np.argmax(left))
        out.append(best)
        left[max(0, best - FRAME_RATE // 4) : best + FRAME_RATE // 4] = -np.inf
    return out


def _distinct(found: list[Candidate], *, at: float, peaks: int) -> list[Candidate]:
    """The best candidates that differ by more than 0.15 s at capture time ``at``."""
    out: list[Candidate] = []
    for candidate in sorted(found, key=lambda c: -c.score):
        if all(abs(candidate.at(at) - other.at(at)) > 0.15 for other in out):
            out.append(candidate)
            if len(out) == peaks:
                break
    return out
