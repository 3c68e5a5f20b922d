"""Incoming lots, sheet and biscuits, the balance, and who came of whom."""

import numpy as np
import pytest

from runtrue.compound.balance import Entry, Post, balance, counted
from runtrue.compound.genealogy import (
    Drawn,
    How,
    Interval,
    Made,
    Pressed,
    batches_of,
    hours_of,
    origins_of,
    overlap,
)
from runtrue.compound.incoming import Decision, Shelf, decide, disagreement, trial_level, trial_ticks
from runtrue.compound.sheeting import process
from runtrue.errors import InputError
from runtrue.stats.conformity import judge
from runtrue.types import Limit, Measurement, Verdict

WET = Limit(quantity="moisture", upper=0.02, owner="-", source="-", date="-")
SIEVE = Limit(quantity="sieve_residue", upper=0.0005, owner="-", source="-", date="-")


def moisture(value, u95=0.001):
    return Measurement(quantity="moisture", value=value, u95=u95)


class TestLot:
    def decision(self, value, **more):
        given = {"apart": (), "family": None, "shelf": None, **more}
        return decide(judge([moisture(value)], [WET]), **given)

    def test_accept_care_refuse(self):
        assert self.decision(0.015).decision is Decision.ACCEPT
        assert self.decision(0.0199).decision is Decision.CARE
        assert self.decision(0.025).decision is Decision.REFUSE

    def test_what_nobody_measured_holds_it(self):
        found = decide(judge([moisture(0.015)], [WET, SIEVE]), apart=(), family=None, shelf=None)
        assert found.decision is None
        assert found.reasons == ("sieve_residue is not measured",)
        assert decide((), apart=(), family=None, shelf=None).decision is None

    def test_a_fail_refuses_whatever_else_is_open(self):
        found = decide(judge([moisture(0.03)], [WET, SIEVE]), apart=(), family=None, shelf=None)
        assert found.decision is Decision.REFUSE

    @pytest.mark.parametrize(
        ("shelf", "decision"),
        [
            (Shelf(life=100, age=20, tested_at=0), Decision.ACCEPT),
            (Shelf(life=100, age=95, tested_at=0), Decision.CARE),
            (Shelf(life=100, age=101, tested_at=0), Decision.REFUSE),
            (Shelf(life=100, age=110, tested_at=105), Decision.CARE),
        ],
    )
    def test_shelf_life(self, shelf, decision):
        assert self.decision(0.015, shelf=shelf).decision is decision

    def test_disagreement_and_family_ask_for_care(self):
        assert self.decision(0.015, apart=("moisture",)).decision is Decision.CARE
        assert self.decision(0.015, family=Verdict.FAIL).decision is Decision.CARE
        assert self.decision(0.015, family=Verdict.CANNOT_JUDGE).decision is Decision.ACCEPT
        assert disagreement(moisture(0.01), moisture(0.01)) == 0.0
        assert disagreement(moisture(0.01), Measurement(quantity="moisture", value=None, reason="-")) is None

    def test_trial_pressing(self):
        louder = trial_level(-48.0, -51.0, trial_u95=0.5, proved_u95=0.5)
        assert (louder.value, louder.u95) == (3.0, pytest.approx(0.7071, abs=1e-4))
        rng = np.random.default_rng(2)
        held = sum(
            abs((found := trial_ticks(int(a), int(b))).value) <= found.u95
            for a, b in rng.poisson(6.0, size=(2000, 2))
        )  # fmt: skip
        assert 0.93 < held / 2000 <= 1.0


class TestSheet:
    def test_a_steady_process_passes_and_its_capability_covers_the_truth(self):
        rng = np.random.default_rng(1)
        fails = held = 0
        for _ in range(100):
            found = process(0.208 + 0.001 * rng.standard_normal(60), lower=0.200, upper=0.216)
            fails += found.verdict is Verdict.FAIL
            low, high = found.capability.cpk_interval
            held += low <= 8.0 / 3.0 <= high
        assert fails <= 5
        assert held >= 90

    def test_a_step_is_found_with_its_place(self):
        made = 0.208 + 0.001 * np.random.default_rng(2).standard_normal(60)
        made[40:] += 0.003
        found = process(made)
        assert found.verdict is Verdict.FAIL
        assert found.change[0] <= 40 <= found.change[1]

    def test_one_wild_biscuit_is_named(self):
        made = 0.208 + 0.001 * np.random.default_rng(2).standard_normal(60)
        made[11] = 0.190
        assert process(made).wild == (11,)

    def test_too_wide_fails_and_few_cannot_judge(self):
        rng = np.random.default_rng(3)
        assert process(0.208 + 0.004 * rng.standard_normal(60), lower=0.200, upper=0.216).verdict is Verdict.FAIL
        assert process(0.208 + 0.001 * rng.standard_normal(10)).verdict is Verdict.CANNOT_JUDGE
        assert process(np.full(30, 0.208)).verdict is Verdict.CANNOT_JUDGE


