"""Presses with a hidden truth, their logs, and whether the limits that a log gives hold that truth.

Presses are drawn from what is believed of a press before anyone measures it. Half of the logs are rendered by the
station's own conduction on a finer mesh, half by another discretisation.
"""

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace

import numpy as np
from numpy.typing import NDArray

from runtrue.forward.thermocouple import PressTruth, Slice, Spell, Spoil, thermocouple_log
from runtrue.press.calibrate import COUPLES, Calibration, Doubts, Log, calibrate, couple_probe, inputs_to_fit
from runtrue.press.conduction import DEFAULT_MESH, Press, run
from runtrue.press.cycle import INPUTS, Recipe, varied
from runtrue.press.layers import Contact, Layer, Phase, Side, Stack
from runtrue.press.materials import MATERIALS, Material, constant
from runtrue.press.steam import saturation_temperature

_Array = NDArray[np.float64]
U95 = {item.name: item.u95 for item in INPUTS}
DOUBTS = Doubts()
STEAM, WATER = float(saturation_temperature(8.01325e5)), 291.15
RECORD = Material(
    name="compound", density=1380.0, conductivity=constant(0.17), specific_heat=constant(1250.0), source="-"
)


def believed(*, mirror: bool = False) -> Recipe:
    """The press as its file has it."""
    die = Layer(name="steel", material=MATERIALS["steel"], thickness=10e-3)
    nickel = Layer(name="nickel", material=MATERIALS["nickel"], thickness=0.2e-3)
    back, face = Contact(conductance=5000.0), Contact(conductance=5000.0)
    record = Layer(name="compound", material=RECORD, thickness=0.95e-3 if mirror else 1.9e-3, initial=423.15)
    steam, water = Side(temperature=STEAM, film=8000.0), Side(temperature=WATER, film=8000.0)
    phases = (
        Phase(name="steam", fluid="steam", duration=9.0, a=steam, b=steam),
        Phase(name="water", fluid="water", duration=14.0, a=water, b=water),
    )
    half = (die, nickel)
    stack = (
        Stack(layers=(*half, record), contacts=(back, face), mirror=True)
        if mirror
        else Stack(layers=(*half, record, nickel, die), contacts=(back, face, face, back), mirror=False)
    )
    return Recipe(
        stack=stack, phases=phases, opens=1, die=0, stamper=1, compound=2, mould=313.15, flow=378.15, cool=343.15
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Hidden:
    """A press nobody has seen inside: its inputs as ln factors, and what the cycle that was logged had."""

    inputs: dict[str, float]
    cycle: dict[str, float]
    mould: tuple[float, float]
    late: float
    offsets: dict[str, float]

    def recipe(self) -> Recipe:
        """The true press, in the cycle that was logged."""
        made = varied(believed(), {**self.inputs, **self.cycle})
        layers = [
            layer if k == made.compound else replace(layer, initial=self.mould[0 if k < made.compound else 1])
            for k, layer in enumerate(made.stack.layers)
        ]
        return replace(made, stack=replace(made.stack, layers=tuple(layers)))


def hidden(rng: np.random.Generator, places: tuple[str, ...]) -> Hidden:
    """Draw a press and one cycle of it."""

    def draw(half: float) -> float:
        return float(rng.normal(0.0, half / 1.96))

    return Hidden(
        inputs={name: draw(half) for name, half in inputs_to_fit(believed(), U95).items()},
        cycle={name: draw(U95[name]) for name in ("compound_start",)},
        mould=(313.15 + draw(10.0), 313.15 + draw(10.0)),
        late=abs(draw(DOUBTS.clock)),
        offsets={place: draw(DOUBTS.couple) for place in places},
    )


def own_log(press: Hidden, rng: np.random.Generator, noise: float) -> Log:
    """The log by the station's own conduction, twice as fine."""
    made, places = press.recipe(), tuple(press.offsets)
    cut = Press(made.stack, 1, DEFAULT_MESH.refined(2.0))
    seen = run(cut, made.phases, cut.start(300.0), probes=[couple_probe(made, place) for place in places])
    when = np.arange(0.0, float(seen.time[-1, 0]) + press.late, 1.0)
    couples = {
        place: np.interp(when - press.late, seen.time[:, 0], seen.probes[:, k, 0])
        + press.offsets[place] + noise * rng.standard_normal(when.size)
        for k, place in enumerate(places)
    }  # fmt: skip
    steam, water = (t + rng.normal(0.0, DOUBTS.fluid / 1.96) + np.zeros(when.size) for t in (STEAM, WATER))
    return Log(time=when, couples=couples, steam=steam, water=water)


def other_log(press: Hidden, rng: np.random.Generator, noise: float) -> Log:
    """The log by another discretisation."""
    made = press.recipe()
    joints = [float(c.conductance) for c in made.stack.contacts] + [1.0]
    slices = tuple(
        Slice(
            thickness=float(x.thickness), density=x.material.density, joint=joint, start=float(x.initial or 300.0),
            conductivity=x.material.conductivity.points[0][1] * float(x.material.conductivity.factor),
            specific_heat=x.material.specific_heat.points[0][1] * float(x.material.specific_heat.factor),
        )
        for x, joint in zip(made.stack.layers, joints, strict=True)
    )  # fmt: skip
    spells = tuple(
        Spell(
            seconds=float(p.duration), temperature_a=_plain(p.a), film_a=float(p.a.film), temperature_b=_plain(p.b),
            film_b=float(p.b.film),
        )
        for p in made.phases
    )  # fmt: skip
    places = {place: (probe.layer, probe.at) for place in press.offsets for probe in [couple_probe(made, place)]}
    truth = PressTruth(slices=slices, record=made.compound, spells=spells, couples=places)
    spoil = Spoil(noise=noise, offsets=press.offsets, late=press.late)
    columns = thermocouple_log(truth, rng, spoil=spoil)
    when = columns["time_s"]
    steam, water = (t + rng.normal(0.0, DOUBTS.fluid / 1.96) + np.zeros(when.size) for t in (STEAM, WATER))
    return Log(time=when, couples={p: columns[p] + 273.15 for p in press.offsets}, steam=steam, water=water)


def _plain(side: Side) -> float:
    assert isinstance(side.temperature, float)
    return side.temperature


def one_log(seed: int, noise: float = 0.5) -> tuple[Hidden, Log]:
    """Draw a press and its log; even seeds by the station's conduction, odd ones by another discretisation.

    Every other pair has a couple pressed into the record's mid-plane beside those of the die faces.
    """
    rng = np.random.default_rng([seed, 9])
    places = ("die_face_a", "die_face_b", "mid_plane") if seed % 4 < 2 else ("die_face_a", "die_face_b")
    assert set(places) <= set(COUPLES)
    press = hidden(rng, places)
    return press, (own_log if seed % 2 == 0 else other_log)(press, rng, noise)


def fitted(seed: int, proposals: int = 600) -> tuple[Hidden, Calibration]:
    """A press, and what its log makes of it."""
    press, log = one_log(seed)
    return press, calibrate(believed(), log, U95, proposals=proposals)


@dataclass(frozen=True, slots=True, kw_only=True)
class Covered:
    """Inputs of all logs whose limits hold the truth, and how many there were: all, those the log told, by renderer."""

    all: tuple[int, int]
    told: tuple[int, int]
    own: tuple[int, int]
    other: tuple[int, int]

    @classmethod
    def of(cls, parts: Sequence["Covered"]) -> "Covered":
        """All of them together."""
        sums = {f.name: np.sum([getattr(part, f.name) for part in parts], axis=0) for f in fields(cls)}
        return cls(**{name: (int(held), int(count)) for name, (held, count) in sums.items()})


def coverage(seeds: range) -> Covered:
    """Count limits that hold."""
    rows: list[tuple[bool, bool, bool]] = []
    for seed in seeds:
        press, found = fitted(seed, proposals=1)
        half = found.posterior.half_width()
        for k, name in enumerate(found.posterior.names):
            inside = abs(found.posterior.mean[k] - press.inputs[name]) <= half[k]
            rows.append((bool(inside), found.told[k], seed % 2 == 0))

    def tally(chosen: list[tuple[bool, bool, bool]]) -> tuple[int, int]:
        return sum(row[0] for row in chosen), len(chosen)

    return Covered(
        all=tally(rows),
        told=tally([r for r in rows if r[1]]),
        own=tally([r for r in rows if r[2]]),
        other=tally([r for r in rows if not r[2]]),
    )
