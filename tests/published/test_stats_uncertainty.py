"""GUM (JCGM 100:2008), its Supplement 1 (JCGM 101:2008) and conformity (JCGM 106:2012): the worked examples."""

from math import sqrt

import numpy as np
import pytest
from scipy.stats import gamma

from runtrue.stats import montecarlo, risk, uncertainty
from runtrue.stats.conformity import conformance_probability
from runtrue.stats.montecarlo import Normal, Rectangular, monte_carlo
from runtrue.stats.uncertainty import Quantified, propagate
from runtrue.types import Limit, Measurement


class TestEndGauge:
    """M01: JCGM 100:2008, H.1 (read): u_c 32 nm, 16 degrees of freedom, k99 2.92, U99 93 nm; second order 34 nm."""

    # d is the difference with its three components; the temperature deviation is a mean and a cycle
    INPUTS = (
        Quantified(name="standard", value=50.000623e6, u=25.0, dof=18),
        Quantified(name="difference, repeated", value=215.0, u=5.8, dof=24),
        Quantified(name="difference, comparator random", value=0.0, u=3.9, dof=5),
        Quantified(name="difference, comparator systematic", value=0.0, u=6.7, dof=8),
        Quantified(name="expansion", value=11.5e-6, u=1.2e-6),
        Quantified(name="expansion difference", value=0.0, u=0.58e-6, dof=50),
        Quantified(name="temperature", value=-0.1, u=0.2),
        Quantified(name="temperature cycle", value=0.0, u=0.35),
        Quantified(name="temperature difference", value=0.0, u=0.029, dof=2),
    )

    @staticmethod
    def length(*inputs):
        standard, d, d1, d2, expansion, expansion_difference, theta, cycle, theta_difference = inputs
        warm = theta + cycle
        return standard + d + d1 + d2 - standard * (expansion_difference * warm + expansion * theta_difference)

    def test_first_order(self):
        result = propagate(self.length, self.INPUTS).results[0]
        assert result.value == pytest.approx(50.000838e6, abs=0.5)
        assert result.u == pytest.approx(31.67, abs=0.05)
        assert int(result.dof) == 16
        assert result.coverage_factor(0.95) == pytest.approx(2.12, abs=5e-3)
        assert result.coverage_factor(0.99) == pytest.approx(2.92, abs=5e-3)
        assert result.expanded(0.99) == pytest.approx(93.0, abs=0.6)

    def test_degrees_of_freedom_from_the_printed_contributions(self):
        """The six contributions as rounded in print give 16.75 and u_c 31.67; unrounded it is 16.64. Both cut to 16."""
        printed = ((25.0, 18), (5.8, 24), (3.9, 5), (6.7, 8), (2.9, 50), (16.6, 2))
        inputs = [Quantified(name=str(i), value=0.0, u=u, dof=dof) for i, (u, dof) in enumerate(printed)]
        result = propagate(lambda *x: sum(x), inputs).results[0]
        assert (result.u, result.dof) == pytest.approx((31.67, 16.75), abs=5.5e-3)

    def test_contributions_as_printed(self):
        lines = {line.name: line for line in propagate(self.length, self.INPUTS).results[0].budget}
        assert lines["expansion difference"].contribution == pytest.approx(2.9, abs=0.05)
        assert lines["temperature difference"].contribution == pytest.approx(16.6, abs=0.1)
        assert lines["expansion"].contribution == pytest.approx(0.0, abs=1e-6)
        assert sum(line.share for line in lines.values()) == pytest.approx(1.0, abs=1e-12)

    def test_second_order(self):
        result = propagate(self.length, self.INPUTS, higher_order=True).results[0]
        assert result.u == pytest.approx(34.0, abs=0.5)


class TestResistanceReactance:
    """M02: JCGM 100:2008, H.2 (read): R, X, Z from five readings of V, I and phase made together."""

    V = (5.007, 4.994, 5.005, 4.990, 4.999)
    I = (19.663, 19.639, 19.640, 19.685, 19.678)  # noqa: E741
    PHASE = (1.0456, 1.0438, 1.0468, 1.0428, 1.0433)

    @staticmethod
    def impedance(v, i, phase):
        z = v / (i * 1e-3)
        return z * np.cos(phase), z * np.sin(phase), z

    def inputs(self):
        means, covariance, dof = uncertainty.repeated_together([self.V, self.I, self.PHASE])
        u = np.sqrt(np.diag(covariance))
        names = ("V", "I", "phase")
        return [
            Quantified(name=n, value=float(m), u=float(s), dof=dof) for n, m, s in zip(names, means, u, strict=True)
        ], covariance / np.outer(u, u)

    def test_inputs_as_printed(self):
        inputs, r = self.inputs()
        assert [item.u for item in inputs] == pytest.approx([0.0032, 0.0095, 0.00075], rel=0.01)
        assert (r[0, 1], r[0, 2], r[1, 2]) == pytest.approx((-0.36, 0.86, -0.65), abs=6e-3)

    def test_results_and_correlations(self):
        inputs, r = self.inputs()
        found = propagate(self.impedance, inputs, correlation=r)
        assert [f.value for f in found.results] == pytest.approx([127.732, 219.847, 254.260], abs=5.5e-4)
        assert [f.u for f in found.results] == pytest.approx([0.071, 0.295, 0.236], abs=1e-3)
        assert found.results[1].u == pytest.approx(0.2956, abs=5e-5)  # printed .295
        c = found.correlation
        assert (c[0, 1], c[0, 2], c[1, 2]) == pytest.approx((-0.588, -0.485, 0.993), abs=1.5e-3)
        assert [f.dof for f in found.results] == pytest.approx([4.0] * 3, abs=1e-6)

    def test_leaving_correlation_out_is_not_the_safe_side(self):
        inputs, _ = self.inputs()
        found = propagate(self.impedance, inputs)
        assert [f.u for f in found.results] == pytest.approx([0.195, 0.201, 0.204], abs=1e-3)


