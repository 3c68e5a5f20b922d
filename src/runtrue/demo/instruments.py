"""The instruments and voices: a note in, float32 samples out, of shape (frames,) or (2, frames)."""

from math import pi

import numpy as np
from numpy.typing import NDArray

from runtrue.demo.synthesis import (
    Rng,
    Samples,
    dying_sines,
    fall,
    frequency,
    make_table,
    read_table,
    rise,
    shaped_noise,
)

# Struck and plucked --------------------------------------------------------------------------------------------------


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
    return fall(rise(out, 0.0015, rate), 0.15, rate)


def epiano(pitch: float, bright: float, rng: Rng, rate: int) -> Samples:
    """A struck tine beside a pickup: round fundamental, a bell that dies at once."""
    f0 = frequency(pitch)
    ratio = np.array([1.0, 1.0007, 2.0, 3.0, 4.0, 6.0, 7.02, 14.1])
    amp = np.array([0.6, 0.35, 0.3, 0.14 + 0.2 * bright, 0.05, 0.05 * bright, 0.16 * bright, 0.1 * bright])
    decay = np.array([1.0, 0.8, 1.6, 2.2, 3.0, 5.0, 9.0, 22.0]) * (f0 / 220.0) ** 0.5
    frames = int(float(np.clip(3.0 * (220.0 / f0) ** 0.4, 1.0, 3.0)) * rate)
    out = dying_sines(f0 * ratio, amp, decay, rng.uniform(0, 2 * pi, ratio.size), frames=frames, rate=rate)
    return fall(rise(out, 0.002, rate), 0.15, rate)


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
    return fall(rise(out, 0.001, rate), 0.3, rate)


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
    return fall(rise(out, 0.006, rate), 0.25, rate)


def bass(pitch: float, bright: float, rng: Rng, rate: int) -> Samples:
    """A bass guitar under a finger: brighter and longer than the upright."""
    f0 = frequency(pitch)
    n, f = _harmonics(f0, rate, 24, 0.00004)
    amp = np.abs(np.sin(pi * n * 0.13)) / n ** (1.25 - 0.35 * bright)
    decay = 0.9 * (1.0 + 0.25 * n)
    frames = int(2.0 * rate)
    out = dying_sines(f, amp, decay, rng.uniform(0, 2 * pi, n.size), frames=frames, rate=rate)
    return fall(rise(out, 0.003, rate), 0.3, rate)


def sibilant(rng: Rng, rate: int, *, seconds: float, centre: float) -> Samples:
    """An s or sh: noise about ``centre`` [Hz] that swells and stops."""
    n = int(seconds * rate)
    edges = ((1200, -45), (centre * 0.62, -22), (centre * 0.85, -2), (centre * 1.2, 0), (10500, -6), (15000, -24))
    noise = shaped_noise(rng, n, rate, edges)
    return fall(rise(noise, 0.35 * seconds, rate), 0.3 * seconds, rate)


# Bowed, blown, sung -------------------------------------------------------------------------------------------------

# Formants (Hz) and levels (dB) of five vowels of a middle voice; the usual textbook averages, rounded.
VOWELS: dict[str, tuple[tuple[float, float, float], ...]] = {
    "a": ((730, 0, 90), (1150, -4, 110), (2500, -18, 160), (3500, -26, 220)),
    "e": ((480, 0, 70), (1900, -10, 120), (2550, -15, 160), (3500, -24, 220)),
    "i": ((300, 0, 60), (2250, -18, 120), (2950, -17, 180), (3700, -24, 240)),
    "o": ((480, 0, 70), (850, -6, 90), (2450, -26, 160), (3400, -32, 220)),
    "u": ((330, 0, 60), (700, -12, 90), (2400, -34, 160), (3300, -38, 220)),
}


def _hump(f: NDArray[np.float64], centre: float, octaves: float, height: float) -> NDArray[np.float64]:
    """A resonance of a body: ``height`` at ``centre`` [Hz], a bell ``octaves`` wide."""
    bell: NDArray[np.float64] = height * np.exp(-((np.log2(f / centre) / octaves) ** 2))
    return bell


def vowel_table(vowel: str, f0: float, rate: int, rng: Rng) -> Samples:
    """One period of a sung vowel at ``f0``, its partials weighted by the vowel's resonances."""
    n = np.arange(1, max(3, min(int(9000 / f0), int(0.42 * rate / f0))) + 1, dtype=float)
    f = n * f0
    gain = np.full(n.size, 0.004)
    for centre, level, width in VOWELS[vowel]:
        gain += 10 ** (level / 20) / np.sqrt(1.0 + ((f - centre) / (width * 1.1)) ** 2)
    return make_table(gain / n**0.55, rng.uniform(-0.6, 0.6, n.size))


