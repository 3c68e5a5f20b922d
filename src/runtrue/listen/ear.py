"""The difference heard: joins what is measured on it beside the ticks, section by section and then for the side."""

from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from runtrue.listen.audible import Heights, heights, probability, quiet_energy
from runtrue.listen.bursts import find_zones, helix_of
from runtrue.listen.cells import CellKeeper, expected
from runtrue.listen.difference import Section
from runtrue.listen.heard import HeardBurst, HeardNoise, HeardResponse, HeardTick, TickShape
from runtrue.listen.levels import PeakMeter, noise_detail, swish
from runtrue.listen.response import ResponseMeter
from runtrue.listen.setting import Hearing
from runtrue.listen.store import RATE
from runtrue.listen.thumps import find_thumps
from runtrue.signal.masking import BANDS
from runtrue.types import Measurement

Float64 = NDArray[np.float64]

_READ_ALL_S = 60.0
"""Up to this much is read by the quasi-peak meter; of longer sides an even choice of sections."""
_LONG_S = 1e-3
_STITCHES, _STITCH_S = 5, 0.1
"""So many ticks within so long are stitches."""
_THUMP_DB = 6.0


@dataclass(frozen=True, slots=True, kw_only=True)
class HeardDifference:
    """What the difference holds beside its ticks."""

    ticks: tuple[HeardTick, ...]
    bursts: tuple[HeardBurst, ...]
    noise: HeardNoise
    response: HeardResponse
    scalars: tuple[Measurement, ...]


@dataclass(slots=True, kw_only=True)
class Ear:
    """Takes sections with their ticks (``push``) and gives the difference heard (``finish``)."""

    duration: float
    _cells: CellKeeper = field(default_factory=CellKeeper)
    _response: ResponseMeter = field(default_factory=ResponseMeter)
    _peak: PeakMeter | None = None
    _heights: dict[float, tuple[Float64, Float64]] = field(default_factory=dict)
    _noise: list[Float64] = field(default_factory=list)
    _weights: list[float] = field(default_factory=list)
    _times: list[float] = field(default_factory=list)

    def push(self, section: Section, ticks: list[HeardTick]) -> None:
        """Take in one section and the ticks found in it."""
        difference, played = (x.real**2 + x.imag**2 for x in (section.difference, section.played))
        at = np.array([round(t.capture_time * RATE) - section.first for t in ticks], dtype=np.int64)
        if len(ticks):
            found = heights(section, difference, played, at)
            for tick, energy, threshold in zip(ticks, found.energy, found.threshold, strict=True):
                self._heights[tick.capture_time] = (energy, threshold)
        self._cells.push(section, difference, played)
        self._response.push(section, played)
        if self._peak is None:
            self._peak = PeakMeter(every=max(1, round(self.duration / _READ_ALL_S)))
        self._peak.push(section, at)
        self._noise.append(section.noise_power.mean(axis=0))
        self._weights.append(float(section.heard.sum()))
        self._times.append(float(section.programme.mean()))

    def finish(
        self,
        ticks: tuple[HeardTick, ...],
        *,
        level: float,
        turn_period: float,
        reach: tuple[float, float],
        hearing: Hearing,
    ) -> HeardDifference:
        """Put together; ``level`` of the programme [dB re full scale] is what levels are told against."""
        zero = 10.0 ** (level / 10.0)
        cells = self._cells.cells()
        known = expected(cells)
        zones = find_zones(helix_of(cells, known, turn_period=turn_period))
        thumps = find_thumps(cells, turn_period=turn_period)
        bursts = sorted([*zones, *thumps], key=lambda burst: burst.start)
        assert self._peak is not None
        return HeardDifference(
            ticks=self._judged(_shaped(ticks), 10.0 ** (level / 20.0), hearing),
            bursts=tuple(replace(burst, level=burst.level - level) for burst in bursts),
            noise=noise_detail(
                cells, known, spectra=np.array(self._noise), times=np.array(self._times),
                weights=np.array(self._weights), reach=reach, turn_period=turn_period, zero=zero,
            ),
            response=self._response.finish(reach),
            scalars=(self._peak.finish(zero), swish(cells, known, turn_period=turn_period)),
        )  # fmt: skip

    def _judged(self, ticks: tuple[HeardTick, ...], programme: float, hearing: Hearing) -> tuple[HeardTick, ...]:
        """Ticks with how far they stand above what is just heard."""
        if not ticks:
            return ()
        nothing = (np.zeros((2, BANDS)), np.ones((2, BANDS)))
        energy, threshold = zip(*(self._heights.get(t.capture_time, nothing) for t in ticks), strict=True)
        found = Heights(energy=np.array(energy), threshold=np.array(threshold))
        margin = found.margin(quiet_energy(hearing, programme))
        odds = probability(margin, hearing)
        return tuple(
            replace(tick, margin=float(m), audible=float(p)) for tick, m, p in zip(ticks, margin, odds, strict=True)
        )


def _shaped(ticks: tuple[HeardTick, ...]) -> tuple[HeardTick, ...]:
    """Ticks with their shape: stitches are many small ones close together."""
    times = np.array([t.capture_time for t in ticks])
    near = np.searchsorted(times, times + _STITCH_S / 2) - np.searchsorted(times, times - _STITCH_S / 2)

    def shape(tick: HeardTick, many: int) -> TickShape:
        if many >= _STITCHES:
            return TickShape.STITCH
        return TickShape.LONG if tick.duration > _LONG_S else TickShape.SHORT

    return tuple(replace(tick, shape=shape(tick, int(n))) for tick, n in zip(ticks, near, strict=True))
