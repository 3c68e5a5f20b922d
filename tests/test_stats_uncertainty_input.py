"""Uncertainty and risk: bad input by name and range."""

from math import nan

import numpy as np
import pytest
from scipy.stats import norm

from runtrue.errors import InputError
from runtrue.stats import montecarlo, risk, uncertainty
from runtrue.stats.uncertainty import Quantified, propagate

ONE = [Quantified(name="a", value=1.0, u=0.1)]


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: Quantified(name="a", value=nan, u=0.1), "a: value must be finite"),
        (lambda: Quantified(name="a", value=1.0, u=0.1, dof=0), "a: dof must be above 0"),
        (lambda: propagate(lambda: 1.0, []), "inputs must hold at least one quantity"),
        (lambda: propagate(lambda a: a, ONE, correlation=[[2.0]]), "symmetric 1 x 1 matrix with ones"),
        (lambda: propagate(lambda a, b: a, ONE * 2, correlation=[[1, 1.5], [1.5, 1]]), "negative eigenvalue"),
        (
            lambda: propagate(lambda a, b: a, ONE * 2, correlation=[[1, 0.5], [0.5, 1]], higher_order=True),
            "uncorrelated inputs only",
        ),
        (lambda: propagate(lambda a: nan, ONE), "the model gives no finite number at 1"),
        (lambda: uncertainty.repeated("V", [1.0]), "2 or more finite numbers"),
        (lambda: uncertainty.standard_from_half_width(-1.0, "rectangular"), "half_width must be 0 or more, got -1"),
        (lambda: uncertainty.standard_from_half_width(1.0, "flat"), "shape must be one of rectangular"),
        (lambda: uncertainty.coverage_factor(0.5), "dof must be 1 or more"),
        (lambda: montecarlo.monte_carlo(lambda: 1.0, []), "at least one distribution"),
        (lambda: montecarlo.monte_carlo(lambda a: a[:5], [montecarlo.Normal(0, 1)]), "must return 10000 finite"),
        (lambda: montecarlo.monte_carlo(lambda a: a, [montecarlo.Normal(0, 1)], digits=4), "digits must be a whole"),
        (lambda: risk.acceptance_reading(1.0), "give u or relative_u"),
        (lambda: risk.acceptance_reading(1.0, u=0.1, probability=1.0), "probability must be above 0 and below 1"),
        (lambda: risk.rejection_reading(1.0, relative_u=0.7), "too large for a decision"),
        (lambda: risk.acceptance_reading(1.0, u=0.1, side="top"), "side must be upper or lower"),
        (lambda: risk.probability_within(0.0, 0.0), "u must be above 0, got 0"),
        (lambda: risk.probability_within(0.0, 1.0, 2.0, 1.0), "lower .2. must not be above upper .1."),
        (lambda: risk.global_risks(norm(0, 1), 0.1), "give lower, upper or both"),
        (
            lambda: risk.acceptance_limit_for_risk(norm(0, 1), 0.1, upper=2.0, consumer_risk=0.5),
            "consumer_risk must be above 0 and below 0.0227",
        ),
    ],
)
def test_bad_input_is_named(call, message):
    with pytest.raises(InputError, match=message):
        call()


def test_an_input_without_uncertainty_adds_nothing():
    result = propagate(lambda a, b: a * b, [*ONE, Quantified(name="b", value=3.0, u=0.0)]).results[0]
    assert result.u == pytest.approx(0.3)
    assert result.dof == np.inf
    assert result.budget[1].share == 0.0
    assert result.budget[1].sensitivity == pytest.approx(1.0)
