"""Ticks: short events that stand above the local noise of the difference.

Prominence is that of the contract: the largest whitened difference, 1 to 16 kHz, within 1 ms, on the best of left,
right, lateral and vertical, over 1.4826 x the median there in +-0.25 s, root-sum-squared with the mis-subtraction
predicted at that instant. An event is listed from 12 dB on if noise alone would show it less than once in ten
minutes, by its peak or by its energy over 0.5 or 1 ms. Everything that is not a sample lives on a grid of 1 ms.
"""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import maximum_filter1d, median_filter, uniform_filter1d

from runtrue.listen.difference import FREQUENCIES, Section, axes_of
from runtrue.listen.heard import HeardTick
from runtrue.listen.store import RATE
from runtrue.signal.stft import HOP, Complex64, synthesise
from runtrue.types import Channel

Float32 = NDArray[np.float32]
Float64 = NDArray[np.float64]

LISTED = 10.0 ** (12.0 / 20.0)
"""Ratio from which a tick is listed, 12 dB."""
SURE_PEAK = 5.9
"""Gaussian noise passes this 0.04 times in ten minutes of four axes at 48 kHz; 15.4 dB."""
_HALF_MS, _WHOLE_MS = 5.0, 3.6
"""Mean square over 0.5 and 1 ms (in units of the noise) that noise of 1 to 16 kHz passes as rarely: chi-square of
15 and 30 degrees of freedom at 1e-9."""
_CELL = RATE // 1000
_NOISE_MS = 50
_NOISE_REACH = 5
_LATE_MS = 5
_LATE_PRIOR = 1e-6
_CLASSES = (0.0, 0.4, 0.7, 0.85, 0.93, 0.97, 0.99, 1.0)
_WIDTHS = 3.8
_DEAD = 1e-7
"""An axis with less than this share of the loudest one's noise power (-70 dB) carries nothing."""
_MERGE_MS = 3
CHANNELS = (Channel.LEFT, Channel.RIGHT, Channel.LATERAL, Channel.VERTICAL)
_BAND = (FREQUENCIES >= 1000.0) & (FREQUENCIES <= 16000.0)
_ANGLE = 2.0 * np.pi * FREQUENCIES / RATE
_DERIVATIVE = (2j * np.pi * FREQUENCIES).astype(np.complex64)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Whitened:
    """Whitened difference of four axes in cells of 1 ms, (4, cells, samples); noise and threshold noise, (4, cells)."""

    value: Float32
    noise: Float32
    total: Float32


def whiten(section: Section) -> Whitened:
    """Whiten by the section's own median spectrum, take off what the line is late by, work out the local noise."""
    difference, played = axes_of(section.difference), axes_of(section.played)
    gain = _gains(difference[:, section.heard])
    value = np.stack([_cells(synthesise(difference[a] * gain[a])) for a in range(4)])
    slope = np.stack([_cells(synthesise(played[a] * (gain[a] * _DERIVATIVE))) for a in range(4)])
    value -= _late(value[:2], slope[:2])[None, :, None] * slope
    power = np.einsum("ack,ack->ac", value, value) / _CELL
    steep = np.einsum("ack,ack->ac", slope, slope) / _CELL
    noise = np.stack([local_noise(v) for v in value])
    lasting = np.stack([np.maximum(*(median_filter(p, n, mode="nearest") for n in (21, 9))) for p in power])
    # the milliseconds next to an attack hold its pre- and after-ringing
    spread = maximum_filter1d(steep, 3, axis=1)
    judged: NDArray[np.bool_] = np.asarray(_judged(section, value.shape[1]).all(axis=1), dtype=np.bool_)
    doubt = _doubt(section, gain, value.shape[1])
    # what the tracing explains need not be learnt from the rest
    plain = judged & (doubt < 0.25 * noise**2)
    left = np.stack([_left_over(value[a], noise[a], spread[a], plain[a]) for a in range(4)])
    total = np.sqrt(np.maximum(noise**2, lasting / 0.978) + left + doubt)
    return Whitened(value=value, noise=noise, total=total.astype(np.float32))


def _doubt(section: Section, gain: Float32, cells: int) -> Float64:
    """Power that errors of what was worked out and added to the reference may leave in each cell, (4, cells)."""
    if section.doubt is None:
        return np.zeros((4, cells))
    left, right = np.pad(section.doubt, ((0, 0), (0, max(0, cells - section.doubt.shape[1]))))[:, :cells] ** 2
    both = 0.5 * (left + right)
    # steps from sample to sample rise with frequency as the whitening does
    whitened = (gain[:, _BAND] ** 2).mean(axis=1) / float((4.0 * np.sin(_ANGLE[_BAND] / 2.0) ** 2).mean())
    return np.asarray(whitened[:, None] * np.stack([left, right, both, both]), dtype=np.float64)


