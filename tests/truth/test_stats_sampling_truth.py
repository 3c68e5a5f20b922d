"""Sampling against simulation and enumeration. Seeds are fixed; a speed is printed (``pytest -s``), never asserted."""

from time import perf_counter

import numpy as np
import pytest
from scipy.stats import binom

from runtrue.stats import sampling


def test_exact_interval_covers_at_least_nominal():
    """Clopper-Pearson is conservative for every p: coverage summed exactly over all outcomes."""
    n = 60
    low, high = np.array([sampling.share_interval(found, n) for found in range(n + 1)]).T
    p = np.linspace(0.002, 0.998, 333)[:, np.newaxis]
    covered = (binom.pmf(np.arange(n + 1), n, p) * ((low <= p) & (p <= high))).sum(axis=1)
    assert covered.min() >= 0.95
    assert covered.mean() < 0.99


def test_scheme_formula_against_the_state_machine():
    """Without reduced inspection and without stopping the state machine walks the chain of Stephens and Larson."""
    rng = np.random.default_rng(31)
    pn, pt = 0.80, 0.70
    state, accepted, lots = sampling.Switching(), 0, 60_000
    draws = rng.random(lots)
    for draw in draws:
        outcome = bool(draw < (pn if state.severity is sampling.Severity.NORMAL else pt))
        accepted += outcome
        state = sampling.after_lot(state, accepted=outcome)
        if state.stopped:  # the formula knows no stop
            state = sampling.Switching(severity=sampling.Severity.TIGHTENED, accepted_in_a_row=state.accepted_in_a_row)
    assert accepted / lots == pytest.approx(float(sampling.scheme_acceptance(pn, pt)), abs=0.01)


def test_sequential_against_simulation():
    plan = sampling.sequential_plan(0.01, 0.10, most=156)
    rng = np.random.default_rng(32)
    for p in (0.01, 0.04, 0.10):
        bad = np.cumsum(rng.random((20_000, 156)) < p, axis=1)
        n = np.arange(1, 157)
        accept = bad <= np.array([plan.accept_number(int(k)) for k in n])
        refuse = bad >= np.array([plan.refuse_number(int(k)) for k in n])
        stop = np.argmax(accept | refuse, axis=1)
        took = accept[np.arange(bad.shape[0]), stop].mean()
        acceptance, asn = sampling.exact_curve(plan, p)
        assert float(acceptance) == pytest.approx(took, abs=0.012)
        assert float(asn) == pytest.approx((stop + 1).mean(), rel=0.02)


def test_the_two_risks_of_wald_are_kept_by_the_exact_test():
    acceptance, _ = sampling.exact_curve(sampling.sequential_plan(0.02, 0.12, most=400), [0.02, 0.12])
    assert acceptance[0] >= 0.95
    assert acceptance[1] <= 0.10


@pytest.mark.parametrize("sensitivity", [1.0, 0.85, 0.4])
def test_run_risk_against_simulation(sensitivity):
    rng = np.random.default_rng(33)
    start = rng.integers(0, 50, 400_000)
    made = start + 50 * (rng.geometric(sensitivity, start.size) - 1)
    risk = sampling.run_risk(50, sensitivity=sensitivity)
    assert risk.mean == pytest.approx(made.mean(), rel=0.01)
    assert (made <= risk.within_confidence).mean() == pytest.approx(0.95, abs=0.011)
    if sensitivity == 1.0:
        assert risk.worst == made.max() == 49


def test_a_fault_that_begins_between_two_samples_costs_at_most_n_minus_1():
    for interval in (1, 2, 25, 500):
        assert sampling.run_risk(interval).worst == interval - 1


def test_run_detection_against_simulation():
    rng = np.random.default_rng(34)
    for length in (10, 60, 130):
        start = rng.integers(0, 50, 200_000)
        samples = (start + length - 1) // 50 - (start - 1) // 50  # samples stand at multiples of 50
        seen = rng.random(start.size) < 1 - 0.7**samples
        found = float(sampling.run_detection(length, 50, sensitivity=0.3))
        assert found == pytest.approx(seen.mean(), abs=0.005)


def test_curtailed_sample_against_simulation():
    rng = np.random.default_rng(35)
    bad = np.cumsum(rng.random((40_000, 80)) < 0.06, axis=1)
    stop = np.where((bad > 2).any(axis=1), np.argmax(bad > 2, axis=1) + 1, 80)
    assert float(sampling.curtailed_sample(80, 2, 0.06)) == pytest.approx(stop.mean(), rel=0.01)


def test_hypergeometric_equals_the_sum_for_a_small_lot():
    from math import comb

    for bad in range(13):
        exact = sum(comb(bad, d) * comb(12 - bad, 5 - d) for d in range(2)) / comb(12, 5)
        found = float(sampling.acceptance_probability(5, 1, bad / 12, model="hypergeometric", lot_size=12))
        assert found == pytest.approx(exact, abs=1e-12)


def test_hundred_thousand_oc_points():
    p = np.linspace(0.0, 0.3, 100_000)
    began = perf_counter()
    pa = sampling.acceptance_probability(125, 3, p)
    print(f"100,000 OC points: {perf_counter() - began:.4f} s")
    assert pa[0] == 1.0
    assert np.all(np.diff(pa) <= 0.0)
