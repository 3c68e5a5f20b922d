"""How a sound is made from sines and noise: the few operations that every instrument is built of.

Plucked and struck notes are sums of dying sines written as one matrix product: sample ``k B + j`` of a partial with
complex decay ``z`` is ``Re(a z**(k B) z**j)``, so a note of P partials costs one product of (n/B, 2P) by (2P, B).
Bowed, blown and sung notes read a table of one period along a phase that carries the vibrato.
"""

from math import pi

import numpy as np
from numpy.typing import NDArray

Samples = NDArray[np.float32]
Rng = np.random.Generator

_BLOCK = 256
_PRODUCT = 240_000
"""Multiplications in one product: small enough that no library spreads it over threads, which costs more here."""
TABLE = 2048


def frequency(pitch: float) -> float:
    """Frequency of a note number [Hz]."""
    return float(440.0 * 2.0 ** ((pitch - 69.0) / 12.0))


def dying_sines(
    frequencies: NDArray[np.float64],
    amplitudes: NDArray[np.float64],
    decays: NDArray[np.float64],
    phases: NDArray[np.float64],
    *,
    frames: int,
    rate: int,
) -> Samples:
    """Sum of sines (Hz, linear, 1/s, rad; all of shape (P,)) that die exponentially, of shape (frames,)."""
    keep = frequencies < 0.45 * rate
    z = (-decays[keep] + 2j * pi * frequencies[keep]) / rate
    a = amplitudes[keep] * np.exp(1j * (phases[keep] - pi / 2))
    rows = -(-frames // _BLOCK)
    slow = a * np.exp(np.outer(np.arange(rows) * _BLOCK, z))
    fast = np.exp(np.outer(z, np.arange(_BLOCK)))
    left = np.concatenate([slow.real, -slow.imag], axis=1).astype(np.float32)
    right = np.concatenate([fast.real, fast.imag], axis=0).astype(np.float32)
    out = np.empty((rows, _BLOCK), np.float32)
    step = max(1, _PRODUCT // right.size)
    for k in range(0, rows, step):
        np.matmul(left[k : k + step], right, out=out[k : k + step])
    return out.reshape(-1)[:frames]


def shaped_noise(rng: Rng, frames: int, rate: int, bands: tuple[tuple[float, float], ...]) -> Samples:
    """Noise of rms 1 whose spectrum follows (Hz, dB) points, straight in log frequency, of shape (frames,)."""
    size = max(frames, 64)
    f = np.fft.rfftfreq(size, 1.0 / rate)
    points = np.log2([b[0] for b in bands])
    level = np.interp(np.log2(np.maximum(f, 1.0)), points, [b[1] for b in bands], left=-90.0)
    spectrum = 10.0 ** (level / 20.0) * np.exp(2j * pi * rng.random(f.size))
    spectrum[0] = 0.0
    noise = np.fft.irfft(spectrum, size)[:frames]
    return (noise / max(float(np.sqrt(np.mean(noise**2))), 1e-12)).astype(np.float32)


def read_table(tables: list[Samples], mix: Samples | None, phase: NDArray[np.float64]) -> Samples:
    """Read one period, or two blended by ``mix`` (0 first, 1 second), along ``phase`` [turns]."""
    place = (phase - np.floor(phase)) * TABLE
    index = place.astype(np.int32)
    rest = (place - index).astype(np.float32)
    out = [t[index] + rest * (t[index + 1] - t[index]) for t in tables]
    return out[0] if mix is None else out[0] + mix * (out[1] - out[0])


def make_table(amplitudes: NDArray[np.float64], phases: NDArray[np.float64] | None = None) -> Samples:
    """One period of the harmonics 1, 2, .. with a last sample that repeats the first, of shape (2049,), rms 1."""
    spectrum = np.zeros(TABLE // 2 + 1, complex)
    count = min(amplitudes.size, TABLE // 4)
    turn = np.zeros(count) if phases is None else phases[:count]
    spectrum[1 : count + 1] = amplitudes[:count] * np.exp(1j * (turn - pi / 2))
    period = np.fft.irfft(spectrum, TABLE)
    period /= np.sqrt(np.mean(period**2))
    return np.concatenate([period, period[:1]]).astype(np.float32)


def rise(x: Samples, seconds: float, rate: int) -> Samples:
    """Let the first ``seconds`` of ``x`` come up from nothing, in place."""
    n = min(max(int(seconds * rate), 2), x.shape[-1])
    x[..., :n] *= np.sin(np.linspace(0.0, pi / 2, n, dtype=np.float32)) ** 2
    return x


def fall(x: Samples, seconds: float, rate: int) -> Samples:
    """Let the last ``seconds`` of ``x`` go down to nothing, in place."""
    n = min(max(int(seconds * rate), 2), x.shape[-1])
    x[..., -n:] *= np.cos(np.linspace(0.0, pi / 2, n, dtype=np.float32)) ** 2
    return x
