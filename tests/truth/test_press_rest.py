"""A pile that cools, against the series of a finite cylinder; a biscuit on a table, against the series of a slab."""

import numpy as np
import pytest
from scipy.optimize import brentq

from runtrue.press.disc_and_biscuit import warm
from runtrue.press.layers import Layer, Side
from runtrue.press.materials import Material, constant, material
from runtrue.press.rest import Pile, Room, across, cool, when_below

PLAIN = Material(name="m", density=1400.0, conductivity=constant(0.2), specific_heat=constant(1100.0), source="-")


def test_a_pile_of_one_matter_is_a_cylinder() -> None:
    """Joints that resist nothing: the product of the slab's and the cylinder's series (Carslaw and Jaeger 1.15)."""
    pile = Pile(records=30, material=PLAIN, thickness=2e-3, diameter=0.3, joint=1e7)
    seen = cool(pile, Room(temperature=300.0, film=8.0, foot=8.0), start=330.0, seconds=20_000.0)
    half, alpha = 0.03, 0.2 / (1400.0 * 1100.0)
    biot = 8.0 * half / 0.2

    z = np.array(
        [brentq(lambda x: x * np.sin(x) - biot * np.cos(x), k * np.pi, k * np.pi + np.pi / 2) for k in range(60)]
    )
    c = 4.0 * np.sin(z) / (2.0 * z + np.sin(2.0 * z))
    along = np.exp(-np.outer(alpha * seen.time / half**2, z**2)) @ c
    out = across(seen.time, film=8.0, radius=0.15, conductivity=0.2, diffusivity=alpha)
    exact = 300.0 + 30.0 * along * out
    late = seen.time > 300.0
    assert np.abs(seen.hottest[:, 0] - exact)[late].max() < 0.35


def test_plates_and_a_smaller_pile_are_ready_sooner() -> None:
    room = Room(temperature=295.0, film=8.0, foot=5.0)
    vinyl = material("vinyl")
    plate = Layer(name="plate", material=material("aluminium"), thickness=1.5e-3)

    def hours(records: int, every: int) -> float:
        pile = Pile(records=records, material=vinyl, thickness=1.9e-3, diameter=0.301, joint=65.0, plate_every=every,
                    plate=plate if every else None)  # fmt: skip
        return float(when_below(cool(pile, room, start=325.0, seconds=60_000.0), 303.0)[0]) / 3600.0

    assert hours(20, 5) < hours(20, 0) < hours(40, 0)


def test_a_pile_never_gets_below_its_room() -> None:
    pile = Pile(records=5, material=PLAIN, thickness=2e-3, diameter=0.3, joint=100.0)
    seen = cool(pile, Room(temperature=300.0, film=8.0, foot=5.0), start=330.0, seconds=50_000.0)
    assert np.isnan(when_below(seen, 299.0)[0])


def test_a_biscuit_between_two_plates() -> None:
    """Perfect contact: centre theta 0.5 at Fo 0.3790 of the half thickness (series)."""
    plate = Side(temperature=400.0, film=1e9)
    thickness = 10e-3
    seen = warm(PLAIN, thickness, start=300.0, below=plate, above=plate, seconds=400.0)
    when = seen.when_coldest_reaches(350.0)
    assert when == pytest.approx(0.3790 * (thickness / 2.0) ** 2 / PLAIN.diffusivity, rel=0.003)
    assert seen.when_coldest_reaches(401.0) is None
    one_side = warm(PLAIN, thickness, start=300.0, below=plate, above=Side(temperature=300.0, film=10.0), seconds=400.0)
    later = one_side.when_coldest_reaches(350.0)
    assert later is not None
    assert later > 3.0 * when
