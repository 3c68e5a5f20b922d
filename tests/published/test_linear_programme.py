"""Linear programmes with published optima. Source and certainty stand beside each test."""

import numpy as np
import pytest

from runtrue.compound.linear import Clash, Row, solve


def limits(*rows):
    return tuple(Row(coefficients=np.array(c, dtype=float), upper=u, upper_words=w) for c, u, w in rows)


def test_two_products_in_three_plants():
    """Max 3x + 5y, x <= 4, 2y <= 12, 3x + 2y <= 18: 36 at (2, 6), shadow prices 0, 3/2, 1.

    Textbook example (Hillier and Lieberman, Introduction to Operations Research, the prototype example; from memory).
    """
    found = solve(np.array([-3.0, -5.0]), limits(([1, 0], 4, "one"), ([0, 2], 12, "two"), ([3, 2], 18, "three")))
    assert found.value == pytest.approx(-36.0)
    assert found.x == pytest.approx([2.0, 6.0])
    prices = {b.words: b.price for b in found.bindings}
    assert prices == pytest.approx({"two": -1.5, "three": -1.0})  # "one" does not bind: its price is 0


def test_whole_numbers():
    """Max 5x + 4y, 6x + 4y <= 24, x + 2y <= 6: 21 at (3, 1.5); in whole numbers 20 at (4, 0).

    Textbook example (Taha, Operations Research, the paint example; from memory).
    """
    rows = limits(([6, 4], 24, "m1"), ([1, 2], 6, "m2"))
    assert solve(np.array([-5.0, -4.0]), rows).value == pytest.approx(-21.0)
    found = solve(np.array([-5.0, -4.0]), rows, whole=(0, 1))
    assert found.value == pytest.approx(-20.0)
    assert found.x == pytest.approx([4.0, 0.0])


def test_the_diet_of_two_feeds():
    """Min 0.3x + 0.9y, x + y >= 800, 0.21x - 0.30y <= 0, 0.03x - 0.01y >= 0: 437.65 at (470.6, 329.4).

    Textbook example (Taha, Operations Research, the diet example; from memory).
    """
    rows = (
        Row(coefficients=np.array([1.0, 1.0]), lower=800.0, lower_words="need"),
        Row(coefficients=np.array([0.21, -0.30]), upper=0.0, upper_words="protein"),
        Row(coefficients=np.array([0.03, -0.01]), lower=0.0, lower_words="fibre"),
    )
    found = solve(np.array([0.3, 0.9]), rows)
    assert found.value == pytest.approx(437.65, abs=0.005)
    assert found.x == pytest.approx([470.6, 329.4], abs=0.05)
    assert {b.words: b.price for b in found.bindings}["need"] == pytest.approx(437.65 / 800, abs=1e-4)


def test_limits_that_clash_are_all_needed_for_it():
    rows = (
        *limits(([1, 1], 10, "store"), ([1, 0], 3, "kept")),
        Row(coefficients=np.array([1.0, 0.0]), lower=2.0, lower_words="free"),
        Row(coefficients=np.array([0.0, 1.0]), lower=12.0, lower_words="needed"),
    )
    found = solve(np.array([1.0, 1.0]), rows)
    assert isinstance(found, Clash)
    assert found.words == ("store", "needed")


def test_whole_numbers_that_do_not_fit_are_told_apart():
    rows = (Row(coefficients=np.array([2.0]), lower=3.0, upper=3.0, lower_words="a", upper_words="b"),)
    found = solve(np.array([1.0]), rows, whole=(0,))
    assert isinstance(found, Clash)
    assert found.whole
