"""Ticks: short events that stand above the local noise of the difference.

Prominence is that of the contract: the largest whitened difference, 1 to 16 kHz, within 1 ms, on the best of left,
right, lateral and vertical, over 1.4826 x the median there in +-0.25 s, root-sum-squared with the mis-subtraction
predicted at that instant. An event is listed from 12 dB on if noise alone would show it less than once in ten
minutes, by its peak or by its energy over 0.3 to 1 ms.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import maximum_filter1d, median_filter, uniform_filter1d

from runtrue.listen.difference import FREQUENCIES, Section, axes_of
from runtrue.listen.heard import HeardTick, HeardTrain
from runtrue.listen.store import RATE
from runtrue.signal.stft import HOP, synthesise
from runtrue.types import Channel

Float32 = NDArray[np.float32]
Float64 = NDArray[np.float64]

LISTED = 10.0 ** (12.0 / 20.0)
_SURE_PEAK = 5.9
"""Gaussian noise passes this 0.04 times in ten minutes of four axes at 48 kHz; 15.4 dB."""
_ENERGIES = ((15, 6.6), (49, 3.6))
"""Window [samples] and mean square over noise that Gaussian noise of 1 to 16 kHz passes as rarely."""
_MERGE = int(0.003 * RATE)
_NEAR = int(0.001 * RATE)
_GRID = int(0.05 * RATE)
_LATE = int(0.005 * RATE)
_LATE_PRIOR = 1e-6
_CLASSES = (0.0, 0.4, 0.7, 0.85, 0.93, 0.97, 0.99, 1.0)
_WIDTHS = 3.2
_DERIVATIVE = (2j * np.pi * FREQUENCIES).astype(np.complex64)
_TRAIN_S = 0.003
_TRAIN_LEAST = 4
_CHANNELS = (Channel.LEFT, Channel.RIGHT, Channel.LATERAL, Channel.VERTICAL)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Whitened:
    """Whitened difference of four axes over a section's samples, (4, n), with its local noise and threshold noise."""

    value: Float32
    noise: Float32
    total: Float32


def whiten(section: Section) -> Whitened:
    """Whiten by the section's own median spectrum and work out the local noise."""
    difference, played = axes_of(section.difference), axes_of(section.played)
    heard = section.heard
    power = np.abs(difference[:, heard]) ** 2
    spectrum = np.median(power, axis=1) / 0.6931
    spectrum = uniform_filter1d(spectrum, 15, axis=1, mode="nearest")
    band = ((FREQUENCIES >= 1000.0) & (FREQUENCIES <= 16000.0)).astype(np.float32)
    gain = (band / np.sqrt(spectrum + 1e-12 * spectrum.max() + 1e-30)).astype(np.float32)
    leak = np.sqrt(np.concatenate([section.leak, np.repeat(section.leak.mean(axis=0, keepdims=True), 2, axis=0)]))
    leak = leak.astype(np.float32)
    value = np.stack([synthesise(difference[a] * gain[a]) for a in range(4)])
    slope = np.stack([synthesise(played[a] * (gain[a] * _DERIVATIVE)) for a in range(4)])
    predicted = np.stack([synthesise(played[a] * (gain[a] * leak[a])) for a in range(4)])
    value -= _late(value[:2], slope[:2]) * slope
    noise = np.stack([_local_noise(v) for v in value])
    lasting = np.stack([_lasting_power(v) for v in value])
    steady = np.maximum(noise * noise, lasting)
    spread = np.stack([_played_power(p) for p in predicted])
    left = np.stack([_left_over(value[a], noise[a], spread[a]) for a in range(4)])
    return Whitened(value=value, noise=noise, total=np.sqrt(steady + left))


