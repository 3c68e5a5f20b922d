"""Sums about presses and discs, worked out by hand from published figures."""

import pytest

from runtrue.press.disc_and_biscuit import (
    biscuit_for,
    disc_thickness,
    disc_volume,
    mean_pressure,
    mould_size,
    ram_force,
)
from runtrue.press.energy import steam_mass, swing_heat, water_mass
from runtrue.press.rest import cylinder_roots
from runtrue.press.steam import absolute_pressure, dew_point, saturated, saturation_temperature

TONNE_FORCE = 9806.65


@pytest.mark.parametrize(
    ("tonnes", "diameter", "mpa"),
    [(100.0, 0.301, 13.8), (120.0, 0.301, 16.5), (150.0, 0.301, 20.67), (60.0, 0.175, 24.5)],
)
def test_mean_pressure(tonnes: float, diameter: float, mpa: float) -> None:
    """t = 1000 kgf, exactly 9806.65 N."""
    assert mean_pressure(tonnes * TONNE_FORCE, diameter) / 1e6 == pytest.approx(mpa, abs=0.051)


def test_line_pressure_is_not_pressure_on_the_record() -> None:
    """GB 865,702 (quoted, read): 1250 psi; as mean pressure on 254 mm it would be 437 kN."""
    assert mean_pressure(437e3, 0.254) == pytest.approx(1250 * 6894.757, rel=0.003)
    assert ram_force(1250 * 6894.757, 0.254) == pytest.approx(437e3, rel=0.003)


@pytest.mark.parametrize(("mass", "steam"), [(30.0, 0.70), (40.0, 0.93)])
def test_heat_to_swing_two_dies_100_k(mass: float, steam: float) -> None:
    """Steel 475 J/(kg K), steam at 8 bar absolute."""
    heat = swing_heat(mass, 475.0, 100.0)
    assert steam_mass(heat, 8e5) == pytest.approx(steam, abs=0.005)
    assert water_mass(heat, 291.15, 5.0) == pytest.approx(heat / (4183.0 * 5.0), rel=0.002)


def test_gauge_taken_for_absolute() -> None:
    """7 bar: 164.95 against 170.48 degC; 100 psi gauge is 169.93 degC (IF97)."""
    assert float(saturation_temperature(7e5)) - 273.15 == pytest.approx(164.95, abs=0.005)
    assert float(saturation_temperature(absolute_pressure(7e5))) - 273.15 == pytest.approx(170.48, abs=0.005)
    assert float(saturation_temperature(absolute_pressure(100 * 6894.757))) - 273.15 == pytest.approx(169.93, abs=0.005)
    assert dew_point(7e5, air_volume_share=0.1) - 273.15 == pytest.approx(160.75, abs=0.005)
    assert saturated(8e5).latent_heat / 1e3 == pytest.approx(2047.29, abs=0.006)


def test_disc() -> None:
    """A 12 in of 301 mm: volume by geometry; contraction 0.35 %, common practice."""
    volume = disc_volume(diameter=0.301, thickness=1.9e-3, hole=7.26e-3)
    assert disc_thickness(mass=1380.0 * volume, density=1380.0, diameter=0.301, hole=7.26e-3) == pytest.approx(1.9e-3)
    assert mould_size(0.301, 0.0035) == pytest.approx(0.301 / 0.9965)
    made = biscuit_for(record_mass=0.14, flash=0.15, density=1380.0, diameter=0.12)
    assert made.mass == pytest.approx(0.161)


@pytest.mark.parametrize(
    ("biot", "root", "constant"),
    [(0.1, 0.4417, 1.0246), (1.0, 1.2558, 1.2071), (10.0, 2.1795, 1.5677), (100.0, 2.3809, 1.6015)],
)  # fmt: skip
def test_long_cylinder(biot: float, root: float, constant: float) -> None:
    """One-term table of heat-transfer texts (Incropera table 5.1, memory)."""
    z, c = cylinder_roots(biot, 4)
    assert float(z[0]) == pytest.approx(root, abs=6e-5)
    assert float(c[0]) == pytest.approx(constant, abs=6e-5)
