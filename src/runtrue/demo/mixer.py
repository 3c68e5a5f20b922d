"""Puts notes and textures together block by block: places, room, master. Memory does not grow with the length."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from math import cos, pi, sin

import numpy as np
from scipy.fft import irfft, next_fast_len, rfft

from runtrue.demo.players import DRY, LEVELS, Players
from runtrue.demo.score import Note
from runtrue.demo.synthesis import Samples, shaped_noise

CEILING = 0.891
"""Largest sample of a master: 1 dB under full scale."""
LOWEST_SIDE = 130.0
"""Below this the two channels are made the same [Hz]."""
_BLOCK_SECONDS = 8.0
_TAIL_SECONDS = 12.0
_RELEASE = {"piano": 0.12, "epiano": 0.1, "guitar": 0.08, "upright": 0.06, "bass": 0.05}

Texture = Callable[[int, int], Samples]
"""Called with block number and frames: a sound of shape (2, frames) that belongs into the room."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Room:
    """A room: time to fall by 60 dB [s] and level of its sound re the direct one, linear. ``wet`` 0 is none."""

    seconds: float = 1.1
    wet: float = 0.22


@dataclass(frozen=True, slots=True, kw_only=True)
class Master:
    """What happens to the mix: ``gain`` linear; ``hard`` clips instead of bending; ``fade`` from, to [s]; ``mono``."""

    gain: float = 1.0
    hard: bool = False
    fade: tuple[float, float] | None = None
    mono: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """Everything that a piece needs to sound: notes in order of start, textures, room and master."""

    notes: list[Note]
    textures: tuple[Texture, ...] = ()
    room: Room = Room()
    master: Master = Master()
    levels: dict[str, float] | None = None
    close: float = 0.5
    """Seconds over which the very end goes down to nothing; 0 stops it at full level."""


def room_response(room: Room, rate: int, seed: int) -> Samples:
    """Direct sound followed by a room's answer, different left and right, of shape (2, frames)."""
    rng = np.random.default_rng([seed, 11])
    frames = int((room.seconds * 0.75 + 0.03) * rate)
    t = np.arange(frames) / rate
    out = np.zeros((2, frames))
    delay = int(0.014 * rate)
    for side in range(2):
        low = shaped_noise(rng, frames, rate, ((90, -30), (220, 0), (1800, 0), (4500, -14), (9000, -40)))
        high = shaped_noise(rng, frames, rate, ((900, -30), (2500, -6), (6000, -2), (12000, -12), (18000, -40)))
        tail = low * 10 ** (-3 * t / room.seconds) + 0.8 * high * 10 ** (-3 * t / (0.5 * room.seconds))
        out[side, delay:] = tail[: frames - delay]
        for _ in range(5):
            out[side, int(rng.uniform(0.006, 0.03) * rate)] += rng.choice((-1.0, 1.0)) * rng.uniform(10, 25)
        end = frames // 5
        out[side, -end:] *= np.cos(np.linspace(0, pi / 2, end)) ** 2
    out *= room.wet / np.sqrt(np.mean(np.sum(out**2, axis=1)))
    out[:, 0] += 1.0
    return out.astype(np.float32)


def bend(x: Samples, ceiling: float = CEILING) -> Samples:
    """Limit ``x`` in place: straight up to 0.7 of ``ceiling``, then bent toward it."""
    knee = np.float32(0.7 * ceiling)
    over = np.abs(x) > knee
    if over.any():
        y = x[over]
        span = np.float32(ceiling) - knee
        x[over] = np.sign(y) * (knee + span * np.tanh((np.abs(y) - knee) / span))
    return x


