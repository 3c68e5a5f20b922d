"""A supplier's lot (TOML) into values; every mistake becomes one line that says where it is."""

import json
from dataclasses import dataclass
from datetime import date
from hashlib import sha256
from pathlib import Path
from typing import Annotated, Any

from pydantic import Field

from runtrue.compound.incoming import Shelf, trial_level, trial_ticks
from runtrue.contract.listening import SCHEMA
from runtrue.errors import InputError
from runtrue.quantities import Quantity, quantity_by_key
from runtrue.types import Measurement
from runtrue.workflow.toml_file import Day, Strict, load_toml, read_text

_Text = Annotated[str, Field(min_length=1)]


class _Head(Strict):
    id: _Text
    material: _Text
    supplier: _Text
    received: Day
    made: Day | None = None
    tested: Day | None = None
    shelf_life_days: Annotated[int, Field(gt=0)] | None = None
    hazards: Annotated[tuple[str, ...], Field(strict=False)] = ()


class _Value(Strict):
    quantity: str
    value: float
    u95: Annotated[float, Field(gt=0.0)] | None = None


class _Trial(Strict):
    stamper: _Text
    trial: _Text
    proved: _Text


class _File(Strict):
    lot: _Head
    measured: Annotated[tuple[_Value, ...], Field(strict=False)] = ()
    certificate: Annotated[tuple[_Value, ...], Field(strict=False)] = ()
    trial: _Trial | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class LotFile:
    """A lot with its tests in SI; ``trial`` measurements and their stamper where there was a trial pressing."""

    name: str
    digest: str
    id: str
    material: str
    supplier: str
    hazards: tuple[str, ...]
    own: tuple[Measurement, ...]
    certificate: tuple[Measurement, ...]
    stamper: str
    trial: tuple[Measurement, ...]
    shelf: Shelf | None


def load_lot(path: Path, on: str) -> LotFile:
    """Read a lot as it stands on a day; raises ``InputError`` with the place."""
    where = f"lot {path}"
    file = load_toml(path, _File, "lot")
    head = file.lot
    return LotFile(
        name=path.name,
        digest=sha256(path.read_bytes()).hexdigest(),
        id=head.id,
        material=head.material,
        supplier=head.supplier,
        hazards=head.hazards,
        own=_measurements(file.measured, f"{where}: [measured]"),
        certificate=_measurements(file.certificate, f"{where}: [certificate]"),
        stamper="" if file.trial is None else file.trial.stamper,
        trial=() if file.trial is None else _trial(file.trial, path.parent),
        shelf=_shelf(head, on, where),
    )


def _measurements(values: tuple[_Value, ...], where: str) -> tuple[Measurement, ...]:
    found: list[Measurement] = []
    for number, stated in enumerate(values, 1):
        place = f"{where} number {number}"
        try:
            q = quantity_by_key(stated.quantity)
        except InputError as error:
            raise InputError(f"{place}: {error}") from None
        if any(q.id == other.quantity for other in found):
            raise InputError(f"{place}: {stated.quantity} stands there twice; keep one")
        if stated.value < 0.0 and not q.offset and q.id not in ("trial_surface_difference", "trial_ticks_difference"):
            raise InputError(f"{place}: {stated.quantity} must be 0 or more, got {stated.value:g}; correct it")
        found.append(_measurement(q, stated))
    return tuple(found)


def _measurement(q: Quantity, stated: _Value) -> Measurement:
    u95 = None if stated.u95 is None else stated.u95 * q.factor
    return Measurement(quantity=q.id, value=q.to_si(stated.value), u95=u95)


def _shelf(head: _Head, on: str, where: str) -> Shelf | None:
    today = day_of(on, "on")
    received = day_of(head.received, f"{where}: received")
    made = day_of(head.made, f"{where}: made") if head.made is not None else received
    tested = day_of(head.tested, f"{where}: tested") if head.tested is not None else received
    for name, day in (("received", received), ("made", made), ("tested", tested)):
        if day > today:
            raise InputError(f"{where}: {name} {day} lies after {today}; correct the day, or give --on")
    if made > received:
        raise InputError(f"{where}: made {made} lies after received {received}; correct one")
    if head.shelf_life_days is None:
        return None
    return Shelf(life=head.shelf_life_days, age=(today - made).days, tested_at=max((tested - made).days, 0))


def day_of(text: str, where: str) -> date:
    """A day as TOML writes it; raises ``InputError``."""
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise InputError(f"{where} '{text}' is no day; write it as 2026-11-25") from None


def _trial(stated: _Trial, folder: Path) -> tuple[Measurement, ...]:
    """The trial pressing against the proved one, by their listening results."""
    trial, proved = (_heard(folder / name) for name in (stated.trial, stated.proved))
    unclear = next((one["why"] for one in (trial, proved) if one["why"]), "")
    if unclear:
        names = ("trial_surface_difference", "trial_ticks_difference")
        return tuple(Measurement(quantity=name, value=None, reason=unclear) for name in names)
    level = trial_level(trial["level"], proved["level"], trial_u95=trial["u95"], proved_u95=proved["u95"])
    return level, trial_ticks(trial["ticks"], proved["ticks"])


def _heard(path: Path) -> dict[str, Any]:
    """Surface level, its U95 where a finding states it, ticks; or why they do not count."""
    where = f"trial {path}"
    try:
        result = json.loads(read_text(path, where))
    except ValueError as error:
        if isinstance(error, InputError):
            raise
        raise InputError(f"{where}: is no JSON; give what `runtrue listen check --json` printed") from None
    if not isinstance(result, dict) or result.get("schema") != SCHEMA:
        raise InputError(f"{where}: is no {SCHEMA}; give what `runtrue listen check --json` printed")
    same = result["programme"]["identity"] == "same"
    level, ticks = result["noise"]["surface_db_a"], result["ticks"]
    u95 = next((row["u95"] for row in result["findings"] if row["quantity"] == "surface_db_a"), None)
    why = "" if same and level is not None and ticks is not None else f"{path.name} does not tell its noise and ticks"
    return {"level": level, "u95": u95, "ticks": None if ticks is None else len(ticks), "why": why}
