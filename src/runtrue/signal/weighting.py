"""Weighting curves of the noise and flutter standards, and the two readings that go with them.

Every curve is a function of frequency [Hz] that returns dB and takes a float or an array. ``gains`` turns a curve into
real gains for the bins of a spectrum, so that any number of blocks is weighted by one multiplication, without delay.
"""

from collections.abc import Callable
from typing import TypeVar

import numpy as np
import numpy.typing as npt
from scipy import fft

from runtrue.errors import InputError, unknown_name

Array = npt.NDArray[np.float64]
Curve = Callable[[npt.ArrayLike], Array]
"""Frequency [Hz] to weighting [dB]; -inf where nothing passes."""
Real = TypeVar("Real", npt.NDArray[np.float32], npt.NDArray[np.float64])
_Spectrum = TypeVar("_Spectrum", npt.NDArray[np.float32], npt.NDArray[np.float64], npt.NDArray[np.complex64],
                    npt.NDArray[np.complex128])  # fmt: skip


def _frequencies(frequency: npt.ArrayLike) -> Array:
    """Return frequencies as an array, refusing what no curve is defined for."""
    values = np.asarray(frequency, dtype=np.float64)
    if not np.all(values >= 0.0):
        raise InputError(f"frequency must be 0 Hz or more, got {np.min(values):g} Hz")
    return values


def _decibel(magnitude: Array) -> Array:
    """20 log10 of a magnitude, -inf at 0 without a warning."""
    with np.errstate(divide="ignore"):
        return np.asarray(20.0 * np.log10(magnitude))


# --- noise: A -------------------------------------------------------------------------------------------------------

_A_POLES = (20.598997, 107.65265, 737.86223, 12194.217)
_A_AT_1_KHZ = -1.999656


def a_weighting(frequency: npt.ArrayLike) -> Array:
    r"""A-weighting of sound-level meters [dB re 1 kHz].

    .. math:: A(f) = 20 \lg \frac{f_4^2 f^4}{(f^2+f_1^2) \sqrt{(f^2+f_2^2)(f^2+f_3^2)} (f^2+f_4^2)} - A_{1000}

    Parameters
    ----------
    frequency : float or array
        Frequency f [Hz], 0 or more

    Returns
    -------
    weighting : array, shape of ``frequency``
        Weighting [dB]; -inf at 0 Hz

    Notes
    -----
    The standard's table holds at the exact third-octave frequencies 1000 * 10**(n/10), not at the rounded ones:
    at 12.5 Hz the formula gives -63.58, the table says -63.4.

    Examples
    --------
    >>> float(a_weighting(100.0))
    -19.14

    References
    ----------
    .. [1] IEC 61672-1:2013, eq. E.6, as coded in a public acoustics package; poles f1 to f4 20.598997, 107.65265,
       737.86223, 12194.217 Hz and the table (GOST 17187-2010 = IEC 61672-1, table 2) read; A1000 derived.
    """
    f1, f2, f3, f4 = (pole**2 for pole in _A_POLES)
    f = _frequencies(frequency) ** 2
    magnitude = f4 * f**2 / ((f + f1) * np.sqrt((f + f2) * (f + f3)) * (f + f4))
    return _decibel(magnitude) - _A_AT_1_KHZ


# --- noise: BS.468 --------------------------------------------------------------------------------------------------

_468_H1 = (-4.7373389813783836e-24, 0.0, 2.0438283336061252e-15, 0.0, -1.363894795463638e-7, 0.0, 1.0)
_468_H2 = (1.3066122574128241e-19, 0.0, -2.1181508875186556e-11, 0.0, 5.559488023498643e-4, 0.0)
_468_SLOPE = 1.246332637532143e-4
_468_AT_1_KHZ = 18.2387


