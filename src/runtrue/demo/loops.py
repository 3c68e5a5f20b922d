"""One bar that repeats to the sample: what defeats an alignment that trusts in the music."""

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from scipy.fft import next_fast_len

from runtrue.demo.characters import random_style
from runtrue.demo.mixer import LOWEST_SIDE, Mix, Room, bend, room_response
from runtrue.demo.parts import bass_bar, comp_bar, drum_bar
from runtrue.demo.players import LEVELS, Players
from runtrue.demo.score import Clock
from runtrue.demo.synthesis import Samples
from runtrue.demo.theory import harmony, voicing


def _wrap(x: Samples, frames: int) -> Samples:
    """Lay what rings past ``frames`` over the beginning, as often as it takes."""
    out = np.zeros((*x.shape[:-1], frames), np.float32)
    for start in range(0, x.shape[-1], frames):
        piece = x[..., start : start + frames]
        out[..., : piece.shape[-1]] += piece
    return out


def _low_middle(x: NDArray[np.float64], rate: int) -> Samples:
    """Take the lows from the difference of the channels, round the bar."""
    n = x.shape[-1]
    f = np.fft.rfftfreq(n, 1.0 / rate)
    side = np.fft.irfft(np.fft.rfft(0.5 * (x[0] - x[1])) * f**4 / (f**4 + LOWEST_SIDE**4), n)
    middle = 0.5 * (x[0] + x[1])
    return np.stack([middle + side, middle - side]).astype(np.float32)


def loop_bar(seed: int, rate: int) -> tuple[Samples, Samples]:
    """One bar that joins to itself, of shape (2, n), and a fill to lay over it that rings into the next, (2, 2 n)."""
    rng = np.random.default_rng([seed, 21])
    style = replace(random_style(rng), drums="backbeat", bass="syncopated", comp="offbeats", beats=4)
    frames = next_fast_len(round(240.0 / style.tempo * rate), real=True)
    chord = harmony(rng, style.mode, "T")[0]
    clock = Clock(style, 0.0, rng)
    notes = [*drum_bar(clock, 0, 0.9, first=False, fill=False), *bass_bar(clock, 0, 0.9, chord, chord)]
    notes += comp_bar(clock, 0, 0.9, voicing(chord, style.tonic, (55, 59, 62, 65)))
    fill = [n for n in drum_bar(clock, 0, 0.9, first=True, fill=True) if n.voice in {"tom_high", "tom_mid", "crash"}]
    players = Players(rate, seed)
    bar = Mix(players, rate, frames, LEVELS)
    for note in notes:
        bar.add(note, 0)
    over = Mix(players, rate, 2 * frames, LEVELS)
    for note in fill:
        over.add(note, 0)
    response = room_response(Room(), rate, seed)
    dry, room = _wrap(bar.buses, frames)
    plain = dry + np.fft.irfft(np.fft.rfft(room) * np.fft.rfft(_wrap(response, frames)), frames)
    extra = over.buses[:, :, : 2 * frames]
    size = 4 * frames
    wet = np.fft.irfft(np.fft.rfft(extra[1], size) * np.fft.rfft(response, size), size)[:, : 2 * frames]
    ringing = (extra[0] + wet) * np.linspace(2.0, 0.0, 2 * frames).clip(0.0, 1.0)
    return _low_middle(plain, rate), _low_middle(ringing, rate)


def loop_blocks(seconds: float, seed: int, rate: int, *, every: int, mono: bool) -> Iterator[Samples]:
    """Bars of shape (2, n) for ``seconds``; each ``every``-th has a fill on top that rings into the next (0: none)."""
    plain, extra = loop_bar(seed, rate)
    n = plain.shape[-1]
    gain = np.float32(0.95)
    bars = [bend(gain * b) for b in (plain.copy(), plain + extra[:, :n], plain + extra[:, n:])]
    if mono:
        bars = [np.float32(0.5) * np.stack([b[0] + b[1]] * 2) for b in bars]
    left = round(seconds * rate)
    number = 0
    while left > 0:
        number += 1
        kind = 0
        if every and number % every == 0:
            kind = 1
        elif every and number > every and number % every == 1:
            kind = 2
        yield bars[kind][:, : min(left, n)]
        left -= n
