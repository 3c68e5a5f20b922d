r"""Run rules by name: patterns in a chart that chance would rarely make."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from runtrue.errors import unknown_name
from runtrue.stats.checks import vector

_Array = NDArray[np.float64]
_Flags = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """``needed`` of ``among`` points in a row show the pattern."""

    name: str
    words: str
    needed: int
    among: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Signal:
    """A rule that spoke: the position of the point that completed the pattern, and of the first point of it."""

    rule: str
    at: int
    begins: int


_RULES = (
    Rule(name="beyond_3_sigma", words="one point beyond 3 sigma", needed=1, among=1),
    Rule(name="two_of_three_beyond_2_sigma", words="2 of 3 beyond 2 sigma, same side", needed=2, among=3),
    Rule(name="four_of_five_beyond_1_sigma", words="4 of 5 beyond 1 sigma, same side", needed=4, among=5),
    Rule(name="eight_on_one_side", words="8 in a row on one side", needed=8, among=8),
    Rule(name="nine_on_one_side", words="9 in a row on one side", needed=9, among=9),
    Rule(name="six_in_a_trend", words="6 in a row steadily rising or falling", needed=6, among=6),
    Rule(name="fourteen_alternating", words="14 in a row going up and down in turn", needed=14, among=14),
    Rule(name="fifteen_within_1_sigma", words="15 in a row within 1 sigma", needed=15, among=15),
    Rule(name="eight_beyond_1_sigma", words="8 in a row beyond 1 sigma, on both sides", needed=8, among=8),
)
RULES = {rule.name: rule for rule in _RULES}
"""All rules by name."""
WESTERN_ELECTRIC = tuple(rule.name for rule in _RULES[:4])
"""The four rules of the Western Electric handbook (1956), as NIST/SEMATECH e-Handbook 6.3.2 lists them."""
NELSON = (
    "beyond_3_sigma",
    "nine_on_one_side",
    "six_in_a_trend",
    "fourteen_alternating",
    "two_of_three_beyond_2_sigma",
    "four_of_five_beyond_1_sigma",
    "fifteen_within_1_sigma",
    "eight_beyond_1_sigma",
)
"""The eight tests of Nelson, J. Quality Technology 16 (1984) 237 (from memory), in their order."""


def signals(z: ArrayLike, rules: tuple[str, ...] = WESTERN_ELECTRIC) -> tuple[Signal, ...]:
    """Where the rules speak, in the order of the points.

    Parameters
    ----------
    z : array_like
        Points in standard deviations from the centre line (``Chart.z``) [-]
    rules : tuple of str
        Names from :data:`RULES`

    Returns
    -------
    signals : tuple of Signal

    Notes
    -----
    More rules find a shift sooner and speak more often for nothing: with all four of Western Electric once in 92
    points, against once in 370 with the first alone (:func:`runtrue.stats.charts.runlength.rules_arl`).

    Examples
    --------
    >>> signals([0.1, 2.2, 0.4, 2.3])
    (Signal(rule='two_of_three_beyond_2_sigma', at=3, begins=1),)
    """
    points = vector("z", z)
    found: list[Signal] = []
    for name in rules:
        if name not in RULES:
            raise unknown_name("run rule", name, list(RULES))
        among = RULES[name].among
        found += [Signal(rule=name, at=int(i), begins=int(i) - among + 1) for i in np.flatnonzero(_hits(points, name))]
    return tuple(sorted(found, key=lambda signal: (signal.at, rules.index(signal.rule))))


def _hits(z: _Array, name: str) -> _Flags:
    """True where the rule's pattern ends."""
    rule = RULES[name]
    if name == "six_in_a_trend":
        step = np.diff(z, prepend=z[:1])
        return np.asarray((_count(step > 0.0, 5) == 5) | (_count(step < 0.0, 5) == 5))
    if name == "fourteen_alternating":
        step = np.diff(z, prepend=z[:1])
        turns = np.zeros(z.size, dtype=bool)
        turns[2:] = step[2:] * step[1:-1] < 0.0
        return np.asarray(_count(turns, 12) == 12)
    if name == "fifteen_within_1_sigma":
        return np.asarray(_count(np.abs(z) < 1.0, 15) == 15)
    if name == "eight_beyond_1_sigma":
        both = (_count(z > 1.0, 8) > 0) & (_count(z < -1.0, 8) > 0)
        return np.asarray((_count(np.abs(z) > 1.0, 8) == 8) & both)
    edge = {"beyond_3_sigma": 3.0, "two_of_three_beyond_2_sigma": 2.0, "four_of_five_beyond_1_sigma": 1.0}.get(
        name, 0.0
    )
    above, below = z > edge, z < -edge
    full = np.arange(z.size) >= rule.needed - 1
    high = (_count(above, rule.among) >= rule.needed) & above
    low = (_count(below, rule.among) >= rule.needed) & below
    return np.asarray((high | low) & full)


def _count(flags: _Flags, window: int) -> NDArray[np.int64]:
    """Number of True among the last ``window`` at each place."""
    total = np.concatenate([[0], np.cumsum(flags)])
    start = np.maximum(np.arange(flags.size) + 1 - window, 0)
    return np.asarray(total[1:] - total[start])
