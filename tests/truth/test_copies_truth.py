"""Copies compared at event level against the maker's hidden truth; the full table is ``python -m bench.copies``."""

from collections import Counter
from dataclasses import replace

import numpy as np
import pytest

from bench.copies import bisection, judged, sample_of
from runtrue.forward.copies import Design, make_copies
from runtrue.listen.copies.compare import recurrences
from runtrue.listen.copies.origins import Origin

SMALL = Design(copies=10, mothers=1, stampers=2, minutes=5.0, closures=600, ticks_per_minute=3.0)


@pytest.mark.slow
def test_what_is_said_holds_the_truth() -> None:
    told = [judged(seed, replace(SMALL, confounded=seed % 2 == 1, unnumbered=int(seed % 3 == 0))) for seed in range(24)]
    total: Counter[str] = sum((one.counts for one in told), Counter())
    assert total["told"] > 40
    assert total["told inside"] >= 0.95 * total["told"]
    assert total["single right"] >= 0.95 * total["single"]
    assert total["false of 3"] == 0
    assert total["shared marks found"] >= 0.85 * total["shared marks"]
    assert total["began inside"] >= total["began"] - 1


@pytest.mark.slow
def test_dense_random_ticks_make_no_recurrence_of_three() -> None:
    for seed in range(4):
        told = judged(seed, Design(copies=12, mothers=1, minutes=8.0, ticks_per_minute=30.0, confounded=True))
        assert told.counts["false of 3"] == 0


def test_the_beginning_is_halved_in_nine_plays() -> None:
    found = [bisection(seed) for seed in range(60)]
    assert sum(plays <= 9 for plays, _ in found) >= 56
    assert sum(inside for _, inside in found) >= 57


def test_marks_that_meet_by_chance_are_chance() -> None:
    """Two unlike events of two dense copies at one instant are no mark; alike ones may be."""
    made = make_copies(replace(SMALL, copies=6, ticks_per_minute=60.0, confounded=True), 3)
    found = [one for one in recurrences(sample_of(made), turn=1.8) if len(one.copies) == 2]
    for one in found:
        behind = {int(made.plays[j].mark[np.abs(made.plays[j].time - one.time).argmin()]) for j in one.plays}
        assert behind != {-1}, f"{one.time}, chance {one.odds.chance}"


def test_origins_of_one_set_add_up_and_ties_hold_what_the_design_binds() -> None:
    made = make_copies(replace(SMALL, stampers=1, confounded=True), 5)
    found = recurrences(sample_of(made), turn=1.8)
    assert found
    for one in found:
        assert sum(s.probability for s in one.suspects) + one.odds.chance + one.odds.other == pytest.approx(1.0)
        everywhere = [s for s in one.suspects[:4] if s.origin in (Origin.CUT, Origin.FATHER, Origin.MOTHER)]
        if one.suspects[0].origin in (Origin.CUT, Origin.FATHER, Origin.MOTHER):
            assert len(everywhere) == 3, "one mother of one father: nothing here tells them apart"
            assert any({0, 1, 2} <= set(group) for group in one.tied)
