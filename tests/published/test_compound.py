"""Compound formulas, charge and disc masses against print. Source and certainty stand beside each test."""

import pytest

from runtrue.compound.biscuit import disc_mass, mean_thickness
from runtrue.compound.charge import batch_for, charge
from runtrue.compound.formula import Basis, closing_sum, formula_density
from runtrue.formulas import text
from runtrue.workflow.compound_files import parse_formula


def shipped(name):
    return parse_formula(text(name), name, name).formula


class TestArchiveFormulas:
    """Library and Archives Canada, preservation of recorded sound (read): sums as printed, densities worked out."""

    def test_a_sums_to_100_and_weighs_2080(self):
        a = shipped("history-78-a")
        assert 100 * a.total == pytest.approx(100.0, abs=0.05)
        assert formula_density(a) == pytest.approx(2080, abs=0.5)

    def test_b_sums_to_100_and_weighs_1889(self):
        b = shipped("history-78-b")
        assert 100 * b.total == pytest.approx(100.00, abs=0.005)
        assert formula_density(b) == pytest.approx(1889, abs=0.5)

    def test_a_in_a_75_litre_mixer(self):
        """75 l at fill 0.70: 109.2 kg (worked out from 2.08 and rubbermachineryworld.com's W = V x SG x FF, read)."""
        assert batch_for(shipped("history-78-a"), chamber=0.075, fill=0.70) == pytest.approx(109.2, abs=0.05)


def test_patented_vinyl_closes_on_solids_only():
    """US patent 3,960,790 claim 1 (read): 100.0 on solids, 100.6 as charged."""
    items = shipped("history-vinyl-1976").ingredients
    assert 100 * closing_sum(items, Basis.SOLIDS) == pytest.approx(100.0, abs=1e-9)
    assert 100 * closing_sum(items, Basis.AS_CHARGED) == pytest.approx(100.6, abs=1e-9)


def test_charge_of_100_kg_dry():
    """Worked charge of formula A (derived from the printed formula with stated moistures; definition of moisture)."""
    made = charge(shipped("history-78-a"), 100.0)
    masses = {line.ingredient.name: line.mass for line in made.lines}
    expected = {
        "shellac": 13.7755, "limestone, powdered": 37.6128, "slate, powdered": 37.6884, "carbon black": 1.5228,
        "pinewood-extract resin": 8.5, "Congo gum": 1.0, "zinc stearate": 0.5,
    }  # fmt: skip
    assert masses == pytest.approx(expected, abs=5e-5)
    assert made.mass == pytest.approx(100.5996, abs=5e-5)
    assert made.water == pytest.approx(0.5996, abs=5e-5)


@pytest.mark.parametrize(
    ("diameter", "light", "heavy"), [(0.250, 2006.0, 1971.0), (0.254, 1944.0, 1909.0)]
)  # fmt: skip
def test_ten_inch_discs_of_a_patent(diameter, light, heavy):
    """GB 865,702 (1957) as quoted on the ARSC list, 2014-09 (read): 6 to 6.5 oz at 0.068 to 0.075 in."""
    assert disc_mass(diameter=diameter, thickness=0.068 * 0.0254, density=light) == pytest.approx(0.1701, abs=1e-4)
    assert disc_mass(diameter=diameter, thickness=0.075 * 0.0254, density=heavy) == pytest.approx(0.1843, abs=1e-4)


@pytest.mark.parametrize(
    ("grams", "diameter", "thickness"),
    [(140, 301, 1.43), (160, 301, 1.63), (180, 301, 1.83), (200, 301, 2.04), (40, 175, 1.21), (70, 175, 2.11),
     (90, 250, 1.33), (100, 250, 1.48)],
)  # fmt: skip
def test_thickness_of_vinyl_discs(grams, diameter, thickness):
    """Advertised masses (read) at 1.38 g/cm3; thickness worked out by geometry."""
    found = mean_thickness(mass=grams / 1000, diameter=diameter / 1000, density=1380.0)
    assert 1000 * found == pytest.approx(thickness, abs=0.0051)
