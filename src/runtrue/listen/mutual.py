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
_WINDOW, _FADE = round(0.003 * RATE), round(0.0005 * RATE)


@dataclass(frozen=True, slots=True, kw_only=True)
class Mutual:
    """``used`` captures are in the mean, whose times are those of ``base``."""

    base: int
    used: tuple[int, ...]


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
                for done, block in _blocks(list(laid.values()), frames):
                    push(block)
                    progress("joining the copies", 0.8 + 0.2 * done / frames)
                return Mutual(base=base, used=tuple(laid))
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


def _blocks(laid: Sequence[_Laid], frames: int) -> Iterator[tuple[int, Float32]]:
    """The mean block by block, with the frames that are done."""
    for first in range(0, frames, _BLOCK):
        last = min(first + _BLOCK, frames)
        programme = np.arange(max(first - _MARGIN, 0), min(last + _MARGIN, frames)) / RATE
        heard = [one for each in laid if (one := each.read(programme)) is not None]
        mean = robust_mean(np.stack(heard)) if heard else np.zeros((len(programme), 2), dtype=np.float32)
        skip = min(first, _MARGIN)
        yield last, mean[skip : skip + last - first]


def robust_mean(copies: Float32) -> Float32:
    """Mean of aligned copies without what only some of them carry, shape (copies, samples, 2) -> (samples, 2).

    Sample by sample what lies far off the median is left out. Where copies differ by a short pulse, those whose second
    difference holds less power there are taken to be without it, be they ever so few: a mark adds to the groove. Two
    copies or fewer are averaged as they are.
    """
    if len(copies) < LEAST:
        return np.asarray(copies.mean(axis=0), dtype=np.float32)
    away = copies - np.median(copies, axis=0)
    usual = 1.4826 * np.median(np.abs(away), axis=(1, 2), keepdims=True) + 1e-9
    kept = np.abs(away) < _OUT * max(float(np.median(usual)), 1e-9)
    count = kept.sum(axis=0)
    mean = np.where(
        count > 0, np.where(kept, copies, 0.0).sum(axis=0) / np.maximum(count, 1), np.median(copies, axis=0)
    )
    bends = np.diff(copies, n=2, axis=1, prepend=copies[:, :1], append=copies[:, -1:])
    for first, last in _pulses(bends):
        with_mark = _carries(bends[:, first:last])
        if with_mark.any():
            inside = copies[~with_mark, first:last].mean(axis=0)
            fade = np.minimum(1.0, np.minimum(np.arange(last - first), np.arange(last - first)[::-1]) / _FADE)[:, None]
            mean[first:last] = fade * inside + (1.0 - fade) * mean[first:last]
    return np.asarray(mean, dtype=np.float32)


def _pulses(bends: Float32) -> list[tuple[int, int]]:
    """Stretches in which one copy's second difference stands out of the others' [samples]."""
    apart = np.abs(bends - np.median(bends, axis=0)).max(axis=2)
    usual = 1.4826 * np.median(apart, axis=1, keepdims=True) + 1e-9
    at = np.flatnonzero((apart > _STANDS_OUT * usual).any(axis=0))
    if not len(at):
        return []
    cuts = np.flatnonzero(np.diff(at) > _WINDOW)
    starts, stops = np.concatenate([[at[0]], at[cuts + 1]]), np.concatenate([at[cuts], [at[-1]]])
    frames = bends.shape[1]
    return [(max(int(a) - _WINDOW, 0), min(int(b) + _WINDOW, frames)) for a, b in zip(starts, stops, strict=True)]


def _carries(bends: Float32) -> NDArray[np.bool_]:
    """Which copies carry the pulse: those nearer to the one that differs most from the quietest than to that one."""
    flat = bends.reshape(len(bends), -1).astype(np.float64)
    away = flat - flat[int(np.einsum("cs,cs->c", flat, flat).argmin())]
    power = np.einsum("cs,cs->c", away, away)
    most = int(power.argmax())
    return np.asarray(away @ away[most] > 0.5 * power[most])
