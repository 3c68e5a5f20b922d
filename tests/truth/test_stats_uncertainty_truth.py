"""Propagation, Monte Carlo and risks against simulation. Seeds fixed."""

import numpy as np
import pytest
from scipy.stats import norm
from uncertainties import ufloat
from uncertainties.umath import exp, sqrt

from runtrue.stats import risk
from runtrue.stats.montecarlo import Arcsine, Normal, Rectangular, Student, Triangular, monte_carlo, shortest_interval
from runtrue.stats.uncertainty import Quantified, coverage_factor, propagate, repeated_together


def test_derivatives_equal_those_of_an_automatic_differentiator():
    a, b, c = ufloat(2.0, 0.1), ufloat(5.0, 0.3), ufloat(0.7, 0.05)
    other = sqrt(a * b) * exp(-c) + a / b
    inputs = [Quantified(name="a", value=2.0, u=0.1), Quantified(name="b", value=5.0, u=0.3)]
    inputs.append(Quantified(name="c", value=0.7, u=0.05))
    ours = propagate(lambda a, b, c: np.sqrt(a * b) * np.exp(-c) + a / b, inputs).results[0]
    assert ours.u == pytest.approx(other.std_dev, rel=1e-6)
    assert ours.value == pytest.approx(other.nominal_value, rel=1e-12)


@pytest.mark.parametrize("shape", ["independent", "together"])
def test_coverage_of_the_expanded_uncertainty(shape):
    """Mean of a product read five times together: 95 % within 1 point; two independent parts: not below 94 %."""
    rng = np.random.default_rng(41)
    runs, covered = 3000, 0
    for _ in range(runs):
        if shape == "together":
            noise = rng.standard_normal((2, 5))
            noise[1] = 0.8 * noise[0] + 0.6 * noise[1]
            means, covariance, dof = repeated_together(np.array([[10.0], [20.0]]) + 0.1 * noise)
            u = np.sqrt(np.diag(covariance))
            inputs = [Quantified(name=n, value=m, u=s, dof=dof) for n, m, s in zip("ab", means, u, strict=True)]
            result = propagate(lambda a, b: a + b, inputs, correlation=covariance / np.outer(u, u)).results[0]
        else:
            x, y = rng.normal(10.0, 0.2, 6), rng.normal(20.0, 0.1, 9)
            inputs = [
                Quantified(name=n, value=v.mean(), u=v.std(ddof=1) / np.sqrt(v.size), dof=v.size - 1)
                for n, v in (("a", x), ("b", y))
            ]
            result = propagate(lambda a, b: a + b, inputs).results[0]
        covered += abs(result.value - 30.0) <= result.expanded()
    assert covered / runs == pytest.approx(0.953 if shape == "independent" else 0.95, abs=0.01)


def test_draws_have_the_moments_of_their_shape():
    rng = np.random.default_rng(42)
    for item, u in (
        (Rectangular(-1.0, 1.0), 3**-0.5),
        (Triangular(-1.0, 1.0), 6**-0.5),
        (Arcsine(-1.0, 1.0), 2**-0.5),
        (Student(0.0, 1.0, 10.0), (10 / 8) ** 0.5),
        (Normal(0.0, 2.0), 2.0),
    ):
        drawn = item.draw(rng, 200_000)
        assert drawn.mean() == pytest.approx(0.0, abs=0.02)
        assert drawn.std() == pytest.approx(u, rel=0.01)


def test_the_adaptive_interval_holds_its_share():
    found = monte_carlo(np.exp, [Normal(0.0, 1.0)], digits=1, seed=3)
    held = norm.cdf(np.log(found.high)) - norm.cdf(np.log(found.low))
    assert held == pytest.approx(0.95, abs=0.005)
    assert found.stable
    again = monte_carlo(np.exp, [Normal(0.0, 1.0)], digits=1, seed=3)
    assert again == found


def test_shortest_is_not_longer():
    values = np.sort(np.random.default_rng(43).exponential(size=50_000))
    low, high = shortest_interval(values, 0.95)
    assert low == pytest.approx(0.0, abs=0.01)
    assert high - low < np.quantile(values, 0.975) - np.quantile(values, 0.025)


def test_risks_against_simulation():
    rng = np.random.default_rng(44)
    true = rng.normal(100.0, 30.0, 1_000_000)
    read = true + rng.normal(0.0, 10.0, true.size)
    accepted = read <= 135.0
    risks = risk.global_risks(norm(100.0, 30.0), 10.0, upper=150.0, accept_to=135.0)
    assert risks.consumer == pytest.approx((accepted & (true > 150.0)).mean(), abs=3e-4)
    assert risks.producer == pytest.approx((~accepted & (true <= 150.0)).mean(), abs=1.5e-3)
    assert risks.bad == pytest.approx(norm.sf(5 / 3), abs=1e-9)


def test_many_degrees_of_freedom_meet_the_normal():
    assert coverage_factor(np.inf) == pytest.approx(1.959964)
    assert coverage_factor(1e5) == pytest.approx(1.959964, abs=1e-4)
