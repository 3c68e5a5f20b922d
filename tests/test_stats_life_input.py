"""Life, agreement and comparison: bad input by name and range."""

import numpy as np
import pytest

from runtrue.errors import InputError
from runtrue.stats import agreement, comparison, gauge, reliability


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: reliability.kaplan_meier([1, 2], [1]), "one length: time 2, ended 1"),
        (lambda: reliability.kaplan_meier([1, -2], [1, 1]), "time must be 0 or more, got -2"),
        (lambda: reliability.kaplan_meier([1, 2], [1, 2]), "ended must be 1"),
        (lambda: reliability.kaplan_meier([1, 2], [0, 0]), "every life is censored"),
        (
            lambda: reliability.kaplan_meier([1, 2], [1, 1], transform="logit"),
            "transform must be log, log-log or plain",
        ),
        (lambda: reliability.log_rank([1, 2], [1, 1], ["a", "a"]), "two names or more"),
        (lambda: reliability.log_rank([1, 2], [1, 1], ["a"]), "group must name each of the 2 lives, got 1"),
        (lambda: reliability.fit_life([1, 2], [1, 0]), "at least two lives that ended"),
        (lambda: reliability.fit_life([0, 2], [1, 1]), "time must be above 0, got 0"),
        (lambda: reliability.fit_life([1, 2], [1, 1], "gamma"), "law of life 'gamma' is unknown; known are weibull"),
        (lambda: reliability.fit_life([1, 2, 3], [1, 1, 1]).life_at(1.0), "ended must be above 0 and below 1"),
        (lambda: reliability.trend_to_limit([1, 1, 1], [1, 2, 3], 5.0), "all values were read at one place"),
        (lambda: reliability.trend_to_limit([1, 2], [1, 2], 5.0), "place must be a list of at least 3 numbers"),
        (lambda: agreement.cohen([[1, 2]]), "table must be square"),
        (lambda: agreement.cohen([[0, 0], [0, 0]]), "table is empty"),
        (lambda: agreement.cohen([[5, 0], [0, 0]]), "agreement beyond chance is not defined"),
        (lambda: agreement.fleiss([[2, 1], [1, 1]]), "same 2 listeners or more"),
        (lambda: agreement.fleiss([[2, 0], [2, 0]]), "all judgements are in one category"),
        (lambda: agreement.against_reference([1], [2]), "0 .good. or 1 .bad."),
        (lambda: gauge.gauge_study(np.zeros((1, 5, 2))), "2 or more of each, got shape"),
        (lambda: gauge.gauge_study(np.full((2, 2, 2), np.nan)), "readings must be finite"),
        (lambda: gauge.gauge_study(np.zeros((2, 2, 2)), method="best"), "method must be anova or range"),
        (lambda: comparison.compare_shares((3, 1), (2, 4)), "bad must be a whole number, from 0 to 2, got 3"),
        (lambda: comparison.compare_values([1.0], [1.0, 2.0]), "first must be a list of at least 2 numbers"),
        (lambda: comparison.paired_plan(1.0), "ratio must be above 1, got 1"),
        (lambda: comparison.sample_size_shares(0.1, 0.1), "first and second must differ"),
        (lambda: comparison.sample_size_means(0.0, 1.0), "difference must not be 0"),
    ],
)
def test_bad_input_is_named(call, message):
    with pytest.raises(InputError, match=message):
        call()


def test_survival_that_does_not_reach_the_median_says_so():
    found = reliability.kaplan_meier([1, 5, 9, 9, 9, 9], [1, 1, 0, 0, 0, 0])
    assert found.quantile(0.5)[0] is None


def test_a_listener_without_bad_records_has_no_share_heard():
    found = agreement.against_reference([0, 1], [0, 0])
    assert found.heard is None
    assert found.invented == 0.5
