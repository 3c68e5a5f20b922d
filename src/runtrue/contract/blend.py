"""The object ``runtrue/blend-1``: the nearest formula that the store allows, what binds it, or what clashes."""

from dataclasses import dataclass
from typing import Literal

from runtrue.contract.charge import FileInput
from runtrue.contract.listening import NotJudged

BLEND_SCHEMA: Literal["runtrue/blend-1"] = "runtrue/blend-1"


@dataclass(frozen=True, slots=True, kw_only=True)
class BlendLine:
    """One ingredient: its percentage before and now, its mass as it is; whole bags null where it is not bagged."""

    ingredient: str
    material: str
    was_percent: float
    percent: float
    moved_percent: float
    mass_kg: float
    bags: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class BindingRow:
    """A limit that binds. ``price`` is what one ``unit`` more of it costs: in ``price_unit``, negative saves."""

    limit: str
    price: float
    price_unit: str
    unit: str
    said: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PassShare:
    """Share of the compound that has been through the mixer so often before."""

    passes: int
    percent: float


@dataclass(frozen=True, slots=True, kw_only=True)
class RegrindRow:
    """What the regrind does in the long run: heat history and foreign matter of the compound."""

    ingredient: str
    colour: str
    percent: float
    mean_passes: float
    seen: list[PassShare]
    foreign_ppm: float
    paper_of_disc_percent: float | None
    lost_by_cutting_percent: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class BlendSettings:
    """What was asked."""

    batch_kg: float
    goal: Literal["nearest", "cheapest"]
    without: list[str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Blend:
    """The whole result. ``found`` is false where the limits clash: then ``clash`` names them and the lines are null.

    ``tolerances`` is the sum of the deviations from the formula, each counted in its tolerance.
    """

    schema: Literal["runtrue/blend-1"] = BLEND_SCHEMA
    found: bool
    said: str
    formula: str
    batch_kg: float | None
    tolerances: float | None
    density_g_cm3: float | None
    cost_per_kg: float | None
    lines: list[BlendLine] | None
    binding: list[BindingRow] | None
    clash: list[str]
    regrind: list[RegrindRow]
    out: str | None
    not_judged: list[NotJudged]
    cautions: list[str]
    safety: list[str]
    input: list[FileInput]
    settings: BlendSettings
    version: str
