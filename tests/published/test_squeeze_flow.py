"""Squeeze flow between discs, viscosity laws, skin: closed forms, worked values, and an ODE solver.

Stefan 1874 and Reynolds 1886 (Newtonian, to the rim), Dienes and Klemm 1946 (constant volume), Scott 1931 (power law).
The values were derived from the closed forms; the forces of the power law at R 0.15 were checked by quadrature and the
constant-volume times by an ODE solver, apart from this program.
"""

from math import log10, pi

import numpy as np
import pytest
from scipy.integrate import quad, solve_ivp

from runtrue.press.flow import (
    PowerLaw,
    arrhenius_shift,
    carreau,
    close,
    closing_speed,
    frozen_skin,
    spread_time,
    squeeze_force,
    squeeze_time,
    wlf_shift,
)


@pytest.mark.parametrize(
    ("given", "force"),
    [
        ((1000.0, 1.0, 0.1, 2e-3, 1e-3), 58904.862), ((100.0, 1.0, 0.05, 1e-3, 1e-4), 294.5243),
        ((1000.0, 0.5, 0.05, 1e-3, 1e-4), 1003.545), ((1.7e4, 0.26, 0.15, 2e-3, 1e-3), 224537.748),
        ((5e3, 0.35, 0.15, 2e-3, 1e-3), 97834.741), ((2e4, 0.5, 0.15, 2e-3, 1e-3), 742046.687),
    ],
)  # fmt: skip
def test_force(given: tuple[float, ...], force: float) -> None:
    """Consistency, exponent, radius, gap, speed."""
    k, n, radius, gap, speed = given
    found = squeeze_force(PowerLaw(consistency=k, exponent=n), radius=radius, gap=gap, speed=speed)
    assert found == pytest.approx(force, rel=1e-6)


def test_force_by_quadrature() -> None:
    """Pressure from the flow rate between plates, integrated twice over the disc, for a power law."""
    k, n, radius, gap, speed = 8e3, 0.35, 0.15, 2e-3, 1e-3

    def slope(r: float) -> float:
        rate = (speed * r / 2.0) * (2.0 * (2.0 * n + 1.0) / n) / gap**2
        return float(k * rate**n * 2.0 / gap)

    force = quad(lambda r: pi * r**2 * slope(r), 0.0, radius, epsrel=1e-12)[0]
    assert squeeze_force(PowerLaw(consistency=k, exponent=n), radius=radius, gap=gap, speed=speed) == pytest.approx(
        force, rel=1e-6
    )


@pytest.mark.parametrize(
    ("given", "time"),
    [
        ((100.0, 1.0, 0.05, 100.0, 1e-3, 0.5e-3), 44.17865), ((1e4, 1.0, 0.15, 1e6, 20e-3, 2e-3), 2.952238),
        ((1000.0, 0.5, 0.05, 100.0, 1e-3, 0.5e-3), 2349.906), ((1.7e4, 0.26, 0.15, 1e6, 20e-3, 2e-3), 1.320036e-3),
        ((5e3, 0.35, 0.15, 1e6, 20e-3, 2e-3), 6.767036e-4),
    ],
)  # fmt: skip
def test_time_to_the_rim(given: tuple[float, ...], time: float) -> None:
    """Consistency, exponent, radius, force, gaps."""
    k, n, radius, force, start, end = given
    law = PowerLaw(consistency=k, exponent=n)
    assert squeeze_time(law, radius=radius, force=force, start=start, end=end) == pytest.approx(time, rel=1e-6)


@pytest.mark.parametrize(
    ("k", "n", "time"), [(1e4, 1.0, 2.125144), (1.7e4, 0.26, 1.371350e-3), (5e3, 0.35, 6.020120e-4)]
)
def test_time_at_constant_volume(k: float, n: float, time: float) -> None:
    law = PowerLaw(consistency=k, exponent=n)
    found = spread_time(law, volume=120e-6, force=1e6, start=20e-3, end=1.6863914e-3)
    assert found == pytest.approx(time, rel=1e-6)


