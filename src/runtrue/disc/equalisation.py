"""Recording and playback curves from time constants, and the groove velocities they act on.

A curve is physics: two or three time constants. Levels are dB re 1 kHz; playback undoes recording.
"""

from dataclasses import dataclass
from math import pi, sqrt

import numpy as np
import numpy.typing as npt

from runtrue.errors import InputError, unknown_name

Array = npt.NDArray[np.float64]

_REFERENCE = 1000.0
US = 1e-6
"""Seconds in a microsecond."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Equalisation:
    r"""A playback curve by its time constants [s]; None where the curve has no such corner.

    .. math:: H(s) = \frac{1 + s T_2}{(1 + s T_1)(1 + s T_3)} \cdot \frac{s T_4}{1 + s T_4}

    ``shelf`` T1 ends the bass rise at low frequencies (without it the rise goes on, s T2 / s), ``turnover`` T2 begins
    it, ``treble`` T3 is the roll-off that undoes the recorded treble, ``amendment`` T4 a bass cut on playback only.
    """

    name: str
    words: str
    shelf: float | None
    turnover: float | None
    treble: float | None
    amendment: float | None = None
    source: str

    def playback_db(self, frequency: npt.ArrayLike) -> Array:
        """Playback level at ``frequency`` [Hz], above 0 [dB re 1 kHz].

        Examples
        --------
        >>> float(equalisation("fine_groove").playback_db(100.0))
        13.088
        """
        return self._level(frequency) - self._level(_REFERENCE)

    def recording_db(self, frequency: npt.ArrayLike) -> Array:
        """Recording level at ``frequency`` [Hz], above 0 [dB re 1 kHz]: velocity for a signal of one level.

        The amendment is a cut on playback that recording does not undo, so it is left out here.
        """
        return -(self._level(frequency, amended=False) - self._level(_REFERENCE, amended=False))

    def _level(self, frequency: npt.ArrayLike, *, amended: bool = True) -> Array:
        f = np.asarray(frequency, dtype=np.float64)
        if not np.all(f > 0.0):
            raise InputError(f"frequency must be above 0 Hz, got {np.min(f):g} Hz")
        level = _corner(f, self.turnover) - _corner(f, self.treble)
        if self.turnover is not None:
            level = level - (_corner(f, self.shelf) if self.shelf is not None else 20.0 * np.log10(2.0 * pi * f))
        if amended and self.amendment is not None:
            level = level + 20.0 * np.log10(2.0 * pi * f * self.amendment) - _corner(f, self.amendment)
        return np.asarray(level)


def _corner(f: Array, time: float | None) -> Array:
    """Level of 1 + s T [dB], 0 without a time constant."""
    if time is None:
        return np.zeros_like(f)
    return np.asarray(10.0 * np.log10(1.0 + (2.0 * pi * f * time) ** 2))


def corner_frequency(time: float) -> float:
    """Frequency [Hz] of a time constant [s]: 1 / (2 pi T).

    Examples
    --------
    >>> corner_frequency(318e-6)
    500.5
    """
    if not time > 0.0:
        raise InputError(f"time constant must be above 0 s, got {time:g} s")
    return 1.0 / (2.0 * pi * time)


def time_constant(frequency: float) -> float:
    """Time constant [s] of a corner frequency [Hz]: 1 / (2 pi f).

    Examples
    --------
    >>> time_constant(250.0)
    0.0006366
    """
    if not frequency > 0.0:
        raise InputError(f"frequency must be above 0 Hz, got {frequency:g} Hz")
    return 1.0 / (2.0 * pi * frequency)


_FINE_SOURCE = "BS 1928:1955, IEC 98, RIAA; 3180, 318, 75 us read"
_TABLE = (
    Equalisation(
        name="fine_groove", words="fine groove (RIAA, BS 1928:1955, IEC 98)",
        shelf=3180 * US, turnover=318 * US, treble=75 * US, source=_FINE_SOURCE,
    ),
    Equalisation(
        name="fine_groove_amended", words="fine groove with the IEC bass cut on playback",
        shelf=3180 * US, turnover=318 * US, treble=75 * US, amendment=7950 * US,
        source=f"{_FINE_SOURCE}; IEC amendment 7950 us read, its year printed as 1972 and as 1976",
    ),
    Equalisation(
        name="coarse_groove", words="coarse groove (IEC 98 second edition, BS 1928:1955)",
        shelf=3180 * US, turnover=450 * US, treble=50 * US,
        source='AES-S001-064 content sheet, read; it prints "ms" where microseconds are meant',
    ),
    Equalisation(
        name="constant_velocity", words="constant velocity (acoustic era, no electrical law)",
        shelf=None, turnover=None, treble=None, source="handbooks, from memory",
    ),
    Equalisation(
        name="mid_turnover_250", words="250 Hz turnover, flat treble, no shelf",
        shelf=None, turnover=time_constant(250.0), treble=None, source="handbooks, from memory",
    ),
    Equalisation(
        name="mid_turnover_300", words="300 Hz turnover, flat treble, no shelf",
        shelf=None, turnover=time_constant(300.0), treble=None, source="handbooks, from memory",
    ),
    Equalisation(
        name="aes_1951", words="400 Hz turnover, 2500 Hz roll-off, no shelf (AES 1951 playback)",
        shelf=None, turnover=time_constant(400.0), treble=time_constant(2500.0), source="handbooks, from memory",
    ),
)  # fmt: skip

EQUALISATIONS = {item.name: item for item in _TABLE}
"""Every curve by name."""


def equalisation(name: str) -> Equalisation:
    """Return the curve of this name; raises ``UnknownNameError`` for another."""
    if name not in EQUALISATIONS:
        raise unknown_name("equalisation", name, tuple(EQUALISATIONS))
    return EQUALISATIONS[name]


def light_band_velocity(*, band: float, turn_frequency: float) -> float:
    r"""Peak groove velocity from the width of the band of light that a modulated groove reflects.

    .. math:: v = \pi n B

    Parameters
    ----------
    band : float
        Full width of the band, B [m], 0 or more
    turn_frequency : float
        Turns a second, n [Hz], above 0

    Returns
    -------
    velocity : float
        Peak velocity of the modulation [m/s]; rms of a sine is this over the square root of 2

    Notes
    -----
    Parallel light, seen from afar; the radius drops out. An encyclopaedia copy calls the 8 cm/s of the example
    peak-to-peak, which this formula refutes.

    Examples
    --------
    >>> light_band_velocity(band=20e-3, turn_frequency=77.92 / 60)
    0.08160

    References
    ----------
    .. [1] Buchmann & Meyer, 1930, formula from memory; AES-S001-064 content sheet, read: 20 mm at 77.92 rpm is about
       8 cm/s peak, 5.7 cm/s rms.
    """
    if not (band >= 0.0 and turn_frequency > 0.0):
        raise InputError(
            f"band must be 0 m or more and turn_frequency above 0 Hz, got {band:g} m and {turn_frequency:g} Hz"
        )
    return pi * turn_frequency * band


def displacement(*, velocity: float, frequency: float) -> float:
    """Displacement [m] of a sine of ``velocity`` [m/s] at ``frequency`` [Hz], peak for peak: v / (2 pi f).

    Examples
    --------
    >>> displacement(velocity=0.07, frequency=1000.0)
    1.114e-05
    """
    return velocity * time_constant(frequency)


def acceleration(*, velocity: float, frequency: float) -> float:
    """Acceleration [m/s2] of a sine of ``velocity`` [m/s] at ``frequency`` [Hz], peak for peak: 2 pi f v.

    Examples
    --------
    >>> acceleration(velocity=0.05, frequency=1000.0)
    314.16
    """
    return velocity / time_constant(frequency)


def peak_to_rms(velocity: float) -> float:
    """Root mean square of a sine of this peak; also the peak of each wall for a lateral peak.

    Examples
    --------
    >>> peak_to_rms(0.05)
    0.035355
    """
    return velocity / sqrt(2.0)
