"""Life, agreement and comparison against simulation. Seeds fixed."""

import numpy as np
import pytest
from scipy.stats import mannwhitneyu

from runtrue.stats import agreement, comparison, gauge, reliability


def weibull_lives(rng, n, until=None):
    life = 500.0 * rng.weibull(2.0, n)
    stop = np.full(n, until) if until else rng.uniform(200.0, 1200.0, n)
    return np.minimum(life, stop), (life <= stop).astype(int)


def test_kaplan_meier_limits_cover():
    rng = np.random.default_rng(81)
    true, runs, held = float(np.exp(-((400 / 500) ** 2))), 1500, {"log-log": 0, "log": 0, "plain": 0}
    for _ in range(runs):
        time, ended = weibull_lives(rng, 80)
        for transform in held:
            found = reliability.kaplan_meier(time, ended, transform=transform)
            at = int(np.searchsorted(found.time, 400.0, side="right")) - 1
            held[transform] += found.lower[at] <= true <= found.upper[at]
    assert held["log-log"] / runs == pytest.approx(0.95, abs=0.012)
    assert held["plain"] / runs == pytest.approx(0.95, abs=0.025)


def test_limits_of_the_median_life_cover():
    """Brookmeyer and Crowley's limits, on the log-log scale."""
    rng = np.random.default_rng(80)
    true, held, runs = 500.0 * np.log(2.0) ** 0.5, 0, 1500
    for _ in range(runs):
        _, low, high = reliability.kaplan_meier(*weibull_lives(rng, 100)).quantile()
        held += low <= true and (high is None or true <= high)
    assert held / runs == pytest.approx(0.95, abs=0.015)


def test_greenwood_without_censoring_is_the_binomial():
    time = np.arange(1.0, 41.0)
    found = reliability.kaplan_meier(time, np.ones(40))
    assert found.deviation[:-1] == pytest.approx(np.sqrt(found.share * (1 - found.share) / 40)[:-1])
    assert (found.lower[-1], found.upper[-1]) == (0.0, 1.0)
    assert list(found.at([0.5, 1.0, 20.5])) == pytest.approx([1.0, 0.975, 0.5])


@pytest.mark.parametrize("law", ["weibull", "log_normal"])
def test_likelihood_limits_cover(law):
    """Thirty lives, a third censored: within two points of nominal (theory: off by the order of 1/n)."""
    rng = np.random.default_rng(82)
    runs, held = 1000, np.zeros(3)
    for run in range(runs):
        if law == "weibull":
            life, w = 500.0 * rng.weibull(2.0, 30), np.log(-np.log(0.9))
            truths = (np.log(0.5), np.log(500.0) + 0.5 * w, np.log(300 / 500) / 0.5)
        else:
            life, w = 500.0 * np.exp(0.5 * rng.standard_normal(30)), -1.2815515655
            truths = (np.log(0.5), np.log(500.0) + 0.5 * w, np.log(300 / 500) / 0.5)
        stop = rng.uniform(300.0, 1200.0, 30)
        found = reliability.fit_life(np.minimum(life, stop), (life <= stop).astype(int), law)
        fixings = (
            (lambda log_s, mu: (mu, log_s), found.mu),
            (lambda q, log_s, w=w: (q - np.exp(log_s) * w, log_s), None),
            (lambda z, log_s: (np.log(300.0) - np.exp(log_s) * z, log_s), None),
        )
        inside = [
            found._excess(parameters, truth, 0.95, free=free) <= 0.0
            for (parameters, free), truth in zip(fixings, truths, strict=True)
        ]
        held += inside
        if run < 15:  # the limits are the ends of that set
            low, high = found.shape_limits()
            assert (low <= (2.0 if law == "weibull" else 0.5) <= high) == inside[0]
            low, high = found.life_limits(0.1)
            assert (low <= np.exp(truths[1]) <= high) == inside[1]
            good = 0.697676 if law == "weibull" else 0.846505  # exp(-.36), Phi(ln(5/3) / .5)
            low, high = found.share_good_limits(300.0)
            assert (low <= good <= high) == inside[2]
    assert held / runs == pytest.approx([0.955] * 3, abs=0.018)


def test_fit_recovers_the_law():
    rng = np.random.default_rng(83)
    time, ended = weibull_lives(rng, 20_000)
    found = reliability.fit_life(time, ended)
    assert (found.shape, found.scale) == pytest.approx((2.0, 500.0), rel=0.02)
    assert found.life_at(0.5) == pytest.approx(500 * np.log(2) ** 0.5, rel=0.02)
    assert found.mean == pytest.approx(500 * np.sqrt(np.pi) / 2, rel=0.02)
    life = 300.0 * np.exp(0.4 * rng.standard_normal(20_000))
    other = reliability.fit_life(np.minimum(life, 400.0), (life <= 400.0).astype(int), "log_normal")
    assert (other.shape, other.scale) == pytest.approx((0.4, 300.0), rel=0.02)
    assert other.mean == pytest.approx(300 * np.exp(0.08), rel=0.02)


