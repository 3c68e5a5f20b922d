r"""When a worsening value will reach its limit: a straight trend read backwards, with an interval (Fieller)."""

from dataclasses import dataclass
from math import inf, sqrt

import numpy as np
from numpy.typing import ArrayLike

from runtrue.errors import InputError
from runtrue.stats.checks import same_length, vector, within


@dataclass(frozen=True, slots=True, kw_only=True)
class Trend:
    """A line and where it meets the limit.

    ``crossing`` with ``interval``: where the line itself meets the limit. ``early``: place up to which the next single
    value stays within the limit with half of (1 - confidence) risk. Not ``bounded``: the slope may be nothing, so no
    end can be named, the bounds are None and nothing may be judged by the trend. ``middle`` is the mean place.
    """

    intercept: float
    slope: float
    slope_u: float
    middle: float
    deviation: float
    dof: int
    crossing: float | None
    interval: tuple[float | None, float | None]
    early: float | None
    bounded: bool
    reason: str = ""


def trend_to_limit(place: ArrayLike, value: ArrayLike, limit: float, *, confidence: float = 0.95) -> Trend:
    r"""Place (closures, hours, plays) at which a value that changes steadily meets its limit.

    With b the slope, t the Student quantile and g = t^2 s^2 / (b^2 S_xx), the interval about the crossing x* is

    .. math:: \bar x + \frac{(x^* - \bar x) \pm \frac{t s}{b}
              \sqrt{\frac{(x^* - \bar x)^2}{S_{xx}} + \frac{1 - g}{n}}}{1 - g}

    Parameters
    ----------
    place, value : array_like
        3 pairs or more, places not all alike
    limit : float
        In the unit of the values
    confidence : float
        Above 0 and below 1 [-]

    Returns
    -------
    trend : Trend

    Notes
    -----
    A straight line is assumed up to the crossing; beyond the last place that is a forecast and no reading. Take
    logarithms first where the value grows by shares.

    Examples
    --------
    >>> found = trend_to_limit([0, 200, 400, 600, 800], [-60.0, -59.1, -57.9, -57.1, -56.0], -50.0)
    >>> found.crossing, found.interval
    (2004.0, (1859.5, 2179.2))

    References
    ----------
    .. [1] Fieller, J. Royal Statistical Society B 16 (1954) 175; Draper and Smith, Applied Regression Analysis, 3rd
       edition, section 3.2 (from memory, rederived).
    """
    from scipy.special import stdtrit

    x, y = vector("place", place, least=3), vector("value", value, least=3)
    same_length(place=x, value=y)
    within("limit", limit)
    within("confidence", confidence, 0.0, 1.0, above=True, below=True)
    spread = float(((x - x.mean()) ** 2).sum())
    if spread == 0.0:
        raise InputError("place must differ: all values were read at one place")
    n, dof = x.size, x.size - 2
    slope = float(((x - x.mean()) * (y - y.mean())).sum()) / spread
    left = y - y.mean() - slope * (x - x.mean())
    s = sqrt(float(left @ left) / dof)
    t = float(stdtrit(dof, 0.5 + confidence / 2.0))
    slope_u = s / sqrt(spread)
    away = (limit - float(y.mean())) / slope if slope != 0.0 else inf
    g = (t * slope_u / slope) ** 2 if slope != 0.0 else inf
    middle = float(x.mean())
    if g >= 1.0:
        reason = "the slope may be nothing at this confidence: no end can be named"
        interval: tuple[float | None, float | None] = (None, None)
        early = None
    else:
        reason = ""
        line = _ends(middle, away, g, t * s / abs(slope), away * away / spread + (1.0 - g) / n)
        single = _ends(middle, away, g, t * s / abs(slope), away * away / spread + (1.0 - g) * (1.0 + 1.0 / n))
        interval, early = line, single[0]
    return Trend(
        intercept=float(y.mean()) - slope * middle,
        slope=slope,
        slope_u=slope_u,
        middle=middle,
        deviation=s,
        dof=dof,
        crossing=middle + away if np.isfinite(away) else None,
        interval=interval,
        early=early,
        bounded=not reason,
        reason=reason,
    )


def _ends(middle: float, away: float, g: float, width: float, square: float) -> tuple[float, float]:
    half = width * sqrt(square)
    return middle + (away - half) / (1.0 - g), middle + (away + half) / (1.0 - g)
