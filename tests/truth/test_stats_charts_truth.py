"""Charts against simulation. Seeds fixed; speeds are printed (``pytest -s``), never asserted."""

from time import perf_counter

import numpy as np
import pytest

from runtrue.stats import charts
from runtrue.types import Verdict


def run_lengths(rng, rule_names, shift, runs, most):
    z = rng.standard_normal((runs, most)) + shift
    first = np.full(runs, most)
    for i in range(runs):
        found = charts.signals(z[i], rule_names)
        first[i] = found[0].at + 1 if found else most
    return first


def test_run_rules_speak_as_often_as_the_chain_says():
    rng = np.random.default_rng(51)
    lengths = run_lengths(rng, charts.WESTERN_ELECTRIC, 0.75, 3000, 400)
    exact = charts.rules_arl(shift=0.75)
    assert lengths.mean() == pytest.approx(exact, abs=3.5 * lengths.std() / np.sqrt(3000))


def test_cusum_and_ewma_run_lengths():
    rng = np.random.default_rng(52)
    x = rng.standard_normal((4000, 300)) + 0.7
    for simulate, exact in (
        (lambda row: charts.cusum(row, target=0.0, k=0.5, h=4.0).first_signal, charts.cusum_arl(0.5, 4.0, 0.7)),
        (
            lambda row: charts.cusum(row, target=0.0, k=0.5, h=4.0, head_start=2.0).first_signal,
            charts.cusum_arl(0.5, 4.0, 0.7, head_start=2.0),
        ),
        (
            lambda row: next(iter(charts.ewma(row, target=0.0, sigma=1.0, weight=0.2, steady=True).out), None),
            charts.ewma_arl(0.2, 3.0, 0.7),
        ),
    ):
        first = np.array([simulate(row) for row in x], dtype=float) + 1
        assert first.mean() == pytest.approx(exact, abs=3.5 * first.std() / np.sqrt(first.size))


def test_cusum_equals_the_plain_recursion():
    rng = np.random.default_rng(53)
    x = rng.standard_normal(2000)
    found = charts.cusum(x, target=0.1, sigma=1.3, k=0.4, h=4.0, head_start=2.0)
    up = down = 2.0 * 1.3
    for i, value in enumerate(x):
        up = max(0.0, up + value - 0.1 - 0.4 * 1.3)
        down = max(0.0, down - value + 0.1 - 0.4 * 1.3)
        assert (found.upper[i], found.lower[i]) == pytest.approx((up, down), abs=1e-9)


def test_a_million_points():
    x = np.random.default_rng(54).standard_normal(1_000_000)
    began = perf_counter()
    average = charts.ewma(x, target=0.0, sigma=1.0)
    middle = perf_counter()
    sums = charts.cusum(x, target=0.0)
    print(f"1,000,000 points: EWMA {middle - began:.3f} s, CUSUM {perf_counter() - middle:.3f} s")
    assert average.points.size == sums.upper.size == 1_000_000
    assert len(average.out) == pytest.approx(1e6 * 0.0027, rel=0.15)


def test_phase_one_finds_the_process_under_wild_points():
    rng = np.random.default_rng(55)
    centres, sigmas, passed = [], [], 0
    for _ in range(300):
        x = rng.normal(50.0, 2.0, 40)
        x[rng.choice(40, 6, replace=False)] += rng.choice([-1, 1], 6) * rng.uniform(10, 30, 6)
        found = charts.phase_one(x)
        centres.append(found.centre)
        sigmas.append(found.sigma)
        passed += found.verdict is Verdict.PASS
    assert passed >= 285
    assert np.mean(centres) == pytest.approx(50.0, abs=0.1)
    assert np.mean(sigmas) == pytest.approx(2.0, rel=0.06)


def test_phase_one_of_a_clean_process_keeps_nearly_all():
    rng = np.random.default_rng(56)
    lost = [len(charts.phase_one(rng.normal(0, 1, 100)).left_out) for _ in range(300)]
    assert np.mean(lost) == pytest.approx(0.3, abs=0.25)


@pytest.mark.parametrize("size", [2, 5, 14])
def test_fewer_than_15_points_cannot_be_judged(size):
    rng = np.random.default_rng(57)
    assert charts.phase_one(rng.normal(0, 1, size)).verdict is Verdict.CANNOT_JUDGE
    chart, _ = charts.individuals(rng.normal(0, 1, size))
    assert not chart.judged
    assert "nothing can be judged" in chart.cautions[0]


