"""Noise in more than one number: swish, quasi-peak, third octaves by radius, level by angle, with and without music."""

from dataclasses import dataclass, field
from functools import cache

import numpy as np
from numpy.typing import NDArray

from runtrue.listen.cells import Cells, Expected
from runtrue.listen.difference import FREQUENCIES, Section
from runtrue.listen.heard import HeardNoise, HeardThird
from runtrue.listen.store import RATE
from runtrue.signal.stft import FRAME, HOP, synthesise
from runtrue.signal.weighting import QuasiPeak, bs468_weighting
from runtrue.types import Measurement

Float32 = NDArray[np.float32]
Float64 = NDArray[np.float64]
Bool = NDArray[np.bool_]

THIRDS_HZ = 1000.0 * 10.0 ** (np.arange(-10, 13) / 10.0)
"""Exact middles of the third octaves, 100 Hz to 16 kHz (base ten, IEC 61260)."""
NOMINAL_HZ = (
    100, 125, 160, 200, 250, 315, 400, 500, 630, 800, 1000, 1250, 1600, 2000, 2500, 3150,
    4000, 5000, 6300, 8000, 10_000, 12_500, 16_000,
)  # fmt: skip
"""What they are called."""
ZONES = ("outer", "middle", "inner")
SECTORS = 12
_468 = (10.0 ** (bs468_weighting(FREQUENCIES) / 20.0)).astype(np.float32)
_LEAST_HEARD_S = 3.0
_SETTLED = 150
"""Readings of 10 ms until the quasi-peak meter has risen."""
_SHOWS = 0.25
"""Leak over noise up to which a cell counts as free of music."""
_UNMODULATED_DB = -45.0
"""Programme re its mean below which a groove counts as unmodulated."""


@cache
def third_sums() -> Float32:
    """Matrix (BINS, thirds) of the share of each bin that lies in each third octave."""
    width = RATE / FRAME
    low, high = FREQUENCIES - width / 2.0, FREQUENCIES + width / 2.0
    edges = (THIRDS_HZ * 10.0**-0.05, THIRDS_HZ * 10.0**0.05)
    shared = np.minimum(high[:, None], edges[1]) - np.maximum(low[:, None], edges[0])
    return np.asarray(np.clip(shared / width, 0.0, 1.0), dtype=np.float32)


def zone_of(time: Float64, reach: tuple[float, float]) -> NDArray[np.int64]:
    """Third of the reach each time lies in: 0 outer, 1 middle, 2 inner."""
    share = (time - reach[0]) / max(reach[1] - reach[0], 1e-9)
    return np.clip(np.floor(3.0 * share), 0, 2).astype(np.int64)


def by_zone(values: Float64, zone: NDArray[np.int64], weight: Float64) -> Float64:
    """Weighted mean of the rows of ``values`` (n, ...) in each zone, (3, ...); NaN where there is none."""
    out = np.full((3, *values.shape[1:]), np.nan)
    for number in range(3):
        inside = zone == number
        if weight[inside].sum() > 0.0:
            out[number] = np.average(values[inside], axis=0, weights=weight[inside])
    return out


@dataclass(slots=True, kw_only=True)
class PeakMeter:
    """Quasi-peak reading of the difference, events and loud music cut out; one section of ``every`` is read."""

    every: int = 1
    _meter: QuasiPeak = field(default_factory=lambda: QuasiPeak(2))
    _seen: int = 0
    heard: float = 0.0

    def push(self, section: Section, events: NDArray[np.int64]) -> None:
        """Take in a section; ``events`` are samples from its first."""
        self._seen += 1
        if (self._seen - 1) % self.every:
            return
        keep = quiet_samples(section, events)
        sound = np.stack([synthesise(channel * _468) for channel in section.difference], axis=1)
        part = sound[keep[: len(sound)]]
        self.heard += len(part) / RATE
        self._meter.push(part)

    def finish(self, zero: float) -> Measurement:
        """Reading re ``zero`` (power), middle of the meter's course, mean power of left and right."""
        if self.heard < _LEAST_HEARD_S:
            why = f"less than {_LEAST_HEARD_S:.0f} s of the groove hold noise alone: the music shows through elsewhere"
            return Measurement(quantity="surface_quasi_peak", value=None, reason=why)
        readings = self._meter.finish()[_SETTLED:]
        power = float((np.median(readings, axis=0) ** 2).mean())
        scatter = float(np.std(20.0 * np.log10(readings.mean(axis=1) + 1e-12)))
        return Measurement(
            quantity="surface_quasi_peak", value=10.0 * float(np.log10(power / zero + 1e-20)),
            u95=float(np.hypot(0.4, 2.0 * scatter / max(1.0, self.heard / 2.0) ** 0.5)),
        )  # fmt: skip


