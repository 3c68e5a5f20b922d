"""A mark that grows with the count: a crack opens, a scrap builds up."""

from dataclasses import dataclass

import numpy as np
from scipy.special import stdtrit

from runtrue.listen.copies.sample import Events, Float64, Int, Sample

_LEAST = 4


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Rise:
    """Level over closures by least squares: ``slope`` and its U95 [dB a closure].

    ``above`` (copies,) is how much higher than in the middle the mark stands on each copy [dB].
    """

    slope: float
    slope_u95: float
    above: Float64


def rise_of(group: Int, events: Events, sample: Sample) -> Rise | None:
    """The growth of a mark, None where four counted copies or fewer show it or the slope may be nothing (99 in 100).

    Only copies of one stamper are counted together. A chance event may be among them: the fit is by least squares on
    what lies within 6 dB of it.
    """
    copies = sample.copy_of[events.of[group]]
    closure = sample.closure[copies]
    level = events.level[group]
    stamper = sample.values["stamper"][1][copies]
    counted = np.isfinite(closure) & (stamper == np.bincount(stamper + 1).argmax() - 1)
    x, y = closure[counted], level[counted]
    if len(x) <= _LEAST or np.ptp(x) == 0.0:
        return None
    kept = np.ones(len(x), dtype=bool)
    for _ in range(2):
        slope, intercept = np.polyfit(x[kept], y[kept], 1)
        kept = np.abs(y - slope * x - intercept) < 6.0
        if kept.sum() <= _LEAST or np.ptp(x[kept]) == 0.0:
            return None
    slope, intercept = np.polyfit(x[kept], y[kept], 1)
    left = y[kept] - slope * x[kept] - intercept
    dof = int(kept.sum()) - 2
    spread = float(np.sqrt(left @ left / dof / ((x[kept] - x[kept].mean()) ** 2).sum()))
    if abs(slope) < float(stdtrit(dof, 0.995)) * max(spread, 1e-12):
        return None
    with_it = np.isfinite(sample.closure) & (sample.values["stamper"][1] == stamper[counted][0])
    above = np.where(with_it, slope * (sample.closure - x[kept].mean()), 0.0)
    return Rise(slope=float(slope), slope_u95=float(stdtrit(dof, 0.975)) * spread, above=above)
