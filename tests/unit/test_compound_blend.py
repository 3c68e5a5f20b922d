"""Blend and regrind: bounds kept, the nearest found, prices true, clashes named, regrind by mass balance."""

from dataclasses import replace

import numpy as np
import pytest

from runtrue.compound.blend import Bound, Bounds, Goal, Property, Ratio, blend
from runtrue.compound.formula import Basis, Formula, Ingredient, Lot, Material, class_shares, formula_density
from runtrue.compound.linear import Clash
from runtrue.compound.regrind import (
    Ground,
    check_colour,
    foreign_matter,
    mean_passes,
    share_for_matter,
    share_for_passes,
    share_seen,
)
from runtrue.errors import InputError


def formula(stock: float | None = None, **more: float) -> Formula:
    lots = None if stock is None else (Lot(id="S", mass=stock, received="2026-01-01"),)
    parts = (
        Ingredient(name="shellac", material=Material.BINDER, share=0.20, density=1160.0, price=14.0, lots=lots, **more),
        Ingredient(name="copal", material=Material.BINDER, share=0.10, density=1060.0, price=6.0),
        Ingredient(name="slate", material=Material.FILLER, share=0.70, density=2800.0, price=0.2),
    )
    return Formula(name="f", basis=Basis.DRY, ingredients=parts)


def bounds(**given) -> Bounds:
    return Bounds(**{"classes": {}, "ingredients": {}, "bags": {}, "stock": {}, **given})


def shares(found) -> dict[str, float]:
    return {i.name: i.share for i in found.formula.ingredients}


def test_enough_in_the_store_changes_nothing() -> None:
    found = blend(formula(500.0), 100.0)
    assert shares(found) == pytest.approx({"shellac": 0.2, "copal": 0.1, "slate": 0.7})
    assert found.tolerances == pytest.approx(0.0, abs=1e-9)
    assert found.cost == pytest.approx(0.2 * 14 + 0.1 * 6 + 0.7 * 0.2)


def test_a_wet_lot_gives_less() -> None:
    """20 kg dry of a lot of 21 kg with 10 % water are 18.9 kg dry: the rest comes from the class that is kept."""
    wet = formula(21.0, moisture=0.10)
    found = blend(wet, 100.0, bounds(classes={Material.BINDER: Bound(lower=0.3)}))
    assert shares(found)["shellac"] == pytest.approx(0.189)
    assert class_shares(found.formula)[Material.BINDER] == pytest.approx(0.3)


def test_prices_are_what_a_step_of_the_bound_really_changes() -> None:
    def at(lower: float, stock: float, density: float):
        return blend(
            formula(stock), 100.0,
            bounds(classes={Material.BINDER: Bound(lower=lower)}, density=Bound(lower=density), goal=Goal.NEAREST),
        )  # fmt: skip

    here = at(0.31, 15.0, 1800.0)
    prices = {b.words.split(" at ")[0].split(",")[0]: b.price for b in here.bindings}
    assert prices["binder"] == pytest.approx((at(0.3101, 15.0, 1800.0).tolerances - here.tolerances) / 0.01, rel=1e-3)
    assert prices["shellac in the store"] == pytest.approx(
        at(0.31, 16.0, 1800.0).tolerances - here.tolerances, rel=1e-3
    )
    tight = blend(formula(), 100.0, bounds(density=Bound(lower=2000.0)))
    more = blend(formula(), 100.0, bounds(density=Bound(lower=2000.1)))
    price = {b.words.split(" at ")[0]: b.price for b in tight.bindings}["density"]
    assert price == pytest.approx((more.tolerances - tight.tolerances) / 0.01, rel=2e-2)
    assert formula_density(tight.formula) == pytest.approx(2000.0)


