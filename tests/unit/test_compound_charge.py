"""Charge and weighing: there and back, faults made, named and repaired."""

from dataclasses import replace
from math import fsum

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from runtrue.compound.charge import analysis, basis_yield, charge, check_chamber, division_for
from runtrue.compound.formula import Basis, Formula, Ingredient, Lot, Material, closing_sum
from runtrue.compound.remedy import WORKING_FILL, RemedyKind, remedy
from runtrue.compound.weighing import Call, Check, FaultKind, after_fluxing, shares
from runtrue.errors import InputError
from runtrue.types import Verdict


@st.composite
def formulas(draw, basis=None):
    basis = basis or draw(st.sampled_from(list(Basis)))
    count = draw(st.integers(2, 12))
    raw = [draw(st.floats(0.2, 20.0)) for _ in range(count)]
    parts = []
    for n, weight in enumerate(raw):
        strength = draw(st.sampled_from([None, None, 0.5, 0.8]))
        assay = draw(st.floats(0.8, 1.0))
        parts.append(
            Ingredient(
                name=f"i{n}", material=Material.OTHER, share=weight / fsum(raw) / 2, moisture=draw(st.floats(0.0, 0.1)),
                assay=assay if basis is not Basis.AS_CHARGED else 1.0, assay_as_is=draw(st.booleans()),
                strength=strength, density=draw(st.floats(900.0, 4500.0)), tolerance=draw(st.floats(0.002, 0.01)),
            )
        )  # fmt: skip
    scale = closing_sum(tuple(parts), basis)
    whole = tuple(replace(part, share=part.share / scale) for part in parts)
    return Formula(name="f", basis=basis, ingredients=whole)


@settings(deadline=None, max_examples=60)
@given(formulas(), st.floats(0.5, 500.0))
def test_charge_then_analysis_returns_the_formula(formula, batch):
    made = charge(formula, batch)
    assert fsum(line.solids + line.water + line.solvent for line in made.lines) == pytest.approx(made.mass)
    found = analysis(made, {line.ingredient.name: line.mass for line in made.lines})
    for item in formula.ingredients:
        assert found[item.name] == pytest.approx(item.share, rel=1e-9)


@settings(deadline=None, max_examples=60)
@given(formulas(), st.data())
def test_any_deviation_and_its_remedy_restore_the_formula(formula, data):
    """However the masses are off, missing ones included, adding what is said gives the formula's shares again."""
    made = charge(formula, 100.0)
    off = [data.draw(st.sampled_from([0.0, 0.9, 0.97, 1.0, 1.02, 1.15, 2.0])) for _ in made.lines]
    totals = {line.ingredient.name: k * line.mass for k, line in zip(off, made.lines, strict=True)}
    if not any(totals.values()):
        return
    tolerances = {line.ingredient.name: line.tolerance or 0.0 for line in made.lines}
    found = remedy(made, totals, tolerances, foreign=False, chamber=None)
    assert all(mass > 0.0 for mass in found.additions.values())
    after = {name: mass + found.additions.get(name, 0.0) for name, mass in totals.items()}
    if found.kind is RemedyKind.NOTHING:
        assert all(abs(after[n] - line.mass) <= tolerances[n] * 1.000001
                   for n, line in ((line.ingredient.name, line) for line in made.lines))  # fmt: skip
        return
    assert found.kind is RemedyKind.RESTORE
    for item in formula.ingredients:
        assert analysis(made, after)[item.name] == pytest.approx(item.share, rel=1e-9)


@settings(deadline=None, max_examples=40)
@given(formulas(Basis.DRY), st.data())
def test_a_small_chamber_gets_the_least_that_is_within_tolerance_or_is_divided(formula, data):
    made = charge(formula, 100.0)
    assert made.volume is not None
    totals = {line.ingredient.name: line.mass for line in made.lines}
    name = data.draw(st.sampled_from(sorted(totals)))
    totals[name] *= data.draw(st.sampled_from([1.008, 1.03, 1.6, 2.5]))
    tolerances = {line.ingredient.name: line.tolerance or 0.0 for line in made.lines}
    found = remedy(made, totals, tolerances, foreign=False, chamber=made.volume / 0.845)
    after = {n: m + found.additions.get(n, 0.0) for n, m in totals.items()}
    got = analysis(made, after)
    if found.kind in (RemedyKind.WITHIN_TOLERANCE, RemedyKind.RESTORE, RemedyKind.DIVIDE):
        assert found.fill is not None
        assert found.fill <= WORKING_FILL * 1.000001
    if found.kind is RemedyKind.WITHIN_TOLERANCE:
        for line in made.lines:
            relative = got[line.ingredient.name] / line.ingredient.share - 1.0
            assert abs(relative) <= (line.ingredient.tolerance or 0.0) * 1.0001
    if found.kind is RemedyKind.DIVIDE:
        assert found.parts > 1
        for item in formula.ingredients:
            assert got[item.name] == pytest.approx(item.share, rel=1e-9)


def twenty() -> Formula:
    rows = [
        Ingredient(
            name=f"i{n:02d}", material=Material.OTHER, share=(n + 1) / 210.0, tolerance=0.003, density=2000.0,
            lots=(Lot(id=f"L{n:02d}", mass=500.0, received="2026-01-01"),),
        )
        for n in range(20)
    ]  # fmt: skip
    return Formula(name="twenty", basis=Basis.AS_CHARGED, ingredients=tuple(rows))


