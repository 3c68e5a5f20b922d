"""The maker of weigh sheets against the check: every slip that was made is named, and nothing else is."""

from pathlib import Path

import pytest

from runtrue.compound.charge import charge
from runtrue.compound.weighing import Check, FaultKind
from runtrue.forward.weighing import Slips, weigh_sheet
from runtrue.workflow.compound_files import load_formula

FORMULA = load_formula(Path("invented-78-kiln-black")).formula
MADE = charge(FORMULA, 100.0)
TARGETS = {line.ingredient.name: line.mass for line in MADE.lines}
LOTS = {line.ingredient.name: line.draws[0].lot for line in MADE.lines}
NAMES = list(TARGETS)


def faults(slips: Slips, seed: int) -> set[tuple[FaultKind, str]]:
    check = Check(MADE)
    for one in weigh_sheet(TARGETS, LOTS, slips, scatter=4e-4, seed=seed):
        check.take(ingredient=one.written, mass=one.mass, lot=one.lot)
    return {(fault.kind, fault.ingredient) for fault in check.faults()}


@pytest.mark.parametrize("seed", range(20))
def test_every_slip_is_named_and_nothing_else(seed: int) -> None:
    missing, double, over, a, b = (NAMES[(seed + k) % 20] for k in (0, 3, 7, 11, 16))
    slips = Slips(missing=(missing,), double=(double,), scaled={over: 1.05}, swapped=((a, b),))
    found = faults(slips, seed)
    assert {
        (FaultKind.MISSING, missing), (FaultKind.DOUBLE, double), (FaultKind.OVER, over), (FaultKind.SWAPPED, a),
        (FaultKind.SWAPPED, b),
    } <= found  # fmt: skip
    # what went in under the other's name is out by mass too: the two of the swap and no other
    assert {name for _, name in found} == {missing, double, over, a, b}


def test_a_careful_hand_is_let_pass() -> None:
    assert all(faults(Slips(), seed) == set() for seed in range(20))
