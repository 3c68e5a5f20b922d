r"""Masking: what a sound hides from the ear. Published formulas, batched over any number of frames.

Powers here are in any one unit per critical band; the listening level enters only with the threshold in quiet.
"""

import numpy as np
import numpy.typing as npt

from runtrue.errors import InputError

Array = npt.NDArray[np.float64]
BANDS = 25
"""Critical bands of 1 Bark that are told apart, 0 to 25 Bark."""


def bark(frequency: npt.ArrayLike) -> Array:
    r"""Critical-band rate [Bark].

    .. math:: z = \frac{26.81 f}{1960 + f} - 0.53

    Parameters
    ----------
    frequency : float or array
        Frequency f [Hz], 0 or more

    Returns
    -------
    rate : array, shape of ``frequency``
        Critical-band rate z [Bark]; below 40 Hz negative

    Notes
    -----
    Formulas for the scale differ by up to 2.3 Bark at 5 kHz; everything in this module uses this one.

    Examples
    --------
    >>> float(bark(1000.0))
    8.527

    References
    ----------
    .. [1] Traunmueller, J. Acoust. Soc. Am. 88 (1990) 97-100; formula read as coded in public source files.
    """
    f = np.asarray(frequency, dtype=np.float64)
    if not np.all(f >= 0.0):
        raise InputError(f"frequency must be 0 Hz or more, got {np.min(f):g} Hz")
    return np.asarray(26.81 * f / (1960.0 + f) - 0.53)


def spreading(distance: npt.ArrayLike) -> Array:
    r"""How far the excitation of a masker has fallen at a distance [dB].

    .. math:: 10 \lg F = 15.81 + 7.5 (d + 0.474) - 17.5 \sqrt{1 + (d + 0.474)^2}

    Parameters
    ----------
    distance : float or array
        Maskee less masker d [Bark]

    Returns
    -------
    level : array, shape of ``distance``
        Level re the masker's own band [dB]: about -10 dB a Bark upward, -25 dB a Bark downward

    Examples
    --------
    >>> float(spreading(1.0))
    -4.306

    References
    ----------
    .. [1] Schroeder, Atal and Hall, J. Acoust. Soc. Am. 66 (1979) 1647-1652; read as coded in public source files.
    """
    d = np.asarray(distance, dtype=np.float64) + 0.474
    return np.asarray(15.81 + 7.5 * d - 17.5 * np.sqrt(1.0 + d**2))


def quiet_threshold(frequency: npt.ArrayLike) -> Array:
    r"""Level of a tone that is just heard in silence [dB SPL].

    .. math:: L = 3.64 f^{-0.8} - 6.5 e^{-0.6 (f - 3.3)^2} + 10^{-3} f^4, f in kHz

    Parameters
    ----------
    frequency : float or array
        Frequency f [Hz], above 0

    Returns
    -------
    level : array, shape of ``frequency``
        Level [dB SPL], young ears in a free field

    Examples
    --------
    >>> float(quiet_threshold(1000.0))
    3.37

    References
    ----------
    .. [1] Terhardt, Hearing Research 1 (1979) 155-182; read as coded in public source files.
    """
    f = np.asarray(frequency, dtype=np.float64) / 1000.0
    if not np.all(f > 0.0):
        raise InputError(f"frequency must be above 0 Hz, got {1000.0 * np.min(f):g} Hz")
    return np.asarray(3.64 * f**-0.8 - 6.5 * np.exp(-0.6 * (f - 3.3) ** 2) + 1e-3 * f**4)


def tonality(flatness: npt.ArrayLike) -> Array:
    """How much of a tone a spectrum is, 0 (noise) to 1: spectral flatness [dB] over -60 dB, held to 1.

    Parameters
    ----------
    flatness : float or array
        10 log10 of geometric over arithmetic mean of the power [dB], 0 or less

    Examples
    --------
    >>> float(tonality(-15.0))
    0.25

    References
    ----------
    .. [1] Johnston, IEEE JSAC 6 (1988) 314-323; the -60 dB from memory.
    """
    return np.asarray(np.clip(np.asarray(flatness, dtype=np.float64) / -60.0, 0.0, 1.0))


def masking_offset(rate: npt.ArrayLike, tone: npt.ArrayLike) -> Array:
    """How far below the spread excitation the threshold lies [dB]: a (14.5 + z) + (1 - a) 5.5.

    Parameters
    ----------
    rate : array
        Critical-band rate z [Bark]
    tone : array
        Tonality a, 0 to 1; broadcast against ``rate``

    Examples
    --------
    >>> float(masking_offset(10.0, 1.0))
    24.5

    References
    ----------
    .. [1] Johnston, IEEE JSAC 6 (1988) 314-323; read as coded in public source files.
    """
    a = np.asarray(tone, dtype=np.float64)
    return np.asarray(a * (14.5 + np.asarray(rate, dtype=np.float64)) + (1.0 - a) * 5.5)


CENTRES = np.arange(BANDS) + 0.5
"""Middle of each band [Bark]."""
CENTRES_HZ = 1960.0 * (CENTRES + 0.53) / (26.28 - CENTRES)
"""The same [Hz]."""
SPREAD = 10.0 ** (spreading(CENTRES[None, :] - CENTRES[:, None]) / 10.0)
"""Power that a masker's band (rows) gives to a maskee's (columns)."""


def band_sums(frequency: npt.ArrayLike) -> npt.NDArray[np.float32]:
    """Matrix (bins, BANDS) that sums the powers of bins into critical bands; a bin belongs to one band."""
    number = np.clip(np.floor(bark(frequency)), 0, BANDS - 1).astype(int)
    return np.asarray(number[:, None] == np.arange(BANDS), dtype=np.float32)


def masked_threshold(power: npt.NDArray[np.float32], tone: npt.NDArray[np.float32]) -> npt.NDArray[np.float32]:
    """Power of a steady sound that is just heard beside steady maskers.

    Parameters
    ----------
    power : array, shape (..., BANDS)
        Power of the maskers in each critical band
    tone : array, shape (...)
        Tonality of each frame

    Returns
    -------
    threshold : array, shape (..., BANDS)
        Just-heard power in each band, unit of the input; as of simultaneous masking only
    """
    excited = power @ SPREAD.astype(np.float32)
    offset = masking_offset(CENTRES, tone[..., None])
    return np.asarray(excited * (10.0 ** (-offset / 10.0)).astype(np.float32))