def test_cheapest_keeps_class_ratio_cost_property_and_water() -> None:
    given = bounds(
        goal=Goal.CHEAPEST, classes={Material.BINDER: Bound(lower=0.25)},
        ratios=(Ratio(of="shellac", to="copal", bound=Bound(lower=1.0)),),
        properties=(Property(name="flow", unit="mm", values={"shellac": 60.0, "copal": 80.0, "slate": 0.0},
                             bound=Bound(lower=18.0)),),
        water=Bound(upper=0.01), cost=Bound(upper=3.0),
    )  # fmt: skip
    found = blend(formula(), 100.0, given)
    s = shares(found)
    assert s["shellac"] + s["copal"] >= 0.25 - 1e-9
    assert s["shellac"] >= s["copal"] - 1e-9
    assert 60 * s["shellac"] + 80 * s["copal"] >= 18.0 - 1e-6
    assert found.cost == pytest.approx(0.2 * s["slate"] + 14 * s["shellac"] + 6 * s["copal"])
    # by hand: both halves of x binder give 70 x = 18, so x = 0.2571 and 10.2 mean a kg of binder
    assert s["shellac"] == pytest.approx(18.0 / 140.0)


def test_whole_bags() -> None:
    found = blend(formula(), 100.0, bounds(bags={"slate": 25.0}, swing=0.1))
    assert found.bags == {"slate": 3}
    assert shares(found)["slate"] * found.batch == pytest.approx(75.0)
    stiff = blend(formula(), 100.0, bounds(bags={"slate": 25.0}, ingredients={"slate": Bound(lower=0.69, upper=0.71)}))
    assert isinstance(stiff, Clash)
    assert stiff.whole


def test_clash_names_what_is_needed_for_it() -> None:
    given = bounds(
        classes={Material.BINDER: Bound(lower=0.3)},
        ingredients={"copal": Bound(upper=0.1), "slate": Bound(lower=0.2)},
    )
    found = blend(formula(10.0), 100.0, given)
    assert isinstance(found, Clash)
    assert {w.split(" ")[0] for w in found.words} == {"batch", "binder", "copal", "shellac"}


def test_a_solution_counts_by_its_solids() -> None:
    lots = (Lot(id="R", mass=95.0, received="2026-01-01"),)
    parts = (
        Ingredient(name="resin", material=Material.BINDER, share=0.994, lots=lots),
        Ingredient(name="spare", material=Material.BINDER, share=0.0),
        Ingredient(name="antistat", material=Material.OTHER, share=0.012, strength=0.5),
    )  # fmt: skip
    found = blend(Formula(name="v", basis=Basis.SOLIDS, ingredients=parts), 100.0)
    assert shares(found) == pytest.approx({"resin": 0.95, "spare": 0.044, "antistat": 0.012})


@pytest.mark.parametrize("share", [0.0, 0.1, 0.27, 0.5])
def test_regrind_passes_are_geometric(share: float) -> None:
    """A pot that is refilled: followed batch by batch, the histories settle at the formula."""
    seen = np.zeros(200)
    seen[0] = 1.0
    for _ in range(150):
        seen = (1.0 - share) * np.eye(200)[0] + share * np.concatenate([[0.0], seen[:-1]])
    assert [share_seen(share, k) for k in range(6)] == pytest.approx(seen[:6].tolist(), abs=1e-9)
    assert mean_passes(share) == pytest.approx(float(np.arange(200) @ seen), abs=1e-9)
    assert share_for_passes(mean_passes(share)) == pytest.approx(share)


def test_dirt_settles_at_the_mass_balance() -> None:
    ground = Ground(colour="black", rejects=0.6, paper=0.011, dirt=0.0002, sieved=0.4)
    dirt = 0.0
    for _ in range(200):
        dirt = 0.25 * 0.6 * (dirt + ground.brought)
    assert foreign_matter(0.25, ground) == pytest.approx(dirt, rel=1e-12)
    assert share_for_matter(dirt, ground) == pytest.approx(0.25)


def test_colours_are_never_mixed() -> None:
    check_colour("regrind", "Black", "black")
    with pytest.raises(InputError, match="regrind is red, the formula black: colours are never mixed"):
        check_colour("regrind", "red", "black")
    with pytest.raises(InputError, match="say the colour"):
        check_colour("regrind", "", "black")


def test_names_that_are_not_in_the_formula() -> None:
    with pytest.raises(InputError, match="ingredient 'mica': the formula has none"):
        blend(formula(), 100.0, bounds(ingredients={"mica": Bound(upper=0.1)}))
    items = (*formula().ingredients[:2], replace(formula().ingredients[2], price=None))
    with pytest.raises(InputError, match="price of slate is not stated"):
        blend(replace(formula(), ingredients=items), 100.0, bounds(goal=Goal.CHEAPEST))
