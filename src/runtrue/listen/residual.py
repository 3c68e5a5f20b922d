"""Ticks without a reference: what linear prediction of the recording from itself does not foretell.

Music is foretold from what just sounded, a tick is not: the residual of an order of 32, solved anew every 43 ms from
the median spectrum of 85 ms (so that a tick does not teach it), shows the tick at nearly its own height. An attack of
the music is not foretold either, but another sound follows it: the threshold stands on the larger of the noise of
+-0.25 s, of the milliseconds before and of those after, times how much the sound changes there; and where the programme
is spiky all along, on how spiky it is.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import fft
from scipy.ndimage import maximum_filter1d, median_filter

from runtrue.listen.difference import FREQUENCIES, axes_of
from runtrue.listen.heard import HeardTick, TickShape
from runtrue.listen.store import RATE, WorkingCopy
from runtrue.listen.ticks import CHANNELS, LISTED, SURE_PEAK, clusters, local_noise
from runtrue.signal.prediction import predictor
from runtrue.signal.stft import FRAME, HOP, Complex64, analyse, synthesise

Float32 = NDArray[np.float32]
Float64 = NDArray[np.float64]

ORDER = 32
SECTION = round(8.0 * RATE / HOP) * HOP
_BLOCK = 4
"""Frames that share one predictor; the median is over twice as many."""
_CELL = RATE // 1000
_SHORT = 11
_AWAY_BEFORE, _AWAY_AFTER = 7, 8
"""Middles of the stretches of 11 ms before and after [ms]; 1 to 2 ms beside the cell itself are left out."""
_WIDTHS = 5.0
_BAND = ((FREQUENCIES >= 1000.0) & (FREQUENCIES <= 16_000.0)).astype(np.float32)
_WIDE = (FREQUENCIES >= 300.0).astype(np.float32)
_CLEAR, _PAST = 2, 5
"""Frames off an event that do not hold it, and whose predictor did not see it."""
_USUAL = 4.0
"""Change of power from frame to frame that is no attack."""
_LONG_S = 1e-3


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Residual:
    """One stretch from sample ``first``: residual of four axes, 1 to 16 kHz, in cells of 1 ms, and its noise.

    ``value`` (4, cells, samples), full scale 1; ``noise`` (4, cells); ``attack`` (4, cells) the ratio by which an
    attack of the music near by lifts what counts as noise.
    """

    first: int
    value: Float32
    noise: Float32
    attack: Float32


def sections(capture: WorkingCopy, first: int, last: int) -> Iterator[tuple[int, Complex64]]:
    """Spectra (2, frames, BINS) of 8 s each from sample ``first`` to ``last``, with the sample they begin at."""
    for start in range(first, last - 8 * FRAME, SECTION):
        count = min(SECTION, (last - start) // HOP * HOP)
        taken = capture.read(start - HOP, count + 2 * HOP)
        yield start, np.stack([analyse(np.ascontiguousarray(taken[:, c])) for c in (0, 1)])


def residual_of(first: int, spectra: Complex64) -> Residual:
    """Take off what prediction foretells."""
    axes = axes_of(spectra)
    power = axes.real**2 + axes.imag**2
    inverse = _inverse(power)
    value = np.stack([synthesise(axis * gain * _BAND) for axis, gain in zip(axes, inverse, strict=True)])
    cells = value.shape[1] // _CELL
    value = value[:, : cells * _CELL].reshape(4, cells, _CELL)
    attack = _attack(power, inverse)[:, np.minimum((np.arange(cells) * _CELL) // HOP + 1, power.shape[1] - 1)]
    return Residual(first=first, value=value, noise=np.stack([_noise(v) for v in value]), attack=attack)


def _inverse(power: Float32) -> Complex64:
    """Response of the inverse filter in each frame from squared magnitudes, (4, frames, BINS)."""
    frames = power.shape[1]
    middles = np.arange(0, frames, _BLOCK)
    near = np.clip(middles[:, None] + np.arange(-_BLOCK // 2, _BLOCK + _BLOCK // 2), 0, frames - 1)
    lags = np.stack([_lags(np.median(p[near], axis=1)) for p in power])
    response = fft.rfft(predictor(lags), n=FRAME, axis=-1, workers=1).astype(np.complex64)
    return np.repeat(response, _BLOCK, axis=1)[:, :frames]


def _attack(power: Float32, inverse: Complex64) -> Float32:
    """How much more is left after each frame than before by the predictor of before, an amplitude ratio (4, frames).

    A tick leaves the music as it was; after an attack another sound is there. The same backward for a sound that ends.
    """
    frames = power.shape[1]
    weight = (inverse.real**2 + inverse.imag**2) * _WIDE
    at = np.arange(frames)

    def left(sound: int, filter_: int) -> Float64:
        of, by = np.clip(at + sound, 0, frames - 1), np.clip(at + filter_, 0, frames - 1)
        return np.asarray(np.einsum("afk,afk->af", power[:, of], weight[:, by], dtype=np.float64) + 1e-20)

    change = np.maximum(left(_CLEAR, -_PAST) / left(-_CLEAR, -_PAST), left(-_CLEAR, _PAST) / left(_CLEAR, _PAST))
    ratio = maximum_filter1d(np.sqrt(np.maximum(change / _USUAL, 1.0)), 3, axis=1)
    return np.asarray(ratio, dtype=np.float32)


def _lags(power: Float32) -> Float64:
    return np.asarray(fft.irfft(power.astype(np.float64), n=FRAME, axis=-1, workers=1)[..., : ORDER + 1])


def _noise(value: Float32) -> Float32:
    """Noise of one axis in each cell: of +-0.25 s, of 11 ms before or of 11 ms after, whichever is largest."""
    rms = np.sqrt(np.einsum("ck,ck->c", value, value) / _CELL)
    short = median_filter(rms, _SHORT, mode="nearest")
    last = len(short) - 1
    cells = np.arange(len(short))
    before, after = short[np.maximum(cells - _AWAY_BEFORE, 0)], short[np.minimum(cells + _AWAY_AFTER, last)]
    return np.asarray(np.maximum(local_noise(value), np.maximum(before, after)) + 1e-9, dtype=np.float32)


def find(residual: Residual) -> tuple[list[HeardTick], float]:
    """Ticks with times of the capture (as programme times too), and the threshold they had to pass (a ratio)."""
    plain = np.abs(residual.value) / residual.noise[:, :, None]
    spiky = np.log(plain.max(axis=(0, 2)).astype(np.float64) + 1e-9)
    ratio: Float32 = np.asarray(plain / residual.attack[:, :, None], dtype=np.float32)
    best = ratio.max(axis=(0, 2))
    middle, upper = np.quantile(spiky, (0.5, 0.84))
    threshold = max(SURE_PEAK, float(np.exp(middle + _WIDTHS * (upper - middle))))
    sure = (best > threshold) & (maximum_filter1d(best, 3) >= LISTED)
    return [_tick(residual, ratio, *cluster) for cluster in clusters(sure)], threshold


def _tick(residual: Residual, ratio: Float32, start: int, stop: int) -> HeardTick:
    near = ratio[:, start:stop].reshape(4, -1)
    axis, offset = (int(i) for i in np.unravel_index(int(near.argmax()), near.shape))
    at = start * _CELL + offset
    loud = np.flatnonzero(near[axis] > 3.0)
    duration = float(loud[-1] - loud[0] + 1) / RATE
    time = (residual.first + at) / RATE
    return HeardTick(
        programme_time=time, time_u95=2e-5, capture_time=time,
        peak=20.0 * float(np.log10(float(np.abs(residual.value[axis, start:stop]).max()) + 1e-9)),
        prominence=20.0 * float(np.log10(near[axis, offset])),
        duration=duration, channel=CHANNELS[axis], shape=TickShape.LONG if duration > _LONG_S else TickShape.SHORT,
    )  # fmt: skip