def _gains(difference: Complex64) -> Float32:
    """Whitening gains (4, bins): one over the root of the median power, 1 to 16 kHz."""
    thinned = difference[:, :: max(1, difference.shape[1] // 250)]
    spectrum = np.quantile(thinned.real**2 + thinned.imag**2, 0.85, axis=1) / 1.897
    spectrum = uniform_filter1d(spectrum, 15, axis=1, mode="nearest")
    power = spectrum[:, _BAND].mean(axis=1)
    alive = power > _DEAD * power.max(initial=0.0)
    # with one wall dead the other is all there is
    alive[2:] &= alive[:2].all()
    floor = 1e-12 * spectrum.max(initial=0.0) + 1e-30
    return np.asarray(alive[:, None] * _BAND / np.sqrt(spectrum + floor), dtype=np.float32)


def _cells(signal: Float32) -> Float32:
    """``signal`` in rows of 1 ms, the last one filled up with zeros."""
    count = -(-len(signal) // _CELL)
    return np.pad(signal, (0, count * _CELL - len(signal))).reshape(count, _CELL)


def _late(value: Float32, slope: Float32) -> Float32:
    """What the line is still late by [s] in each cell: least squares over 5 ms with a prior of 1 us, ticks clipped.

    The whitened noise has unit variance, so the sum of squared slopes is the information of each stretch.
    """
    moment = np.einsum("ack,ack->c", np.clip(value, -4.0, 4.0), slope, dtype=np.float64)
    information = np.einsum("ack,ack->c", slope, slope, dtype=np.float64)
    kernel = np.bartlett(2 * _LATE_MS + 1)
    moment, information = (np.convolve(x, kernel, mode="same") for x in (moment, information))
    return np.asarray(moment / (information + 1.0 / _LATE_PRIOR**2), dtype=np.float32)


def local_noise(value: Float32) -> Float32:
    """1.4826 x median |value| in +-0.25 s for each cell: median of the medians of 50 ms, joined by straight lines."""
    cells = len(value)
    count = max(1, cells // _NOISE_MS)
    magnitude = np.abs(value[: count * _NOISE_MS, ::2] if cells >= _NOISE_MS else value)
    short = np.median(magnitude.reshape(count, -1), axis=1)
    level = 1.4826 * median_filter(short, 2 * _NOISE_REACH + 1, mode="nearest")
    at = (np.arange(count) + 0.5) * _NOISE_MS
    return np.asarray(np.interp(np.arange(cells), at, level) + 1e-12, dtype=np.float32)


def _judged(section: Section, cells: int) -> NDArray[np.bool_]:
    """Samples that frames wholly inside the programme cover, (cells, samples)."""
    samples = np.repeat(section.heard[1:] & section.heard[:-1], HOP)
    return np.pad(samples, (0, cells * _CELL - len(samples))).reshape(cells, _CELL)


def _left_over(value: Float32, noise: Float32, spread: Float32, judged: NDArray[np.bool_]) -> Float64:
    """Power of the programme left in each cell, learnt from how the peaks grow with the programme's slope there.

    The ``judged`` cells of the section (no needle in the air, no digital silence) are sorted into classes of rising
    slope over noise. In each, the logarithm of the largest square over noise has a middle and a width, which ticks are
    too few to move; the listed threshold (12 dB) belongs ``_WIDTHS`` widths above the middle. Pure noise gives back
    the noise.
    """
    quiet = noise.astype(np.float64) ** 2
    peak = np.log(np.abs(value).max(axis=1).astype(np.float64) ** 2 / quiet + 1e-9)
    offered = np.log(spread / quiet + 1e-9)
    edges = np.quantile(offered[judged], _CLASSES) if judged.any() else np.zeros(len(_CLASSES))
    at: list[float] = []
    level: list[float] = []
    for low, high in pairwise(edges):
        inside = judged & (offered >= low) & (offered <= high)
        if inside.sum() < 20 or high <= low:
            continue
        middle, upper = np.quantile(peak[inside], (0.5, 0.84))
        bound = float(middle + _WIDTHS * (upper - middle)) - 2.0 * float(np.log(LISTED))
        at.append(float(offered[inside].mean()))
        level.append(max(bound, level[-1] if level else 0.0))
    if not at:
        return np.zeros(len(value))
    total = np.interp(offered, at, level) + np.maximum(offered - at[-1], 0.0) * (level[-1] > 0.0)
    return np.asarray((np.exp(total) - 1.0) * quiet)


def find_ticks(section: Section) -> tuple[list[HeardTick], float]:
    """Ticks of one section, peaks in dB re full scale; and the share of time with the threshold above 1.5 x noise."""
    white = whiten(section)
    cells = white.value.shape[1]
    inside = _judged(section, cells)
    if not inside.any():
        return [], 0.0
    whole = inside.all(axis=1)
    raised = white.total[:2].max(axis=0) > 1.5 * white.noise[:2].max(axis=0)
    ratio: Float32 = np.asarray(np.abs(white.value) / white.total[:, :, None] * inside, dtype=np.float32)
    peak = ratio.max(axis=2)
    square = np.square(ratio).reshape(4, cells, 4, _CELL // 4).mean(axis=3).reshape(4, -1)
    half = (0.5 * (square[:, :-1] + square[:, 1:])).max(axis=0)
    energy = np.maximum(np.append(half, 0.0).reshape(cells, 4).max(axis=1) / _HALF_MS, 0.0)
    energy = np.maximum(energy, square.reshape(4, cells, 4).mean(axis=2).max(axis=0) / _WHOLE_MS)
    best = peak.max(axis=0)
    sure = ((best > SURE_PEAK) | (energy > 1.0)) & (maximum_filter1d(best, 3) >= LISTED)
    ticks = [_tick(section, white, ratio, start, stop) for start, stop in clusters(sure)]
    share = float(raised[whole].mean()) if whole.any() else 0.0
    return [tick for tick in ticks if tick is not None], share


def _tick(section: Section, white: Whitened, ratio: Float32, start: int, stop: int) -> HeardTick | None:
    """The event in cells ``start`` to ``stop``, None where its best sample stays below the listed threshold."""
    low, high = max(0, start - 1), min(ratio.shape[1], stop + 1)
    near = ratio[:, low:high].reshape(4, -1)
    axis, offset = (int(i) for i in np.unravel_index(int(near.argmax()), near.shape))
    prominence = float(near[axis, offset])
    if prominence < LISTED:
        return None
    at = low * _CELL + offset
    # frames that hold the event give back its samples whole
    first = max(0, at // HOP - 1)
    spectra = axes_of(section.difference[:, first : first + 4])[axis]
    plain = synthesise(spectra) if len(spectra) > 1 else np.zeros(1, dtype=np.float32)
    middle = at - first * HOP
    around = np.abs(plain[max(0, middle - _CELL) : middle + _CELL + 1])
    loud = np.flatnonzero(near[axis] > 3.0)
    return HeardTick(
        programme_time=float(section.programme[min(at, len(section.programme) - 1)]),
        time_u95=2e-5,
        capture_time=(section.first + at) / RATE,
        peak=20.0 * float(np.log10(max(float(around.max(initial=0.0)), 1e-12))),
        prominence=20.0 * float(np.log10(prominence)),
        duration=float(loud[-1] - loud[0] + 1) / RATE,
        channel=CHANNELS[axis],
        waveform=_waveform(white, at),
    )


def _waveform(white: Whitened, at: int) -> NDArray[np.float16]:
    """Whitened difference of left and right within 1 ms of sample ``at``, its largest value 1: one mark's shape."""
    cells = white.value[:2, max(0, at // _CELL - 1) : at // _CELL + 2].reshape(2, -1)
    first = at - max(0, at // _CELL - 1) * _CELL - _CELL
    near = np.pad(cells, ((0, 0), (_CELL, _CELL)))[:, first + _CELL : first + 3 * _CELL + 1]
    return np.asarray(near / max(float(np.abs(near).max()), 1e-12), dtype=np.float16)


def clusters(sure: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """First and last + 1 cell of events; events less than 3 ms apart are one."""
    index = np.flatnonzero(sure)
    if len(index) == 0:
        return []
    breaks = np.flatnonzero(np.diff(index) > _MERGE_MS)
    starts = np.concatenate([[index[0]], index[breaks + 1]])
    stops = np.concatenate([index[breaks], [index[-1]]]) + 1
    return [(int(a), int(b)) for a, b in zip(starts, stops, strict=True)]


def joined(ticks: list[HeardTick]) -> tuple[HeardTick, ...]:
    """Ticks of all sections in order, those less than 3 ms apart in the capture merged into the more prominent."""
    out: list[HeardTick] = []
    for tick in sorted(ticks, key=lambda t: t.capture_time):
        if out and tick.capture_time - out[-1].capture_time < _MERGE_MS * 1e-3:
            out[-1] = max(out[-1], tick, key=lambda t: t.prominence)
        else:
            out.append(tick)
    return tuple(out)