def bs468_weighting(frequency: npt.ArrayLike) -> Array:
    r"""Weighting of Rec. ITU-R BS.468-4 for audio noise [dB re 1 kHz].

    .. math:: W(f) = 20 \lg \frac{1.246332637532143 \cdot 10^{-4} f}{\sqrt{h_1^2 + h_2^2}} + 18.2387

    with h1 and h2 the even and odd polynomials in f of the constants above.

    Parameters
    ----------
    frequency : float or array
        Frequency f [Hz], 0 or more

    Returns
    -------
    weighting : array, shape of ``frequency``
        Weighting [dB]; -inf at 0 Hz

    Notes
    -----
    A rational fit of the passive network; within 0.05 dB of the recommendation's 21 values from 31.5 Hz to 31.5 kHz.

    Examples
    --------
    >>> float(bs468_weighting(6300.0))
    12.2

    References
    ----------
    .. [1] Rec. ITU-R BS.468-4, table 1, read in a transcription; fit read in a public filter program, its gain derived.
    """
    f = _frequencies(frequency)
    magnitude = _468_SLOPE * f / np.hypot(np.polyval(_468_H1, f), np.polyval(_468_H2, f))
    return _decibel(magnitude) + _468_AT_1_KHZ


# --- flutter --------------------------------------------------------------------------------------------------------

FLUTTER_TABLE = (
    (0.1, -48.0), (0.2, -30.6), (0.315, -19.7), (0.4, -15.0), (0.63, -8.4), (0.8, -6.0), (1.0, -4.2), (1.6, -1.8),
    (2.0, -0.9), (4.0, 0.0), (6.3, -0.9), (10.0, -2.1), (20.0, -5.9), (40.0, -10.4), (63.0, -14.2), (100.0, -17.3),
    (200.0, -23.0),
)  # fmt: skip
"""Flutter weighting: (Hz, dB re 4 Hz). IEC 60386 / AES6-2008 table, from memory; abstracts confirm the shape."""

_FLUTTER_ZERO = 40.19
_FLUTTER_POLES = (1.513, 9.091, 54.28)
_FLUTTER_PAIR = (0.4403, 0.661)


def flutter_weighting(frequency: npt.ArrayLike) -> Array:
    """Weighting of speed fluctuations by how well they are heard [dB re 4 Hz]: the standard's table.

    Parameters
    ----------
    frequency : float or array
        Frequency of the fluctuation [Hz], 0 or more

    Returns
    -------
    weighting : array, shape of ``frequency``
        Weighting [dB]; -inf at 0 Hz

    Notes
    -----
    Straight lines between the 17 table values over the logarithm of frequency; below 0.1 Hz and above 200 Hz the last
    line is carried on (17.4 dB and 5.7 dB an octave), where the standard says nothing. Once a turn at 33 1/3 rpm
    (0.5556 Hz) it is -10.23 dB.

    Examples
    --------
    >>> float(flutter_weighting(100.0 / 180.0))
    -10.23

    References
    ----------
    .. [1] IEC 60386:1972 + A1:1988 and AES6-2008, table, from memory (values not seen in print; shape confirmed by the
       abstracts, which say about 6 dB an octave on each side of 4 Hz and steeper below 0.5 Hz).
    """
    f = _frequencies(frequency)
    knots, levels = np.log10(np.array(FLUTTER_TABLE)[:, 0]), np.array(FLUTTER_TABLE)[:, 1]
    with np.errstate(divide="ignore"):
        x = np.log10(f)
    low = levels[0] + (x - knots[0]) * (levels[1] - levels[0]) / (knots[1] - knots[0])
    high = levels[-1] + (x - knots[-1]) * (levels[-1] - levels[-2]) / (knots[-1] - knots[-2])
    inside = np.interp(x, knots, levels)
    return np.asarray(np.where(x < knots[0], low, np.where(x > knots[-1], high, inside)))


def flutter_filter(frequency: npt.ArrayLike) -> Array:
    """Magnitude of a realisable filter that follows ``flutter_weighting`` within 0.35 dB [dB re 4 Hz].

    Three zeros at 0, one at 40.19 Hz; real poles at 1.513, 9.091 and 54.28 Hz, a pole pair at 0.4403 Hz with Q 0.661.
    The table, not this fit, is the reference; the fit shows what a meter of the standard can do.

    Examples
    --------
    >>> float(flutter_filter(100.0 / 180.0))
    -9.89

    References
    ----------
    .. [1] Fit made for this program (derived); as sure as the table it follows.
    """
    return _flutter_filter(_frequencies(frequency)) - _flutter_filter(np.array(4.0))


def _flutter_filter(f: Array) -> Array:
    pole, quality = _FLUTTER_PAIR
    magnitude = f**3 * np.hypot(f, _FLUTTER_ZERO) / np.hypot(pole**2 - f**2, pole * f / quality)
    for real in _FLUTTER_POLES:
        magnitude = magnitude / np.hypot(f, real)
    return _decibel(np.asarray(magnitude))


