"""The objects ``runtrue/lot-1``, ``sheet-1``, ``compound-balance-1``, ``trace-1``: lots, sheets, masses, links."""

from dataclasses import dataclass
from typing import Literal

from runtrue.contract.batch import FamilyPart, MeasuredRow
from runtrue.contract.charge import FileInput
from runtrue.contract.listening import FindingRow, NotJudged, VerdictWord

LOT_SCHEMA: Literal["runtrue/lot-1"] = "runtrue/lot-1"
SHEET_SCHEMA: Literal["runtrue/sheet-1"] = "runtrue/sheet-1"
BALANCE_SCHEMA: Literal["runtrue/compound-balance-1"] = "runtrue/compound-balance-1"
TRACE_SCHEMA: Literal["runtrue/trace-1"] = "runtrue/trace-1"


@dataclass(frozen=True, slots=True, kw_only=True)
class CertificateRow:
    """A value of the certificate beside the plant's own. Above 1 ``apart`` says that the two disagree (95 %)."""

    quantity: str
    words: str
    unit: str
    certificate: float
    certificate_u95: float | None
    own: float | None
    own_u95: float | None
    apart: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class ShelfRow:
    """Shelf life in days from the day the lot was made."""

    life_days: int
    age_days: int
    left_days: int


@dataclass(frozen=True, slots=True, kw_only=True)
class TrialRow:
    """The trial pressing less the proved compound on one stamper and rig."""

    stamper: str
    surface_difference_db: float | None
    ticks_difference: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class LotSettings:
    """What was asked."""

    on: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LotResult:
    """A supplier's lot. ``decision`` is null where it cannot be made yet."""

    schema: Literal["runtrue/lot-1"] = LOT_SCHEMA
    verdict: VerdictWord
    decision: Literal["accept", "use_with_care", "refuse"] | None
    said: str
    lot: str
    material: str
    supplier: str
    reasons: list[str]
    findings: list[FindingRow]
    measured: list[MeasuredRow]
    certificate: list[CertificateRow]
    trial: TrialRow | None
    family: FamilyPart | None
    shelf: ShelfRow | None
    not_judged: list[NotJudged]
    cautions: list[str]
    safety: list[str]
    input: list[FileInput]
    settings: LotSettings
    version: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetRow:
    """One quantity of sheet or biscuits, in ``unit``. Readings are counted from 1; ``rules`` are worth a look only."""

    quantity: str
    words: str
    unit: str
    verdict: VerdictWord
    said: str
    readings: int
    mean: float
    sigma: float
    lower: float | None
    upper: float | None
    wild: list[int]
    changed: list[int] | None
    rules: list[str]
    cp: float | None
    cp_interval: list[float] | None
    cpk: float | None
    cpk_interval: list[float] | None


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetSettings:
    """What was asked."""

    cpk: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetResult:
    """Sheet and biscuits."""

    schema: Literal["runtrue/sheet-1"] = SHEET_SCHEMA
    verdict: VerdictWord
    said: str
    rows: list[SheetRow]
    not_judged: list[NotJudged]
    cautions: list[str]
    safety: list[str]
    input: FileInput
    settings: SheetSettings
    version: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PostRow:
    """A post of the balance and its share of what went in."""

    post: str
    kg: float
    percent: float


@dataclass(frozen=True, slots=True, kw_only=True)
class BalanceSettings:
    """What was asked."""

    gap_limit_percent: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class BalanceResult:
    """The balance. ``gap_kg`` is positive where mass is lost; ``closes`` says that the gap lies within its doubt.

    ``to_grind_kg`` is flash and rejects, from which regrind comes. ``verdict`` null without a limit.
    """

    schema: Literal["runtrue/compound-balance-1"] = BALANCE_SCHEMA
    verdict: VerdictWord | None
    said: str
    inside_kg: float
    gap_kg: float
    gap_u95_kg: float
    gap_percent: float
    closes: bool
    disc_yield_percent: float
    regrind_share_percent: float
    to_grind_kg: float
    posts: list[PostRow]
    findings: list[FindingRow]
    not_judged: list[NotJudged]
    cautions: list[str]
    safety: list[str]
    input: FileInput
    settings: BalanceSettings
    version: str


@dataclass(frozen=True, slots=True, kw_only=True)
class BatchLink:
    """A batch, the lots it was weighed from, its biscuits: surely ``first`` to ``last``, maybe out to the others."""

    batch: str
    how: Literal["surely", "maybe"]
    lots: list[str]
    first: int | None
    last: int | None
    maybe_first: int | None
    maybe_last: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class PressHours:
    """Hours of a press that took a batch's biscuits, UTC: surely ``from_time`` to ``to_time``, at most the others."""

    press: str
    batch: str
    how: Literal["surely", "maybe"]
    from_time: str | None
    to_time: str | None
    maybe_from: str
    maybe_to: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TraceSettings:
    """What was asked."""

    lot: str | None
    batch: str | None
    press: str | None
    from_time: str | None
    to_time: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class TraceResult:
    """Who came of whom, forward from a lot or batch, or back from the hours of a press."""

    schema: Literal["runtrue/trace-1"] = TRACE_SCHEMA
    said: str
    batches: list[BatchLink]
    hours: list[PressHours]
    not_judged: list[NotJudged]
    cautions: list[str]
    safety: list[str]
    input: FileInput
    settings: TraceSettings
    version: str
