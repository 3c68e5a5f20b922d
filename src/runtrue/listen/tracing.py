r"""What the groove itself makes of the reference: tracing by a ball.

The stylus' centre runs on the curve parallel to the wall at the ball's radius R. Parallel curves have the same slope p
at touching points, and the touching point lies R p / sqrt(1 + p^2) ahead of the centre, so the traced velocity is

.. math:: y(t) = x(t + \tau), \quad \tau = \frac{R}{v} \frac{p(t + \tau)}{\sqrt{1 + p(t + \tau)^2}}, \quad
          p = \frac{V x}{v}

with x the recorded velocity (the reference before playback equalisation, full scale V at 1 kHz) and v the groove's
speed. Exact while the ball touches a wall at one point (plane geometry; the idea: Hunt and Pierce 1938, from memory).
Only R V is needed and nobody knows it; it is learnt from the difference, wall by wall with its sign, as the side goes
by. Where the ball would add less than a quarter of the noise nothing is worked out, so a disc without loud treble costs
nothing.
"""

import numpy as np
from numpy.typing import NDArray
from scipy import fft

from runtrue.disc.frame import Frame
from runtrue.listen.store import RATE
from runtrue.signal.stft import BINS, FRAME, HOP, Complex64, analyse, frequencies, synthesise

Float32 = NDArray[np.float32]
Float64 = NDArray[np.float64]
Complex128 = NDArray[np.complex128]

BALL = 18e-6
"""Radius of a usual ball [m] (common practice, no source); only the root in tau needs it apart from R V."""
FIRST = 18e-6 * 0.05
"""R V to begin with [m2/s]: a full scale of 5 cm/s."""
TIME_CONSTANTS = (3180e-6, 318e-6, 75e-6)
"""Fine groove: bass shelf, turnover, treble [s]."""
_UP = 4
_OUT = 2
_SHOWS = 0.25
"""Amplitude re the noise from which the ball's part is worked out."""
_NARROW = 8
"""Gaps of hops up to which stretches are worked out as one."""
_SURE = 3e-2
_ROUNDS = 5
_AGAIN = 4
"""Every so many sections the settled size is looked at again."""
_FREQUENCIES = frequencies(RATE)
_JUDGED = (_FREQUENCIES >= 1000.0) & (_FREQUENCIES <= 16_000.0)
_LEAST_INFORMATION = 50.0
_LEAST = 0.01 * FIRST
"""R V below which the ball adds nothing that could be heard."""
_MEMORY = 0.7


def _playback(f: Float64) -> Complex128:
    """Complex playback equalisation, 1 at 1 kHz."""
    t1, t2, t3 = TIME_CONSTANTS

    def gain(hz: Float64) -> Complex128:
        s = 2j * np.pi * hz
        return np.asarray((1.0 + s * t2) / ((1.0 + s * t1) * (1.0 + s * t3)))

    return np.asarray(gain(f) / abs(gain(np.array(1000.0))))


def _taper(f: Float64, top: float) -> Float32:
    """What of the highest octave is in the groove: falls from 0.92 of ``top`` [Hz] to nothing there.

    ``top`` is half the lower rate of reference and capture: no cut is known to hold more (our choice).
    """
    return np.asarray(0.5 + 0.5 * np.cos(np.pi * np.clip((f / top - 0.92) / 0.08, 0.0, 1.0)), dtype=np.float32)


_PLAYBACK = _playback(_FREQUENCIES).astype(np.complex64)
_RECORD = (1.0 / _playback(_FREQUENCIES)).astype(np.complex64)
_OMEGA = (2.0 * np.pi * _FREQUENCIES).astype(np.float32)
_LOUD = (np.abs(_RECORD) ** 2).astype(np.float32)
_STEEP = (np.abs(_RECORD) ** 2 * _OMEGA**2).astype(np.float32)
_SLOPE = (2e-4j * np.pi * _FREQUENCIES).astype(np.complex64)
"""Slope per 0.1 ms: of the order of the spectra themselves."""
_SIZE = np.float32(2.0 / (FRAME * FRAME / 2))


