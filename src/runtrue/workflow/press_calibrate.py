"""The moment of measuring a press: films and contacts from a thermocouple log, and what the log cannot tell."""

import json
from pathlib import Path

import numpy as np
from pydantic import TypeAdapter, ValidationError

import runtrue
from runtrue.contract import press_calibration as printed
from runtrue.contract.press_cycle import Range
from runtrue.errors import InputError
from runtrue.press.calibrate import Calibration, Doubts, Posterior, calibrate
from runtrue.press.cycle import Recipe, known_input
from runtrue.types import Progress
from runtrue.units import PERCENT, ZERO_DEGC
from runtrue.workflow.actions import Ports, check_request
from runtrue.workflow.press_log import PressLog, load_log
from runtrue.workflow.press_requests import PressCalibrateRequest
from runtrue.workflow.press_results import ONE_WAY, SAFETY, reasoned
from runtrue.workflow.press_spec import PressSpec, load_spec
from runtrue.workflow.toml_file import read_text

LOG_NEEDED = (
    "Log die_face_a_degc and die_face_b_degc with steam_bar_g and water_degc once a second over a whole cycle, the "
    "couples in the die's face under the stamper; a couple pressed into a record's middle (mid_plane_degc) tells the "
    "contacts and the compound."
)
_UNITS = {"compound_conductivity": "W/(m K)", "compound_heat": "J/(kg K)"}


def calibrate_press(request: PressCalibrateRequest, ports: Ports, progress: Progress) -> printed.PressCalibration:
    """Fit a press file to a log. Raises ``InputError`` for what is not usable."""
    check_request(request)
    spec = load_spec(request.spec)
    log = load_log(request.log, spec)
    found = calibrate(
        spec.recipe, log.log, spec.u95, doubts=Doubts(couple=request.couple_u95_k),
        watch=lambda share: progress("fitting the press to the log", share),
    )  # fmt: skip
    result = printed.PressCalibration(
        name=spec.name,
        file=spec.file,
        sha256=spec.digest,
        matter=spec.matter,
        log=printed.CalibrationLog(
            file=log.name, sha256=log.digest, readings=int(log.log.time.size), step_s=round(log.step, 4),
            cycles=max(1, round(float(log.log.time[-1]) / _whole(spec.recipe))),
        ),
        inputs=_inputs(spec.recipe, found),
        cannot_tell_apart=[(known_input(a).words, known_input(b).words) for a, b in found.apart],
        scatter_k=round(found.scatter, 3),
        neighbours_correlation=round(found.hang, 3),
        along=_along(found),
        time_s=[round(float(t), 4) for t in log.log.time],
        places=[
            printed.LogPlace(place=place, measured_degc=_degc(log.log.couples[place]), fitted_degc=_degc(fitted))
            for place, fitted in found.predicted.items()
        ],
        posterior=printed.PosteriorTable(
            inputs=list(found.posterior.names), mean=[float(v) for v in found.posterior.mean],
            covariance=[[float(v) for v in row] for row in found.posterior.covariance], dof=found.posterior.dof,
            draws=[[round(float(v), 5) for v in row] for row in found.posterior.draws],
        ),
        advice=_advice(found, log),
        not_judged=[],
        cautions=_cautions(spec, log, found),
        safety=list(SAFETY),
        version=runtrue.__version__,
    )  # fmt: skip
    result.not_judged.extend(reasoned(result, {}))
    return result


def _whole(recipe: Recipe) -> float:
    return sum(float(np.mean(p.duration)) for p in recipe.phases)


def _degc(kelvin: "np.ndarray[tuple[int], np.dtype[np.float64]]") -> list[float]:
    return [round(float(v) - ZERO_DEGC, 2) for v in kelvin]


