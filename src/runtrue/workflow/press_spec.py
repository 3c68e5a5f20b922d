"""A press and its programme (TOML) into a recipe; every mistake becomes one line that says where it is."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from hashlib import sha256
from itertools import pairwise
from pathlib import Path
from typing import Annotated, Literal

import numpy as np
from pydantic import Field

from runtrue.disc.formats import FORMATS, disc_format
from runtrue.errors import InputError
from runtrue.press.cycle import INPUTS, Recipe
from runtrue.press.layers import Contact, Layer, Phase, Side, Stack
from runtrue.press.materials import Curve, Material, material
from runtrue.press.steam import absolute_pressure, dew_point, saturation_temperature
from runtrue.units import MM, PERCENT, ZERO_DEGC
from runtrue.workflow.toml_file import Day, Strict, parse_toml, read_text

BAR = 1e5
"""Pascals in a bar, exact."""
Celsius = Annotated[float, Field(ge=-40.0, le=400.0)]
Positive = Annotated[float, Field(gt=0.0)]
Pair = Annotated[list[float], Field(min_length=2, max_length=2)]
Property = Positive | Annotated[list[Pair], Field(min_length=2)]
PARTED = 1.0
"""Conductance of a joint whose record has left [W/(m2 K)]: next to nothing."""


class _Cycle(Strict):
    name: Annotated[str, Field(min_length=1)]
    initial_degc: Celsius | None = None
    atmosphere_bar: Annotated[float, Field(ge=0.5, le=1.2)] = 1.01325
    owner: str | None = None
    date: Day | None = None


class _Phase(Strict):
    name: Annotated[str, Field(min_length=1)]
    duration_s: float
    fluid: Literal["steam", "water", "air", "none"]
    pressure_bar_g: float | None = None
    air_volume_percent: Annotated[float, Field(ge=0.0, lt=100.0)] = 0.0
    temperature_degc: Celsius | None = None
    film_w_m2k: Annotated[float, Field(ge=0.0, le=100_000.0)] | None = None
    press_mpa: Positive | None = None
    half: Literal["a", "b"] | None = None
    open: bool = False


class _Layer(Strict):
    name: Annotated[str, Field(min_length=1)]
    half: Literal["a", "b"] = "a"
    material: str | None = None
    thickness_mm: float
    conductivity_w_mk: Property | None = None
    density_kg_m3: Positive | None = None
    specific_heat_j_kgk: Property | None = None
    contact_after_w_m2k: Positive | None = None
    contact_open_w_m2k: Positive | None = None
    opens_below_degc: Celsius | None = None
    contact_at_mpa: Positive | None = None
    initial_degc: Celsius | None = None


class _Limits(Strict):
    flow_degc: Celsius | None = None
    open_below_degc: Celsius | None = None
    warp_24h_mm: Positive | None = None
    owner: str = "the plant"
    source: str = "stated in the press file"
    date: Day = ""


class _Spread(Strict):
    steam_film_percent: Positive | None = None
    water_film_percent: Positive | None = None
    back_contact_percent: Positive | None = None
    face_contact_percent: Positive | None = None
    compound_conductivity_percent: Positive | None = None
    compound_heat_percent: Positive | None = None
    thickness_percent: Positive | None = None
    steam_temperature_k: Positive | None = None
    water_temperature_k: Positive | None = None
    compound_start_k: Positive | None = None


class _Energy(Strict):
    format: str | None = None
    mould_diameter_mm: Positive | None = None
    mould_mass_kg: Positive | None = None
    water_rise_k: Positive | None = None
    electric_kw: Positive | None = None


class _Counts(Strict):
    durations_s: dict[str, Positive]
    records: Annotated[int, Field(gt=0)]
    non_fill: Annotated[int, Field(ge=0)] | None = None
    warped_24h: Annotated[int, Field(ge=0)] | None = None


class _Spec(Strict):
    cycle: _Cycle
    phase: Annotated[list[_Phase], Field(min_length=1)]
    layer: Annotated[list[_Layer], Field(min_length=1)]
    limits: _Limits = _Limits()
    spread: _Spread = _Spread()
    energy: _Energy = _Energy()
    counts: Annotated[list[_Counts], Field(default_factory=list)]


_PLAIN = {
    "conductivity_w_mk": "conductivity", "density_kg_m3": "density", "specific_heat_j_kgk": "specific heat",
}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Counts:
    """Records pressed at a setting: durations [s] of phases by name, how many, how many were bad."""

    durations: dict[str, float]
    records: int
    non_fill: int | None
    warped: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class PressSpec:
    """A press file: the recipe, what is uncertain about it (``u95`` by input), and what the plant says beside it.

    ``matter`` is a digest of the layers alone: a calibration belongs to them. ``steam_pressure`` [Pa] absolute of the
    last steam phase; ``water_temperature`` [K] of the last water.
    """

    name: str
    file: str
    digest: str
    matter: str
    recipe: Recipe
    atmosphere: float
    u95: dict[str, float]
    limits: _Limits
    energy: _Energy
    counts: tuple[Counts, ...]
    steam_pressure: float | None
    water_temperature: float | None
    cautions: tuple[str, ...] = field(default_factory=tuple)


def load_spec(path: Path) -> PressSpec:
    """Read a press file; raises ``InputError`` with file, place and what is allowed."""
    where = f"press file {path}"
    text = read_text(path, where)
    return press_of(parse_toml(text, _Spec, where), where, path.name, sha256(text.encode()).hexdigest())


def press_of(spec: _Spec, where: str, name: str, digest: str) -> PressSpec:
    """The values of a press file."""
    cautions: list[str] = []
    stack, die, stamper, compound = _stack(spec.layer, where, cautions)
    phases, opens = _phases(spec, where, compound, stack.mirror, cautions)
    _steam_over_water(spec, phases, where)
    limits = spec.limits
    recipe = Recipe(
        stack=stack, phases=phases, opens=opens, die=die, stamper=stamper, compound=compound,
        mould=None if spec.cycle.initial_degc is None else spec.cycle.initial_degc + ZERO_DEGC,
        flow=None if limits.flow_degc is None else limits.flow_degc + ZERO_DEGC,
        cool=None if limits.open_below_degc is None else limits.open_below_degc + ZERO_DEGC,
    )  # fmt: skip
    if spec.energy.format is not None and spec.energy.format not in FORMATS:
        disc_format(spec.energy.format)
    steam = [p for p in spec.phase if p.fluid == "steam" and p.pressure_bar_g is not None]
    water = [p for p in spec.phase if p.fluid == "water"]
    atmosphere = spec.cycle.atmosphere_bar * BAR
    return PressSpec(
        name=spec.cycle.name,
        file=name,
        digest=digest,
        matter=sha256(repr(spec.layer).encode()).hexdigest(),
        recipe=recipe,
        atmosphere=atmosphere,
        u95=_spread(spec.spread, recipe),
        limits=limits,
        energy=spec.energy,
        counts=tuple(_counts(one, k, recipe, where) for k, one in enumerate(spec.counts, 1)),
        steam_pressure=absolute_pressure((steam[-1].pressure_bar_g or 0.0) * BAR, atmosphere=atmosphere)
        if steam else None,
        water_temperature=(water[-1].temperature_degc or 0.0) + ZERO_DEGC if water else None,
        cautions=tuple(cautions),
    )  # fmt: skip


def _counts(one: _Counts, number: int, recipe: Recipe, where: str) -> Counts:
    names = [p.name for p in recipe.phases]
    for name in one.durations_s:
        if name not in names:
            raise InputError(
                f"{where}: [counts] number {number}: phase '{name}' is unknown; known are {', '.join(names)}: "
                "correct it"
            )
    for what, bad in (("non_fill", one.non_fill), ("warped_24h", one.warped_24h)):
        if bad is not None and bad > one.records:
            raise InputError(
                f"{where}: [counts] number {number}: {what} must be at most the {one.records} records, got {bad}: "
                "correct it"
            )
    return Counts(durations=dict(one.durations_s), records=one.records, non_fill=one.non_fill, warped=one.warped_24h)


def _spread(given: _Spread, recipe: Recipe) -> dict[str, float]:
    found: dict[str, float] = {}
    for item in INPUTS:
        if item.name == "compound_start" and recipe.stack.layers[recipe.compound].initial is None:
            continue
        stated = getattr(given, f"{item.name}_{'percent' if item.factor else 'k'}")
        found[item.name] = item.u95 if stated is None else (
            float(np.log1p(stated * PERCENT)) if item.factor else stated
        )  # fmt: skip
    return found


def _stack(rows: Sequence[_Layer], where: str, cautions: list[str]) -> tuple[Stack, int, int, int]:
    """Layers in order through the press, and the numbers of die, stamper and compound on side a."""
    half_a = [row for row in rows if row.half == "a"]
    half_b = [row for row in rows if row.half == "b"]
    for half, listed in (("a", half_a), ("b", half_b)):
        names = [row.name for row in listed]
        if listed and "compound" in names and names[-1] != "compound":
            raise InputError(f"{where}: [layer] half {half}: 'compound' must be the last, at the mid-plane; move it")
    if not half_a or half_a[-1].name != "compound":
        raise InputError(f"{where}: [layer] 'compound' is missing; add it as the last of the layers of half a")
    if len(half_a) < 3:
        raise InputError(
            f"{where}: [layer] half a holds {', '.join(row.name for row in half_a)}; needed are die, stamper and "
            "compound, from the fluid inward: add the missing layer"
        )
    layers_a = [_layer(row, where, cautions) for row in half_a]
    compound = len(layers_a) - 1
    joints_a = [_contact(row, where) for row in half_a[:-1]]
    if not half_b:
        stack = Stack(layers=tuple(layers_a), contacts=tuple(joints_a), mirror=True)
        return stack, compound - 2, compound - 1, compound
    if half_b[-1].name != "compound":
        half_b = [*half_b, half_a[-1]]
    if len(half_b) != len(half_a):
        raise InputError(
            f"{where}: [layer] half b holds {len(half_b) - 1} layers before the compound and half a {compound}; "
            "give both as many"
        )
    layers_b = [_layer(row, where, cautions) for row in half_b]
    joints_b = [_contact(row, where) for row in half_b[:-1]]
    if layers_b[-1].material != layers_a[-1].material or layers_b[-1].initial != layers_a[-1].initial:
        raise InputError(f"{where}: [layer] the compound of half b is another matter; a record has one: correct it")
    whole = Layer(
        name="compound", material=layers_a[-1].material, initial=layers_a[-1].initial,
        thickness=layers_a[-1].thickness + layers_b[-1].thickness,
    )  # fmt: skip
    stack = Stack(
        layers=(*layers_a[:-1], whole, *reversed(layers_b[:-1])), contacts=(*joints_a, *reversed(joints_b)),
        mirror=False,
    )  # fmt: skip
    return stack, compound - 2, compound - 1, compound


def _layer(row: _Layer, where: str, cautions: list[str]) -> Layer:
    place = f"{where}: [layer] '{row.name}'"
    if not 0.0 < row.thickness_mm <= 500.0:
        raise InputError(
            f"{place}: thickness_mm must be above 0 and up to 500 mm, got {row.thickness_mm:g} mm: correct it"
        )
    if row.name == "nickel" and row.thickness_mm > 3.0:
        cautions.append(f"Layer 'nickel' is {row.thickness_mm:g} mm thick; stampers are 0.15 to 1 mm: check the unit.")
    given = {
        "conductivity_w_mk": row.conductivity_w_mk, "density_kg_m3": row.density_kg_m3,
        "specific_heat_j_kgk": row.specific_heat_j_kgk,
    }  # fmt: skip
    missing = [key for key, value in given.items() if value is None]
    if missing and row.material is None:
        raise InputError(f"{place}: key '{missing[0]}' is missing: add it, or name a material")
    base = None
    if row.material is not None:
        try:
            base = material(row.material)
        except InputError as error:
            raise InputError(f"{place}: {error}") from None
    if base is not None and base.placeholder and missing:
        cautions.append(
            f"Properties of {base.name} ({', '.join(_PLAIN[key] for key in missing)}) are placeholders: "
            "replace them with the supplier's data."
        )
    matter = Material(
        name=row.name,
        density=row.density_kg_m3 if row.density_kg_m3 is not None else _of(base).density,
        conductivity=_curve(row.conductivity_w_mk, place, "conductivity_w_mk")
        if row.conductivity_w_mk is not None else _of(base).conductivity,
        specific_heat=_curve(row.specific_heat_j_kgk, place, "specific_heat_j_kgk")
        if row.specific_heat_j_kgk is not None else _of(base).specific_heat,
        source="press file" if base is None else base.source,
        placeholder=base is not None and base.placeholder and bool(missing),
    )  # fmt: skip
    initial = None if row.initial_degc is None else row.initial_degc + ZERO_DEGC
    return Layer(name=row.name, material=matter, thickness=row.thickness_mm * MM, initial=initial)


def _of(base: Material | None) -> Material:
    assert base is not None
    return base


def _curve(given: float | list[list[float]], place: str, key: str) -> Curve:
    if isinstance(given, float | int):
        return Curve(points=((ZERO_DEGC + 20.0, float(given)),))
    if any(not -40.0 <= t <= 400.0 or v <= 0.0 for t, v in given):
        raise InputError(
            f"{place}: key '{key}': pairs are temperature, -40 to 400 degC, and a value above 0: correct it"
        )
    if any(b[0] <= a[0] for a, b in pairwise(given)):
        raise InputError(f"{place}: key '{key}': temperatures must rise from point to point: order them")
    points = tuple((t + ZERO_DEGC, v) for t, v in given)
    return Curve(points=points, span=(points[0][0], points[-1][0]))


def _contact(row: _Layer, where: str) -> Contact:
    place = f"{where}: [layer] '{row.name}'"
    if row.contact_after_w_m2k is None:
        raise InputError(f"{place}: key 'contact_after_w_m2k' is missing; it is the joint to the next layer: add it")
    if (row.contact_open_w_m2k is None) is not (row.opens_below_degc is None):
        raise InputError(f"{place}: contact_open_w_m2k and opens_below_degc go together; give both or none")
    return Contact(
        conductance=row.contact_after_w_m2k,
        opened=row.contact_open_w_m2k,
        opens_below=None if row.opens_below_degc is None else row.opens_below_degc + ZERO_DEGC,
        at_pressure=None if row.contact_at_mpa is None else row.contact_at_mpa * 1e6,
    )


def _phases(spec: _Spec, where: str, compound: int, mirror: bool, cautions: list[str]) -> tuple[tuple[Phase, ...], int]:
    """Phases in order and the number of the last one before the record comes out."""
    found: list[Phase] = []
    parted = ((compound - 1, PARTED),) if mirror else ((compound - 1, PARTED), (compound, PARTED))
    opens: int | None = None
    for row, other in _paired(spec.phase, where, mirror):
        place = f"{where}: [phase] '{row.name}'"
        if not 0.0 < row.duration_s <= 600.0:
            raise InputError(
                f"{place}: duration_s must be above 0 and up to 600 s, got {row.duration_s:g} s: correct it"
            )
        if row.open and opens is None:
            opens = len(found) - 1
        if opens is not None and not row.open:
            raise InputError(f"{place}: follows an open phase; the record has left by then: move it before")
        found.append(
            Phase(
                name=row.name, fluid=row.fluid, duration=row.duration_s, a=_side(row, spec, place, cautions),
                b=_side(other, spec, place, cautions),
                pressure=None if row.press_mpa is None else row.press_mpa * 1e6, parted=parted if row.open else (),
            )
        )  # fmt: skip
    names = [p.name for p in found]
    if len(set(names)) < len(names):
        raise InputError(f"{where}: [phase] two phases have one name; give each its own")
    if opens == -1:
        raise InputError(f"{where}: [phase] '{names[0]}': the first phase cannot be open; begin with a closed one")
    if opens is None:
        opens = len(found) - 1
        if spec.cycle.initial_degc is None:
            cautions.append("No open phase is given: what the mould does while the press is open is left out.")
    return tuple(found), opens


def _paired(rows: Sequence[_Phase], where: str, mirror: bool) -> Iterator[tuple[_Phase, _Phase]]:
    """Each phase as half a and half b see it; a phase that names a half is followed by that of the other half."""
    left = list(rows)
    while left:
        row = left.pop(0)
        if row.half is None:
            yield row, row
            continue
        place = f"{where}: [phase] '{row.name}'"
        if mirror:
            raise InputError(f"{place}: names half {row.half}, and no layer has half = 'b'; list its layers too")
        if not left or left[0].half in (None, row.half) or left[0].name != row.name:
            raise InputError(
                f"{place}: names half {row.half} only; the same phase of the other half must follow it: add it"
            )
        other = left.pop(0)
        if (other.duration_s, other.fluid, other.open) != (row.duration_s, row.fluid, row.open):
            raise InputError(f"{place}: duration_s, fluid and open of both halves must agree: correct one")
        yield (row, other) if row.half == "a" else (other, row)


def _side(row: _Phase, spec: _Spec, place: str, cautions: list[str]) -> Side:
    if row.fluid == "none":
        return Side(temperature=ZERO_DEGC + 20.0, film=0.0)
    if row.film_w_m2k is None:
        raise InputError(f"{place}: key 'film_w_m2k' is missing: add it")
    if row.fluid != "steam":
        if row.pressure_bar_g is not None or row.temperature_degc is None:
            raise InputError(f"{place}: {row.fluid} is given by temperature_degc, without a pressure: correct it")
        return Side(temperature=row.temperature_degc + ZERO_DEGC, film=row.film_w_m2k)
    if row.pressure_bar_g is None:
        if row.temperature_degc is None:
            raise InputError(f"{place}: steam needs pressure_bar_g or temperature_degc: add one")
        return Side(temperature=row.temperature_degc + ZERO_DEGC, film=row.film_w_m2k)
    if not 0.0 < row.pressure_bar_g <= 40.0:
        raise InputError(
            f"{place}: pressure_bar_g must be above 0 and up to 40 bar over the atmosphere, got "
            f"{row.pressure_bar_g:g} bar: correct it"
        )
    gauge, atmosphere = row.pressure_bar_g * BAR, spec.cycle.atmosphere_bar * BAR
    steam = dew_point(
        absolute_pressure(gauge, atmosphere=atmosphere), air_volume_share=row.air_volume_percent * PERCENT
    )
    if row.temperature_degc is not None:
        _gauge_for_absolute(row.temperature_degc, steam, gauge, place, cautions)
    if not 3.0 <= row.pressure_bar_g <= 14.0:
        cautions.append(
            f"Phase '{row.name}': {row.pressure_bar_g:g} bar gauge is outside the 3 to 14 bar that presses are run at "
            "(common practice): check that it is a gauge pressure, in bar."
        )
    return Side(temperature=steam, film=row.film_w_m2k)


def _gauge_for_absolute(stated: float, steam: float, gauge: float, place: str, cautions: list[str]) -> None:
    """A stated temperature beside the pressure tells whether the pressure is a gauge's."""
    over = steam - ZERO_DEGC - stated
    if abs(over) <= 1.5:
        return
    as_absolute = float(saturation_temperature(gauge)) - ZERO_DEGC if gauge > 1e3 else stated + 99.0
    if abs(as_absolute - stated) <= 1.5:
        cautions.append(
            f"{place.rpartition(': ')[2]}: {gauge / BAR:g} bar gives {stated:g} degC only when it is absolute: "
            "pressure_bar_g wants what the gauge shows. The gauge pressure was used."
        )
        return
    raise InputError(
        f"{place}: {gauge / BAR:g} bar gauge is steam of {steam - ZERO_DEGC:.1f} degC, temperature_degc says "
        f"{stated:g} degC; remove one of them"
    )


