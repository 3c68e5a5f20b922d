"""What passes from reference to capture at three radii: third octaves, distortion.

Over the frames of a third of the side the reference as played (the transfer already in it) is held against the
capture: gain = cross power / own power corrects the transfer of each section to what that third really shows.
"""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from runtrue.listen.difference import FREQUENCIES, Section
from runtrue.listen.heard import HeardResponse, HeardThird
from runtrue.listen.levels import NOMINAL_HZ, third_sums, zone_of

Float32 = NDArray[np.float32]
Float64 = NDArray[np.float64]

_STRIDE = 3
"""Every third frame is enough: neighbours share half their samples."""
_AT_1_KHZ = NOMINAL_HZ.index(1000)
_LEAST_SHARE = 0.5
"""Least squared coherence at which a band's gain is stated."""
_MIDDLE = (FREQUENCIES >= 250.0) & (FREQUENCIES <= 4000.0)


@dataclass(slots=True, kw_only=True)
class ResponseMeter:
    """Collects sections (``push``) and gives the response by radius (``finish``)."""

    _times: list[float] = field(default_factory=list)
    _sums: list[Float64] = field(default_factory=list)
    _through: list[tuple[float, float]] = field(default_factory=list)

    def push(self, section: Section, played_power: Float32) -> None:
        """Take in a section and the squared magnitudes of its reference as played, (2, frames, BINS)."""
        index = np.flatnonzero(section.heard)[::_STRIDE]
        if not len(index):
            return
        captured, played = section.captured[:, index], section.played[:, index]
        cross = (captured.real * played.real + captured.imag * played.imag).sum(axis=1, dtype=np.float64)
        own = played_power[:, index].sum(axis=1, dtype=np.float64)
        taken = (captured.real**2 + captured.imag**2).sum(axis=1, dtype=np.float64)
        through = np.abs(np.stack([section.transfer[0, 0], section.transfer[1, 1]])).astype(np.float64)
        # offered = played / through: its power, and what of the capture goes along with it
        offered = own / np.maximum(through**2, 1e-12)
        along = cross / np.maximum(through, 1e-6)
        self._times.append(float(section.programme.mean()))
        self._sums.append(np.stack([offered, along, taken]).reshape(6, -1) @ third_sums())
        spread = (section.leak[:, _MIDDLE] * own[:, _MIDDLE]).sum()
        self._through.append((float(spread), float(own[:, _MIDDLE].sum())))

    def finish(self, reach: tuple[float, float]) -> HeardResponse:
        """Third octaves re 1 kHz, mean of both walls [dB], and distortion [-], outer, middle, inner."""
        zone = zone_of(np.array(self._times), reach)
        sums = np.array(self._sums).reshape(len(self._sums), 3, 2, -1)
        through = np.array(self._through)
        levels = np.full((3, len(NOMINAL_HZ)), np.nan)
        spreads: list[float | None] = []
        for number in range(3):
            inside = zone == number
            spreads.append(_root(through[inside].sum(axis=0)) if inside.any() else None)
            if inside.any():
                levels[number] = _levels(sums[inside].sum(axis=0))
        return HeardResponse(
            thirds=tuple(
                HeardThird(frequency=float(hz), values=tuple(_known(levels[z, i]) for z in range(3)))
                for i, hz in enumerate(NOMINAL_HZ)
            ),
            distortion=tuple(spreads),
        )


def _levels(sums: Float64) -> Float64:
    """Gain of each third octave re its 1 kHz band [dB], NaN where capture and reference do not go together."""
    offered, along, taken = sums
    gain = along / np.maximum(offered, 1e-20)
    coherence = along**2 / np.maximum(offered * taken, 1e-30)
    with np.errstate(invalid="ignore", divide="ignore"):
        walls = 20.0 * np.log10(np.where((coherence > _LEAST_SHARE) & (gain > 0.0), gain, np.nan))
    walls -= walls[:, _AT_1_KHZ : _AT_1_KHZ + 1]
    both = np.isfinite(walls)
    mean = np.where(both, walls, 0.0).sum(axis=0) / np.maximum(both.sum(axis=0), 1)
    return np.where(both.any(axis=0), mean, np.nan)


def _root(through: Float64) -> float:
    return float(np.sqrt(through[0] / max(through[1], 1e-20)))


def _known(value: float) -> float | None:
    return float(value) if np.isfinite(value) else None