def stated(recipe: Recipe, name: str) -> float:
    """What the press file says of an input of the press, in its unit."""
    base, half = (name[:-2], name[-1]) if name.endswith(("_a", "_b")) else (name, "a")
    if base in ("steam_film", "water_film"):
        fluid = base.partition("_")[0]
        phase = next(p for p in recipe.phases if p.fluid == fluid)
        return float(np.mean(phase.a.film if half == "a" else phase.b.film))
    if base == "back_contact":
        return float(np.mean(recipe.stack.contacts[recipe.die].conductance))
    if base == "face_contact":
        return float(np.mean(recipe.stack.contacts[recipe.stamper].conductance))
    matter = recipe.stack.layers[recipe.compound].material
    return (matter.conductivity if base == "compound_conductivity" else matter.specific_heat).points[0][1]


def _inputs(recipe: Recipe, found: Calibration) -> list[printed.CalibratedInput]:
    half = found.posterior.half_width()
    rows = []
    for k, name in enumerate(found.posterior.names):
        mean, value = float(found.posterior.mean[k]), stated(recipe, name)
        low, middle, high = (float(value * np.exp(mean + x * half[k])) for x in (-1.0, 0.0, 1.0))
        rows.append(
            printed.CalibratedInput(
                input=name, words=known_input(name).words, unit=_UNITS.get(name, "W/(m2 K)"), stated=_four(value),
                fitted=Range(value=_four(middle), low=_four(low), high=_four(high)),
                before_percent=round(float(np.expm1(found.before[k])) / PERCENT, 1),
                after_percent=round(float(np.expm1(half[k])) / PERCENT, 1), told=found.told[k],
            )
        )  # fmt: skip
    return rows


def _four(value: float) -> float:
    return float(f"{value:.4g}")


def _along(found: Calibration) -> list[printed.FittedAlong]:
    words = {
        "clock": ("log's clock, late by", "s"), "mould": ("mould's start, over the first reading", "K"),
        "mould_a": ("start of half a, over its first reading", "K"),
        "mould_b": ("start of half b, over its first reading", "K"),
    }  # fmt: skip
    rows = []
    for name, value in found.along.items():
        if name.startswith("offset "):
            said, unit = f"offset of couple {name.partition(' ')[2]}", "K"
        elif name in words:
            said, unit = words[name]
        else:
            said, unit = known_input(name).words, "K"
        rows.append(printed.FittedAlong(words=said, unit=unit, value=round(value, 3)))
    return rows


def _advice(found: Calibration, log: PressLog) -> str:
    silent = [known_input(n).words for n, told in zip(found.posterior.names, found.told, strict=True) if not told]
    if not silent:
        return ""
    named = ", ".join(silent)
    if "mid_plane" not in log.log.couples:
        return f"The log says nothing of: {named}. A couple pressed into a record's middle (mid_plane_degc) would tell."
    return f"The log says nothing of: {named}. Log several cycles, or a couple in the stamper's face, to tell them."


def _cautions(spec: PressSpec, log: PressLog, found: Calibration) -> list[str]:
    said = [ONE_WAY, *spec.cautions, *log.cautions]
    if found.hang > 0.3:
        said.append(
            "Neighbouring readings miss the fit together: something in the press is not in the press file (slow "
            "valves, uneven channels, a mould that did not start even). The limits are widened for it."
        )
    if found.scatter > 1.5:
        said.append(
            f"Readings scatter by {found.scatter:.1f} K about the fit; a thermocouple reads within 0.5 K: check the "
            "couples and that the phases of the press file are those of the log."
        )
    return list(dict.fromkeys(said))


def load_calibration(path: Path, spec: PressSpec) -> tuple[Posterior, str]:
    """What was known of a press after its log, and the file's name; raises ``InputError`` where it is another press."""
    where = f"calibration {path}"
    text = read_text(path, where)
    try:
        found = TypeAdapter(printed.PressCalibration).validate_python(json.loads(text))
    except (json.JSONDecodeError, ValidationError):
        raise InputError(
            f"{where}: is not what `runtrue press calibrate --json` prints; make it anew and give that file"
        ) from None
    if found.matter != spec.matter:
        raise InputError(
            f"{where}: was made for other layers than those of press file {spec.file}; calibrate this press again"
        )
    table = found.posterior
    return (
        Posterior(
            names=tuple(table.inputs),
            mean=np.array(table.mean),
            covariance=np.array(table.covariance),
            dof=table.dof,
            draws=np.array(table.draws),
        ),
        path.name,
    )
