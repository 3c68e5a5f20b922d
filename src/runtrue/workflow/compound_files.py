"""Formulas (TOML) and charges (JSON) into values; every mistake becomes one line that says where it is."""

from dataclasses import dataclass
from datetime import date
from hashlib import sha256
from os import fspath
from pathlib import Path
from typing import Annotated, Literal

from pydantic import Field, TypeAdapter, ValidationError

from runtrue.compound.charge import Charge, charge
from runtrue.compound.formula import Basis, Formula, Ingredient, Lot, Material
from runtrue.contract.charge import CHARGE_SCHEMA, ChargeLine, ChargeSheet
from runtrue.errors import InputError
from runtrue.formulas import shipped, text
from runtrue.units import G_PER_CM3, LITRE, PERCENT, ZERO_DEGC
from runtrue.workflow.toml_file import Day, Strict, parse_toml, read_text

_Percent = Annotated[float, Field(ge=0.0, le=100.0)]
_Moisture = Annotated[float, Field(ge=0.0, lt=100.0)]
_Share = Annotated[float, Field(gt=0.0, le=100.0)]
_Positive = Annotated[float, Field(gt=0.0)]


class _Lot(Strict):
    id: Annotated[str, Field(min_length=1)]
    kg: Annotated[float, Field(ge=0.0)]
    received: Day
    moisture_percent: _Moisture | None = None
    assay_percent: _Share | None = None


class _Ingredient(Strict):
    name: Annotated[str, Field(min_length=1)]
    class_: Annotated[Literal[tuple(m.value for m in Material)], Field(alias="class")]  # type: ignore[valid-type]
    percent: _Percent
    moisture_percent: _Moisture = 0.0
    assay_percent: _Share = 100.0
    assay_basis: Literal["dry", "as_is"] = "dry"
    solution_percent: _Share | None = None
    density_g_cm3: _Positive | None = None
    tolerance_percent: _Share | None = None
    price_per_kg: Annotated[float, Field(ge=0.0)] | None = None
    order: int = 0
    add_at_degc: Annotated[float, Field(gt=-50.0, lt=400.0)] | None = None
    lots: list[_Lot] | None = None
    hazards: tuple[str, ...] = Field(default=(), strict=False)


class _Head(Strict):
    name: Annotated[str, Field(min_length=1)]
    basis: Literal["dry", "as_charged", "solids"]
    owner: Annotated[str, Field(min_length=1)]
    date: Day
    colour: str = ""
    currency: str = ""


class _Mixer(Strict):
    volume_litre: _Positive
    fill: Annotated[float, Field(gt=0.0, le=1.0)] | None = None


class _Scale(Strict):
    id: Annotated[str, Field(min_length=1)]
    division_kg: _Positive
    u95_kg: _Positive


