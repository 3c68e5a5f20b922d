"""Following the reference through the capture: short correlations, joined by the best path.

Each window of 80 ms gives the correlation of capture and reference at lags of +-50 ms about a predicted line. One
window alone may be fooled by a steady tone; the path through all of them that bends least and collects most is not
(dynamic programming). In silence nothing is collected and the path runs on straight, so it cannot run away.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import soxr
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray
from scipy import fft

from runtrue.listen.store import TRACK_RATE
from runtrue.signal.warp import read_along

Float32 = NDArray[np.float32]
Float64 = NDArray[np.float64]

RATE = 4_000
HOP_S = 0.04
_FINE = 2
"""Lag steps per sample: a whole sample would cost a third of the correlation at 1.5 kHz."""
_STEPS = np.arange(-4, 5)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Windows:
    """Hop, length, reach of correlation windows [samples]; ``bend``: cost of a lag step of 1/8 ms to the next."""

    hop: int
    window: int
    reach: int
    bend: float

    @property
    def lags(self) -> int:
        return 2 * self.reach * _FINE + 1


_SHORT = _Windows(hop=160, window=320, reach=200, bend=0.2)
_LONG = _Windows(hop=640, window=2560, reach=48, bend=0.6)
_HOP, _WINDOW, _REACH = _SHORT.hop, _SHORT.window, _SHORT.reach
_LOUDEST_SHARE = 10.0**-5.0
"""Windows 50 dB below the mean power carry no evidence."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Path:
    """Followed windows: capture time of their middles [s], programme time there [s], correlation, energies."""

    capture: Float64
    programme: Float64
    correlation: Float64
    capture_energy: Float64
    reference_energy: Float64

    def quality(self, width: int = 20) -> Float64:
        """Correlation over ``width`` windows about each, weighted by energy; NaN where the reference is silent."""
        if not len(self.capture):
            return np.zeros(0)
        kernel = np.ones(min(width, len(self.capture)))
        cross = self.correlation * np.sqrt(self.capture_energy * self.reference_energy)
        sums = [np.convolve(v, kernel, mode="same") for v in (cross, self.capture_energy, self.reference_energy)]
        # what lies under the groove's own noise is not heard whether it is there or not
        quiet = float(np.quantile(sums[1], 0.05)) if len(sums[1]) else 0.0
        loud = sums[2] > np.maximum(width * _LOUDEST_SHARE * 3.0, 0.3 * quiet)
        with np.errstate(invalid="ignore", divide="ignore"):
            return np.where(loud, sums[0] / np.sqrt(sums[1] * sums[2]), np.nan)

    def overall(self) -> float:
        """Correlation over the whole path, 0 where the reference is silent throughout."""
        cross = float((self.correlation * np.sqrt(self.capture_energy * self.reference_energy)).sum())
        norm = float(np.sqrt(self.capture_energy.sum() * self.reference_energy.sum()))
        return cross / norm if self.reference_energy.mean() > 3.0 * _LOUDEST_SHARE else 0.0


