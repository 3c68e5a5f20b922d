r"""Uncertainty by propagation (GUM, JCGM 100:2008): correlations, degrees of freedom, higher-order terms, the budget.

A model is any function of the inputs, in the order of the list, that returns a number or several. Sensitivities are
found by differences of the function, so nothing has to be differentiated by hand.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import inf, isfinite, sqrt
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from runtrue.errors import InputError
from runtrue.stats.checks import within

_Array = NDArray[np.float64]
Model = Callable[..., float | Sequence[float] | _Array]


@dataclass(frozen=True, slots=True, kw_only=True)
class Quantified:
    """One input: its estimate, standard uncertainty and the degrees of freedom behind it (infinite for type B)."""

    name: str
    value: float
    u: float
    dof: float = inf

    def __post_init__(self) -> None:
        """Refuse what cannot be propagated."""
        if not (isfinite(self.value) and isfinite(self.u) and self.u >= 0.0):
            raise InputError(f"{self.name}: value must be finite and u 0 or more, got {self.value} and {self.u}")
        if not self.dof > 0.0:
            raise InputError(f"{self.name}: dof must be above 0, got {self.dof}")


@dataclass(frozen=True, slots=True, kw_only=True)
class BudgetLine:
    """One line of the budget; ``share`` of the variance counts correlations half to each and sums to 1."""

    name: str
    value: float
    u: float
    dof: float
    sensitivity: float
    contribution: float
    share: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Result:
    """One output: estimate, combined standard uncertainty, effective degrees of freedom, budget."""

    value: float
    u: float
    dof: float
    budget: tuple[BudgetLine, ...]

    def coverage_factor(self, probability: float = 0.95) -> float:
        """Student's t at the degrees of freedom cut down to a whole number (JCGM 100, G.4.1)."""
        return coverage_factor(self.dof, probability)

    def expanded(self, probability: float = 0.95) -> float:
        """Half-width of the interval at the probability."""
        return self.coverage_factor(probability) * self.u


@dataclass(frozen=True, slots=True, kw_only=True)
class Propagated:
    """All outputs and what binds them: ``covariance`` and ``correlation`` are (m, m)."""

    results: tuple[Result, ...]
    covariance: _Array
    correlation: _Array


def standard_from_half_width(half_width: float, shape: Literal["rectangular", "triangular", "arcsine"]) -> float:
    r"""Standard uncertainty of a quantity known to lie within +-a.

    .. math:: u = a / \sqrt{3} \;(rectangular), \quad a / \sqrt{6} \;(triangular), \quad a / \sqrt{2} \;(arcsine)

    Parameters
    ----------
    half_width : float
        a, 0 or more
    shape : str
        rectangular, triangular or arcsine

    Returns
    -------
    u : float
        In the unit of a

    Examples
    --------
    >>> standard_from_half_width(1.0, "rectangular")
    0.5774

    References
    ----------
    .. [1] JCGM 100:2008, 4.3.7 and 4.3.9; arcsine (a sine seen at random phase) JCGM 101:2008, 6.4.6.
    """
    within("half_width", half_width, 0.0)
    divisors = {"rectangular": 3.0, "triangular": 6.0, "arcsine": 2.0}
    if shape not in divisors:
        raise InputError(f"shape must be one of {', '.join(divisors)}, got {shape}")
    return half_width / sqrt(divisors[shape])


def repeated(name: str, readings: ArrayLike) -> Quantified:
    r"""Input from repeated readings (type A): mean, s / sqrt(n), n - 1 degrees of freedom.

    Parameters
    ----------
    name : str
        Of the input
    readings : array_like
        2 or more

    Returns
    -------
    quantified : Quantified
        In the unit of the readings

    Examples
    --------
    >>> repeated("V", [5.007, 4.994, 5.005, 4.990, 4.999]).u
    0.0032

    References
    ----------
    .. [1] JCGM 100:2008, 4.2; the example is the voltage of H.2, printed 0.0032.
    """
    values, covariance, dof = repeated_together([readings])
    return Quantified(name=name, value=float(values[0]), u=sqrt(covariance[0, 0]), dof=dof)


