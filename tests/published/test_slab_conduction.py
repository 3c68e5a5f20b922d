"""Slabs and half spaces in transient conduction: series solutions, handbook examples, layered cooling.

Series: Carslaw and Jaeger, Conduction of Heat in Solids, 2nd edition, 3.4 and 3.11; any text on heat transfer. The
layered values were worked out by two methods that are none of ours (refined finite volumes; Laplace transfer matrix,
inverted numerically) and agree within 0.001 K and 0.0002 s.
"""

from math import inf, pi, sqrt

import numpy as np
import pytest
from scipy.optimize import brentq
from scipy.special import erfc, erfcx

from runtrue.press.conduction import History, Press, Probe, run
from runtrue.press.layers import Contact, Layer, Phase, Side, Stack
from runtrue.press.materials import Material, constant, contact_flux, contact_temperature, effusivity

NOTHING = Side(temperature=0.0, film=0.0)


def matter(k: float, rho: float, c: float) -> Material:
    return Material(name="m", density=rho, conductivity=constant(k), specific_heat=constant(c), source="-")


def slab(biot: float, *, half: float = 0.95e-3, material: Material, until: float, at: tuple[float, ...]) -> History:
    """A slab of half thickness ``half``, at 1, in a fluid at 0, from its surface (0) to its middle (1)."""
    k = material.conductivity.points[0][1]
    film = 1e9 if biot == inf else biot * k / half
    stack = Stack(layers=(Layer(name="m", material=material, thickness=half),), contacts=(), mirror=True)
    press = Press(stack, 1)
    phase = Phase(name="cool", fluid="water", duration=until, a=Side(temperature=0.0, film=film), b=NOTHING)
    return run(press, [phase], press.start(1.0), probes=[Probe(layer=0, at=x) for x in at])


def series(biot: float, terms: int = 200) -> tuple[np.ndarray, np.ndarray]:
    """Roots and constants of the series."""
    if biot == inf:
        z = (np.arange(terms) + 0.5) * pi
    else:
        z = np.array(
            [brentq(lambda x: x * np.sin(x) - biot * np.cos(x), n * pi, n * pi + pi / 2) for n in range(terms)]
        )
    return z, 4.0 * np.sin(z) / (2.0 * z + np.sin(2.0 * z))


VINYL, STEEL = matter(0.17, 1350.0, 1300.0), matter(45.0, 7850.0, 475.0)


@pytest.mark.parametrize("biot", [0.1, 1.0, 10.0, inf])
@pytest.mark.parametrize(("material", "half"), [(VINYL, 0.95e-3), (STEEL, 12e-3)])
def test_within_a_thousandth_of_the_span_from_a_tenth_of_a_second_on(
    biot: float, material: Material, half: float
) -> None:
    places = (0.0, 0.1, 0.25, 0.5, 0.75, 1.0)
    seen = slab(biot, half=half, material=material, until=20.0, at=places)
    z, c = series(biot)
    time = seen.time[:, 0]
    late = time >= 0.1
    decay = np.exp(-np.outer(material.diffusivity * time / half**2, z**2))
    for number, place in enumerate(places):
        exact = decay @ (c * np.cos(z * (1.0 - place)))
        assert np.abs(seen.probes[:, number, 0] - exact)[late].max() < 1e-3
    assert np.abs(seen.mean[:, 0] - decay @ (c * np.sin(z) / z))[late].max() < 1e-3


@pytest.mark.parametrize(
    ("biot", "fourier", "centre", "surface", "mean"),
    [
        (1.0, 0.2, 0.950642, 0.643391, 0.851595), (1.0, 1.0, 0.533859, 0.348177, 0.470397),
        (10.0, 0.1, 0.968424, 0.170574, 0.726118), (10.0, 0.5, 0.454641, 0.064329, 0.315016),
        (inf, 0.1, 0.949305, 0.0, 0.643177), (inf, 0.5, 0.370777, 0.0, 0.236050), (inf, 1.0, 0.107977, 0.0, 0.068740),
    ],
)  # fmt: skip
def test_tabled_slab(biot: float, fourier: float, centre: float, surface: float, mean: float) -> None:
    until = fourier * 0.95e-3**2 / VINYL.diffusivity
    seen = slab(biot, material=VINYL, until=until, at=(1.0, 0.0))
    assert [float(v) for v in seen.probes[-1, :, 0]] == pytest.approx([centre, surface], abs=1e-3)
    assert float(seen.mean[-1, 0]) == pytest.approx(mean, abs=1e-3)


