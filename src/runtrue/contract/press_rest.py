"""The object ``runtrue/press-rest-1``: when the middle of a pile has cooled, every key always present."""

from dataclasses import dataclass
from typing import Literal

from runtrue.contract.listening import NotJudged
from runtrue.contract.press_cycle import Range

PRESS_REST_SCHEMA: Literal["runtrue/press-rest-1"] = "runtrue/press-rest-1"


@dataclass(frozen=True, slots=True, kw_only=True)
class RestTraces:
    """The hottest place of the pile over time, with its band."""

    time_h: list[float]
    hottest_degc: list[float]
    hottest_low_degc: list[float]
    hottest_high_degc: list[float]


@dataclass(frozen=True, slots=True, kw_only=True)
class PressRest:
    """The whole result; ``rest_h`` is null where the pile never gets there. Wait for its upper end."""

    schema: Literal["runtrue/press-rest-1"] = PRESS_REST_SCHEMA
    file: str
    sha256: str
    name: str
    records: int
    plate_every: int
    start_degc: float
    room_degc: float
    below_degc: float
    rest_h: Range | None
    ready_at: str | None
    traces: RestTraces
    not_judged: list[NotJudged]
    cautions: list[str]
    safety: list[str]
    version: str