class Ball:
    """Knows how the stylus traces this disc as far as it was learnt."""

    def __init__(self, frame: Frame, *, top: float = RATE / 2, size: tuple[float, float] | None = None) -> None:
        self._frame = frame
        self._record = _RECORD * _taper(_FREQUENCIES, top)
        self._size = np.array([FIRST, FIRST] if size is None else size)
        self._information = np.zeros(2)
        self._noise: Float64 | None = None
        self._seen = 0
        self.added: Float32 = np.zeros((0, 2), dtype=np.float32)
        """The ball's own part of what ``traced`` gave last, (n, 2)."""
        self.bend: Float32 = np.zeros((0, 2), dtype=np.float32)
        """How sharply the wall bends under the ball there: 0 flat, 1 as sharply as the ball itself, (n, 2)."""

    @property
    def size(self) -> tuple[float, float]:
        """R V of the left and right wall [m2/s]; 0 where the disc shows none."""
        return float(self._size[0]), float(self._size[1])

    @property
    def shows(self) -> bool:
        """Whether the ball's part is known and not nothing."""
        known = self._information.min() > 100.0
        return known and float(np.abs(self._size).max()) > _LEAST

    @property
    def rounds(self) -> int:
        """How often a section is gone through at most: until the size is settled, with what each round taught."""
        settled = self._information.min() > 1.0 / _SURE**2 and self._seen > 3
        return 1 if settled else _ROUNDS

    @property
    def learning(self) -> bool:
        """Whether there is anything to learn from the section just traced."""
        return bool(len(self.added)) and (self.rounds > 1 or self._seen % _AGAIN == 0)

    def traced(self, source: Float32, start: float) -> Float32:
        """The reference as the ball gives it: ``source`` (n, 2) at 48 kHz from programme time ``start`` [s] on."""
        self._seen += 1
        self.added = np.zeros((0, 2), dtype=np.float32)
        if not self._size.any():
            return source
        count = len(source)
        padded = np.pad(source, ((HOP, HOP + -count % HOP), (0, 0)))
        offered = np.stack([analyse(np.ascontiguousarray(padded[:, c])) for c in (0, 1)])
        time = np.maximum(start + np.arange(offered.shape[1]) * (HOP / RATE), 0.0)
        speed = 2.0 * np.pi * self._frame.turn_frequency * self._frame.spiral.radius(time)
        hops = self._hops(offered, speed)
        if not hops.any():
            return source
        added, bend = np.zeros_like(padded), np.zeros_like(padded)
        for first, last in _stretches(hops):
            part, bent = _added(offered[:, first : last + 1] * self._record, speed[first : last + 1], self._size)
            end = min((first + 1) * HOP + len(part), len(added))
            added[(first + 1) * HOP : end] += part[: end - (first + 1) * HOP]
            bend[(first + 1) * HOP : end] = bent[: end - (first + 1) * HOP]
        self.added, self.bend = added[HOP : HOP + count], bend[HOP : HOP + count]
        return source + self.added

    def _hops(self, offered: Complex64, speed: Float64) -> NDArray[np.bool_]:
        """Frames in which the ball adds enough to show; the loudest where the noise is not known yet."""
        power = offered.real**2 + offered.imag**2
        loud, steep = power @ _LOUD * _SIZE, power @ _STEEP * _SIZE
        # rms of tau x' to first order, tau = R V x / v^2; playback takes the treble of it down by about 10 dB
        size = 0.3 * np.abs(self._size)[:, None] / speed[None, :] ** 2 * np.sqrt(loud * steep)
        if self._noise is None:
            loudest = (size > 0.0) & (size >= np.quantile(size, 0.7, axis=1)[:, None])
            return np.asarray(loudest.any(axis=0), dtype=np.bool_)
        return np.asarray((size > _SHOWS * self._noise[:, None]).any(axis=0), dtype=np.bool_)

    def learn(
        self, added: Complex64, difference: Complex64, played: Complex64, transfer: Complex64, noise_power: Float64
    ) -> bool:
        """Correct the size by what the ball's part still shows in the difference; True while it should be tried again.

        A least-squares step, ticks held down: the difference along the part, over the part's own power, both over the
        noise, both freed in each frame of what an error of the time line would be (the slope of what is played), which
        the ball's part of a loud treble also moves. What a section tells joins what the ones before told by its
        information. ``added``, ``difference`` and ``played`` are (2, frames, BINS).
        """
        self._noise = np.sqrt((noise_power[:, _JUDGED].sum(axis=1)) * _SIZE)
        again = False
        for wall in range(2):
            weight = (_JUDGED / np.maximum(noise_power[wall], 1e-20)).astype(np.float32)
            slope = played[wall] * _SLOPE
            part = _freed(added[wall] * transfer[wall, wall], slope, weight)
            rest = _freed(difference[wall], slope, weight)
            own = ((part.real**2 + part.imag**2) * weight).sum(axis=1, dtype=np.float64)
            held = ((rest.real**2 + rest.imag**2) * weight).sum(axis=1, dtype=np.float64)
            along = ((part.real * rest.real + part.imag * rest.imag) * weight).sum(axis=1, dtype=np.float64)
            # a frame with a tick, or one the model does not fit, says less
            calm = 1.0 / (1.0 + held / (4.0 * _JUDGED.sum()))
            information = float((own * calm).sum())
            if information < _LEAST_INFORMATION:
                continue
            step = float((along * calm).sum()) / information
            known = _MEMORY * min(self._information[wall], 1e5)
            trust = information / (information + known)
            old = self._size[wall]
            self._size[wall] = old * (1.0 + float(np.clip(step, -2.5, 2.5)) * trust)
            again |= abs(step) > _SURE and abs(step) * information**0.5 > 3.0
            # information about R V relative to its size now
            scale = (self._size[wall] / old) ** 2 if old else 0.0
            self._information[wall] = (known + information) * min(scale, 4.0)
            if abs(self._size[wall]) < _LEAST:
                self._size[wall] = 0.0
        return again