def _steam_over_water(spec: _Spec, phases: tuple[Phase, ...], where: str) -> None:
    def ends(fluid: str) -> list[tuple[str, float]]:
        found: list[tuple[str, float]] = []
        for phase in phases:
            if phase.fluid == fluid:
                for side in (phase.a, phase.b):
                    assert isinstance(side.temperature, float)
                    found.append((phase.name, side.temperature))
        return found

    hot_ends, cold_ends = ends("steam"), ends("water")
    for steam, hot in hot_ends:
        for water, cold in cold_ends:
            if hot <= cold:
                raise InputError(
                    f"{where}: [phase] '{steam}': steam of {hot - ZERO_DEGC:.1f} degC is no hotter than the water "
                    f"of '{water}', {cold - ZERO_DEGC:.1f} degC: check pressure and temperature"
                )


def out_of_range(recipe: Recipe, low: float, high: float) -> list[str]:
    """Cautions for properties used beyond the temperatures [K] they are known for."""
    said: list[str] = []
    for layer in recipe.stack.layers:
        for what, curve in (
            ("conductivity", layer.material.conductivity),
            ("specific heat", layer.material.specific_heat),
        ):
            if curve.span is not None and (low < curve.span[0] - 0.5 or high > curve.span[1] + 0.5):
                said.append(
                    f"The {what} of {layer.name} is given from {curve.span[0] - ZERO_DEGC:.0f} to "
                    f"{curve.span[1] - ZERO_DEGC:.0f} °C and was used beyond, level from there on."
                )
    return list(dict.fromkeys(said))