def _late(value: Float32, slope: Float32) -> Float32:
    """What the line is still late by [s], per sample, (n,): least squares over 5 ms with a prior of 1 us, ticks clipped.

    The whitened noise has unit variance, so the sum of squared slopes is the information of each stretch.
    """
    count = value.shape[1] // _LATE
    rows = (2, count, _LATE)
    clipped = np.clip(value, -4.0, 4.0)[:, : count * _LATE].reshape(rows)
    steep = slope[:, : count * _LATE].reshape(rows)
    moment = np.einsum("cnk,cnk->n", clipped, steep, dtype=np.float64)
    information = np.einsum("cnk,cnk->n", steep, steep, dtype=np.float64)
    kernel = np.array([0.5, 1.0, 0.5])
    moment, information = (np.convolve(x, kernel, mode="same") for x in (moment, information))
    late = moment / (information + 1.0 / _LATE_PRIOR**2)
    at = (np.arange(count) + 0.5) * _LATE
    return np.interp(np.arange(value.shape[1]), at, late).astype(np.float32)


def _played_power(predicted: Float32) -> Float32:
    """Mean square over +-0.5 ms, the largest within +-1 ms of each sample."""
    power = uniform_filter1d(predicted * predicted, _NEAR)
    return np.asarray(maximum_filter1d(np.maximum(power, 0.0), 2 * _NEAR + 1), dtype=np.float32)


def _left_over(value: Float32, noise: Float32, spread: Float32) -> Float32:
    """Power of the programme left in ``value`` at each sample, learnt from how its peaks grow with ``spread``.

    The milliseconds of the section are sorted into classes of rising prediction over noise. In each, the logarithm of
    the largest square over noise has a middle and a width, which ticks are too few to move; the listed threshold
    (12 dB) belongs ``_WIDTHS`` widths above the middle. Pure noise gives back the noise.
    """
    count = len(value) // _NEAR
    rows = (count, _NEAR)
    quiet = noise[: count * _NEAR].reshape(rows).mean(axis=1) ** 2
    peak = np.log((value[: count * _NEAR].reshape(rows) ** 2).max(axis=1) / quiet + 1e-9)
    offered = np.log(spread[: count * _NEAR].reshape(rows).mean(axis=1) / quiet + 1e-9)
    edges = np.quantile(offered, _CLASSES)
    at, level = [], []
    for low, high in zip(edges[:-1], edges[1:], strict=True):
        inside = (offered >= low) & (offered <= high)
        if inside.sum() < 20 or high <= low:
            continue
        middle, upper = np.quantile(peak[inside], (0.5, 0.84))
        at.append(float(offered[inside].mean()))
        level.append(
            max(float(middle + _WIDTHS * (upper - middle)) - 2.0 * np.log(LISTED), level[-1] if level else 0.0)
        )
    if not at:
        return np.zeros_like(value)
    here = np.log(spread / (noise * noise) + np.float32(1e-9))
    total = np.interp(here, at, level) + np.maximum(here - at[-1], 0.0) * (level[-1] > 0.0)
    return np.asarray((np.exp(total) - 1.0) * (noise * noise), dtype=np.float32)


def _lasting_power(value: Float32) -> Float32:
    """Median over +-10 ms of the power in each millisecond: what lasts longer than a tick is left-over programme."""
    count = len(value) // _NEAR
    power = np.mean(value[: count * _NEAR].reshape(count, _NEAR) ** 2, axis=1)
    lasting = np.maximum(median_filter(power, 21, mode="nearest"), median_filter(power, 9, mode="nearest")) / 0.978
    return np.pad(np.repeat(lasting, _NEAR), (0, len(value) - count * _NEAR), mode="edge").astype(np.float32)


