"""The one judge: every rule of its table."""

import subprocess
import sys

import numpy as np
import pytest

from runtrue.errors import InputError
from runtrue.stats.conformity import conformance_probability, judge, verdict, word_for
from runtrue.stats.plane import plane_vector
from runtrue.types import About, Limit, Measurement, Rule, Verdict


def limit(quantity="hum", **bounds):
    return Limit(quantity=quantity, owner="plant", source="house", date="2026-01-01", **bounds)


def reading(value, u95=None, quantity="hum", **more):
    return Measurement(quantity=quantity, value=value, u95=u95, **more)


class TestScalar:
    @pytest.mark.parametrize(
        ("value", "word"),
        [
            (-50.0, "pass"),
            (-41.645, "pass"),
            (-41.64, "cannot_judge"),
            (-40.0, "cannot_judge"),
            (-38.36, "cannot_judge"),
            (-38.355, "fail"),
            (-30.0, "fail"),
        ],
    )
    def test_upper_limit(self, value, word):
        (finding,) = judge([reading(value, 1.96)], [limit(upper=-40.0)])
        assert finding.verdict == word

    def test_two_sided(self):
        found = conformance_probability(reading(0.0, 1.959964), limit(lower=-1.0, upper=2.0))
        assert found == pytest.approx(0.977250 - 0.158655, abs=1e-5)

    def test_far_tail_keeps_its_digits(self):
        found = conformance_probability(reading(0.0, 1.959963984540054), limit(lower=9.0, upper=10.0))
        assert found == pytest.approx(1.1286e-19, rel=1e-3)

    @pytest.mark.parametrize(("value", "p"), [(5.0, 1.0), (6.0, 0.0), (5, 1.0)])
    def test_count_is_exact_and_the_limit_itself_conforms(self, value, p):
        measured = reading(value, quantity="ticks_per_side")
        (finding,) = judge([measured], [limit("ticks_per_side", upper=5.0)])
        assert finding.conformance_probability == p
        assert finding.verdict == ("pass" if p else "fail")

    def test_u95_of_zero_is_exact(self):
        assert conformance_probability(reading(1.0, 0.0), limit(upper=1.0)) == 1.0

    def test_own_rule(self):
        rule = Rule(pass_at_least=0.5, fail_at_most=0.2)
        (finding,) = judge([reading(0.0, 1.96)], [limit(upper=0.1, rule=rule)])
        assert finding.verdict is Verdict.PASS
        (finding,) = judge([reading(0.0, 1.96)], [limit(upper=-0.5, rule=rule)])
        assert finding.verdict is Verdict.CANNOT_JUDGE

    def test_coverage_of_the_rule(self):
        """A record exactly on its limit is passed 5 times in 100 and failed 5 times in 100."""
        rng = np.random.default_rng(3)
        words = [
            word_for(conformance_probability(reading(float(x), 1.959964), limit(upper=0.0)), Rule())
            for x in rng.standard_normal(8000)
        ]
        assert words.count(Verdict.PASS) / 8000 == pytest.approx(0.05, abs=0.008)
        assert words.count(Verdict.FAIL) / 8000 == pytest.approx(0.05, abs=0.008)


class TestNotMeasured:
    def test_limit_without_a_measurement(self):
        (finding,) = judge([reading(1.0, 0.1, "swish")], [limit(upper=0.0)])
        assert finding.verdict is Verdict.CANNOT_JUDGE
        assert finding.conformance_probability is None
        assert (finding.measurement.value, finding.measurement.reason) == (None, "not measured")

    def test_measurement_without_a_value_keeps_its_reason(self):
        (finding,) = judge([reading(None, reason="clipped")], [limit(upper=0.0)])
        assert (finding.verdict, finding.measurement.reason) == (Verdict.CANNOT_JUDGE, "clipped")
        with pytest.raises(InputError, match=r"has no value \(clipped\)"):
            conformance_probability(finding.measurement, finding.limit)

    def test_measurement_without_a_limit_is_not_in_the_findings(self):
        assert judge([reading(1.0, 0.1)], []) == ()

    def test_several_measurements_give_one_finding_each(self):
        findings = judge([reading(-60.0, 1.0), reading(None, reason="no"), reading(-20.0, 1.0)], [limit(upper=-40.0)])
        assert [finding.verdict for finding in findings] == ["pass", "cannot_judge", "fail"]

    def test_order_is_that_of_the_limits(self):
        limits = [limit("swish", upper=1.0), limit(upper=1.0), limit(lower=-1.0)]
        findings = judge([reading(0.0, 0.1), reading(0.0, 0.1, "swish")], limits)
        assert [finding.limit for finding in findings] == limits