class TestBalance:
    def test_it_adds_up_with_its_doubt(self):
        rng = np.random.default_rng(4)
        held = 0
        for _ in range(500):
            error = rng.standard_normal(4) / 1.96
            found = balance(
                [
                    Entry(post=Post.COMPOUND_IN, mass=100.0 + 0.2 * error[0], u95=0.2),
                    counted(Post.DISCS, 600, 0.140 + 0.0003 * error[1], 0.0003),
                    Entry(post=Post.FLASH, mass=14.0 + 0.1 * error[2], u95=0.1),
                    Entry(post=Post.PURGE, mass=2.0 + 0.1 * error[3], u95=0.1),
                ]
            )
            held += abs(found.gap) <= found.gap_u95
        assert 0.92 <= held / 500 <= 0.98
        assert found.disc_yield == pytest.approx(0.84, abs=0.01)

    def test_nothing_in_is_refused(self):
        with pytest.raises(InputError, match="nothing went in"):
            balance([Entry(post=Post.DISCS, mass=1.0, u95=0.0)])


MADE = [
    Made(batch="B1", biscuits=Interval(first=1, last=500, slack=10)),
    Made(batch="B2", biscuits=Interval(first=501, last=1000, slack=10)),
]
PRESSED = [
    Pressed(press="P1", biscuits=Interval(first=1, last=400, slack=5), start=0.0, end=4000.0),
    Pressed(press="P2", biscuits=Interval(first=401, last=1000, slack=5), start=0.0, end=6000.0),
]
DRAWN = [Drawn(lot="L1", batch="B1"), Drawn(lot="L1", batch="B2"), Drawn(lot="L2", batch="B2", ingredient="slate")]


class TestGenealogy:
    def test_forward(self):
        assert batches_of("L1", DRAWN) == ("B1", "B2")
        first, second = hours_of("B1", MADE, PRESSED)
        assert (first.press, first.how, first.sure) == ("P1", How.SURELY, (100.0, 3950.0))
        assert (second.press, second.how) == ("P2", How.SURELY)
        assert second.sure == (50.0, 900.0)
        assert second.widest == (0.0, 1150.0)

    def test_back(self):
        found = origins_of("P2", 950.0, 1000.0, drawn=DRAWN, made=MADE, pressed=PRESSED)
        assert {(o.batch, o.how) for o in found} == {("B1", How.MAYBE), ("B2", How.MAYBE)}
        late = origins_of("P2", 5000.0, 5100.0, drawn=DRAWN, made=MADE, pressed=PRESSED)
        assert [(o.batch, o.how, [link.lot for link in o.lots]) for o in late] == [("B2", How.SURELY, ["L1", "L2"])]
        assert origins_of("P1", 0.0, 10.0, drawn=DRAWN, made=MADE, pressed=PRESSED)[0].batch == "B1"

    def test_the_truth_is_never_surely_not(self):
        """Bins that mix the ends: whatever biscuit was really pressed when, its batch is among the answers."""
        rng = np.random.default_rng(5)
        for _ in range(300):
            border = 500 + int(rng.integers(-10, 11))  # where batch 1 really ends
            shift = int(rng.integers(-5, 6))  # how far the press counts wrong
            biscuit = int(rng.integers(420, 980))
            batch = "B1" if biscuit <= border else "B2"
            hour = PRESSED[1].hour(biscuit + shift)
            found = {o.batch: o.how for o in origins_of("P2", hour, hour, drawn=DRAWN, made=MADE, pressed=PRESSED)}
            assert batch in found
            assert all(how is How.MAYBE for name, how in found.items() if name != batch)

    def test_overlap_of_disjoint_and_backward_intervals(self):
        assert overlap(Interval(first=1, last=5), Interval(first=6, last=9)) is None
        with pytest.raises(InputError, match="first must be 0 or more and not above last"):
            Interval(first=5, last=1)
        with pytest.raises(InputError, match="end before they begin"):
            Pressed(press="P", biscuits=Interval(first=1, last=2), start=5.0, end=5.0)
