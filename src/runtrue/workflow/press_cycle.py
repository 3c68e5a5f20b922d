"""The moment of setting a press: one cycle or two worked out, with bands, what matters, steam and water."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

import runtrue
from runtrue.contract import press_cycle as printed
from runtrue.disc.formats import disc_format
from runtrue.paper.layout import SCREEN
from runtrue.paper.press import cycle_sheet, temperature_picture, write_cycle_sheet
from runtrue.paper.svg import to_svg
from runtrue.press.calibrate import Posterior
from runtrue.press.conduction import ROUGH_MESH
from runtrue.press.cycle import (
    DIE,
    MID,
    STAMPER,
    Outcome,
    Recipe,
    drawn,
    earliest_opening,
    known_input,
    sensitivities,
    varied,
    work,
)
from runtrue.press.energy import KWH, face_area, steam_mass, swing_heat, water_mass
from runtrue.press.shorten import bound_effects, draws_of
from runtrue.types import Progress
from runtrue.units import MM, PERCENT, ZERO_DEGC
from runtrue.workflow.actions import Ports, check_request
from runtrue.workflow.dossier import day_words
from runtrue.workflow.new_file import check_new
from runtrue.workflow.press_calibrate import load_calibration
from runtrue.workflow.press_requests import PressCycleRequest
from runtrue.workflow.press_results import ONE_WAY, SAFETY, reasoned
from runtrue.workflow.press_spec import PressSpec, load_spec, out_of_range
from runtrue.workflow.press_words import cycle_rows, cycles_told, input_rows

_Array = NDArray[np.float64]
DRAWS = 200
"""Cycles that are drawn for the bands."""
STEEL_HEAT = 475.0
"""Specific heat of the mould's mass behind the channels, plain steel [J/(kg K)]."""


def cycle(request: PressCycleRequest, ports: Ports, progress: Progress) -> printed.PressCycles:
    """Work out one or two cycles. Raises ``InputError`` for what is not usable."""
    check_request(request)
    if request.picture is not None:
        check_new(request.picture, "picture", ".pdf" if request.picture.suffix.lower() == ".pdf" else ".svg")
    specs = [load_spec(path) for path in (request.spec, request.compare) if path is not None]
    result = side_by_side(specs, progress, calibration=request.calibration, picture=request.picture)
    if request.picture is not None:
        _draw(result, request.picture, day_words(ports.clock()))
    return result


def side_by_side(
    specs: list[PressSpec], progress: Progress, *, calibration: Path | None = None, picture: Path | None = None
) -> printed.PressCycles:
    """One cycle, or two with their difference; ``picture`` is only named. Raises ``InputError``."""
    made = []
    for place, spec in enumerate(specs):
        progress(f"working {spec.name}", place / len(specs))
        posterior = None if calibration is None else load_calibration(calibration, spec)[0]
        made.append(worked(spec, posterior))
    cautions = [ONE_WAY, *(said for one in made for said in one.cautions)]
    if not all(one.cycle.calibrated for one in made):
        cautions.append(
            "Films and contacts are not fitted to this press: the bands are those of a press nobody has measured."
        )
    result = printed.PressCycles(
        cycles=[one.cycle for one in made],
        difference=_difference(made[0].cycle, made[1].cycle) if len(made) > 1 else None,
        picture=None if picture is None else str(picture),
        not_judged=[],
        cautions=list(dict.fromkeys(cautions)),
        safety=list(SAFETY),
        version=runtrue.__version__,
    )
    result.not_judged.extend(reasoned(result, _reasons(specs)))
    return result


def _draw(result: printed.PressCycles, path: Path, day: str) -> None:
    """Write the temperature picture: alone as SVG, or on a sheet as PDF."""
    if path.suffix.lower() == ".pdf":
        columns = [cycle_rows(one) for one in result.cycles]
        rows = [(row[0][0], *(value for _, value in row)) for row in zip(*columns, strict=True)]
        write_cycle_sheet(path, cycle_sheet(result, cycles_told(result), rows, input_rows(result.cycles[0]), date=day))
        return
    drawing = temperature_picture(result.cycles, pen=SCREEN, wide=900.0, high=480.0)
    path.write_text(to_svg(drawing), encoding="utf-8")


@dataclass(frozen=True, slots=True, kw_only=True)
class Worked:
    """A cycle as printed, with what has to be said about it."""

    cycle: printed.PressCycle
    cautions: tuple[str, ...]


