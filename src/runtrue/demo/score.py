"""The words of the score: notes, how a piece is played, and the clock that turns bars into seconds.

Pitches are note numbers, 69 = 440 Hz, 12 to the octave. Times are seconds from the start of the piece.
"""

from dataclasses import dataclass

import numpy as np

from runtrue.demo.synthesis import Rng


@dataclass(frozen=True, slots=True, kw_only=True)
class Note:
    """One note or stroke: ``start`` and ``length`` [s], ``pitch`` (note number), ``level`` 0 to 1, ``pan`` -1 to 1."""

    start: float
    length: float
    pitch: float
    level: float
    voice: str
    pan: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Style:
    """How a piece is played.

    ``swing`` is where the second eighth falls in the beat (0.5 straight, 0.66 triplet); ``humanity`` the standard
    deviation of a player's timing [s]; empty names leave a part out.
    """

    tempo: float
    beats: int = 4
    swing: float = 0.5
    tonic: int = 50
    mode: str = "major"
    drums: str = "backbeat"
    bass: str = "syncopated"
    comp: str = "offbeats"
    comp_voice: str = "epiano"
    lead: str = "reed"
    second_lead: str = ""
    pad: str = "strings"
    humanity: float = 0.005


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """Some bars of one kind: ``theme`` picks harmony and melody, ``level`` 0 to 1 is how loud, ``parts`` who plays."""

    theme: str
    bars: int
    first: int
    """Bar of the theme's eight where the section sets in, so that a short one still ends with the theme's close."""
    level: float
    parts: frozenset[str]


@dataclass(frozen=True, slots=True)
class Clock:
    """Turns bars and eighths into seconds, with swing and each player's own small errors."""

    style: Style
    start: float
    rng: Rng

    @property
    def beat(self) -> float:
        """Length of a beat [s]."""
        return 60.0 / self.style.tempo

    @property
    def bar(self) -> float:
        """Length of a bar [s]."""
        return self.beat * self.style.beats

    def at(self, bar: float, eighth: float, *, loose: float = 1.0) -> float:
        """Time of an eighth (may be fractional) of a bar [s], never before the piece."""
        beat, rest = divmod(eighth, 2.0)
        swing = self.style.swing
        inside = rest * swing if rest <= 1.0 else swing + (rest - 1.0) * (1.0 - swing)
        error = float(self.rng.normal(0.0, self.style.humanity)) * loose
        return max(0.0, self.start + bar * self.bar + (beat + inside) * self.beat + float(np.clip(error, -0.02, 0.02)))
