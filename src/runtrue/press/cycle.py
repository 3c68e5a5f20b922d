"""One press cycle: what the stamper's face and the middle of the record go through, and what it is worth.

A recipe is the press with its programme; its uncertain inputs are named in one table, and every study (bands,
sensitivities, calibration, a shorter cycle) varies the same names.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from runtrue.errors import InputError
from runtrue.press.conduction import DEFAULT_MESH, Field, History, Mesh, Press, Probe, run
from runtrue.press.layers import Phase, Side, Stack
from runtrue.press.materials import Number

_Array = NDArray[np.float64]
LONGEST_OPENING = 60.0
"""How long the last phase is followed beyond its end to find when the record could be opened [s]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Recipe:
    """A press with its programme.

    ``compound``, ``stamper`` and ``die`` are the layers' numbers on side a. ``mould`` is its temperature where the
    cycle starts [K], None for a running press that starts where the cycle before left it. The record leaves at the
    end of phase ``opens``. ``flow`` and ``cool`` [K]: above the one the groove fills, below the other the record may
    come out; None where the plant has not said.
    """

    stack: Stack
    phases: tuple[Phase, ...]
    opens: int
    die: int
    stamper: int
    compound: int
    mould: Number | None
    flow: float | None = None
    cool: float | None = None

    @property
    def mirror(self) -> bool:
        """Whether one half stands for both."""
        return self.stack.mirror

    @property
    def closed(self) -> tuple[Phase, ...]:
        """Phases up to the opening."""
        return self.phases[: self.opens + 1]

    def half_b(self, layer: int) -> int:
        """The layer of the other half that faces this one."""
        return 2 * self.compound - layer

    def with_duration(self, phase: int, duration: Number) -> "Recipe":
        """The same press with one phase longer or shorter."""
        phases = list(self.phases)
        phases[phase] = replace(phases[phase], duration=duration)
        return replace(self, phases=tuple(phases))


@dataclass(frozen=True, slots=True, kw_only=True)
class Input:
    """An uncertain input. ``factor``: ln of what it is multiplied by is Gaussian; else an offset [K] is added.

    ``u95`` is the half-width for a press nobody has measured: our choice from the ranges in print, a placeholder.
    ``each_cycle``: it differs from record to record, else it belongs to the press.
    """

    name: str
    words: str
    factor: bool
    u95: float
    each_cycle: bool = False


INPUTS: tuple[Input, ...] = (
    Input(name="steam_film", words="film of the steam", factor=True, u95=0.6),
    Input(name="water_film", words="film of the water", factor=True, u95=0.5),
    Input(name="back_contact", words="contact of die and stamper", factor=True, u95=0.8),
    Input(name="face_contact", words="contact of stamper and compound", factor=True, u95=0.8),
    Input(name="compound_conductivity", words="conductivity of the compound", factor=True, u95=0.2),
    Input(name="compound_heat", words="specific heat of the compound", factor=True, u95=0.15),
    Input(name="steam_temperature", words="steam temperature", factor=False, u95=2.0, each_cycle=True),
    Input(name="water_temperature", words="water temperature", factor=False, u95=2.0, each_cycle=True),
    Input(name="compound_start", words="temperature of the biscuit", factor=False, u95=5.0, each_cycle=True),
    Input(name="thickness", words="thickness of the record", factor=True, u95=0.03, each_cycle=True),
)
"""Every uncertain input. Films and contacts also come with ``_a`` or ``_b`` for one half alone."""
INPUT = {item.name: item for item in INPUTS}
HALVES = ("steam_film", "water_film", "back_contact", "face_contact")
"""Inputs that either half has of its own."""


def known_input(name: str) -> Input:
    """The input of this name, also where it is that of one half ("water_film_a")."""
    base = name[:-2] if name.endswith(("_a", "_b")) else name
    found = INPUT[base]
    return found if base == name else replace(found, name=name, words=f"{found.words}, half {name[-1]}")


def varied(recipe: Recipe, values: Mapping[str, Number]) -> Recipe:
    """The recipe with inputs moved: ln of a factor, or an offset [K]; each one value, or one for each cycle.

    Raises ``InputError`` for a name that is no input, or for half b of a press whose halves are one.
    """
    for name, value in values.items():
        base, half = (name[:-2], name[-1]) if name.endswith(("_a", "_b")) else (name, "")
        if base not in INPUT or (half and base not in HALVES) or (half == "b" and recipe.mirror):
            raise InputError(f"input '{name}' is unknown; known are {', '.join(INPUT)}: choose one of them")
        if base in ("steam_film", "water_film"):
            recipe = _film(recipe, base.partition("_")[0], half, _times(value))
        elif base in ("steam_temperature", "water_temperature"):
            recipe = _fluid(recipe, base.partition("_")[0], value)
        elif base in ("back_contact", "face_contact"):
            recipe = _contact(recipe, base, half, _times(value))
        elif base == "compound_start":
            layer = recipe.stack.layers[recipe.compound]
            if layer.initial is not None:
                recipe = _compound(recipe, initial=layer.initial + value)
        elif base == "thickness":
            recipe = _compound(recipe, thickness=recipe.stack.layers[recipe.compound].thickness * _times(value))
        else:
            matter = recipe.stack.layers[recipe.compound].material
            change = {"conductivity" if base == "compound_conductivity" else "specific_heat": _times(value)}
            recipe = _compound(recipe, material=matter.scaled(**change))
    return recipe