@dataclass(frozen=True, slots=True, kw_only=True)
class WhatIf:
    """A press file with other durations: ``seconds`` one per phase of the file, ``hold`` [s] put in after the steam."""

    seconds: tuple[float, ...]
    hold: float = 0.0


def phase_names(path: Path) -> list[tuple[str, float]]:
    """Phases of a press file with their durations [s]; those of half b are the same as those of a and are left out."""
    where = f"press file {path.name}"
    spec = parse_toml(read_text(path, where), _Spec, where)
    return [(one.name, one.duration_s) for one in spec.phase if one.half != "b"]


def what_if(path: Path, asked: WhatIf) -> PressSpec:
    """A press file with other durations. Raises ``InputError`` for what the file or the range does not allow."""
    where = f"press file {path.name}"
    text = read_text(path, where)
    spec = parse_toml(text, _Spec, where)
    names = [one.name for one in spec.phase if one.half != "b"]
    if len(asked.seconds) != len(names):
        raise InputError(f"{where} has {len(names)} phases, {len(asked.seconds)} durations were given: give one each")
    durations = dict(zip(names, asked.seconds, strict=True))
    phases = [one.model_copy(update={"duration_s": durations[one.name]}) for one in spec.phase]
    if asked.hold > 0.0:
        last = max((place for place, one in enumerate(phases) if one.fluid == "steam"), default=-1)
        if last < 0:
            raise InputError(f"{where}: there is no steam to hold after; leave the hold out")
        held = _Phase(name="hold", fluid="none", duration_s=asked.hold, press_mpa=phases[last].press_mpa)
        phases.insert(last + 1, held)
    changed = spec.model_copy(
        update={"phase": phases, "cycle": spec.cycle.model_copy(update={"name": f"{spec.cycle.name}, what if"})}
    )
    return press_of(changed, where, path.name, sha256(f"{text}{asked}".encode()).hexdigest())
