"""How well the press is calibrated and its odds are told; ``python -m bench.press``.

Presses with a hidden truth are drawn from what is believed of a press before anyone measures it. Half of the logs are
rendered by the station's own conduction on a finer mesh, half by another discretisation. The full counts of the goals
stand here; the tests run the same functions with fewer presses.
"""

import argparse
from collections.abc import Callable, Iterator, Mapping
from concurrent.futures import ProcessPoolExecutor, ThreadPoolExecutor
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from time import perf_counter

import numpy as np
from numpy.typing import NDArray

from runtrue.forward.thermocouple import PressTruth, Slice, Spell, Spoil, thermocouple_log
from runtrue.press.calibrate import COUPLES, Calibration, Doubts, Log, calibrate, couple_probe, inputs_to_fit
from runtrue.press.conduction import DEFAULT_MESH, ROUGH_MESH, Press, run
from runtrue.press.cycle import INPUTS, Recipe, drawn, pieces, varied, work
from runtrue.press.layers import Contact, Layer, Phase, Side, Stack
from runtrue.press.materials import MATERIALS, Material, Number, constant
from runtrue.press.shorten import NON_FILL, WARP, Spread, Tally, draws_of, shares, spread_at
from runtrue.press.steam import saturation_temperature
from runtrue.stats.conformity import judge
from runtrue.types import Limit, Measurement

_Array = NDArray[np.float64]
PAGE = Path(__file__).parents[1] / "docs" / "accuracy-press.md"
KINDS = {
    "too_hot": "a record opens too hot", "warped": "a record is warped after 24 h",
    "non_fill": "a record is not filled",
    "more_warp": "warp rises by the margin", "more_fill": "non-fill rises by the margin",
}  # fmt: skip
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
        stack=stack, phases=phases, opens=1, die=0, stamper=1, compound=2, mould=313.15, flow=393.15, cool=343.15
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


def fitted(seed: int) -> tuple[Hidden, Calibration]:
    """A press, and what its log makes of it."""
    press, log = one_log(seed)
    return press, calibrate(believed(), log, U95)


@dataclass(frozen=True, slots=True, kw_only=True)
class Covered:
    """Inputs of all logs whose limits hold the truth, and how many there were: all, those the log told, by renderer."""

    all: tuple[int, int]
    told: tuple[int, int]
    own: tuple[int, int]
    other: tuple[int, int]


def coverage(seeds: range) -> Covered:
    """Count limits that hold."""
    rows: list[tuple[bool, bool, bool]] = []
    for seed in seeds:
        press, found = fitted(seed)
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


@dataclass(frozen=True, slots=True, kw_only=True)
class Decided:
    """One decision: odds as stated, and what came of it, by kind."""

    stated: dict[str, float]
    came: dict[str, bool]


CUTS = (0.5, 1.0, 1.5, 2.0, 3.0, 4.0)
EACH = 50
MARGIN = 0.005
COUNTED = ((0.0, 1500), (2.0, 800), (-2.0, 800))
"""Settings the plant has counted at: change of the water [s], records."""
SPREAD = {item.name: item.u95 for item in INPUTS if item.each_cycle}


@dataclass(frozen=True, slots=True, kw_only=True)
class _Trend:
    """How often a record of this press is bad: level at its present setting, slope per unit of x."""

    level: float
    slope: float

    def share(self, x: _Array | float) -> _Array:
        """Share at a place, x counted from the present setting."""
        return np.asarray(1.0 / (1.0 + np.exp(-(self.level + self.slope * np.asarray(x)))))


def decisions(seeds: range, *, draws: int = 200) -> list[Decided]:
    """Presses with a hidden truth, each fitted to its log and asked 50 times; what is stated, and what happens."""
    return [row for seed in seeds for row in _asked(seed, draws)]


def _asked(seed: int, draws: int) -> list[Decided]:
    """Water shortened by one of six cuts and steam by a third of it; each decision is another plant's on this press."""
    rng = np.random.default_rng([seed, 21])
    press, found = fitted(seed)
    truth = varied(believed(), press.inputs)
    best = {name: float(v) for name, v in zip(found.posterior.names, found.posterior.mean, strict=True)}
    cuts = [int(k) for k in rng.integers(len(CUTS), size=EACH)]
    openings = _openings(truth, draws_of(found.posterior, U95, draws, rng), cuts, rng)
    plants = _plants(best, truth, cuts, rng)
    return [
        Decided(stated=opening.stated | plant.stated, came=opening.came | plant.came)
        for opening, plant in zip(openings, plants, strict=True)
    ]


