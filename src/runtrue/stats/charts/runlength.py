r"""Average run lengths, computed: how many points until a chart speaks, in control and after a shift.

All shifts are in standard deviations of a plotted value and stand from the first point on.
"""

from collections.abc import Callable
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from runtrue.errors import unknown_name
from runtrue.stats.charts.rules import WESTERN_ELECTRIC
from runtrue.stats.checks import within

_Array = NDArray[np.float64]
_State = tuple[tuple[bool, ...], tuple[bool, ...], tuple[bool, ...], tuple[bool, ...], int]


def shewhart_arl(shift: float = 0.0, width: float = 3.0) -> float:
    r"""Run length of a chart with limits at +-width sigma.

    .. math:: ARL = 1 / [\Phi(-w + \delta) + \Phi(-w - \delta)]

    Parameters
    ----------
    shift : float
        delta, in sigma
    width : float
        w, above 0, in sigma

    Returns
    -------
    arl : float
        Points

    Examples
    --------
    >>> shewhart_arl(), shewhart_arl(1.0)
    (370.4, 43.89)

    References
    ----------
    .. [1] NIST/SEMATECH e-Handbook 6.3.2 prints 371 for 370.4.
    """
    within("shift", shift)
    within("width", width, 0.0, above=True)
    return 1.0 / float(ndtr(-width + shift) + ndtr(-width - shift))


def cusum_arl(k: float, h: float, shift: float = 0.0, *, head_start: float = 0.0, two_sided: bool = True) -> float:
    r"""Run length of a CUSUM.

    .. math:: L(z) = 1 + L(0) \Phi(k - z - \delta) + \int_0^h L(x) \, \varphi(x + k - z - \delta) \, dx

    solved by Gauss-Legendre quadrature. Two sides: with L+_h, L-_h from the head start and L+, L- from zero,

    .. math:: L = \frac{L^+_h L^- + L^+ L^-_h - L^+ L^-}{L^+ + L^-}

    Parameters
    ----------
    k, h : float
        Slack (any number for one side, 0 or more for two) and decision limit, above 0, in sigma
    shift : float
        In sigma
    head_start : float
        0 or more and below h, in sigma
    two_sided : bool
        Published tables mix the two; in control the one-sided run is twice as long

    Returns
    -------
    arl : float
        Points

    Examples
    --------
    >>> cusum_arl(0.5, 4.0), cusum_arl(0.5, 4.0, two_sided=False), cusum_arl(0.5, 4.0, 1.0)
    (167.7, 335.4, 8.38)

    References
    ----------
    .. [1] Page 1954; Lucas and Crosier, Technometrics 24 (1982) 199, Table 1: 168 and 8.38.
    """
    within("k", k, 0.0 if two_sided else -np.inf)
    within("h", h, 0.0, above=True)
    within("shift", shift)
    within("head_start", head_start, 0.0, h, below=True)
    up_zero, up_head = _one_sided(k, h, shift, head_start)
    if not two_sided:
        return up_head
    down_zero, down_head = _one_sided(k, h, -shift, head_start)
    # divided through by both, so that a side that practically never speaks cannot overflow
    return (up_head / up_zero + down_head / down_zero - 1.0) / (1.0 / up_zero + 1.0 / down_zero)


def ewma_arl(weight: float, width: float, shift: float = 0.0) -> float:
    r"""Run length of a two-sided EWMA with steady-state limits.

    .. math:: L(z) = 1 + \frac{1}{\lambda} \int_{-h}^{h} L(x) \,
              \varphi\left( \frac{x - (1 - \lambda) z}{\lambda} - \delta \right) dx, \quad
              h = w \sqrt{\lambda / (2 - \lambda)}

    Parameters
    ----------
    weight : float
        lambda, above 0 and up to 1 [-]
    width : float
        In sigma of the average, above 0
    shift : float
        In sigma of a value

    Returns
    -------
    arl : float
        Points

    Examples
    --------
    >>> ewma_arl(0.5, 3.071), ewma_arl(0.1, 2.814, 1.0)
    (499.9, 10.33)

    References
    ----------
    .. [1] Crowder, Technometrics 29 (1987) 401; Lucas and Saccucci, Technometrics 32 (1990) 1, Table 3: 500 and 10.3.
    """
    within("weight", weight, 0.0, 1.0, above=True)
    within("width", width, 0.0, above=True)
    within("shift", shift)
    h = width * np.sqrt(weight / (2.0 - weight))
    if weight == 1.0:
        return shewhart_arl(shift, width)
    count = int(min(600, max(60, np.ceil(8.0 * 2.0 * h / weight))))
    nodes, weights = np.polynomial.legendre.leggauss(count)
    x, w = h * nodes, h * weights
    kernel = _density((x - (1.0 - weight) * x[:, np.newaxis]) / weight - shift) * w / weight
    lengths = np.linalg.solve(np.eye(count) - kernel, np.ones(count))
    from_zero = _density(x / weight - shift) * w / weight
    return 1.0 + float(from_zero @ lengths)


