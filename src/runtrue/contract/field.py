"""The object ``runtrue/field-1``: what a scanner does to lengths, told by scans of a measured ring, in shown units."""

from dataclasses import dataclass
from typing import Literal

from runtrue.contract.listening import NotJudged

FIELD_SCHEMA: Literal["runtrue/field-1"] = "runtrue/field-1"


@dataclass(frozen=True, slots=True, kw_only=True)
class RingScanRow:
    """One scan: where the hole was found from the rim, which should be nowhere."""

    file: str
    sha256: str
    offset_um: float
    direction_deg: float
    um_per_px: float
    oval_um: float
    seen_deg: float


@dataclass(frozen=True, slots=True, kw_only=True)
class FieldSettings:
    """What was asked."""

    um_per_px: float
    rim_mm: float
    hole_mm: float
    ring_u95_um: float
    name: str
    owner: str


@dataclass(frozen=True, slots=True, kw_only=True)
class FieldResult:
    """The whole result.

    ``u95_um`` is the radius within which an offset is found 95 times in 100, for ``stamper picture``; ``systematic_um``
    the part that was the same every time. Stretch: x over y is 1 + 2 stretch.
    """

    schema: Literal["runtrue/field-1"] = FIELD_SCHEMA
    u95_um: float
    systematic_um: float
    um_per_px: float
    scale_u95_percent: float
    stretch_percent: float
    skew_percent: float
    stretch_u95_percent: float
    scans: list[RingScanRow]
    field_file: str | None
    not_judged: list[NotJudged]
    cautions: list[str]
    safety: list[str]
    settings: FieldSettings
    version: str
