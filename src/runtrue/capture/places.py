"""Where on a recording the needle comes down, the programme begins and ends, the needle is lifted.

Hints from levels alone, for recordings that nobody has cut; where programme and reference coincide is found elsewhere.
The levels of 10 ms cells are gathered as the sound passes, ``finish`` decides. What cannot be told is None.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from numpy.lib.stride_tricks import sliding_window_view

from runtrue.capture.sound import Block

_CELLS = 100
_FLOOR_DB = -140.0
_SHORT = 7
_LONG = 51
_NEEDLE_STEP = 6.0
_ABOVE_GROOVE = 6.0
_LEAST_RISE = 12.0
_SETTLE = 0.5
_THUMP = 0.15
_LEAST_GROOVE = 0.4
_GAP = 0.3
_LOUD_BELOW = 10.0
_SAME_GROOVE = 6.0

Levels = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Moment:
    """A time in the recording, ``at`` [s], and the half-width ``u95`` [s] that holds the truth 95 times in 100.

    The half-width is an estimate from how steep the level is there, not a measured statistic.
    """

    at: float
    u95: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Places:
    """The moments of a play; None where the recording does not show one.

    ``lead_in`` and ``lead_out`` are (from, to) [s] of groove without programme, away from the thumps of the needle.
    """

    needle_down: Moment | None
    lead_in: tuple[float, float] | None
    programme_start: Moment | None
    programme_end: Moment | None
    lead_out: tuple[float, float] | None
    needle_up: Moment | None


class PlaceFinder:
    """Gathers levels of 10 ms cells; memory grows by 16 bytes a cell (2 MB for a side)."""

    def __init__(self, *, rate: int, channels: int) -> None:
        self._cell = rate // _CELLS
        self._seconds = self._cell / rate
        self._every = max(1, rate // 22_050)  # of so many samples one and its step to the next will do for a level
        self._rest = np.zeros((0, channels), np.float32)
        self._broad: list[Levels] = []
        self._bright: list[Levels] = []

    def push(self, block: Block) -> None:
        """Take the next samples, shape (n, channels)."""
        samples = np.concatenate((self._rest, block)) if len(self._rest) else block
        whole = len(samples) // self._cell * self._cell
        self._rest = samples[whole:].copy()
        if not whole:
            return
        cells = samples[:whole].reshape(-1, self._cell, samples.shape[1])
        some = np.ascontiguousarray(cells[:, : -1 : self._every])
        steps = cells[:, 1 :: self._every] - some
        count = some[0].size
        mean = some.mean(axis=1)
        power = np.einsum("ijk,ijk->i", some, some) / count - np.einsum("ij,ij->i", mean, mean) / mean.shape[1]
        self._broad.append(np.asarray(power, np.float64))
        self._bright.append(np.asarray(np.einsum("ijk,ijk->i", steps, steps) / count, np.float64))

    def finish(self) -> Places:
        """Decide from the gathered levels."""
        if not self._broad:
            return Places(
                needle_down=None, lead_in=None, programme_start=None, programme_end=None, lead_out=None, needle_up=None
            )
        broad, bright = _decibel(np.concatenate(self._broad)), _decibel(np.concatenate(self._bright))
        down, lead_in, start = _front(broad, bright, self._seconds)
        up, lead_out, end = _front(broad[::-1], bright[::-1], self._seconds)
        length = len(broad) * self._seconds
        return Places(
            needle_down=down,
            lead_in=lead_in,
            programme_start=start,
            programme_end=_mirrored(end, length),
            lead_out=None if lead_out is None else (length - lead_out[1], length - lead_out[0]),
            needle_up=_mirrored(up, length),
        )


def _decibel(power: Levels) -> Levels:
    """Level of each cell [dB], not below the floor."""
    return np.asarray(10.0 * np.log10(np.maximum(power, 10.0 ** (_FLOOR_DB / 10.0))))


def _mirrored(moment: Moment | None, length: float) -> Moment | None:
    """The same moment counted from the other end."""
    return None if moment is None else Moment(at=length - moment.at, u95=moment.u95)


def _smooth(levels: Levels, cells: int) -> Levels:
    """Running median over an odd number of cells: what is shorter than half does not show, an edge stays in place."""
    return np.asarray(np.median(sliding_window_view(np.pad(levels, cells // 2, mode="edge"), cells), axis=1))


def _front(
    broad: Levels, bright: Levels, cell: float
) -> tuple[Moment | None, tuple[float, float] | None, Moment | None]:
    """Needle, groove without programme, programme, seen from the front; the end is the same seen backwards."""
    level, treble = _smooth(broad, _SHORT), _smooth(bright, _SHORT)
    steady = _smooth(broad, _LONG)  # the needle's thump is shorter than half of this
    loud = float(np.percentile(steady, 70.0))
    is_loud = np.flatnonzero(steady >= loud - _LOUD_BELOW)
    first_loud = int(is_loud[0])
    needle = _needle(treble[:first_loud], cell)
    groove_from = 0 if needle is None else needle[0] + round(_SETTLE / cell)
    least = round(_LEAST_GROOVE / cell)
    moment = None if needle is None else Moment(at=needle[0] * cell, u95=needle[1] * cell)
    if first_loud - groove_from < least:
        return moment, None, None
    if needle is None and not _is_groove(treble, first_loud, int(is_loud[-1])):
        return moment, None, None
    # The quiet part of what lies before the first loud cell is groove, whatever fades in after it.
    groove = float(np.percentile(level[groove_from:first_loud], 30.0))
    if loud - groove < _LEAST_RISE:
        return moment, None, None
    start = _last_quiet(level, groove + _ABOVE_GROOVE, first_loud, groove_from, round(_GAP / cell))
    if start - groove_from < least:
        return moment, None, None
    sure = _last_quiet(level, groove + 2.0 * _ABOVE_GROOVE, first_loud, groove_from, round(_GAP / cell))
    wide = 2.0 * cell * max(1, sure - start)  # a straight fade crosses 12 dB, 6 dB and nothing in equal steps
    lead = (groove_from * cell, max(groove_from * cell, start * cell - wide))
    return moment, lead, Moment(at=start * cell, u95=wide)


def _is_groove(treble: Levels, first_loud: int, last_loud: int) -> bool:
    """True when the quiet front is as bright as the softest moments between: the needle was down from the start.

    Before the needle is down there is less treble than anywhere in a groove.
    """
    inside = treble[first_loud : last_loud + 1]
    return float(np.median(treble[:first_loud])) > float(np.percentile(inside, 0.5)) - _SAME_GROOVE


def _last_quiet(level: Levels, threshold: float, loud: int, first: int, gap: int) -> int:
    """First cell of the sound that leads to cell ``loud``: going back, gaps shorter than ``gap`` are bridged."""
    above = np.flatnonzero(level[first : loud + 1] >= threshold) + first
    if not len(above):
        return loud
    breaks = np.flatnonzero(np.diff(above) > gap)
    return int(above[breaks[-1] + 1]) if len(breaks) else int(above[0])


def _needle(treble: Levels, cell: float) -> tuple[int, int] | None:
    """Cell where the treble of the groove begins and its half-width in cells; None without a clear step.

    The split that leaves least squares on both sides; the quiet side must be quiet throughout, as no needle is down.
    """
    count = len(treble)
    least = round(0.1 / cell)
    if count < 2 * least + round(_SETTLE / cell):
        return None
    sums, squares = np.cumsum(treble), np.cumsum(treble**2)
    n = np.arange(least, count - least)
    left, right = sums[n - 1] / n, (sums[-1] - sums[n - 1]) / (count - n)
    cost = (squares[n - 1] - n * left**2) + (squares[-1] - squares[n - 1] - (count - n) * right**2)
    best = int(np.argmin(cost))
    split = int(n[best])
    step = float(np.median(treble[split:]) - np.median(treble[:split]))
    spread = float(np.percentile(treble[:split], 95.0) - np.percentile(treble[:split], 5.0))
    if step < _NEEDLE_STEP or spread > step:
        return None
    middle = float(np.median(treble[:split])) + step / 2.0
    around = treble[max(0, split - least) : split + least]
    rise = max(0, split - least) + int(np.argmax(around > middle))
    return rise, round(_THUMP / cell) + abs(rise - split) // 2
