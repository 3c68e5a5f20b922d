"""Noise without a reference: where the needle is down and the groove carries nothing, what is heard is noise.

A turn of the groove counts as still if its level holds steady and its spectrum stands out nowhere. Hum is told from
the music above it by its steadiness: each line is read in the frames in which its own surroundings are quietest.
"""

from dataclasses import dataclass, field
from math import log10

import numpy as np
import soxr
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray
from scipy import fft
from scipy.ndimage import median_filter, uniform_filter1d

from runtrue.listen.difference import FREQUENCIES
from runtrue.listen.noise import A_POWER, LOW_FRAME, LOW_RATE, ONE_SIDED
from runtrue.listen.store import RATE
from runtrue.signal.stft import BINS, HOP, Complex64
from runtrue.signal.weighting import rumble_since_1987
from runtrue.types import About, Measurement

Float32 = NDArray[np.float32]
Float64 = NDArray[np.float64]

_ROW = 6
"""Frames of one row, 64 ms."""
ROW_S = _ROW * HOP / RATE
_STEADY_DB, _PEAK = 1.2, 2.0
"""Spread of the level of a still turn [dB], and how far (ratio of powers) its spectrum may stand out."""
_TONES = slice(int(np.searchsorted(FREQUENCIES, 400.0)), int(np.searchsorted(FREQUENCIES, 8000.0)))
_WITHIN_DB = 3.0
"""Still turns up to this above the quietest count."""
_STEP_DB, _LOOK_S, _LEAST_S = 6.0, 60.0, 0.5
_SOUND_DB, _HOLDS = 10.0, 0.7
_THUMP = 5
"""Rows in which the needle settles, 0.3 s."""
_HARMONICS, _QUIET_SHARE = 6, 0.15
_NOTHING = 1e-12


@dataclass(frozen=True, slots=True, kw_only=True)
class Still:
    """Levels (dB re full scale) and where the side begins.

    ``down`` and ``up`` [s of the capture]: the needle is in the groove between; ``start`` where the music begins after
    a still lead-in, None where no lead-in was heard; ``turns`` how many turns' worth of still groove there is.
    """

    down: float
    up: float
    start: float | None
    turns: float
    scalars: tuple[Measurement, ...]


