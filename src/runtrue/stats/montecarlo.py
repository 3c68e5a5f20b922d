r"""Uncertainty by propagation of distributions (JCGM 101:2008), as many trials as the digits asked for need."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import ceil, floor, log10, sqrt
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from runtrue.errors import InputError
from runtrue.stats.checks import whole, within

_Array = NDArray[np.float64]


class Distribution(Protocol):
    """Anything that can be drawn from."""

    def draw(self, rng: np.random.Generator, size: int) -> _Array:
        """Return ``size`` draws."""
        ...


@dataclass(frozen=True, slots=True)
class Normal:
    """Gaussian with mean and standard deviation."""

    mean: float
    deviation: float

    def draw(self, rng: np.random.Generator, size: int) -> _Array:
        """Return ``size`` draws."""
        return rng.normal(self.mean, self.deviation, size)


@dataclass(frozen=True, slots=True)
class Rectangular:
    """Equally probable from low to high."""

    low: float
    high: float

    def draw(self, rng: np.random.Generator, size: int) -> _Array:
        """Return ``size`` draws."""
        return rng.uniform(self.low, self.high, size)


@dataclass(frozen=True, slots=True)
class Triangular:
    """Symmetric triangle from low to high."""

    low: float
    high: float

    def draw(self, rng: np.random.Generator, size: int) -> _Array:
        """Return ``size`` draws."""
        half = 0.5 * (self.high - self.low)
        return np.asarray(self.low + half * (rng.random(size) + rng.random(size)))


@dataclass(frozen=True, slots=True)
class Arcsine:
    """A sine between low and high, met at random phase."""

    low: float
    high: float

    def draw(self, rng: np.random.Generator, size: int) -> _Array:
        """Return ``size`` draws."""
        middle, half = 0.5 * (self.high + self.low), 0.5 * (self.high - self.low)
        return np.asarray(middle + half * np.sin(2.0 * np.pi * rng.random(size)))


@dataclass(frozen=True, slots=True)
class Student:
    """Mean of readings with its standard uncertainty and degrees of freedom: a scaled and shifted t."""

    mean: float
    u: float
    dof: float

    def draw(self, rng: np.random.Generator, size: int) -> _Array:
        """Return ``size`` draws."""
        return np.asarray(self.mean + self.u * rng.standard_t(self.dof, size))


@dataclass(frozen=True, slots=True, kw_only=True)
class Simulated:
    """What the trials say. ``low`` and ``high`` end the interval; ``trials`` were needed; ``stable``: the digits hold.

    ``spread`` is twice the standard error of the worst of mean, u, low and high; ``tolerance`` what it had to reach.
    """

    mean: float
    u: float
    low: float
    high: float
    probability: float
    shortest: bool
    trials: int
    stable: bool
    spread: float
    tolerance: float


def monte_carlo(
    model: Callable[..., _Array],
    inputs: Sequence[Distribution],
    *,
    probability: float = 0.95,
    shortest: bool = False,
    digits: int = 2,
    most_trials: int = 5_000_000,
    seed: int = 1,
) -> Simulated:
    r"""Adaptive Monte Carlo: batches of trials until every printed digit of u stands.

    Batches of max(10^4, 100 / (1 - p)) trials are added until twice the standard error, over the batches, of the mean,
    the standard deviation and both ends of the interval is at most delta:

    .. math:: u \approx c \times 10^{l}, \; c \text{ a whole number of the digits asked for}, \quad
              \delta = \tfrac12 10^{l}

    Parameters
    ----------
    model : callable
        Takes one array for each input, returns an array
    inputs : sequence of Distribution
        Independent of each other
    probability : float
        Of the interval, above 0 and below 1 [-]
    shortest : bool
        The shortest interval instead of the one with equal tails; for a result pressed against a bound
    digits : int
        Figures of u that must stand, 1 or 2
    most_trials : int
        Stop there at the latest; then ``stable`` may be False
    seed : int
        Same seed, same digits

    Returns
    -------
    simulated : Simulated
        Over all trials together

    Examples
    --------
    >>> total = monte_carlo(lambda a, b: a + b, [Normal(0.0, 3.0), Normal(0.0, 4.0)], digits=1)
    >>> round(total.u), round(total.high)
    (5, 10)

    References
    ----------
    .. [1] JCGM 101:2008, 7.9.2 (numerical tolerance) and 7.9.4 (adaptive procedure).
    """
    within("probability", probability, 0.0, 1.0, above=True, below=True)
    whole("digits", digits, 1, 2)
    if not inputs:
        raise InputError("inputs must hold at least one distribution")
    batch = max(10_000, ceil(100.0 / (1.0 - probability)))
    rng = np.random.default_rng(seed)
    values: list[_Array] = []
    summaries: list[tuple[float, float, float, float]] = []
    spread = tolerance = np.inf
    while True:
        drawn = np.asarray(model(*(item.draw(rng, batch) for item in inputs)), dtype=np.float64)
        if drawn.shape != (batch,) or not np.all(np.isfinite(drawn)):
            raise InputError(f"the model must return {batch} finite numbers for {batch} trials")
        values.append(drawn)
        summaries.append(_summary(drawn, probability, shortest=shortest))
        count = len(values)
        if count < 2:
            continue
        spread = 2.0 * float(np.std(summaries, axis=0, ddof=1).max()) / sqrt(count)
        tolerance = numerical_tolerance(sqrt(float(np.mean([v.var() for v in values]))), digits)
        if spread <= tolerance or (count + 1) * batch > most_trials:
            break
    mean, u, low, high = _summary(np.concatenate(values), probability, shortest=shortest)
    return Simulated(
        mean=mean,
        u=u,
        low=low,
        high=high,
        probability=probability,
        shortest=shortest,
        trials=count * batch,
        stable=spread <= tolerance,
        spread=spread,
        tolerance=tolerance,
    )


def numerical_tolerance(u: float, digits: int = 2) -> float:
    r"""Half of one unit in the last of the digits of u.

    Parameters
    ----------
    u : float
        0 or more
    digits : int
        1 or more

    Returns
    -------
    delta : float
        In the unit of u

    Examples
    --------
    >>> numerical_tolerance(2.0, 1), numerical_tolerance(2.0, 2), numerical_tolerance(2.0, 3)
    (0.5, 0.05, 0.005)

    References
    ----------
    .. [1] JCGM 101:2008, 7.9.2; the example is in 9.2.2.
    """
    within("u", u, 0.0)
    whole("digits", digits, 1)
    if u == 0.0:
        return 0.0
    exponent = floor(log10(u)) - digits + 1
    if round(u / 10.0**exponent) >= 10**digits:
        exponent += 1
    return float(0.5 * 10.0**exponent)


def shortest_interval(sorted_values: _Array, probability: float) -> tuple[float, float]:
    """Shortest interval that holds the share of the values, which are in rising order.

    Parameters
    ----------
    sorted_values : ndarray
        In rising order
    probability : float
        Share, above 0 and up to 1 [-]

    Returns
    -------
    low, high : float

    Examples
    --------
    >>> shortest_interval(np.array([0.0, 5.0, 6.0, 7.0, 20.0]), 0.6)
    (5.0, 7.0)

    References
    ----------
    .. [1] JCGM 101:2008, 7.7.4.
    """
    inside = max(1, ceil(probability * sorted_values.size - 1e-9))
    widths = sorted_values[inside - 1 :] - sorted_values[: sorted_values.size - inside + 1]
    start = int(np.argmin(widths))
    return float(sorted_values[start]), float(sorted_values[start + inside - 1])


def _summary(values: _Array, probability: float, *, shortest: bool) -> tuple[float, float, float, float]:
    if shortest:
        low, high = shortest_interval(np.sort(values), probability)
    else:
        low, high = (float(end) for end in np.quantile(values, [0.5 - probability / 2.0, 0.5 + probability / 2.0]))
    return float(values.mean()), float(values.std(ddof=1)), low, high