class TestSupplementOne:
    def test_m03_sum_of_four_normals(self):
        """9.2.2 (read): u 2.00, +-3.92."""
        found = monte_carlo(lambda *x: sum(x), [Normal(0.0, 1.0)] * 4)
        assert found.stable
        assert found.u == pytest.approx(2.0, abs=0.02)
        assert (found.low, found.high) == pytest.approx((-3.92, 3.92), abs=0.05)

    def test_m04_sum_of_four_rectangles(self):
        """9.2.3 (read): +-3.88, exact 3.8794."""
        half = sqrt(3.0)
        found = monte_carlo(lambda *x: sum(x), [Rectangular(-half, half)] * 4, most_trials=2_000_000)
        assert found.high == pytest.approx(3.88, abs=2e-2)
        rng = np.random.default_rng(5)
        total = rng.uniform(-half, half, (2_000_000, 4)).sum(axis=1)
        assert np.quantile(np.abs(total), 0.95) == pytest.approx(3.8794, abs=5e-3)

    def test_numerical_tolerance(self):
        """9.2.2 (read): u 2.00 gives .5, .05, .005 for one, two, three digits."""
        assert [montecarlo.numerical_tolerance(2.0, n) for n in (1, 2, 3)] == pytest.approx([0.5, 0.05, 0.005])

    def test_m05_comparison_loss_at_zero(self):
        """9.4 (read): mean 50, u 50, shortest interval [0, 150], all 1e-6; the law of propagation gives 0."""
        found = monte_carlo(lambda a, b: a**2 + b**2, [Normal(0.0, 0.005)] * 2, shortest=True)
        assert 1e6 * np.array([found.mean, found.u, found.low, found.high]) == pytest.approx([50, 50, 0, 150], abs=3)
        inputs = [Quantified(name=n, value=0.0, u=0.005) for n in "ab"]
        assert propagate(lambda a, b: a**2 + b**2, inputs).results[0].u == pytest.approx(0.0, abs=1e-12)

    def test_m06_comparison_loss_beside_zero(self):
        """9.4 (read): propagation [-96, 296] at .010 and [1520, 3480] at .050; Monte Carlo lower end about 1590."""
        for x, low, high in ((0.010, -96.0, 296.0), (0.050, 1520.0, 3480.0)):
            inputs = [Quantified(name="a", value=x, u=0.005), Quantified(name="b", value=0.0, u=0.005)]
            law = propagate(lambda a, b: a**2 + b**2, inputs).results[0]
            ends = 1e6 * np.array([law.value - 1.96 * law.u, law.value + 1.96 * law.u])
            assert ends == pytest.approx([low, high], abs=0.6)
        found = monte_carlo(
            lambda a, b: a**2 + b**2, [Normal(0.050, 0.005), Normal(0.0, 0.005)], shortest=True, digits=2
        )
        assert 1e6 * found.low == pytest.approx(1590.0, abs=15.0)


class TestConformity:
    def test_m07_ball_bearings(self):
        """JCGM 106, 9.5.4 (read in a public notebook): 4.24 % bad, consumer .80 %, limit 1.672 for .1 %."""
        process = gamma(4, scale=0.25)
        risks = risk.global_risks(process, 0.25, upper=2.0, accept_to=2.0)
        assert (risks.bad, risks.consumer, risks.producer) == pytest.approx((0.0424, 0.0080, 0.0174), abs=5e-5)
        limit = risk.acceptance_limit_for_risk(process, 0.25, upper=2.0, consumer_risk=0.001)
        assert limit == pytest.approx(1.672, abs=5e-4)

    def test_m08_m09_one_sided(self):
        """Container strength and diode (memory): .976 and .919."""
        assert float(risk.probability_within(507.0, 8.6, lower=490.0)) == pytest.approx(0.976, abs=5e-4)
        assert float(risk.probability_within(-5.47, 0.05, upper=-5.40)) == pytest.approx(0.919, abs=5e-4)

    def test_m10_speed_limit(self):
        """Reading above which 100 km/h is exceeded with 99.9 % (memory): 106.6, rounded up to 107."""
        assert risk.rejection_reading(100.0, relative_u=0.02, probability=0.999) == pytest.approx(106.6, abs=0.05)

    def test_m11_guard_factor(self):
        for g, probability in ((0.0, 0.5), (1.0, 0.8413), (1.645, 0.9500), (2.0, 0.9772)):
            limit = Limit(quantity="hum", upper=10.0, owner="-", source="-", date="2026-01-01")
            reading = Measurement(quantity="hum", value=10.0 - g * 0.5, u95=0.5 * 1.959963984540054)
            assert conformance_probability(reading, limit) == pytest.approx(probability, abs=1e-4)
            assert risk.acceptance_reading(10.0, u=0.5, probability=probability) == pytest.approx(10 - g / 2, abs=1e-3)

    def test_m12_prior(self):
        """JCGM 106, clause 7 formulas (computed)."""
        estimate, u = risk.posterior(0.25, 0.1, 0.0, 0.2)
        assert (estimate, u) == pytest.approx((0.2, 0.08944), abs=5e-6)
        assert float(risk.probability_within(estimate, u, -0.3, 0.3)) == pytest.approx(0.8682, abs=1e-4)
        assert float(risk.probability_within(0.25, 0.1, -0.3, 0.3)) == pytest.approx(0.6915, abs=1e-4)