@pytest.mark.parametrize("n", [0.35, 0.6, 1.0])
def test_closing_with_ram_and_rim_against_an_ode_solver(n: float) -> None:
    """Until the rim the compound spreads, then it fills; the ram is the faster limit at first."""
    law, volume, rim, force, ram = PowerLaw(consistency=6e4, exponent=n), 120e-6, 0.14, 8e5, 0.05
    found = close(
        law, volume=volume, rim=rim, force=force, start=12e-3, end=1.5e-3, ram=ram, skin=lambda _t: 0.0, until=50.0
    )

    def slope(_t: float, h: np.ndarray) -> list[float]:
        gap = float(h[0])
        radius = min((volume / (pi * gap)) ** 0.5, rim)
        speed = (force / squeeze_force(law, radius=radius, gap=gap, speed=1.0)) ** (1.0 / n)
        return [-min(speed, ram)]

    def there(_t: float, h: np.ndarray) -> float:
        return float(h[0] - 1.5e-3)

    there.terminal = True  # type: ignore[attr-defined]
    other = solve_ivp(slope, (0.0, 50.0), [12e-3], method="DOP853", events=there, rtol=1e-11, atol=1e-15, max_step=0.02)
    assert found.reached
    assert float(found.time[-1]) == pytest.approx(float(other.t[-1]), rel=1e-6)


def test_a_skin_that_meets_stops_the_press() -> None:
    law = PowerLaw(consistency=8e3, exponent=0.35)
    done = close(
        law, volume=120e-6, rim=0.15, force=1e6, start=12e-3, end=1.7e-3, ram=4e-3,
        skin=lambda t: float(frozen_skin(t, melt=423.0, wall=313.0, solid=372.0, diffusivity=3e-7)), until=10.0,
    )  # fmt: skip
    assert not done.reached
    assert 2.0 * float(done.skin[-1]) == pytest.approx(float(done.gap[-1]), rel=1e-6)
    assert 1.7e-3 < float(done.gap[-1]) < 12e-3
    assert closing_speed(law, volume=120e-6, rim=0.15, force=1e6, gap=1e-3, free=0.0) == 0.0


def test_scott_is_stefan_at_one() -> None:
    law = PowerLaw(consistency=731.0)
    stefan = 3.0 * pi * 731.0 * 0.07**4 * 2e-4 / (2.0 * 1.3e-3**3)
    assert squeeze_force(law, radius=0.07, gap=1.3e-3, speed=2e-4) == pytest.approx(stefan, rel=1e-14)


@pytest.mark.parametrize(
    ("rate", "eta"),
    [(0.01, 9999.675), (0.1, 9967.714), (1.0, 7982.984), (10.0, 2231.493), (100.0, 501.1709), (1000.0, 112.2018)],
)
def test_carreau(rate: float, eta: float) -> None:
    assert float(carreau(rate, zero=1e4, relaxation=1.0, exponent=0.35)) == pytest.approx(eta, rel=1e-6)


@pytest.mark.parametrize(
    ("activation", "start", "end", "factor"),
    [(80e3, 180.0, 190.0, 0.632263), (80e3, 180.0, 160.0, 2.665535), (100e3, 150.0, 170.0, 0.277267)],
)
def test_arrhenius(activation: float, start: float, end: float, factor: float) -> None:
    assert arrhenius_shift(end + 273.15, start + 273.15, activation) == pytest.approx(factor, abs=5e-7)


@pytest.mark.parametrize(
    ("above", "log_shift"),
    [(10.0, -2.831169), (20.0, -4.871508), (50.0, -8.582677), (80.0, -10.601824), (100.0, -11.503958)],
)
def test_wlf(above: float, log_shift: float) -> None:
    assert log10(wlf_shift(above)) == pytest.approx(log_shift, abs=5e-7)


@pytest.mark.parametrize(
    ("wall", "depth", "time"),
    [(40.0, 25e-6, 25.5e-3), (40.0, 50e-6, 102e-3), (60.0, 25e-6, 120e-3), (60.0, 50e-6, 479e-3)],
)
def test_frozen_skin(wall: float, depth: float, time: float) -> None:
    """Melt 150 degC, Tg 72.5 degC, 0.0852 mm2/s, perfect contact; times to the printed digit."""
    skin = frozen_skin(time, melt=150.0 + 273.15, wall=wall + 273.15, solid=72.5 + 273.15, diffusivity=0.0852e-6)
    assert float(skin) == pytest.approx(depth, rel=0.004)
