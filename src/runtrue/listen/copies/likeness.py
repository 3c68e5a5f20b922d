r"""The same mark or chance: how much alike the waveforms of two events are, and what unlike events of this sample give.

Likeness is the largest normalised cross-correlation of left and right together within 0.15 ms. What it says is learnt
from the sample itself: pairs of events at different programme times show how often different marks look as much alike.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from runtrue.listen.copies.sample import Events, Float64, Int, Sample

_REACH = 7
"""Samples of shift that are tried, 0.15 ms at 48 kHz."""
_SAME_LEAST = 0.75
"""Share of the likeness that noise leaves to two recordings of one mark, below which only 1 in 20 such pairs lie."""
_MOST_PAIRS = 400
_COUNT = 3
_NEVER_LESS = 0.02
"""No sample is large enough to say that different marks never look alike."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Shapes:
    """Waveforms of the events by play; ``unlike`` (n,) is the sorted likeness of pairs that are no one mark."""

    of: tuple[NDArray[np.float16] | None, ...]
    unlike: Float64


def shapes_of(sample: Sample, events: Events) -> Shapes:
    """Gather the waveforms and learn from up to 400 pairs of different plays and times what chance looks like."""
    waves = tuple(play.waveform for play in sample.plays)
    with_shape = (
        np.array([waves[j] is not None for j in events.of], dtype=bool) if len(events.of) else np.zeros(0, bool)
    )
    known = np.flatnonzero(with_shape)
    if len(known) < 4:
        return Shapes(of=waves, unlike=np.zeros(0))
    rng = np.random.default_rng(len(known))
    pairs = rng.choice(known, size=(4 * _MOST_PAIRS, 2))
    apart = np.abs(events.time[pairs[:, 0]] - events.time[pairs[:, 1]]) > 0.02
    pairs = pairs[apart & (events.of[pairs[:, 0]] != events.of[pairs[:, 1]])][:_MOST_PAIRS]
    if len(pairs) < 8:
        return Shapes(of=waves, unlike=np.zeros(0))
    first, second = (np.stack([_wave(waves, events, int(k)) for k in column]) for column in pairs.T)
    return Shapes(of=waves, unlike=np.sort(likeness(first, second)))


def _wave(waves: Sequence[NDArray[np.float16] | None], events: Events, k: int) -> Float64:
    shape = waves[int(events.of[k])]
    assert shape is not None
    return np.asarray(shape[int(events.place[k])], dtype=np.float64)


def likeness(first: Float64, second: Float64) -> Float64:
    """Likeness of waveforms pair by pair, shapes (n, 2, samples) -> (n,), from -1 to 1; 0 where one is silent."""
    samples = first.shape[-1]
    inner = first[..., _REACH : samples - _REACH]
    energy = np.einsum("ncs,ncs->n", inner, inner)
    best = np.full(len(first), -1.0)
    for shift in range(2 * _REACH + 1):
        other = second[..., shift : samples - 2 * _REACH + shift]
        scale = np.sqrt(energy * np.einsum("ncs,ncs->n", other, other))
        product = np.einsum("ncs,ncs->n", inner, other)
        best = np.maximum(best, np.divide(product, scale, out=np.zeros_like(product), where=scale > 0.0))
    return best


def judged(group: Int, events: Events, shapes: Shapes) -> tuple[float | None, float]:
    """Likeness of a group and the natural logarithm of how much more likely it is for one mark than for chance.

    None and 0 where fewer than two of the events have a waveform, or the sample cannot say what chance looks like. Each
    event is held against the most prominent one; what they say together counts as that of three at most, for they are
    not independent.
    """
    known = [int(k) for k in group if shapes.of[int(events.of[k])] is not None]
    if len(known) < 2:
        return None, 0.0
    known.sort(key=lambda k: -events.prominence[k])
    known = known[:24]
    waves = np.stack([_wave(shapes.of, events, k) for k in known])
    alike = likeness(np.repeat(waves[:1], len(known) - 1, axis=0), waves[1:])
    middle = float(np.median(alike))
    if not len(shapes.unlike):
        return middle, 0.0
    noise = 10.0 ** (-(events.prominence[known] - 9.0) / 10.0)
    expected = 1.0 / np.sqrt((1.0 + noise[0]) * (1.0 + noise[1:]))
    least = _SAME_LEAST * expected
    chance = 1.0 - np.searchsorted(shapes.unlike, least) / len(shapes.unlike)
    chance = np.clip(chance, _NEVER_LESS, 1.0 - _NEVER_LESS)
    ratio = np.where(alike >= least, np.log(0.95 / chance), np.log(0.05 / (1.0 - chance)))
    return middle, float(ratio.mean()) * min(len(ratio), _COUNT)
