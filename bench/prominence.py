"""Prominence of a tick from the maker's exact noise alone, as the contract defines it, by a path of its own."""

from math import log10

import numpy as np
from numpy.typing import NDArray
from scipy import fft

from runtrue.forward import TickTruth, tick_alone

LOW_HZ, HIGH_HZ = 1000.0, 16_000.0
_SPECTRUM_S = 2.0
_FRAME = 2048


def prominence_db(noise: NDArray[np.float32], rate: int, tick: TickTruth) -> float:
    """20 log10 of the largest whitened |tick + noise| within 1 ms over the noise's median |value| in +-0.25 s.

    ``noise`` (frames, 2) is the capture without programme and ticks; its spectrum is taken over +-2 s.
    """
    middle = round(tick.capture_time * rate)
    reach = round(_SPECTRUM_S * rate)
    first, last = max(0, middle - reach), min(len(noise), middle + reach)
    piece = _axes(noise[first:last].astype(np.float64))
    struck = np.zeros((last - first, 2))
    begin, wave = tick_alone(tick, rate)
    low, high = max(begin, first), min(begin + wave.shape[1], last)
    struck[low - first : high - first] = wave.T[low - begin : high - begin]
    count = piece.shape[1]
    size = fft.next_fast_len(count, real=True)
    frequency = fft.rfftfreq(size, 1.0 / rate)
    band = (frequency >= LOW_HZ) & (frequency <= min(HIGH_HZ, 0.49 * rate))
    at = middle - first
    best = 0.0
    for quiet, tick_axis in zip(piece, _axes(struck), strict=True):
        gain = np.where(band, 1.0 / np.sqrt(np.interp(frequency, *_spectrum(quiet, rate))), 0.0)
        clean = fft.irfft(fft.rfft(quiet, size) * gain, size)[:count]
        both = clean + fft.irfft(fft.rfft(tick_axis, size) * gain, size)[:count]
        near = clean[max(0, at - rate // 4) : at + rate // 4]
        peak = np.abs(both[max(0, at - rate // 1000) : at + rate // 1000 + 1]).max()
        best = max(best, float(peak / (1.4826 * np.median(np.abs(near)))))
    return 20.0 * log10(best)


def _axes(pair: NDArray[np.float64]) -> NDArray[np.float64]:
    """Left, right, lateral, vertical, (4, n), of (n, 2)."""
    left, right = pair.T
    return np.stack([left, right, (left + right) / np.sqrt(2.0), (left - right) / np.sqrt(2.0)])


def _spectrum(x: NDArray[np.float64], rate: int) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Frequencies and mean power of Hann frames."""
    frames = np.lib.stride_tricks.sliding_window_view(x, _FRAME)[:: _FRAME // 2] * np.hanning(_FRAME)
    power = np.mean(np.abs(fft.rfft(frames, axis=1)) ** 2, axis=0)
    return fft.rfftfreq(_FRAME, 1.0 / rate), power + 1e-30
