"""A tick at the same programme time on several copies: whose it is, and from which closure on.

Two ticks are the same fault when their programme times agree within both U95 and 1 ms. A copy shows it, does not show
it, or cannot tell: not heard there, or too loud for it. What chance alone would bring together is left out.
"""

from bisect import bisect_left
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from statistics import median

from runtrue.contract.listening import Listening, Tick, Traces

APART = 0.001
"""What two recordings of one fault may differ in programme time beyond their U95 [s]."""
LEAST_DB = 12.0
"""Prominence from which a tick is found at all [dB]."""
MARGIN_DB = 3.0
"""A copy that shows no tick speaks against it only where it would stand so far above what is found [dB]."""
BY_CHANCE = 0.05
"""Pairs expected by chance from which two copies' agreeing ticks say nothing."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """One judged recording of a copy: ``copy`` is its name in running text ("copy 5")."""

    copy: str
    side: str
    closure: int | None = None
    stamper: str = ""
    batch: str = ""
    note: str = ""
    listening: Listening
    traces: Traces


@dataclass(frozen=True, slots=True, kw_only=True)
class Recurrence:
    """One fault on two or more copies. ``without`` heard the place and do not show it, ``untold`` cannot say."""

    side: str
    programme_s: float
    ticks: tuple[Tick, ...]
    shown: tuple[Judged, ...]
    without: tuple[Judged, ...]
    untold: tuple[Judged, ...]

    @property
    def copies(self) -> tuple[str, ...]:
        """The copies that show it, once each."""
        return tuple(dict.fromkeys(one.copy for one in self.shown))

    @property
    def stampers(self) -> tuple[str, ...]:
        """The stampers whose copies show it, once each."""
        return tuple(dict.fromkeys(one.stamper for one in self.shown))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Heard:
    tick: Tick
    by: Judged


def recurrences(judged: Iterable[Judged]) -> list[Recurrence]:
    """Every fault that two or more copies share, in the order of side and programme time."""
    every = [one for one in judged if one.listening.ticks is not None]
    found: list[Recurrence] = []
    for side in sorted({one.side for one in every}):
        block = [one for one in every if one.side == side]
        found += [_recurrence(group, block) for group in _groups(block) if _telling(group, block)]
    return found


def _groups(block: Sequence[Judged]) -> list[list[_Heard]]:
    """Ticks that agree with their neighbour in time; a train is one copy's scratch and stands aside."""
    heard = [_Heard(tick=t, by=one) for one in block for t in one.listening.ticks or [] if t.train is None]
    heard.sort(key=lambda each: each.tick.programme_s)
    groups: list[list[_Heard]] = [[each] for each in heard[:1]]
    for before, after in pairwise(heard):
        if _agree(before.tick, after.tick):
            groups[-1].append(after)
        else:
            groups.append([after])
    return groups


def _agree(one: Tick, other: Tick) -> bool:
    return abs(one.programme_s - other.programme_s) <= one.u95_s + other.u95_s + APART


def _telling(group: Sequence[_Heard], block: Sequence[Judged]) -> bool:
    """Whether several copies share the group, and more than chance brings together."""
    copies = list(dict.fromkeys(each.by.copy for each in group))
    if len(copies) != 2:
        return len(copies) > 2
    first, second = (max(len(one.listening.ticks or []) for one in block if one.copy == copy) for copy in copies)
    length = max(one.listening.programme.reach_s[1] for one in block if one.listening.programme.reach_s)
    window = 2.0 * (2.0 * median(each.tick.u95_s for each in group) + APART)
    return first * second * window / max(length, window) < BY_CHANCE


def _recurrence(group: Sequence[_Heard], block: Sequence[Judged]) -> Recurrence:
    time = median(each.tick.programme_s for each in group)
    shown = {each.by.copy for each in group}
    with_it = [one for one in block if any(each.by is one for each in group)]
    peak = median(each.tick.prominence_db + _noise(each.by, time) for each in group)
    others = [one for one in block if one.copy not in shown]
    return Recurrence(
        side=block[0].side,
        programme_s=time,
        ticks=tuple(each.tick for each in group),
        shown=tuple(with_it),
        without=tuple(one for one in others if _would_show(one, time, peak)),
        untold=tuple(one for one in others if not _would_show(one, time, peak)),
    )


def _would_show(one: Judged, time: float, peak: float) -> bool:
    """Whether a copy heard the place, and quietly enough that such a tick would have been found."""
    reach = one.listening.programme.reach_s
    if reach is None or not reach[0] <= time <= reach[1]:
        return False
    threshold = _at(one.traces, one.traces.tick_threshold_db, time)
    return peak - _noise(one, time) >= max(threshold or LEAST_DB, LEAST_DB) + MARGIN_DB


def _noise(one: Judged, time: float) -> float:
    """Noise of a copy at a programme time [dB re its level reference]; that of the side where the curve is silent."""
    there = _at(one.traces, one.traces.noise_db_a, time)
    return there if there is not None else one.listening.noise.surface_db_a or 0.0


def _at(traces: Traces, curve: Sequence[float | None], time: float) -> float | None:
    if not curve:
        return None
    place = min(bisect_left(traces.programme_s, time), len(curve) - 1)
    return curve[place]