def _vibrato(frames: int, rate: int, f0: float, rng: Rng, *, depth: float, delay: float) -> NDArray[np.float64]:
    """Phase [turns] of a note with a vibrato that comes in, ``depth`` relative, and a slow drift."""
    step = 64
    coarse = np.arange(-(-frames // step) + 2) * (step / rate)
    grow = np.clip((coarse - delay) / 0.25, 0.0, 1.0)
    scoop = -0.012 * np.exp(-coarse / 0.03)
    hertz = float(rng.uniform(4.8, 5.9))
    wobble = depth * grow * np.sin(2 * pi * hertz * coarse + float(rng.uniform(0, 2 * pi)))
    drift = 0.0012 * np.sin(2 * pi * 0.7 * coarse + float(rng.uniform(0, 2 * pi)))
    turns = np.concatenate([[0.0], np.cumsum(f0 * (1.0 + scoop + wobble + drift) * (step / rate))])
    phase: NDArray[np.float64] = np.interp(np.arange(frames), np.arange(turns.size) * step, turns)
    return phase


WIND = {  # fall of the partials [dB an octave], odd partials' share, breath, vibrato depth, attack [s]
    "flute": (-14.0, 1.0, 0.035, 0.006, 0.05),
    "reed": (-7.0, 0.35, 0.012, 0.004, 0.025),
    "brass": (-6.0, 1.0, 0.006, 0.004, 0.035),
}


def wind(voice: str, pitch: float, seconds: float, rng: Rng, rate: int, *, level: float) -> Samples:
    """A blown note: dull at first, brighter as it opens, breath over it."""
    slope, even, breath, depth, attack = WIND[voice]
    f0 = frequency(pitch)
    n = np.arange(1, max(3, min(40, int(0.42 * rate / f0))) + 1, dtype=float)
    amp = 10 ** ((slope - 3.0 * (1.0 - level)) * np.log2(n) / 20)
    amp *= np.where(n % 2 == 0, even, 1.0) / (1.0 + (n * f0 / 5200.0) ** 2)
    if voice == "brass":
        amp *= 1.0 + _hump(n * f0, 1400.0, 0.6, 1.5)
    turn = rng.uniform(-0.5, 0.5, n.size)
    tables = [make_table(amp / n**1.2, turn), make_table(amp, turn)]
    frames = int((seconds + 0.06) * rate)
    phase = _vibrato(frames, rate, f0, rng, depth=depth, delay=0.25)
    t = np.arange(frames, dtype=np.float32) / np.float32(rate)
    mix = np.minimum(1.0, t / np.float32(2.5 * attack)) * np.exp(-t / np.float32(2.5))
    out = read_table(tables, mix, phase)
    if breath:
        air = rng.standard_normal(frames, dtype=np.float32)
        out += breath * (air - np.concatenate([[np.float32(0)], air[:-1]]) * np.float32(0.6))
    return fall(rise(out, attack, rate), 0.07, rate)


def strings(pitch: float, seconds: float, rng: Rng, rate: int) -> Samples:
    """A section of bowed strings, of shape (2, frames): three desks, each with its own vibrato."""
    f0 = frequency(pitch)
    n = np.arange(1, max(3, min(26, int(0.42 * rate / f0))) + 1, dtype=float)
    body = 1.0 + _hump(n * f0, 480.0, 0.5, 0.9) + _hump(n * f0, 2600.0, 0.6, 0.5)
    amp = body / n**1.05 / (1.0 + (n * f0 / 5000.0) ** 2)
    frames = int((seconds + 0.3) * rate)
    out = np.zeros((2, frames), np.float32)
    for left, right in ((0.9, 0.25), (0.6, 0.6), (0.25, 0.9)):
        table = make_table(amp, rng.uniform(-pi, pi, n.size))
        tuned = f0 * (1.0 + float(rng.normal(0.0, 0.0016)))
        phase = _vibrato(frames, rate, tuned, rng, depth=0.0035, delay=0.1)
        desk = read_table([table], None, phase + float(rng.random()))
        out[0] += np.float32(left) * desk
        out[1] += np.float32(right) * desk
    return fall(rise(out, 0.18, rate), 0.3, rate)


def organ(pitch: float, seconds: float, rng: Rng, rate: int) -> Samples:
    """Pipes or drawbars, of shape (2, frames): harmonics with a slow beat that differs left and right."""
    f0 = frequency(pitch)
    ratio = np.array([0.5, 1.0, 1.5, 2.0, 3.0, 4.0, 6.0, 8.0])
    amp = np.array([0.5, 0.8, 0.22, 0.5, 0.28, 0.2, 0.1, 0.08])
    frames = int((seconds + 0.08) * rate)
    out = np.empty((2, frames), np.float32)
    turn = rng.uniform(0, 2 * pi, ratio.size)
    for side in range(2):
        beat = rng.uniform(0.4, 1.3, ratio.size) * rng.choice((-1.0, 1.0), ratio.size)
        out[side] = dying_sines(
            np.concatenate([f0 * ratio, f0 * ratio + beat]),
            np.concatenate([amp, 0.22 * amp]),
            np.zeros(2 * ratio.size),
            np.concatenate([turn, rng.uniform(0, 2 * pi, ratio.size)]),
            frames=frames,
            rate=rate,
        )
    return fall(rise(out, 0.015, rate), 0.08, rate)


def sung(pitch: float, seconds: float, rng: Rng, rate: int, *, glide: float = 1.0) -> Samples:
    """A vowel that moves into another, on ``pitch``; ``glide`` scales the vibrato."""
    f0 = frequency(pitch)
    first, second = (str(v) for v in rng.choice(list(VOWELS), size=2))
    tables = [vowel_table(first, f0, rate, rng), vowel_table(second, f0, rate, rng)]
    frames = int((seconds + 0.05) * rate)
    phase = _vibrato(frames, rate, f0, rng, depth=0.009 * glide, delay=0.15)
    mix = np.clip(np.linspace(-0.3, 1.3, frames, dtype=np.float32), 0.0, 1.0)
    return fall(rise(read_table(tables, mix, phase), 0.03, rate), 0.06, rate)


def pure_bass(pitch: float, seconds: float, rng: Rng, rate: int) -> Samples:
    """A soft low tone that holds only what lies under 300 Hz."""
    f0 = frequency(pitch)
    n = np.arange(1, max(1, int(260.0 / f0)) + 1, dtype=float)
    frames = int((seconds + 0.2) * rate)
    out = dying_sines(n * f0, 0.9 / n**1.3, 0.5 + 0.4 * n, rng.uniform(0, 2 * pi, n.size), frames=frames, rate=rate)
    return fall(rise(out, 0.025, rate), 0.12, rate)
