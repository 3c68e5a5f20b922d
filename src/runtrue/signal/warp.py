"""Reading a sampled signal along a time line: windowed-sinc interpolation in batched arrays.

Sixteen taps under a Kaiser window (beta 9) at 4096 stored phases. At 48 kHz the error stays below -80 dB of the
signal up to 13 kHz and below -50 dB up to 18 kHz (tests/truth/test_warp.py).
"""

from functools import lru_cache

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray

TAPS = 16
PHASES = 4096
_BETA = 9.0
_BLOCK = 16_384
"""Positions read at a time: their kernels and samples stay in the processor's cache."""

Float32 = NDArray[np.float32]
Float64 = NDArray[np.float64]


@lru_cache(maxsize=1)
def _table() -> Float32:
    """Interpolation kernels, shape (PHASES + 1, TAPS); row p serves the fraction p / PHASES."""
    fraction = np.arange(PHASES + 1) / PHASES
    offset = np.arange(TAPS) - (TAPS // 2 - 1)
    x = offset[None, :] - fraction[:, None]
    inside = np.clip(1.0 - (x / (TAPS / 2)) ** 2, 0.0, None)
    kernel = np.sinc(x) * np.i0(_BETA * np.sqrt(inside)) / np.i0(_BETA)
    return np.ascontiguousarray(kernel / kernel.sum(axis=1, keepdims=True), dtype=np.float32)


def read_along(signal: Float32, position: Float64) -> Float32:
    """Values of ``signal`` at fractional sample positions.

    Parameters
    ----------
    signal : array, shape (n, channels)
        Samples; positions outside it read as zero.
    position : array, shape (m,)
        Positions in samples, any order.

    Returns
    -------
    array, shape (m, channels)
    """
    half = TAPS // 2
    count, channels = signal.shape
    table = _table()
    padded = np.ascontiguousarray(np.pad(signal, ((TAPS, TAPS + 1), (0, 0))).T)
    windows = [sliding_window_view(channel, TAPS) for channel in padded]
    out = np.empty((position.size, channels), dtype=np.float32)
    for start in range(0, position.size, _BLOCK):
        part = position[start : start + _BLOCK]
        floor = np.floor(part)
        kernel = table.take(np.rint((part - floor) * PHASES).astype(np.int64), axis=0)
        whole = floor.astype(np.int64)
        first = np.clip(whole, -half, count + half) + TAPS - (half - 1)
        read = out[start : start + _BLOCK]
        for channel, window in enumerate(windows):
            read[:, channel] = np.einsum("nk,nk->n", window[first], kernel)
        read[(whole < -half) | (whole > count + half)] = 0.0
    return out
