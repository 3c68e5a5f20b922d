"""The objects ``runtrue/cues-1`` and ``runtrue/hearing-1``: a copy with cue points; a threshold refit from marks."""

from dataclasses import dataclass
from typing import Literal

CUES_SCHEMA: Literal["runtrue/cues-1"] = "runtrue/cues-1"
HEARING_SCHEMA: Literal["runtrue/hearing-1"] = "runtrue/hearing-1"


@dataclass(frozen=True, slots=True, kw_only=True)
class CuePoint:
    """One cue point: where in the recording, how long (0: a point), its label."""

    capture_s: float
    length_s: float
    label: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CuedCopy:
    """A copy of a recording that was written to ``file`` with its findings as RIFF cue points."""

    schema: Literal["runtrue/cues-1"] = CUES_SCHEMA
    file: str
    cues: list[CuePoint]
    cautions: list[str]
    version: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Ears:
    """A listener beside the program, which says heard from odds of 1 in 2: share of marks alike, kappa (null: one
    of the two always said the same)."""

    listener: str
    marks: int
    heard: int
    alike_percent: float
    kappa: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class RefitHearing:
    """Threshold refit from people's marks: put ``shift_db`` and ``spread_db`` to `listen check`.

    ``before`` and ``after`` the refit: all marks beside the program. ``between`` is the agreement of each pair of
    listeners on the ticks that both marked. ``left_out`` marks lie on no listed tick.
    """

    schema: Literal["runtrue/hearing-1"] = HEARING_SCHEMA
    marks: int
    heard: int
    objectionable: int
    left_out: int
    listening_level_spl_db: float
    shift_db: float
    shift_u95_db: float
    spread_db: float
    before: Ears
    after: Ears
    listeners: list[Ears]
    between: list[Ears]
    cautions: list[str]
    version: str


HEARD_RESULTS: dict[str, type] = {CUES_SCHEMA: CuedCopy, HEARING_SCHEMA: RefitHearing}
