r"""How much of the spread is the measuring: repeatability and reproducibility of a gauge (AIAG)."""

from dataclasses import dataclass
from math import floor, sqrt
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from runtrue.errors import InputError
from runtrue.stats.charts.constants import factors
from runtrue.stats.checks import within

_Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class GaugeStudy:
    """Standard deviations: the same person again (``repeatability``), between people (``reproducibility``), both
    together (``gauge``), between parts, total; ``percent`` = 100 gauge / total; ``categories`` that can be told apart.

    ``word``: good below 10 %, conditional to 30 %, poor above. ``anova`` holds mean squares and F where that method was
    used; ``pooled``: the interaction was not significant and went into the repeatability.
    """

    method: str
    repeatability: float
    reproducibility: float
    gauge: float
    part: float
    total: float
    percent: float
    categories: int
    word: str
    pooled: bool = False
    anova: dict[str, float] | None = None


def gauge_study(
    readings: ArrayLike, *, method: Literal["anova", "range"] = "anova", pool_above: float = 0.25
) -> GaugeStudy:
    r"""Study of a gauge: every operator measures every part several times.

    Average-range method: EV = mean range x K1, AV = sqrt((x_diff K2)^2 - EV^2 / (n r)), PV = part range x K3, with
    K = 1 / d2*, d2* = d2 where many ranges are averaged (K1) and sqrt(d2^2 + d3^2) for a single one (K2, K3).

    Analysis of variance, with operators and parts at random:

    .. math:: \sigma_e^2 = MS_e, \; \sigma_{po}^2 = \frac{MS_{po} - MS_e}{r}, \;
              \sigma_o^2 = \frac{MS_o - MS_{po}}{n r}, \; \sigma_p^2 = \frac{MS_p - MS_{po}}{k r}

    where an interaction with a probability above ``pool_above`` is pooled with the error. Negative variances are 0.

    Parameters
    ----------
    readings : array_like (operators, parts, trials)
        2 or more of each
    method : str
        anova, or range (which cannot see an interaction)
    pool_above : float
        0 to 1 [-]; 0.25 is AIAG's, 1 never pools

    Returns
    -------
    study : GaugeStudy
        In the unit of the readings

    Examples
    --------
    >>> import numpy as np
    >>> parts = np.arange(5.0)[np.newaxis, :, np.newaxis]
    >>> noise = np.array([[[0.0, 0.1]], [[0.1, 0.0]]])
    >>> study = gauge_study(parts + noise)
    >>> study.repeatability, study.word
    (0.0598, 'good')

    References
    ----------
    .. [1] AIAG, Measurement Systems Analysis, 4th edition 2010; the words from memory.
    """
    x = np.asarray(readings, dtype=np.float64)
    if x.ndim != 3 or min(x.shape) < 2:
        raise InputError(f"readings must be operators x parts x trials, 2 or more of each, got shape {x.shape}")
    if not np.all(np.isfinite(x)):
        raise InputError("readings must be finite: every operator measures every part in every trial")
    within("pool_above", pool_above, 0.0, 1.0)
    if method == "range":
        return _range_method(x)
    if method != "anova":
        raise InputError(f"method must be anova or range, got {method}")
    return _anova(x, pool_above)


def _range_method(x: _Array) -> GaugeStudy:
    operators, parts, trials = x.shape
    mean_range = float(np.ptp(x, axis=2).mean())
    repeatability = mean_range / factors(trials).d2
    between = float(np.ptp(x.mean(axis=(1, 2)))) / _single(operators)
    reproducibility = sqrt(max(between**2 - repeatability**2 / (parts * trials), 0.0))
    part = float(np.ptp(x.mean(axis=(0, 2)))) / _single(parts)
    return _study("range", repeatability**2, reproducibility**2, part**2)


def _anova(x: _Array, pool_above: float) -> GaugeStudy:
    from scipy.special import fdtrc

    operators, parts, trials = x.shape
    mean = x.mean()
    by_operator, by_part, cell = x.mean(axis=(1, 2)), x.mean(axis=(0, 2)), x.mean(axis=2)
    ss_operator = parts * trials * float(((by_operator - mean) ** 2).sum())
    ss_part = operators * trials * float(((by_part - mean) ** 2).sum())
    ss_error = float(((x - cell[:, :, np.newaxis]) ** 2).sum())
    residue = cell - by_operator[:, np.newaxis] - by_part + mean
    ss_both = trials * float((residue**2).sum())
    df_operator, df_part = operators - 1, parts - 1
    df_both, df_error = df_operator * df_part, operators * parts * (trials - 1)
    ms_operator, ms_part, ms_both, ms_error = (
        ss_operator / df_operator,
        ss_part / df_part,
        ss_both / df_both,
        ss_error / df_error,
    )
    ratio = ms_both / ms_error if ms_error > 0.0 else np.inf
    p_both = float(fdtrc(df_both, df_error, ratio)) if np.isfinite(ratio) else 0.0
    pooled = p_both > pool_above
    if pooled:
        error = (ss_both + ss_error) / (df_both + df_error)
        both, against = 0.0, error
    else:
        error, both, against = ms_error, max((ms_both - ms_error) / trials, 0.0), ms_both
    operator = max((ms_operator - against) / (parts * trials), 0.0)
    part = max((ms_part - against) / (operators * trials), 0.0)
    table = {
        "ms_part": ms_part,
        "ms_operator": ms_operator,
        "ms_interaction": ms_both,
        "ms_repeatability": ms_error,
        "f_interaction": float(ratio),
        "p_interaction": p_both,
    }
    return _study("anova", error, operator + both, part, pooled=pooled, anova=table)


def _single(count: int) -> float:
    """d2* for one range: root mean square of the range over sigma."""
    f = factors(count)
    return sqrt(f.d2**2 + f.d3**2)


def _study(
    method: str,
    error: float,
    people: float,
    part: float,
    *,
    pooled: bool = False,
    anova: dict[str, float] | None = None,
) -> GaugeStudy:
    gauge, total = sqrt(error + people), sqrt(error + people + part)
    percent = 100.0 * gauge / total if total > 0.0 else 0.0
    return GaugeStudy(
        method=method,
        repeatability=sqrt(error),
        reproducibility=sqrt(people),
        gauge=gauge,
        part=sqrt(part),
        total=total,
        percent=percent,
        categories=floor(1.41 * sqrt(part) / gauge) if gauge > 0.0 else 0,
        word="good" if percent < 10.0 else "conditional" if percent <= 30.0 else "poor",
        pooled=pooled,
        anova=anova,
    )