def repeated_together(readings: Sequence[ArrayLike]) -> tuple[_Array, _Array, float]:
    """Means of quantities read together, covariance matrix of the means, degrees of freedom.

    Parameters
    ----------
    readings : sequence of array_like
        One list for each quantity, of one length (2 or more), element k of each read at the same moment

    Returns
    -------
    means : ndarray (q,)
    covariance : ndarray (q, q)
    dof : float
        n - 1

    Examples
    --------
    >>> means, covariance, dof = repeated_together([[1.0, 2.0, 3.0], [2.0, 4.0, 6.0]])
    >>> float(covariance[0, 1]), dof
    (0.6667, 2.0)

    References
    ----------
    .. [1] JCGM 100:2008, 5.2.3, equation (17).
    """
    table = np.asarray(readings, dtype=np.float64)
    if table.ndim != 2 or table.shape[1] < 2 or not np.all(np.isfinite(table)):
        raise InputError("readings must be lists of one length with 2 or more finite numbers each")
    n = table.shape[1]
    return table.mean(axis=1), np.atleast_2d(np.cov(table)) / n, float(n - 1)


def coverage_factor(dof: float, probability: float = 0.95) -> float:
    """Two-sided Student t at the degrees of freedom, cut down to a whole number below 1e6; the normal point above.

    Parameters
    ----------
    dof : float
        1 or more, infinite allowed
    probability : float
        Above 0 and below 1 [-]

    Returns
    -------
    k : float
        [-]

    Examples
    --------
    >>> coverage_factor(16.75), coverage_factor(16.75, 0.99)
    (2.12, 2.92)

    References
    ----------
    .. [1] JCGM 100:2008, Table G.2 and G.4.1; the example is H.1.6.
    """
    from scipy.special import ndtri, stdtrit

    within("probability", probability, 0.0, 1.0, above=True, below=True)
    if not dof >= 1.0:
        raise InputError(f"dof must be 1 or more for a coverage factor, got {dof:g}")
    upper = 0.5 + probability / 2.0
    return float(ndtri(upper)) if dof > 1e6 else float(stdtrit(float(int(dof)), upper))


def propagate(
    model: Model,
    inputs: Sequence[Quantified],
    *,
    correlation: ArrayLike | None = None,
    higher_order: bool = False,
) -> Propagated:
    r"""Combined uncertainty of a model's outputs.

    .. math:: u_c^2 = \sum_i c_i^2 u_i^2 + 2 \sum_{i<j} c_i c_j u_i u_j r_{ij}, \qquad
              \nu_{eff} = u_c^4 \Big/ \sum_g \frac{u_g^4}{\nu_g}

    Inputs that are correlated form one group g, whose part of the variance is taken with the least of their degrees of
    freedom; for quantities read together this is exact. ``higher_order`` adds, for uncorrelated inputs,

    .. math:: \sum_{ij} \left[ \tfrac12 f_{ij}^2 + f_i f_{ijj} \right] u_i^2 u_j^2

    Parameters
    ----------
    model : callable
        Takes the inputs as separate numbers, returns a number or a sequence of numbers
    inputs : sequence of Quantified
        In the order of the model's arguments
    correlation : array_like (n, n), optional
        Correlation matrix, ones on the diagonal
    higher_order : bool
        For a model that bends within the uncertainties (sensitivities near zero)

    Returns
    -------
    propagated : Propagated
        Results in the order of the outputs

    Notes
    -----
    Leaving a correlation out is not the safe side: in H.2 it raises u(R) and lowers u(X). Where the output is pressed
    against a bound (a length near zero) use :func:`runtrue.stats.montecarlo.monte_carlo`.

    Examples
    --------
    >>> ohm = propagate(lambda v, i: v / i, [Quantified(name="V", value=6.0, u=0.03), Quantified(name="I", value=2.0,
    ...                 u=0.02)]).results[0]
    >>> ohm.value, ohm.u
    (3.0, 0.0335)

    References
    ----------
    .. [1] JCGM 100:2008, equations (13), (16) and the note to 5.1.2; G.4.
    """
    if not inputs:
        raise InputError("inputs must hold at least one quantity")
    values = np.array([item.value for item in inputs])
    u = np.array([item.u for item in inputs])
    r = _correlation(correlation, len(inputs))
    outputs, jacobian = _jacobian(model, values, u)
    scaled = jacobian * u
    covariance = scaled @ r @ scaled.T
    if higher_order:
        if np.any(r != np.eye(len(inputs))):
            raise InputError("higher_order holds for uncorrelated inputs only; use monte_carlo")
        covariance = covariance + np.diag(_higher_order(model, values, u, jacobian))
    deviations = np.sqrt(np.diag(covariance))
    safe = np.where(deviations > 0.0, deviations, 1.0)
    results = tuple(
        _result(float(outputs[k]), float(deviations[k]), jacobian[k], r, inputs) for k in range(outputs.size)
    )
    return Propagated(results=results, covariance=covariance, correlation=covariance / np.outer(safe, safe))