def test_brass_plate_in_a_furnace() -> None:
    """Cengel, example 4-3: 3 cm, k 110, alpha 33.9e-6, h 80, 10 min, 25 into 700 degC. Exactly 448.24 degC; the print
    says 445, its root being rounded from a table.
    """
    brass = matter(110.0, 8530.0, 110.0 / (8530.0 * 33.9e-6))
    half = 0.015
    seen = slab(80.0 * half / 110.0, half=half, material=brass, until=600.0, at=(0.0, 1.0))
    surface, centre = (700.0 - 675.0 * float(v) for v in seen.probes[-1, :, 0])
    assert surface == pytest.approx(448.24, abs=0.05)
    assert centre == pytest.approx(446.87, abs=0.05)


def test_semi_infinite_body_with_convection() -> None:
    """A published worked example (read): 393 K, fluid 355 K, h 50, k 10, alpha 4.029e-6, 3 mm, 100 s: 389.5 K."""
    body = matter(10.0, 1000.0, 10.0 / (1000.0 * 4.029e-6))
    stack = Stack(layers=(Layer(name="m", material=body, thickness=0.3),), contacts=(), mirror=True)
    press = Press(stack, 1)
    phase = Phase(name="cool", fluid="air", duration=100.0, a=Side(temperature=355.0, film=50.0), b=NOTHING)
    seen = run(press, [phase], press.start(393.0), probes=[Probe(layer=0, at=0.01)])
    root = sqrt(4.029e-6 * 100.0)
    exact = erfc(3e-3 / (2 * root)) - np.exp(-((3e-3 / (2 * root)) ** 2)) * erfcx(3e-3 / (2 * root) + 5.0 * root)
    assert 393.0 - 38.0 * exact == pytest.approx(389.543, abs=5e-4)
    assert float(seen.probes[-1, 0, 0]) == pytest.approx(389.5, abs=0.06)


@pytest.mark.parametrize(
    ("steel", "mid_planes", "mean", "at_100", "at_70"),
    [
        (12e-3, (153.471, 123.348, 92.582, 69.512), 113.077, 13.688, 19.873),
        (6e-3, (134.226, 82.475, 51.264, 36.356), 70.030, 8.123, 11.622),
    ],
)
def test_layered_cooling(steel: float, mid_planes: tuple[float, ...], mean: float, at_100: float, at_70: float) -> None:
    """Water film, steel, stamper, half a record, both contacts resistive; the span is 135 K."""
    from scipy.interpolate import CubicSpline

    stack = Stack(
        layers=(
            Layer(name="steel", material=STEEL, thickness=steel),
            Layer(name="nickel", material=matter(90.7, 8900.0, 444.0), thickness=0.2e-3),
            Layer(name="vinyl", material=VINYL, thickness=0.95e-3),
        ),
        contacts=(Contact(conductance=5000.0), Contact(conductance=5000.0)), mirror=True,
    )  # fmt: skip
    press = Press(stack, 1)
    phase = Phase(name="water", fluid="water", duration=24.0, a=Side(temperature=25.0, film=8000.0), b=NOTHING)
    seen = run(press, [phase], press.start(160.0), probes=[Probe(layer=2, at=1.0)])
    mid = CubicSpline(seen.time[:, 0], seen.probes[:, 0, 0])
    assert [float(mid(t)) for t in (5.0, 10.0, 15.0, 20.0)] == pytest.approx(mid_planes, abs=0.135)
    assert float(CubicSpline(seen.time[:, 0], seen.mean[:, 0])(10.0)) == pytest.approx(mean, abs=0.135)
    for level, when in ((100.0, at_100), (70.0, at_70)):
        assert next(float(t) for t in mid.solve(level, extrapolate=False)) == pytest.approx(when, abs=0.005)


def test_two_bodies_touching() -> None:
    nickel, melt = effusivity(90.7, 8900.0, 444.0), effusivity(0.17, 1330.0, 1500.0)
    steel, stainless, filled = (
        effusivity(*x) for x in ((45.0, 7850.0, 475.0), (14.9, 7900.0, 477.0), (0.5, 2000.0, 1000.0))
    )
    assert contact_temperature((melt, 150.0), (nickel, 100.0)) == pytest.approx(101.492, abs=5e-4)
    assert contact_temperature((filled, 25.0), (steel, 140.0)) == pytest.approx(131.758, abs=5e-4)
    assert contact_temperature((filled, 25.0), (stainless, 140.0)) == pytest.approx(126.460, abs=5e-4)
    time = np.array([1e-3, 1e-2, 0.1, 1.0])
    flux = contact_flux(time, conductance=5000.0, step=50.0, first_effusivity=nickel, second_effusivity=melt)
    assert flux == pytest.approx([187167.0, 115295.0, 47660.0, 15838.0], abs=0.5)
