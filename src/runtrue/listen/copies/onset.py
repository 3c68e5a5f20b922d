r"""From which closure a mark is on a stamper, and until when.

The stamper's copies in the order of closures are before it (the mark is not on them), during it, or after it was
cleared. It came at any closure alike, up to the last one played, and was cleared by then with even odds, at any closure
alike. Evidence of each copy joins as log-odds; sums run once forward and once back, so cost grows with the copies.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from runtrue.listen.copies.sample import Float64

CLEARED = 0.5
"""Odds that a mark that came in the run is gone again before the last copy that was played. Our choice."""
CLOSE = 10
"""An interval of so many closures is known well enough. Our choice."""
_LEFT_OUT = 0.025
"""Mass left out at each end of an interval that spans several gaps between samples."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Onset:
    """Where a mark begins and ends among n copies in the order of closures.

    ``evidence``: log of the likelihood with the mark over that without. ``begins`` (n,): probability that it came
    after copy i-1 and not after copy i; ``ends`` (n + 1,): that its last closure lies from copy i-1 on and before copy
    i (0: never), the last entry that it is still there on the last copy.
    """

    evidence: float
    begins: Float64
    ends: Float64

    def middle(self, closure: Float64, *, of_end: bool = False) -> int:
        """The closure to play next: before it the mark came (``of_end``: was gone) with even odds.

        Where one gap between copies is narrow enough and still not sure, a copy beside it failed to show the mark that
        it may have: the closure on its other side tells.
        """
        mass = self.ends[:-1] if of_end else self.begins
        edges = np.concatenate([[0.0], closure])
        best = int(mass.argmax())
        if closure[best] - edges[best] <= CLOSE and mass[best] < 0.95 * mass.sum():
            return int(closure[best] + 1.0 if of_end else max(edges[best] - 1.0, 1.0))
        summed = np.concatenate([[0.0], np.cumsum(mass)])
        return int(np.interp(0.5 * summed[-1], summed, edges))


def onset(gain: Float64, closure: Float64, weight: Float64) -> Onset:
    """Sum over all beginnings and ends.

    Parameters
    ----------
    gain : (n, s)
        Log of the likelihood of each copy with the mark over that without it; columns are strengths of the mark
    closure : (n,)
        Rising closures, 1 or more
    weight : (s,)
        Log of the prior weight of each strength
    """
    n = len(closure)
    before = np.concatenate([[0.0], closure[:-1]])
    gap = np.maximum(closure - before, 0.0)
    come = np.log(np.maximum(gap, 1e-9) / closure[-1])[:, None] + weight
    sums = np.concatenate([np.zeros((1, gain.shape[1])), np.cumsum(gain, axis=0)])
    # log weight of beginning in gap a and never ending: come[a] + sum of gain from a on
    stays = come + (sums[-1] - sums[:-1]) + np.log(1.0 - CLEARED)
    # cleared in gap b > a: gap[b] / (last - closure[a]) and gain from a to b - 1
    room = closure[-1] - closure
    with np.errstate(divide="ignore"):
        share = np.where(room > 0.0, np.log(CLEARED) - np.log(np.maximum(room, 1e-9)), -np.inf)
        log_gap = np.log(gap)
    starts = come + share[:, None] - sums[:-1]
    stops = log_gap[:, None] + sums[:-1]
    later = _suffix(stops)
    goes = np.concatenate([starts[:-1] + later[1:], np.full((1, gain.shape[1]), -np.inf)])
    earlier = _suffix(starts[::-1])[::-1]
    ending = np.concatenate([np.full((1, gain.shape[1]), -np.inf), stops[1:] + earlier[:-1]])
    total = float(np.logaddexp.reduce(np.concatenate([stays, goes]), axis=None))
    begins = np.exp(np.logaddexp.reduce(np.logaddexp(stays, goes), axis=1) - total)
    ends = np.exp(np.logaddexp.reduce(ending, axis=1) - total)
    still = float(np.exp(np.logaddexp.reduce(stays, axis=None) - total))
    return Onset(evidence=total, begins=begins, ends=np.append(ends, still) if n else np.zeros(1))


def _suffix(values: NDArray[np.float64]) -> NDArray[np.float64]:
    """Log of the sum of exponentials from each row to the last."""
    return np.logaddexp.accumulate(values[::-1], axis=0)[::-1]


def first_closure(found: Onset, closure: Float64) -> tuple[int, int]:
    """Interval of the first closure with the mark, both ends included; holds it at least 95 times in 100."""
    edges = np.concatenate([[0.0], closure])
    low, high = _interval(found.begins, edges)
    return int(np.floor(low)) + 1, int(np.ceil(high))


def last_closure(found: Onset, closure: Float64) -> tuple[int, int | None]:
    """Interval of the last closure with the mark; no upper end where it may still be there on the last copy played.

    The last copy that shows it bounds it from below, the next one from above.
    """
    gone = found.ends[:-1]
    if found.ends[-1] > 2.0 * _LEFT_OUT:
        lowest = closure[-1]
        if gone.sum() > 2.0 * _LEFT_OUT:
            lowest = _interval(gone / gone.sum(), np.concatenate([[0.0], closure]))[0]
        return int(np.floor(lowest)), None
    low, high = _interval(gone / gone.sum(), np.concatenate([[0.0], closure]))
    return int(np.floor(low)), max(int(np.ceil(high)) - 1, int(np.floor(low)))


def _interval(mass: Float64, edges: Float64) -> tuple[float, float]:
    """Interval over gaps between ``edges``: one whole gap where it holds enough, else cut within the outer gaps."""
    best = int(mass.argmax())
    if mass[best] >= 1.0 - 2.0 * _LEFT_OUT:
        return float(edges[best]), float(edges[best + 1])
    summed = np.concatenate([[0.0], np.cumsum(mass)])
    low, high = np.interp((_LEFT_OUT, summed[-1] - _LEFT_OUT), summed, edges)
    return float(low), float(high)
