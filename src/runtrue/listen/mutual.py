"""Copies without a reference serve each other: laid over one of them and joined by an aligned robust mean.

What only some of them carry is left out of the mean, so that it shows on those that do; what all share stays in it and
cannot be told from the music.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline
from scipy.ndimage import maximum_filter1d, uniform_filter1d

from runtrue.capture.sound import Sound
from runtrue.listen.engine import channel_order, identity_of, useless, working_copy
from runtrue.listen.heard import ChannelOrder, Identity
from runtrue.listen.line import Line
from runtrue.listen.refine import refine
from runtrue.listen.route import find_route
from runtrue.listen.setting import Setting
from runtrue.listen.store import RATE, WorkingCopy
from runtrue.signal.warp import read_along
from runtrue.types import Progress

Float32 = NDArray[np.float32]
Float64 = NDArray[np.float64]

LEAST = 3
"""Of two copies nobody could say whose a tick is."""
_TRIES = 3
"""Copies that are tried as the one the others are laid over."""
_BLOCK = RATE // 2
_MARGIN = 256
_STRETCHES, _STRETCH_S = 5, 4.0
"""Places along the side, and their length [s], from which each copy's gain is taken."""
_OUT = 4.0
"""A sample that lies off the median by more deviations of its copy is left out of the mean."""
_STANDS_OUT = 8.0
"""Deviations of its second difference by which a copy that differs shows a mark."""
_STILL = round(0.04 * RATE)
_FARTHEST = 0.5
"""Delays [samples] that are straightened at most."""
_ASTRAY = 0.1
"""Share of the music's own second difference by which copies may differ, for they still lie a little astray."""
_NEAR = round(0.002 * RATE) + 1
_MOST = 200
"""Pulses in a block of half a second."""
_CORE, _WINDOW, _FADE = round(0.0004 * RATE), round(0.0015 * RATE), round(0.0003 * RATE)


@dataclass(frozen=True, slots=True, kw_only=True)
class Mutual:
    """``used`` captures are in the mean, whose times are those of ``base``; it serves from ``start`` to ``stop`` [s],
    where three of them or more were heard. Outside it is silent."""

    base: int
    used: tuple[int, ...]
    start: float
    stop: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Laid:
    """A copy laid over the base: capture position of a programme time [samples], and its gain by channel."""

    copy: WorkingCopy
    spans: tuple[tuple[float, float, CubicSpline], ...]
    gain: Float32
    swapped: bool

    def read(self, programme: Float64) -> Float32 | None:
        """The copy at programme times [s], (n, 2); None where it was not heard all along."""
        for low, high, place in self.spans:
            if low <= programme[0] and programme[-1] <= high:
                position = np.asarray(place(programme)) * RATE
                first = int(np.floor(position[0])) - 32
                source = self.copy.read(first, int(np.ceil(position[-1])) + 64 - first)
                played = read_along(source, position - first)
                return np.asarray((played[:, ::-1] if self.swapped else played) * self.gain, dtype=np.float32)
        return None


def mutual(
    captures: Sequence[Sound],
    setting: Setting,
    push: Callable[[Float32], None],
    *,
    workspace: Path,
    progress: Progress,
) -> Mutual | None:
    """Push the robust mean of all captures that go together, block by block, (n, 2) at 48 kHz.

    The one whose length is nearest the middle is the base. None where fewer than three go together. ``workspace`` takes
    a temporary working copy of each capture.
    """
    lengths = np.array([one.duration for one in captures])
    order = np.argsort(np.abs(lengths - np.median(lengths)), kind="stable")
    copies = [
        working_copy(one, workspace / f"copy{k}.f32", lambda _: None, with_side=True) for k, one in enumerate(captures)
    ]
    try:
        for base in (int(k) for k in order[:_TRIES]):
            laid: dict[int, _Laid] = {}
            for k, copy in enumerate(copies):
                progress("laying the copies over one another", 0.8 * k / len(copies))
                one = _lay(copy, copies[base], setting, own=k == base)
                if one is not None:
                    laid[k] = one
            if len(laid) >= LEAST:
                frames = copies[base].frames
                served = []
                for first, block in _blocks(list(laid.values()), frames):
                    push(np.zeros((min(_BLOCK, frames - first), 2), dtype=np.float32) if block is None else block)
                    served += [] if block is None else [first, min(first + _BLOCK, frames)]
                    progress("joining the copies", 0.8 + 0.2 * first / frames)
                if served:
                    return Mutual(base=base, used=tuple(laid), start=min(served) / RATE, stop=max(served) / RATE)
        return None
    finally:
        for copy in copies:
            copy.close()


def _lay(copy: WorkingCopy, base: WorkingCopy, setting: Setting, *, own: bool) -> _Laid | None:
    duration = base.frames / RATE
    if own:
        straight = CubicSpline(np.array([0.0, 0.5 * duration, duration]), np.array([0.0, 0.5 * duration, duration]))
        return _Laid(copy=copy, spans=((0.0, duration, straight),), gain=np.ones(2, dtype=np.float32), swapped=False)
    turn = 1.0 / setting.turn_frequency
    if useless(copy, base):
        return None
    route = find_route(copy.track, base.track, turn_period=turn, progress=lambda *_: None)
    if identity_of(route, copy)[0] is not Identity.SAME:
        return None
    line = refine(route, copy.track, base.track, base.side, turn_period=turn)
    order, _ = channel_order(line, copy, base, duration, route.polarity)
    laid = _Laid(
        copy=copy, spans=_spans(line, copy.frames / RATE), gain=np.full(2, route.polarity, dtype=np.float32),
        swapped=order is ChannelOrder.SWAPPED,
    )  # fmt: skip
    return _Laid(copy=copy, spans=laid.spans, gain=laid.gain * _gain(laid, base, duration), swapped=laid.swapped)


