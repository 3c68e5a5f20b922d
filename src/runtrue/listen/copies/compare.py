"""Copies compared: every event that recurs, with its suspects, what cannot be told apart, since when and until when."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from runtrue.listen.copies.likeness import judged, shapes_of
from runtrue.listen.copies.matching import centre_of, matched
from runtrue.listen.copies.onset import first_closure, last_closure
from runtrue.listen.copies.origins import (
    Odds,
    Origin,
    Suspect,
    evidence,
    levels_of,
    odds,
)
from runtrue.listen.copies.rising import Rise, rise_of
from runtrue.listen.copies.sample import Events, Int, Sample, pooled
from runtrue.listen.copies.screen import worth

MOST_CHANCE = 0.2
"""A group of events that is chance with more than this probability is not listed."""
NAMED = 0.97
"""The suspects that are named hold this share of all that is not chance."""
_TIES = 5e-4
"""Suspects less likely than this are not said to be tied with others."""
_TRAIN_LEAST = 4
_TELLS = 0.5
"""A copy tells about a mark if it would list it with this chance or more."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Recurrence:
    """One mark on several plays.

    ``copies`` and ``plays`` index the sample; ``without`` copies would show it and do not, ``untold`` cannot say.
    ``named``: how many of the suspects, best first, hold ``NAMED`` of what is not chance. ``tied``: groups of suspects
    whose copies in this sample are the same, so that nothing played here can tell them apart. ``first`` and ``last``:
    intervals of the closures at which an event on the press came and went; None where that is no suspect. ``likeness``
    of the waveforms, None where not known. ``middles``: closures before which it came, and was gone, with even odds.
    ``train``: number of the train it belongs to: marks once a turn on the same
    copies. ``time_sd`` [s].
    """

    time: float
    time_sd: float
    copies: tuple[int, ...]
    plays: tuple[int, ...]
    events: Int
    without: tuple[int, ...]
    untold: tuple[int, ...]
    odds: Odds
    named: int
    tied: tuple[tuple[int, ...], ...]
    first: tuple[int, int] | None
    last: tuple[int, int | None] | None
    middles: tuple[int, int] | None
    likeness: float | None
    rise: Rise | None
    train: int | None = None

    @property
    def suspects(self) -> tuple[Suspect, ...]:
        """All suspects, likeliest first."""
        return self.odds.suspects


def recurrences(sample: Sample, *, turn: float) -> list[Recurrence]:
    """Every mark that two or more plays share and that chance does not explain, in the order of programme time.

    ``turn`` is the period of one turn [s].
    """
    events = pooled(sample)
    levels = levels_of(events)
    shapes = shapes_of(sample, events)
    found = []
    for group in worth(matched(events), events, sample):
        alike, ratio = judged(group, events, shapes)
        rise = rise_of(group, events, sample)
        what = evidence(group, events, sample, levels, None if rise is None else rise.above)
        told = odds(what, sample, ratio)
        if told.chance <= MOST_CHANCE:
            found.append(_recurrence(group, events, sample, told, alike=alike, rise=rise))
    return _in_trains(found, turn)


def _in_trains(found: Sequence[Recurrence], turn: float) -> list[Recurrence]:
    """Number marks that follow one another once a turn, four or more, on much the same copies: one scratch or crack.

    It may lie askew: the first gap is within 1 % of a turn, the others within 3 ms of it.
    """
    out = list(found)
    number = 0
    for first in range(len(out)):
        if out[first].train is not None:
            continue
        best: list[int] = []
        for second in range(first + 1, len(out)):
            gap = out[second].time - out[first].time
            if gap > 1.01 * turn:
                break
            if gap < 0.99 * turn or not _alike(out[first], out[second]):
                continue
            chain = [first, second]
            for third in range(second + 1, len(out)):
                late = out[third].time - out[chain[-1]].time - gap
                if late > 0.003:
                    break
                if abs(late) <= 0.003 and _alike(out[first], out[third]):
                    chain.append(third)
            best = max(best, chain, key=len)
        if len(best) >= _TRAIN_LEAST:
            number += 1
            for k in best:
                out[k] = replace(out[k], train=number)
    return out


def _alike(one: Recurrence, other: Recurrence) -> bool:
    """Whether two marks are on much the same copies."""
    a, b = set(one.copies), set(other.copies)
    return len(a & b) >= 0.7 * len(a | b)


def _recurrence(
    group: Int, events: Events, sample: Sample, told: Odds, *, alike: float | None, rise: Rise | None
) -> Recurrence:
    time, deviation = centre_of(group, events)
    has, hears = told.has, told.heard >= _TELLS
    real = max(1.0 - told.chance - told.other, 1e-12)
    summed = np.cumsum([one.probability for one in told.suspects])
    named = int(np.searchsorted(summed, NAMED * real)) + 1
    first = last = middles = None
    event = next((s for s in told.suspects[:named] if s.origin is Origin.PRESS_EVENT), None)
    if event is not None:
        one, order = told.onsets[event.which or ""]
        closure = sample.closure[order]
        first, last = first_closure(one, closure), last_closure(one, closure)
        middles = one.middle(closure), one.middle(closure, of_end=True)
    return Recurrence(
        time=time,
        time_sd=deviation,
        copies=tuple(int(i) for i in np.flatnonzero(has)),
        plays=tuple(int(j) for j in events.of[group]),
        events=group,
        without=tuple(int(i) for i in np.flatnonzero(~has & hears)),
        untold=tuple(int(i) for i in np.flatnonzero(~has & ~hears)),
        odds=told,
        named=min(named, len(told.suspects)),
        tied=_tied(told, sample),
        first=first,
        last=last,
        middles=middles,
        likeness=alike,
        rise=rise,
    )


def _tied(told: Odds, sample: Sample) -> tuple[tuple[int, ...], ...]:
    """Groups of suspects of at least 1 in 100 that put the mark on the same of the copies that can tell."""
    tells = (told.heard >= _TELLS) | told.has
    groups: dict[bytes, list[int]] = {}
    for k, one in enumerate(told.suspects):
        if one.probability >= _TIES and one.origin is not Origin.DIRT:
            pattern = _rig_pattern(one, sample) if one.origin is Origin.PLAYER else b""
            groups.setdefault((told.members[k, tells] > 0.5).tobytes() + pattern, []).append(k)
    return tuple(tuple(group) for group in groups.values() if len(group) > 1)


def _rig_pattern(one: Suspect, sample: Sample) -> bytes:
    """Empty where every play was made on that player: then it cannot be told from the disc."""
    for name in ("player", "stylus", "rig"):
        names, code = sample.values[name]
        if one.which in names:
            return b"" if (code == names.index(one.which)).all() else b"rig"
    return b""
