r"""Wald's sequential test for a share of bad records: decide after every record, with the two risks kept."""

from dataclasses import dataclass
from enum import StrEnum
from math import ceil, floor, log

import numpy as np
from numpy.typing import ArrayLike, NDArray

from runtrue.errors import InputError
from runtrue.stats.checks import whole, within

_Array = NDArray[np.float64]


class Decision(StrEnum):
    """What the sequential test says after a record."""

    ACCEPT = "accept"
    REFUSE = "refuse"
    GO_ON = "go_on"


@dataclass(frozen=True, slots=True, kw_only=True)
class SequentialPlan:
    """Accept when d <= s n - h1, refuse when d >= s n + h2 (d bad among n), else go on.

    ``good`` and ``bad`` are the two qualities, with ``producer_risk`` of refusing the first and ``consumer_risk`` of
    accepting the second. At ``most`` records the test is cut off: the nearer line decides (None: never).
    """

    good: float
    bad: float
    producer_risk: float
    consumer_risk: float
    k: float
    h1: float
    h2: float
    s: float
    most: int | None = None

    def accept_number(self, n: int) -> int:
        """Largest d that accepts after n records; -1 while none does."""
        whole("n", n, 1)
        if self.most is not None and n >= self.most:
            return self.refuse_number(n) - 1
        return max(floor(self.s * n - self.h1 + 1e-9), -1)

    def refuse_number(self, n: int) -> int:
        """Least d that refuses after n records; above n while none does."""
        whole("n", n, 1)
        if self.most is not None and n >= self.most:
            return floor(self.s * n + (self.h2 - self.h1) / 2.0) + 1
        return ceil(self.s * n + self.h2 - 1e-9)

    def decide(self, found: int, n: int) -> Decision:
        """Decision with ``found`` bad among the first n."""
        whole("found", found, 0, n)
        if found <= self.accept_number(n):
            return Decision.ACCEPT
        return Decision.REFUSE if found >= self.refuse_number(n) else Decision.GO_ON


def sequential_plan(
    good: float, bad: float, *, producer_risk: float = 0.05, consumer_risk: float = 0.10, most: int | None = None
) -> SequentialPlan:
    r"""Lines of Wald's test.

    .. math:: k = \ln \frac{p_2 (1 - p_1)}{p_1 (1 - p_2)}, \quad h_1 = \frac{1}{k} \ln \frac{1 - \alpha}{\beta},
              \quad h_2 = \frac{1}{k} \ln \frac{1 - \beta}{\alpha}, \quad s = \frac{1}{k} \ln \frac{1 - p_1}{1 - p_2}

    Parameters
    ----------
    good, bad : float
        p1 < p2, above 0 and below 1 [-]
    producer_risk, consumer_risk : float
        alpha, beta, above 0, their sum below 1 [-]
    most : int, optional
        Cut off after this many; three times the equal single sample is common practice

    Returns
    -------
    plan : SequentialPlan
        With its lines

    Examples
    --------
    >>> plan = sequential_plan(0.01, 0.10)
    >>> plan.h1, plan.h2, plan.s
    (0.939, 1.205, 0.0397)
    >>> str(plan.decide(0, 23)), str(plan.decide(0, 24))
    ('go_on', 'accept')

    References
    ----------
    .. [1] Wald, Sequential Analysis, 1947; NIST/SEMATECH e-Handbook 6.2.6 prints the same lines (from memory).
    """
    within("good", good, 0.0, bad, above=True, below=True)
    within("bad", bad, good, 1.0, above=True, below=True)
    within("consumer_risk", consumer_risk, 0.0, 1.0, above=True, below=True)
    within("producer_risk", producer_risk, 0.0, 1.0 - consumer_risk, above=True, below=True)
    if most is not None:
        whole("most", most, 1)
    k = log(bad * (1.0 - good) / (good * (1.0 - bad)))
    return SequentialPlan(
        good=good,
        bad=bad,
        producer_risk=producer_risk,
        consumer_risk=consumer_risk,
        k=k,
        h1=log((1.0 - producer_risk) / consumer_risk) / k,
        h2=log((1.0 - consumer_risk) / producer_risk) / k,
        s=log((1.0 - good) / (1.0 - bad)) / k,
        most=most,
    )


