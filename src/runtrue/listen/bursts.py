"""Bursts: zones of noise that lie at one place of the disc over neighbouring turns, or follow the modulation.

The side is laid out as it lies on the disc: a helix of cells of some degrees, one turn under the other. A zone is a
patch in which the difference stands above what noise and leak of the surroundings make of it, three turns or more.
One wall over an arc is what compound that did not fill leaves (``non_fill_like``); a noise that swells with the music
is what a tearing release leaves (``tearing_like``); everything else of place is a ``noise_zone``.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import uniform_filter1d
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from scipy.stats import rankdata

from runtrue.listen.cells import HOP_S, LATERAL, LEFT, RIGHT, VERTICAL, Cells, Expected
from runtrue.listen.heard import BurstKind, HeardBurst
from runtrue.types import Channel

Float32 = NDArray[np.float32]
Float64 = NDArray[np.float64]

_MOST_CELLS = 90
"""Cells a turn: 4 deg, and never shorter than the hop of the spectra."""
_ABOVE = 10.0 ** (4.0 / 10.0)
"""Smoothed power over what is expected from which a cell belongs to a zone."""
_LEAST_TURNS = 3
_LEAST_DEG = 14.0
_LEAST_FILL = 0.5
"""Share of a zone's rectangle whose cells stand above."""
_ALL_ROUND_DEG = 320.0
_FOLLOWS = 0.5
"""Rank correlation of noise and music from which a zone follows the modulation."""
_ONE_WALL = 4.0
"""Power of one wall over the other from which it is that wall alone."""
_PLACE = 10.0 ** (3.0 / 10.0)
"""A zone of place stands out by this where the music is soft, too."""
_FOLLOWING = 10.0 ** (6.0 / 10.0)
"""A zone that follows the music must stand out by this: leaks differ between passages."""
_CHANNELS = (Channel.LEFT, Channel.RIGHT, Channel.LATERAL, Channel.VERTICAL)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Helix:
    """Cells on the disc. ``count`` a turn; ``first`` number of the first one (0 starts at angle 0 of turn 0).

    ``ratio`` (n, 4) power over what is expected, NaN where nothing was heard; ``loud`` (n, 4) leak over noise;
    ``music`` (n,) A-weighted power of the programme; ``rest`` (n, 4) power of the difference, 1 to 16 kHz.
    """

    count: int
    turn: float
    first: int
    ratio: Float64
    loud: Float64
    music: Float64
    rest: Float64


def helix_of(cells: Cells, known: Expected, *, turn_period: float) -> Helix:
    """Lay the cells out in turns of ``turn_period`` [s] of programme time; what was heard twice counts as its mean."""
    count = min(_MOST_CELLS, max(12, int(turn_period / (1.2 * HOP_S))))
    place = np.floor(cells.time * (count / turn_period)).astype(np.int64)
    first = int(place.min()) - count
    size = int(place.max()) - first + 1 + count
    here = place - first
    number = np.bincount(here, minlength=size)

    def mean(values: Float32) -> Float64:
        flat = values.reshape(len(values), -1)
        total = np.stack([np.bincount(here, weights=column, minlength=size) for column in flat.T], axis=1)
        with np.errstate(invalid="ignore"):
            return np.asarray((total / number[:, None]).reshape(size, *values.shape[1:]), dtype=np.float64)

    return Helix(
        count=count, turn=turn_period, first=first, ratio=mean(known.ratio), loud=mean(known.loud),
        music=mean(cells.played_a), rest=mean(cells.rest.sum(axis=2)),
    )  # fmt: skip


def find_zones(helix: Helix) -> list[HeardBurst]:
    """All zones, levels in dB re full scale."""
    even = np.nan_to_num(helix.ratio, nan=1.0)
    even = even / _swish(even, helix.count)
    smooth = _smoothed(even, helix.count)
    above = smooth.max(axis=1) > _ABOVE
    zones = (_zone(helix, even, smooth, cells) for cells in _patches(above, helix.count))
    return _one_each([zone for zone in zones if zone is not None])