def worked(spec: PressSpec, posterior: Posterior | None = None) -> Worked:
    """One cycle with its bands, at the best values of a calibration where there is one."""
    rng = np.random.default_rng(1)
    recipe, u95 = spec.recipe, dict(spec.u95)
    if posterior is None:
        moved = varied(recipe, drawn(u95, DRAWS, rng))
    else:
        moved = varied(recipe, draws_of(posterior, u95, DRAWS, rng))
        recipe = varied(recipe, {n: float(v) for n, v in zip(posterior.names, posterior.mean, strict=True)})
        cycle_own = {name: half for name, half in u95.items() if known_input(name).each_cycle}
        u95 = {n: float(h) for n, h in zip(posterior.names, posterior.half_width(), strict=True)} | cycle_own
    nominal = work(recipe)
    spread = work(moved, ROUGH_MESH)
    seen = nominal.history
    low, high = float(seen.probes.min()), float(seen.probes.max())
    cautions = [*spec.cautions, *out_of_range(recipe, low, high), *_drift(recipe, nominal)]
    opens, whole = float(seen.time[-1, 0]), float(sum(np.mean(p.duration) for p in recipe.phases))
    at_flow = None
    if nominal.at_flow is not None and spread.at_flow is not None:
        at_flow = _range(nominal.at_flow, spread.at_flow, digits=2)
    cycle_ = printed.PressCycle(
        name=spec.name,
        file=spec.file,
        sha256=spec.digest,
        calibrated=posterior is not None,
        running=recipe.mould is None,
        mould_start_degc=_degc(float(seen.probes[0, DIE, 0])),
        phases=list(_phases(recipe)),
        opens_s=round(opens, 3),
        cycle_s=round(whole, 3),
        flow_degc=None if recipe.flow is None else _degc(recipe.flow),
        open_below_degc=None if recipe.cool is None else _degc(recipe.cool),
        mid_plane_at_opening_degc=_range(nominal.mid_plane, spread.mid_plane, zero=ZERO_DEGC),
        stamper_face_at_opening_degc=_range(nominal.stamper_face, spread.stamper_face, zero=ZERO_DEGC),
        mean_at_opening_degc=_range(nominal.mean, spread.mean, zero=ZERO_DEGC),
        hottest_stamper_face_degc=_range(nominal.hottest_face, spread.hottest_face, zero=ZERO_DEGC),
        at_flow_s=at_flow,
        earliest_opening_s=_opening(recipe, nominal, moved, spread),
        energy=_energy(spec, recipe, nominal, whole),
        inputs=_inputs(recipe, u95, posterior),
        traces=_traces(recipe, nominal, spread),
        balance_relative=_balance(nominal),
    )
    return Worked(cycle=cycle_, cautions=tuple(cautions))


def _range(nominal: _Array, spread: _Array, *, zero: float = 0.0, digits: int = 1) -> printed.Range:
    low, high = np.quantile(spread, [0.025, 0.975])
    value = float(nominal[0])
    return printed.Range(
        value=round(value - zero, digits),
        low=round(min(float(low), value) - zero, digits),
        high=round(max(float(high), value) - zero, digits),
    )


def _degc(kelvin: float) -> float:
    return round(kelvin - ZERO_DEGC, 2)


def _phases(recipe: Recipe) -> Iterator[printed.PhaseSpan]:
    began = 0.0
    for number, phase in enumerate(recipe.phases):
        ends = began + float(np.mean(phase.duration))
        base = phase.a.temperature
        known = phase.fluid != "none" and not callable(base)
        yield printed.PhaseSpan(
            name=phase.name, fluid=phase.fluid,
            temperature_degc=_degc(float(np.mean(base))) if known and not callable(base) else None,
            from_s=round(began, 3), to_s=round(ends, 3), open=number > recipe.opens,
        )  # fmt: skip
        began = ends


def _opening(recipe: Recipe, nominal: Outcome, moved: Recipe, spread: Outcome) -> printed.Range | None:
    if recipe.cool is None:
        return None
    value = earliest_opening(recipe, nominal)
    if not np.isfinite(value).all():
        return None
    drawn_times = earliest_opening(moved, spread, ROUGH_MESH)
    known = drawn_times[np.isfinite(drawn_times)]
    return _range(value, known, digits=2) if known.size > 0.975 * drawn_times.size else None