def quiet_samples(section: Section, events: NDArray[np.int64]) -> Bool:
    """Samples of a section (from its first) that hold neither music shining through nor an event."""
    played = (section.played.real**2 + section.played.imag**2)[:, :, _BAND]
    through = (section.leak[:, None, _BAND] * played * _POWER_468).sum(axis=2)
    own = (section.noise_power[:, _BAND] * _POWER_468).sum(axis=1)
    frames = section.heard & (through < _SHOWS * own[:, None]).all(axis=0)
    keep = np.repeat(frames[1:] & frames[:-1], HOP)
    around = np.arange(-round(0.002 * RATE), round(0.006 * RATE))
    hit = (events[:, None] + around).ravel()
    keep[hit[(hit >= 0) & (hit < len(keep))]] = False
    return np.asarray(keep, dtype=np.bool_)


_BAND = slice(8, None, 4)
"""Every fourth bin from 375 Hz on is enough to tell whether the music shows."""
_POWER_468 = (_468**2)[_BAND]


def swish(cells: Cells, known: Expected, *, turn_period: float) -> Measurement:
    """Peak to peak of the once-a-turn part of the A-weighted noise level [dB].

    A straight fit of the level of each cell (leak taken off) by cosine and sine of the angle beside the slow course
    of the side, cells that stand out left out; what chance alone gives to the square of the swing is taken off.
    """
    clear = known.loud[:, :2].max(axis=1) < _SHOWS
    turns = np.ptp(cells.time[clear]) / turn_period if clear.any() else 0.0
    if turns < 3.0 or clear.sum() < 200:
        return Measurement(
            quantity="swish", value=None, reason="the noise alone is not heard over three turns of the groove"
        )
    level = 10.0 * np.log10(cells.rest_a[clear].astype(np.float64) + 1e-20)
    angle = 2.0 * np.pi * cells.time[clear] / turn_period
    slow = np.linspace(-1.0, 1.0, len(level))
    course = np.polynomial.legendre.legvander(slow, int(min(8, 1 + turns // 6)))
    terms = np.concatenate([np.stack([np.cos(angle), np.sin(angle)], axis=1), course], axis=1)
    keep = np.ones(len(level), dtype=bool)
    for _ in range(4):
        solution = np.linalg.lstsq(terms[keep], level[keep], rcond=None)[0]
        left = level - terms @ solution
        spread = 1.4826 * float(np.median(np.abs(left[keep]))) + 1e-6
        keep = np.abs(left) < 3.0 * spread
    # neighbouring cells share half their samples
    error = spread * np.sqrt(2.0 * 1.5 / keep.sum())
    swing = np.sqrt(max(float(solution[0] ** 2 + solution[1] ** 2) - 2.0 * error**2, 0.0))
    return Measurement(quantity="swish", value=2.0 * swing, u95=float(np.hypot(0.2, 2.0 * 1.96 * error)))


def noise_detail(
    cells: Cells,
    known: Expected,
    *,
    spectra: Float64,
    times: Float64,
    weights: Float64,
    reach: tuple[float, float],
    turn_period: float,
    zero: float,
) -> HeardNoise:
    """Third octaves by radius, A-weighted level by angle, in unmodulated groove and under music; dB re ``zero``.

    ``spectra`` (sections, BINS) noise per bin, mean of left and right.
    """
    bands = by_zone(spectra @ third_sums() * (4.0 / FRAME**2), zone_of(times, reach), weights)
    thirds = tuple(
        HeardThird(frequency=float(hz), values=tuple(_level(bands[z, i], zero) for z in range(3)))
        for i, hz in enumerate(NOMINAL_HZ)
    )
    clear = known.loud[:, :2].max(axis=1) < _SHOWS
    sector = (cells.time / turn_period % 1.0 * SECTORS).astype(np.int64)
    calm = cells.rest_a.astype(np.float64) < 4.0 * np.median(cells.rest_a[clear]) if clear.any() else clear
    angles = []
    for number in range(SECTORS):
        inside = clear & calm & (sector == number)
        angles.append(_level(float(cells.rest_a[inside].mean()), zero) if inside.sum() > 20 else None)
    soft = cells.played_a < zero * 10.0 ** (_UNMODULATED_DB / 10.0)
    return HeardNoise(
        thirds=thirds, by_angle=tuple(angles),
        unmodulated=_middle(cells.rest_a[soft], zero), under_music=_middle(cells.rest_a[~soft & clear], zero),
    )  # fmt: skip


def _middle(power: Float32, zero: float) -> float | None:
    """Level of the middle cell, freed of events; None for less than a second."""
    if len(power) < RATE // HOP:
        return None
    return _level(float(np.median(power)) * 1.01, zero)


def _level(power: float, zero: float) -> float | None:
    return None if not np.isfinite(power) or power <= 0.0 else 10.0 * float(np.log10(power / zero))
