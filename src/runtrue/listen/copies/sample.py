"""The copies that were played: what each play heard, and where its disc comes from."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

Float64 = NDArray[np.float64]
Int = NDArray[np.intp]

METAL = ("father", "mother", "stamper")
"""The family of the metal, oldest first. A sample that does not state one has one of it, whose name is not known."""
PLANT = ("press", "cavity", "compound", "pile")
"""What else a disc went through."""
RIG = ("player", "stylus", "rig")
"""What it was played on: these belong to the play, all others to the copy."""
FACTORS = (*METAL, *PLANT, *RIG)

PICK = 5e-5
"""Two recordings of one mark may take different crests of it for its instant [s]: standard deviation. Our choice from
renders, where it is 0.02 to 0.09 ms."""
_BIN = 20.0
_OWN = 60.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Play:
    """One play of one copy.

    ``factors`` are the known ones of ``FACTORS`` by name. Event arrays have shape (n,): programme time and its U95 [s],
    ``level`` of the event as it would stand in any copy (prominence + local noise, dB re a 0 that all plays share) and
    prominence [dB]; ``waveform`` (n, 2, samples). ``noise`` is the level an event has to stand out of [dB re the same
    0], one value a second of programme time from 0 on, NaN where nothing was heard.
    """

    copy: str
    closure: int | None = None
    factors: Mapping[str, str] = field(default_factory=dict)
    order: int | None = None
    washed: bool | None = None
    reach: tuple[float, float]
    time: Float64
    u95: Float64
    level: Float64
    prominence: Float64
    noise: Float64
    waveform: NDArray[np.float16] | None = None


class Sample:
    """All plays of a side as arrays; plays are in the order given, copies in the order of their first play."""

    def __init__(self, plays: Sequence[Play], *, length: float) -> None:
        """``length`` of the side [s]."""
        self.plays = tuple(plays)
        self.length = length
        self.copies = tuple(dict.fromkeys(play.copy for play in plays))
        index = {copy: i for i, copy in enumerate(self.copies)}
        self.copy_of: Int = np.array([index[play.copy] for play in plays], dtype=np.intp)
        self.first: Int = np.array(
            [int(np.flatnonzero(self.copy_of == i)[0]) for i in range(len(self.copies))], np.intp
        )
        closures = [
            next((p.closure for p in plays if p.copy == c and p.closure is not None), None) for c in self.copies
        ]
        self.closure: Float64 = np.array([np.nan if c is None else float(c) for c in closures])
        self.counts: Int = np.bincount(self.copy_of, minlength=len(self.copies))

    @cached_property
    def values(self) -> dict[str, tuple[tuple[str, ...], Int]]:
        """For each factor the values there are, and of each copy (of each play for ``RIG``) which one; -1 unknown."""
        found = {}
        for name in FACTORS:
            each = [play.factors.get(name, "") for play in self.plays]
            if name not in RIG:
                each = [self._of_copy(name, i) for i in range(len(self.copies))]
            names = tuple(dict.fromkeys(v for v in each if v))
            code = {value: k for k, value in enumerate(names)}
            found[name] = (names, np.array([code.get(v, -1) for v in each], dtype=np.intp))
        return found

    def _of_copy(self, name: str, copy: int) -> str:
        if self.counts[copy] == 1:
            return self.plays[int(self.first[copy])].factors.get(name, "")
        mine = (self.plays[int(j)] for j in np.flatnonzero(self.copy_of == copy))
        return next((v for play in mine if (v := play.factors.get(name, ""))), "")

    def name_of(self, factor: str, copy: int) -> str | None:
        """Value of a factor for a copy, None where it is not known."""
        names, code = self.values[factor]
        return names[int(code[copy])] if code[copy] >= 0 else None

    @cached_property
    def noise(self) -> NDArray[np.float32]:
        """Noise of each play, (plays, seconds), NaN where nothing was heard [dB]."""
        table = np.full((len(self.plays), max(1, int(np.ceil(self.length)))), np.nan, dtype=np.float32)
        for j, play in enumerate(self.plays):
            seconds = np.arange(table.shape[1])
            if len(play.noise):
                curve = play.noise[np.minimum(seconds, len(play.noise) - 1)]
                rest = np.nanmedian(curve) if np.isfinite(curve).any() else 0.0
                heard = (seconds + 1 > play.reach[0]) & (seconds < play.reach[1])
                table[j] = np.where(heard, np.where(np.isfinite(curve), curve, rest), np.nan)
        return table

    def noise_at(self, time: float) -> Float64:
        """Noise of each play at a programme time, NaN where it was not heard [dB]."""
        second = min(max(int(time), 0), self.noise.shape[1] - 1)
        reached = np.array([play.reach[0] <= time <= play.reach[1] for play in self.plays])
        return np.where(reached, self.noise[:, second].astype(np.float64), np.nan)

    @cached_property
    def rates(self) -> NDArray[np.float32]:
        """Events a second of each play, (plays, 20 s bins), drawn toward the play's own mean."""
        bins = max(1, int(np.ceil(self.length / _BIN)))
        table = np.zeros((len(self.plays), bins), dtype=np.float32)
        for j, play in enumerate(self.plays):
            span = max(play.reach[1] - play.reach[0], 1.0)
            mean = (len(play.time) + 0.5) / span
            count = np.bincount(np.clip(play.time / _BIN, 0, bins - 1).astype(np.intp), minlength=bins)
            # a burst of crackle reaches into the bins beside it
            near = np.maximum(count, 0.5 * np.maximum(np.roll(count, 1), np.roll(count, -1)))
            table[j] = (near + mean * _OWN) / (_BIN + _OWN)
        return table

    def rates_at(self, time: float) -> Float64:
        """Events a second of each play near a programme time [1/s]."""
        place = min(max(int(time / _BIN), 0), self.rates.shape[1] - 1)
        return self.rates[:, place].astype(np.float64)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Events:
    """Events of all plays in the order of time, shape (n,); ``of`` is the play, ``place`` the index in that play."""

    time: Float64
    sigma: Float64
    level: Float64
    prominence: Float64
    of: Int
    place: Int


def pooled(sample: Sample) -> Events:
    """All events of the sample in the order of programme time."""
    plays = sample.plays
    counts = [len(play.time) for play in plays]
    time = np.concatenate([play.time for play in plays]) if plays else np.zeros(0)
    order = np.argsort(time, kind="stable")
    return Events(
        time=time[order],
        sigma=np.hypot(np.concatenate([play.u95 for play in plays])[order] / 1.96, PICK),
        level=np.concatenate([play.level for play in plays])[order],
        prominence=np.concatenate([play.prominence for play in plays])[order],
        of=np.repeat(np.arange(len(plays), dtype=np.intp), counts)[order],
        place=np.concatenate([np.arange(n, dtype=np.intp) for n in counts])[order],
    )