def _openings(
    truth: Recipe, unsure: Mapping[str, Number], cuts: list[int], rng: np.random.Generator
) -> Iterator[Decided]:
    """Odds of a record that opens too hot, by limits that lie anywhere about the opening."""
    waters = [14.0 - cut for cut in CUTS]
    stated = _both(believed(), waters, unsure)
    true = _both(truth, waters, dict(drawn(SPREAD, EACH, rng)))
    for number, cut in enumerate(cuts):
        limit = float(rng.normal(_believed_opening()[cut], 6.0))
        bound = Limit(quantity="opening_mid_plane", upper=limit, owner="-", source="-", date="-")
        seen = stated[cut].mid_plane
        middle, u95 = float(seen.mean()), 1.96 * float(seen.std(ddof=1))
        judged = judge([Measurement(quantity="opening_mid_plane", value=middle, u95=u95)], [bound])[0]
        assert judged.conformance_probability is not None
        yield Decided(
            stated={"too_hot": 1.0 - judged.conformance_probability},
            came={"too_hot": bool(true[cut].mid_plane[number] > limit)},
        )


def _plants(best: dict[str, float], truth: Recipe, cuts: list[int], rng: np.random.Generator) -> Iterator[Decided]:
    """Odds of warp and of non-fill, each decision by a plant of its own with its own counts."""
    waters = [14.0, *(14.0 - cut for cut in CUTS), *(14.0 - change for change, _ in COUNTED[1:])]
    known, plain = _both(believed(), waters, best), _both(truth, waters, {})
    kinds = (("warped", "more_warp", WARP, _mid), ("non_fill", "more_fill", NON_FILL, _flow))
    for cut in cuts:
        odds: dict[str, float] = {}
        came: dict[str, bool] = {}
        for bad, more, prior, at in kinds:
            trend = _Trend(
                level=rng.normal(prior.level, prior.level_deviation),
                slope=rng.normal(prior.slope, prior.slope_deviation),
            )
            share = [float(trend.share(at(one) - at(plain[0]))) for one in plain]
            tallies = [
                Tally(x=at(known[place]), records=count, bad=int(rng.binomial(count, share[place])))
                for place, (_, count) in zip((0, len(CUTS) + 1, len(CUTS) + 2), COUNTED, strict=True)
            ]
            told = shares(tallies, prior, now=at(known[0]), new=at(known[1 + cut]), margin=MARGIN)
            if told is not None:
                odds[bad], came[bad] = told.new.value, bool(rng.random() < share[1 + cut])
                odds[more], came[more] = told.more, share[1 + cut] - share[0] >= MARGIN
        yield Decided(stated=odds, came=came)


def _both(recipe: Recipe, waters: list[float], draws: Mapping[str, Number]) -> tuple[Spread, ...]:
    """Settings of water, the steam shortened by a third of the cut so that the flow changes too."""
    found: list[Spread] = []
    for water in waters:
        at = recipe.with_duration(0, 9.0 - (14.0 - water) / 3.0)
        found += spread_at(at, (water,), 1, draws)
    return tuple(found)


def _mid(spread: Spread) -> float:
    return float(spread.mid_plane.mean()) / 10.0


def _flow(spread: Spread) -> float:
    assert spread.at_flow is not None
    return float(spread.at_flow.mean())


@cache
def _believed_opening() -> tuple[float, ...]:
    """Mid-plane at opening by the press's file, at each cut [K]."""
    return tuple(float(one.mid_plane[0]) for one in _both(believed(), [14.0 - cut for cut in CUTS], {}))


@dataclass(frozen=True, slots=True, kw_only=True)
class Tenth:
    """One tenth of the odds of one kind: how many decisions, mean stated, share that came true."""

    kind: str
    low: float
    count: int
    stated: float
    came: float


def reliability(rows: list[Decided]) -> list[Tenth]:
    """Stated odds beside what came, tenth by tenth."""
    found = []
    for kind in ("too_hot", "warped", "non_fill", "more_warp", "more_fill"):
        pairs = np.array([(r.stated[kind], float(r.came[kind])) for r in rows if kind in r.stated])
        if pairs.size == 0:
            continue
        for k in range(10):
            inside = pairs[(pairs[:, 0] >= 0.1 * k) & ((pairs[:, 0] < 0.1 * (k + 1)) | (k == 9))]
            if inside.size:
                stated, came = inside.mean(axis=0)
                found.append(Tenth(kind=kind, low=0.1 * k, count=len(inside), stated=float(stated), came=float(came)))
    return found