class Lattice:
    """Holds capture and reference, whitened at 4 kHz, and follows lines through them."""

    def __init__(self, capture: Float32, reference: Float32) -> None:
        narrow = [soxr.resample(x, TRACK_RATE, RATE, quality="HQ") for x in (capture, reference)]
        self.capture, self.reference = _whiten(*narrow)
        self.polarity = 1.0
        self.capture_end = len(self.capture) / RATE
        self.reference_end = len(self.reference) / RATE

    def reversed(self) -> "Lattice":
        """The same pair with time running backward: capture time c becomes capture_end - c, programme alike."""
        other = object.__new__(Lattice)
        other.capture = self.capture[::-1]
        other.reference = self.reference[::-1]
        other.polarity = self.polarity
        other.capture_end = self.capture_end
        other.reference_end = self.reference_end
        return other

    def follow(self, *, start: float, end: float, programme: float, slope: float, tight: bool = False) -> Path:
        """Best path for capture times ``start`` to ``end`` [s] near ``programme + slope * (c - start)`` [s].

        ``tight`` keeps the path's beginning near the prediction (it continues one that was followed already).
        """
        count = max(0, int((min(end, self.capture_end) - start) / HOP_S) - 1)
        first = round(start * RATE)
        length = (count - 1) * _HOP + _WINDOW
        if count < 2 or first < 0:
            return _EMPTY
        taken = np.zeros(length, dtype=np.float32)
        available = self.capture[first : first + length]
        taken[: len(available)] = available
        grid = (np.arange(-_REACH, length + _REACH) + first) / RATE
        position = (programme + slope * (grid - start)) * RATE
        warped = read_along(self.reference[:, None], position)[:, 0]
        correlation, capture_energy, reference_energy = _correlate(taken, warped, count, _SHORT)
        correlation *= self.polarity
        lags = _best_path(correlation, _SHORT, tight=tight)
        picked = correlation[np.arange(count), lags]
        fine = lags + _parabola(correlation, lags)
        capture_time = start + (np.arange(count) * _HOP + _WINDOW / 2) / RATE
        at = capture_time + (fine / _FINE - _REACH) / RATE
        return Path(
            capture=capture_time,
            programme=programme + slope * (at - start),
            correlation=picked.astype(np.float64),
            capture_energy=capture_energy.astype(np.float64),
            reference_energy=reference_energy[np.arange(count), lags].astype(np.float64),
        )

    def slips(self, line: Callable[[Float64], Float64], *, start: float, end: float) -> tuple[Float64, Float64]:
        """How far a smooth ``line`` (capture to programme time) lies from what long windows say.

        Along a line that follows the wow already, windows of 0.6 s hold several notes, so that a line one period of a
        tone off shows. Gives capture times [s] and the time [s] by which the line must be read later there.
        """
        shape = _LONG
        first = max(0, round(start * RATE))
        count = int((min(end, self.capture_end) - first / RATE) * RATE - shape.window) // shape.hop + 1
        if count < 3:
            return np.array([start]), np.zeros(1)
        length = (count - 1) * shape.hop + shape.window
        grid = (np.arange(-shape.reach, length + shape.reach) + first) / RATE
        warped = read_along(self.reference[:, None], line(np.asarray(grid)) * RATE)[:, 0]
        correlation, _, _ = _correlate(self.capture[first : first + length], warped, count, shape)
        correlation *= self.polarity
        lags = _best_path(correlation, shape, tight=False)
        at = (first + np.arange(count) * shape.hop + shape.window / 2) / RATE
        return at, (lags / _FINE - shape.reach) / RATE


_EMPTY = Path(
    capture=np.zeros(0),
    programme=np.zeros(0),
    correlation=np.zeros(0),
    capture_energy=np.zeros(0),
    reference_energy=np.zeros(0),
)


def _whiten(capture: Float32, reference: Float32) -> tuple[Float32, Float32]:
    """Flatten both where the capture is programme, leave out where it is noise (zero phase); mean power then 1.

    Where the capture's spectrum stands as far above the reference's as it mostly does, it is programme: the ratio of
    the two is the coherence, whose root weighs the flattened bins.
    """
    own, other = _mean_spectrum(capture) + 1e-20, _mean_spectrum(reference) + 1e-20
    ratio = _over_speeds(own) / _over_speeds(other)
    order = np.argsort(ratio)
    middle = np.searchsorted(np.cumsum(other[order]), 0.5 * other.sum())
    gain = float(ratio[order][min(int(middle), len(order) - 1)])
    coherence = np.clip(gain / ratio, 0.0, 1.0) ** 1.5
    out = []
    for signal, spectrum in ((capture, own), (reference, other)):
        weight = np.sqrt(coherence / (spectrum + 1e-6 * spectrum.max()))
        weight[: int(40 / RATE * 1024)] = 0.0
        size = fft.next_fast_len(len(signal) + 1024, real=True)
        bins = fft.rfft(signal, n=size, workers=1)
        shaped = np.interp(np.linspace(0.0, 1.0, len(bins)), np.linspace(0.0, 1.0, len(weight)), weight)
        flat = fft.irfft(bins * shaped.astype(np.float32), n=size, workers=1)[: len(signal)]
        out.append(np.asarray(flat / (np.sqrt(np.mean(flat**2)) + 1e-12), dtype=np.float32))
    return out[0], out[1]