def _smoothed(even: Float64, count: int) -> Float64:
    """Median of each cell and its neighbours a turn before and after, then mean over three cells along the groove."""
    before = np.concatenate([np.ones((count, 4)), even[:-count]])
    after = np.concatenate([even[count:], np.ones((count, 4))])
    middle = np.maximum(np.minimum(before, even), np.minimum(np.maximum(before, even), after))
    return np.asarray(uniform_filter1d(middle, 3, axis=0, mode="nearest"))


def _swish(even: Float64, count: int) -> Float64:
    """What the noise does once a turn all along the side (n, 4), as a factor: first harmonic of the median turn."""
    rows = len(even) // count
    if rows < 8:
        return np.ones_like(even)
    median = np.log(np.median(even[: rows * count].reshape(rows, count, 4), axis=0))
    angle = 2.0 * np.pi * np.arange(count) / count
    terms = np.stack([np.ones(count), np.cos(angle), np.sin(angle)], axis=1)
    weight = np.ones_like(median)
    for _ in range(12):
        # least absolute deviation: an arc with a zone in most turns does not bend it
        fit = np.stack(
            [np.linalg.lstsq(terms * w[:, None], m * w, rcond=None)[0] for w, m in zip(weight.T, median.T, strict=True)]
        )
        weight = 1.0 / np.sqrt(np.abs(median - terms @ fit.T) + 0.02)
    swing = np.exp(terms[:, 1:] @ fit[:, 1:].T)
    return np.asarray(np.tile(swing, (rows + 1, 1))[: len(even)])


def _patches(above: NDArray[np.bool_], count: int) -> list[NDArray[np.int64]]:
    """Connected cells of the helix, neighbours along the groove and across it."""
    inside = np.flatnonzero(above)
    if not len(inside):
        return []
    at = np.full(len(above) + count, -1)
    at[inside] = np.arange(len(inside))
    pairs = [(at[inside], at[inside + step]) for step in (1, count)]
    start, end = (np.concatenate(side) for side in zip(*pairs, strict=True))
    joined = end >= 0
    graph = coo_array((np.ones(joined.sum()), (start[joined], end[joined])), shape=(len(inside), len(inside)))
    _, label = connected_components(graph, directed=False)
    order = np.argsort(label, kind="stable")
    bounds = np.flatnonzero(np.diff(label[order])) + 1
    return [inside[part] for part in np.split(order, bounds) if len(part) >= _LEAST_TURNS * 3]


def _zone(helix: Helix, even: Float64, smooth: Float64, patch: NDArray[np.int64]) -> HeardBurst | None:
    """The zone of a patch of cells; None where it is none."""
    count = helix.count
    axis = int(smooth[patch].mean(axis=0).argmax())
    # columns and turns about the patch's own middle, so that no arc is cut at angle 0
    phase = np.exp(2j * np.pi * patch / count).sum()
    middle = int(np.rint(np.angle(phase) / (2.0 * np.pi) * count)) % count
    start = middle - count // 2
    turns = (patch - start) // count
    first, last = int(turns.min()), int(turns.max())
    if last - first + 1 < _LEAST_TURNS:
        return None
    rows = np.arange(first - 1, last + 2)
    index = start + rows[:, None] * count + np.arange(count)
    held = (index >= 0) & (index < len(even))
    field = np.where(held, even[np.clip(index, 0, len(even) - 1), axis], 1.0) - 1.0
    low, high, inside = _arc(field[1:-1])
    if inside is None or (high - low) * 360.0 / count < _LEAST_DEG:
        return None
    strength = np.median(field[:, inside], axis=1)
    plateau = float(np.median(strength[1:-1]))
    lasting = np.flatnonzero(strength > 0.5 * plateau)
    lasting = lasting[(lasting > 0) & (lasting < len(rows) - 1) | (strength[lasting] > 0.5 * plateau)]
    if len(lasting) < _LEAST_TURNS:
        return None
    top, bottom = int(lasting[0]), int(lasting[-1])
    block = index[top : bottom + 1][:, inside]
    block = block[(block >= 0) & (block < len(even))]
    full = smooth[block, axis] > _ABOVE
    if full.mean() < _LEAST_FILL:
        return None
    kind = _kind(helix, even, block, axis, all_round=(high - low) * 360.0 / count > _ALL_ROUND_DEG)
    if kind is None:
        return None
    channel = _channel(helix, block)
    if channel not in (LEFT, RIGHT) and kind is BurstKind.NON_FILL_LIKE:
        kind = BurstKind.NOISE_ZONE
    cell = helix.turn / count
    begin, end = helix.first + start + rows[top] * count + low, helix.first + start + rows[bottom] * count + high
    return HeardBurst(
        start=float(begin * cell), end=float(end * cell),
        from_angle=float(begin * 360.0 / count % 360.0), to_angle=float(end * 360.0 / count % 360.0),
        channel=_CHANNELS[channel], level=10.0 * float(np.log10(helix.rest[block, channel].mean() + 1e-20)),
        prominence=10.0 * float(np.log10(np.median(even[block, channel]) + 1e-9)), kind=kind,
        turns=bottom - top + 1,
    )  # fmt: skip


