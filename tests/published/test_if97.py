"""IAPWS R7-97(2012), Revised Release on the IAPWS Industrial Formulation 1997, computer-program verification tables.

Table 5 (region 1), table 15 (region 2), tables 35 and 36 (region 4). Saturation values seen in several public test
files; of tables 5 and 15 h and v were seen, the other columns are from memory and agree with CoolProp below.
"""

import numpy as np
import pytest

from runtrue.press import steam as s

TABLE_5 = [
    (300.0, 3.0, (0.100215168e-2, 0.115331273e3, 0.112324818e3, 0.392294792, 0.417301218e1, 0.150773921e4)),
    (300.0, 80.0, (0.971180894e-3, 0.184142828e3, 0.106448356e3, 0.368563852, 0.401008987e1, 0.163469054e4)),
    (500.0, 3.0, (0.120241800e-2, 0.975542239e3, 0.971934985e3, 0.258041912e1, 0.465580682e1, 0.124071337e4)),
]
TABLE_15 = [
    (300.0, 0.0035, (0.394913866e2, 0.254991145e4, 0.241169160e4, 0.852238967e1, 0.191300162e1, 0.427920172e3)),
    (700.0, 0.0035, (0.923015898e2, 0.333568375e4, 0.301262819e4, 0.101749996e2, 0.208141274e1, 0.644289068e3)),
    (700.0, 30.0, (0.542946619e-2, 0.263149474e4, 0.246861076e4, 0.517540298e1, 0.103505092e2, 0.480386523e3)),
]


def nine(value: float) -> str:
    return f"{value:.8e}"


def printed(state: s.State) -> tuple[float, ...]:
    """In the units of the tables: kJ and kg."""
    return (state.volume, state.enthalpy / 1e3, state.energy / 1e3, state.entropy / 1e3, state.heat / 1e3, state.sound)


@pytest.mark.parametrize(("t", "p", "row"), TABLE_5)
def test_table_5(t: float, p: float, row: tuple[float, ...]) -> None:
    assert [nine(v) for v in printed(s.water(p * 1e6, t))] == [nine(v) for v in row]


@pytest.mark.parametrize(("t", "p", "row"), TABLE_15)
def test_table_15(t: float, p: float, row: tuple[float, ...]) -> None:
    assert [nine(v) for v in printed(s.steam(p * 1e6, t))] == [nine(v) for v in row]


@pytest.mark.parametrize(("t", "p"), [(300.0, 0.353658941e-2), (500.0, 0.263889776e1), (600.0, 0.123443146e2)])
def test_table_35(t: float, p: float) -> None:
    assert nine(float(s.saturation_pressure(t)) / 1e6) == nine(p)


@pytest.mark.parametrize(("p", "t"), [(0.1, 0.372755919e3), (1.0, 0.453035632e3), (10.0, 0.584149488e3)])
def test_table_36(p: float, t: float) -> None:
    assert nine(float(s.saturation_temperature(p * 1e6))) == nine(t)


@pytest.mark.parametrize(
    ("gauge_bar", "degc", "hf", "hfg", "vg"),
    [(0.0, 100.0, 419.10, 2256.66, 1.674), (1.0, 120.4, 505.73, 2201.16, 0.880), (2.0, 133.7, 562.29, 2163.23, 0.603)],
)
def test_a_printed_steam_table_of_gauge_pressures(
    gauge_bar: float, degc: float, hf: float, hfg: float, vg: float
) -> None:
    """A vendor's table (read); it follows an older formulation, so 0.3 kJ/kg and 0.06 % are allowed."""
    found = s.saturated(s.absolute_pressure(gauge_bar * 1e5))
    assert found.temperature - 273.15 == pytest.approx(degc, abs=0.05)
    assert found.water.enthalpy / 1e3 == pytest.approx(hf, abs=0.3)
    assert found.latent_heat / 1e3 == pytest.approx(hfg, abs=0.3)
    assert found.steam.volume == pytest.approx(vg, rel=6e-4)


@pytest.mark.slow
def test_against_coolprop_over_the_whole_range() -> None:
    """CoolProp 8, its own implementation of IF97."""
    from CoolProp.CoolProp import PropsSI

    for p in np.geomspace(2e3, 16e6, 9):
        found = s.saturated(float(p))
        for quality, state in ((0, found.water), (1, found.steam)):
            expected = [PropsSI(k, "P", p, "Q", quality, "IF97::Water") for k in ("H", "D", "S")]
            assert [state.enthalpy, 1.0 / state.volume, state.entropy] == pytest.approx(expected, rel=1e-7)
        assert found.temperature == pytest.approx(PropsSI("T", "P", p, "Q", 0, "IF97::Water"), rel=1e-9)
        hot = found.temperature + 60.0
        assert s.steam(float(p), hot).enthalpy == pytest.approx(PropsSI("H", "P", p, "T", hot, "IF97::Water"), rel=1e-7)
        cold = 0.5 * (found.temperature + 274.0)
        assert s.water(float(p), cold).heat == pytest.approx(PropsSI("C", "P", p, "T", cold, "IF97::Water"), rel=1e-7)


def test_steam_where_it_meets_water() -> None:
    """Both regions have one Gibbs energy at saturation: what IF97 promises to a few J/kg."""
    for p in (1e5, 8e5, 5e6):
        found = s.saturated(p)
        gibbs = [x.enthalpy - found.temperature * x.entropy for x in (found.water, found.steam)]
        assert gibbs[0] == pytest.approx(gibbs[1], abs=30.0)
