"""A log of thermocouples in a press (CSV) into values; every mistake becomes one line that says where it is."""

import csv
import io
from collections.abc import Mapping
from dataclasses import dataclass, field
from hashlib import sha256
from math import isfinite, nan
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from runtrue.errors import InputError
from runtrue.press.calibrate import COUPLES, Log
from runtrue.press.steam import saturation_pressure, saturation_temperature
from runtrue.units import ZERO_DEGC
from runtrue.workflow.press_spec import BAR, PressSpec
from runtrue.workflow.toml_file import read_text

_Array = NDArray[np.float64]
PLACES = tuple(f"{place}_degc" for place in COUPLES)
KNOWN = ("time_s", *PLACES, "steam_bar_g", "water_degc")
LONGEST_STEP = 2.5
"""Seconds between readings at most: a valve's switch would be lost between."""
OVER_STEAM = 8.0
"""No couple can be so much hotter than the hottest fluid [K]; our choice, over offsets and noise."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PressLog:
    """A log as read. ``step`` is the usual time between readings [s]."""

    name: str
    digest: str
    log: Log
    step: float
    cautions: tuple[str, ...] = field(default_factory=tuple)


def load_log(path: Path, spec: PressSpec) -> PressLog:
    """Read a log for a press; raises ``InputError`` with file, line and what is allowed."""
    where = f"press log {path}"
    text = read_text(path, where).removeprefix("\ufeff")
    rows = _rows(text, where)
    names = list(rows[0][1])
    column = {name: np.array([_number(row, name, line, where) for line, row in rows]) for name in names}
    time = column["time_s"]
    step = _even(time, [line for line, _ in rows], where)
    couples = {place: column[f"{place}_degc"] for place in COUPLES if f"{place}_degc" in column}
    if spec.recipe.mirror and any(place.endswith("_b") for place in couples):
        raise InputError(
            f"{where}: holds half b, and the press file lists the layers of one half; list those of half b too, or "
            "remove the columns"
        )
    for place, values in couples.items():
        if np.isnan(values).any():
            line = rows[int(np.flatnonzero(np.isnan(values))[0])][0]
            raise InputError(
                f"{where}, line {line}: {place}_degc is empty; a log with gaps cannot be fitted: log it again"
            )
    _plausible(couples, spec, where)
    steam, cautions = _steam(column.get("steam_bar_g"), time, spec, where)
    water = column.get("water_degc")
    return PressLog(
        name=path.name,
        digest=sha256(path.read_bytes()).hexdigest(),
        log=Log(
            time=time - time[0],
            couples={place: values + ZERO_DEGC for place, values in couples.items()},
            steam=steam,
            water=None if water is None else water + ZERO_DEGC,
        ),
        step=step,
        cautions=tuple(cautions),
    )


def _rows(text: str, where: str) -> list[tuple[int, Mapping[str, str]]]:
    first = text.partition("\n")[0]
    if ";" in first or "\t" in first:
        raise InputError(f"{where}: columns are parted by ';' or tabs; save it with commas and decimal points")
    try:
        reader = csv.DictReader(io.StringIO(text, newline=""), strict=True)
        names = [name.strip() for name in reader.fieldnames or []]
        reader.fieldnames = names
        rows: list[tuple[int, Mapping[str, str]]] = [
            (reader.line_num, row) for row in reader if any((v or "") and str(v).strip() for v in row.values())
        ]
    except csv.Error as error:
        raise InputError(f"{where}: is no table with commas ({error}); save it as CSV") from None
    if "time_s" not in names:
        raise InputError(
            f"{where}: column 'time_s' is missing; needed are time_s and one of {', '.join(PLACES)}: add it"
        )
    unknown = [name for name in names if name not in KNOWN]
    if unknown:
        unit = "; temperatures are in degC, times in s, pressures in bar over the atmosphere" if (
            any(known.rpartition("_")[0] == unknown[0].rpartition("_")[0] for known in KNOWN)
        ) else ""  # fmt: skip
        raise InputError(
            f"{where}: column '{unknown[0]}' is unknown; known are {', '.join(KNOWN)}{unit}: rename or remove it"
        )
    if not set(names) & set(PLACES):
        raise InputError(f"{where}: holds no thermocouple; one of {', '.join(PLACES)} is needed: add it")
    if len(set(names)) < len(names):
        raise InputError(f"{where}: a column stands there twice; keep one")
    for line, row in rows:
        if None in row:
            raise InputError(f"{where}, line {line}: more values than columns; write a decimal point, not a comma")
    if len(rows) < 10:
        raise InputError(
            f"{where}: holds {len(rows)} readings; at least 10 over a whole cycle are needed: log it again"
        )
    if len(rows) > 20_000:
        raise InputError(f"{where}: holds {len(rows)} readings; at most 20000 are allowed: give a few cycles")
    return rows


def _number(row: Mapping[str, str], name: str, line: int, where: str) -> float:
    text = (row.get(name) or "").strip()
    if not text and name != "time_s":
        return nan
    try:
        value = float(text)
    except ValueError:
        raise InputError(f"{where}, line {line}: {name} '{text}' is no number; write a number") from None
    if not isfinite(value) or "_" in text:
        raise InputError(f"{where}, line {line}: {name} '{text}' is no finite number; write a number")
    return value


def _even(time: _Array, lines: list[int], where: str) -> float:
    """The usual step; raises where time does not rise or a gap stands in it."""
    steps = np.diff(time)
    back = np.flatnonzero(steps <= 0.0)
    if back.size:
        raise InputError(f"{where}, line {lines[int(back[0]) + 1]}: time_s does not rise; order the readings")
    step = float(np.median(steps))
    if step > LONGEST_STEP:
        unit = "; time_s is in seconds: check the unit" if step > 30.0 else ""
        raise InputError(
            f"{where}: readings are {step:g} s apart, at most {LONGEST_STEP:g} s are allowed{unit}: log faster"
        )
    if step < 0.02:
        raise InputError(f"{where}: readings are {step:g} s apart; time_s is in seconds: check the unit")
    gap = np.flatnonzero(steps > 2.5 * step)
    if gap.size:
        k = int(gap[0])
        raise InputError(
            f"{where}, line {lines[k + 1]}: {steps[k]:g} s are missing before this reading; a log with gaps cannot be "
            "fitted: log it again"
        )
    return step


def _plausible(couples: dict[str, _Array], spec: PressSpec, where: str) -> None:
    """Temperatures no press can have are another unit's."""
    fluids = [side.temperature for phase in spec.recipe.phases for side in (phase.a, phase.b) if phase.fluid != "none"]
    compound = spec.recipe.stack.layers[spec.recipe.compound].initial
    known = [float(np.max(v)) for v in (*fluids, compound) if v is not None and not callable(v)]
    hottest = max(known) - ZERO_DEGC
    for place, values in couples.items():
        top = float(values.max())
        if top > hottest + OVER_STEAM:
            looks = "kelvin" if values.min() > 250.0 else "degF"
            raise InputError(
                f"{where}: {place}_degc reaches {top:g}, and nothing in the press file is hotter than {hottest:.0f} "
                f"degC; that looks like {looks}: write degC"
            )


