"""Which parts of the reference a capture holds, by the movement of its levels alone: bars that repeat are told apart.

Where bars repeat to the sample no single stretch says which of them is heard; all of them together do: where the music
begins and ends, where a fill falls. The likeliest way through all places at once (dynamic programming over places that
may move by a turn or, at a higher price, to anywhere) weighs all of that evidence. It costs the square of the length,
so it is for captures of a minute or two.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import uniform_filter1d

from runtrue.listen.acquire import FRAME_RATE, levels, movement_of
from runtrue.listen.store import TRACK_RATE

Float32 = NDArray[np.float32]
Float64 = NDArray[np.float64]

LONGEST_S = 100.0
"""Captures and references longer than this are not planned."""
_MARGIN_S = 2.0
_PER_FRAME = 2
_RATE = FRAME_RATE / _PER_FRAME
_SPREAD = 1.2
"""Standard deviation of a band's movement about the reference's, in spreads of the movement, overlap allowed for."""
_WORST = 6.0
"""A frame of noise or a tick costs no more than this."""
_DRIFT, _JUMP, _EDIT = 6.0, 20.0, 70.0
"""Prices of a step of one frame, of a jump by a turn or two, and of going on anywhere else, in log-likelihood."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """Stretches, longest first, and their log-likelihood a frame less that of silence."""

    stretches: tuple["Stretch", ...] = ()
    score: float = -np.inf

    def place(self, capture: float) -> float | None:
        """Programme time planned for a capture time [s]; None outside all stretches."""
        return next((s.at(capture) for s in self.stretches if s.start <= capture < s.end), None)

    def reversed(self, *, capture_end: float, reference_end: float) -> "Plan":
        """The same with time running backward."""
        turned = tuple(
            replace(s, start=capture_end - s.end, end=capture_end - s.start, programme=reference_end - s.at(s.end))
            for s in self.stretches
        )
        return replace(self, stretches=turned)


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """Capture times ``start`` to ``end`` [s] hold the programme from ``programme`` [s] on, at 1 + ``deviation``."""

    start: float
    end: float
    programme: float
    deviation: float

    def at(self, capture: float) -> float:
        """Programme time [s] at a capture time [s]."""
        return self.programme + (1.0 + self.deviation) * (capture - self.start)


def best_plan(capture: Float32, reference: Float32, *, deviations: list[float], turn_period: float) -> Plan:
    """The likeliest plan for 12 kHz mono tracks over the speeds given.

    Both are taken between two seconds of silence: that the music begins is evidence too.
    """
    silence = np.zeros(int(_MARGIN_S * TRACK_RATE), dtype=np.float32)
    moving, fixed = (np.concatenate([silence, x, silence]) for x in (capture, reference))
    movement, level = movement_of(moving), levels(fixed)
    plans = [
        _planned(movement.at_speed(deviation), level, deviation=deviation, turn_period=turn_period)
        for deviation in deviations
    ]
    best = max(plans, key=lambda plan: plan.score)
    moved = tuple(
        replace(s, start=s.start - _MARGIN_S, end=s.end - _MARGIN_S, programme=s.programme - _MARGIN_S)
        for s in best.stretches
    )
    return replace(best, stretches=moved)


def _planned(capture: Float32, reference: Float32, *, deviation: float, turn_period: float) -> Plan:
    slope = 1.0 + deviation
    taken, offered = _at_slope(capture, slope), _halved(reference)
    count, places = len(taken), len(taken) + len(offered)
    if not count or not len(offered):
        return Plan()
    evidence = _evidence(taken, offered)
    turn = max(1, round(turn_period * _RATE))
    shifts = np.array([0, -1, 1, -turn, turn, -2 * turn, 2 * turn])
    prices = np.array([0.0, _DRIFT, _DRIFT, _JUMP, _JUMP, _JUMP, _JUMP])
    margin = int(np.abs(shifts).max())
    padded = np.full(places + 2 * margin, -np.inf)
    score = evidence(0)
    came = np.empty((count, places), dtype=np.int8)
    anywhere = np.empty(count, dtype=np.int64)
    columns = np.arange(places)
    for frame in range(1, count):
        padded[margin : margin + places] = score
        options = np.stack([padded[margin - s : margin - s + places] - p for s, p in zip(shifts, prices, strict=True)])
        choice = options.argmax(axis=0)
        reached = options[choice, columns]
        anywhere[frame] = int(score.argmax())
        leap = score[anywhere[frame]] - _EDIT
        came[frame] = np.where(reached < leap, -1, choice)
        score = np.maximum(reached, leap) + evidence(frame)
    way = np.empty(count, dtype=np.int64)
    way[-1] = int(score.argmax())
    for frame in range(count - 1, 0, -1):
        code = int(came[frame, way[frame]])
        way[frame - 1] = anywhere[frame] if code < 0 else way[frame] - shifts[code]
    silent = sum(float(evidence(frame)[0]) for frame in range(count))
    stretches = _stretches(way - count + np.arange(count), slope)
    return Plan(stretches=tuple(stretches), score=(float(score.max()) - silent) / count)


def _stretches(place: NDArray[np.int64], slope: float) -> list[Stretch]:
    """``place`` in the reference of each capture frame, as stretches without a leap, longest first."""
    breaks = np.flatnonzero(np.abs(np.diff(place) - 1) > 1) + 1
    out = []
    for first, last in zip(np.append(0, breaks), np.append(breaks, len(place)), strict=True):
        frames = np.arange(first, last)
        drift = np.polyfit(frames - first, place[first:last] - frames, 1) if last - first > 3.0 * _RATE else None
        began = float(np.median(place[first:last] - frames)) + first if drift is None else float(drift[1]) + first
        out.append(
            Stretch(
                start=first / _RATE / slope,
                end=last / _RATE / slope,
                programme=began / _RATE,
                deviation=slope * (1.0 + (0.0 if drift is None else float(drift[0]))) - 1.0,
            )
        )
    return sorted(out, key=lambda s: s.start - s.end)


def _evidence(taken: Float32, offered: Float32) -> Callable[[int], Float32]:
    """Log-likelihood of capture frame n at every place; place p holds the reference's frame p - count + n.

    Beside the reference nothing moves.
    """
    count = len(taken)
    silent = np.zeros((count, offered.shape[1]), dtype=np.float32)
    surrounded = np.concatenate([silent, offered, silent])
    square = (surrounded**2).sum(axis=1)

    def at(frame: int) -> Float32:
        own = taken[frame]
        part = slice(frame, frame + count + len(offered))
        apart = square[part] - 2.0 * (surrounded[part] @ own) + own @ own
        return np.asarray(np.maximum(-0.5 / _SPREAD**2 * apart, -_WORST), dtype=np.float32)

    return at


def _halved(level: Float32) -> Float32:
    """Every second frame of the movement smoothed over 80 ms: a place may lie between two frames."""
    return np.asarray(uniform_filter1d(level, 2 * _PER_FRAME, axis=0, mode="nearest")[::_PER_FRAME])


def _at_slope(level: Float32, slope: float) -> Float32:
    position = np.arange(int(len(level) * slope)) / slope
    whole = np.minimum(position.astype(int), len(level) - 2)
    part = (position - whole).astype(np.float32)[:, None]
    return _halved(level[whole] * (1 - part) + level[whole + 1] * part)