def _result(value: float, deviation: float, row: _Array, r: _Array, inputs: Sequence[Quantified]) -> Result:
    parts = row * np.array([item.u for item in inputs])
    joint = parts * (r @ parts)
    total = deviation * deviation
    lines = tuple(
        BudgetLine(
            name=item.name,
            value=item.value,
            u=item.u,
            dof=item.dof,
            sensitivity=float(row[i]),
            contribution=abs(float(parts[i])),
            share=float(joint[i]) / total if total > 0.0 else 0.0,
        )
        for i, item in enumerate(inputs)
    )
    weight = 0.0
    for group in _groups(r):
        dof = min(inputs[i].dof for i in group)
        variance = float(parts[group] @ r[np.ix_(group, group)] @ parts[group])
        weight += variance * variance / dof
    return Result(value=value, u=deviation, dof=total * total / weight if weight > 0.0 else inf, budget=lines)


def _groups(r: _Array) -> list[list[int]]:
    """Sets of inputs that are bound by correlation."""
    left, groups = set(range(r.shape[0])), []
    while left:
        group, grown = {min(left)}, True
        while grown:
            more = {j for i in group for j in left if r[i, j] != 0.0} | group
            grown, group = more != group, more
        groups.append(sorted(group))
        left -= group
    return groups


def _correlation(given: ArrayLike | None, size: int) -> _Array:
    if given is None:
        return np.eye(size)
    r = np.asarray(given, dtype=np.float64)
    if r.shape != (size, size) or not np.allclose(r, r.T) or not np.allclose(np.diag(r), 1.0):
        raise InputError(f"correlation must be a symmetric {size} x {size} matrix with ones on its diagonal")
    if np.linalg.eigvalsh(r).min() < -1e-9:
        raise InputError("correlation is not possible: the matrix has a negative eigenvalue")
    return r


def _evaluate(model: Model, values: _Array) -> _Array:
    found = np.atleast_1d(np.asarray(model(*(float(v) for v in values)), dtype=np.float64))
    if found.ndim != 1 or not np.all(np.isfinite(found)):
        raise InputError(f"the model gives no finite number at {', '.join(f'{v:g}' for v in values)}")
    return found


def _steps(values: _Array, u: _Array) -> _Array:
    return np.where(u > 0.0, u / 10.0, 1e-5 * np.maximum(np.abs(values), 1e-3))


def _jacobian(model: Model, values: _Array, u: _Array) -> tuple[_Array, _Array]:
    """Outputs and first derivatives by a five-point difference, whose error is of fourth order in u / 10."""
    outputs = _evaluate(model, values)
    columns = []
    for i, h in enumerate(_steps(values, u)):
        step = np.zeros(values.size)
        step[i] = h
        near = _evaluate(model, values + step) - _evaluate(model, values - step)
        far = _evaluate(model, values + 2.0 * step) - _evaluate(model, values - 2.0 * step)
        columns.append((8.0 * near - far) / (12.0 * h))
    return outputs, np.stack(columns, axis=1)


def _higher_order(model: Model, values: _Array, u: _Array, jacobian: _Array) -> _Array:
    """Second-order part of the variance, JCGM 100:2008, note to 5.1.2; differences over +-u."""
    added = np.zeros(jacobian.shape[0])
    moving = [i for i in range(values.size) if u[i] > 0.0]
    centre = _evaluate(model, values)

    def at(*moves: tuple[int, float]) -> _Array:
        shifted = values.copy()
        for index, times in moves:
            shifted[index] += times * u[index]
        return _evaluate(model, shifted)

    for i in moving:
        for j in moving:
            if i == j:
                second = at((i, 1)) - 2.0 * centre + at((i, -1))
                third = (at((i, 2)) - 2.0 * at((i, 1)) + 2.0 * at((i, -1)) - at((i, -2))) / 2.0
            else:
                second = (at((i, 1), (j, 1)) - at((i, 1), (j, -1)) - at((i, -1), (j, 1)) + at((i, -1), (j, -1))) / 4.0
                up = at((i, 1), (j, 1)) - 2.0 * at((i, 1)) + at((i, 1), (j, -1))
                down = at((i, -1), (j, 1)) - 2.0 * at((i, -1)) + at((i, -1), (j, -1))
                third = (up - down) / 2.0
            added += 0.5 * second * second + jacobian[:, i] * u[i] * third
    return added
