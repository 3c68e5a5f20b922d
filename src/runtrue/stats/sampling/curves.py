r"""What a single plan does: operating characteristic, outgoing quality, inspection load, and its inversion."""

from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import bdtr, bdtri, pdtr, pdtri

from runtrue.errors import InputError
from runtrue.stats.checks import whole, within

Model = Literal["binomial", "poisson", "hypergeometric"]
_Array = NDArray[np.float64]


def acceptance_probability(
    n: int, accept: int, p: ArrayLike, *, model: Model = "binomial", lot_size: int | None = None
) -> _Array:
    r"""Probability that a lot of quality p is accepted (the OC curve).

    .. math:: P_a = \sum_{d=0}^{c} \binom{n}{d} p^d (1-p)^{n-d} \quad (binomial)

    Poisson with mean n p for nonconformities per unit; hypergeometric with D = round(N p) bad of N for one given lot.

    Parameters
    ----------
    n : int
        Sample, 1 or more
    accept : int
        c, 0 to n (Poisson: 0 or more)
    p : array_like
        Share nonconforming, 0 to 1; for Poisson nonconformities per unit, 0 or more [-]
    model : str
        binomial (a process), poisson (faults counted), hypergeometric (one lot, needs ``lot_size``)
    lot_size : int, optional
        N, at least n

    Returns
    -------
    probability : ndarray
        Same shape as p [-]

    Examples
    --------
    >>> float(acceptance_probability(20, 0, 0.05))
    0.358
    >>> float(acceptance_probability(50, 1, 15 / 300, model="hypergeometric", lot_size=300))
    0.25219

    References
    ----------
    .. [1] MIL-STD-105E, Table X (type B curves). 0.358 = 0.95**20.
    """
    whole("n", n, 1)
    whole("accept", accept, 0, np.inf if model == "poisson" else n)
    p = np.asarray(p, dtype=np.float64)
    if model == "poisson":
        within("p", p, 0.0)
        return np.asarray(pdtr(accept, n * p))
    within("p", p, 0.0, 1.0)
    if model == "binomial":
        return np.asarray(bdtr(accept, n, p))
    if model != "hypergeometric":
        raise InputError(f"model must be binomial, poisson or hypergeometric, got {model}")
    if lot_size is None:
        raise InputError("the hypergeometric model needs lot_size")
    whole("lot_size", lot_size, n)
    from scipy.stats import hypergeom

    bad = np.round(p * lot_size)
    levels, back = np.unique(bad, return_inverse=True)
    return np.asarray(hypergeom.cdf(accept, lot_size, levels, n))[back].reshape(p.shape)


def quality_at(n: int, accept: int, probability: ArrayLike, *, model: Model = "binomial") -> _Array:
    r"""Quality p that is accepted with the probability: the OC curve read the other way.

    Parameters
    ----------
    n, accept : int
        Plan, accept below n
    probability : array_like
        Above 0 and below 1 [-]
    model : str
        binomial or poisson

    Returns
    -------
    p : ndarray
        Share nonconforming, or nonconformities per unit [-]

    Examples
    --------
    >>> float(quality_at(80, 2, 0.10))
    0.06516

    References
    ----------
    .. [1] MIL-STD-105E, Table X-J-1 prints 6.52 % (from memory; recomputed).
    """
    whole("n", n, 1)
    whole("accept", accept, 0, np.inf if model == "poisson" else n - 1)
    wanted = np.asarray(probability, dtype=np.float64)
    within("probability", wanted, 0.0, 1.0, above=True, below=True)
    if model == "poisson":
        return np.asarray(pdtri(accept, wanted), dtype=np.float64) / n
    if model != "binomial":
        raise InputError(f"quality_at knows binomial and poisson, got {model}")
    return np.asarray(bdtri(accept, n, wanted), dtype=np.float64)


def average_outgoing_quality(n: int, accept: int, p: ArrayLike, lot_size: int) -> _Array:
    r"""Average outgoing quality when refused lots are sorted and the bad replaced.

    .. math:: AOQ = P_a \, p \, (N - n) / N

    Parameters
    ----------
    n, accept : int
        Plan
    p : array_like
        Incoming share nonconforming, 0 to 1 [-]
    lot_size : int
        N, n or more

    Returns
    -------
    quality : ndarray
        Outgoing share nonconforming, same shape as p [-]

    Examples
    --------
    >>> float(average_outgoing_quality(80, 2, 0.02, 1000))
    0.01443

    References
    ----------
    .. [1] Dodge and Romig 1959; formula as in MIL-STD-105E, Table V.
    """
    whole("lot_size", lot_size, n)
    p = np.asarray(p, dtype=np.float64)
    return np.asarray(acceptance_probability(n, accept, p) * p * (lot_size - n) / lot_size)


def average_total_inspection(n: int, accept: int, p: ArrayLike, lot_size: int) -> _Array:
    r"""Records inspected per lot when refused lots are sorted: ATI = n + (1 - Pa)(N - n).

    Parameters
    ----------
    n, accept, p, lot_size
        As in :func:`average_outgoing_quality`

    Returns
    -------
    records : ndarray
        From n to N, same shape as p

    Examples
    --------
    >>> float(average_total_inspection(80, 2, 0.02, 1000))
    278.3

    References
    ----------
    .. [1] Dodge and Romig 1959.
    """
    whole("lot_size", lot_size, n)
    return n + (1.0 - acceptance_probability(n, accept, p)) * (lot_size - n)


def outgoing_quality_limit(n: int, accept: int, lot_size: int) -> tuple[float, float]:
    """Worst average outgoing quality and the incoming quality at which it occurs.

    Parameters
    ----------
    n, accept, lot_size : int
        As in :func:`average_outgoing_quality`

    Returns
    -------
    limit, at : float
        Shares nonconforming [-]

    Examples
    --------
    >>> limit, at = outgoing_quality_limit(80, 2, 1000)
    >>> limit, at
    (0.01574, 0.02809)
    """
    whole("lot_size", lot_size, n)
    top = float(quality_at(n, accept, 1e-6)) if accept < n else 1.0
    p = np.linspace(0.0, top, 2001)
    for _ in range(3):
        quality = average_outgoing_quality(n, accept, p, lot_size)
        best = int(np.argmax(quality))
        p = np.linspace(p[max(best - 1, 0)], p[min(best + 1, p.size - 1)], 201)
    return float(quality[best]), float(p[100])


def curtailed_sample(n: int, accept: int, p: ArrayLike) -> _Array:
    r"""Average number inspected when inspection stops at the refusing fault (the ASN of a single plan).

    .. math:: ASN = \sum_{k=1}^{n} P(\text{at most } c \text{ faults in the first } k - 1)

    Parameters
    ----------
    n, accept : int
        Plan
    p : array_like
        Share nonconforming, 0 to 1 [-]

    Returns
    -------
    asn : ndarray
        Same shape as p, at most n

    Examples
    --------
    >>> float(curtailed_sample(80, 2, 0.10))
    29.87

    References
    ----------
    .. [1] Sum of the survival function of the stopping time; at p = 1 it is c + 1.
    """
    whole("n", n, 1)
    whole("accept", accept, 0, n)
    p = np.asarray(p, dtype=np.float64)
    within("p", p, 0.0, 1.0)
    before = np.arange(accept + 1, n)
    going_on = bdtr(accept, before, p[..., np.newaxis]).sum(axis=-1) if before.size else np.zeros(p.shape)
    return np.asarray(min(accept + 1, n) + going_on)