@dataclass(slots=True, kw_only=True)
class StillMeter:
    """Takes the capture in spectra and sound (``push``), gives levels (``finish``)."""

    turn_period: float
    _rows: list[Float32] = field(default_factory=list)
    _low: list[Float32] = field(default_factory=list)

    def push(self, spectra: Complex64, sound: Float32) -> None:
        """Spectra (2, frames, BINS) and sound (n, 2) of the next stretch."""
        power = (spectra.real**2 + spectra.imag**2).mean(axis=0)[1:]
        count = len(power) // _ROW
        self._rows.append(power[: count * _ROW].reshape(count, _ROW, BINS).mean(axis=1))
        self._low.append(soxr.resample(sound, RATE, LOW_RATE, quality="MQ"))

    def finish(self) -> Still:
        """Put together."""
        rows = np.concatenate(self._rows) if self._rows else np.zeros((0, BINS), dtype=np.float32)
        level = (rows @ (ONE_SIDED * A_POWER)).astype(np.float64)
        loud = 10.0 * np.log10(level + _NOTHING)
        down, up = needle(loud)
        width = max(2, round(self.turn_period / ROW_S))
        still = [w for w in range(down, up - width + 1, max(1, width // 2)) if _is_still(rows[w : w + width])]
        low = np.concatenate(self._low) if self._low else np.zeros((0, 2), dtype=np.float32)
        low = low[round(down * ROW_S * LOW_RATE) : round(up * ROW_S * LOW_RATE)]
        start = _music(loud, down, up)
        quiet, surface = _surface(level[down:up], [w - down for w in still], width)
        scalars = (
            surface,
            _rumble(low, [w * ROW_S for w in quiet], self.turn_period),
            _hum(low),
        )
        return Still(
            down=down * ROW_S, up=up * ROW_S, start=None if start is None else start * ROW_S,
            turns=len(still) / 2.0, scalars=scalars,
        )  # fmt: skip


def needle(loud: Float64) -> tuple[int, int]:
    """First and last + 1 row with the needle in the groove: all within a minute's reach is louder than before it."""
    down = _down(loud)
    return down, len(loud) - _down(loud[::-1][: len(loud) - down])


def _down(loud: Float64) -> int:
    reach, least = round(_LOOK_S / ROW_S), round(_LEAST_S / ROW_S)
    if len(loud) < 3 * least:
        return 0
    smooth = median_filter(loud, least, mode="nearest")
    best, found = _STEP_DB, 0
    for row in range(least, min(reach, len(loud) - least)):
        gap = float(smooth[row : row + reach].min() - np.quantile(smooth[:row], 0.9))
        after = np.quantile(loud[row + _THUMP : row + _THUMP + 2 * least], (0.15, 0.85))
        if gap > best and float(np.ptp(after)) < 2.0 * _STEADY_DB:
            best, found = gap, row
    return found


def _is_still(rows: Float32) -> bool:
    """Whether rows (n, BINS) hold nothing but steady noise; a tick or two do not count."""
    level = 10.0 * np.log10(rows @ (ONE_SIDED * A_POWER) + _NOTHING)
    low, middle, high = np.quantile(level, (0.05, 0.5, 0.85))
    if max(high - middle, middle - low) > 2.0 * _STEADY_DB:
        return False
    spectrum = np.median(rows, axis=0)[_TONES].astype(np.float64)
    return bool((spectrum / (median_filter(spectrum, 31, mode="nearest") + 1e-20)).max() < _PEAK)


def _music(loud: Float64, down: int, up: int) -> int | None:
    """Row in which the music begins, the first sudden rise that lasts after a second of steady groove; None: none."""
    least, second = round(_LEAST_S / ROW_S), round(1.0 / ROW_S)
    first = down + _THUMP
    highest = -np.inf
    for row in range(first + second, min(up - least, down + round(_LOOK_S / ROW_S))):
        before = loud[row - second : row]
        low, high = np.quantile(before, (0.1, 0.9))
        highest = max(highest, float(np.median(before)))
        if highest > high + _SOUND_DB / 2.0:
            return None
        lasts = float((loud[row : row + least] > high + _SOUND_DB).mean()) >= _HOLDS
        if lasts and loud[row] > high + _SOUND_DB and high - low < 2.0 * _STEADY_DB:
            return row
    return None


def _surface(level: Float64, still: list[int], width: int) -> tuple[list[int], Measurement]:
    """The still turns that count, and their level."""
    if not still:
        quietest = uniform_filter1d(level, width).min(initial=1.0)
        most = 10.0 * log10(float(quietest) + _NOTHING)
        why = f"music sounds in every turn: the noise is told only to lie below {most:.0f} dB re full scale"
        return [], Measurement(quantity="surface", value=None, reason=why)
    each = np.array([np.median(level[w : w + width]) for w in still])
    counts = each <= each.min() * 10.0 ** (_WITHIN_DB / 10.0)
    quiet = [w for w, good in zip(still, counts, strict=True) if good]
    value = 10.0 * log10(float(np.mean(each[counts])) + _NOTHING)
    spread = float(np.std(10.0 * np.log10(each[counts] + _NOTHING)))
    return quiet, Measurement(quantity="surface", value=value, u95=float(np.hypot(0.5, 2.0 * spread)))


def _rumble(low: Float32, starts: list[float], turn_period: float) -> Measurement:
    if not starts:
        why = "no turn without music was heard: its bass is in the band of the rumble"
        return Measurement(quantity="rumble", value=None, about=About.RIG, reason=why)
    count = round(turn_period * LOW_RATE)
    parts = [low[round(s * LOW_RATE) :][:count] for s in starts]
    powers = [_weighted(part) for part in parts if len(part) == count]
    if not powers:
        return Measurement(quantity="rumble", value=None, about=About.RIG, reason="too little was heard")
    value = 10.0 * log10(float(np.median(powers)) + _NOTHING)
    return Measurement(quantity="rumble", value=value, u95=1.5, about=About.RIG)


def _weighted(part: Float32) -> float:
    window = np.hanning(len(part))
    power = np.abs(fft.rfft(part * window[:, None], axis=0)) ** 2 * 2.0 / (len(part) * float((window**2).sum()))
    frequency = fft.rfftfreq(len(part), 1.0 / LOW_RATE)
    weight = 10.0 ** (rumble_since_1987(np.maximum(frequency, 0.5)) / 10.0)
    return float((power.mean(axis=1) * weight).sum())


def _hum(low: Float32) -> Measurement:
    """The stronger mains family (50 or 60 Hz, six harmonics), rms, mean power of left and right."""
    if len(low) < 8 * LOW_FRAME:
        return Measurement(quantity="hum", value=None, about=About.RIG, reason="less than 8 s was heard")
    window = np.hanning(LOW_FRAME)
    frames = sliding_window_view(low, LOW_FRAME, axis=0)[:: LOW_FRAME // 2] * window
    scale = 2.0 / (LOW_FRAME * float((window**2).sum()))
    power = (np.abs(fft.rfft(frames, axis=2)) ** 2).mean(axis=1) * scale
    frequency = np.arange(power.shape[1]) * (LOW_RATE / LOW_FRAME)
    value = max(sum(_line(power, frequency, m * h) for h in range(1, _HARMONICS + 1)) for m in (50.0, 60.0))
    return Measurement(quantity="hum", value=10.0 * log10(value + _NOTHING), u95=1.5, about=About.RIG)


def _line(power: Float64, frequency: Float64, hz: float) -> float:
    """Power of a steady tone, read where its surroundings are quietest; at least what lies around it."""
    off = np.abs(frequency - hz)
    near, beside = off < 2.5, (off > 4.0) & (off < 9.0)
    around = power[:, beside].mean(axis=1)
    quiet = np.argsort(around)[: max(8, round(_QUIET_SHARE * len(power)))]
    floor = float(around[quiet].mean()) * float(near.sum())
    return max(float(np.median(power[quiet][:, near].sum(axis=1))) - floor, floor / float(near.sum()))
