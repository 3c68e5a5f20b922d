"""The object ``runtrue/weigh-1``: was it weighed, what is wrong, what it does to the formula, what helps."""

from dataclasses import dataclass
from typing import Literal

from runtrue.contract.charge import FileInput
from runtrue.contract.listening import NotJudged, VerdictWord

WEIGH_SCHEMA: Literal["runtrue/weigh-1"] = "runtrue/weigh-1"
CallWord = Literal[
    "right", "portion", "doubtful", "over", "double", "swapped", "wrong_lot", "stranger", "unreadable"
]  # fmt: skip
FaultWord = Literal["missing", "light", "over", "double", "swapped", "wrong_lot", "stranger", "unreadable"]
DecisionWord = Literal["go_on", "weigh_again", "add", "divide", "hold", "refuse"]


@dataclass(frozen=True, slots=True, kw_only=True)
class WeighingRow:
    """One weighing as it came. ``line`` counts the lines of the file, the heading is 1; ``went_in`` is what really did.

    ``total_kg`` and ``away_kg`` are the ingredient's sum so far and how far it lies from its target; null where the
    line could not be read. ``said`` is empty for what is right.
    """

    line: int
    time: str
    ingredient: str
    lot: str
    mass_kg: float | None
    scale: str
    operator: str
    call: CallWord
    went_in: str
    total_kg: float | None
    away_kg: float | None
    said: str


@dataclass(frozen=True, slots=True, kw_only=True)
class WeighedLine:
    """One ingredient of the charge: asked for, weighed, and its share of the mix so far."""

    ingredient: str
    target_kg: float
    tolerance_kg: float
    weighed_kg: float
    away_kg: float
    times: int
    verdict: VerdictWord
    formula_percent: float
    mix_percent: float


@dataclass(frozen=True, slots=True, kw_only=True)
class WeighFault:
    """What is wrong, told once. ``about`` is the other ingredient or the lot; tolerances null where none is stated."""

    kind: FaultWord
    ingredient: str
    about: str
    away_kg: float
    tolerances: float | None
    said: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Addition:
    """Add so much of it, as it is: to each part where the mix is divided."""

    ingredient: str
    mass_kg: float


@dataclass(frozen=True, slots=True, kw_only=True)
class RemedyRow:
    """What brings the formula back before fluxing. ``mass_kg`` then lies in each mixer, filled to ``fill_percent``.

    ``batch_kg`` is what each part then is on the formula's basis: weigh what was added with it, by ``--batch-kg``.
    """

    kind: Literal["nothing", "restore", "within_tolerance", "divide", "none"]
    parts: int
    additions: list[Addition]
    mass_kg: float
    batch_kg: float
    fill_percent: float | None
    said: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ClassRow:
    """Share of a class of ingredients, asked for and in the mix so far."""

    material: str
    formula_percent: float
    mix_percent: float


@dataclass(frozen=True, slots=True, kw_only=True)
class WeighSettings:
    """What was asked."""

    fluxed: bool
    batch_kg: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Weighed:
    """The whole result. ``remedy`` is null after fluxing; ``density_g_cm3`` is the formula's, without pores."""

    schema: Literal["runtrue/weigh-1"] = WEIGH_SCHEMA
    verdict: VerdictWord
    decision: DecisionWord
    said: str
    charge: str
    formula: str
    faults: list[WeighFault]
    remedy: RemedyRow | None
    lines: list[WeighedLine]
    classes: list[ClassRow]
    density_g_cm3: float | None
    mix_density_g_cm3: float | None
    weighings: list[WeighingRow]
    not_judged: list[NotJudged]
    cautions: list[str]
    safety: list[str]
    input: list[FileInput]
    settings: WeighSettings
    version: str
