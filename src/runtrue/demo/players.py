"""Who plays: finds the maker of a voice, keeps the takes of a note, and says how loud each voice is in the band."""

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from runtrue.demo.drums import DRUMS
from runtrue.demo.instruments import (
    WIND,
    bass,
    epiano,
    guitar,
    organ,
    piano,
    pure_bass,
    sibilant,
    strings,
    sung,
    upright,
    wind,
)
from runtrue.demo.synthesis import Rng, Samples

CACHE_BYTES = 160_000_000
"""Notes kept for another time, at most [bytes]."""

STRUCK: dict[str, Callable[[float, float, Rng, int], Samples]] = {
    "piano": piano, "epiano": epiano, "guitar": guitar, "upright": upright, "bass": bass,
}  # fmt: skip
LEVELS = {
    "kick": 0.55, "snare": 0.62, "hat": 0.54, "open_hat": 0.5, "foot": 0.6, "ride": 0.75, "crash": 0.5, "rim": 0.5,
    "brush": 0.5, "clap": 0.3, "tom_high": 0.5, "tom_mid": 0.52, "tom_low": 0.56, "piano": 0.2, "epiano": 0.2,
    "guitar": 0.15, "upright": 0.44, "bass": 0.36, "organ": 0.09, "strings": 0.08, "reed": 0.14, "flute": 0.17,
    "brass": 0.13, "voice": 0.19, "s": 0.2, "pure_bass": 0.4,
}  # fmt: skip
"""How loud a player of each voice is beside the others, linear."""
DRY = frozenset({"kick", "bass", "upright", "pure_bass"})
"""Voices kept out of the room and in the middle."""


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
        if voice in WIND:
            return wind(voice, pitch, seconds, rng, self.rate, level=level)
        if voice in {"voice", "talk"}:
            return sung(pitch, seconds, rng, self.rate, glide=1.0 if voice == "voice" else 0.3)
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
