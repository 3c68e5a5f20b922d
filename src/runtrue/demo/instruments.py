"""The sounds of the players, made from sines and noise: note in, float32 samples out.

Plucked and struck notes are sums of dying sines written as one matrix product: sample ``k B + j`` of a partial with
complex decay ``z`` is ``Re(a z**(k B) z**j)``, so a note of P partials costs one product of (n/B, 2P) by (2P, B).
Bowed, blown and sung notes read a table of one period along a phase that carries the vibrato.
"""

from collections.abc import Callable
from dataclasses import dataclass, field
from math import pi

import numpy as np
from numpy.typing import NDArray

Samples = NDArray[np.float32]
Rng = np.random.Generator

_BLOCK = 512
_TABLE = 2048
CACHE_BYTES = 160_000_000
"""Notes kept for another time, at most [bytes]."""


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
    return (left @ right).reshape(-1)[:frames]


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
    place = (phase - np.floor(phase)) * _TABLE
    index = place.astype(np.int32)
    rest = (place - index).astype(np.float32)
    out = [t[index] + rest * (t[index + 1] - t[index]) for t in tables]
    return out[0] if mix is None else out[0] + mix * (out[1] - out[0])


def make_table(amplitudes: NDArray[np.float64], phases: NDArray[np.float64] | None = None) -> Samples:
    """One period of the harmonics 1, 2, .. with a last sample that repeats the first, of shape (2049,), rms 1."""
    spectrum = np.zeros(_TABLE // 2 + 1, complex)
    count = min(amplitudes.size, _TABLE // 4)
    turn = np.zeros(count) if phases is None else phases[:count]
    spectrum[1 : count + 1] = amplitudes[:count] * np.exp(1j * (turn - pi / 2))
    period = np.fft.irfft(spectrum, _TABLE)
    period /= np.sqrt(np.mean(period**2))
    return np.concatenate([period, period[:1]]).astype(np.float32)


def _rise(x: Samples, seconds: float, rate: int) -> Samples:
    n = min(max(int(seconds * rate), 2), x.shape[-1])
    x[..., :n] *= np.sin(np.linspace(0.0, pi / 2, n, dtype=np.float32)) ** 2
    return x


def _fall(x: Samples, seconds: float, rate: int) -> Samples:
    n = min(max(int(seconds * rate), 2), x.shape[-1])
    x[..., -n:] *= np.cos(np.linspace(0.0, pi / 2, n, dtype=np.float32)) ** 2
    return x


# Struck and plucked -------------------------------------------------------------------------------------------------


def _harmonics(f0: float, rate: int, most: int, stiffness: float) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    n = np.arange(1, max(2, min(most, int(0.43 * rate / f0))) + 1, dtype=float)
    return n, n * f0 * np.sqrt(1.0 + stiffness * n**2)


def piano(pitch: float, bright: float, rng: Rng, rate: int) -> Samples:
    """Two strings a note that beat and die in two slopes, a felt hammer's thump under them."""
    f0 = frequency(pitch)
    n, f = _harmonics(f0, rate, 22, 0.0001 * (f0 / 130.0) ** 1.5)
    strike = np.abs(np.sin(pi * n / 8.3)) + 0.08
    amp = strike * np.exp(-n * (0.42 - 0.2 * bright) * (f0 / 260.0) ** 0.4) / n**0.35
    slope = 0.9 * (f0 / 200.0) ** 0.7 * (1.0 + 0.12 * n)
    off = float(rng.uniform(0.0003, 0.0008))
    seconds = float(np.clip(3.6 * (200.0 / f0) ** 0.45, 1.0, 3.6))
    frames = int(seconds * rate)
    out = dying_sines(
        np.concatenate([f, f * (1.0 + off)]),
        np.concatenate([0.75 * amp, 0.45 * amp]),
        np.concatenate([1.7 * slope, 0.6 * slope]),
        rng.uniform(0, 2 * pi, 2 * n.size),
        frames=frames,
        rate=rate,
    )
    thump = int(0.05 * rate)
    knock = shaped_noise(rng, thump, rate, ((60, 0), (400, 0), (3000, -20), (12000, -50)))
    out[:thump] += 0.05 * knock * np.exp(-np.arange(thump, dtype=np.float32) / (0.012 * rate))
    return _fall(_rise(out, 0.0015, rate), 0.15, rate)


def epiano(pitch: float, bright: float, rng: Rng, rate: int) -> Samples:
    """A struck tine beside a pickup: round fundamental, a bell that dies at once."""
    f0 = frequency(pitch)
    ratio = np.array([1.0, 1.0007, 2.0, 3.0, 4.0, 6.0, 7.02, 14.1])
    amp = np.array([0.6, 0.35, 0.3, 0.14 + 0.2 * bright, 0.05, 0.05 * bright, 0.16 * bright, 0.1 * bright])
    decay = np.array([1.0, 0.8, 1.6, 2.2, 3.0, 5.0, 9.0, 22.0]) * (f0 / 220.0) ** 0.5
    frames = int(float(np.clip(3.0 * (220.0 / f0) ** 0.4, 1.0, 3.0)) * rate)
    out = dying_sines(f0 * ratio, amp, decay, rng.uniform(0, 2 * pi, ratio.size), frames=frames, rate=rate)
    return _fall(_rise(out, 0.002, rate), 0.15, rate)


def guitar(pitch: float, bright: float, rng: Rng, rate: int) -> Samples:
    """A plucked string: every partial by the place of the finger, the high ones dying first."""
    f0 = frequency(pitch)
    n, f = _harmonics(f0, rate, 34, 0.00003)
    place = float(rng.uniform(0.16, 0.24))
    amp = np.abs(np.sin(pi * n * place)) / n ** (1.15 - 0.35 * bright) + 0.004
    decay = 1.1 * (f0 / 180.0) ** 0.5 * (1.0 + 0.10 * n + 0.006 * n**2)
    frames = int(2.4 * rate)
    out = dying_sines(f, amp, decay, rng.uniform(0, 2 * pi, n.size), frames=frames, rate=rate)
    pick = int(0.012 * rate)
    scrape = shaped_noise(rng, pick, rate, ((800, -12), (3000, 0), (9000, -8), (16000, -30)))
    out[:pick] += 0.08 * scrape * np.hanning(pick).astype(np.float32)
    return _fall(_rise(out, 0.001, rate), 0.3, rate)


def upright(pitch: float, bright: float, rng: Rng, rate: int) -> Samples:
    """A plucked double bass: soft attack, wooden knock, few partials."""
    f0 = frequency(pitch)
    n, f = _harmonics(f0, rate, 14, 0.00005)
    amp = np.exp(-n * (0.55 - 0.2 * bright)) * (np.abs(np.sin(pi * n * 0.21)) + 0.1)
    decay = 1.4 * (1.0 + 0.35 * n)
    frames = int(1.8 * rate)
    out = dying_sines(f, amp, decay, rng.uniform(0, 2 * pi, n.size), frames=frames, rate=rate)
    knock = int(0.03 * rate)
    wood = shaped_noise(rng, knock, rate, ((80, 0), (700, -4), (2500, -16), (10000, -50)))
    out[:knock] += 0.06 * wood * np.hanning(knock).astype(np.float32)
    return _fall(_rise(out, 0.006, rate), 0.25, rate)


def bass(pitch: float, bright: float, rng: Rng, rate: int) -> Samples:
    """A bass guitar under a finger: brighter and longer than the upright."""
    f0 = frequency(pitch)
    n, f = _harmonics(f0, rate, 24, 0.00004)
    amp = np.abs(np.sin(pi * n * 0.13)) / n ** (1.25 - 0.35 * bright)
    decay = 0.9 * (1.0 + 0.25 * n)
    frames = int(2.0 * rate)
    out = dying_sines(f, amp, decay, rng.uniform(0, 2 * pi, n.size), frames=frames, rate=rate)
    return _fall(_rise(out, 0.003, rate), 0.3, rate)


# Drums --------------------------------------------------------------------------------------------------------------


def _decay(frames: int, seconds: float, rate: int) -> Samples:
    return np.exp(-np.arange(frames, dtype=np.float32) / np.float32(seconds * rate))


def kick(rng: Rng, rate: int) -> Samples:
    """A head that falls from 130 Hz to 50 Hz and a beater's click."""
    n = int(0.4 * rate)
    t = np.arange(n) / rate
    low = float(rng.uniform(47, 51))
    phase = 2 * pi * (low * t + 80.0 * 0.022 * (1.0 - np.exp(-t / 0.022)))
    out = (np.sin(phase) * np.exp(-t / 0.11)).astype(np.float32)
    c = int(0.008 * rate)
    out[:c] += (
        0.35 * shaped_noise(rng, c, rate, ((500, -6), (2500, 0), (7000, -10), (14000, -40))) * _decay(c, 0.002, rate)
    )
    return _fall(_rise(out, 0.0006, rate), 0.05, rate)


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
    return _fall(_rise(out, 0.0004, rate), 0.05, rate)


def _metal(rng: Rng, rate: int, seconds: float, low: float, high: float, partials: int, hiss: float) -> Samples:
    n = int(seconds * rate)
    f = low * (high / low) ** rng.random(partials)
    tone = dying_sines(
        f, np.ones(partials) / np.sqrt(partials), rng.uniform(2.5, 7.0, partials) / seconds, rng.uniform(0, 2 * pi, partials),
        frames=n, rate=rate,
    )  # fmt: skip
    noise = shaped_noise(rng, n, rate, ((low / 2, -30), (low, -6), (high, 0), (16000, -6), (22000, -20)))
    return tone + hiss * noise * _decay(n, seconds / 5.0, rate)


def hat(rng: Rng, rate: int) -> Samples:
    """Two small plates, closed."""
    return _fall(_rise(0.22 * _metal(rng, rate, 0.11, 5200, 13000, 18, 1.0), 0.0003, rate), 0.02, rate)


def open_hat(rng: Rng, rate: int) -> Samples:
    """Two small plates, open."""
    return _fall(_rise(0.2 * _metal(rng, rate, 0.5, 4800, 13000, 26, 1.0), 0.0004, rate), 0.1, rate)


def foot(rng: Rng, rate: int) -> Samples:
    """Two small plates closed by foot."""
    return _fall(_rise(0.16 * _metal(rng, rate, 0.09, 3500, 9000, 14, 0.7), 0.002, rate), 0.02, rate)


def ride(rng: Rng, rate: int) -> Samples:
    """A large plate struck with the tip."""
    out = 0.13 * _metal(rng, rate, 1.4, 2400, 12000, 40, 0.6)
    c = int(0.03 * rate)
    out[:c] += 0.22 * shaped_noise(rng, c, rate, ((1500, -10), (4500, 0), (12000, -6))) * _decay(c, 0.006, rate)
    return _fall(_rise(out, 0.0004, rate), 0.4, rate)


def crash(rng: Rng, rate: int) -> Samples:
    """A thin plate struck with the shoulder."""
    return _fall(_rise(0.3 * _metal(rng, rate, 2.6, 900, 13000, 60, 1.0), 0.004, rate), 0.9, rate)


def rim(rng: Rng, rate: int) -> Samples:
    """A stick across the rim."""
    n = int(0.07 * rate)
    out = dying_sines(
        np.array([820.0, 1740.0, 2550.0]), np.array([0.5, 0.5, 0.3]), np.array([90.0, 110.0, 150.0]),
        rng.uniform(0, 2 * pi, 3), frames=n, rate=rate,
    )  # fmt: skip
    out += 0.12 * shaped_noise(rng, n, rate, ((1000, -6), (4000, 0), (12000, -20))) * _decay(n, 0.004, rate)
    return _fall(_rise(out, 0.0003, rate), 0.02, rate)


def _tom(f0: float) -> Callable[[Rng, int], Samples]:
    def tom(rng: Rng, rate: int) -> Samples:
        n = int(0.5 * rate)
        t = np.arange(n) / rate
        out = (np.sin(2 * pi * (f0 * t + f0 * 0.3 * 0.03 * (1 - np.exp(-t / 0.03)))) * np.exp(-t / 0.13)).astype(
            np.float32
        )
        skin = shaped_noise(rng, n, rate, ((200, -4), (1200, 0), (5000, -14), (14000, -40)))
        return _fall(_rise(out + 0.14 * skin * _decay(n, 0.018, rate), 0.0006, rate), 0.1, rate)

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
    return _fall(_rise(noise * _decay(n, float(rng.uniform(0.003, 0.008)), rate), 0.0005, rate), 0.005, rate)


def sibilant(rng: Rng, rate: int, *, seconds: float, centre: float) -> Samples:
    """An s or sh: noise about ``centre`` [Hz] that swells and stops."""
    n = int(seconds * rate)
    noise = shaped_noise(rng, n, rate, ((1200, -45), (centre * 0.62, -22), (centre * 0.85, -2), (centre * 1.2, 0), (10500, -6), (15000, -24)))  # fmt: skip
    return _fall(_rise(noise, 0.35 * seconds, rate), 0.3 * seconds, rate)


DRUMS: dict[str, Callable[[Rng, int], Samples]] = {
    "kick": kick, "snare": snare, "hat": hat, "open_hat": open_hat, "foot": foot, "ride": ride, "crash": crash,
    "rim": rim, "brush": brush, "clap": clap, "tom_high": _tom(175.0), "tom_mid": _tom(128.0), "tom_low": _tom(88.0),
}  # fmt: skip
STRUCK: dict[str, Callable[[float, float, Rng, int], Samples]] = {
    "piano": piano, "epiano": epiano, "guitar": guitar, "upright": upright, "bass": bass,
}  # fmt: skip
LEVELS = {
    "kick": 0.62, "snare": 0.5, "hat": 0.34, "open_hat": 0.36, "foot": 0.34, "ride": 0.4, "crash": 0.45, "rim": 0.3,
    "brush": 0.5, "clap": 0.3, "tom_high": 0.5, "tom_mid": 0.52, "tom_low": 0.56, "piano": 0.22, "epiano": 0.24,
    "guitar": 0.2, "upright": 0.52, "bass": 0.36, "organ": 0.09, "strings": 0.075, "reed": 0.17, "flute": 0.17,
    "brass": 0.15, "voice": 0.19, "s": 0.2, "pure_bass": 0.4,
}  # fmt: skip
"""How loud a player of each voice is beside the others, linear."""
DRY = frozenset({"kick", "bass", "upright", "pure_bass"})
"""Voices kept out of the room and in the middle."""


# Bowed, blown, sung -------------------------------------------------------------------------------------------------

# Formants (Hz) and levels (dB) of five vowels of a middle voice; the usual textbook averages, rounded.
VOWELS: dict[str, tuple[tuple[float, float, float], ...]] = {
    "a": ((730, 0, 90), (1150, -4, 110), (2500, -18, 160), (3500, -26, 220)),
    "e": ((480, 0, 70), (1900, -10, 120), (2550, -15, 160), (3500, -24, 220)),
    "i": ((300, 0, 60), (2250, -18, 120), (2950, -17, 180), (3700, -24, 240)),
    "o": ((480, 0, 70), (850, -6, 90), (2450, -26, 160), (3400, -32, 220)),
    "u": ((330, 0, 60), (700, -12, 90), (2400, -34, 160), (3300, -38, 220)),
}


def vowel_table(vowel: str, f0: float, rate: int, rng: Rng) -> Samples:
    """One period of a sung vowel at ``f0``, its partials weighted by the vowel's resonances."""
    n = np.arange(1, max(3, min(int(9000 / f0), int(0.42 * rate / f0))) + 1, dtype=float)
    f = n * f0
    gain = np.full(n.size, 0.004)
    for centre, level, width in VOWELS[vowel]:
        gain += 10 ** (level / 20) / np.sqrt(1.0 + ((f - centre) / (width * 1.1)) ** 2)
    return make_table(gain / n**0.55, rng.uniform(-0.6, 0.6, n.size))


def _vibrato(
    frames: int, rate: int, f0: float, rng: Rng, *, depth: float, hertz: float, delay: float
) -> NDArray[np.float64]:
    """Phase [turns] of a note with a vibrato that comes in, ``depth`` relative, and a slow drift."""
    step = 64
    coarse = np.arange(-(-frames // step) + 2) * (step / rate)
    grow = np.clip((coarse - delay) / 0.25, 0.0, 1.0)
    scoop = -0.012 * np.exp(-coarse / 0.03)
    wobble = depth * grow * np.sin(2 * pi * hertz * coarse + float(rng.uniform(0, 2 * pi)))
    drift = 0.0012 * np.sin(2 * pi * 0.7 * coarse + float(rng.uniform(0, 2 * pi)))
    turns = np.concatenate([[0.0], np.cumsum(f0 * (1.0 + scoop + wobble + drift) * (step / rate))])
    return np.interp(np.arange(frames), np.arange(turns.size) * step, turns)


_WIND = {  # fall of the partials [dB an octave], odd partials' share, breath, vibrato depth, attack [s]
    "flute": (-14.0, 1.0, 0.035, 0.006, 0.05),
    "reed": (-7.0, 0.35, 0.012, 0.004, 0.025),
    "brass": (-6.0, 1.0, 0.006, 0.004, 0.035),
}


def wind(voice: str, pitch: float, seconds: float, level: float, rng: Rng, rate: int) -> Samples:
    """A blown note: dull at first, brighter as it opens, breath over it."""
    fall, even, breath, depth, attack = _WIND[voice]
    f0 = frequency(pitch)
    n = np.arange(1, max(3, min(40, int(0.42 * rate / f0))) + 1, dtype=float)
    amp = 10 ** ((fall - 3.0 * (1.0 - level)) * np.log2(n) / 20)
    amp *= np.where(n % 2 == 0, even, 1.0) / (1.0 + (n * f0 / 5200.0) ** 2)
    if voice == "brass":
        amp *= 1.0 + 1.5 * np.exp(-((np.log2(n * f0 / 1400.0) / 0.6) ** 2))
    turn = rng.uniform(-0.5, 0.5, n.size)
    tables = [make_table(amp / n**1.2, turn), make_table(amp, turn)]
    frames = int((seconds + 0.06) * rate)
    phase = _vibrato(frames, rate, f0, rng, depth=depth, hertz=float(rng.uniform(4.8, 5.8)), delay=0.25)
    t = np.arange(frames, dtype=np.float32) / np.float32(rate)
    mix = np.minimum(1.0, t / np.float32(2.5 * attack)) * np.exp(-t / np.float32(2.5))
    out = read_table(tables, mix, phase)
    if breath:
        air = rng.standard_normal(frames, dtype=np.float32)
        out += breath * (air - np.concatenate([[np.float32(0)], air[:-1]]) * np.float32(0.6))
    return _fall(_rise(out, attack, rate), 0.07, rate)


def strings(pitch: float, seconds: float, rng: Rng, rate: int) -> Samples:
    """A section of bowed strings, of shape (2, frames): three desks, each with its own vibrato."""
    f0 = frequency(pitch)
    n = np.arange(1, max(3, min(26, int(0.42 * rate / f0))) + 1, dtype=float)
    body = (
        1.0
        + 0.9 * np.exp(-((np.log2(n * f0 / 480.0) / 0.5) ** 2))
        + 0.5 * np.exp(-((np.log2(n * f0 / 2600.0) / 0.6) ** 2))
    )
    amp = body / n**1.05 / (1.0 + (n * f0 / 5000.0) ** 2)
    frames = int((seconds + 0.3) * rate)
    out = np.zeros((2, frames), np.float32)
    for left, right in ((0.9, 0.25), (0.6, 0.6), (0.25, 0.9)):
        table = make_table(amp, rng.uniform(-pi, pi, n.size))
        tuned = f0 * (1.0 + float(rng.normal(0.0, 0.0016)))
        phase = _vibrato(frames, rate, tuned, rng, depth=0.0035, hertz=float(rng.uniform(4.6, 6.0)), delay=0.1)
        desk = read_table([table], None, phase + float(rng.random()))
        out[0] += np.float32(left) * desk
        out[1] += np.float32(right) * desk
    return _fall(_rise(out, 0.18, rate), 0.3, rate)


def organ(pitch: float, seconds: float, rng: Rng, rate: int) -> Samples:
    """Pipes or drawbars, of shape (2, frames): harmonics with a slow beat that differs left and right."""
    f0 = frequency(pitch)
    ratio = np.array([0.5, 1.0, 1.5, 2.0, 3.0, 4.0, 6.0, 8.0])
    amp = np.array([0.5, 0.8, 0.22, 0.5, 0.28, 0.2, 0.1, 0.08])
    frames = int((seconds + 0.08) * rate)
    out = np.empty((2, frames), np.float32)
    for side in range(2):
        off = rng.uniform(-0.0008, 0.0008, ratio.size)
        out[side] = dying_sines(
            np.concatenate([f0 * ratio, f0 * ratio * (1.0 + off)]),
            np.concatenate([amp, 0.5 * amp]),
            np.zeros(2 * ratio.size),
            rng.uniform(0, 2 * pi, 2 * ratio.size),
            frames=frames,
            rate=rate,
        )
    return _fall(_rise(out, 0.015, rate), 0.08, rate)


def sung(pitch: float, seconds: float, rng: Rng, rate: int, *, glide: float = 1.0) -> Samples:
    """A vowel that moves into another, on ``pitch``; ``glide`` scales the vibrato."""
    f0 = frequency(pitch)
    first, second = (str(v) for v in rng.choice(list(VOWELS), size=2))
    tables = [vowel_table(first, f0, rate, rng), vowel_table(second, f0, rate, rng)]
    frames = int((seconds + 0.05) * rate)
    phase = _vibrato(frames, rate, f0, rng, depth=0.009 * glide, hertz=float(rng.uniform(5.0, 6.0)), delay=0.15)
    mix = np.clip(np.linspace(-0.3, 1.3, frames, dtype=np.float32), 0.0, 1.0)
    return _fall(_rise(read_table(tables, mix, phase), 0.03, rate), 0.06, rate)


def pure_bass(pitch: float, seconds: float, rng: Rng, rate: int) -> Samples:
    """A soft low tone that holds only what lies under 300 Hz."""
    f0 = frequency(pitch)
    n = np.arange(1, max(1, int(260.0 / f0)) + 1, dtype=float)
    frames = int((seconds + 0.2) * rate)
    out = dying_sines(n * f0, 0.9 / n**1.3, 0.5 + 0.4 * n, rng.uniform(0, 2 * pi, n.size), frames=frames, rate=rate)
    return _fall(_rise(out, 0.025, rate), 0.12, rate)


@dataclass(slots=True)
class Players:
    """Makes the sound of a note at one rate and keeps what may sound again.

    Struck notes and drums come in a few takes each, so that a repeated note is not the same samples.
    """

    rate: int
    seed: int
    takes: int = 3
    _kept: dict[tuple[str, float, int, int], Samples] = field(default_factory=dict)
    _bytes: int = 0
    _count: int = 0

    def sound(self, voice: str, pitch: float, seconds: float, level: float) -> Samples:
        """Samples of a note, of shape (frames,) or (2, frames). Not to be written into."""
        self._count += 1
        if voice in DRUMS:
            return self._keep((voice, 0.0, 0, self._count % (2 * self.takes)))
        if voice in STRUCK:
            return self._keep((voice, pitch, 1 if level > 0.5 else 0, self._count % self.takes))
        if voice in {"strings", "organ", "pure_bass"}:
            return self._keep((voice, pitch, max(1, round(seconds / 0.05)), self._count % 2))
        rng = np.random.default_rng([self.seed, 7, self._count])
        if voice in _WIND:
            return wind(voice, pitch, seconds, level, rng, self.rate)
        if voice == "voice":
            return sung(pitch, seconds, rng, self.rate)
        if voice == "talk":
            return sung(pitch, seconds, rng, self.rate, glide=0.3)
        return sibilant(rng, self.rate, seconds=seconds, centre=pitch)

    def _keep(self, key: tuple[str, float, int, int]) -> Samples:
        kept = self._kept.get(key)
        if kept is not None:
            return kept
        voice, pitch, third, take = key
        rng = np.random.default_rng([self.seed, sum(voice.encode()), int(pitch * 4), third, take])
        if voice in DRUMS:
            made = DRUMS[voice](rng, self.rate)
        elif voice in STRUCK:
            made = STRUCK[voice](pitch, 0.85 if third else 0.35, rng, self.rate)
        else:
            maker = {"strings": strings, "organ": organ, "pure_bass": pure_bass}[voice]
            made = maker(pitch, third * 0.05, rng, self.rate)
        self._bytes += made.nbytes
        while self._bytes > CACHE_BYTES and self._kept:
            self._bytes -= self._kept.pop(next(iter(self._kept))).nbytes
        self._kept[key] = made
        return made
