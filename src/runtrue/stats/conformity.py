r"""The one judge: measurements beside limits, and what may be said about them.

Every verdict of the program is made here (JCGM 106:2012 with a flat prior). The conformance probability p is the
share of the measurement's distribution that lies within the limit:

======================  ============  ==================================================
p                       verdict       unless the limit states another rule
======================  ============  ==================================================
p >= 0.95               pass          the record conforms, with at most 5 % risk
p <= 0.05               fail          it does not, with at most 5 % risk
between                 cannot judge  measure again or better
nothing was measured    cannot judge  "could not measure" never looks like a pass
======================  ============  ==================================================
"""

from collections.abc import Iterable, Sequence
from math import inf, isnan

from scipy.special import ndtr

from runtrue.errors import InputError
from runtrue.stats.plane import length_probability
from runtrue.types import Finding, Limit, Measurement, PlaneVector, Rule, Verdict

U95_PER_DEVIATION = 1.959963984540054
"""Half-width of the 95 % interval of a Gaussian in standard deviations."""

SAME_THING: dict[tuple[str, str], float] = {
    ("off_centre_offset", "off_centre_swing"): 2.0,
    ("off_centre_swing", "off_centre_offset"): 0.5,
}
"""(measured, limited): factor from the one to the other. The swing is twice the offset."""


def judge(measurements: Iterable[Measurement], limits: Iterable[Limit]) -> tuple[Finding, ...]:
    """Lay every limit beside what was measured.

    In the order of the limits; several measurements of one quantity give one finding each. A limit on the swing is
    judged from a measured offset and the other way round when its own quantity is absent. A limit on a quantity that
    nobody measured gives a finding that cannot be judged, with the reason. A measurement without a limit gives none.

    Parameters
    ----------
    measurements : iterable of Measurement
        SI values; ``value`` None for what could not be measured
    limits : iterable of Limit
        In force

    Returns
    -------
    findings : tuple of Finding
        At least one for each limit

    Examples
    --------
    >>> from runtrue.types import Limit, Measurement
    >>> speed = Measurement(quantity="speed_deviation", value=0.002, u95=0.001)
    >>> limit = Limit(quantity="speed_deviation", upper=0.005, owner="plant", source="house rule", date="2026-01-01")
    >>> [str(finding.verdict) for finding in judge([speed], [limit])]
    ['pass']
    >>> [str(finding.verdict) for finding in judge([], [limit])]
    ['cannot_judge']
    """
    by_quantity: dict[str, list[Measurement]] = {}
    for measurement in measurements:
        by_quantity.setdefault(measurement.quantity, []).append(measurement)
    findings: list[Finding] = []
    for limit in limits:
        findings += [_finding(measurement, limit) for measurement in _measured(limit.quantity, by_quantity)]
    return tuple(findings)


def verdict(findings: Sequence[Finding]) -> Verdict:
    """One word for the findings given: any fail, else any that cannot be judged, else pass.

    Which findings stand in a verdict is for the caller to choose (those about the disc; those about a rig only where
    the rig is calibrated for the quantity). No finding at all means that nothing was judged: cannot judge.

    Examples
    --------
    >>> str(verdict([]))
    'cannot_judge'
    """
    words = {finding.verdict for finding in findings}
    for word in (Verdict.FAIL, Verdict.CANNOT_JUDGE):
        if word in words:
            return word
    return Verdict.PASS if words else Verdict.CANNOT_JUDGE


def conformance_probability(measurement: Measurement, limit: Limit) -> float:
    r"""Probability that the true value lies within the limit.

    .. math:: p = \Phi\frac{T_U - y}{u} - \Phi\frac{T_L - y}{u}, \quad u = u_{95} / 1.96

    A value without u95 (a count) is exact: p is 1 or 0, a value on the limit conforms. The length of a plane vector is
    judged over the vector's distribution (:func:`runtrue.stats.plane.length_probability`).

    Parameters
    ----------
    measurement : Measurement
        With a value
    limit : Limit
        On the same quantity, or on the swing where the offset was measured and the other way round

    Returns
    -------
    probability : float
        From 0 to 1 [-]

    Examples
    --------
    >>> from runtrue.types import Limit, Measurement
    >>> reading = Measurement(quantity="rumble", value=507.0, u95=8.6 * 1.96)
    >>> limit = Limit(quantity="rumble", lower=490.0, owner="-", source="JCGM 106:2012 example", date="2012-10-01")
    >>> conformance_probability(reading, limit)
    0.976

    References
    ----------
    .. [1] JCGM 106:2012, 7.3 (one-sided) and 7.4 (two-sided); the example's 0.976 from memory, recomputed.
    """
    value = measurement.value
    if value is None:
        raise InputError(f"measurement of {measurement.quantity} has no value ({measurement.reason}): no probability")
    lower, upper = _limits_in_measured(measurement.quantity, limit)
    if isinstance(value, PlaneVector):
        return length_probability(value, upper=upper, lower=lower)
    low = -inf if lower is None else lower
    high = inf if upper is None else upper
    if not measurement.u95:
        return 1.0 if low <= value <= high else 0.0
    deviation = measurement.u95 / U95_PER_DEVIATION
    below, above = (low - value) / deviation, (high - value) / deviation
    if below > 0.0:  # work in the tail that is not near 1
        below, above = -above, -below
    return float(ndtr(above) - ndtr(below))


def word_for(probability: float | None, rule: Rule) -> Verdict:
    """Verdict for a conformance probability under a rule; None (not measured) cannot be judged.

    Examples
    --------
    >>> from runtrue.types import Rule
    >>> [str(word_for(p, Rule())) for p in (0.95, 0.949, 0.05, None)]
    ['pass', 'cannot_judge', 'fail', 'cannot_judge']
    """
    if probability is None or isnan(probability):
        return Verdict.CANNOT_JUDGE
    if probability >= rule.pass_at_least:
        return Verdict.PASS
    return Verdict.FAIL if probability <= rule.fail_at_most else Verdict.CANNOT_JUDGE


def _measured(name: str, by_quantity: dict[str, list[Measurement]]) -> list[Measurement]:
    """Measurements that can answer a limit on the quantity; a stand-in with the reason where there are none."""
    found = by_quantity.get(name)
    if found:
        return found
    for (measured, limited), _ in SAME_THING.items():
        if limited == name and measured in by_quantity:
            return by_quantity[measured]
    return [Measurement(quantity=name, value=None, reason="not measured")]


def _finding(measurement: Measurement, limit: Limit) -> Finding:
    probability = None if measurement.value is None else conformance_probability(measurement, limit)
    return Finding(
        measurement=measurement,
        limit=limit,
        conformance_probability=probability,
        verdict=word_for(probability, limit.rule),
    )


def _limits_in_measured(measured: str, limit: Limit) -> tuple[float | None, float | None]:
    if measured == limit.quantity:
        return limit.lower, limit.upper
    factor = SAME_THING.get((measured, limit.quantity))
    if factor is None:
        raise InputError(f"a limit on {limit.quantity} says nothing about a measurement of {measured}")
    return (
        None if limit.lower is None else limit.lower / factor,
        None if limit.upper is None else limit.upper / factor,
    )
