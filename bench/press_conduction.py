"""How well the press conducts: against series of a slab, layered cooling, itself refined, and its own heat balance."""

from collections.abc import Iterator
from math import inf, pi

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline
from scipy.optimize import brentq

from bench.press_logs import STEAM, WATER, believed
from runtrue.press.conduction import DEFAULT_MESH, History, Mesh, Press, Probe, run
from runtrue.press.layers import Contact, Layer, Phase, Side, Stack
from runtrue.press.materials import MATERIALS, Material, constant

_Array = NDArray[np.float64]
NOTHING = Side(temperature=0.0, film=0.0)
BIOT = (0.1, 1.0, 10.0, inf)
PLACES = (0.0, 0.1, 0.25, 0.5, 0.75, 1.0)


def matter(k: float, rho: float, c: float) -> Material:
    """Matter whose properties temperature does not change."""
    return Material(name="m", density=rho, conductivity=constant(k), specific_heat=constant(c), source="-")


VINYL, STEEL = matter(0.17, 1350.0, 1300.0), matter(45.0, 7850.0, 475.0)
SLABS = ((VINYL, 0.95e-3), (STEEL, 12e-3))


def slab(biot: float, *, half: float = 0.95e-3, material: Material, until: float, at: tuple[float, ...]) -> History:
    """A slab of half thickness ``half``, at 1, in a fluid at 0, from its surface (0) to its middle (1)."""
    film = 1e9 if biot == inf else biot * material.conductivity.points[0][1] / half
    stack = Stack(layers=(Layer(name="m", material=material, thickness=half),), contacts=(), mirror=True)
    press = Press(stack, 1)
    phase = Phase(name="cool", fluid="water", duration=until, a=Side(temperature=0.0, film=film), b=NOTHING)
    return run(press, [phase], press.start(1.0), probes=[Probe(layer=0, at=x) for x in at])


def series(biot: float, terms: int = 200) -> tuple[_Array, _Array]:
    """Roots and constants of the slab's series (Carslaw and Jaeger, Conduction of Heat in Solids, 2nd edition, 3.4)."""
    z: _Array = np.asarray((np.arange(terms) + 0.5) * pi, dtype=np.float64)
    if biot != inf:
        z = np.array(
            [brentq(lambda x: x * np.sin(x) - biot * np.cos(x), n * pi, n * pi + pi / 2) for n in range(terms)]
        )
    constants: _Array = 4.0 * np.sin(z) / (2.0 * z + np.sin(2.0 * z))
    return z, constants


def slab_errors() -> Iterator[float]:
    """Largest error of each slab from 0.1 s on, at its places and of its mean, as a share of the span."""
    for biot in BIOT:
        z, c = series(biot)
        for material, half in SLABS:
            seen = slab(biot, half=half, material=material, until=20.0, at=PLACES)
            late = seen.time[:, 0] >= 0.1
            decay = np.exp(-np.outer(material.diffusivity * seen.time[late, 0] / half**2, z**2))
            exact = [decay @ (c * np.cos(z * (1.0 - place))) for place in PLACES]
            off = np.abs(seen.probes[late, :, 0] - np.transpose(exact)).max()
            yield max(float(off), float(np.abs(seen.mean[late, 0] - decay @ (c * np.sin(z) / z)).max()))


def layered(steel: float = 12e-3) -> tuple[History, CubicSpline]:
    """Water, steel, stamper, half a record, both contacts resistive, from 160 to 25 degC; the mid-plane over time."""
    layers = (
        Layer(name="steel", material=STEEL, thickness=steel),
        Layer(name="nickel", material=matter(90.7, 8900.0, 444.0), thickness=0.2e-3),
        Layer(name="vinyl", material=VINYL, thickness=0.95e-3),
    )
    stack = Stack(layers=layers, contacts=(Contact(conductance=5000.0), Contact(conductance=5000.0)), mirror=True)
    press = Press(stack, 1)
    phase = Phase(name="water", fluid="water", duration=24.0, a=Side(temperature=25.0, film=8000.0), b=NOTHING)
    seen = run(press, [phase], press.start(160.0), probes=[Probe(layer=2, at=1.0)])
    return seen, CubicSpline(seen.time[:, 0], seen.probes[:, 0, 0])


def cooled_to(middle: CubicSpline, level: float) -> float:
    """When the mid-plane gets to a level [s]."""
    return next(float(t) for t in middle.solve(level, extrapolate=False))


def changing(mesh: Mesh = DEFAULT_MESH) -> History:
    """A cycle of the placeholder vinyl, whose properties temperature changes."""
    stack = believed(mirror=True).stack.with_layer(2, material=MATERIALS["vinyl"])
    press = Press(stack, 1, mesh)
    steam, water = Side(temperature=STEAM, film=8000.0), Side(temperature=WATER, film=8000.0)
    phases = (
        Phase(name="steam", fluid="steam", duration=9.0, a=steam, b=steam),
        Phase(name="water", fluid="water", duration=14.0, a=water, b=water),
    )
    return run(press, phases, press.start(313.15), probes=[Probe(layer=2, at=1.0)])


def orders() -> tuple[float, float]:
    """How the error falls as mesh and step are halved, and halved again: 4 is second order."""
    middle = [float(changing(DEFAULT_MESH.refined(2.0**k)).probes[-1, 0, 0]) for k in range(4)]
    change = -np.diff(middle)
    return float(change[0] / change[1]), float(change[1] / change[2])


def balance() -> float:
    """Heat taken in less heat stored, over heat taken in, with properties that change."""
    seen = changing()
    taken = float((seen.heat_a + seen.heat_b).sum())
    return abs(taken - float((seen.stored[-1] - seen.stored[0])[0])) / float(np.abs(seen.heat_a).max())