def wald_curve(plan: SequentialPlan, h: ArrayLike) -> tuple[_Array, _Array, _Array]:
    r"""Wald's approximate curves along the parameter h: quality, probability of acceptance, average sample number.

    .. math:: p(h) = \frac{1 - b^h}{(p_2/p_1)^h - b^h}, \; b = \frac{1 - p_2}{1 - p_1}, \quad
              P_a = \frac{A^h - 1}{A^h - B^h}, \; A = \frac{1 - \beta}{\alpha}, \; B = \frac{\beta}{1 - \alpha}

    h = 1 is the good quality, -1 the bad one, 0 the slope s. The overshoot of the lines is left out, so the true risks
    are a little smaller; :func:`exact_curve` leaves nothing out.

    Parameters
    ----------
    plan : SequentialPlan
        Its cut-off is not considered
    h : array_like
        Any number [-]

    Returns
    -------
    p, acceptance, asn : ndarray
        Same shape as h

    Examples
    --------
    >>> p, acceptance, asn = wald_curve(sequential_plan(0.01, 0.10), [1.0, 0.0, -1.0])
    >>> [round(float(number), 1) for number in asn]
    [28.0, 29.7, 16.4]

    References
    ----------
    .. [1] Wald, Sequential Analysis, 1947, (3:42) and (3:57); at h = 0 the limits.
    """
    h = np.asarray(h, dtype=np.float64)
    within("h", h)
    near = np.abs(h) < 1e-9
    hh = np.where(near, 1.0, h)
    ratio, b = plan.bad / plan.good, (1.0 - plan.bad) / (1.0 - plan.good)
    up, down = (
        log((1.0 - plan.consumer_risk) / plan.producer_risk),
        log(plan.consumer_risk / (1.0 - plan.producer_risk)),
    )
    p = np.where(near, plan.s, (1.0 - b**hh) / (ratio**hh - b**hh))
    acceptance = np.where(near, up / (up - down), np.expm1(up * hh) / (np.exp(up * hh) - np.exp(down * hh)))
    drift = p * log(ratio) + (1.0 - p) * log(b)
    walked = acceptance * down + (1.0 - acceptance) * up
    spread = p * log(ratio) ** 2 + (1.0 - p) * log(b) ** 2
    asn = np.where(near, -up * down / spread, walked / np.where(near, 1.0, drift))
    return p, acceptance, asn


def exact_curve(plan: SequentialPlan, p: ArrayLike) -> tuple[_Array, _Array]:
    """Exact probability of acceptance and average sample number of a plan with a cut-off, stepping record by record.

    Parameters
    ----------
    plan : SequentialPlan
        With ``most``
    p : array_like
        Share nonconforming, 0 to 1 [-]

    Returns
    -------
    acceptance, asn : ndarray
        Same shape as p

    Examples
    --------
    >>> acceptance, asn = exact_curve(sequential_plan(0.01, 0.10, most=156), [0.01, 0.10])
    >>> bool(acceptance[0] > 0.95), bool(acceptance[1] < 0.10)
    (True, True)

    References
    ----------
    .. [1] Plain recursion over the number of bad records still undecided.
    """
    if plan.most is None:
        raise InputError("exact_curve needs a plan that is cut off: give most")
    p = np.asarray(p, dtype=np.float64)
    within("p", p, 0.0, 1.0)
    share = p.ravel()
    width = plan.refuse_number(plan.most) + 2
    alive = np.zeros((share.size, width))
    alive[:, 0] = 1.0
    accepted, asn = np.zeros(share.size), np.zeros(share.size)
    for n in range(1, plan.most + 1):
        asn += alive.sum(axis=1)
        stepped = alive * (1.0 - share)[:, np.newaxis]
        stepped[:, 1:] += alive[:, :-1] * share[:, np.newaxis]
        cut = plan.accept_number(n) + 1
        accepted += stepped[:, :cut].sum(axis=1)
        stepped[:, :cut] = 0.0
        stepped[:, min(plan.refuse_number(n), width) :] = 0.0
        alive = stepped
    return accepted.reshape(p.shape), asn.reshape(p.shape)
