r"""Is the one better than the other: shares, values, pair by pair, and how many records it takes to know."""

from dataclasses import dataclass
from enum import StrEnum
from math import ceil, log, sqrt

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import ndtr, ndtri

from runtrue.errors import InputError
from runtrue.stats.checks import vector, whole, within

_Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class SharesCompared:
    """First share minus second with Newcombe's interval; two-sided probabilities of Fisher and of Boschloo.

    Fisher's is exact but timid; Boschloo's is exact too and never larger.
    """

    first: float
    second: float
    difference: float
    interval: tuple[float, float]
    fisher: float
    boschloo: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ValuesCompared:
    """Mann-Whitney: U of the first, two-sided probability, shift (first minus second) with interval, and how often a
    value of the first lies above one of the second (ties half).
    """

    u: float
    p_value: float
    shift: float
    interval: tuple[float, float]
    superiority: float
    exact: bool


class Better(StrEnum):
    """What a sequential comparison says."""

    FIRST = "first"
    SECOND = "second"
    NO_DIFFERENCE = "no_difference"
    GO_ON = "go_on"


def compare_shares(bad: tuple[int, int], n: tuple[int, int], *, confidence: float = 0.95) -> SharesCompared:
    r"""Two shares of bad records.

    Newcombe's interval joins the score intervals (l, u) of the two shares:

    .. math:: d - \sqrt{(p_1 - l_1)^2 + (u_2 - p_2)^2} \;\dots\; d + \sqrt{(u_1 - p_1)^2 + (p_2 - l_2)^2}

    Parameters
    ----------
    bad, n : pair of int
        Bad records and sample of the first and of the second, 0 <= bad <= n, n 1 or more
    confidence : float
        Above 0 and below 1 [-]

    Returns
    -------
    compared : SharesCompared

    Examples
    --------
    >>> found = compare_shares((56, 48), (70, 80))
    >>> found.difference, found.interval
    (0.2, (0.0524, 0.3339))

    References
    ----------
    .. [1] Newcombe, Statistics in Medicine 17 (1998) 873, method 10, example (a); Boschloo, Statistica Neerlandica 24
       (1970) 1.
    """
    from scipy.stats import boschloo_exact, fisher_exact

    within("confidence", confidence, 0.0, 1.0, above=True, below=True)
    for x, size in zip(bad, n, strict=True):
        whole("n", size, 1)
        whole("bad", x, 0, size)
    table = np.array([[bad[0], bad[1]], [n[0] - bad[0], n[1] - bad[1]]])
    p1, p2 = bad[0] / n[0], bad[1] / n[1]
    (l1, u1), (l2, u2) = (score_interval(x, size, confidence) for x, size in zip(bad, n, strict=True))
    difference = p1 - p2
    fisher = float(fisher_exact(table).pvalue)
    one_kind = sum(bad) in (0, sum(n))
    return SharesCompared(
        first=p1,
        second=p2,
        difference=difference,
        interval=(
            difference - sqrt((p1 - l1) ** 2 + (u2 - p2) ** 2),
            difference + sqrt((u1 - p1) ** 2 + (p2 - l2) ** 2),
        ),
        fisher=fisher,
        boschloo=1.0 if one_kind else min(fisher, float(boschloo_exact(table).pvalue)),
    )


def score_interval(bad: int, n: int, confidence: float = 0.95) -> tuple[float, float]:
    r"""Wilson's score interval for a share.

    .. math:: \frac{2 n p + z^2 \pm z \sqrt{z^2 + 4 n p q}}{2 (n + z^2)}

    Parameters
    ----------
    bad, n : int
        0 <= bad <= n, n 1 or more
    confidence : float
        Above 0 and below 1 [-]; held on average over p, not for each p

    Returns
    -------
    low, high : float
        Shares [-]

    Examples
    --------
    >>> score_interval(81, 263)
    (0.2553, 0.3662)

    References
    ----------
    .. [1] Newcombe, Statistics in Medicine 17 (1998) 857, method 3, example 81/263.
    """
    whole("n", n, 1)
    whole("bad", bad, 0, n)
    within("confidence", confidence, 0.0, 1.0, above=True, below=True)
    z = float(ndtri(0.5 + confidence / 2.0))
    p = bad / n
    middle, half = 2.0 * n * p + z * z, z * sqrt(z * z + 4.0 * n * p * (1.0 - p))
    below = 2.0 * (n + z * z)
    low = 0.0 if bad == 0 else (middle - half) / below
    high = 1.0 if bad == n else (middle + half) / below
    return low, high