def _energy(spec: PressSpec, recipe: Recipe, nominal: Outcome, whole: float) -> printed.CycleEnergy | None:
    energy = spec.energy
    if energy.mould_diameter_mm is None and energy.format is None:
        return None
    if energy.mould_diameter_mm is not None:
        diameter = energy.mould_diameter_mm * MM
    else:
        diameter = disc_format(energy.format or "").outside_diameter.value + 20.0 * MM
    area = face_area(diameter)
    heat = area * float(nominal.from_steam[0])
    seen = nominal.history
    body = 0.0
    if energy.mould_mass_kg is not None:
        die = seen.probes[:, DIE, 0]
        body = swing_heat(energy.mould_mass_kg, STEEL_HEAT, float(die.max() - die.min()))
    record = _record_heat(recipe, nominal) * area
    taken = heat + body
    rise, cold = energy.water_rise_k, spec.water_temperature
    to_water = area * float(nominal.to_water[0]) + body
    return printed.CycleEnergy(
        steam_kg=None if spec.steam_pressure is None else round(steam_mass(taken, spec.steam_pressure), 4),
        heat_kwh=round(taken / KWH, 4),
        water_kg=None if rise is None or cold is None else round(water_mass(to_water, cold, rise), 2),
        electricity_kwh=None if energy.electric_kw is None else round(energy.electric_kw * whole / 3600.0, 4),
        record_kwh=round(record / KWH, 5),
        moulds_percent=round(100.0 * (1.0 - max(record, 0.0) / taken), 2) if taken > 0.0 else 0.0,
        per_hour=round(3600.0 / whole, 2),
    )


def _record_heat(recipe: Recipe, nominal: Outcome) -> float:
    """Heat that the record takes up from its coming in to its hottest mean [J/m2 of face]."""
    layer = recipe.stack.layers[recipe.compound]
    mean = nominal.history.mean[:, 0]
    t = np.array([[float(mean[0]), float(mean.max())]])
    heat = layer.material.specific_heat.at(t).mean() * (t[0, 1] - t[0, 0])
    both = 2.0 if recipe.mirror else 1.0
    return both * float(heat) * layer.material.density * float(np.mean(layer.thickness))


def _inputs(recipe: Recipe, u95: Mapping[str, float], posterior: Posterior | None) -> list[printed.InputEffect]:
    """What each input does; those that a log binds to each other share what they do together, by their squares."""
    rows = sensitivities(recipe, u95)
    effect = {row.name: row.mid_plane for row in rows}
    part = {name: value**2 for name, value in effect.items()}
    if posterior is not None:
        own = np.array([effect[name] for name in posterior.names])
        for group, square in bound_effects(own, posterior.covariance):
            alone = float((own[group] ** 2).sum()) or 1.0
            part |= {posterior.names[k]: square * float(own[k] ** 2) / alone for k in group}
    whole = sum(part.values()) or 1.0
    return [
        printed.InputEffect(
            input=row.name, words=known_input(row.name).words,
            u95_percent=round(float(np.expm1(row.u95)) / PERCENT, 1) if known_input(row.name).factor else None,
            u95_k=None if known_input(row.name).factor else round(row.u95, 2),
            mid_plane_k=round(row.mid_plane, 2), stamper_face_k=round(row.stamper_face, 2),
            at_flow_s=None if row.at_flow is None else round(row.at_flow, 2),
            share_percent=round(100.0 * part[row.name] / whole, 1),
        )
        for row in rows
    ]  # fmt: skip


