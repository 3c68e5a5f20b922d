"""The object ``runtrue/press-biscuit-1``: the biscuit for a record and what it goes through."""

from dataclasses import dataclass
from typing import Literal

from runtrue.contract.listening import NotJudged
from runtrue.contract.press_cycle import Range

PRESS_BISCUIT_SCHEMA: Literal["runtrue/press-biscuit-1"] = "runtrue/press-biscuit-1"


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordSize:
    """The finished record, and the mould it needs."""

    format: str
    diameter_mm: float
    thickness_mm: float
    mass_g: float
    volume_cm3: float
    density_g_cm3: float
    contraction_percent: float
    mould_diameter_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class BiscuitSize:
    """The biscuit with its flash."""

    mass_g: float
    flash_g: float
    diameter_mm: float
    thickness_mm: float
    over_record: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Preheat:
    """On the steam table until nothing in it is colder than ``core_degc``; null where it does not come to that."""

    table_degc: float
    start_degc: float
    core_degc: float
    ready_s: Range | None
    hottest_degc: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Waiting:
    """A hot puck that waits in the air: its skin and its mean at the end."""

    seconds_s: float
    start_degc: float
    skin_degc: float
    mean_degc: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Pressing:
    """Mean pressure on the full record, and the race between spreading and the frozen skin: a trend, not odds."""

    force_kn: float
    pressure_mpa: float
    pressure_psi: float
    spread_free_ms: float | None
    closes_s: float | None
    skin_um: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class PressBiscuit:
    """The whole result."""

    schema: Literal["runtrue/press-biscuit-1"] = PRESS_BISCUIT_SCHEMA
    record: RecordSize
    biscuit: BiscuitSize
    preheat: Preheat | None
    waiting: Waiting | None
    pressing: Pressing | None
    not_judged: list[NotJudged]
    cautions: list[str]
    safety: list[str]
    version: str