class Mix:
    """The two buses of a block and what rings over into the next."""

    def __init__(self, players: Players, rate: int, block: int, levels: dict[str, float]) -> None:
        self.players, self.rate, self.block, self.levels = players, rate, block, levels
        self.buses = np.zeros((2, 2, block + int(_TAIL_SECONDS * rate)), np.float32)

    def add(self, note: Note, begin: int) -> None:
        """Add a note whose start lies in the block that begins at frame ``begin``."""
        sound = self.players.sound(note.voice, note.pitch, note.length, note.level)
        bus = self.buses[0 if note.voice in DRY else 1]
        at = round(note.start * self.rate) - begin
        gain = note.level * self.levels.get(note.voice, 0.2)
        angle = (float(np.clip(note.pan, -1.0, 1.0)) + 1.0) * pi / 4
        sides = (gain * cos(angle) * 2**0.5, gain * sin(angle) * 2**0.5)
        release = _RELEASE.get(note.voice)
        stop = sound.shape[-1]
        hold = int(note.length * self.rate)
        ramp: Samples | None = None
        if release is not None and hold + int(release * self.rate) < stop:
            stop = hold + int(release * self.rate)
            ramp = np.cos(np.linspace(0.0, pi / 2, stop - hold, dtype=np.float32)) ** 2
        stop = min(stop, bus.shape[-1] - at)
        for side, g in enumerate(sides):
            x = sound if sound.ndim == 1 else sound[side]
            if ramp is None:
                bus[side, at : at + stop] += np.float32(g) * x[:stop]
            else:
                bus[side, at : at + hold] += np.float32(g) * x[:hold]
                bus[side, at + hold : at + stop] += np.float32(g) * x[hold:stop] * ramp[: stop - hold]

    def advance(self) -> None:
        """Move on by one block."""
        b = self.block
        rest = self.buses.shape[-1] - b
        carry = min(rest, b)
        self.buses[:, :, :carry] = self.buses[:, :, b : b + carry]
        if rest > b:
            self.buses[:, :, carry:rest] = self.buses[:, :, b + carry :]
        self.buses[:, :, rest:] = 0.0


class _LowMiddle:
    """What a cutting room does so that the groove keeps its depth: the difference of the channels loses its lows."""

    def __init__(self, rate: int) -> None:
        from scipy.signal import butter  # takes a second to import; only who composes waits for it

        self.sections = butter(2, LOWEST_SIDE, "highpass", fs=rate, output="sos").astype(np.float32)
        self.state = np.zeros((self.sections.shape[0], 2), np.float32)

    def __call__(self, x: Samples) -> None:
        """Work on ``x`` of shape (2, n) in place; the next call goes on where this one ends."""
        from scipy.signal import sosfilt

        middle = np.float32(0.5) * (x[0] + x[1])
        side, self.state = sosfilt(self.sections, x[0] - middle, zi=self.state)
        x[0] = middle + side
        x[1] = middle - side


def render(plan: Plan, *, seconds: float, seed: int, rate: int) -> Iterator[Samples]:
    """Blocks of shape (2, n), n up to 8 s, of a piece of ``seconds``; the blocks do not depend on who asks."""
    frames = round(seconds * rate)
    levels = LEVELS | (plan.levels or {})
    block = int(_BLOCK_SECONDS * rate)
    mix = Mix(Players(rate, seed), rate, block, levels)
    response = room_response(plan.room, rate, seed) if plan.room.wet else np.ones((2, 1), np.float32)
    ringing = response.shape[-1] - 1
    size = next_fast_len(block + ringing, real=True)
    spectra = rfft(response, size, axis=-1)
    over = np.zeros((2, ringing), np.float32)
    low_middle = _LowMiddle(rate)
    next_note = 0
    for number, begin in enumerate(range(0, frames, block)):
        length = min(block, frames - begin)
        end_time = (begin + block - 0.5) / rate
        while next_note < len(plan.notes) and plan.notes[next_note].start < end_time:
            mix.add(plan.notes[next_note], begin)
            next_note += 1
        for texture in plan.textures:
            mix.buses[1, :, :block] += texture(number, block)
        out = mix.buses[0, :, :block].copy()
        if plan.room.wet:
            for side in range(2):
                wet = irfft(rfft(mix.buses[1, side, :block], size) * spectra[side], size)
                out[side] += wet[:block]
                out[side, :ringing] += over[side]
                over[side] = wet[block : block + ringing]
        else:
            out += mix.buses[1, :, :block]
        mix.advance()
        low_middle(out)
        out = finish(out[:, :length], plan.master, begin, rate)
        closing = round(min(plan.close, 0.2 * seconds) * rate)
        if closing and begin + length > frames - closing:
            t = (np.arange(begin, begin + length) - (frames - closing)) / closing
            out *= (np.cos(np.clip(t, 0.0, 1.0) * (pi / 2)) ** 2).astype(np.float32)
        yield out


def finish(x: Samples, master: Master, begin: int, rate: int) -> Samples:
    """Apply the master to the mix ``x`` of shape (2, n) that begins at frame ``begin``."""
    x = x * np.float32(master.gain)
    if master.mono:
        x[:] = np.float32(0.5) * (x[0] + x[1])
    if master.hard:
        np.clip(x, -np.float32(CEILING), np.float32(CEILING), out=x)
    else:
        bend(x)
    if master.fade is not None:
        start, stop = master.fade
        t = (np.arange(begin, begin + x.shape[-1]) / rate - start) / (stop - start)
        x *= np.where(t < 1.0, np.cos(np.clip(t, 0.0, 1.0) * (pi / 2)) ** 2, 0.0).astype(np.float32)
    return x