def _arc(field: Float64) -> tuple[float, float, NDArray[np.int64] | None]:
    """Edges in cells from the start of the row, and the columns inside: half the height of the middle, interpolated."""
    profile = np.median(field, axis=0)
    count = len(profile)
    high = profile > _ABOVE - 1.0
    if high.mean() * 360.0 > _ALL_ROUND_DEG:
        return 0.0, float(count), np.arange(count)
    core = np.flatnonzero(high)
    if not len(core):
        return 0.0, 0.0, None
    # the run that holds the middle of what stands above
    pivot = int(core[np.abs(core - count // 2).argmin()])
    plateau = float(np.median(profile[core]))
    half = 0.5 * plateau
    left = pivot
    while left > 0 and (profile[left - 1] > half or (left > 1 and profile[left - 2] > half)):
        left -= 1
    right = pivot
    while right < count - 1 and (profile[right + 1] > half or (right < count - 2 and profile[right + 2] > half)):
        right += 1
    # a cell that is partly inside holds that part of the height
    start = left + 1.0 - _part(profile, left - 1, plateau) - _part(profile, left, plateau)
    end = right + _part(profile, right, plateau) + _part(profile, right + 1, plateau)
    return start, end, np.arange(left, right + 1)


def _part(profile: Float64, at: int, plateau: float) -> float:
    return float(np.clip(profile[at] / plateau, 0.0, 1.0)) if 0 <= at < len(profile) else 0.0


def _kind(helix: Helix, even: Float64, block: NDArray[np.int64], axis: int, *, all_round: bool) -> BurstKind | None:
    """What kind of zone the cells of ``block`` hold; None where only the music shows through."""
    heard = block[~np.isnan(helix.ratio[block, axis])]
    excess, loud, music = even[heard, axis], helix.loud[heard, axis], helix.music[heard]
    if len(heard) < 9:
        return None
    # power beyond the leak, in units of the noise
    noise = excess * (1.0 + loud)
    along = float(np.corrcoef(rankdata(noise), rankdata(music))[0, 1]) if np.ptp(music) > 0.0 else 0.0
    soft = loud <= max(0.5, float(np.median(loud)))
    if along > _FOLLOWS:
        return BurstKind.TEARING_LIKE if np.median(excess) > _FOLLOWING else None
    if np.median(excess[soft]) < _PLACE:
        return None
    return BurstKind.NOISE_ZONE if all_round else BurstKind.NON_FILL_LIKE


def _channel(helix: Helix, block: NDArray[np.int64]) -> int:
    """The wall or axis that carries the zone: power there beyond that of the turns' other cells."""
    count = helix.count
    around = np.unique((block[:, None] + np.array([-2 * count, 2 * count])[None, :]).ravel())
    around = np.setdiff1d(around[(around >= 0) & (around < len(helix.rest))], block)
    zone = np.nanmean(helix.rest[block], axis=0)
    base = np.nanmedian(helix.rest[around], axis=0) if len(around) else np.zeros(4)
    base = np.where(np.isfinite(base), base, 0.0)
    left, right, lateral, vertical = np.maximum(zone - base, 1e-20)
    if right > _ONE_WALL * left:
        return RIGHT
    if left > _ONE_WALL * right:
        return LEFT
    return LATERAL if lateral >= vertical else VERTICAL


def _one_each(zones: list[HeardBurst]) -> list[HeardBurst]:
    """Zones in order; patches of one zone that a soft cell parted become one again."""
    out: list[HeardBurst] = []
    for zone in sorted(zones, key=lambda z: z.start):
        out.append(zone)
    return out
