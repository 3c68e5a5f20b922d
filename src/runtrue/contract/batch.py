"""The objects ``runtrue/batch-1`` and ``runtrue/family-1``: one batch by its log, and batches against their family."""

from dataclasses import dataclass
from typing import Literal

from runtrue.contract.charge import FileInput
from runtrue.contract.listening import FindingRow, NotJudged, VerdictWord

BATCH_SCHEMA: Literal["runtrue/batch-1"] = "runtrue/batch-1"
FAMILY_SCHEMA: Literal["runtrue/family-1"] = "runtrue/family-1"


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasuredRow:
    """A number with its U95, in ``unit``."""

    quantity: str
    words: str
    unit: str
    value: float | None
    u95: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class PeakRow:
    """A peak of the net power; its energy null where the mass is not stated."""

    time_s: float
    power_kw: float
    energy_kwh_per_kg: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class FamilyNumber:
    """One number over the family and after.

    ``values`` and ``batches`` go together; the first ``baseline`` are the family. ``centre`` and ``sigma`` are of its
    kept batches; ``lower``, ``upper`` (single values), ``ewma``, ``ewma_lower``, ``ewma_upper`` belong to the batches
    after. All in ``unit``; ``judged`` false with its ``reason``.
    """

    quantity: str
    words: str
    unit: str
    judged: bool
    reason: str
    baseline: int
    batches: list[str]
    values: list[float | None]
    centre: float | None
    sigma: float | None
    left_out: list[str]
    lower: float | None
    upper: float | None
    ewma: list[float]
    ewma_lower: list[float]
    ewma_upper: list[float]


@dataclass(frozen=True, slots=True, kw_only=True)
class FamilyOut:
    """A batch that is out. ``quantity`` null for all numbers together; ``since`` the batches between which it began."""

    batch: str
    quantity: str | None
    words: str
    chart: Literal["single value", "EWMA", "T2"]
    value: float | None
    expected: float | None
    unit: str
    sigmas: float
    chance: float
    since: list[str] | None
    said: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CurvePart:
    """Where the newest batch's curve lies furthest from its family's mean, in standard deviations of it."""

    distance_sd: float
    from_s: float
    to_s: float
    furthest_sd: float


@dataclass(frozen=True, slots=True, kw_only=True)
class FamilyPart:
    """The family check. ``t2`` of the batches after the baseline, null where not judged."""

    verdict: VerdictWord
    said: str
    baseline: int
    batches: list[str]
    numbers: list[FamilyNumber]
    out: list[FamilyOut]
    t2: list[float] | None
    t2_limit: float | None
    curve: CurvePart | None


@dataclass(frozen=True, slots=True, kw_only=True)
class BatchSettings:
    """What was asked."""

    batch_kg: float | None
    idle_kw: float | None
    dump_s: float | None
    heat_capacity_kj_kg_k: float | None
    power_u95_percent: float
    temperature_u95_k: float
    baseline: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class BatchResult:
    """One batch. ``verdict`` null without limits and without a family; ``curve`` as pairs of time_s and net kW."""

    schema: Literal["runtrue/batch-1"] = BATCH_SCHEMA
    verdict: VerdictWord | None
    said: str
    dump_s: float
    dump_known: Literal["stated", "the power falls to idle", "end of the log"]
    measured: list[MeasuredRow]
    peaks: list[PeakRow]
    findings: list[FindingRow]
    family: FamilyPart | None
    curve: list[tuple[float, float]]
    not_judged: list[NotJudged]
    cautions: list[str]
    safety: list[str]
    input: list[FileInput]
    settings: BatchSettings
    version: str


@dataclass(frozen=True, slots=True, kw_only=True)
class FamilySettings:
    """What was asked."""

    baseline: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class FamilyResult:
    """Batches against their family. ``chart`` is the file of the printed chart."""

    schema: Literal["runtrue/family-1"] = FAMILY_SCHEMA
    verdict: VerdictWord
    said: str
    family: FamilyPart
    chart: str | None
    not_judged: list[NotJudged]
    cautions: list[str]
    safety: list[str]
    input: FileInput
    settings: FamilySettings
    version: str
