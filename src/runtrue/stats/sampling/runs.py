r"""Risk of sampling every N-th copy: for faults that are scattered, and for faults that begin and stay.

The tables of attribute sampling assume that bad copies are mixed through the lot. A press makes them in runs: a damaged
stamper spoils every copy from one closure on. Then what counts is how far apart the samples are.
"""

from dataclasses import dataclass
from math import ceil, log

import numpy as np
from numpy.typing import ArrayLike, NDArray

from runtrue.stats.checks import whole, within


@dataclass(frozen=True, slots=True, kw_only=True)
class RunRisk:
    """Copies of a fault that begins between two samples and stays, made before a sample shows it.

    ``mean`` over where it begins; ``worst`` with a sure test (None where the test can miss it any number of times);
    ``within_confidence`` holds with the confidence asked for.
    """

    mean: float
    worst: int | None
    within_confidence: int


def scattered_risk(samples: int, share: ArrayLike, *, sensitivity: float = 1.0) -> NDArray[np.float64]:
    r"""Probability that no sample shows a fault that is scattered over the share of all copies.

    .. math:: P = (1 - s p)^n

    Parameters
    ----------
    samples : int
        n copies tested, 1 or more
    share : array_like
        p, 0 to 1 [-]
    sensitivity : float
        s, probability that the test shows the fault on a copy that has it, 0 to 1 [-]

    Returns
    -------
    probability : ndarray
        Of missing it [-]

    Examples
    --------
    >>> float(scattered_risk(13, 0.05))
    0.513

    References
    ----------
    .. [1] Binomial with no fault found.
    """
    whole("samples", samples, 1)
    within("share", share, 0.0, 1.0)
    within("sensitivity", sensitivity, 0.0, 1.0)
    return np.asarray((1.0 - sensitivity * np.asarray(share, dtype=np.float64)) ** samples)


def run_risk(interval: int, *, sensitivity: float = 1.0, confidence: float = 0.95) -> RunRisk:
    r"""Bad copies made before a fault that begins and stays is found, when every N-th copy is tested.

    The fault begins with equal probability at any of the N places between two samples. With a sure test 0 to N - 1 bad
    copies lie before the sample that shows it; each miss adds N more:

    .. math:: M = U + N G, \quad U \in \{0..N-1\}, \quad P(G = g) = s (1 - s)^g, \quad
              E M = \frac{N - 1}{2} + N \frac{1 - s}{s}

    Parameters
    ----------
    interval : int
        N, 1 or more copies
    sensitivity : float
        s, above 0 and up to 1 [-]
    confidence : float
        Of ``within_confidence``, above 0 and below 1 [-]

    Returns
    -------
    risk : RunRisk
        Copies

    Examples
    --------
    >>> run_risk(100)
    RunRisk(mean=49.5, worst=99, within_confidence=94)
    >>> run_risk(100, sensitivity=0.9).within_confidence
    155

    References
    ----------
    .. [1] Worked out here: uniform start, geometric misses.
    """
    whole("interval", interval, 1)
    within("sensitivity", sensitivity, 0.0, 1.0, above=True)
    within("confidence", confidence, 0.0, 1.0, above=True, below=True)
    missing = 1.0 - sensitivity
    mean = (interval - 1) / 2.0 + interval * missing / sensitivity
    misses = 0 if missing == 0.0 else max(0, ceil(log(1.0 - confidence) / log(missing) - 1e-9) - 1)
    done = 1.0 - missing**misses
    step = max(1, ceil((confidence - done) / (missing**misses * sensitivity) * interval - 1e-9))
    return RunRisk(
        mean=mean, worst=interval - 1 if missing == 0.0 else None, within_confidence=misses * interval + step - 1
    )


def run_detection(length: ArrayLike, interval: int, *, sensitivity: float = 1.0) -> NDArray[np.float64]:
    r"""Probability that a run of bad copies, which begins anywhere and ends by itself, is shown by a sample.

    A run of L = a N + b copies meets a or a + 1 samples:

    .. math:: P = 1 - (1 - s)^a \left( 1 - s \, b / N \right)

    Parameters
    ----------
    length : array_like
        L copies, 0 or more
    interval : int
        N, 1 or more
    sensitivity : float
        s, 0 to 1 [-]

    Returns
    -------
    probability : ndarray
        [-]

    Examples
    --------
    >>> [float(p) for p in run_detection([10, 100, 250], 100)]
    [0.1, 1.0, 1.0]
    >>> float(run_detection(150, 100, sensitivity=0.8))
    0.88

    References
    ----------
    .. [1] Systematic sample with a random start, worked out here.
    """
    whole("interval", interval, 1)
    within("length", length, 0.0)
    within("sensitivity", sensitivity, 0.0, 1.0)
    full, rest = np.divmod(np.asarray(length, dtype=np.float64), interval)
    return np.asarray(1.0 - (1.0 - sensitivity) ** full * (1.0 - sensitivity * rest / interval))


def interval_for(most_bad: int, *, sensitivity: float = 1.0, confidence: float = 0.95) -> int:
    """Largest sampling interval that keeps the bad copies of a lasting fault within ``most_bad`` at the confidence.

    Parameters
    ----------
    most_bad : int
        Copies, 0 or more
    sensitivity, confidence : float
        As in :func:`run_risk`

    Returns
    -------
    interval : int
        N; 0 where even testing every copy does not reach it

    Examples
    --------
    >>> interval_for(94), interval_for(99, confidence=0.999999)
    (100, 100)
    """
    whole("most_bad", most_bad, 0)
    low, high = 0, 4 * (most_bad + 2)
    while high - low > 1:
        middle = (low + high) // 2
        kept = run_risk(middle, sensitivity=sensitivity, confidence=confidence).within_confidence <= most_bad
        low, high = (middle, high) if kept else (low, middle)
    return low