def rules_arl(rules: tuple[str, ...] = WESTERN_ELECTRIC, shift: float = 0.0) -> float:
    """Run length of a three-sigma chart under some of the Western Electric rules, exactly, as a Markov chain.

    Parameters
    ----------
    rules : tuple of str
        Names from :data:`runtrue.stats.charts.rules.WESTERN_ELECTRIC`
    shift : float
        In sigma

    Returns
    -------
    arl : float
        Points

    Examples
    --------
    >>> rules_arl(), rules_arl(("beyond_3_sigma",))
    (91.75, 370.4)

    References
    ----------
    .. [1] Champ and Woodall, Technometrics 29 (1987) 393: 91.75.
    """
    within("shift", shift)
    for name in rules:
        if name not in WESTERN_ELECTRIC:
            raise unknown_name("rule with a computed run length", name, WESTERN_ELECTRIC)
    moves = _chain(tuple(sorted(rules)))
    edges = np.array([-np.inf, -3.0, -2.0, -1.0, 0.0, 1.0, 2.0, 3.0, np.inf])
    zone = np.diff(ndtr(edges - shift))
    size = moves.shape[0]
    stay = np.eye(size)
    for number in range(8):
        inside = np.flatnonzero(moves[:, number] >= 0)
        np.subtract.at(stay, (inside, moves[inside, number]), zone[number])
    return float(np.linalg.solve(stay, np.ones(size))[0])


def limit_for(arl: float, run_length: Callable[[float], float], low: float = 0.5, high: float = 8.0) -> float:
    """Limit at which a chart's run length is the one asked for.

    Parameters
    ----------
    arl : float
        Wanted, above 1
    run_length : callable
        Run length for a limit, rising; as ``lambda h: cusum_arl(0.5, h)``
    low, high : float
        Limits between which to look

    Returns
    -------
    limit : float

    Examples
    --------
    >>> limit_for(500.0, lambda width: ewma_arl(0.5, width))
    3.071
    """
    from scipy.optimize import brentq

    within("arl", arl, run_length(low), run_length(high))
    return float(brentq(lambda limit: np.log(run_length(limit) / arl), low, high, xtol=1e-6))


def _one_sided(k: float, h: float, shift: float, head_start: float) -> tuple[float, float]:
    """Run length of one side from zero and from the head start."""
    count = int(min(400, max(40, np.ceil(12.0 * h))))
    nodes, weights = np.polynomial.legendre.leggauss(count)
    x, w = 0.5 * h * (nodes + 1.0), 0.5 * h * weights
    start = np.concatenate([[0.0, head_start], x])[:, np.newaxis]
    matrix = np.zeros((count + 2, count + 2))
    matrix[:, 0] = ndtr(k - start[:, 0] - shift)
    matrix[:, 2:] = _density(x + k - start - shift) * w
    lengths = np.linalg.solve(np.eye(count + 2) - matrix, np.ones(count + 2))
    if not np.all(lengths[:2] >= 1.0 - 1e-9) or not np.all(np.isfinite(lengths[:2])):
        return 1e300, 1e300  # the chain is left so rarely that the matrix is singular to the last digit
    return float(lengths[0]), float(lengths[1])


def _density(z: _Array) -> _Array:
    return np.asarray(np.exp(-0.5 * z * z) / np.sqrt(2.0 * np.pi))


@lru_cache(maxsize=16)
def _chain(rules: tuple[str, ...]) -> NDArray[np.int64]:
    """Next state for each state and zone, -1 for a signal. Zones 0..7 lie between -inf, -3, ..., 3, inf.

    A state is, for each side, the flags of the last four points beyond 1 sigma and of the last two beyond 2 sigma, and
    the length of the run on one side; what no rule asks for is dropped, so equal futures are one state.
    """
    two, four, eight = (
        "two_of_three_beyond_2_sigma" in rules,
        "four_of_five_beyond_1_sigma" in rules,
        "eight_on_one_side" in rules,
    )
    start: _State = ((), (), (), (), 0)
    index: dict[_State, int] = {start: 0}
    queue: list[_State] = [start]
    table: list[list[int]] = []
    while queue:
        state = queue.pop(0)
        row = []
        for zone in range(8):
            after = _after(state, zone, two=two, four=four, eight=eight)
            if after is None or (zone in (0, 7) and "beyond_3_sigma" in rules):
                row.append(-1)
                continue
            if after not in index:
                index[after] = len(index)
                queue.append(after)
            row.append(index[after])
        table.append(row)
    return np.array(table)


def _after(state: _State, zone: int, *, two: bool, four: bool, eight: bool) -> _State | None:
    """State after a point in the zone; None when a pattern is complete."""
    up2, low2, up1, low1, run = state
    up = zone >= 4
    if two:
        up2, low2 = (*up2, zone >= 6), (*low2, zone <= 1)
        if (up2[-1] and sum(up2) >= 2) or (low2[-1] and sum(low2) >= 2):
            return None
    if four:
        up1, low1 = (*up1, zone >= 5), (*low1, zone <= 2)
        if (up1[-1] and sum(up1) >= 4) or (low1[-1] and sum(low1) >= 4):
            return None
    if eight:
        run = run + 1 if up and run > 0 else run - 1 if not up and run < 0 else (1 if up else -1)
        if abs(run) >= 8:
            return None
    return _trim(up2, 2), _trim(low2, 2), _trim(up1, 4), _trim(low1, 4), run


def _trim(flags: tuple[bool, ...], most: int) -> tuple[bool, ...]:
    """Last ``most`` flags without leading False."""
    kept = flags[-most:]
    while kept and not kept[0]:
        kept = kept[1:]
    return kept