def compare_values(first: ArrayLike, second: ArrayLike, *, confidence: float = 0.95) -> ValuesCompared:
    r"""Two samples of values without a law for them (Mann-Whitney, Hodges-Lehmann).

    The shift is the median of all differences; its interval runs from the C-th smallest to the C-th largest of them,
    with C from the exact distribution of U (up to 60 values each and no ties), else from its Gaussian form with the
    correction for ties.

    Parameters
    ----------
    first, second : array_like
        2 values or more each
    confidence : float
        Above 0 and below 1 [-]; held at least

    Returns
    -------
    compared : ValuesCompared

    Examples
    --------
    >>> x = [0.80, 0.83, 1.89, 1.04, 1.45, 1.38, 1.91, 1.64, 0.73, 1.46]
    >>> found = compare_values(x, [1.15, 0.88, 0.90, 0.74, 1.21])
    >>> found.u, found.p_value, found.shift, found.interval
    (35.0, 0.2544, 0.305, (-0.15, 0.76))

    References
    ----------
    .. [1] Hollander and Wolfe, Nonparametric Statistical Methods, 1973, p. 69 (permeability of the placenta).
    """
    x, y = vector("first", first, least=2), vector("second", second, least=2)
    within("confidence", confidence, 0.0, 1.0, above=True, below=True)
    n, m = x.size, y.size
    differences = np.sort((x[:, np.newaxis] - y).ravel())
    u = float((differences > 0.0).sum() + 0.5 * (differences == 0.0).sum())
    values, times = np.unique(np.concatenate([x, y]), return_counts=True)
    exact = values.size == n + m and max(n, m) <= 60
    ties = float((times.astype(float) ** 3 - times).sum())
    total = n + m
    deviation = sqrt(n * m / 12.0 * ((total + 1.0) - ties / (total * (total - 1.0))))
    alpha = 1.0 - confidence
    if exact:
        cumulative = _u_distribution(n, m)
        p_value = min(1.0, 2.0 * float(cumulative[int(min(u, n * m - u))]))
        place = int(np.searchsorted(cumulative, alpha / 2.0, side="right"))
    else:
        off = max(abs(u - n * m / 2.0) - 0.5, 0.0)
        p_value = min(1.0, 2.0 * float(ndtr(-off / deviation))) if deviation > 0.0 else 1.0
        place = max(0, int(np.floor(n * m / 2.0 - float(ndtri(1.0 - alpha / 2.0)) * deviation - 0.5)) + 1)
    if place < 1:
        low, high = -np.inf, np.inf
    else:
        low, high = float(differences[place - 1]), float(differences[-place])
    return ValuesCompared(
        u=u,
        p_value=p_value,
        shift=float(np.median(differences)),
        interval=(low, high),
        superiority=u / (n * m),
        exact=exact,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class PairedPlan:
    """Sequential comparison, pair by pair; pairs in which both are good or both bad do not count.

    With w pairs won by the first less those won by the second: the first is better at w >= ``lead``, the second at
    w <= -``lead``; after ``most`` counting pairs without a lead there is no difference worth naming.
    """

    ratio: float
    risk: float
    lead: int
    most: int

    def decide(self, first_won: int, second_won: int) -> Better:
        """Word after so many counting pairs."""
        whole("first_won", first_won, 0)
        whole("second_won", second_won, 0)
        ahead = first_won - second_won
        if abs(ahead) >= self.lead:
            return Better.FIRST if ahead > 0 else Better.SECOND
        return Better.NO_DIFFERENCE if first_won + second_won >= self.most else Better.GO_ON

    def chances(self, share_first: float) -> dict[Better, float]:
        """Probability of each word when the first wins the share of the counting pairs, exactly."""
        within("share_first", share_first, 0.0, 1.0)
        width = 2 * self.lead + 1
        alive = np.zeros(width)
        alive[self.lead] = 1.0
        first = second = 0.0
        for _ in range(self.most):
            stepped = np.zeros(width)
            stepped[1:] += alive[:-1] * share_first
            stepped[:-1] += alive[1:] * (1.0 - share_first)
            first, second = first + stepped[-1], second + stepped[0]
            stepped[0] = stepped[-1] = 0.0
            alive = stepped
        return {Better.FIRST: float(first), Better.SECOND: float(second), Better.NO_DIFFERENCE: float(alive.sum())}


def paired_plan(ratio: float, *, risk: float = 0.05, most: int | None = None) -> PairedPlan:
    r"""Plan that tells apart two ways of making when one has ``ratio`` times the odds of winning a counting pair.

    .. math:: lead = \left\lceil \frac{\ln((1 - \alpha) / \alpha)}{\ln \psi} \right\rceil

    Parameters
    ----------
    ratio : float
        psi, above 1: 2 for a way that wins twice as often as it loses
    risk : float
        alpha, of naming the wrong one, above 0 and below 0.5 [-]
    most : int, optional
        Counting pairs after which to stop; by default three times the square of the lead

    Returns
    -------
    plan : PairedPlan

    Examples
    --------
    >>> plan = paired_plan(2.0)
    >>> plan.lead, str(plan.decide(6, 1)), str(plan.decide(5, 3))
    (5, 'first', 'go_on')

    References
    ----------
    .. [1] Wald, Sequential Analysis, 1947, chapter 6 (double dichotomies), symmetric case.
    """
    within("ratio", ratio, 1.0, above=True)
    within("risk", risk, 0.0, 0.5, above=True, below=True)
    lead = max(1, ceil(log((1.0 - risk) / risk) / log(ratio) - 1e-9))
    if most is None:
        most = 3 * lead * lead
    whole("most", most, lead)
    return PairedPlan(ratio=ratio, risk=risk, lead=lead, most=most)


def sample_size_shares(first: float, second: float, *, risk: float = 0.05, power: float = 0.80) -> int:
    r"""Records in each of two samples that show a difference of shares.

    .. math:: n = \frac{\left( z_{1-\alpha/2} \sqrt{2 \bar p \bar q} + z_{power}
              \sqrt{p_1 q_1 + p_2 q_2} \right)^2}{(p_1 - p_2)^2}

    Parameters
    ----------
    first, second : float
        Shares, different, above 0 and below 1 [-]
    risk, power : float
        Two-sided alpha and 1 - beta, above 0 and below 1 [-]

    Returns
    -------
    n : int
        In each sample

    Examples
    --------
    >>> sample_size_shares(0.10, 0.05)
    435

    References
    ----------
    .. [1] Fleiss, Levin and Paik, Statistical Methods for Rates and Proportions, 3rd edition, (4.14) without the
       correction for continuity.
    """
    within("first", first, 0.0, 1.0, above=True, below=True)
    within("second", second, 0.0, 1.0, above=True, below=True)
    within("risk", risk, 0.0, 1.0, above=True, below=True)
    within("power", power, 0.0, 1.0, above=True, below=True)
    if first == second:
        raise InputError("first and second must differ: no sample shows a difference that is not there")
    mean = 0.5 * (first + second)
    a = float(ndtri(1.0 - risk / 2.0)) * sqrt(2.0 * mean * (1.0 - mean))
    b = float(ndtri(power)) * sqrt(first * (1.0 - first) + second * (1.0 - second))
    return ceil((a + b) ** 2 / (first - second) ** 2)


def sample_size_means(difference: float, sigma: float, *, risk: float = 0.05, power: float = 0.80) -> int:
    r"""Records in each of two samples that show a difference of means by Student's test, exactly.

    Least n whose noncentral t, with 2 n - 2 degrees of freedom and noncentrality (difference / sigma) sqrt(n / 2), lies
    beyond the two-sided limit with the power.

    Parameters
    ----------
    difference : float
        Not 0
    sigma : float
        Standard deviation of a value, above 0
    risk, power : float
        Above 0 and below 1 [-]

    Returns
    -------
    n : int
        In each sample, 2 or more

    Examples
    --------
    >>> sample_size_means(0.5, 1.0), sample_size_means(0.8, 1.0)
    (64, 26)

    References
    ----------
    .. [1] Cohen, Statistical Power Analysis, 2nd edition 1988, Table 2.4.1: 64 and 26.
    """
    from scipy.special import nctdtr, stdtrit

    within("sigma", sigma, 0.0, above=True)
    within("risk", risk, 0.0, 1.0, above=True, below=True)
    within("power", power, 0.0, 1.0, above=True, below=True)
    if difference == 0.0:
        raise InputError("difference must not be 0: no sample shows a difference that is not there")
    d = abs(difference) / sigma

    def reached(n: int) -> float:
        limit = float(stdtrit(2 * n - 2, 1.0 - risk / 2.0))
        away = d * sqrt(n / 2.0)
        return 1.0 - float(nctdtr(2 * n - 2, away, limit)) + float(nctdtr(2 * n - 2, away, -limit))

    guess = 2.0 * ((float(ndtri(1.0 - risk / 2.0)) + float(ndtri(power))) / d) ** 2
    n = max(2, int(guess) - 5)
    while n > 2 and reached(n) >= power:
        n -= 1
    while reached(n) < power:
        n += 1
    return n


def _u_distribution(n: int, m: int) -> _Array:
    """Distribution function of Mann-Whitney's U without ties, at 0 .. n m."""
    ways = np.zeros(n * m + 1)
    ways[0] = 1.0
    for i in range(1, n + 1):
        # multiply by (1 - q^(m + i)) / (1 - q^i): Gaussian binomial coefficient
        up = ways.copy()
        if m + i <= n * m:
            up[m + i :] -= ways[: n * m + 1 - m - i]
        for start in range(i):
            up[start::i] = np.cumsum(up[start::i])
        ways = up
    return np.asarray(np.cumsum(ways) / ways.sum())
