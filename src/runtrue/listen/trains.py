"""Trains: ticks that return once a turn, as a scratch or a crack makes them; and what they say about the turn.

A train may lie askew (its period then is not the turn's), bend a little, and miss a tick where the music hides it. In
crackle, ticks fall into line by chance: a train counts only if that is unlikely.
"""

from itertools import pairwise
from math import log

import numpy as np
from numpy.typing import NDArray

from runtrue.listen.heard import HeardTick, HeardTrain

Float64 = NDArray[np.float64]

ASKEW = 0.01
"""First gap of a train off the turn, at most, relative: a scratch at 45 deg drifts by 0.02 to 0.05 % a turn."""
WITHIN_S = 0.003
LEAST = 4
_MISSES = 2
"""Turns in a row that may lack their tick."""
_FILLED = 0.6
_CHANCE = 0.01
"""Trains that chance may make on a side."""
_RECENT = 6
_MOST = 6000


def find_trains(ticks: tuple[HeardTick, ...], *, turn_period: float) -> tuple[HeardTrain, ...]:
    """Trains of four turns or more, the longest first taken; ``turn_period`` in s of programme time."""
    times = np.array([t.programme_time for t in ticks])
    if len(times) < LEAST:
        return ()
    order = np.argsort(times, kind="stable")
    if len(order) > _MOST:
        loud = np.argsort([-t.prominence for t in ticks], kind="stable")[:_MOST]
        order = order[np.isin(order, loud)]
    sorted_times = times[order]
    chains = sorted(_chains(sorted_times, turn_period), key=len, reverse=True)
    used = np.zeros(len(sorted_times), dtype=bool)
    found = []
    for chain in chains:
        free = [m for m in chain if not used[m]]
        if len(free) < len(chain) or not _unlikely(sorted_times, chain, turn_period):
            continue
        used[chain] = True
        found.append(_train(order[chain], sorted_times[chain], turn_period))
    return tuple(sorted(found, key=lambda train: ticks[train.members[0]].programme_time))


def _chains(times: Float64, turn: float) -> list[list[int]]:
    """From every pair of ticks about one turn (or two, one missing) apart, the chain that follows; 4 or more."""
    chains: list[list[int]] = []
    inside: set[tuple[int, int]] = set()
    for steps in (1, 2):
        low = np.searchsorted(times, times + steps * turn * (1.0 - ASKEW))
        high = np.searchsorted(times, times + steps * turn * (1.0 + ASKEW), side="right")
        for first in np.flatnonzero(high > low):
            for second in range(int(low[first]), int(high[first])):
                if (int(first), second) in inside:
                    continue
                chain = _follow(times, int(first), second, steps)
                if len(chain) >= LEAST:
                    inside.update(pairwise(chain))
                    chains.append(chain)
    return chains


def _follow(times: Float64, first: int, second: int, steps: int) -> list[int]:
    """``first``, ``second`` and every further tick where a straight line through the last few foretells one."""
    members, turns = [first, second], [0, steps]
    while True:
        n, t = np.array(turns[-_RECENT:], dtype=float), times[members[-_RECENT:]]
        slope = float(((n - n.mean()) * (t - t.mean())).sum() / ((n - n.mean()) ** 2).sum())
        for ahead in range(1, _MISSES + 2):
            due = float(t.mean() + slope * (turns[-1] + ahead - n.mean()))
            near = int(np.searchsorted(times, due))
            close = min((k for k in (near - 1, near) if 0 <= k < len(times)), key=lambda k: abs(times[k] - due))
            if abs(times[close] - due) <= WITHIN_S and close > members[-1]:
                members.append(close)
                turns.append(turns[-1] + ahead)
                break
        else:
            return _without_stray(times, members, turns)


def _without_stray(times: Float64, members: list[int], turns: list[int]) -> list[int]:
    """The chain less a first tick that the ones after it do not foretell: the first gap was searched widely."""
    while len(members) >= LEAST:
        n, t = np.array(turns[1 : _RECENT + 1], dtype=float), times[members[1 : _RECENT + 1]]
        due = float(np.polyval(np.polyfit(n, t, 1), turns[0]))
        if abs(times[members[0]] - due) <= WITHIN_S:
            break
        members, turns = members[1:], turns[1:]
    return members


def _unlikely(times: Float64, chain: list[int], turn: float) -> bool:
    """Whether ticks scattered as densely as here would so seldom fall into such a line, and few are missing."""
    start, end = times[chain[0]], times[chain[-1]]
    turns = round((end - start) / turn)
    if len(chain) < _FILLED * (turns + 1):
        return False
    around = (times > start - 5.0) & (times < end + 5.0)
    rate = max(0.0, float(around.sum()) - len(chain)) / (end - start + 10.0)
    if rate == 0.0:
        return True
    second = min(1.0, 2.0 * ASKEW * turn * rate)
    later = min(1.0, (1 + _MISSES) * 2.0 * WITHIN_S * rate)
    expected = log(len(times)) + log(max(second, 1e-12)) + (len(chain) - 2) * log(max(later, 1e-12))
    return expected < log(_CHANCE)


def _train(members: NDArray[np.int64], times: Float64, turn: float) -> HeardTrain:
    number = np.rint((times - times[0]) / turn)
    period = float(np.polyfit(number, times, 1)[0])
    return HeardTrain(members=tuple(int(m) for m in members), period=period)


_AGREE = 100e-6
"""Relative difference of periods up to which trains bear witness to one turn."""


def turn_of_trains(trains: tuple[HeardTrain, ...], ticks: tuple[HeardTick, ...]) -> tuple[float, float] | None:
    """Turn [s] and its U95 from three or more trains that agree; None where they do not.

    One scratch tells nothing (it may lie askew); several that lie askew by the same hundred parts in a million do not
    occur. A train of n ticks with scatter s about its line knows its period to s sqrt(12 / n^3).
    """
    periods, errors = [], []
    for train in trains:
        times = np.array([ticks[m].programme_time for m in train.members])
        n = len(times)
        number = np.rint((times - times[0]) / train.period)
        left = times - np.polyval(np.polyfit(number, times, 1), number)
        scatter = max(float(np.std(left)) * (n / max(1, n - 2)) ** 0.5, 2e-5)
        periods.append(train.period)
        errors.append(scatter * (12.0 / n**3) ** 0.5)
    value, error = np.array(periods), np.array(errors)
    if len(value) < 3:
        return None
    middle = float(np.median(value))
    near = np.abs(value - middle) < _AGREE * middle + 2.0 * error
    if near.sum() < 3 or near.sum() < 0.6 * len(value):
        return None
    weight = 1.0 / (error[near] ** 2 + (_AGREE / 3.0 * middle) ** 2)
    mean = float((weight * value[near]).sum() / weight.sum())
    return mean, 1.96 * float(weight.sum() ** -0.5)