def two_sigma(deviation: npt.ArrayLike) -> float:
    r"""Two-sigma reading of a weighted deviation: the size that it exceeds 5 % of the time.

    Parameters
    ----------
    deviation : array, shape (n,)
        Weighted relative speed deviation [-], evenly sampled, n >= 1

    Returns
    -------
    reading : float
        95 % quantile of the absolute deviation [-], written with a plus-minus sign

    Notes
    -----
    For a sine it is sin(0.95 pi/2) = 0.99692 of the peak. (With two standard deviations of a normal distribution taken
    as 95.45 % it would be 0.99745.)

    References
    ----------
    .. [1] IEC 60386 A1:1988: at least 5 s, quantile from memory; that the reading is statistical, read in the abstract
       of AES6-2008.
    """
    values = np.abs(np.asarray(deviation, dtype=np.float64))
    if values.ndim != 1 or not len(values):
        raise InputError(f"deviation must be a row of 1 or more values, got shape {values.shape}")
    return float(np.quantile(values, 0.95))


# --- rumble ---------------------------------------------------------------------------------------------------------

_RUMBLE_TOP = 315.0


def _slopes(frequency: npt.ArrayLike, *, bottom: float, order: int) -> Array:
    """High-pass of ``order`` at ``bottom`` [Hz] and second-order low-pass at 315 Hz, Butterworth corners [dB]."""
    f = _frequencies(frequency)
    high = (f / bottom) ** order
    return _decibel(high / np.sqrt(1.0 + high**2)) - 10.0 * np.log10(1.0 + (f / _RUMBLE_TOP) ** 4)


def rumble_since_1987(frequency: npt.ArrayLike) -> Array:
    """Unweighted rumble band of IEC 98:1987 and later [dB]: 20 Hz, 18 dB an octave, to 315 Hz, 12 dB an octave.

    Examples
    --------
    >>> float(rumble_since_1987(10.0))
    -18.1

    References
    ----------
    .. [1] Slopes and corners from memory; Butterworth corner shape assumed (derived, not confirmed).
    """
    return _slopes(frequency, bottom=20.0, order=3)


def rumble_before_1987(frequency: npt.ArrayLike) -> Array:
    """Unweighted rumble band before 1987, "A" [dB]: 10 Hz, 6 dB an octave, to 315 Hz, 12 dB an octave.

    Also that of DIN 45539:1981.

    Examples
    --------
    >>> float(rumble_before_1987(2.0))
    -14.1

    References
    ----------
    .. [1] Slopes and corners from memory; Butterworth corner shape assumed (derived, not confirmed).
    """
    return _slopes(frequency, bottom=10.0, order=1)


def rumble_weighted(frequency: npt.ArrayLike) -> Array:
    """Weighted rumble, "B" [dB re 315 Hz]: 12 dB an octave on each side of 315 Hz, as straight lines.

    Examples
    --------
    >>> float(rumble_weighted(31.5))
    -40.0

    References
    ----------
    .. [1] Slopes from memory; the rounding at 315 Hz is not known and left out (derived, not confirmed).
    """
    f = _frequencies(frequency)
    with np.errstate(divide="ignore"):
        return np.asarray(-40.0 * np.abs(np.log10(f / _RUMBLE_TOP)))


RUMBLE_BANDS: dict[str, Curve] = {
    "IEC 60098, unweighted since 1987": rumble_since_1987,
    "IEC 60098, unweighted before 1987": rumble_before_1987,
    "IEC 60098, weighted": rumble_weighted,
}
"""Rumble bands by the name that a result carries."""


def rumble_band(name: str) -> Curve:
    """Return the rumble band of this name; raises ``UnknownNameError`` for another."""
    if name not in RUMBLE_BANDS:
        raise unknown_name("rumble band", name, tuple(RUMBLE_BANDS))
    return RUMBLE_BANDS[name]


# --- use on spectra and series --------------------------------------------------------------------------------------