class TestPlane:
    VECTOR = plane_vector(60e-6, 80e-6, (1e-10, 0.0, 1e-10))

    def test_length_is_judged_over_the_distribution_and_not_by_the_circle(self):
        """Offset 100 um, u95 24.5 um, limit 120 um: the circle reaches 124.5 um, yet 97 in 100 lie within."""
        (finding,) = judge(
            [reading(self.VECTOR, self.VECTOR.u95, "off_centre_offset")], [limit("off_centre_offset", upper=120e-6)]
        )
        assert self.VECTOR.length + self.VECTOR.u95 > 120e-6
        assert finding.conformance_probability == pytest.approx(0.9747, abs=2e-4)
        assert finding.verdict is Verdict.PASS

    def test_swing_is_twice_the_offset(self):
        offset = reading(self.VECTOR, self.VECTOR.u95, "off_centre_offset")
        (by_offset,) = judge([offset], [limit("off_centre_offset", upper=105e-6)])
        (by_swing,) = judge([offset], [limit("off_centre_swing", upper=210e-6)])
        assert by_swing.conformance_probability == by_offset.conformance_probability
        assert by_swing.measurement is offset
        doubled = plane_vector(120e-6, 160e-6, (4e-10, 0.0, 4e-10))
        (back,) = judge([reading(doubled, 1e-6, "off_centre_swing")], [limit("off_centre_offset", upper=105e-6)])
        assert back.conformance_probability == pytest.approx(by_offset.conformance_probability, abs=1e-9)

    def test_own_quantity_comes_first(self):
        own = reading(100e-6, 1e-6, "off_centre_swing")
        (finding,) = judge(
            [reading(self.VECTOR, 1e-6, "off_centre_offset"), own], [limit("off_centre_swing", upper=150e-6)]
        )
        assert finding.measurement is own

    def test_offset_that_could_not_be_measured_leaves_the_swing_unjudged(self):
        missing = reading(None, quantity="off_centre_offset", reason="too short")
        (finding,) = judge([missing], [limit("off_centre_swing", upper=1e-4)])
        assert finding.verdict is Verdict.CANNOT_JUDGE
        assert finding.measurement.reason == "too short"

    def test_loose_placing_near_the_limit_cannot_be_judged(self):
        loose = plane_vector(180e-6, 0.0, (2e-12, 0.0, 2e-12), (22e-6, 70e-6))
        (finding,) = judge([reading(loose, loose.u95, "off_centre_offset")], [limit("off_centre_offset", upper=200e-6)])
        assert finding.verdict is Verdict.CANNOT_JUDGE

    def test_unrelated_quantities_are_refused(self):
        with pytest.raises(InputError, match="a limit on hum says nothing about a measurement of swish"):
            conformance_probability(reading(1.0, 0.1, "swish"), limit(upper=1.0))


class TestVerdict:
    def findings(self, *values):
        return judge([reading(value, 1.0, reason="x" if value is None else "") for value in values], [limit(upper=0.0)])

    def test_any_fail_else_any_unjudged_else_pass(self):
        assert verdict(self.findings(-9.0, None, 9.0)) is Verdict.FAIL
        assert verdict(self.findings(-9.0, None)) is Verdict.CANNOT_JUDGE
        assert verdict(self.findings(-9.0, -8.0)) is Verdict.PASS

    def test_nothing_judged_is_never_a_pass(self):
        assert verdict([]) is Verdict.CANNOT_JUDGE

    def test_nan_is_never_a_pass(self):
        assert word_for(float("nan"), Rule()) is Verdict.CANNOT_JUDGE

    def test_rig_findings_are_the_callers_choice(self):
        rig = judge([reading(9.0, 1.0, about=About.RIG)], [limit(upper=0.0)])
        assert verdict(rig) is Verdict.FAIL
        assert verdict([f for f in rig if f.measurement.about is About.DISC]) is Verdict.CANNOT_JUDGE


def test_the_judge_does_not_wait_for_scipy_stats():
    rooms = "runtrue.stats.conformity, runtrue.stats.sampling, runtrue.stats.charts, runtrue.stats.reliability"
    code = f"import sys, {rooms}; print('scipy.stats' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "False"