def test_the_fit_is_where_the_slope_is_nothing():
    time, ended = weibull_lives(np.random.default_rng(84), 25)
    for law in reliability.Law:
        found = reliability.fit_life(time, ended, law)
        for step in (0.99, 1.01):
            moved = reliability.life._log_likelihood(
                law, found.mu, np.log(found.sigma * step), np.log(time), ended.astype(float)
            )
            assert moved < found.log_likelihood
            moved = reliability.life._log_likelihood(
                law, found.mu + step - 1, np.log(found.sigma), np.log(time), ended.astype(float)
            )
            assert moved < found.log_likelihood


def test_log_rank_keeps_its_size():
    rng = np.random.default_rng(85)
    p = []
    for _ in range(1500):
        time, ended = weibull_lives(rng, 60)
        p.append(reliability.log_rank(time, ended, np.repeat(["a", "b", "c"], 20)).p_value)
    assert np.mean(np.array(p) <= 0.05) == pytest.approx(0.05, abs=0.015)


def test_trend_interval_covers():
    rng = np.random.default_rng(86)
    place = np.arange(0.0, 1000.0, 100.0)
    line = single = 0
    runs = 3000
    for _ in range(runs):
        value = -60.0 + 0.005 * place + 0.5 * rng.standard_normal(10)
        found = reliability.trend_to_limit(place, value, -52.0)
        line += found.interval[0] <= 1600.0 <= found.interval[1]
        single += -60.0 + 0.005 * found.early + 0.5 * rng.standard_normal() <= -52.0
    assert line / runs == pytest.approx(0.95, abs=0.01)
    assert single / runs == pytest.approx(0.975, abs=0.01)


def test_a_trend_that_may_be_nothing_is_not_judged():
    found = reliability.trend_to_limit([0, 1, 2, 3, 4], [1.0, 1.3, 0.9, 1.2, 1.0], 5.0)
    assert not found.bounded
    assert found.interval == (None, None)
    assert "no end can be named" in found.reason
    falling = reliability.trend_to_limit([0, 1, 2, 3], [4.0, 3.0, 2.1, 1.0], 0.0)
    assert falling.interval[0] < falling.crossing < falling.interval[1]


def test_kappa_interval_covers():
    rng = np.random.default_rng(87)
    p = np.array([[0.30, 0.08, 0.02], [0.05, 0.25, 0.05], [0.02, 0.03, 0.20]])
    row, column = p.sum(axis=1), p.sum(axis=0)
    true = (np.trace(p) - row @ column) / (1 - row @ column)
    held = 0
    for _ in range(3000):
        low, high = agreement.cohen(rng.multinomial(300, p.ravel()).reshape(3, 3)).interval
        held += low <= true <= high
    assert held / 3000 == pytest.approx(0.95, abs=0.01)


def test_fleiss_of_chance_is_nothing():
    rng = np.random.default_rng(88)
    z = [agreement.fleiss(rng.multinomial(5, [0.5, 0.3, 0.2], 60)).z for _ in range(1500)]
    assert np.mean(z) == pytest.approx(0.0, abs=0.1)
    assert np.std(z) == pytest.approx(1.0, abs=0.08)


def test_fleiss_of_two_equals_scotts_pi():
    counts = [[2, 0], [1, 1], [0, 2], [2, 0], [0, 2], [1, 1]]
    found = agreement.fleiss(counts)
    assert found.kappa == pytest.approx((4 / 6 - 0.5) / 0.5)
    assert found.by_category == pytest.approx((found.kappa, found.kappa))


def test_gauge_recovers_its_parts():
    rng = np.random.default_rng(89)
    gauges, parts = [], []
    for _ in range(200):
        part = 2.0 * rng.standard_normal((1, 10, 1))
        operator = 0.5 * rng.standard_normal((3, 1, 1))
        found = gauge.gauge_study(part + operator + 0.3 * rng.standard_normal((3, 10, 3)))
        gauges.append(found.gauge**2)
        parts.append(found.part**2)
    assert np.mean(gauges) == pytest.approx(0.25 + 0.09, rel=0.12)
    assert np.mean(parts) == pytest.approx(4.0, rel=0.12)


def test_an_interaction_is_not_pooled():
    rng = np.random.default_rng(90)
    both = rng.standard_normal((3, 10, 1))
    found = gauge.gauge_study(2.0 * rng.standard_normal((1, 10, 1)) + both + 0.2 * rng.standard_normal((3, 10, 3)))
    assert not found.pooled
    assert found.reproducibility == pytest.approx(1.0, abs=0.4)


