"""Thumps: low bumps of the difference, mostly vertical, alone or at one angle over neighbouring turns."""

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import maximum_filter1d, median_filter

from runtrue.listen.cells import HOP_S, LATERAL, VERTICAL, Cells
from runtrue.listen.heard import BurstKind, HeardBurst
from runtrue.types import Channel

Float64 = NDArray[np.float64]

_ABOVE = 10.0 ** (14.0 / 10.0)
"""Power over the local low noise from which a bump is one."""
_LOCAL = 95
"""Cells (1 s) over which the low noise is taken."""
_APART = 3
_WITHIN_S = 0.03
"""Bumps of neighbouring turns are one when they return within this."""
_LOUD_QUANTILE, _LEAK_QUANTILE = 0.8, 0.95
_CHANNELS = {LATERAL: Channel.LATERAL, VERTICAL: Channel.VERTICAL}


def find_thumps(cells: Cells, *, turn_period: float) -> list[HeardBurst]:
    """All thumps, levels in dB re full scale; those of neighbouring turns merged."""
    if len(cells.time) < 2 * _LOCAL:
        return []
    power = cells.low[:, (LATERAL, VERTICAL)].astype(np.float64)
    local = median_filter(power, (_LOCAL, 1), mode="nearest") / 0.85 + 1e-16
    # loud bass shows through, and so does what tracing makes of loud treble
    bass, treble = cells.played_low.mean(axis=1).astype(np.float64), cells.played_a.astype(np.float64)
    ratio = power / (local + sum(_through(power - local, maximum_filter1d(x, 7)) for x in (bass, treble)))
    best = ratio.max(axis=1)
    peaks = np.flatnonzero((best > _ABOVE) & (best >= maximum_filter1d(best, 2 * _APART + 1)))
    # a jump of the time from one cell to the next is a jump of the stylus: it lands with a thump of its own
    steady = np.abs(np.gradient(cells.time) - HOP_S) < 0.1 * HOP_S
    bumps = [_bump(cells, ratio, power, int(p), turn_period) for p in peaks if steady[max(0, p - 2) : p + 3].all()]
    return _merged(bumps, turn_period)


def _through(beyond: Float64, music: Float64) -> Float64:
    """What of ``music`` (n,) may show in ``beyond`` (n, 2), learnt where the music is loudest."""
    loud = music >= np.quantile(music, _LOUD_QUANTILE)
    share = np.quantile(beyond[loud] / (music[loud, None] + 1e-16), _LEAK_QUANTILE, axis=0)
    return np.asarray(2.0 * np.clip(share, 0.0, 1.0) * music[:, None], dtype=np.float64)


def _bump(cells: Cells, ratio: Float64, power: Float64, peak: int, turn: float) -> HeardBurst:
    axis = int(ratio[peak].argmax())
    near = slice(max(0, peak - 3), peak + 4)
    weight, time = power[near, axis], cells.time[near]
    middle = float((weight * time).sum() / weight.sum())
    # an event in one cell shows over two; what is left is its own width
    width = float(np.sqrt(max(float((weight * (time - middle) ** 2).sum() / weight.sum()) - (0.4 * HOP_S) ** 2, 0.0)))
    half = max(1.5 * width, 0.75 * HOP_S)
    return HeardBurst(
        start=middle - half, end=middle + half, from_angle=(middle - half) / turn * 360.0 % 360.0,
        to_angle=(middle + half) / turn * 360.0 % 360.0, channel=_CHANNELS[(LATERAL, VERTICAL)[axis]],
        level=10.0 * float(np.log10(power[peak, axis] + 1e-20)), prominence=10.0 * float(np.log10(ratio[peak, axis])),
        kind=BurstKind.THUMP, turns=1,
    )  # fmt: skip


def _merged(bumps: list[HeardBurst], turn: float) -> list[HeardBurst]:
    """Bumps that return once a turn become one entry from the first's start to the last's end."""
    chains: list[list[HeardBurst]] = []
    for bump in bumps:
        for chain in chains:
            gap = bump.start - chain[-1].start
            if abs(gap - turn) < _WITHIN_S or abs(gap - 2.0 * turn) < _WITHIN_S:
                chain.append(bump)
                break
        else:
            chains.append([bump])
    return [_joined(chain, turn) for chain in chains]


def _joined(chain: list[HeardBurst], turn: float) -> HeardBurst:
    best = max(chain, key=lambda b: b.prominence)
    first, last = chain[0], chain[-1]
    return HeardBurst(
        start=first.start, end=last.end, from_angle=best.from_angle, to_angle=best.to_angle, channel=best.channel,
        level=best.level, prominence=best.prominence, kind=BurstKind.THUMP,
        turns=round((last.start - first.start) / turn) + 1,
    )  # fmt: skip
