r"""Charts for measured values: single values with moving range, means with range or standard deviation, and phase I."""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from runtrue.errors import InputError
from runtrue.stats.charts.chart import FEWEST_POINTS, Chart, make_chart
from runtrue.stats.charts.constants import factors
from runtrue.stats.checks import vector, within
from runtrue.types import Verdict

_Array = NDArray[np.float64]

_MEDIAN_RANGE_OF_TWO = 0.9538725524
"""Median of the range of two over sigma: sqrt(2) times the normal 75 % point."""
_SIGMA_PER_MAD = 1.4826022185
"""Sigma over the median distance from the median: one over the normal 75 % point."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Baseline:
    """Centre and sigma of single values in control, and what phase I left out to get there.

    ``verdict``: pass, the kept points are in control; fail, more than a fifth had to be left out, so there is no stable
    process to take limits from; cannot judge, fewer than 15 points were kept.
    """

    centre: float
    sigma: float
    kept: tuple[int, ...]
    left_out: tuple[int, ...]
    verdict: Verdict
    reason: str = ""


def individuals(values: ArrayLike, *, baseline: Baseline | None = None) -> tuple[Chart, Chart]:
    r"""Chart of single values and of their moving ranges.

    .. math:: \bar x \pm 3 \, \overline{MR} / d_2(2), \qquad MR \le D_4(2) \, \overline{MR}

    Parameters
    ----------
    values : array_like
        In the order they were made, 2 or more
    baseline : Baseline, optional
        Limits from phase I; without it they come from the values themselves

    Returns
    -------
    values, ranges : Chart
        The second is one shorter

    Notes
    -----
    Exact factors are used: 2.6587 where handbooks round to 2.660.

    Examples
    --------
    >>> chart, ranges = individuals([49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1])
    >>> float(chart.centre[0]), float(chart.upper[0]), chart.judged
    (50.81, 55.802, False)

    References
    ----------
    .. [1] NIST/SEMATECH e-Handbook 6.3.2.2; its 55.8041 uses d2 = 1.128.
    """
    x = vector("values", values, least=2)
    ranges = np.abs(np.diff(x))
    pair = factors(2)
    if baseline is None:
        centre, sigma, used = float(x.mean()), float(ranges.mean()) / pair.d2, x.size
    else:
        centre, sigma, used = baseline.centre, baseline.sigma, len(baseline.kept)
    return (
        make_chart("individuals", x, centre=centre, sigma=sigma, used=used),
        make_chart(
            "moving range",
            ranges,
            centre=pair.d2 * sigma,
            sigma=pair.d3 * sigma,
            lower=0.0,
            upper=pair.D2 * sigma,
            used=used,
        ),
    )


def averages(
    subgroups: ArrayLike, *, spread: Literal["range", "deviation"] = "range", centre: float | None = None,
    sigma: float | None = None,
) -> tuple[Chart, Chart]:  # fmt: skip
    r"""Charts of the means and of the spread of subgroups of equal size (X-bar and R, or X-bar and s).

    .. math:: \bar{\bar x} \pm A_2 \bar R, \; [D_3 \bar R, D_4 \bar R] \qquad
              \bar{\bar x} \pm A_3 \bar s, \; [B_3 \bar s, B_4 \bar s]

    Parameters
    ----------
    subgroups : array_like (k, n)
        k subgroups of n, n from 2 to 100
    spread : str
        range or deviation
    centre, sigma : float, optional
        Known values; without them they come from the subgroups

    Returns
    -------
    means, spreads : Chart

    Examples
    --------
    >>> means, ranges = averages([[5.0, 5.2, 5.1], [4.9, 5.1, 5.3], [5.0, 5.0, 5.2]])
    >>> float(means.centre[0]), float(means.upper[0]), float(ranges.upper[0])
    (5.0889, 5.3618, 0.6866)

    References
    ----------
    .. [1] ASTM MNL 7, 8th edition, part 3; ISO 7870-2:2013.
    """
    table = np.asarray(subgroups, dtype=np.float64)
    if table.ndim != 2 or not 2 <= table.shape[1] <= 100 or not np.all(np.isfinite(table)):
        raise InputError(f"subgroups must be rows of 2 to 100 finite numbers of one length, got shape {table.shape}")
    f = factors(table.shape[1])
    if spread == "range":
        values, mean_factor, deviation_factor = np.ptp(table, axis=1), f.d2, f.d3
    elif spread == "deviation":
        values = table.std(axis=1, ddof=1)
        mean_factor, deviation_factor = f.c4, float(np.sqrt(1.0 - f.c4**2))
    else:
        raise InputError(f"spread must be range or deviation, got {spread}")
    used = table.shape[0] if centre is None or sigma is None else None
    middle = float(table.mean()) if centre is None else centre
    deviation = float(values.mean()) / mean_factor if sigma is None else sigma
    within("sigma", deviation, 0.0)
    width = 3.0 * deviation_factor * deviation
    return (
        make_chart("means", table.mean(axis=1), centre=middle, sigma=deviation / np.sqrt(table.shape[1]), used=used),
        make_chart(
            spread,
            values,
            centre=mean_factor * deviation,
            sigma=deviation_factor * deviation,
            lower=max(0.0, mean_factor * deviation - width),
            upper=mean_factor * deviation + width,
            used=used,
        ),
    )


def phase_one(values: ArrayLike) -> Baseline:
    r"""Centre and sigma of a process from its first single values, though some of them may be disturbed.

    Start with estimates that a quarter of wild values cannot move: the median, and the larger of median moving
    range / 0.954 and 1.4826 times the median distance from the median. Leave out what lies beyond three of these
    sigmas. Then estimate by mean and mean moving range / d2 from the kept values, leave out what lies beyond the
    new limits, and repeat until nothing changes.

    Parameters
    ----------
    values : array_like
        In the order they were made, 2 or more

    Returns
    -------
    baseline : Baseline
        With verdict cannot judge below 15 kept values

    Examples
    --------
    >>> made = [10.1, 9.8, 10.0, 10.2, 9.9, 10.0, 10.1, 9.7, 10.3, 10.0, 9.9, 10.1, 14.0, 10.0, 9.8, 10.2, 10.1, 9.9]
    >>> found = phase_one(made)
    >>> found.left_out, str(found.verdict), found.centre
    ((12,), 'pass', 10.006)
    >>> str(phase_one(made[:10]).verdict)
    'cannot_judge'

    References
    ----------
    .. [1] Median moving range: Wheeler, Understanding Statistical Process Control (from memory); the factor is exact.
    """
    x = vector("values", values, least=2)
    moving = np.abs(np.diff(x))
    centre = float(np.median(x))
    sigma = max(float(np.median(moving)) / _MEDIAN_RANGE_OF_TWO, _SIGMA_PER_MAD * float(np.median(np.abs(x - centre))))
    if sigma == 0.0:
        sigma = float(moving.mean()) / factors(2).d2
    kept = np.abs(x - centre) <= 3.0 * sigma
    for _ in range(50):
        if np.count_nonzero(kept) < 2:
            break
        pairs = kept[1:] & kept[:-1]
        ranges = moving[pairs] if pairs.any() else np.abs(np.diff(x[kept]))
        centre, sigma = float(x[kept].mean()), float(ranges.mean()) / factors(2).d2
        again = np.abs(x - centre) <= 3.0 * sigma + 1e-12 * abs(centre)
        if np.array_equal(again, kept):
            break
        kept = again
    held = tuple(int(i) for i in np.flatnonzero(kept))
    lost = tuple(int(i) for i in np.flatnonzero(~kept))
    if len(held) < FEWEST_POINTS:
        verdict, reason = Verdict.CANNOT_JUDGE, f"{len(held)} points are left, at least {FEWEST_POINTS} are needed"
    elif len(lost) > 0.2 * x.size:
        verdict, reason = Verdict.FAIL, f"{len(lost)} of {x.size} points are beyond the limits: no stable process"
    else:
        verdict, reason = Verdict.PASS, ""
    return Baseline(centre=centre, sigma=sigma, kept=held, left_out=lost, verdict=verdict, reason=reason)