def test_a_wandering_process_has_no_baseline():
    steps = np.repeat([0.0, 30.0, -25.0, 50.0, 10.0], 6) + np.random.default_rng(58).normal(0, 1, 30)
    assert charts.phase_one(steps).verdict is not Verdict.PASS


def test_attribute_limits_hold_the_tails_they_promise():
    rng = np.random.default_rng(59)
    bad = rng.binomial(50, 0.03, 20_000)
    chart = charts.p_chart(bad, np.full(20_000, 50), share=0.03)
    assert len(chart.out) / 20_000 <= 0.0027 + 0.001
    faults = rng.poisson(1.2, 20_000)
    assert len(charts.u_chart(faults, np.ones(20_000), rate=1.2).out) / 20_000 <= 0.0027 + 0.001
    three_sigma = np.mean(bad / 50 > 0.03 + 3 * np.sqrt(0.03 * 0.97 / 50))
    assert three_sigma > 0.003  # what the usual formula would do: speak more than twice too often


@pytest.mark.parametrize("own", [True, False])
def test_hotelling_keeps_its_probability(own):
    rng = np.random.default_rng(60)
    mix = np.array([[1.0, 0.8, 0.1], [0.0, 0.6, 0.3], [0.0, 0.0, 0.9]])
    out = total = 0
    for _ in range(400):
        base = rng.standard_normal((30, 3)) @ mix
        rows = base if own else rng.standard_normal((30, 3)) @ mix
        found = charts.hotelling(rows, baseline=None if own else base, probability=0.95)
        out += len(found.out)
        total += 30
    assert out / total == pytest.approx(0.05, abs=0.01)


def test_hotelling_names_the_value_that_is_wrong():
    rng = np.random.default_rng(61)
    base = rng.standard_normal((100, 3))
    found = charts.hotelling([[0.0, 6.0, 0.0]], baseline=base)
    assert found.out == (0,)
    assert int(np.argmax(found.parts[0])) == 1


def test_intervals_of_the_change_point_cover():
    """The place is drawn evenly, the step from a prior wider than any: coverage at least nominal less 1 point."""
    rng = np.random.default_rng(62)
    means = rates = 0
    runs = 1500
    for _ in range(runs):
        place = rng.integers(1, 40)
        step = rng.normal(0.0, 3.0)
        x = rng.standard_normal(40)
        x[place:] += step
        low, high = charts.mean_change(x).interval
        means += low <= place <= high
        rate = rng.gamma(0.5, 20.0, 2) + 1e-3
        y = rng.poisson(np.where(np.arange(40) < place, *rate))
        if y.sum() == 0:
            rates += 1
            continue
        low, high = charts.rate_change(y, series=1).interval
        rates += low <= place <= high
    assert means / runs >= 0.94
    assert rates / runs >= 0.94


def test_p_value_of_the_change_is_even_without_a_change():
    rng = np.random.default_rng(63)
    p = np.array([charts.mean_change(rng.standard_normal(30)).p_value for _ in range(1000)])
    assert (p <= 0.05).mean() == pytest.approx(0.05, abs=0.02)
    assert (p <= 0.5).mean() == pytest.approx(0.5, abs=0.05)


def test_interval_of_cp_covers():
    rng = np.random.default_rng(64)
    s = rng.standard_normal((4000, 25)).std(axis=1, ddof=1)
    held = 0
    for value in s:
        low, high = charts.capability(0.0, float(value), 25, lower=-4.0, upper=4.0).cp_interval
        held += low <= 4.0 / 3.0 <= high
    assert held / s.size == pytest.approx(0.95, abs=0.01)


def test_interval_of_cpk_covers():
    """Bissell's interval is a large-sample one: within 1.5 points at n = 50."""
    rng = np.random.default_rng(65)
    held = 0
    for x in rng.standard_normal((3000, 50)):
        found = charts.capability(float(x.mean()), float(x.std(ddof=1)), 50, upper=4.0)
        held += found.cpk_interval[0] <= 4.0 / 3.0 <= found.cpk_interval[1]
    assert held / 3000 == pytest.approx(0.95, abs=0.015)


def test_limit_for_meets_its_run_length():
    h = charts.limit_for(370.4, lambda limit: charts.cusum_arl(0.5, limit))
    assert h == pytest.approx(4.77, abs=0.01)  # 4.77 for k = 1/2 is the usual choice