def _traces(recipe: Recipe, nominal: Outcome, spread: Outcome) -> printed.CycleTraces:
    """Curves at even times, smooth between the steps without overshooting them."""
    from scipy.interpolate import PchipInterpolator

    seen, cloud = nominal.history, spread.history
    ends = np.cumsum([float(np.mean(p.duration)) for p in recipe.closed])
    time = np.unique(np.concatenate([np.arange(0.0, ends[-1], max(0.1, ends[-1] / 250.0)), seen.time[:8, 0], ends]))

    def hotter(probes: _Array) -> _Array:
        return probes[:, STAMPER] if recipe.mirror else np.maximum(probes[:, STAMPER], probes[:, STAMPER + 3])

    def curves(nominal_values: _Array, values: _Array) -> tuple[list[float], list[float], list[float]]:
        middle = PchipInterpolator(seen.time[:, 0], nominal_values)(time)
        low, high = (
            PchipInterpolator(cloud.time[:, 0], end)(time) for end in np.quantile(values, [0.025, 0.975], axis=1)
        )
        return _list(middle), _list(np.minimum(low, middle)), _list(np.maximum(high, middle))

    face, face_low, face_high = curves(hotter(seen.probes)[:, 0], hotter(cloud.probes))
    mid, mid_low, mid_high = curves(seen.probes[:, MID, 0], cloud.probes[:, MID])
    return printed.CycleTraces(
        time_s=[round(float(t), 4) for t in time], stamper_face_degc=face, stamper_face_low_degc=face_low,
        stamper_face_high_degc=face_high, mid_plane_degc=mid, mid_plane_low_degc=mid_low, mid_plane_high_degc=mid_high,
    )  # fmt: skip


def _list(kelvin: _Array) -> list[float]:
    return [round(float(v) - ZERO_DEGC, 2) for v in kelvin]


def _balance(nominal: Outcome) -> float:
    seen = nominal.history
    taken = float(seen.heat_a.sum() + seen.heat_b.sum())
    gross = float(np.abs(seen.heat_a).sum() + np.abs(seen.heat_b).sum())
    return float(f"{abs(taken - float(seen.stored[-1, 0] - seen.stored[0, 0])) / gross:.1e}") if gross else 0.0


def _drift(recipe: Recipe, nominal: Outcome) -> list[str]:
    """Whether a press that runs on would start as this cycle did."""
    if recipe.mould is None:
        return []
    settled = work(replace(recipe, mould=None), ROUGH_MESH)
    off = float(settled.mid_plane[0] - nominal.mid_plane[0])
    if abs(off) < 0.5:
        return []
    start = float(settled.history.probes[0, DIE, 0])
    return [
        f"Running on, the press would start each cycle at {start - ZERO_DEGC:.0f} °C and open at a mid-plane "
        f"{abs(off):.1f} K {'hotter' if off > 0.0 else 'cooler'}: leave initial_degc out to work that out."
    ]


def _difference(first: printed.PressCycle, second: printed.PressCycle) -> printed.CycleDifference:
    def less(a: printed.Range | None, b: printed.Range | None) -> float | None:
        return None if a is None or b is None else round(b.value - a.value, 2)

    mid, face = first.mid_plane_at_opening_degc, first.stamper_face_at_opening_degc
    e1, e2 = first.energy, second.energy
    steam = None
    if e1 is not None and e2 is not None and e1.steam_kg is not None and e2.steam_kg is not None:
        steam = round(e2.steam_kg - e1.steam_kg, 4)
    return printed.CycleDifference(
        cycle_s=round(second.cycle_s - first.cycle_s, 3),
        per_hour=round(3600.0 / second.cycle_s - 3600.0 / first.cycle_s, 2),
        mid_plane_at_opening_k=round(second.mid_plane_at_opening_degc.value - mid.value, 2),
        stamper_face_at_opening_k=round(second.stamper_face_at_opening_degc.value - face.value, 2),
        at_flow_s=less(first.at_flow_s, second.at_flow_s),
        earliest_opening_s=less(first.earliest_opening_s, second.earliest_opening_s),
        steam_kg=steam,
    )


_REASONS = {
    "at_flow_s": "no flow_degc in [limits]",
    "flow_degc": "no flow_degc in [limits]",
    "open_below_degc": "no open_below_degc in [limits]",
    "energy": "no mould_diameter_mm or format in [energy]",
    "water_kg": "no water_rise_k in [energy], or no water phase",
    "electricity_kwh": "no electric_kw in [energy]",
    "steam_kg": "no steam pressure is given, or no [energy]",
    "temperature_degc": "no fluid in this phase",
    "difference": "one cycle was given",
    "picture": "no picture was asked for",
    "u95_percent": "",  # an input moves by the one or by the other
    "u95_k": "",
}


def _reasons(specs: list[PressSpec]) -> dict[str, str]:
    """Why a key is null, by its last part or the whole."""
    late = "the mid-plane does not get below open_below_degc within 60 s, or not surely"
    own = {
        f"cycles[{place}].earliest_opening_s": _REASONS["open_below_degc"] if spec.recipe.cool is None else late
        for place, spec in enumerate(specs)
    }
    return {**_REASONS, **own}
