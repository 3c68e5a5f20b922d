"""Events of several plays that lie at one programme time, within what their times are known to."""

import numpy as np

from runtrue.listen.copies.sample import Events, Int

WITHIN = 2.5
"""Standard deviations by which two times of one mark may differ."""


def matched(events: Events) -> list[Int]:
    """Groups of two or more events, at most one of each play, in the order of time.

    Neighbours closer than ``WITHIN`` deviations of their difference are chained; a chain that is longer than one mark
    can be, or holds a play twice, is cut into its densest windows. Cost grows with the number of events.
    """
    if len(events.time) < 2:
        return []
    apart = np.diff(events.time) > WITHIN * np.hypot(events.sigma[:-1], events.sigma[1:])
    starts = np.concatenate([[0], np.flatnonzero(apart) + 1])
    stops = np.append(starts[1:], len(events.time))
    long = stops - starts >= 2
    found: list[Int] = []
    for start, stop in zip(starts[long], stops[long], strict=True):
        chain = np.arange(start, stop, dtype=np.intp)
        found += _split(chain, events)
    return found


def _split(chain: Int, events: Events) -> list[Int]:
    """Cut a chain into windows no wider than one mark, the fullest first; each play counts once in a window."""
    out: list[Int] = []
    left = [chain]
    while left:
        part = left.pop()
        if len(part) < 2:
            continue
        width = 2.0 * WITHIN * float(np.median(events.sigma[part]))
        time = events.time[part]
        if time[-1] - time[0] > width:
            ends = np.searchsorted(time, time + width, side="right")
            best = int((ends - np.arange(len(part))).argmax())
            inside = part[best : ends[best]]
            left += [part[:best], part[ends[best] :]]
        else:
            inside = part
        kept = _once(inside, events)
        if len(kept) >= 2:
            out.append(kept)
    return sorted(out, key=lambda group: float(events.time[group[0]]))


def _once(group: Int, events: Events) -> Int:
    """The event of each play that lies nearest to the group's middle."""
    plays = events.of[group]
    if len(np.unique(plays)) == len(group):
        return group
    away = np.abs(events.time[group] - np.median(events.time[group]))
    order = np.lexsort((away, plays))
    first = np.concatenate([[True], np.diff(plays[order]) > 0])
    return np.sort(group[order[first]])


def centre_of(group: Int, events: Events) -> tuple[float, float]:
    """Weighted mean of the group's times and its standard deviation [s]."""
    weight = 1.0 / np.square(events.sigma[group])
    total = float(weight.sum())
    return float((weight * events.time[group]).sum()) / total, total**-0.5
