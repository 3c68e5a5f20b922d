"""The object ``runtrue/picture-1``: the centre from a picture, in shown units, every key always present.

Directions are degrees on the face looked at, 0 at the top, against the clock, from groove centre to hole centre.
``method_u95_um`` is what the pixels say; ``u95_um`` carries how evenly the scanner travels too and is the one to use.
"""

from dataclasses import dataclass
from typing import Literal

from runtrue.contract.listening import FindingRow, NotJudged, VerdictWord

PICTURE_SCHEMA: Literal["runtrue/picture-1"] = "runtrue/picture-1"


@dataclass(frozen=True, slots=True, kw_only=True)
class SeenCircle:
    """A circle that was found; places in pixels from the top left corner, lengths on the record.

    ``oval_um`` and ``three_cornered_um`` are amplitudes, null for a part of a turn; ``left_out`` places were not used.
    """

    row_px: float
    column_px: float
    radius_px: float
    diameter_mm: float
    diameter_u95_mm: float
    seen_deg: float
    places: int
    left_out: int
    oval_um: float | None
    three_cornered_um: float | None
    burr_um: float


@dataclass(frozen=True, slots=True, kw_only=True)
class PictureInput:
    """The file that was measured."""

    file: str
    sha256: str
    width_px: int
    height_px: int


@dataclass(frozen=True, slots=True, kw_only=True)
class PictureSettings:
    """What was asked, and the scale that was used."""

    um_per_px: float
    used_um_per_px: float | None
    format: str
    face: Literal["stamper", "record"]
    hole_mm: float | None
    groove_mm: float
    field_u95_um: float
    field_source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PictureCentreResult:
    """The whole result."""

    schema: Literal["runtrue/picture-1"] = PICTURE_SCHEMA
    verdict: VerdictWord | None
    offset_um: float | None
    offset_u95_um: float | None
    swing_um: float | None
    u95_um: float | None
    method_u95_um: float | None
    direction_deg: float | None
    direction_u95_deg: float | None
    direction_playing_deg: float | None
    conformance_probability: float | None
    hole: SeenCircle | None
    groove: SeenCircle | None
    overlay: str | None
    findings: list[FindingRow]
    not_judged: list[NotJudged]
    cautions: list[str]
    safety: list[str]
    input: PictureInput
    settings: PictureSettings
    version: str