def test_newcombe_covers_on_average():
    """Published mean coverage of method 10 is .9602 over many parameters; computed here exactly for a grid."""
    from scipy.stats import binom

    n = 30
    ends = np.array([[_newcombe(x, y, n) for y in range(n + 1)] for x in range(n + 1)])
    covered = []
    for p1 in np.linspace(0.05, 0.95, 10):
        for p2 in np.linspace(0.08, 0.9, 9):
            weight = np.outer(binom.pmf(np.arange(n + 1), n, p1), binom.pmf(np.arange(n + 1), n, p2))
            inside = (ends[..., 0] <= p1 - p2) & (p1 - p2 <= ends[..., 1])
            covered.append((weight * inside).sum())
    assert np.mean(covered) == pytest.approx(0.955, abs=0.01)
    assert min(covered) > 0.92


def test_score_interval_covers_on_average():
    """Exactly, over all outcomes: mean coverage of Wilson's interval over p is .95 within 1 point."""
    from scipy.stats import binom

    n = 40
    low, high = np.array([comparison.score_interval(x, n) for x in range(n + 1)]).T
    p = np.linspace(0.005, 0.995, 400)[:, np.newaxis]
    covered = (binom.pmf(np.arange(n + 1), n, p) * ((low <= p) & (p <= high))).sum(axis=1)
    assert covered.mean() == pytest.approx(0.95, abs=0.01)


def _newcombe(x, y, n):
    (l1, u1), (l2, u2) = comparison.score_interval(x, n), comparison.score_interval(y, n)
    p1, p2 = x / n, y / n
    return p1 - p2 - np.hypot(p1 - l1, u2 - p2), p1 - p2 + np.hypot(u1 - p1, p2 - l2)


def test_boschloo_is_never_larger_than_fisher_and_keeps_its_size():
    found = comparison.compare_shares((1, 7), (20, 20))
    assert found.boschloo < found.fisher
    assert comparison.compare_shares((0, 0), (5, 5)).boschloo == 1.0


def test_mann_whitney_equals_the_standard_one():
    rng = np.random.default_rng(91)
    for n, m in ((5, 9), (25, 30), (60, 60)):
        x, y = rng.standard_normal(n), rng.standard_normal(m) + 0.4
        other = mannwhitneyu(x, y, method="exact")
        found = comparison.compare_values(x, y)
        assert (found.u, found.p_value) == pytest.approx((other.statistic, other.pvalue), rel=1e-9)
    x, y = rng.poisson(3, 40), rng.poisson(4, 40)
    other = mannwhitneyu(x, y, method="asymptotic")
    found = comparison.compare_values(x, y)
    assert not found.exact
    assert found.p_value == pytest.approx(other.pvalue, rel=1e-9)


@pytest.mark.parametrize("size", [8, 80])
def test_shift_interval_covers(size):
    rng = np.random.default_rng(92)
    held = 0
    for _ in range(2000):
        x, y = rng.standard_t(4, size) + 0.5, rng.standard_t(4, size)
        low, high = comparison.compare_values(x, y).interval
        held += low <= 0.5 <= high
    assert held / 2000 == pytest.approx(0.955, abs=0.015)


def test_two_values_each_give_no_interval():
    assert comparison.compare_values([1.0, 2.0], [3.0, 4.0]).interval == (-np.inf, np.inf)


def test_paired_plan_keeps_its_risk_and_ends():
    plan = comparison.paired_plan(2.0, risk=0.05)
    chances = plan.chances(2 / 3)
    assert chances[comparison.Better.SECOND] <= 0.05
    assert chances[comparison.Better.FIRST] > 0.90
    assert sum(chances.values()) == pytest.approx(1.0)
    even = plan.chances(0.5)
    assert even[comparison.Better.FIRST] == pytest.approx(even[comparison.Better.SECOND])
    rng = np.random.default_rng(93)
    words = []
    for _ in range(2000):
        first = second = 0
        while (word := plan.decide(first, second)) is comparison.Better.GO_ON:
            won = rng.random() < 2 / 3
            first, second = first + won, second + (not won)
        words.append(word)
    assert words.count(comparison.Better.FIRST) / 2000 == pytest.approx(chances[comparison.Better.FIRST], abs=0.015)


def test_sample_size_of_shares_reaches_its_power():
    n = comparison.sample_size_shares(0.30, 0.10, power=0.80)
    rng = np.random.default_rng(94)
    x, y = rng.binomial(n, 0.30, 20_000), rng.binomial(n, 0.10, 20_000)
    pooled = (x + y) / (2 * n)
    z = (x - y) / n / np.sqrt(np.maximum(2 * pooled * (1 - pooled) / n, 1e-12))
    assert np.mean(np.abs(z) > 1.96) == pytest.approx(0.80, abs=0.02)
