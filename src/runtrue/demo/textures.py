"""Sounds that go on without notes: hands, brushes, noise. Each is a function of block number and frames."""

from math import pi

import numpy as np

from runtrue.demo.drums import clap
from runtrue.demo.mixer import Texture
from runtrue.demo.synthesis import Samples


def _colour(rate: int, bands: tuple[tuple[float, float], ...]) -> Samples:
    """A short filter of the wanted colour, made from a bell of zero phase, of shape (1024,)."""
    n = 1024
    f = np.fft.rfftfreq(n, 1.0 / rate)
    level = np.interp(np.log2(np.maximum(f, 1.0)), np.log2([b[0] for b in bands]), [b[1] for b in bands], left=-80.0)
    h = np.roll(np.fft.irfft(10 ** (level / 20), n), n // 2) * np.hanning(n)
    colour: Samples = (h / np.sqrt(np.sum(h**2))).astype(np.float32)
    return colour


def _noise(seed: int, tag: int, number: int, frames: int, colour: Samples) -> Samples:
    """Noise of shape (2, frames) and rms 1 that joins without a seam to its neighbours."""
    from scipy.signal import oaconvolve

    out = np.empty((2, frames), np.float32)
    for side in range(2):
        rng = np.random.default_rng([seed, tag, number, side])
        before = np.random.default_rng([seed, tag, max(number - 1, 0), side, 1])
        own = np.random.default_rng([seed, tag, number, side, 1])
        head = before.standard_normal(colour.size - 1, dtype=np.float32)
        tail = own.standard_normal(colour.size - 1, dtype=np.float32)
        white = np.concatenate([head, rng.standard_normal(frames - colour.size + 1, dtype=np.float32), tail])
        out[side] = oaconvolve(white, colour, mode="valid")
    return out


def _slow(seed: int, tag: int, number: int, frames: int, rate: int, *, hertz: float, depth: float) -> Samples:
    """A wandering gain about 1 that goes on smoothly from block to block, of shape (frames,)."""
    step = 256
    t = (number * frames + np.arange(0, frames + step, step)) / rate
    rng = np.random.default_rng([seed, tag])
    gain = np.zeros(t.size)
    for _ in range(4):
        gain += np.sin(2 * pi * hertz * float(rng.uniform(0.4, 1.6)) * t + float(rng.uniform(0, 2 * pi))) / 2
    knots = np.exp(depth * gain).astype(np.float32)
    ramp = np.arange(step, dtype=np.float32) / np.float32(step)
    return (knots[:-1, None] + np.diff(knots)[:, None] * ramp).reshape(-1)[:frames]


def crowd(rate: int, seed: int, *, level: float, claps_per_second: float = 260.0) -> Texture:
    """A hall full of clapping hands: near pairs of hands one by one, the far ones as a bed."""
    rng = np.random.default_rng([seed, 31])
    hands = [clap(rng, rate) for _ in range(48)]
    bed = _colour(rate, ((300, -24), (900, -4), (1800, 0), (4500, -7), (14000, -22)))

    def texture(number: int, frames: int) -> Samples:
        rng = np.random.default_rng([seed, 32, number])
        swell = _slow(seed, 33, number, frames, rate, hertz=0.12, depth=0.25)
        out = 0.055 * _noise(seed, 34, number, frames, bed)
        count = rng.poisson(claps_per_second * frames / rate)
        longest = max(h.size for h in hands)
        starts = rng.integers(0, frames - longest, count)
        loud = np.exp(rng.normal(-0.5, 0.8, count))
        pans = rng.uniform(0.05, 0.95, count) * (pi / 2)
        gains = 0.16 * np.clip(loud, 0.0, 3.0) * np.stack([np.cos(pans), np.sin(pans)])
        which = rng.integers(0, len(hands), count)
        for s, w, (gl, gr) in zip(starts.tolist(), which.tolist(), gains.T.astype(np.float32), strict=True):
            h = hands[w]
            out[0, s : s + h.size] += gl * h
            out[1, s : s + h.size] += gr * h
        sound: Samples = np.float32(level) * swell * out
        return sound

    return texture


def brushwork(rate: int, seed: int, *, tempo: float, level: float) -> Texture:
    """Wire brushes that circle on a drum without end: the noise swells on each beat and wanders left to right."""
    wires = _colour(rate, ((180, -26), (700, -9), (2500, 0), (5500, 0), (9000, -5), (16000, -20)))

    def texture(number: int, frames: int) -> Samples:
        t = (number * frames + np.arange(frames)) / rate
        beat = (t - 0.05) * (tempo / 60.0)
        inside = (beat - np.floor(beat)).astype(np.float32)
        strong = np.where(np.floor(beat).astype(np.int64) % 2 == 1, np.float32(1.0), np.float32(0.65))
        stroke = np.float32(0.35) + strong * np.sin(np.float32(pi) * inside ** np.float32(0.7)) ** 2
        stroke *= _slow(seed, 41, number, frames, rate, hertz=0.8, depth=0.18)
        side = np.sin(pi * beat).astype(np.float32) * np.float32(0.5)
        noise = _noise(seed, 42, number, frames, wires)
        middle = np.float32(0.75) * noise[0]
        noise *= np.float32(0.55)
        stroke *= np.float32(level)
        noise[0] = stroke * (1 + side) * (middle + noise[0])
        noise[1] = stroke * (1 - side) * (middle + noise[1])
        return noise

    return texture


def storm(rate: int, seed: int, *, level: float) -> Texture:
    """Noise as music: three bands that come and go by themselves, in wide stereo."""
    bands = (
        ((40, -20), (90, 0), (350, -3), (1200, -30)),
        ((300, -24), (900, 0), (2600, 0), (6000, -24)),
        ((2500, -26), (5500, 0), (12000, -3), (19000, -14)),
    )
    colours = [_colour(rate, b) for b in bands]

    def texture(number: int, frames: int) -> Samples:
        out = np.zeros((2, frames), np.float32)
        for k, colour in enumerate(colours):
            noise = _noise(seed, 51 + k, number, frames, colour)
            for side in range(2):
                noise[side] *= _slow(seed, 61 + 2 * k + side, number, frames, rate, hertz=0.9 + 0.8 * k, depth=0.6)
            out += np.float32((0.8, 1.0, 0.55)[k]) * noise
        shared = np.float32(0.22) * (out[0] + out[1])
        sound: Samples = np.float32(level) * (np.float32(0.75) * out + shared)
        return sound

    return texture


def air(rate: int, seed: int, *, level: float) -> Texture:
    """The quiet of a room with someone in it."""
    hiss = _colour(rate, ((30, -6), (120, 0), (500, -10), (3000, -22), (12000, -34)))
    return lambda number, frames: np.float32(level) * _noise(seed, 71, number, frames, hiss)


def chord_of_sines(rate: int, frequencies: tuple[float, ...], *, level: float) -> Texture:
    """Sines that never change, the same in both channels."""

    def texture(number: int, frames: int) -> Samples:
        n = number * frames + np.arange(frames, dtype=np.float64)
        tone = np.zeros(frames)
        for f in frequencies:
            tone += np.sin(2 * pi * ((n * (f / rate)) % 1.0))
        one = (level / len(frequencies) * tone).astype(np.float32)
        return np.stack([one, one])

    return texture
