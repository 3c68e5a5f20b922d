"""How sharp a delay or a frequency can be measured at best: the Cramer-Rao bounds that estimators are held against."""

from math import pi, sqrt

from runtrue.errors import InputError


def delay_bound(*, duration: float, low: float, high: float, snr: float) -> float:
    r"""Least standard deviation of the delay between two equally noisy records of one signal.

    .. math:: \sigma^2 = \frac{3 (1 + 2 S)}{8 \pi^2 T S^2 (f_2^3 - f_1^3)}

    Parameters
    ----------
    duration : float
        Length of the records T [s], above 0
    low, high : float
        Band in which signal and noise are flat, f1 < f2 [Hz]
    snr : float
        Signal over noise power in the band S [-], above 0

    Returns
    -------
    sigma : float
        Standard deviation [s]

    Notes
    -----
    Holds above the threshold at which the estimator picks the wrong peak. Raises ``InputError`` outside the ranges.

    Examples
    --------
    >>> delay_bound(duration=0.05, low=100.0, high=5000.0, snr=100.0) * 1e6
    0.3496

    References
    ----------
    .. [1] A. H. Quazi, IEEE Trans. ASSP-29 (1981) 527-533; formula from memory, derived again.
    """
    if not (duration > 0.0 and 0.0 <= low < high and snr > 0.0):
        raise InputError(
            f"delay bound: duration {duration:g} s and snr {snr:g} must be above 0, and 0 <= low < high, got {low:g} "
            f"and {high:g} Hz"
        )
    return sqrt(3.0 * (1.0 + 2.0 * snr) / (8.0 * pi**2 * duration * snr**2 * (high**3 - low**3)))


def frequency_bound(*, count: int, rate: float, snr: float) -> float:
    r"""Least standard deviation of the frequency of one sine of unknown phase and amplitude.

    .. math:: \sigma = \frac{f_s}{2 \pi} \sqrt{\frac{12}{\eta N (N^2 - 1)}}

    Parameters
    ----------
    count : int
        Samples N, 2 or more
    rate : float
        Sampling rate [Hz]
    snr : float
        eta = A^2 / (2 sigma^2), power of the sine over that of the noise [-], above 0

    Returns
    -------
    sigma : float
        Standard deviation [Hz]

    Examples
    --------
    >>> frequency_bound(count=4800, rate=48000.0, snr=100.0) * 1e3
    7.958

    References
    ----------
    .. [1] D. C. Rife and R. R. Boorstyn, IEEE Trans. IT-20 (1974) 591-598; S. M. Kay, Fundamentals of Statistical
       Signal Processing: Estimation Theory (1993), example 3.14; from memory.
    """
    if not (count >= 2 and rate > 0.0 and snr > 0.0):
        raise InputError(f"frequency bound: count {count} must be 2 or more, rate {rate:g} and snr {snr:g} above 0")
    return rate / (2.0 * pi) * sqrt(12.0 / (snr * count * (count**2 - 1.0)))