def _times(value: Number) -> Number:
    return np.exp(value) if isinstance(value, np.ndarray) else float(np.exp(value))


def _compound(recipe: Recipe, **changes: object) -> Recipe:
    return replace(recipe, stack=recipe.stack.with_layer(recipe.compound, **changes))


def is_fluid(phase: Phase, fluid: str) -> bool:
    """Whether a phase is one of this fluid: its name says so ("steam", "water 2")."""
    return phase.fluid == fluid


def _film(recipe: Recipe, fluid: str, half: str, factor: Number) -> Recipe:
    def changed(side: Side, mine: str) -> Side:
        return replace(side, film=side.film * factor) if half in ("", mine) else side

    phases = tuple(
        replace(p, a=changed(p.a, "a"), b=changed(p.b, "b")) if is_fluid(p, fluid) else p for p in recipe.phases
    )
    return replace(recipe, phases=phases)


def _fluid(recipe: Recipe, fluid: str, offset: Number) -> Recipe:
    def warmer(side: Side) -> Side:
        base = side.temperature
        if callable(base):
            return replace(side, temperature=lambda time: base(time) + offset)
        return replace(side, temperature=base + offset)

    phases = tuple(replace(p, a=warmer(p.a), b=warmer(p.b)) if is_fluid(p, fluid) else p for p in recipe.phases)
    return replace(recipe, phases=phases)


def _contact(recipe: Recipe, base: str, half: str, factor: Number) -> Recipe:
    joints = [recipe.die if base == "back_contact" else recipe.stamper]
    if not recipe.mirror:
        joints = [j for j, mine in ((joints[0], "a"), (2 * recipe.compound - 1 - joints[0], "b")) if half in ("", mine)]
    stack = recipe.stack
    for joint in joints:
        contact = stack.contacts[joint]
        stack = stack.with_contact(
            joint,
            conductance=contact.conductance * factor,
            opened=None if contact.opened is None else contact.opened * factor,
        )
    return replace(recipe, stack=stack)


def probes_of(recipe: Recipe) -> tuple[Probe, ...]:
    """Where a cycle is watched: mid-plane, then for each half stamper face, skin and die face."""
    c = recipe.compound
    if recipe.mirror:
        return (Probe(layer=c, at=1.0), Probe(layer=recipe.stamper, at=1.0), Probe(layer=c, at=0.0),
                Probe(layer=recipe.die, at=1.0))  # fmt: skip
    return (
        Probe(layer=c, at=0.5), Probe(layer=recipe.stamper, at=1.0), Probe(layer=c, at=0.0),
        Probe(layer=recipe.die, at=1.0), Probe(layer=recipe.half_b(recipe.stamper), at=0.0), Probe(layer=c, at=1.0),
        Probe(layer=recipe.half_b(recipe.die), at=0.0),
    )  # fmt: skip