def _spans(line: Line, end: float) -> tuple[tuple[float, float, CubicSpline], ...]:
    """Capture time of programme times, piece by piece, with the programme times it is good for."""
    found = []
    for piece in line.pieces:
        use = np.concatenate([[True], np.diff(np.maximum.accumulate(piece.programme)) > 1e-6])
        use &= (piece.knots >= 0.0) & (piece.knots <= end)
        programme = piece.programme[use]
        if len(programme) > 3:
            found.append((float(programme[0]), float(programme[-1]), CubicSpline(programme, piece.knots[use])))
    return tuple(found)


def _gain(laid: _Laid, base: WorkingCopy, duration: float) -> Float32:
    """Gain by channel that brings the copy to the base's level, by least squares over a few stretches."""
    both, own = np.zeros(2), np.zeros(2)
    count = round(_STRETCH_S * RATE)
    for share in np.linspace(0.05, 0.95, _STRETCHES):
        first = int(share * max(duration * RATE - count, 0.0))
        taken = laid.read((first + np.arange(count)) / RATE)
        if taken is not None:
            source = base.read(first, count)
            both += np.einsum("nc,nc->c", taken, source, dtype=np.float64)
            own += np.einsum("nc,nc->c", taken, taken, dtype=np.float64)
    return np.where(own > 0.0, both / np.maximum(own, 1e-20), 1.0).astype(np.float32)


def _blocks(laid: Sequence[_Laid], frames: int) -> Iterator[tuple[int, Float32 | None]]:
    """The mean block by block, with the block's first frame; None where fewer than three copies were heard."""
    for first in range(0, frames, _BLOCK):
        last = min(first + _BLOCK, frames)
        programme = np.arange(max(first - _MARGIN, 0), min(last + _MARGIN, frames)) / RATE
        heard = [one for each in laid if (one := each.read(programme)) is not None]
        skip = min(first, _MARGIN)
        yield first, robust_mean(np.stack(heard))[skip : skip + last - first] if len(heard) >= LEAST else None


def robust_mean(copies: Float32) -> Float32:
    """Mean of aligned copies without what only some of them carry, shape (copies, samples, 2) -> (samples, 2).

    Sample by sample what lies far off the median is left out. Where copies differ by a short pulse, those whose second
    difference holds less power there are taken to be without it, be they ever so few: a mark adds to the groove.
    """
    copies = _straightened(copies)
    middle = np.median(copies, axis=0)
    away = np.abs(copies - middle)
    usual = 1.4826 * max(float(np.median(away)), 1e-9)
    near = 1.4826 * uniform_filter1d(np.median(away, axis=0).max(axis=1), _NEAR)
    kept = away < _OUT * np.maximum(usual, near)[:, None]
    count = kept.sum(axis=0)
    mean = np.where(count > 0, np.where(kept, copies, 0.0).sum(axis=0) / np.maximum(count, 1), middle)
    bends = np.diff(copies, n=2, axis=1, prepend=copies[:, :1], append=copies[:, -1:])
    for at in reversed(_pulses(bends)):  # what stands out most has the last word
        with_mark = _carries(bends[:, max(at - _CORE, 0) : at + _CORE + 1])
        first, last = max(at - _WINDOW, 0), min(at + _WINDOW, len(mean))
        inside = copies[~with_mark, first:last].mean(axis=0)
        fade = np.minimum(1.0, np.minimum(np.arange(last - first), np.arange(last - first)[::-1]) / _FADE)[:, None]
        mean[first:last] = fade * inside + (1.0 - fade) * mean[first:last]
    return np.asarray(mean, dtype=np.float32)


def _straightened(copies: Float32) -> Float32:
    """Copies moved onto their median by what is left of the delay, least squares over 40 ms.

    To first order a copy that lies astray by d differs by d times the slope of the music.
    """
    for _ in range(2):
        middle = np.median(copies, axis=0)
        slope = np.gradient(middle, axis=0)
        power = uniform_filter1d(np.square(slope).sum(axis=1), _STILL) + 1e-12
        both = uniform_filter1d(((copies - middle) * slope).sum(axis=2), _STILL, axis=1)
        astray = np.clip(both / power, -_FARTHEST, _FARTHEST)
        copies = np.asarray(copies - astray[:, :, None] * slope, dtype=np.float32)
    return copies


def _pulses(bends: Float32) -> list[int]:
    """Samples at which one copy's second difference stands out of the others', the most outstanding first.

    Copies that lie a little off one another differ where the music bends: by a share of what it bends there.
    """
    middle = np.median(bends, axis=0)
    apart = np.abs(bends - middle).max(axis=2)
    usual = 1.4826 * np.median(apart, axis=1, keepdims=True) + 1e-9
    music = _ASTRAY * maximum_filter1d(np.abs(middle).max(axis=1), _NEAR)
    stands = (apart / (_STANDS_OUT * usual + music)).max(axis=0)
    found: list[int] = []
    while len(found) < _MOST and stands.max() > 1.0:
        found.append(int(stands.argmax()))
        stands[max(found[-1] - _WINDOW // 2, 0) : found[-1] + _WINDOW // 2] = 0.0
    return found


def _carries(bends: Float32) -> NDArray[np.bool_]:
    """Which copies carry the pulse: those nearer to the one that differs most from the quietest than to that one."""
    flat = bends.reshape(len(bends), -1).astype(np.float64)
    away = flat - flat[int(np.einsum("cs,cs->c", flat, flat).argmin())]
    power = np.einsum("cs,cs->c", away, away)
    most = int(power.argmax())
    return np.asarray(away @ away[most] > 0.5 * power[most])
