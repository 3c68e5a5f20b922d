"""The object ``runtrue/press-shorten-1``: what some seconds less would bring and cost, every key always present."""

from dataclasses import dataclass
from typing import Literal

from runtrue.contract.listening import FindingRow, NotJudged, VerdictWord
from runtrue.contract.press_cycle import Range

PRESS_SHORTEN_SCHEMA: Literal["runtrue/press-shorten-1"] = "runtrue/press-shorten-1"


@dataclass(frozen=True, slots=True, kw_only=True)
class SettingOutcome:
    """One setting of a running press. Ranges hold single records; ``too_hot_odds`` that one opens above the limit."""

    phase_s: float
    cycle_s: float
    per_hour: float
    mid_plane_degc: Range
    stamper_face_degc: Range
    at_flow_s: Range | None
    too_hot_odds: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class BadShares:
    """Percent of records now and at the shorter setting, and the odds that it rises by ``margin_percent`` or more."""

    now_percent: Range
    shorter_percent: Range
    margin_percent: float
    more_odds: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Matter:
    """What the doubt at the shorter setting comes from: its half-width on the mid-plane, its share.

    Inputs that the log cannot tell apart stand together.
    """

    inputs: list[str]
    words: str
    of: Literal["press", "record"]
    mid_plane_k: float
    share_percent: float


@dataclass(frozen=True, slots=True, kw_only=True)
class TrialPlan:
    """The trial that would prove it. ``records_by_share`` is null where both shares are all but alike."""

    settings: list[str]
    records_by_share: int | None
    share_now_percent: float
    share_shorter_percent: float
    records_by_height: int
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PressShorten:
    """The whole result; without a calibration nothing is judged and ``log_needed`` says what to record."""

    schema: Literal["runtrue/press-shorten-1"] = PRESS_SHORTEN_SCHEMA
    verdict: VerdictWord
    name: str
    file: str
    sha256: str
    calibration: str | None
    phase: str
    by_s: float
    open_below_degc: float | None
    gain_per_hour: float
    gain_percent: float
    now: SettingOutcome | None
    shorter: SettingOutcome | None
    warp_24h: BadShares | None
    non_fill: BadShares | None
    good_per_hour: Range | None
    passes_up_to_s: float | None
    matters: list[Matter] | None
    trial: TrialPlan
    log_needed: str | None
    findings: list[FindingRow]
    not_judged: list[NotJudged]
    cautions: list[str]
    safety: list[str]
    version: str
