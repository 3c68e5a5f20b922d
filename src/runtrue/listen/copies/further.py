"""What to play next: of all that could be played, what tells most for its trouble.

An experiment shows the mark or not; each suspect says how likely. What it tells is the mutual information of outcome
and suspect. For an event on the press that is a bisection: the closure in the middle of where it may have begun.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from runtrue.listen.copies.compare import Recurrence
from runtrue.listen.copies.onset import CLOSE
from runtrue.listen.copies.origins import Origin, Suspect
from runtrue.listen.copies.sample import Float64, Sample

CLIP = 40.0
"""What is played about the place [s]: enough to know the programme by."""
_SEEN = 0.97
_WORTH = 0.08
"""Less than this [bit] is not worth playing."""


class Trial(StrEnum):
    """What could be done."""

    CLOSURE = "closure"
    UNTOLD = "untold"
    WASH = "wash"
    SECOND_RIG = "second_rig"
    OTHER_STAMPER = "other_stamper"
    OTHER_MOTHER = "other_mother"
    OTHER_PRESS = "other_press"
    OTHER_BATCH = "other_batch"
    MOTHER = "mother"


_TROUBLE = {
    Trial.CLOSURE: 1.0, Trial.UNTOLD: 1.0, Trial.OTHER_STAMPER: 1.3, Trial.OTHER_BATCH: 1.3, Trial.OTHER_MOTHER: 1.5,
    Trial.WASH: 1.5, Trial.OTHER_PRESS: 1.5, Trial.SECOND_RIG: 2.0, Trial.MOTHER: 2.5,
}  # fmt: skip
"""Trouble of each, in plays of a copy that is at hand. Our choice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Next:
    """What to play: ``which`` names copy, stamper, mother, press or batch, ``closure`` the place in the run, and from
    when to when on the side [s]. ``bits``: what it is expected to tell."""

    trial: Trial
    which: str | None
    closure: int | None
    start: float
    end: float
    bits: float


_Row = tuple[Trial, str | None, int | None, Float64, Float64]
"""Trial, which, closure, weights of the cases and how likely each shows the mark."""


def next_play(one: Recurrence, sample: Sample) -> Next | None:
    """The trial that tells most for its trouble; None where nothing tells more than a little."""
    start = min(max(0.0, one.time - 0.5 * CLIP), max(0.0, sample.length - CLIP))
    best: Next | None = None
    score = 0.0
    for trial, which, closure, weight, shows in _trials(one, sample):
        bits = _information(weight / weight.sum(), (1.0 - _SEEN) + (2.0 * _SEEN - 1.0) * shows)
        if bits >= _WORTH and bits / _TROUBLE[trial] > score:
            score = bits / _TROUBLE[trial]
            best = Next(
                trial=trial, which=which, closure=closure, start=start, end=min(start + CLIP, sample.length), bits=bits
            )
    return best


def _information(weight: Float64, shows: Float64) -> float:
    """Mutual information [bit] of a yes or no with probability ``shows`` in each case of ``weight``."""
    return float(_entropy(np.array([weight @ shows]))[0] - weight @ _entropy(shows))


def _entropy(p: Float64) -> Float64:
    q = np.clip(p, 1e-12, 1.0 - 1e-12)
    return np.asarray(-(q * np.log2(q) + (1.0 - q) * np.log2(1.0 - q)))


def _trials(one: Recurrence, sample: Sample) -> Iterator[_Row]:
    suspects = [(k, s) for k, s in enumerate(one.suspects) if s.probability >= 1e-4]
    weight = np.array([s.probability for _, s in suspects] + [one.odds.chance, one.odds.other])

    def row(trial: Trial, which: str | None, shows: Callable[[int, Suspect], float]) -> _Row:
        return trial, which, None, weight, np.array([*(shows(k, s) for k, s in suspects), 0.0, 0.5])

    def only(*origins: Origin) -> Callable[[int, Suspect], float]:
        return lambda _, s: float(s.origin in origins)

    def without(*origins: Origin) -> Callable[[int, Suspect], float]:
        return lambda _, s: float(s.origin not in origins)

    copy = one.copies[0]
    name, stamper, mother = sample.copies[copy], sample.name_of("stamper", copy), sample.name_of("mother", copy)
    yield from _closures(one, suspects, weight)
    for untold in one.untold[:3]:
        yield row(Trial.UNTOLD, sample.copies[untold], lambda k, _, i=untold: float(one.odds.members[k, i]))  # type: ignore[misc]
    yield row(Trial.SECOND_RIG, name, without(Origin.PLAYER))
    if len(one.copies) == 1:
        yield row(Trial.WASH, name, without(Origin.DIRT))
    if len(sample.values["stamper"][0]) <= 1:
        yield row(Trial.OTHER_STAMPER, stamper, only(Origin.CUT, Origin.FATHER, Origin.MOTHER, Origin.PLAYER))
    if len(sample.values["mother"][0]) <= 1:
        yield row(Trial.OTHER_MOTHER, mother, only(Origin.CUT, Origin.FATHER, Origin.PLAYER))
    yield row(Trial.OTHER_PRESS, stamper, without(Origin.PRESS, Origin.CAVITY))
    yield row(Trial.OTHER_BATCH, stamper, without(Origin.COMPOUND, Origin.PILE))
    yield row(Trial.MOTHER, mother, only(Origin.CUT, Origin.FATHER, Origin.MOTHER))


def _closures(one: Recurrence, suspects: list[tuple[int, Suspect]], weight: Float64) -> Iterator[_Row]:
    """Halve where an event on the press may have begun, or ended, whichever is wider.

    The event splits in two cases, with the mark on the middle closure and without; others show there what they show on
    the copies beside it.
    """
    event = next((i for i, (_, s) in enumerate(suspects) if s.origin is Origin.PRESS_EVENT), None)
    if event is None or one.first is None or one.middles is None:
        return
    gaps = [(one.first[1] - one.first[0] + 1, one.middles[0])]
    if one.last is not None and one.last[1] is not None:
        gaps.append((one.last[1] - one.last[0] + 1, one.middles[1]))
    wide, middle = max(gaps)
    if wide <= CLOSE:
        return
    shows = np.array([one.odds.members[k, one.copies[0]] for k, _ in suspects] + [0.0, 0.5])
    cases = np.append(weight, 0.5 * weight[event])
    cases[event] *= 0.5
    shows[event] = 1.0
    yield Trial.CLOSURE, suspects[event][1].which, middle, cases, np.append(shows, 0.0)
