"""The object ``runtrue/charge-1``: what to weigh for one batch, in the order of addition; `compound weigh` reads it."""

from dataclasses import dataclass
from typing import Literal

from runtrue.contract.listening import NotJudged

CHARGE_SCHEMA: Literal["runtrue/charge-1"] = "runtrue/charge-1"
BasisWord = Literal["dry", "as_charged", "solids"]


@dataclass(frozen=True, slots=True, kw_only=True)
class FileInput:
    """A file that was read."""

    file: str
    sha256: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ChargeFormula:
    """The formula that was asked for. ``sum_percent`` is what its percentages sum to on the basis."""

    name: str
    basis: BasisWord
    owner: str
    date: str
    colour: str
    currency: str
    sum_percent: float


@dataclass(frozen=True, slots=True, kw_only=True)
class StoreLot:
    """A lot in the store. Its own moisture and assay are null where the ingredient's hold."""

    id: str
    kg: float
    received: str
    moisture_percent: float | None
    assay_percent: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawRow:
    """What is taken of a lot, as it is."""

    lot: str
    mass_kg: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ChargeLine:
    """What is weighed of one ingredient. ``code`` is the line's bar code; ``lots`` null where nobody said.

    ``need_kg`` is on the formula's basis, ``mass_kg`` as it lies in the store; ``division_kg`` is the largest division
    of a scale that can hold the tolerance; ``short_kg`` is what the lots lack.
    """

    line: int
    code: str
    ingredient: str
    material: str
    percent: float
    moisture_percent: float
    assay_percent: float
    assay_basis: Literal["dry", "as_is"]
    solution_percent: float | None
    density_g_cm3: float | None
    tolerance_percent: float | None
    price_per_kg: float | None
    order: int
    add_at_degc: float | None
    hazards: list[str]
    lots: list[StoreLot] | None
    need_kg: float
    mass_kg: float
    tolerance_kg: float | None
    division_kg: float | None
    water_kg: float
    solvent_kg: float
    cost: float | None
    draws: list[DrawRow]
    short_kg: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ChargeMixer:
    """The mixer; the fill is by the dry compound without pores."""

    volume_l: float
    fill_percent: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Biscuits:
    """What the batch gives: mass of a disc and of the biscuit with its flash, and the whole biscuits."""

    format: str
    disc_g: float
    disc_source: str
    mean_thickness_mm: float | None
    flash_percent: float
    biscuit_g: float
    count: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Scale:
    """A scale of the compound room with its doubt."""

    id: str
    division_kg: float
    u95_kg: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ChargeSettings:
    """What was asked."""

    batch_kg: float | None
    mixer_litre: float | None
    fill: float | None
    format: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class ChargeSheet:
    """The whole charge. ``batch_kg`` is on the formula's basis, ``mass_kg`` all that goes into the mixer.

    ``ready`` is false where the lots do not reach. ``sheet`` is the file of the printed sheet.
    """

    schema: Literal["runtrue/charge-1"] = CHARGE_SCHEMA
    code: str
    ready: bool
    formula: ChargeFormula
    batch_kg: float
    mass_kg: float
    solids_kg: float
    water_kg: float
    water_percent: float
    solvent_kg: float
    density_g_cm3: float | None
    volume_l: float | None
    mixer: ChargeMixer | None
    biscuits: Biscuits | None
    cost: float | None
    lines: list[ChargeLine]
    scales: list[Scale]
    sheet: str | None
    not_judged: list[NotJudged]
    cautions: list[str]
    safety: list[str]
    input: FileInput
    settings: ChargeSettings
    version: str