def weighed(changes: dict[str, list[tuple[str, str, float]]]) -> tuple[Check, list[Call]]:
    """Weigh the twenty right but for the lines in ``changes``: what stands there instead (label, lot, factor)."""
    made = charge(twenty(), 210.0)
    check, calls = Check(made), []
    for n, line in enumerate(made.lines):
        name = line.ingredient.name
        for label, lot, mass in changes.get(name, [(name, f"L{n:02d}", line.mass)]):
            calls.append(check.take(ingredient=label, mass=mass, lot=lot).call)
    return check, calls


def test_all_right():
    check, calls = weighed({})
    assert set(calls) == {Call.RIGHT}
    assert check.faults() == ()
    assert shares(check)["i04"] == pytest.approx(5.0 / 210.0)


@pytest.mark.parametrize(
    ("changes", "call", "kinds"),
    [
        ({"i05": []}, None, [(FaultKind.MISSING, "i05", "")]),
        ({"i05": [("i05", "L05", 6.0), ("i05", "L05", 6.0)]}, Call.DOUBLE, [(FaultKind.DOUBLE, "i05", "")]),
        ({"i05": [("i05", "L05", 6.5)]}, Call.OVER, [(FaultKind.OVER, "i05", "")]),
        ({"i05": [("i05", "L05", 5.5)]}, Call.PORTION, [(FaultKind.LIGHT, "i05", "")]),
        ({"i05": [("i05", "L05", 12.0)], "i11": [("i11", "L11", 6.0)]}, Call.SWAPPED,
         [(FaultKind.SWAPPED, "i05", "i11")]),
        ({"i05": [("i05", "L11", 12.0)], "i11": [("i11", "L05", 6.0)]}, Call.SWAPPED,
         [(FaultKind.SWAPPED, "i11", "i05"), (FaultKind.SWAPPED, "i05", "i11")]),
        ({"i05": [("i05", "X9", 6.0)]}, Call.WRONG_LOT, [(FaultKind.WRONG_LOT, "i05", "X9")]),
        ({"i05": [("i05", "L05", 6.0), ("sugar", "", 1.0)]}, Call.STRANGER, [(FaultKind.STRANGER, "sugar", "")]),
    ],
)  # fmt: skip
def test_each_fault_is_named(changes, call, kinds):
    check, calls = weighed(changes)
    assert call is None or call in calls
    assert [(f.kind, f.ingredient, f.about) for f in check.faults()] == kinds


def test_portions_add_up():
    check, calls = weighed({"i05": [("i05", "L05", 2.0), ("i05", "L05", 4.0)]})
    assert Call.PORTION in calls
    assert check.faults() == ()


def test_a_scale_too_coarse_for_the_edge_cannot_judge():
    check = Check(charge(twenty(), 210.0))
    assert check.take(ingredient="i05", mass=6.017, u95=0.02).call is Call.DOUBTFUL
    assert check.state("i05")[0] is Verdict.CANNOT_JUDGE
    sure = Check(charge(twenty(), 210.0))
    assert sure.take(ingredient="i05", mass=6.017, u95=0.0005).call is Call.RIGHT
    assert sure.take(ingredient="i06", mass=7.5, u95=0.02).call is Call.OVER


def test_after_fluxing_small_is_held_and_large_refused():
    small, _ = weighed({"i05": [("i05", "L05", 6.04)]})
    large, _ = weighed({"i05": [("i05", "L05", 6.4)]})
    foreign, _ = weighed({"i05": [("i05", "L05", 6.0), ("sugar", "", 0.01)]})
    assert after_fluxing(small.faults())
    assert not after_fluxing(large.faults())
    assert not after_fluxing(foreign.faults())


def test_lots_go_oldest_first_each_with_its_own_moisture():
    lots = (
        Lot(id="new", mass=50.0, received="2026-10-01"),
        Lot(id="old", mass=4.9, received="2026-09-12", moisture=0.02),
    )
    item = Ingredient(name="a", material=Material.BINDER, share=1.0, moisture=0.5, lots=lots)
    line = charge(Formula(name="f", basis=Basis.DRY, ingredients=(item,)), 10.0).lines[0]
    assert [d.lot for d in line.draws] == ["old", "new"]
    assert line.draws[1].mass == pytest.approx((10.0 - 4.9 * 0.98) / 0.5)
    assert line.solids == pytest.approx(10.0)
    assert line.short == 0.0
    assert basis_yield(line) == pytest.approx(10.0 / line.mass)
    short = charge(Formula(name="f", basis=Basis.DRY, ingredients=(item,)), 100.0).lines[0]
    assert short.short == pytest.approx((100.0 - 4.9 * 0.98 - 25.0) / 0.5)


@pytest.mark.parametrize("tolerance", [0.0001, 0.00234, 0.05, 0.099, 1.0, 37.0])
def test_ten_divisions_fit_in_the_tolerance(tolerance):
    division = division_for(tolerance)
    assert 10 * division <= tolerance * (1 + 1e-6)
    assert 10 * division * 2.5 > tolerance


def test_a_batch_above_the_chamber_is_refused_with_the_largest_that_goes_in():
    made = charge(twenty(), 210.0)
    with pytest.raises(InputError, match=r"takes 105\.0 l, the chamber holds 75 l: at most 150 kg go in"):
        check_chamber(made, 0.075)
    assert check_chamber(made, 0.210) == pytest.approx(0.5)