def _local_noise(value: Float32) -> Float32:
    """1.4826 x median |value| in +-0.25 s, interpolated from every 50 ms."""
    count = max(1, len(value) // _GRID)
    magnitude = (
        np.abs(value[: count * _GRID].reshape(count, -1)[:, ::3]) if len(value) >= _GRID else np.abs(value)[None]
    )
    reach = min(5, max(0, (count - 1) // 2))
    padded = np.pad(magnitude, ((reach, reach), (0, 0)), mode="reflect" if count > reach else "edge")
    windows = np.lib.stride_tricks.sliding_window_view(padded, 2 * reach + 1, axis=0)
    median = 1.4826 * np.median(windows.reshape(len(windows), -1), axis=1)
    at = (np.arange(len(median)) + 0.5) * _GRID
    return np.interp(np.arange(len(value)), at, median).astype(np.float32) + np.float32(1e-12)


def find_ticks(section: Section) -> tuple[list[HeardTick], float]:
    """Ticks of one section, peaks in dB re full scale; and the share of time with the threshold above 1.5 x the noise."""
    white = whiten(section)
    ratio = np.abs(white.value) / white.total
    count = ratio.shape[1]
    inside = np.repeat(section.heard[1:] & section.heard[:-1], HOP)[:count]
    raised = (
        float((white.total[:2].max(axis=0) > 1.5 * white.noise[:2].max(axis=0))[inside].mean()) if inside.any() else 0.0
    )
    best = ratio.max(axis=0) * inside
    sure = best > _SURE_PEAK
    normal = (white.value / white.total) ** 2
    for width, bound in _ENERGIES:
        mean = uniform_filter1d(normal, width, axis=1).max(axis=0)
        sure |= (mean > bound) & inside
    sure &= maximum_filter1d(best, 2 * _NEAR + 1) >= LISTED
    ticks: list[HeardTick] = []
    plain: Float32 | None = None
    for start, stop in _clusters(sure):
        low, high = max(0, start - _NEAR), min(count, stop + _NEAR)
        axis, offset = np.unravel_index(int(ratio[:, low:high].argmax()), (4, high - low))
        at = low + int(offset)
        prominence = float(ratio[axis, at])
        if prominence < LISTED or not inside[at]:
            continue
        if plain is None:
            plain = np.stack([synthesise(d) for d in axes_of(section.difference)])
        peak = float(np.abs(plain[axis, max(0, at - _NEAR) : at + _NEAR + 1]).max())
        loud = np.flatnonzero(ratio[axis, low:high] > 3.0)
        duration = (loud[-1] - loud[0] + 1) / RATE if len(loud) else 1.0 / RATE
        ticks.append(
            HeardTick(
                programme_time=float(section.programme[at]),
                time_u95=2e-5,
                capture_time=(section.first + at) / RATE,
                peak=20.0 * float(np.log10(max(peak, 1e-12))),
                prominence=20.0 * float(np.log10(prominence)),
                duration=float(duration),
                channel=_CHANNELS[axis],
            )
        )
    return ticks, raised


def _clusters(sure: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """First and last + 1 sample of events; events nearer than 3 ms are one."""
    index = np.flatnonzero(sure)
    if len(index) == 0:
        return []
    breaks = np.flatnonzero(np.diff(index) > _MERGE)
    starts = np.concatenate([[index[0]], index[breaks + 1]])
    stops = np.concatenate([index[breaks], [index[-1]]]) + 1
    return [(int(a), int(b)) for a, b in zip(starts, stops, strict=True)]


def joined(ticks: list[HeardTick]) -> tuple[HeardTick, ...]:
    """Ticks of all sections in order, those nearer than 3 ms in the capture merged into the more prominent."""
    out: list[HeardTick] = []
    for tick in sorted(ticks, key=lambda t: t.capture_time):
        if out and tick.capture_time - out[-1].capture_time < 0.003:
            out[-1] = max(out[-1], tick, key=lambda t: t.prominence)
        else:
            out.append(tick)
    return tuple(out)


def find_trains(ticks: tuple[HeardTick, ...], *, turn_period: float) -> tuple[HeardTrain, ...]:
    """Ticks that return once a turn, four turns or more, each within 3 ms of a turn after the one before."""
    times = np.array([t.programme_time for t in ticks])
    used = np.zeros(len(ticks), dtype=bool)
    trains = []
    for first in range(len(ticks)):
        if used[first]:
            continue
        members = [first]
        while True:
            gap = np.abs(times - times[members[-1]] - turn_period)
            gap[used] = np.inf
            following = int(gap.argmin()) if len(gap) else 0
            if gap[following] > _TRAIN_S:
                break
            members.append(following)
        if len(members) >= _TRAIN_LEAST:
            used[members] = True
            period = float(np.polyfit(np.arange(len(members)), times[members], 1)[0])
            trains.append(HeardTrain(members=tuple(members), period=period))
    return tuple(trains)