def gains(curve: Curve, *, length: int, rate: float) -> Array:
    """Real gains of ``curve`` at the bins of ``rfft`` of ``length`` samples at ``rate`` [Hz]; shape (length//2+1,).

    0 Hz gets 0 where the curve says -inf.
    """
    if length < 1 or not rate > 0.0:
        raise InputError(f"length must be 1 or more and rate above 0 Hz, got {length} and {rate:g} Hz")
    return np.asarray(10.0 ** (curve(np.arange(length // 2 + 1) * (rate / length)) / 20.0))


def weighted_power(power: Real, gain: Array) -> Real:
    """Power after weighting, summed over the bins.

    Parameters
    ----------
    power : array, shape (..., bins)
        Power in each bin of any number of blocks
    gain : array, shape (bins,)
        Gains of ``gains``

    Returns
    -------
    power : array, shape (...)
        In the unit of the input
    """
    return np.asarray(power @ (gain**2).astype(power.dtype))


def weigh_spectra(spectra: _Spectrum, gain: Array) -> _Spectrum:
    """Spectra times gains along the last axis, in the precision of the spectra."""
    return spectra * gain.astype(spectra.real.dtype)


def weigh(series: Real, curve: Curve, *, rate: float, mirror: float = 0.0) -> Real:
    """An evenly sampled series after weighting, without delay.

    Parameters
    ----------
    series : array, shape (n, ...)
        Samples along the first axis, at ``rate`` [Hz]
    curve : Curve
        Any weighting of this module
    rate : float
        Sampling rate [Hz]
    mirror : float
        At each end the series is continued by its own mirror image for this long [s] (at most its length) before it
        fades to nothing; 0 for silence outside, which suits sound

    Returns
    -------
    weighted : array, shape (n, ...), precision of the input

    Notes
    -----
    One transform of the whole series: meant for seconds to a minute of sound or for a side's speed deviation at a low
    rate. Weighting both sides of a block edge with one set of gains spreads each instant by the filter's own memory
    (about 50 ms for A); the ends of the series are less sure by that much.
    """
    count = len(series)
    if count < 1:
        raise InputError("a series to be weighted needs 1 sample or more, got none")
    extra = min(round(mirror * rate), count - 1)
    fade = np.linspace(0.0, 1.0, extra, endpoint=False, dtype=series.dtype).reshape(-1, *[1] * (series.ndim - 1))
    longer = np.concatenate((series[extra:0:-1] * fade, series, series[-2 : -2 - extra : -1] * fade[::-1]), axis=0)
    length = fft.next_fast_len(len(longer) + round(0.5 * rate), real=True)
    gain = gains(curve, length=length, rate=rate).astype(series.dtype).reshape(-1, *[1] * (series.ndim - 1))
    back = fft.irfft(fft.rfft(longer, length, axis=0) * gain, length, axis=0)
    return np.asarray(back[extra : extra + count])


# --- quasi-peak -----------------------------------------------------------------------------------------------------

_ATTACK = (672.8, 3.97)
_LEAK = (3.44, 3.16)
_SINE_READING = 0.53366
_METER_RATE = 48_000
_HOP = 24
_GRAIN = 48
_SEGMENT = 2.0
_BATCH = 120.0


class QuasiPeak:
    """Quasi-peak meter of Rec. ITU-R BS.468: push weighted sound at 48 kHz, ``finish`` gives its readings.

    A full-wave rectifier, then two followers in a row; each charges toward what is above it and leaks:

        dy/dt = a max(x - y, 0) - b y      with a = 672.8 and 3.97 per second, b = 3.44 and 3.16 per second

    scaled so that a steady sine reads its rms. Fitted for this program to the recommendation's burst tests, which are
    known from memory; all eleven nominal readings are met within 3 %, far inside the limits.

    The followers are worked 24 samples (0.5 ms) at a time, as if each hop's samples came in any order, and in
    stretches of 2 s side by side: each stretch starts from what the one before it ends with, found by a first run from
    a guess. Both steps together stay within 0.1 dB of the sample-by-sample rule. Memory is bounded by 120 s of sound
    (some 100 MB in stereo); the answer does not depend on how the sound is cut into blocks.
    """

    def __init__(self, channels: int) -> None:
        self._channels = channels
        self._waiting: list[npt.NDArray[np.float32]] = []
        self._held = 0
        self._state = np.zeros((2, channels), np.float32)
        self._readings: list[Array] = []

    def push(self, block: npt.NDArray[np.float32] | npt.NDArray[np.float64]) -> None:
        """Take the next weighted samples, shape (n, channels), at 48 kHz."""
        self._waiting.append(np.abs(block, dtype=np.float32))
        self._held += len(block)
        batch = int(_BATCH * _METER_RATE)
        if self._held >= batch:
            samples = np.concatenate(self._waiting)
            whole = len(samples) // batch * batch
            for start in range(0, whole, batch):
                self._work(samples[start : start + batch])
            self._waiting, self._held = [samples[whole:]], len(samples) - whole

    def finish(self) -> Array:
        """Reading at the end of every 10 ms, shape (m, channels), in the unit of the input, rms for a sine.

        The last stretch shorter than 10 ms is left out. The meter takes about a second to rise.
        """
        if self._held:
            self._work(np.concatenate(self._waiting))
            self._waiting, self._held = [], 0
        if not self._readings:
            return np.zeros((0, self._channels))
        return np.asarray(np.concatenate(self._readings) * (np.sqrt(0.5) / _SINE_READING))

    def _work(self, samples: npt.NDArray[np.float32]) -> None:
        """Run one batch; leaves the state at its end and the raw readings of each 10 ms."""
        step = _METER_RATE // 100
        count = len(samples) // step * step
        if not count:
            return
        segment = int(_SEGMENT * _METER_RATE)
        side = -(-count // segment)
        padded = np.zeros((side * segment, self._channels), np.float32)
        padded[:count] = samples[:count]
        hops = padded.reshape(side, segment // _HOP, _HOP, self._channels).transpose(1, 2, 0, 3).copy()
        start = np.repeat(self._state[:, np.newaxis], side, axis=1)
        if side > 1:  # a coarser run from a guess tells each stretch how the one before it ends
            ends = _follow(hops.reshape(-1, 2 * _HOP, side, self._channels), start)[-1]
            start[:, 1:] = ends[:, :-1]
        kept = _follow(hops, start)
        ordered = kept.transpose(2, 0, 1, 3).reshape(-1, 2, self._channels)[: count // _GRAIN]
        self._state = ordered[-1]
        self._readings.append(ordered[step // _GRAIN - 1 :: step // _GRAIN, 1].astype(np.float64))


def _follow(hops: npt.NDArray[np.float32], start: npt.NDArray[np.float32]) -> npt.NDArray[np.float32]:
    """Both followers over hops of shape (steps, hop, side, channels) from a state of shape (2, side, channels).

    Returns the state at the end of each grain (1 ms), shape (grains, 2, side, channels). The first follower goes hop
    by hop; the second, slow one is charged by the mean of the first over each grain.
    """
    steps, hop, side, channels = hops.shape
    flat = hops.reshape(steps, hop, side * channels)
    above = np.arange(hop + 1)
    charges = ((1.0 - np.exp(-_ATTACK[0] / _METER_RATE * above)) / np.maximum(above, 1)).astype(np.float32)
    keep = np.float32(np.exp(-_LEAK[0] * hop / _METER_RATE))
    firsts = np.empty((steps, side * channels), np.float32)
    larger, is_over = np.empty(flat.shape[1:], np.float32), np.empty(flat.shape[1:], np.bool_)
    ones, counts = np.ones(hop, np.float32), np.empty(flat.shape[2], np.uint8)
    first = start[0].reshape(-1)
    for number, samples in enumerate(flat):
        np.maximum(samples, first, out=larger)
        np.greater(samples, first, out=is_over)
        np.add.reduce(is_over.view(np.uint8), axis=0, dtype=np.uint8, out=counts)
        excess = np.dot(ones, larger) - hop * first
        first = np.add(first * keep, excess * charges[counts], out=firsts[number])
    per_grain = _GRAIN // hop
    means = firsts.reshape(-1, per_grain, side * channels).mean(axis=1)
    seconds = np.empty_like(means)
    keep_2, lag_2 = (np.float32(np.exp(-rate * _GRAIN / _METER_RATE)) for rate in (_LEAK[1], _ATTACK[1]))
    charge_2 = 1.0 - lag_2
    second = start[1].reshape(-1)
    for number, mean in enumerate(means):
        second = np.add(second * keep_2, np.maximum(mean - second, 0.0) * charge_2, out=seconds[number])
    return np.stack((firsts[per_grain - 1 :: per_grain], seconds), axis=1).reshape(-1, 2, side, channels)