def cost(cycles: int = 10_000) -> tuple[float, float, float]:
    """Seconds of one cycle, of the placeholder vinyl's cycle, and of many on two threads; least of several."""
    one = believed(mirror=True)
    vinyl = replace(one, stack=one.stack.with_layer(2, material=MATERIALS["vinyl"]))
    single, changing = (min(_timed(made) for _ in range(8)) for made in (one, vinyl))
    draws = drawn(U95, cycles, np.random.default_rng(1))
    before = perf_counter()
    with ThreadPoolExecutor(2) as pool:
        list(pool.map(lambda piece: work(varied(one, _piece(draws, piece)), ROUGH_MESH), pieces(cycles)))
    return single, changing, perf_counter() - before


def _piece(draws: dict[str, Number], piece: slice) -> dict[str, Number]:
    return {name: value[piece] if isinstance(value, np.ndarray) else value for name, value in draws.items()}


def _timed(recipe: Recipe) -> float:
    before = perf_counter()
    work(recipe)
    return perf_counter() - before


def _in_pool(function: Callable[[range], list[Decided]], seeds: range) -> list[Decided]:
    parts = [range(a, min(a + 10, seeds.stop)) for a in range(seeds.start, seeds.stop, 10)]
    with ProcessPoolExecutor(2) as pool:
        return [row for part in pool.map(function, parts) for row in part]


def page(costs: tuple[float, float, float], found: Covered, rows: list[Decided], presses: int) -> str:
    """The accuracy page of the press."""
    tenths = reliability(rows)
    wide = [t for t in tenths if abs(t.stated - t.came) > 0.05]
    single, changing, many = costs
    lines = [
        "# Accuracy of the press", "",
        "Written by `python -m bench.press --write`. Presses with a hidden truth are drawn from what is believed of a",
        "press before anyone measures it: rendered with noise of 0.5 K at 1 Hz, offsets of the couples, a late clock.",
        "| | needed | found | reached |", "| --- | --- | --- | --- |",
    ]  # fmt: skip
    for name, words in (
        ("all", "all inputs"), ("told", "inputs that the log tells"), ("own", "logs by the station's own conduction"),
        ("other", "logs by another discretisation"),
    ):  # fmt: skip
        held, count = getattr(found, name)
        share = 100.0 * held / count
        lines.append(
            f"| limits that hold the truth, {words} | 92 to 98 of 100 | {share:.1f} of 100 ({count} inputs) | "
            f"{_yes(92.0 <= share <= 98.0)} |"
        )
    lines += [
        f"| stated odds, {len(rows)} decisions of {presses} presses | within 5 points in each tenth | "
        f"{len(tenths) - len(wide)} of {len(tenths)} tenths of five kinds | {_yes(not wide)} |",
        f"| one cycle | below 20 ms | {1e3 * single:.1f} ms; {1e3 * changing:.1f} ms where properties change | "
        f"{_yes(max(single, changing) < 0.02)} |",
        f"| 10,000 cycles on two threads, rough mesh | below 5 s | {many:.1f} s | {_yes(many < 5.0)} |",
        "", "## Odds as stated and as they came", "",
        "Fifty decisions share a press and its log; each has a plant of its own with its own counts.", "",
        "| odds that | tenth from | decisions | stated | came | difference, points |",
        "| --- | --- | --- | --- | --- | --- |",
    ]  # fmt: skip
    lines += [
        f"| {KINDS[t.kind]} | {t.low:.1f} | {t.count} | {t.stated:.3f} | {t.came:.3f} | "
        f"{100.0 * (t.came - t.stated):+.1f} |"
        for t in tenths
    ]
    return "\n".join(lines) + "\n"


def _yes(reached: bool) -> str:
    return "yes" if reached else "**no**"


def main(arguments: list[str] | None = None) -> None:
    """Print what the goals ask for."""
    parser = argparse.ArgumentParser(prog="python -m bench.press", description=__doc__)
    parser.add_argument("--logs", type=int, default=300)
    parser.add_argument("--presses", type=int, default=200)
    parser.add_argument("--write", action="store_true", help=f"write {PAGE.name}")
    given = parser.parse_args(arguments)
    costs, found = cost(), coverage(range(1000, 1000 + given.logs))
    text = page(costs, found, _in_pool(decisions, range(5000, 5000 + given.presses)), given.presses)
    print(text)
    if given.write:
        PAGE.write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
