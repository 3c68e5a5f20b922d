"""Sheet and biscuits: is the process in control, and does it lie in its limits."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from runtrue.stats.charts import (
    FEWEST_POINTS,
    Baseline,
    Capability,
    Signal,
    capability,
    individuals,
    mean_change,
    phase_one,
    signals,
)
from runtrue.stats.checks import vector
from runtrue.types import Verdict

_Array = NDArray[np.float64]

RULES = ("beyond_3_sigma", "eight_on_one_side")
"""Told, but not judged by: over forty readings one of the two speaks for nothing in a fifth of all processes."""
RISK = 0.01
"""Chance that a steady process is called out by its furthest reading, and again by a changed mean (our choice)."""
DOF_SHARE = 0.62
"""Degrees of freedom of a mean moving range over n - 1 (NIST/SEMATECH; a statistics package's help, read)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Process:
    """Readings in order: their baseline, the patterns worth a look, the change of the mean, the capability in the
    limits.

    ``change`` holds the places between which the first reading of another mean lies, None where there is none.
    ``verdict``: fail out of control (``wild`` readings further off than chance allows among so many, or a changed
    mean), or capability surely below what is asked; pass in control and, where there are limits, surely not below;
    else cannot judge.
    """

    values: _Array
    baseline: Baseline
    signals: tuple[Signal, ...]
    wild: tuple[int, ...]
    change: tuple[int, int] | None
    lower: _Array
    upper: _Array
    capability: Capability | None
    verdict: Verdict
    reason: str


def process(values: _Array, *, lower: float | None = None, upper: float | None = None, asked: float = 1.33) -> Process:
    """Chart and capability of single readings.

    Parameters
    ----------
    values : array (n)
        In the order they were taken, 5 or more, SI
    lower, upper : float, optional
        Limits; capability is None without one
    asked : float
        Least Cpk [-]; 1.33 is common practice

    Returns
    -------
    found : Process

    Examples
    --------
    >>> import numpy as np
    >>> made = 0.180 + 0.001 * np.random.default_rng(1).standard_normal(40)
    >>> str(process(made, lower=0.170, upper=0.190).verdict)
    'pass'

    References
    ----------
    .. [1] NIST/SEMATECH e-Handbook 6.1.6 and 6.3.2.2.
    """
    from scipy.special import stdtrit

    x = vector("values", values, least=5)
    base = phase_one(x)
    chart, _ = individuals(x, baseline=base)
    found = signals(chart.z, RULES) if base.sigma > 0.0 else ()
    index = None
    if (lower is not None or upper is not None) and base.sigma > 0.0:
        kept = len(base.kept)
        index = capability(
            base.centre, base.sigma, kept, lower=lower, upper=upper, dof=max(DOF_SHARE * (kept - 1), 1.0)
        )
    wild: tuple[int, ...] = ()
    change: tuple[int, int] | None = None
    if len(base.kept) + len(base.left_out) >= FEWEST_POINTS and base.sigma > 0.0:
        edge = -float(stdtrit(max(DOF_SHARE * (len(base.kept) - 1), 1.0), RISK / 2.0 / x.size))
        wild = tuple(int(k) for k in np.flatnonzero(np.abs(chart.z) > edge))
        few = len(wild) <= 0.1 * x.size  # many are no wild readings but another level
        places = np.delete(np.arange(x.size), wild) if few else np.arange(x.size)
        found_change = mean_change(x[places])
        if found_change.p_value < RISK:
            low, high = found_change.interval
            change = int(places[low]), int(places[min(high, places.size - 1)])
        wild = wild if few else ()
    verdict, reason = _verdict(base, wild, change)
    if verdict is Verdict.PASS and index is not None:
        verdict, reason = _capable(index, asked)
    return Process(
        values=x, baseline=base, signals=found, wild=wild, change=change, lower=chart.lower, upper=chart.upper,
        capability=index, verdict=verdict, reason=reason,
    )  # fmt: skip


def _verdict(base: Baseline, wild: tuple[int, ...], change: tuple[int, int] | None) -> tuple[Verdict, str]:
    if change is not None:
        low, high = change
        where = f"at reading {low + 1}" if low == high else f"between readings {low + 1} and {high + 1}"
        return Verdict.FAIL, f"out of control: the mean changed {where}"
    if base.verdict is not Verdict.PASS or base.sigma <= 0.0:
        word = base.verdict if base.verdict is Verdict.FAIL else Verdict.CANNOT_JUDGE
        return word, base.reason or "all readings are equal: the gauge is too coarse"
    if wild:
        return Verdict.FAIL, f"out of control: reading {wild[0] + 1} lies further off than chance allows"
    return Verdict.PASS, "in control; no limit was given"


def _capable(index: Capability, asked: float) -> tuple[Verdict, str]:
    low, high = index.cpk_interval
    if low >= asked:
        return Verdict.PASS, "in control, and its capability is surely enough"
    if high < asked:
        return Verdict.FAIL, "in control, but its capability is surely too small"
    return Verdict.CANNOT_JUDGE, "in control; more readings tell whether its capability is enough"
