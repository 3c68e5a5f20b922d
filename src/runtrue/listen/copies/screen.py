"""Groups of events that cannot come out as more than chance are put aside by bounds that cost little."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from runtrue.listen.copies.origins import detection
from runtrue.listen.copies.sample import RIG, Events, Float64, Int, Sample

LOUD = 20.0
"""What only plays of one copy share is listed from this prominence on [dB]: lesser ticks of a copy are many."""
_KINDNESS = 14.0
"""What shapes, levels and prior expectations may add at most to the bound."""
_MOST_COST = 6.9
"""A copy that fails to list a mark costs no more than that it fails to come out on 1 copy in 1,000."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Groups:
    """Events of all groups in a row: ``flat`` (n,), and of each group its first place and size."""

    flat: Int
    starts: Int
    size: Int

    def least(self, values: Int | Float64) -> Float64:
        """Least of each group's values, given for each event."""
        return np.asarray(np.minimum.reduceat(values, self.starts))

    def most(self, values: Int | Float64) -> Float64:
        """Largest of each group's values."""
        return np.asarray(np.maximum.reduceat(values, self.starts))

    def sum(self, values: Float64) -> Float64:
        """Sum of each group's values."""
        return np.asarray(np.add.reduceat(values, self.starts))


def worth(groups: Sequence[Int], events: Events, sample: Sample) -> list[Int]:
    """Groups that could come out as more than chance.

    The bound takes every copy that lists the event as sure, and lets those that share an origin and do not list it pay
    as a copy does that would hear it; of an event on the press those between the first and the last pay.
    """
    if not groups:
        return []
    size = np.array([len(group) for group in groups], dtype=np.intp)
    all_ = _Groups(flat=np.concatenate(groups), starts=np.concatenate([[0], np.cumsum(size)[:-1]]), size=size)
    at, sigma = events.time[all_.flat], events.sigma[all_.flat]
    bins = np.clip(at / 20.0, 0, sample.rates.shape[1] - 1).astype(np.intp)
    near = -0.5 * np.log(2.0 * np.pi) - np.log(sigma) - np.log(sample.rates[events.of[all_.flat], bins])
    together = all_.sum(near) - np.log(sample.length)
    together += 0.5 * np.log(2.0 * np.pi) - 0.5 * np.log(all_.sum(sigma**-2))
    copies = sample.copy_of[events.of[all_.flat]]
    several = all_.least(copies) != all_.most(copies)
    missed = _cost_of_missing(all_, events, sample)
    cost = np.minimum(_shared(all_, copies, missed, events, sample), _in_between(all_, copies, missed, sample))
    # a group of four and more may hold a chance event of a copy that does not belong to it
    worthy = together + _KINDNESS - np.where((size > 3) | ~several, 0.0, cost) > 0.0
    worthy &= several | (all_.most(events.prominence[all_.flat]) >= LOUD)
    return [groups[k] for k in np.flatnonzero(worthy).tolist()]


def _cost_of_missing(all_: _Groups, events: Events, sample: Sample) -> Float64:
    """What a copy that misses each group's event pays: minus the log of the chance to miss it, by the usual noise."""
    middle = events.time[all_.flat[all_.starts + all_.size // 2]]
    heard = np.asarray(np.isfinite(sample.noise).any(axis=0))
    usual = np.zeros(sample.noise.shape[1])
    usual[heard] = np.nanmedian(sample.noise[:, heard], axis=0)
    noise = usual[np.clip(middle, 0, len(usual) - 1).astype(np.intp)]
    missed = -np.log(1.0 - np.minimum(detection(all_.most(events.level[all_.flat]), noise), 0.9995))
    return np.asarray(np.minimum(missed, _MOST_COST))


def _shared(all_: _Groups, copies: Int, missed: Float64, events: Events, sample: Sample) -> Float64:
    """What the cheapest origin costs that all of the group's copies share."""
    cost = (len(sample.copies) - all_.size) * missed
    for name, (names, code) in sample.values.items():
        if names:
            mine = code[events.of[all_.flat]] if name in RIG else code[copies]
            low = all_.least(mine)
            shared = (low == all_.most(mine)) & (low >= 0)
            count = np.bincount(code[code >= 0], minlength=len(names))
            cost = np.where(shared, np.minimum(cost, np.maximum(count[low] - all_.size, 0) * missed), cost)
    return np.asarray(cost)


def _in_between(all_: _Groups, copies: Int, missed: Float64, sample: Sample) -> Float64:
    """What an event on the press costs from the first to the last of the group's copies; infinite across stampers."""
    names, stamper = sample.values["stamper"]
    rank = np.full(len(sample.copies), -1)
    many = np.ones(max(len(names), 1))
    for k in range(len(many)):
        mine = np.flatnonzero(np.isfinite(sample.closure) & ((stamper == k) | (not names)))
        rank[mine[np.argsort(sample.closure[mine], kind="stable")]] = np.arange(len(mine)) + k * len(sample.copies)
        many[k] = max(len(mine), 1)
    low, high = all_.least(rank[copies]), all_.most(rank[copies])
    of = low // len(sample.copies)
    cost = np.maximum(high - low + 1 - all_.size, 0) * missed + np.log(many[np.maximum(of, 0)])
    return np.where((low >= 0) & (of == high // len(sample.copies)), cost, np.inf)
