"""The short waveform of a tick and the swing of a thump as functions of continuous time."""

from functools import lru_cache

import numpy as np
import numpy.typing as npt
from scipy.special import wofz

from runtrue.forward.faults import Pulse
from runtrue.forward.geometry import type_f

BEFORE = 7.0
"""Widths before its peak from which on a tick is made; the Gaussian edge is then below -200 dB."""
AFTER = 16.0
"""Decays after its edge until which a tick is made: -139 dB."""


def _struck(pulse: Pulse, t: type_f) -> type_f:
    """A one-sided decaying resonance, struck by a Gaussian edge at t = 0: the exact convolution of the two.

    With s = 1/decay - 2 pi i resonance and z = (width s - t/width)/sqrt 2 it is the real part of
    exp(-t^2 / 2 width^2) erfcx(z); for Re z < 0 the reflected form does not overflow.
    """
    s = 1.0 / pulse.decay - 2j * np.pi * pulse.resonance
    z = (pulse.width * s - t / pulse.width) / np.sqrt(2.0)
    ahead = z.real >= 0.0
    out = np.empty(t.shape, dtype=np.complex128)
    edge = np.exp(-0.5 * (t / pulse.width) ** 2)
    out[ahead] = edge[ahead] * wofz(1j * z[ahead])
    behind = ~ahead
    out[behind] = 2.0 * np.exp(0.5 * (pulse.width * s) ** 2 - s * t[behind]) - edge[behind] * wofz(-1j * z[behind])
    return np.asarray(out.real, dtype=np.float64)


@lru_cache(maxsize=64)
def _peak(pulse: Pulse) -> tuple[float, float]:
    """Time [s] and value of the largest |value| of the struck resonance, to 1e-4 of its width."""
    low, high = -BEFORE * pulse.width, 4.0 * pulse.width + 3.0 * pulse.decay
    for _ in range(5):
        t = np.linspace(low, high, 2001)
        y = _struck(pulse, t)
        k = int(np.argmax(np.abs(y)))
        low, high = t[max(k - 2, 0)], t[min(k + 2, t.size - 1)]
    return float(t[k]), float(y[k])


def tick_span(pulse: Pulse) -> tuple[float, float]:
    """Seconds before and after its peak in which a tick is made."""
    at, _ = _peak(pulse)
    return BEFORE * pulse.width + max(at, 0.0), BEFORE * pulse.width + AFTER * pulse.decay


def tick_waveform(pulse: Pulse, since_peak: npt.ArrayLike) -> type_f:
    """Value of a tick of peak 1 at times since its peak [s]; its largest |value| is 1, exactly at 0."""
    at, value = _peak(pulse)
    return _struck(pulse, np.asarray(since_peak, dtype=np.float64) + at) / value


def thump_waveform(width: float, since: npt.ArrayLike) -> type_f:
    """One swing down and up of peak 1 and no mean that lasts about ``width`` [s], centred on 0."""
    x = np.asarray(since, dtype=np.float64) * (4.0 / width)
    return np.asarray(x * np.exp(0.5 - 0.5 * x**2), dtype=np.float64)
