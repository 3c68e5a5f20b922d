"""The conduction of the press against itself refined, an independent integration, and its own heat balance."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from runtrue.press.conduction import DEFAULT_MESH, Mesh, Press, Probe, run
from runtrue.press.cycle import Recipe, cycles_of, earliest_opening, settle, varied, work
from runtrue.press.layers import Contact, Layer, Phase, Side, Stack
from runtrue.press.materials import MATERIALS, Curve, material

NOTHING = Side(temperature=300.0, film=0.0)


def stack(*, mirror: bool = True, opens: bool = True) -> Stack:
    """Steel, nickel and the placeholder vinyl, whose properties change; the skin shrinks off."""
    face = Contact(conductance=5000.0, opened=1000.0, opens_below=340.0) if opens else Contact(conductance=5000.0)
    steel, nickel = MATERIALS["steel"], MATERIALS["nickel"]
    half = (Layer(name="steel", material=steel, thickness=10e-3), Layer(name="nickel", material=nickel, thickness=2e-4))
    vinyl = Layer(name="compound", material=MATERIALS["vinyl"], thickness=0.95e-3, initial=420.0)
    if mirror:
        return Stack(layers=(*half, vinyl), contacts=(Contact(conductance=4000.0), face), mirror=True)
    return Stack(
        layers=(*half, replace(vinyl, thickness=1.9e-3), *reversed(half)),
        contacts=(Contact(conductance=4000.0), face, face, Contact(conductance=4000.0)), mirror=False,
    )  # fmt: skip


def programme(*, water: float = 12.0) -> tuple[Phase, ...]:
    steam, cold = Side(temperature=445.0, film=9000.0), Side(temperature=291.0, film=7000.0)
    return (
        Phase(name="steam", fluid="steam", duration=8.0, a=steam, b=steam),
        Phase(name="hold", fluid="none", duration=1.0, a=NOTHING, b=NOTHING),
        Phase(name="water", fluid="water", duration=water, a=cold, b=cold),
    )


def recipe(*, mirror: bool = True, mould: float | None = 320.0) -> Recipe:
    made = stack(mirror=mirror)
    return Recipe(
        stack=made, phases=programme(), opens=2, die=0, stamper=1, compound=2, mould=mould, flow=390.0, cool=335.0
    )


def test_heat_balance_closes_whatever_the_properties_do() -> None:
    press = Press(stack(), 3)
    seen = run(press, programme(), press.start(np.array([300.0, 320.0, 340.0])), probes=())
    taken = (seen.heat_a + seen.heat_b).sum(axis=0)
    gross = np.abs(seen.heat_a).sum(axis=0)
    assert np.abs(taken - (seen.stored[-1] - seen.stored[0])).max() < 1e-9 * gross.min()
    # heat content worked out anew from the temperatures, not carried along
    anew = press.heat(seen.field.temperature)[1].sum(axis=1) - press.heat(
        press.start(np.array([300.0, 320.0, 340.0])).temperature
    )[1].sum(axis=1)
    assert np.abs(taken - anew).max() < 1e-9 * gross.min()


@pytest.mark.slow
def test_second_order_in_time_and_space() -> None:
    """Halving both cuts the error by four, within a fifth, though properties change and a contact opens smoothly."""

    def middle(mesh: Mesh) -> float:
        press = Press(stack(opens=False), 1, mesh)
        seen = run(press, programme(), press.start(320.0), probes=[Probe(layer=2, at=1.0)])
        return float(seen.probes[-1, 0, 0])

    coarse, half, quarter, eighth = (middle(DEFAULT_MESH.refined(k)) for k in (1.0, 2.0, 4.0, 8.0))
    assert (coarse - half) / (half - quarter) == pytest.approx(4.0, rel=0.25)
    assert (half - quarter) / (quarter - eighth) == pytest.approx(4.0, rel=0.25)
    assert abs(coarse - eighth) < 0.1


@pytest.mark.slow
def test_against_an_independent_integration() -> None:
    """Nodes on the faces and an adaptive integrator: another discretisation and no line of ours in it."""
    n_steel, n_nickel, n_vinyl = 120, 4, 120
    widths = np.concatenate(
        [np.full(n_steel, 10e-3 / n_steel), np.full(n_nickel, 2e-4 / n_nickel), np.full(n_vinyl, 0.95e-3 / n_vinyl)]
    )
    k = np.concatenate([np.full(n_steel, 45.0), np.full(n_nickel, 90.7), np.full(n_vinyl, 0.17)])
    c = np.concatenate(
        [np.full(n_steel, 7850.0 * 475.0), np.full(n_nickel, 8900.0 * 444.0), np.full(n_vinyl, 1380.0 * 1300.0)]
    )
    resistance = 0.5 * widths[:-1] / k[:-1] + 0.5 * widths[1:] / k[1:]
    resistance[n_steel - 1] += 1.0 / 4000.0
    resistance[n_steel + n_nickel - 1] += 1.0 / 5000.0

    def slope(_t: float, x: np.ndarray, fluid: float, film: float) -> np.ndarray:
        across = (x[:-1] - x[1:]) / resistance
        into = np.concatenate([[(fluid - x[0]) / (1.0 / film + 0.5 * widths[0] / k[0])], across])
        into[:-1] -= across
        return into / (c * widths)

    x = np.concatenate([np.full(n_steel + n_nickel, 320.0), np.full(n_vinyl, 420.0)])
    for duration, fluid, film in ((8.0, 445.0, 9000.0), (1.0, 300.0, 1e-9), (12.0, 291.0, 7000.0)):
        x = solve_ivp(slope, (0.0, duration), x, args=(fluid, film), method="BDF", rtol=1e-7, atol=1e-6).y[:, -1]
    plain = material("vinyl")
    fixed = replace(plain, conductivity=Curve(points=((300.0, 0.17),)), specific_heat=Curve(points=((300.0, 1300.0),)))
    press = Press(stack(opens=False).with_layer(2, material=fixed), 1)
    seen = run(press, programme(), press.start(320.0), probes=[Probe(layer=2, at=1.0), Probe(layer=1, at=1.0)])
    assert float(seen.probes[-1, 0, 0]) == pytest.approx(x[-1], abs=0.13)
    assert float(seen.probes[-1, 1, 0]) == pytest.approx(x[n_steel + n_nickel - 1], abs=0.13)


def test_both_halves_alike_are_one_half_mirrored() -> None:
    one, both = work(recipe()), work(recipe(mirror=False))
    for name in ("mid_plane", "stamper_face", "mean", "at_flow", "from_steam", "to_water"):
        assert float(getattr(both, name)[0]) == pytest.approx(float(getattr(one, name)[0]), rel=2e-4)


def test_a_batch_is_its_cycles_one_by_one() -> None:
    water = np.array([-0.3, 0.0, 0.4])
    start = np.array([-5.0, 0.0, 5.0])
    batch = work(varied(recipe(), {"water_film": water, "compound_start": start}))
    for place in range(3):
        alone = work(varied(recipe(), {"water_film": float(water[place]), "compound_start": float(start[place])}))
        assert float(batch.mid_plane[place]) == pytest.approx(float(alone.mid_plane[0]), abs=1e-4)


def test_a_running_press_starts_where_it_ended() -> None:
    made = recipe(mould=None)
    press = Press(made.stack, cycles_of(made))
    start = settle(made, press)
    ended = run(press, made.phases, start, probes=()).field.temperature
    mould = slice(0, press.spans[2].start)
    assert np.abs(ended[:, mould] - start.temperature[:, mould]).max() < 0.05


def test_earliest_opening_is_when_a_longer_water_gets_there() -> None:
    made = recipe()
    when = float(earliest_opening(made, work(made))[0])
    # the steps of another duration lie elsewhere, so the opening is met by another discretisation
    again = work(made.with_duration(2, when - 9.0))
    assert float(again.mid_plane[0]) == pytest.approx(335.0, abs=0.15)


def test_a_faster_press_is_hotter_and_better_water_cooler() -> None:
    made = recipe()
    plain = float(work(made).mid_plane[0])
    assert float(work(made.with_duration(2, 10.0)).mid_plane[0]) > plain + 1.0
    assert float(work(varied(made, {"water_film": 0.2})).mid_plane[0]) < plain - 0.5
    assert float(work(varied(made, {"steam_temperature": 5.0})).mid_plane[0]) > plain
