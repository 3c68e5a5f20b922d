"""An unnumbered copy is placed on the count by the marks it carries and lacks."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from runtrue.listen.copies.compare import Recurrence
from runtrue.listen.copies.onset import Onset
from runtrue.listen.copies.origins import Origin
from runtrue.listen.copies.sample import Float64, Sample

_HELD = 0.98
"""What the stretches hold: over 95 in 100, for beginnings and ends are taken from the sample's own odds."""
_BEYOND = 0.005
"""Chance that the run went on beyond what is looked at."""
_FARTHEST = 4.0
"""The run is not taken to be more than so many times as long as its last counted copy. Our choice."""
_NEVER = 0.001
"""No place is surer than this to have a mark or to lack it."""
_TOLD = 0.5
"""Marks less likely than this to be an event on the press do not count as bearing a place out."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Dated:
    """A copy's place: ``stretches`` of closures, first and last of each, rising, that hold it 95 times in 100.

    ``low`` to ``high`` spans them. A copy that lacks a mark is older than it or was pressed after it was cleared: two
    stretches. ``stamper`` (None where not named) and how sure that is. ``marks``: how many events on the press bear it
    out; 0: nothing but the span of the count itself is known.
    """

    copy: int
    stamper: str | None
    stamper_probability: float
    stretches: tuple[tuple[int, int], ...]
    marks: int

    @property
    def low(self) -> int:
        """First closure it may be."""
        return self.stretches[0][0]

    @property
    def high(self) -> int:
        """Last closure it may be."""
        return self.stretches[-1][1]


def dated(sample: Sample, found: Sequence[Recurrence]) -> list[Dated]:
    """Place every copy without a closure; nothing where no copy is counted.

    Every stamper that the copy may come from is weighed by what the copy says about each mark along its run: that it
    began before and was not yet cleared where the mark is an event on the press, and what its other suspects say of the
    copy.
    """
    names, code = sample.values["stamper"]
    counted = np.isfinite(sample.closure)
    out = []
    for copy in np.flatnonzero(~counted):
        known = code[copy] if names else 0
        able = [
            k
            for k in range(max(len(names), 1))
            if known in (-1, k) and (counted & (code == (k if names else -1))).any()
        ]
        if not able:
            continue
        each = [_along(int(copy), k, sample, found) for k in able]
        total = np.array([np.logaddexp.reduce(logs) for logs, _ in each])
        share = np.exp(total - np.logaddexp.reduce(total))
        best = int(share.argmax())
        logs, marks = each[best]
        out.append(
            Dated(
                copy=int(copy), stamper=names[able[best]] if names else None, stamper_probability=float(share[best]),
                stretches=_densest(np.exp(logs - total[best])), marks=marks,
            )
        )  # fmt: skip
    return out


def run_of(closure: Float64) -> Float64:
    r"""Log probability that one more copy of the run has each closure 1, 2, ..., given those of n copies.

    Closures are drawn alike up to the unknown length N of the run, whose prior goes as 1/N. With the largest M,

    .. math:: p(x) = \frac{n}{n + 1} \begin{cases} 1 / M & x \le M \\ M^n / x^{n+1} & x > M \end{cases}

    (the posterior of N is a Pareto distribution of order n; x is uniform given N). It is cut where less than
    ``_BEYOND`` is left, or at ``_FARTHEST`` M.
    """
    n, last = len(closure), float(closure.max())
    reach = min((1.0 / ((n + 1) * _BEYOND)) ** (1.0 / n), _FARTHEST)
    x = np.arange(1.0, max(np.ceil(last * max(reach, 1.0)), last) + 1.0)
    logs = -np.log(last) - (n + 1) * np.log(np.maximum(x / last, 1.0))
    return np.asarray(logs - np.logaddexp.reduce(logs))


def _along(copy: int, stamper: int, sample: Sample, found: Sequence[Recurrence]) -> tuple[Float64, int]:
    """Log of the copy's likelihood at each closure from 1 on with the odds of that closure, and the marks that told."""
    names, code = sample.values["stamper"]
    mine = np.isfinite(sample.closure) & (code == (stamper if names else -1))
    name = names[stamper] if names else ""
    logs = run_of(sample.closure[mine])
    closures = np.arange(1.0, len(logs) + 1.0)
    marks = 0
    for one in found:
        is_event = np.array([s.origin is Origin.PRESS_EVENT and (s.which or "") == name for s in one.suspects])
        weight = np.array([s.probability for s in one.suspects])
        weight /= weight.sum()
        event = float(weight @ is_event)
        known = code[copy] == stamper or not names
        carried = one.odds.members[:, copy] if known else one.odds.members[:, mine].mean(axis=1)
        present = np.full(len(closures), float((weight * ~is_event) @ carried))
        if event > 0.0:
            found_at, order = one.odds.onsets[name]
            present += event * _present(closures, sample.closure[order], found_at)
        gain = float(np.clip(one.odds.gain[copy], -30.0, 30.0))
        present = np.clip(present, _NEVER, 1.0 - _NEVER)
        logs = logs + np.logaddexp(np.log(present) + gain, np.log1p(-present))
        marks += event >= _TOLD
    return logs, marks


def _present(closures: Float64, order: Float64, found: Onset) -> Float64:
    """Probability that the mark is on the stamper at each closure."""
    edges = np.concatenate([[0.0], order])
    come = np.interp(closures, edges, np.concatenate([[0.0], np.cumsum(found.begins)]))
    gone = np.interp(closures - 1.0, edges, np.concatenate([[0.0], np.cumsum(found.ends[:-1])]))
    return np.asarray(come - gone)


def _densest(mass: Float64) -> tuple[tuple[int, int], ...]:
    """Closures, likeliest first, that hold ``_HELD`` of the mass, as runs."""
    order = np.argsort(-mass, kind="stable")
    enough = int(np.searchsorted(np.cumsum(mass[order]), _HELD * mass.sum())) + 1
    least = mass[order[min(enough, len(mass)) - 1]]
    inside = np.concatenate([[False], mass >= least * (1.0 - 1e-9), [False]])
    edges = np.flatnonzero(np.diff(inside.astype(np.int8)))
    return tuple((int(first) + 1, int(stop)) for first, stop in zip(edges[::2], edges[1::2], strict=True))
