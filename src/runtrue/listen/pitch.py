"""Off-centre without a reference: the once-a-turn swing of pitch that all tones of the music have in common.

Partials are followed from frame to frame by their reassigned frequency; the change of the logarithm that most of them
share is the change of the speed. Notes, slides and vibrato change too, but not in step with the turn: what they leave
at rates beside that of the turn says how sure the swing is. Noise and beating partials pull the reading down, by how
much depends on the music: so the swing is taken off the recording itself until none is read any more.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray
from scipy import fft
from scipy.ndimage import uniform_filter1d

from runtrue.disc.arm import UNKNOWN_OFFSET_RANGE
from runtrue.disc.frame import Spiral
from runtrue.listen.setting import Setting
from runtrue.listen.store import TRACK_RATE
from runtrue.signal.warp import TAPS, read_along
from runtrue.stats.plane import plane_vector
from runtrue.types import PlaneVector

Float32 = NDArray[np.float32]
Float64 = NDArray[np.float64]

_FRAME, _HOP = 2048, 512
_AHEAD = 2
"""Frames from one reading of a partial to the next, 85 ms."""
_LOW, _HIGH = 25, 680
"""Bins from 150 Hz to 4 kHz."""
_DEEP_DB = 45.0
_BESIDE, _CLEAR_DB = 41, 15.0
"""Bins around a peak, and how far a tone stands above their mean level; a peak of noise seldom does."""
_USUAL_SHARE, _LEAST_SHARE, _TIMES = 0.7, 0.15, 2
"""Share of a swing that is read: at first taken as, and at least; how often it is taken off."""
_CHUNK = 1024
_NARROW = 3e-3
"""Scale of the change of pitch [-] from which a partial is another note."""
_SPEED = 6e-3
"""How far the player's speed may be off."""
_LEAST_TURNS = 8
_CHANCE = 0.01
_NEAR = (0.35, 2.6)
_SCALE_U95 = 0.1
"""What the method may be wrong by, relative: most renders came within 0.03."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Side:
    """What is known of the side; ``start`` [s] is programme time 0 in the capture."""

    spiral: Spiral
    setting: Setting
    start: float

    def gain(self, time: Float64) -> Float64:
        """Swing of speed over offset [1/m] at programme times."""
        radius = self.spiral.radius(np.clip(time, 0.0, self.spiral.duration))
        return np.asarray(1.0 / (radius * np.cos(self.setting.arm.lean(radius))))


@dataclass(frozen=True, slots=True, kw_only=True)
class Swing:
    """Off-centre as played [m], None with a reason; ``turn_frequency`` [Hz] of capture time at which it was found."""

    played: PlaneVector | None = None
    turn_frequency: float | None = None
    reason: str = ""


def find_swing(track: Float32, spiral: Spiral, setting: Setting, *, start: float) -> Swing:
    """Swing of the pitch once a turn in ``track`` (n,) mono at ``TRACK_RATE``; ``start`` [s] is programme time 0."""
    side = _Side(spiral=spiral, setting=setting, start=start)
    design = _design(track, side)
    turn = setting.turn_frequency
    span = float(np.ptp(design.time[design.weight > 0.0])) if (design.weight > 0.0).any() else 0.0
    if span * turn < _LEAST_TURNS:
        return Swing(reason=f"steady tones were heard over fewer than {_LEAST_TURNS} turns")
    rates = np.arange(1.0 - _SPEED, 1.0 + _SPEED, 0.25 / (span * turn)) * turn
    found = np.array([design.amplitude(rate) for rate in rates])
    best = int(np.abs(found).argmax())
    mean = _beside(design, span, turn)
    chance = float(np.sqrt(mean * np.log(max(1.0, 2.0 * _SPEED * turn * span) / _CHANCE)))
    rate, read = float(rates[best]), complex(found[best])
    if abs(read) < chance:
        return Swing(
            reason=f"no once-a-turn swing stands out of the music's own changes of pitch ({1e6 * chance:.0f} μm)"
        )
    amplitude, share = _taken_off(track, read, rate, side)
    if not share > _LEAST_SHARE:
        return Swing(reason="too few steady tones: a swing taken off the recording does not show")
    lean = float(np.mean(setting.arm.lean(0.5 * (spiral.start + spiral.end))))
    return Swing(played=_vector(amplitude, 0.5 * mean / share**2, setting, lean), turn_frequency=rate)


def _taken_off(track: Float32, read: complex, rate: float, side: _Side) -> tuple[complex, float]:
    """Amplitude [m] of the swing that leaves none when it is taken off, and the share of a swing that is read."""
    amplitude, share = read / _USUAL_SHARE, _USUAL_SHARE
    for _ in range(_TIMES):
        left = _design(track, side, off=_Ahead(amplitude, rate, side)).amplitude(rate)
        share = float(((read - left) / amplitude).real)
        if not share > _LEAST_SHARE:
            return amplitude, share
        amplitude += left / share
    return amplitude, share


class _Ahead:
    """How far ahead [s] a recording is read for a swing to be taken off it."""

    def __init__(self, amplitude: complex, rate: float, side: _Side) -> None:
        step = 1.0 / rate / 64.0
        knots = np.arange(-side.start - 1.0, side.spiral.duration + 10.0, step)
        speed = (amplitude * np.exp(2j * np.pi * rate * knots)).real * side.gain(knots)
        self._at = knots + side.start
        self._ahead = np.concatenate([[0.0], np.cumsum(0.5 * (speed[1:] + speed[:-1])) * step])

    def __call__(self, time: Float64) -> Float64:
        return np.asarray(np.interp(time, self._at, self._ahead))


def _design(track: Float32, side: _Side, *, off: "_Ahead | None" = None) -> "_Design":
    time, change, weight = pitch_steps(track, off)
    return _Design(time=time - side.start, change=change, weight=weight, gain=side.gain(time - side.start))


def _beside(design: "_Design", span: float, turn: float) -> float:
    """Mean power [m2] that the music leaves at the turn's rate, from the rates beside it."""
    rates = np.arange(*_NEAR, 0.5 / (span * turn))
    rates = rates[(np.abs(rates - 1.0) > 0.03) & (np.abs(rates - 2.0) > 0.03)]
    rates = rates[:: max(1, len(rates) // 400)]
    power = np.abs([design.amplitude(rate * turn) for rate in rates]) ** 2
    # it falls or rises with the rate: a straight course of the logarithms, whose mean lies Euler's constant too low
    course = np.polynomial.polynomial.polyfit(np.log(rates), np.log(power + 1e-30), 1)
    return float(np.exp(course[0] + np.euler_gamma))


def _vector(amplitude: complex, spread: float, setting: Setting, lean: float) -> PlaneVector:
    """e/cos b cos(alpha - b - theta) has the amplitude -(e/cos b) exp(-i (alpha - b)) here; the lean is taken off."""
    vector = -np.conj(amplitude) * np.exp(1j * lean)
    if not setting.arm.known:
        spread += (0.5 * (UNKNOWN_OFFSET_RANGE[1] - UNKNOWN_OFFSET_RANGE[0]) / np.sqrt(3.0) * abs(vector)) ** 2
    spread += (0.5 * _SCALE_U95 * abs(vector)) ** 2 + (setting.player_swing / 2.448 * setting.start_radius) ** 2
    return plane_vector(float(vector.real), float(vector.imag), (spread, 0.0, spread))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Design:
    """Changes of pitch over ``_AHEAD`` frames with weights; ``gain`` [1/m] turns an offset into a swing of speed."""

    time: Float64
    change: Float64
    weight: Float64
    gain: Float64

    def amplitude(self, rate: float) -> complex:
        """Complex A [m] of A gain exp(i theta), real part, that fits best at ``rate`` [Hz]."""
        omega = 2.0 * np.pi * rate
        step = _AHEAD * _HOP / TRACK_RATE
        wave = np.exp(1j * omega * self.time) * (np.exp(1j * omega * step) - 1.0) * self.gain
        moment = np.array(
            [(self.weight * self.change * wave.real).sum(), (self.weight * self.change * wave.imag).sum()]
        )
        cc = float((self.weight * wave.real**2).sum())
        ss = float((self.weight * wave.imag**2).sum())
        cs = float((self.weight * wave.real * wave.imag).sum())
        det = cc * ss - cs * cs + 1e-30
        a, b = (ss * moment[0] - cs * moment[1]) / det, (cc * moment[1] - cs * moment[0]) / det
        return complex(a, -b)


def pitch_steps(track: Float32, off: Callable[[Float64], Float64] | None = None) -> tuple[Float64, Float64, Float64]:
    """Time of the first of two readings [s], common change of the logarithm of pitch to the second, weight; (frames,).

    ``off`` says how far back [s] to read at each time. Every partial votes with a weight that falls off where its
    change is not small: such a one began or ended there.
    """
    window = np.hanning(_FRAME + 1)[:-1].astype(np.float32)
    slope = np.gradient(window).astype(np.float32)
    change, weight = [np.zeros(0)], [np.zeros(0)]
    count = max(0, (len(track) - _FRAME) // _HOP + 1 - _AHEAD)
    for first in range(0, count, _CHUNK):
        many = min(_CHUNK, count - first) + _AHEAD
        sound = _read(track, first * _HOP, (many - 1) * _HOP + _FRAME, off)
        frames = sliding_window_view(sound, _FRAME)[::_HOP]
        changes, votes = _steps(frames * window, frames * slope)
        change.append(changes)
        weight.append(votes)
    steps, votes = np.concatenate(change), np.concatenate(weight)
    time = (np.arange(len(steps)) * _HOP + _FRAME / 2) / TRACK_RATE
    scale = 1.4826 * float(np.median(np.abs(steps[votes > 0.0]))) + 1e-7 if (votes > 0.0).any() else 1.0
    return time, steps, votes / (1.0 + (steps / (3.0 * scale)) ** 2)


def _read(track: Float32, first: int, count: int, off: Callable[[Float64], Float64] | None) -> Float32:
    if off is None:
        return track[first : first + count]
    at = np.arange(first, first + count, dtype=np.float64)
    at -= TRACK_RATE * off(at / TRACK_RATE)
    low = max(0, int(at[0]) - 2 * TAPS)
    part = track[low : int(at[-1]) + 2 * TAPS]
    return read_along(part[:, None], at - low)[:, 0]


def _steps(windowed: Float32, sloped: Float32) -> tuple[Float64, Float64]:
    spectrum = fft.rfft(windowed, axis=1, workers=1)[:, : _HIGH + 2]
    tilted = fft.rfft(sloped, axis=1, workers=1)[:, : _HIGH + 2]
    power = spectrum.real**2 + spectrum.imag**2
    # reassigned frequency in bins (Auger and Flandrin 1995, from memory)
    offset = -(tilted * spectrum.conj()).imag / (power + 1e-20) * (_FRAME / (2.0 * np.pi))
    place: Float64 = np.log(np.maximum(np.arange(_HIGH + 2) + np.clip(offset, -1.0, 1.0), 1.0))
    peak: NDArray[np.bool_] = np.zeros((len(power), _HIGH + 2), dtype=np.bool_)
    inner = power[:, 1:-1]
    peak[:, 1:-1] = (inner > power[:, :-2]) & (inner >= power[:, 2:]) & (np.abs(offset[:, 1:-1]) < 0.7)
    peak &= power > power.max(axis=1, keepdims=True) * 10.0 ** (-_DEEP_DB / 10.0)
    level = 10.0 * np.log10(power + 1e-20)
    peak &= level > uniform_filter1d(level, _BESIDE, axis=1) + _CLEAR_DB
    peak[:, :_LOW] = False
    now, later = slice(0, len(power) - _AHEAD), slice(_AHEAD, None)
    total, votes = np.zeros(len(power) - _AHEAD), np.zeros(len(power) - _AHEAD)
    for move in (-1, 0, 1):
        both = peak[now, 1:-1] & peak[later, 1 + move : peak.shape[1] - 1 + move]
        step = place[later, 1 + move : peak.shape[1] - 1 + move] - place[now, 1:-1]
        vote = np.where(both, 1.0 / (1.0 + (step / _NARROW) ** 2) ** 2, 0.0)
        total += (vote * step).sum(axis=1)
        votes += vote.sum(axis=1)
    return total / np.maximum(votes, 1e-9), votes
