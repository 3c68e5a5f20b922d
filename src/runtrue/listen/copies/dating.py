"""An unnumbered copy is placed on the count by the marks it carries and lacks."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from runtrue.listen.copies.compare import Recurrence
from runtrue.listen.copies.origins import Origin
from runtrue.listen.copies.sample import Float64, Int, Sample

_HELD = 0.965
"""What an interval holds; a little over 95 in 100, for it is taken from the sample's own beginnings and ends."""
_TOLD = 0.5
"""Marks less likely than this to be an event on the press do not count."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Dated:
    """A copy's place: closures ``low`` to ``high``, its stamper (None where not named) and how sure that stamper is.

    ``marks`` is how many events on the press bear it out; 0: nothing but the span of the count itself is known.
    """

    copy: int
    stamper: str | None
    stamper_probability: float
    low: int
    high: int
    marks: int


def dated(sample: Sample, found: Sequence[Recurrence]) -> list[Dated]:
    """Place every copy without a closure; nothing where no copy is counted.

    Every stamper that the copy may come from holds the closures of its run, all alike, weighted by what the copy says
    about each mark: an event on the press is on it with the probability that it began before and
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
        total = np.logaddexp.reduce([np.logaddexp.reduce(logs) - np.log(len(logs)) for logs, _ in each])
        share = [float(np.exp(np.logaddexp.reduce(logs) - np.log(len(logs)) - total)) for logs, _ in each]
        best = int(np.argmax(share))
        logs, marks = each[best]
        low, high = _shortest(np.exp(logs - np.logaddexp.reduce(logs)))
        out.append(
            Dated(
                copy=int(copy), stamper=names[able[best]] if names else None, stamper_probability=share[best],
                low=low + 1, high=high + 1, marks=marks,
            )
        )  # fmt: skip
    return out


def _along(copy: int, stamper: int, sample: Sample, found: Sequence[Recurrence]) -> tuple[Float64, int]:
    """Log likelihood of the copy at each closure from 1 on, and the marks that told.

    The run is taken to go as far beyond the last of n counted copies as 1/n of it (the usual estimate from a largest
    number drawn).
    """
    names, code = sample.values["stamper"]
    mine = np.isfinite(sample.closure) & (code == (stamper if names else -1))
    last = sample.closure[mine].max()
    closures = np.arange(1.0, last + np.ceil(last / mine.sum()) + 1.0)
    logs = np.zeros(len(closures))
    marks = 0
    for one in found:
        event = next(
            (
                s
                for s in one.suspects
                if s.origin is Origin.PRESS_EVENT and (s.which or "") == (names[stamper] if names else "")
            ),
            None,
        )
        if event is not None and event.probability >= _TOLD:
            found_at, order = one.odds.onsets[event.which or ""]
            present = _present(closures, sample.closure[order], found_at.begins, found_at.ends)
            marks += 1
        else:
            present = np.full(len(closures), _share(one, mine))
        present = np.clip(present, 0.01, 0.99)
        gain = float(np.clip(one.odds.gain[copy], -30.0, 30.0))
        logs += np.logaddexp(np.log(present) + gain, np.log1p(-present))
    return logs, marks


def _present(closures: Float64, order: Float64, begins: Float64, ends: Float64) -> Float64:
    """Probability that the mark is on the stamper at each closure."""
    edges = np.concatenate([[0.0], order])
    come = np.interp(closures, edges, np.concatenate([[0.0], np.cumsum(begins)]))
    gone = np.interp(closures - 1.0, edges, np.concatenate([[0.0], np.cumsum(ends[:-1])]))
    return np.asarray(come - gone)


def _share(one: Recurrence, mine: "np.ndarray[tuple[int], np.dtype[np.bool_]]") -> float:
    """How likely a copy of the stamper has a mark that is no event on it."""
    weight = np.array([s.probability for s in one.suspects])
    return float(weight @ one.odds.members[:, mine].mean(axis=1))


def _shortest(mass: Float64) -> tuple[int, int]:
    """First and last index of the shortest run that holds ``_HELD`` of the mass."""
    summed = np.concatenate([[0.0], np.cumsum(mass)])
    ends: Int = np.searchsorted(summed, summed[:-1] + _HELD - 1e-12)
    length = np.where(ends < len(summed), ends - np.arange(len(mass)), len(mass) + 1)
    first = int(length.argmin())
    return first, min(int(ends[first]) - 1, len(mass) - 1)