MID, STAMPER, SKIN, DIE = 0, 1, 2, 3
"""Places of the probes; half b's stamper, skin and die follow at 4, 5, 6."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """What the cycles come to; arrays of shape (cycles,), temperatures [K], times [s], heats [J/m2 of face].

    At the opening: mid-plane, the hotter stamper face, mean of the record. ``at_flow`` is how long the skin of the
    half that is worse off stood above the flow temperature; None where the plant has not said which.
    ``from_steam`` and ``to_water`` count both halves; ``to_record`` is what the record took up to its hottest.
    """

    history: History
    mid_plane: _Array
    stamper_face: _Array
    mean: _Array
    hottest_face: _Array
    at_flow: _Array | None
    from_steam: _Array
    to_water: _Array


def cycles_of(recipe: Recipe) -> int:
    """How many cycles the arrays of a recipe hold."""
    sizes = {1}
    for number in _numbers(recipe):
        if isinstance(number, np.ndarray):
            sizes.add(int(number.size))
    if len(sizes) > 2:
        raise InputError(f"the inputs hold {sorted(sizes)} cycles; give one number for all or as many for each")
    return max(sizes)


def _numbers(recipe: Recipe) -> list[object]:
    found: list[object] = [recipe.mould]
    for layer in recipe.stack.layers:
        matter = layer.material
        found += [layer.thickness, layer.initial, matter.conductivity.factor, matter.specific_heat.factor]
    for contact in recipe.stack.contacts:
        found += [contact.conductance, contact.opened]
    for phase in recipe.phases:
        found += [phase.duration, phase.a.film, phase.a.temperature, phase.b.film, phase.b.temperature]
    return found


def settle(recipe: Recipe, press: Press, *, guess: _Array | None = None, most: int = 25) -> Field:
    """State in which a cycle starts: as given, or that of a press that has run until it repeats itself.

    ``guess`` is a start near by of all cells but the record's, (1 or cycles, cells) [K], where there is one.

    Each cycle's change of the mould is followed on as a geometric series where it shrinks as one (Aitken), so that
    a few cycles do.
    """
    if recipe.mould is not None:
        return press.start(recipe.mould)
    fresh = press.start(_first_guess(recipe))
    span = press.spans[recipe.compound]
    temperature = fresh.temperature.copy()
    if guess is not None:
        temperature[:, np.delete(np.arange(press.cells), span)] = guess
    before: _Array | None = None
    for _ in range(most):
        ended = run(press, recipe.phases, press.field(temperature), probes=()).field.temperature.copy()
        ended[:, span] = fresh.temperature[:, span]
        change = ended - temperature
        temperature = ended
        size = np.abs(change).max(axis=1)
        if float(size.max()) < press.mesh.settled:
            break
        if before is not None:
            ratio = np.clip((change * before).sum(axis=1) / np.maximum((before * before).sum(axis=1), 1e-12), 0.0, 0.9)
            temperature = temperature + change * (ratio / (1.0 - ratio))[:, np.newaxis]
            before = None
        else:
            before = change
    return press.field(temperature)


def _first_guess(recipe: Recipe) -> float:
    """Coldest constant fluid: where the last water leaves a mould, about."""
    temperatures = [float(np.mean(p.a.temperature)) for p in recipe.phases if not callable(p.a.temperature)]
    return min(temperatures, default=293.15) + 10.0


def work(recipe: Recipe, mesh: Mesh = DEFAULT_MESH, *, start: Field | None = None) -> Outcome:
    """Work a recipe through its opening.

    Parameters
    ----------
    recipe : Recipe
        Its numbers may hold many cycles
    mesh : Mesh
    start : Field, optional
        State at the start; the recipe's own if not given

    Returns
    -------
    outcome : Outcome

    Notes
    -----
    Heat flows across the layers only: what uneven channels do over the face is not in it.
    """
    press = Press(recipe.stack, cycles_of(recipe), mesh)
    field = settle(recipe, press) if start is None else start
    seen = run(press, recipe.closed, field, probes=probes_of(recipe), watched=recipe.compound)
    last = seen.probes[-1]
    faces = [STAMPER] if recipe.mirror else [STAMPER, STAMPER + 3]
    skins = [SKIN] if recipe.mirror else [SKIN, SKIN + 3]
    both = 2.0 if recipe.mirror else 1.0
    flow = None
    if recipe.flow is not None:
        flow = np.min([time_above(seen.time, seen.probes[:, s], recipe.flow) for s in skins], axis=0)
    return Outcome(
        history=seen,
        mid_plane=last[MID],
        stamper_face=np.max(last[faces], axis=0),
        mean=seen.mean[-1],
        hottest_face=seen.probes[:, faces].max(axis=(0, 1)),
        at_flow=flow,
        from_steam=both * _heat(recipe, seen, "steam"),
        to_water=-both * _heat(recipe, seen, "water"),
    )


def _heat(recipe: Recipe, seen: History, fluid: str) -> _Array:
    chosen = [number for number, phase in enumerate(recipe.closed) if is_fluid(phase, fluid)]
    return np.asarray((seen.heat_a + seen.heat_b)[chosen].sum(axis=0))


def time_above(time: _Array, temperature: _Array, level: float) -> _Array:
    """How long a curve that is straight between its points stands above a level.

    Parameters
    ----------
    time, temperature : ndarray
        (steps, cycles)
    level : float

    Returns
    -------
    above : ndarray
        (cycles,), in the unit of time

    Examples
    --------
    >>> t = np.array([[0.0], [1.0], [2.0]])
    >>> float(time_above(t, np.array([[0.0], [2.0], [0.0]]), 1.0)[0])
    1.0
    """
    a, b = temperature[:-1] - level, temperature[1:] - level
    rise = np.where(a == b, 1.0, b - a)
    crossing = np.clip(-a / rise, 0.0, 1.0)
    share = np.where((a > 0.0) & (b > 0.0), 1.0, np.where(b > 0.0, 1.0 - crossing, np.where(a > 0.0, crossing, 0.0)))
    return np.asarray((share * np.diff(time, axis=0)).sum(axis=0))


def first_below(time: _Array, temperature: _Array, level: float, *, after: _Array) -> _Array:
    """When a curve has come to a level or below for good, from a time on; NaN where it has not.

    Parameters
    ----------
    time, temperature : ndarray
        (steps, cycles)
    level : float
    after : ndarray
        (cycles,)

    Returns
    -------
    when : ndarray
        (cycles,), in the unit of time; straight between the points
    """
    above = temperature > level
    steps, cycles = temperature.shape
    last = steps - 1 - np.argmax(above[::-1], axis=0)
    last = np.where(above.any(axis=0), last, -1)
    column = np.arange(cycles)
    i = np.clip(last, 0, steps - 2)
    t0, t1 = time[i, column], time[i + 1, column]
    y0, y1 = temperature[i, column], temperature[i + 1, column]
    share = (y0 - level) / np.where(y0 == y1, 1.0, y0 - y1)
    when = np.where(last < 0, time[0], t0 + share * (t1 - t0))
    return np.where(last >= steps - 1, np.nan, np.maximum(when, after))


def earliest_opening(recipe: Recipe, outcome: Outcome, mesh: Mesh = DEFAULT_MESH) -> _Array:
    """When the mid-plane is at the opening temperature, the last phase going on as it is; NaN if never in 60 s.

    Parameters
    ----------
    recipe : Recipe
        With ``cool``; raises ``InputError`` without
    outcome : Outcome
        Of this recipe

    Returns
    -------
    when : ndarray
        Since the cycle began, (cycles,) [s]; not before the last phase begins
    """
    if recipe.cool is None:
        raise InputError("open_below_degc is not given: say in [limits] below which temperature a record may come out")
    last = recipe.closed[-1]
    press = Press(recipe.stack, outcome.mid_plane.size, mesh)
    longer = replace(last, duration=LONGEST_OPENING)
    seen = outcome.history
    began = seen.time[-1]
    on = run(press, [_later(longer, began)], seen.field, probes=[probes_of(recipe)[MID]])
    time = np.concatenate([seen.time, on.time[1:] + began])
    mid = np.concatenate([seen.probes[:, MID], on.probes[1:, MID]])
    return first_below(time, mid, recipe.cool, after=began - last.duration)


def _later(phase: Phase, by: _Array) -> Phase:
    """The phase with its changing fluids read from a later time on."""

    def moved(side: Side) -> Side:
        base = side.temperature
        return replace(side, temperature=lambda time: base(time + by)) if callable(base) else side

    return replace(phase, a=moved(phase.a), b=moved(phase.b))


@dataclass(frozen=True, slots=True, kw_only=True)
class Sensitivity:
    """What one input does: at its own 95 % half-width, the mid-plane and the stamper face at opening [K], time at flow
    temperature [s], half the difference between plus and minus.
    """

    name: str
    u95: float
    mid_plane: float
    stamper_face: float
    at_flow: float | None


def sensitivities(recipe: Recipe, u95: Mapping[str, float], mesh: Mesh = DEFAULT_MESH) -> tuple[Sensitivity, ...]:
    """What each input does to the opening, one at a time, largest first; all worked as one batch."""
    names = list(u95)
    moved: dict[str, Number] = {}
    for place, name in enumerate(names):
        column = np.zeros(2 * len(names))
        column[2 * place], column[2 * place + 1] = u95[name], -u95[name]
        moved[name] = column
    found = work(varied(recipe, moved), mesh)

    def half(values: _Array, place: int) -> float:
        return 0.5 * float(values[2 * place] - values[2 * place + 1])

    rows = [
        Sensitivity(
            name=name, u95=u95[name], mid_plane=half(found.mid_plane, k), stamper_face=half(found.stamper_face, k),
            at_flow=None if found.at_flow is None else half(found.at_flow, k),
        )
        for k, name in enumerate(names)
    ]  # fmt: skip
    return tuple(sorted(rows, key=lambda row: -abs(row.mid_plane)))


def drawn(u95: Mapping[str, float], count: int, rng: np.random.Generator) -> dict[str, Number]:
    """Draws of independent inputs, evenly spread in each (Latin hypercube)."""
    from scipy.special import ndtri

    found: dict[str, Number] = {}
    for name, half in u95.items():
        share = (rng.permutation(count) + rng.random(count)) / count
        found[name] = half / 1.959963984540054 * ndtri(share)
    return found


def apart(recipe: Recipe, values: Mapping[str, Number], piece: slice) -> Mapping[str, Number]:
    """A piece of the draws."""
    return {name: value[piece] if isinstance(value, np.ndarray) else value for name, value in values.items()}


def pieces(count: int, most: int = 250) -> Sequence[slice]:
    """Cut many cycles into batches that stay in the processor's cache."""
    return [slice(start, min(start + most, count)) for start in range(0, count, most)]
