"""Music that the program composes itself: by character for the bench, by the side for the demonstration.

``compose(character, seconds, seed, rate)`` gives stereo float32 of shape (frames, 2), full scale 1. The same
arguments give the same samples; another rate gives the same notes. ``compose_blocks`` gives the same samples in
blocks, for pieces that should not stand in memory as a whole. ``compose_side`` puts tunes and gaps on a side.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from runtrue.demo.characters import PLANS
from runtrue.demo.loops import loop_blocks
from runtrue.demo.mixer import render
from runtrue.demo.synthesis import Samples
from runtrue.errors import InputError, unknown_name

Stereo = NDArray[np.float32]
"""Sound of shape (frames, 2), full scale 1."""

_LOOPS = {"loops": 8, "loops_exact": 0}
CHARACTERS = (*PLANS, *_LOOPS)
"""Names that ``compose`` knows."""
GAP_SECONDS = 2.0
"""Silence between two tunes of a side [s]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Tune:
    """One title of a side: what it is called, how it is played, how long it lasts [s] and the seed of its notes."""

    title: str
    character: str
    seconds: float
    seed: int

    def __post_init__(self) -> None:
        """Refuse what ``compose`` would refuse."""
        _check(self.character, self.seconds)


@dataclass(frozen=True, slots=True, kw_only=True)
class Passage:
    """Where a tune stands on its side, in programme time [s]."""

    title: str
    start: float
    end: float


def _check(character: str, seconds: float, rate: int = 48_000) -> None:
    if character not in CHARACTERS:
        raise unknown_name("character", character, CHARACTERS)
    if not 0.5 <= seconds <= 7200.0:
        raise InputError(f"seconds must be 0.5 to 7200 s, got {seconds:g} s: a side lasts at most about 1800 s")
    if not 8000 <= rate <= 192_000:
        raise InputError(f"rate must be 8000 to 192000 Hz, got {rate} Hz: 48000 Hz is usual")


def _planar(character: str, seconds: float, seed: int, rate: int, mono: bool) -> Iterator[Samples]:
    """Blocks of shape (2, n)."""
    _check(character, seconds, rate)
    if character in _LOOPS:
        return loop_blocks(seconds, seed, rate, every=_LOOPS[character], mono=mono)
    plan = PLANS[character](np.random.default_rng([seed, 1]), seconds, seed, rate)
    if mono:
        plan = replace(plan, master=replace(plan.master, mono=True))
    return render(plan, seconds=seconds, seed=seed, rate=rate)


def compose_blocks(
    character: str, seconds: float, seed: int, rate: int = 48_000, *, mono: bool = False
) -> Iterator[Stereo]:
    """Blocks of shape (n, 2), n a few seconds, whose concatenation is what ``compose`` returns."""
    for block in _planar(character, seconds, seed, rate, mono):
        yield np.ascontiguousarray(block.T)


def compose(character: str, seconds: float, seed: int, rate: int = 48_000, *, mono: bool = False) -> Stereo:
    """A piece of ``seconds`` by ``character``, of shape (frames, 2), no sample above -1 dB re full scale.

    ``rate`` [Hz] is that of the samples, ``mono`` makes both channels the same.

    Examples
    --------
    >>> compose("band", 2.0, 1, 48_000).shape
    (96000, 2)
    """
    blocks = _planar(character, seconds, seed, rate, mono)
    out = np.empty((round(seconds * rate), 2), np.float32)
    at = 0
    for block in blocks:
        out[at : at + block.shape[-1]] = block.T
        at += block.shape[-1]
    return out


def passages(tunes: Sequence[Tune], *, gap: float = GAP_SECONDS) -> tuple[Passage, ...]:
    """Where each tune of a side stands when ``gap`` [s] of silence lies between neighbours."""
    out, at = [], 0.0
    for tune in tunes:
        out.append(Passage(title=tune.title, start=at, end=at + tune.seconds))
        at += tune.seconds + gap
    return tuple(out)


def compose_side(tunes: Sequence[Tune], rate: int = 48_000, *, gap: float = GAP_SECONDS) -> Stereo:
    """The tunes of a side one after another with digital silence of ``gap`` [s] between, of shape (frames, 2)."""
    if not tunes:
        raise InputError("a side needs at least one tune")
    places = passages(tunes, gap=gap)
    out = np.zeros((round(places[-1].end * rate), 2), np.float32)
    for tune, place in zip(tunes, places, strict=True):
        at = round(place.start * rate)
        for block in _planar(tune.character, tune.seconds, tune.seed, rate, mono=False):
            n = min(block.shape[-1], len(out) - at)
            out[at : at + n] = block[:, :n].T
            at += n
    return out
