r"""Is this batch like the others? Its numbers against a family of batches: single values, memory, all together.

For each number the family's first batches are cleaned by phase I (:func:`runtrue.stats.charts.phase_one`); from the n
kept ones come mean m and standard deviation s. What a batch after them is compared with has the doubt of both in it:

.. math:: t = \frac{x - m}{s \sqrt{1 + 1/n}}, \qquad
          t = \frac{z_k - m}{s \sqrt{\frac{\lambda}{2 - \lambda} [1 - (1 - \lambda)^{2k}] + [1 - (1 - \lambda)^k]^2
          / n}}

are Student's with n - 1 degrees of freedom for a batch of the family (z_k the EWMA over the k batches since, started at
m). A batch is out where the chance of as much is below its share of the whole risk, which is split over the numbers
(Bonferroni): 100 batches of the family give less than one false alarm, however many numbers there are.
"""

from dataclasses import dataclass
from math import sqrt

import numpy as np
from numpy.typing import NDArray

from runtrue.errors import InputError
from runtrue.stats.charts import FEWEST_POINTS, hotelling, mean_change, phase_one
from runtrue.types import Verdict

_Array = NDArray[np.float64]

RISK_SINGLE = 0.0008
RISK_MEMORY = 0.0020
RISK_TOGETHER = 0.0007
"""Chances that a batch of the family is called out by its single values, its EWMA, its T2; our choice."""
WEIGHT = 0.25
"""lambda of the EWMA: finds a lasting shift of one to three sigma within some six batches."""
LONGEST = 60
"""Batches looked back over for "since when"."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Number:
    """One number over the family: limits with the doubt of the baseline in them.

    ``values`` of all batches in order (NaN where not known), the first ``baseline`` of them the family's; ``ewma``,
    ``lower``, ``upper``, ``ewma_lower``, ``ewma_upper`` of the batches after; ``kept`` places of the baseline.
    """

    name: str
    values: _Array
    baseline: int
    centre: float
    sigma: float
    kept: tuple[int, ...]
    left_out: tuple[int, ...]
    verdict: Verdict
    reason: str
    lower: _Array
    upper: _Array
    ewma: _Array
    ewma_lower: _Array
    ewma_upper: _Array
    chance_single: _Array
    chance_memory: _Array


@dataclass(frozen=True, slots=True, kw_only=True)
class Out:
    """A batch that is out: which number (None: all together), by which chart, and the chance of as much in the family.

    ``sigmas`` is how far the value, or the EWMA, lies from the centre; ``place`` counts the batches after the baseline
    from 0. ``since`` is the least and the largest place in ``values`` of the first batch that was out.
    """

    place: int
    number: str | None
    chart: str
    chance: float
    sigmas: float
    since: tuple[int, int] | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Checked:
    """The family check. ``out`` in the order of batches, the surest of a batch first; t2 None where not judged."""

    numbers: tuple[Number, ...]
    out: tuple[Out, ...]
    t2: _Array | None
    t2_limit: float | None
    t2_reason: str
    verdict: Verdict
    reason: str


def check_family(table: _Array, names: tuple[str, ...], baseline: int, *, since: bool = True) -> Checked:
    """Check the batches after the baseline.

    Parameters
    ----------
    table : array (batches, numbers)
        In the order they were made; NaN where a number is not known
    names : tuple of str
        Of the numbers
    baseline : int
        How many of the first batches are the family
    since : bool
        Whether to look for when it began

    Returns
    -------
    found : Checked
        ``verdict`` pass where no batch after the baseline is out, cannot judge below 15 batches

    Examples
    --------
    >>> import numpy as np
    >>> made = np.random.default_rng(4).normal(size=(36, 3))
    >>> made[30:, 1] += 3.0
    >>> found = check_family(made, ("power", "energy", "time"), 30)
    >>> str(found.verdict), found.out[0].number, found.out[-1].since
    ('fail', 'energy', (30, 31))
    """
    table = np.asarray(table, dtype=np.float64)
    if table.ndim != 2 or table.shape[1] != len(names) or not names:
        raise InputError(f"table must have a column for each of {len(names)} numbers, got shape {table.shape}")
    if not 0 <= baseline <= table.shape[0]:
        raise InputError(f"baseline must be 0 to {table.shape[0]} batches, got {baseline}")
    numbers = tuple(_number(name, table[:, k], baseline) for k, name in enumerate(names))
    judged = [number for number in numbers if number.verdict is Verdict.PASS]
    if not judged:
        reason = numbers[0].reason or "no number of the family is steady"
        return Checked(
            numbers=numbers, out=(), t2=None, t2_limit=None, t2_reason=reason, verdict=Verdict.CANNOT_JUDGE,
            reason=reason,
        )  # fmt: skip
    out = [found for number in judged for found in _out(number, len(judged), since=since)]
    t2, limit, why = _together(table, judged, names, baseline)
    if t2 is not None and limit is not None:
        named = {found.place for found in out}
        out += [
            Out(place=int(k), number=None, chart="T2", chance=RISK_TOGETHER, sigmas=sqrt(t2[k]), since=None)
            for k in np.flatnonzero(t2 > limit)
            if k not in named
        ]
    ordered = tuple(sorted(out, key=lambda found: (found.place, found.chance)))
    nothing_new = baseline == table.shape[0]
    return Checked(
        numbers=numbers,
        out=ordered,
        t2=t2,
        t2_limit=limit,
        t2_reason=why,
        verdict=Verdict.CANNOT_JUDGE if nothing_new else Verdict.FAIL if ordered else Verdict.PASS,
        reason="there is no batch after the baseline" if nothing_new else "",
    )


def curve_distances(curves: _Array, baseline: int) -> tuple[_Array, _Array]:
    r"""Distance of each curve from its family's mean, and where it parts from it.

    .. math:: d = \sqrt{\tfrac1K \sum_k z_k^2}, \qquad z_k = \frac{c_k - \bar c_k}{s_k \sqrt{1 + 1/n}}

    Each curve of the family is compared with the others of it, so that all distances mean the same. A point's s is
    pooled with its neighbours and is at least a fifth of the mean one.

    Parameters
    ----------
    curves : array (batches, points)
        On one grid; the first ``baseline`` are the family
    baseline : int
        3 or more

    Returns
    -------
    distances : array (batches)
        Their logarithm is nearly Gaussian
    z : array (batches, points)
    """
    curves = np.asarray(curves, dtype=np.float64)
    if baseline < 3 or curves.ndim != 2 or curves.shape[0] < baseline:
        raise InputError(f"curves: at least 3 of the family are needed, got {baseline}")
    z = np.empty_like(curves)
    for k in range(curves.shape[0]):
        others = np.delete(curves[:baseline], k, axis=0) if k < baseline else curves[:baseline]
        spread = np.sqrt(np.convolve(np.pad(others.var(axis=0, ddof=1), 2, mode="edge"), np.full(5, 0.2), mode="valid"))
        spread = np.maximum(spread, 0.2 * spread.mean())
        if not spread.mean() > 0.0:
            raise InputError("curves: all of the family are equal; nothing can be compared with them")
        z[k] = (curves[k] - others.mean(axis=0)) / (spread * sqrt(1.0 + 1.0 / others.shape[0]))
    return np.sqrt(np.mean(z * z, axis=1)), z


def _number(name: str, values: _Array, baseline: int) -> Number:
    from scipy.special import stdtr

    family, after = values[:baseline], values[baseline:]
    known = np.flatnonzero(np.isfinite(family))
    centre = sigma = float("nan")
    kept: tuple[int, ...] = ()
    lost: tuple[int, ...] = ()
    verdict, reason = Verdict.CANNOT_JUDGE, f"{known.size} batches of the family have it, {FEWEST_POINTS} are needed"
    if known.size >= FEWEST_POINTS:
        found = phase_one(family[known])
        kept = tuple(int(known[k]) for k in found.kept)
        lost = tuple(int(known[k]) for k in found.left_out)
        verdict, reason = found.verdict, found.reason
        centre, sigma = float(family[list(kept)].mean()), float(family[list(kept)].std(ddof=1))
        if sigma <= 1e-12 * max(abs(centre), 1e-300):
            verdict, reason = Verdict.CANNOT_JUDGE, "it is the same in every batch of the family"
            sigma = float("nan")
        elif verdict is Verdict.FAIL:
            verdict = Verdict.CANNOT_JUDGE
    n = max(len(kept), 2)
    seen = np.isfinite(after)
    steps = np.cumsum(seen)
    z = _memory(after, centre)
    share = WEIGHT / (2.0 - WEIGHT) * (1.0 - (1.0 - WEIGHT) ** (2.0 * steps))
    memory = sigma * np.sqrt(share + (1.0 - (1.0 - WEIGHT) ** steps) ** 2 / n)
    memory = np.where(steps > 0, memory, np.nan)
    single = np.full(after.size, sigma * sqrt(1.0 + 1.0 / n))
    return Number(
        name=name, values=values, baseline=baseline, centre=centre, sigma=sigma, kept=kept, left_out=lost,
        verdict=verdict, reason=reason, lower=centre - single, upper=centre + single, ewma=z,
        ewma_lower=centre - memory, ewma_upper=centre + memory,
        chance_single=2.0 * stdtr(n - 1, -np.abs(after - centre) / single),
        chance_memory=np.where(seen, 2.0 * stdtr(n - 1, -np.abs(z - centre) / memory), np.nan),
    )  # fmt: skip


def _memory(values: _Array, centre: float) -> _Array:
    """EWMA that waits where a value is not known."""
    z = np.empty(values.size)
    last = centre
    for k, value in enumerate(values):
        if np.isfinite(value):
            last = WEIGHT * value + (1.0 - WEIGHT) * last
        z[k] = last
    return z


def limits(number: Number, numbers: int) -> tuple[_Array, _Array, _Array, _Array]:
    """Limits with the risk split over so many numbers: of single values lower, upper, of the EWMA lower, upper."""
    from scipy.special import stdtrit

    n = max(len(number.kept), 2)
    wide = -float(stdtrit(n - 1, RISK_SINGLE / numbers / 2.0))
    memory = -float(stdtrit(n - 1, RISK_MEMORY / numbers / 2.0))
    c = number.centre
    return (
        c + wide * (number.lower - c), c + wide * (number.upper - c),
        c + memory * (number.ewma_lower - c), c + memory * (number.ewma_upper - c),
    )  # fmt: skip


def _out(number: Number, numbers: int, *, since: bool) -> list[Out]:
    found = []
    after = number.values[number.baseline :]
    for chart, chance, risk, value in (
        ("single value", number.chance_single, RISK_SINGLE, after),
        ("EWMA", number.chance_memory, RISK_MEMORY, number.ewma),
    ):
        for k in np.flatnonzero(chance < risk / numbers):
            found.append(
                Out(
                    place=int(k), number=number.name, chart=chart, chance=float(chance[k]),
                    sigmas=float((value[k] - number.centre) / number.sigma),
                    since=_since(number, int(k)) if since else None,
                )
            )  # fmt: skip
    surest: dict[int, Out] = {}
    for one in found:
        if one.place not in surest or one.chance < 0.9 * surest[one.place].chance:  # of equals the single value
            surest[one.place] = one
    return list(surest.values())


def _since(number: Number, place: int) -> tuple[int, int]:
    """Places in ``values`` between which the first batch lies that was out: of the kept family and all up to here."""
    here = number.baseline + place
    places = [k for k in (*number.kept, *range(number.baseline, here + 1)) if np.isfinite(number.values[k])]
    places = places[-LONGEST:]
    found = mean_change(number.values[places], series=1)
    low, high = found.interval
    return places[low], places[min(high, len(places) - 1)]


def _together(
    table: _Array, judged: list[Number], names: tuple[str, ...], baseline: int
) -> tuple[_Array | None, float | None, str]:
    columns = [names.index(number.name) for number in judged]
    if len(columns) < 2:
        return None, None, "one number alone has no T2"
    lost = {k for number in judged for k in number.left_out}
    family = np.array([table[k, columns] for k in range(baseline) if k not in lost])
    family = family[np.isfinite(family).all(axis=1)] if family.size else family
    after = table[baseline:][:, columns]
    needed = max(FEWEST_POINTS, 5 * len(columns))
    if family.shape[0] < needed:
        return None, None, f"{len(columns)} numbers together need {needed} whole batches, there are {family.shape[0]}"
    if after.size == 0 or not np.isfinite(after).all():
        return None, None, "a number of a batch is not known"
    try:
        found = hotelling(after, baseline=family, probability=1.0 - RISK_TOGETHER)
    except InputError as error:
        return None, None, str(error)
    return found.t2, found.limit, ""
