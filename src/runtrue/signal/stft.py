"""Short spectra for filtering and subtracting: frames of 1024, half overlapped, square-root Hann both ways.

Analysis followed by synthesis gives the signal back to 1e-6; gains that are smooth over frequency act like short
filters.
"""

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray
from scipy import fft

FRAME = 1024
HOP = FRAME // 2
BINS = FRAME // 2 + 1

Float32 = NDArray[np.float32]
Complex64 = NDArray[np.complex64]

_WINDOW: Float32 = np.sqrt(0.5 - 0.5 * np.cos(2.0 * np.pi * np.arange(FRAME) / FRAME)).astype(np.float32)


def analyse(signal: Float32) -> Complex64:
    """Spectra of ``signal`` (n,) with n a multiple of HOP: shape (n / HOP - 1, BINS)."""
    frames = sliding_window_view(signal, FRAME)[::HOP]
    return np.asarray(fft.rfft(frames * _WINDOW, axis=1, workers=1), dtype=np.complex64)


def synthesise(spectra: Complex64) -> Float32:
    """Signal of the fully overlapped part: frames k give samples HOP to k HOP, shape ((k - 1) HOP,)."""
    frames = fft.irfft(spectra, n=FRAME, axis=1, workers=1) * _WINDOW
    return np.asarray((frames[:-1, HOP:] + frames[1:, :HOP]).reshape(-1), dtype=np.float32)


def frequencies(rate: float) -> NDArray[np.float64]:
    """Middle of each bin [Hz], shape (BINS,)."""
    return np.asarray(np.arange(BINS) * (rate / FRAME), dtype=np.float64)
