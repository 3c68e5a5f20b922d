"""A minute of plain music for tests: plucked notes, brushes and a soft bass, seeded; no part of the composer."""

import numpy as np
from numpy.typing import NDArray

RATE = 44_100


def music(seconds: float, seed: int = 1) -> NDArray[np.float32]:
    """Stereo, shape (frames, 2), rms near -20 dB re full scale."""
    rng = np.random.default_rng(seed)
    frames = int(seconds * RATE)
    sound = np.zeros((frames, 2))
    scale = 220.0 * 2.0 ** (np.array([0, 2, 3, 5, 7, 8, 10, 12, 14, 15]) / 12.0)
    at = 0.0
    while at < seconds - 0.05:
        start = int(at * RATE)
        length = min(int(1.2 * RATE), frames - start)
        time = np.arange(length) / RATE
        pitch = float(rng.choice(scale)) * float(rng.choice([0.5, 1.0, 2.0]))
        note = np.zeros(length)
        for harmonic in range(1, 7):
            phase = 2.0 * np.pi * pitch * harmonic * time + rng.uniform(0.0, 6.28)
            note += np.sin(phase) * np.exp(-time * (2.0 + 1.5 * harmonic)) / harmonic
        brush = rng.standard_normal(length) * np.exp(-time * 25.0) * 0.5
        place = rng.uniform(0.2, 0.8)
        sound[start : start + length, 0] += (1.0 - place) * (note + brush)
        sound[start : start + length, 1] += place * (note + np.roll(brush, 7))
        at += float(rng.choice([0.11, 0.17, 0.23, 0.31]))
    level = np.sqrt(np.mean(sound**2))
    scaled: NDArray[np.float32] = (sound * (0.1 / level)).astype(np.float32)
    return scaled
