"""Sampling: bad input by name and range, and the switching rules step by step."""

import pytest

from runtrue.errors import InputError
from runtrue.stats import sampling


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: sampling.code_letter(1), "lot_size must be a whole number, 2 or more, got 1"),
        (lambda: sampling.code_letter(100, "IV"), "inspection level 'IV' is unknown; known are S-1"),
        (lambda: sampling.single_plan(100, 1.2), "AQL '1.2' is unknown; known are 0.010"),
        (lambda: sampling.single_plan(100, "fine"), "AQL 'fine' is unknown"),
        (lambda: sampling.single_plan(100, 15), "above 10 counts nonconformities per 100 units"),
        (lambda: sampling.single_plan(100, 1.0, standard="mine"), "sampling standard 'mine' is unknown"),
        (lambda: sampling.table_plan("K", 1.0, "loose"), "severity 'loose' is unknown; known are normal"),
        (lambda: sampling.table_plan("I", 1.0), "code letter 'I' is unknown"),
        (lambda: sampling.acceptance_probability(10, 11, 0.1), "accept must be a whole number, from 0 to 10, got 11"),
        (lambda: sampling.acceptance_probability(10, 1, [0.1, 1.1]), "p must be from 0 to 1, got 1.1"),
        (lambda: sampling.acceptance_probability(10, 1, 0.1, model="hypergeometric"), "needs lot_size"),
        (lambda: sampling.quality_at(10, 1, 1.0), "probability must be above 0 and below 1, got 1"),
        (lambda: sampling.zero_acceptance_size(0.0), "quality must be above 0 and below 1, got 0"),
        (
            lambda: sampling.zero_acceptance_size(0.001, model="hypergeometric", lot_size=500),
            "a lot of 500 at 0.001 holds 0 bad",
        ),
        (lambda: sampling.two_point_plan(0.1, 0.05), "good must be above 0 and below 0.05, got 0.1"),
        (lambda: sampling.share_interval(5, 4), "found must be a whole number, from 0 to 4, got 5"),
        (lambda: sampling.sequential_plan(0.1, 0.1), "good must be above 0 and below 0.1, got 0.1"),
        (lambda: sampling.exact_curve(sampling.sequential_plan(0.01, 0.1), 0.1), "cut off"),
        (lambda: sampling.run_risk(0), "interval must be a whole number, 1 or more, got 0"),
        (lambda: sampling.run_risk(10, sensitivity=0.0), "sensitivity must be above 0 and up to 1, got 0"),
        (lambda: sampling.scattered_risk(10, -0.1), "share must be from 0 to 1, got -0.1"),
    ],
)
def test_bad_input_is_named(call, message):
    with pytest.raises(InputError, match=message):
        call()


def walk(outcomes, **options):
    state = sampling.Switching(rules=options.pop("rules", sampling.Rules.MIL_STD_105E))
    for outcome in outcomes:
        state = sampling.after_lot(state, accepted=outcome, **options)
    return state


def test_two_refusals_six_lots_apart_do_not_tighten():
    assert walk([False, True, True, True, True, False]).severity == "normal"
    assert walk([False, True, True, True, False]).severity == "tightened"


def test_five_accepted_in_a_row_end_tightened_inspection():
    state = walk([False, False, True, True, True, True])
    assert state.severity == "tightened"
    assert sampling.after_lot(state, accepted=True).severity == "normal"


def test_105e_stops_after_ten_lots_on_tightened():
    state = walk([False, False, *[True, False] * 5])
    assert state.stopped
    with pytest.raises(InputError, match="inspection is stopped"):
        sampling.after_lot(state, accepted=True)


def test_iso_stops_at_the_fifth_refusal_on_tightened():
    iso = sampling.Rules.ISO_2859_1_1999
    assert not walk([False, False, *[True, False] * 4], rules=iso).stopped
    assert walk([False, False, *[True, False] * 5], rules=iso).stopped


def test_105e_reduces_after_ten_lots_only_with_leave():
    assert walk([True] * 10).severity == "normal"
    assert walk([True] * 10, may_reduce=True).severity == "reduced"
    assert walk([True] * 9, may_reduce=True).severity == "normal"


def test_iso_score():
    iso = sampling.Rules.ISO_2859_1_1999
    assert walk([True] * 14, rules=iso, accept=1, may_reduce=True).score == 28
    assert walk([True] * 15, rules=iso, accept=1, may_reduce=True).severity == "reduced"
    assert walk([True] * 10, rules=iso, accept=3, tighter_accepted=True, may_reduce=True).severity == "reduced"
    assert walk([True] * 9, rules=iso, accept=3, tighter_accepted=False).score == 0
    with pytest.raises(InputError, match="tighter_accepted"):
        walk([True], rules=iso, accept=2)


def test_reduced_ends_at_the_gap_at_a_refusal_and_at_irregular_production():
    reduced = walk([True] * 10, may_reduce=True)
    assert sampling.after_lot(reduced, accepted=True, accept=0, found=0).severity == "reduced"
    assert sampling.after_lot(reduced, accepted=True, accept=0, found=1).reason == "count between Ac and Re"
    assert sampling.after_lot(reduced, accepted=False, accept=0, found=2).severity == "normal"
    assert sampling.after_lot(reduced, accepted=True, irregular=True).severity == "normal"


def test_lot_not_larger_than_the_sample_is_inspected_whole():
    plan = sampling.single_plan(20, 0.65)
    assert (plan.n, plan.accept, plan.inspect_all) == (20, 0, True)