def _steam(gauge: _Array | None, time: _Array, spec: PressSpec, where: str) -> tuple[_Array | None, list[str]]:
    """Temperature of the steam as logged, and what the idle gauge tells."""
    if gauge is None:
        return None, []
    whole = sum(float(np.mean(p.duration)) for p in spec.recipe.phases)
    began, idle = 0.0, np.zeros(time.size, dtype=bool)
    at = (time - time[0]) % whole
    for phase in spec.recipe.phases:
        ends = began + float(np.mean(phase.duration))
        if phase.fluid in ("water", "air"):
            idle |= (at > began + 2.0) & (at < ends - 1.0)
        began = ends
    said = []
    rest = gauge[idle & np.isfinite(gauge)]
    if rest.size >= 3 and abs(float(np.median(rest)) - 1.0) < 0.08:
        said.append(
            "steam_bar_g stands at 1 bar while no steam is on, as an absolute gauge would: the log wants bar over the "
            "atmosphere, and 1 bar too much is some 5 K."
        )
    _plausible_steam(gauge, spec, where)
    absolute = np.clip(gauge * BAR + spec.atmosphere, 1e3, 2e7)
    return np.where(np.isfinite(gauge), saturation_temperature(absolute), np.nan), said


def _plausible_steam(gauge: _Array, spec: PressSpec, where: str) -> None:
    """A pressure four times that of the press file is another unit's."""
    hot = [
        float(np.max(side.temperature))
        for phase in spec.recipe.phases if phase.fluid == "steam" for side in (phase.a, phase.b)
        if not callable(side.temperature)
    ]  # fmt: skip
    top = float(np.nanmax(gauge, initial=0.0))
    if not hot:
        return
    stated = (float(saturation_pressure(max(hot))) - spec.atmosphere) / BAR
    if top > 4.0 * stated + 1.0:
        looks = "psi" if top < 40.0 * stated else "kPa"
        raise InputError(
            f"{where}: steam_bar_g reaches {top:.4g}, and the press file has {stated:.2g} bar; that looks like "
            f"{looks}: write bar over the atmosphere"
        )
