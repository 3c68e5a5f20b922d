"""Charts: bad input by name and range."""

import numpy as np
import pytest

from runtrue.errors import InputError
from runtrue.stats import charts


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: charts.factors(1), "n must be a whole number, from 2 to 100, got 1"),
        (lambda: charts.individuals([1.0]), "values must be a list of at least 2 numbers, got 1"),
        (lambda: charts.individuals([1.0, np.nan]), "values must hold finite numbers only; number 2 is not"),
        (lambda: charts.averages([[1.0], [2.0]]), "subgroups must be rows of 2 to 100 finite numbers"),
        (lambda: charts.averages([[1.0, 2.0]], spread="both"), "spread must be range or deviation, got both"),
        (lambda: charts.p_chart([3], [2]), "bad not above it"),
        (lambda: charts.p_chart([0.5], [2]), "bad must be whole numbers of 0 or more"),
        (lambda: charts.p_chart([1, 2], [5]), "one length: bad 2, inspected 1"),
        (lambda: charts.u_chart([1], [0.0]), "units must be above 0, got 0"),
        (lambda: charts.ewma([1.0], target=0.0, sigma=0.0), "sigma must be above 0, got 0"),
        (lambda: charts.ewma([1.0], target=0.0, sigma=1.0, weight=1.5), "weight must be above 0 and up to 1, got 1.5"),
        (
            lambda: charts.cusum([1.0], target=0.0, h=4.0, head_start=4.0),
            "head_start must be from 0 and below 4, got 4",
        ),
        (lambda: charts.cusum_arl(-0.1, 4.0), "k must be 0 or more, got -0.1"),
        (lambda: charts.signals([0.0], ("twelve",)), "run rule 'twelve' is unknown; known are beyond_3_sigma"),
        (lambda: charts.rules_arl(("six_in_a_trend",)), "rule with a computed run length 'six_in_a_trend'"),
        (lambda: charts.hotelling([[1.0, 2.0]], baseline=[[1.0]]), "one number of columns"),
        (lambda: charts.hotelling(np.ones((3, 2))), "baseline must have at least 4 rows for 2 values, got 3"),
        (lambda: charts.hotelling(np.ones((9, 2))), "two of the values say the same"),
        (lambda: charts.capability(0.0, 1.0, 10), "give lower, upper or both"),
        (lambda: charts.capability(0.0, 1.0, 10, lower=2.0, upper=1.0), "lower .2. must be below upper .1."),
        (lambda: charts.mean_change([1.0] * 8), "all equal"),
        (lambda: charts.mean_change([1.0, 2.0]), "at least 5 numbers"),
        (lambda: charts.rate_change([0] * 8), "events are all 0"),
        (lambda: charts.rate_change([1] * 5, [1.0] * 4), "one length: events 5, exposure 4"),
        (lambda: charts.limit_for(1e9, charts.shewhart_arl), "arl must be from"),
    ],
)
def test_bad_input_is_named(call, message):
    with pytest.raises(InputError, match=message):
        call()


def test_limits_of_a_baseline_are_used_for_new_values():
    base = charts.phase_one(np.random.default_rng(1).normal(10.0, 1.0, 30))
    chart, ranges = charts.individuals([10.0, 16.0, 10.2], baseline=base)
    assert chart.judged
    assert chart.out == (1,)
    assert ranges.out == (0, 1)
    assert chart.z[1] == pytest.approx((16.0 - base.centre) / base.sigma)


def test_known_centre_and_sigma_give_judged_limits():
    means, spreads = charts.averages([[1.0, 1.1, 0.9, 1.0]], spread="deviation", centre=1.0, sigma=0.1)
    assert means.judged
    assert spreads.judged
    assert means.upper[0] == pytest.approx(1.15)
    assert spreads.upper[0] == pytest.approx(charts.factors(4).B6 * 0.1)


def test_one_limit_only():
    found = charts.capability(10.0, 1.0, 30, lower=7.0)
    assert (found.cp, found.upper_index, found.off_middle) == (None, None, None)
    assert found.cpk == pytest.approx(1.0)
