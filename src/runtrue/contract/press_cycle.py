"""The object ``runtrue/press-cycle-1``: what one or two press cycles do, in shown units, every key always present.

A :class:`Range` holds the value of the recipe as it stands and the ends between which it lies 95 times in 100.
``None`` means not judged: key and reason are in ``not_judged``.
"""

from dataclasses import dataclass
from typing import Literal

from runtrue.contract.listening import NotJudged

PRESS_CYCLE_SCHEMA: Literal["runtrue/press-cycle-1"] = "runtrue/press-cycle-1"


@dataclass(frozen=True, slots=True, kw_only=True)
class Range:
    """A value and the ends of its 95 % interval, in the unit of the key it stands under."""

    value: float
    low: float
    high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class PhaseSpan:
    """One phase: fluid in the mould, its temperature on side a, beginning and end; whether the press is open."""

    name: str
    fluid: str
    temperature_degc: float | None
    from_s: float
    to_s: float
    open: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class CycleTraces:
    """Temperatures over time: the hotter stamper face and the mid-plane of the record, each with its band."""

    time_s: list[float]
    stamper_face_degc: list[float]
    stamper_face_low_degc: list[float]
    stamper_face_high_degc: list[float]
    mid_plane_degc: list[float]
    mid_plane_low_degc: list[float]
    mid_plane_high_degc: list[float]


@dataclass(frozen=True, slots=True, kw_only=True)
class InputEffect:
    """What one input does when it moves by its own 95 % half-width, alone; signed for a move upward.

    ``share_percent`` is its part of the variance of the mid-plane at opening.
    """

    input: str
    words: str
    u95_percent: float | None
    u95_k: float | None
    mid_plane_k: float
    stamper_face_k: float
    at_flow_s: float | None
    share_percent: float


@dataclass(frozen=True, slots=True, kw_only=True)
class CycleEnergy:
    """What a cycle takes. ``moulds_percent`` of the steam's heat do not go into the record."""

    steam_kg: float | None
    heat_kwh: float
    water_kg: float | None
    electricity_kwh: float | None
    record_kwh: float
    moulds_percent: float
    per_hour: float


@dataclass(frozen=True, slots=True, kw_only=True)
class PressCycle:
    """One cycle. ``calibrated``: its uncertain inputs were fitted to this press; else they are placeholders.

    ``balance_relative`` is what the heat balance misses, over the heat taken in.
    """

    name: str
    file: str
    sha256: str
    calibrated: bool
    running: bool
    mould_start_degc: float
    phases: list[PhaseSpan]
    opens_s: float
    cycle_s: float
    flow_degc: float | None
    open_below_degc: float | None
    mid_plane_at_opening_degc: Range
    stamper_face_at_opening_degc: Range
    mean_at_opening_degc: Range
    hottest_stamper_face_degc: Range
    at_flow_s: Range | None
    earliest_opening_s: Range | None
    energy: CycleEnergy | None
    inputs: list[InputEffect]
    traces: CycleTraces
    balance_relative: float


@dataclass(frozen=True, slots=True, kw_only=True)
class CycleDifference:
    """Second cycle less the first."""

    cycle_s: float
    per_hour: float
    mid_plane_at_opening_k: float
    stamper_face_at_opening_k: float
    at_flow_s: float | None
    earliest_opening_s: float | None
    steam_kg: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class PressCycles:
    """The whole result: one cycle, or two with their difference."""

    schema: Literal["runtrue/press-cycle-1"] = PRESS_CYCLE_SCHEMA
    cycles: list[PressCycle]
    difference: CycleDifference | None
    picture: str | None
    not_judged: list[NotJudged]
    cautions: list[str]
    safety: list[str]
    version: str
