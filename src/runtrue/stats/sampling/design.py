r"""Plans made for a risk: zero acceptance, limiting quality, two points of the OC curve, and what a sample proves."""

from math import ceil, log

import numpy as np
from numpy.typing import NDArray

from runtrue.errors import InputError
from runtrue.stats.checks import whole, within
from runtrue.stats.sampling.curves import Model, acceptance_probability


def zero_acceptance_size(
    quality: float, confidence: float = 0.95, *, model: Model = "binomial", lot_size: int | None = None
) -> int:
    r"""Least sample that, when free of faults, shows with the confidence that p is not above the quality.

    .. math:: n = \lceil \ln \beta / \ln (1 - p_1) \rceil, \quad \beta = 1 - confidence

    Poisson n = ceil(-ln beta / p1); hypergeometric the least n with C(N-D, n) / C(N, n) <= beta, D = floor(N p1).

    Parameters
    ----------
    quality : float
        p1, above 0 and below 1 [-]
    confidence : float
        1 - beta, above 0 and below 1 [-]
    model : str
        binomial (a process), poisson, hypergeometric (one lot)
    lot_size : int, optional
        N, for the hypergeometric model

    Returns
    -------
    n : int
        Sample

    Examples
    --------
    >>> zero_acceptance_size(0.01), zero_acceptance_size(0.01, 0.90)
    (299, 230)
    >>> zero_acceptance_size(0.02, 0.90, model="hypergeometric", lot_size=500)
    102

    References
    ----------
    .. [1] ln(.05)/ln(.99) = 298.07; the finite lot by the exact formula.
    """
    return limiting_quality_size(0, quality, 1.0 - confidence, model=model, lot_size=lot_size)


def limiting_quality_size(
    accept: int, quality: float, risk: float = 0.10, *, model: Model = "binomial", lot_size: int | None = None
) -> int:
    r"""Least sample for which a lot of the limiting quality is accepted at most with the risk.

    .. math:: n = \min \{ n : P_a(n, c, p_{LQ}) \le \beta \}

    Parameters
    ----------
    accept : int
        c, 0 or more
    quality : float
        p_LQ, above 0 and below 1 [-]
    risk : float
        beta, above 0 and below 1 [-]
    model, lot_size
        As in :func:`zero_acceptance_size`

    Returns
    -------
    n : int
        Sample

    Notes
    -----
    Raises ``InputError`` when the finite lot holds no more bad records than c at that quality: no sample can show it.

    Examples
    --------
    >>> limiting_quality_size(1, 0.02, 0.10, model="poisson")
    195

    References
    ----------
    .. [1] Birolini, Reliability Engineering, 5th edition 2007, section 7.1: m = 3.89, n = 195.
    """
    whole("accept", accept, 0)
    within("quality", quality, 0.0, 1.0, above=True, below=True)
    within("risk", risk, 0.0, 1.0, above=True, below=True)
    if model == "hypergeometric":
        return _finite_size(accept, quality, risk, lot_size)
    if accept == 0:
        exact = log(risk) / (log(1.0 - quality) if model == "binomial" else -quality)
        return max(1, ceil(exact - 1e-9))

    def risky(n: int) -> bool:
        return float(acceptance_probability(n, accept, quality, model=model)) > risk

    low, high = accept, 2 * (accept + 1)
    while risky(high):
        low, high = high, 2 * high
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if risky(middle) else (low, middle)
    return high


def two_point_plan(
    good: float, bad: float, *, producer_risk: float = 0.05, consumer_risk: float = 0.10, model: Model = "binomial"
) -> tuple[int, int]:
    """Least single plan (n, c) that refuses good quality and accepts bad quality at most with the two risks.

    Parameters
    ----------
    good, bad : float
        Quality to be accepted and quality to be refused, 0 < good < bad < 1 [-]
    producer_risk, consumer_risk : float
        Above 0, their sum below 1 [-]
    model : str
        binomial or poisson

    Returns
    -------
    n, accept : int
        The plan

    Examples
    --------
    >>> two_point_plan(0.05, 0.15, producer_risk=0.05, consumer_risk=0.075)
    (80, 7)
    >>> two_point_plan(0.01, 0.10)
    (52, 2)

    References
    ----------
    .. [1] (80, 7) is printed in the manual of an open statistics library for acceptance sampling; recomputed.
    """
    within("good", good, 0.0, bad, above=True, below=True)
    within("bad", bad, good, 1.0, above=True, below=True)
    within("producer_risk", producer_risk, 0.0, 1.0 - consumer_risk, above=True, below=True)
    within("consumer_risk", consumer_risk, 0.0, 1.0, above=True, below=True)
    if model not in ("binomial", "poisson"):
        raise InputError(f"two_point_plan knows binomial and poisson, got {model}")
    for accept in range(10_000):
        n = limiting_quality_size(accept, bad, consumer_risk, model=model)
        if float(acceptance_probability(n, accept, good, model=model)) >= 1.0 - producer_risk:
            return n, accept
    raise InputError(f"good ({good:g}) and bad ({bad:g}) are too close for a plan with c below 10000")


def share_interval(found: int, n: int, confidence: float = 0.95, *, side: str = "both") -> tuple[float, float]:
    r"""Exact interval for the share nonconforming after ``found`` bad in a sample of n (Clopper and Pearson 1934).

    .. math:: p_U = B^{-1}(1 - \alpha;\, x + 1, n - x), \quad p_L = B^{-1}(\alpha;\, x, n - x + 1)

    Parameters
    ----------
    found, n : int
        0 <= found <= n, n of 1 or more
    confidence : float
        Above 0 and below 1 [-]
    side : str
        both (alpha is shared), upper or lower

    Returns
    -------
    low, high : float
        Share [-]; 0 or 1 on the side that is not asked for

    Examples
    --------
    >>> share_interval(0, 50, side="upper")
    (0.0, 0.0582)

    References
    ----------
    .. [1] Biometrika 26 (1934) 404; 0.0582 = 1 - 0.05**(1/50), against 3/n = 0.060.
    """
    from scipy.special import betaincinv

    whole("n", n, 1)
    whole("found", found, 0, n)
    within("confidence", confidence, 0.0, 1.0, above=True, below=True)
    if side not in ("both", "upper", "lower"):
        raise InputError(f"side must be both, upper or lower, got {side}")
    alpha = (1.0 - confidence) / (2.0 if side == "both" else 1.0)
    low = 0.0 if found == 0 or side == "upper" else float(betaincinv(found, n - found + 1, alpha))
    high = 1.0 if found == n or side == "lower" else float(betaincinv(found + 1, n - found, 1.0 - alpha))
    return low, high


def _finite_size(accept: int, quality: float, risk: float, lot_size: int | None) -> int:
    if lot_size is None:
        raise InputError("the hypergeometric model needs lot_size")
    whole("lot_size", lot_size, 1)
    bad = int(lot_size * quality + 1e-9)
    if bad <= accept:
        raise InputError(
            f"a lot of {lot_size} at {quality:g} holds {bad} bad records: more than {accept} cannot be found in it"
        )
    from scipy.stats import hypergeom

    sizes: NDArray[np.int64] = np.arange(1, lot_size + 1)
    good_enough = hypergeom.cdf(accept, lot_size, bad, sizes) <= risk
    return int(sizes[np.argmax(good_enough)])
