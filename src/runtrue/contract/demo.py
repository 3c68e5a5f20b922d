"""The object ``runtrue/demo-1``: what the demonstration judged, and what it makes of it."""

from dataclasses import dataclass
from typing import Literal

from runtrue.contract.listening import VerdictWord

DEMO_SCHEMA: Literal["runtrue/demo-1"] = "runtrue/demo-1"


@dataclass(frozen=True, slots=True, kw_only=True)
class DemoCopy:
    """One judged recording. ``result`` is the file of its ``runtrue/listening-1``; None where not judged."""

    copy: str
    closure: int
    stamper: str
    side: str
    note: str
    verdict: VerdictWord
    found: str
    offset_um: float | None
    offset_u95_um: float | None
    ticks: int | None
    result: str


@dataclass(frozen=True, slots=True, kw_only=True)
class DemoAdvice:
    """One finding over the copies and who has to do what; closures from ``hold_from`` to ``hold_to`` are held."""

    station: str
    found: str
    act: str
    copies: list[str]
    hold_from: int | None
    hold_to: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Demonstration:
    """The outcome. ``files`` are written in the folder ``out``."""

    schema: Literal["runtrue/demo-1"] = DEMO_SCHEMA
    out: str
    files: list[str]
    title: str
    headline: str
    act: str
    copies: list[DemoCopy]
    advice: list[DemoAdvice]
    version: str