class _File(Strict):
    formula: _Head
    ingredient: Annotated[list[_Ingredient], Field(min_length=1)]
    mixer: _Mixer | None = None
    scale: tuple[_Scale, ...] = Field(default=(), strict=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class ScaleDoubt:
    """A scale: its division and its U95 [kg]."""

    id: str
    division: float
    u95: float


@dataclass(frozen=True, slots=True, kw_only=True)
class FormulaFile:
    """A formula with what the file says beside it. ``chamber`` [m3] and ``fill`` of the usual mixer."""

    name: str
    digest: str
    formula: Formula
    currency: str
    chamber: float | None
    fill: float | None
    scales: tuple[ScaleDoubt, ...]


def load_formula(given: Path) -> FormulaFile:
    """Read a formula file, or the shipped formula of this name; raises ``InputError`` with the place."""
    name = fspath(given)
    if not given.exists() and name in shipped():
        return parse_formula(text(name), f"formula {name}", name)
    if not given.exists() and given.suffix != ".toml":
        raise InputError(
            f"formula {name}: there is no such file, and no formula of this name ships: check the spelling, or take "
            f"one "
            f"of {', '.join(shipped())}"
        )
    return parse_formula(read_text(given, f"formula {name}"), f"formula {name}", given.name)


def parse_formula(content: str, where: str, name: str) -> FormulaFile:
    """Read the text of a formula file; ``where`` begins every message."""
    file = parse_toml(content, _File, where)
    ingredients = []
    for number, item in enumerate(file.ingredient, 1):
        try:
            ingredients.append(_ingredient(item))
        except InputError as error:
            raise InputError(f"{where}: [ingredient] number {number}: {error}") from None
    head = file.formula
    try:
        formula = Formula(
            name=head.name, basis=Basis(head.basis), ingredients=tuple(ingredients), owner=head.owner, date=head.date,
            colour=head.colour,
        )  # fmt: skip
    except InputError as error:
        raise InputError(f"{where}: {error}") from None
    return FormulaFile(
        name=name,
        digest=sha256(content.encode()).hexdigest(),
        formula=formula,
        currency=head.currency,
        chamber=None if file.mixer is None else file.mixer.volume_litre * LITRE,
        fill=None if file.mixer is None else file.mixer.fill,
        scales=tuple(ScaleDoubt(id=s.id, division=s.division_kg, u95=s.u95_kg) for s in file.scale),
    )


def _ingredient(item: _Ingredient) -> Ingredient:
    lots = None if item.lots is None else tuple(_lot(lot) for lot in item.lots)
    if lots is not None and len({lot.id for lot in lots}) < len(lots):
        raise InputError(f"{item.name}: a lot stands there twice; keep one")
    return Ingredient(
        name=item.name,
        material=Material(item.class_),
        share=item.percent * PERCENT,
        moisture=item.moisture_percent * PERCENT,
        assay=item.assay_percent * PERCENT,
        assay_as_is=item.assay_basis == "as_is",
        strength=_fraction(item.solution_percent),
        density=None if item.density_g_cm3 is None else item.density_g_cm3 * G_PER_CM3,
        tolerance=_fraction(item.tolerance_percent),
        price=item.price_per_kg,
        lots=lots,
        hazards=item.hazards,
        order=item.order,
        add_at=None if item.add_at_degc is None else item.add_at_degc + ZERO_DEGC,
    )


def _lot(lot: _Lot) -> Lot:
    try:
        date.fromisoformat(lot.received)
    except ValueError:
        raise InputError(
            f"lot {lot.id}: received '{lot.received}' is no date; write it as 2026-10-01, the oldest goes first"
        ) from None
    return Lot(
        id=lot.id, mass=lot.kg, received=lot.received, moisture=_fraction(lot.moisture_percent),
        assay=_fraction(lot.assay_percent),
    )  # fmt: skip


def _fraction(percent: float | None) -> float | None:
    return None if percent is None else percent * PERCENT


@dataclass(frozen=True, slots=True, kw_only=True)
class ChargeFile:
    """A charge that was written by `compound charge --json`, with the lines' bar codes."""

    sheet: ChargeSheet
    charge: Charge
    digest: str
    name: str


def load_charge(path: Path, batch: float | None = None) -> ChargeFile:
    """Read a charge, of another size where ``batch`` [kg] says so; raises ``InputError`` with the place."""
    where = f"charge {path}"
    content = read_text(path, where)
    try:
        sheet = TypeAdapter(ChargeSheet).validate_json(content)
    except ValidationError as error:
        mistake = error.errors(include_url=False)[0]
        place = ".".join(str(part) for part in mistake["loc"])
        told = f"{place}: {mistake['msg'][:1].lower()}{mistake['msg'][1:]}" if place else "is no JSON"
        raise InputError(
            f"{where}: {told}; give the {CHARGE_SCHEMA} that `runtrue compound charge --json` writes"
        ) from None
    head = sheet.formula
    try:
        formula = Formula(
            name=head.name, basis=Basis(head.basis), ingredients=tuple(_from_line(line) for line in sheet.lines),
            owner=head.owner, date=head.date, colour=head.colour,
        )  # fmt: skip
        made = charge(formula, sheet.batch_kg if batch is None else batch)
    except InputError as error:
        raise InputError(f"{where}: {error}") from None
    return ChargeFile(sheet=sheet, charge=made, digest=sha256(content.encode()).hexdigest(), name=path.name)


def _from_line(line: ChargeLine) -> Ingredient:
    return Ingredient(
        name=line.ingredient,
        material=Material(line.material),
        share=line.percent * PERCENT,
        moisture=line.moisture_percent * PERCENT,
        assay=line.assay_percent * PERCENT,
        assay_as_is=line.assay_basis == "as_is",
        strength=_fraction(line.solution_percent),
        density=None if line.density_g_cm3 is None else line.density_g_cm3 * G_PER_CM3,
        tolerance=_fraction(line.tolerance_percent),
        price=line.price_per_kg,
        lots=None if line.lots is None else tuple(
            Lot(id=lot.id, mass=lot.kg, received=lot.received, moisture=_fraction(lot.moisture_percent),
                assay=_fraction(lot.assay_percent))
            for lot in line.lots
        ),
        hazards=tuple(line.hazards),
        order=line.line,
        add_at=None if line.add_at_degc is None else line.add_at_degc + ZERO_DEGC,
    )  # fmt: skip