def _freed(spectra: Complex64, slope: Complex64, weight: Float32) -> Complex64:
    """Each frame less its part along ``slope``, by weighted least squares with a real factor."""
    along = ((spectra.real * slope.real + spectra.imag * slope.imag) * weight).sum(axis=1)
    own = ((slope.real**2 + slope.imag**2) * weight).sum(axis=1)
    return np.asarray(spectra - (along / (own + 1e-20))[:, None] * slope, dtype=np.complex64)


def _stretches(hops: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """First and last frame of each stretch to be worked out, a frame more at both ends, narrow gaps closed."""
    index = np.flatnonzero(hops)
    breaks = np.flatnonzero(np.diff(index) > _NARROW)
    firsts = np.concatenate([[index[0]], index[breaks + 1]])
    lasts = np.concatenate([index[breaks], [index[-1]]])
    return [(max(0, int(a) - 1), min(len(hops) - 1, int(b) + 1)) for a, b in zip(firsts, lasts, strict=True)]


_WINDOW = {
    size: np.sqrt(0.5 - 0.5 * np.cos(2.0 * np.pi * np.arange(size) / size)).astype(np.float32)
    for size in (FRAME * _UP, FRAME * _OUT)
}


def _added(recorded: Complex64, speed: Float64, size: Float64) -> tuple[Float32, Float32]:
    """The ball's part of a stretch of frames and a hop after it, in which the bass of the equalisation dies away.

    Shape ((hops + 1) HOP, 2); it fades in and out over a hop at the ends of the stretch. And how sharply the wall
    bends, in the same shape.
    """
    hops = recorded.shape[1] - 1
    out = np.zeros(((hops + 1) * HOP, 2), dtype=np.float32)
    bend = np.zeros_like(out)
    # groove speed at the end of each hop, straight between
    over_v = np.interp(np.arange(hops * HOP * _OUT) / (HOP * _OUT), np.arange(hops + 1), 1.0 / speed).astype(np.float32)
    for wall in range(2):
        if size[wall] == 0.0:
            continue
        frames = fft.irfft(recorded[wall] * np.float32(_UP), n=FRAME * _UP, axis=1, workers=1) * _WINDOW[FRAME * _UP]
        half = HOP * _UP
        wave = (frames[:-1, half:] + frames[1:, :half]).reshape(-1)
        moved, steep = _moved(wave, over_v, float(size[wall]))
        part = moved - wave[::_STEP]
        bend[: hops * HOP, wall] = steep.reshape(-1, _OUT).max(axis=1)
        half = HOP * _OUT
        part[:half] *= _RAMP
        part[-half:] *= _RAMP[::-1]
        padded = np.concatenate([np.zeros(half, np.float32), part, np.zeros(2 * half, np.float32)])
        views = np.lib.stride_tricks.sliding_window_view(padded, 2 * half)[::half]
        spectra = fft.rfft(views * _WINDOW[FRAME * _OUT], axis=1, workers=1)[:, :BINS]
        out[:, wall] = synthesise(spectra * (_PLAYBACK / np.float32(_OUT)))
    return out, bend


_STEP = _UP // _OUT
_RAMP = (0.5 - 0.5 * np.cos(np.pi * (np.arange(HOP * _OUT) + 0.5) / (HOP * _OUT))).astype(np.float32)


def _moved(wave: Float32, over_v: Float32, size: float) -> tuple[Float32, Float32]:
    """The recorded wave as the ball's centre meets it, at every second sample of ``wave`` (four times the rate).

    And the gradient of the reach there: 1 where the wall bends as sharply as the ball.
    """
    slope = wave[::_STEP] * over_v * np.float32(abs(size) / BALL)
    reach = np.float32(np.sign(size) * BALL * RATE * _OUT) * over_v * slope / np.sqrt(1.0 + slope**2)
    steep = np.gradient(reach)
    start = np.arange(len(reach))
    most = float(len(reach) - 3)
    if steep.max() > _CURVED:
        # where the ball would touch at two points at once, the first holds until the wall lets it go on
        centre = np.maximum.accumulate(start - reach)
        where = np.clip(np.interp(start, centre, start), 1.0, most)
    else:
        where = np.clip(start + reach / (1.0 - steep), 1.0, most)
    for _ in range(2):
        whole = where.astype(np.int64)
        miss = where - start - _cubic(reach, where)
        where = np.clip(where - np.clip(miss / np.maximum(1.0 - steep[whole], 0.3), -1.0, 1.0), 1.0, most)
    return _cubic(wave, _STEP * where), np.abs(steep)


_CURVED = 0.6
"""Gradient of the reach from which Newton's steps alone might find another touching point."""


def _cubic(wave: Float32, where: Float64) -> Float32:
    """Values of a smooth ``wave`` between its samples through four of them."""
    whole = where.astype(np.int64)
    x = (where - whole).astype(np.float32)
    a, b, c, d = wave[whole - 1], wave[whole], wave[whole + 1], wave[whole + 2]
    third = (d - a) / 6.0 + (b - c) / 2.0
    second = (a + c) / 2.0 - b
    return np.asarray(b + x * (c - b - second - third + x * (second + x * third)), dtype=np.float32)