def _over_speeds(spectrum: Float64) -> Float64:
    """Mean over +-10 % of frequency: a capture that plays fast or slow has its partials elsewhere."""
    total = np.concatenate([[0.0], np.cumsum(spectrum)])
    index = np.arange(len(spectrum))
    low, high = (index / 1.1).astype(int), np.minimum((index * 1.1).astype(int) + 2, len(spectrum))
    return np.asarray((total[high] - total[low]) / (high - low))


def _mean_spectrum(signal: Float32) -> Float64:
    size = 1024
    if len(signal) < size:
        signal = np.pad(signal, (0, size - len(signal)))
    frames = sliding_window_view(signal, size)[:: max(size, len(signal) // 2000)]
    spectrum = fft.rfft(frames * np.hanning(size).astype(np.float32), axis=1, workers=1)
    return np.asarray((np.abs(spectrum) ** 2).mean(axis=0), dtype=np.float64)


def _correlate(capture: Float32, warped: Float32, count: int, shape: _Windows) -> tuple[Float32, Float32, Float32]:
    """Normalised correlation (count, lags); energies per sample of capture (count,) and reference (count, lags)."""
    windows = sliding_window_view(capture, shape.window)[:: shape.hop][:count]
    segments = sliding_window_view(warped, shape.window + 2 * shape.reach)[:: shape.hop][:count]
    size = fft.next_fast_len(shape.window + 2 * shape.reach, real=True)
    product = fft.rfft(segments, n=size, axis=1, workers=1) * fft.rfft(windows, n=size, axis=1, workers=1).conj()
    cross = fft.irfft(product, n=size * _FINE, axis=1, workers=1)[:, : shape.lags] * np.float32(_FINE)
    energy = np.einsum("nk,nk->n", windows, windows) / shape.window
    square = np.concatenate([[0.0], np.cumsum(warped.astype(np.float64) ** 2)])
    running = (square[shape.window :] - square[: -shape.window]) / shape.window
    reference_energy = np.repeat(sliding_window_view(running, 2 * shape.reach + 1)[:: shape.hop][:count], _FINE, axis=1)
    reference_energy = reference_energy[:, : shape.lags].astype(np.float32)
    norm = np.sqrt((energy[:, None] + _LOUDEST_SHARE) * (reference_energy + _LOUDEST_SHARE)) * shape.window
    return cross / norm, energy, reference_energy


def _best_path(correlation: Float32, shape: _Windows, *, tight: bool) -> NDArray[np.int64]:
    """Lag index per window on the path that collects most evidence and bends least."""
    count, lags = correlation.shape
    evidence = -np.log1p(-0.98 * np.clip(correlation, 0.0, 1.0) ** 2)
    score = evidence[0].astype(np.float64)
    if tight:
        score -= (np.arange(lags) - shape.reach * _FINE) ** 2 / 100.0
    reach = len(_STEPS) // 2
    came = np.empty((count, lags), dtype=np.int8)
    cost = (shape.bend * np.abs(_STEPS))[:, None]
    padded = np.full(lags + 2 * reach, -np.inf)
    shifted = sliding_window_view(padded, lags)  # a view: it follows what is written into padded
    columns = np.arange(lags)
    options = np.empty(shifted.shape)
    for j in range(1, count):
        padded[reach:-reach] = score
        np.subtract(shifted, cost, out=options)
        choice = options.argmax(axis=0)
        came[j] = choice
        score = options[choice, columns] + evidence[j]
    path = np.empty(count, dtype=np.int64)
    path[-1] = int(score.argmax())
    for j in range(count - 1, 0, -1):
        path[j - 1] = path[j] + _STEPS[came[j, path[j]]]
    return path


def _parabola(correlation: Float32, lags: NDArray[np.int64]) -> Float64:
    """Sub-lag place of each maximum, within half a lag; zero at the edges and where it is no maximum."""
    rows = np.arange(len(lags))
    inner = np.clip(lags, 1, correlation.shape[1] - 2)
    left, middle, right = (correlation[rows, inner + k].astype(np.float64) for k in (-1, 0, 1))
    bend = left - 2.0 * middle + right
    with np.errstate(invalid="ignore", divide="ignore"):
        shift = 0.5 * (left - right) / bend
    return np.where((bend < -1e-9) & (np.abs(shift) <= 1.0) & (inner == lags), shift, 0.0)
