"""The object ``runtrue/ring-1``: what a finder ring marks. Angles are degrees from its zero mark."""

from dataclasses import dataclass
from typing import Literal

RING_SCHEMA: Literal["runtrue/ring-1"] = "runtrue/ring-1"


@dataclass(frozen=True, slots=True, kw_only=True)
class RingMark:
    """One fault on the ring. ``angle_deg`` against the clock on the playing face, with the clock on the stamper's.

    ``stamper_angle_deg`` is the same place read against the clock on the stamper's face.
    """

    letter: str
    programme_s: float
    turn: int
    angle_deg: float
    angle_u95_deg: float
    stamper_angle_deg: float
    radius_mm: float
    radius_u95_mm: float
    prominence_db: float
    copies: list[str]


@dataclass(frozen=True, slots=True, kw_only=True)
class FinderRing:
    """A finder ring that was printed to ``file``; ``left_out`` faults have no place on it."""

    schema: Literal["runtrue/ring-1"] = RING_SCHEMA
    file: str
    zero: str
    ring_mm: float
    marks: list[RingMark]
    left_out: int
    cautions: list[str]
    version: str
