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

    ``oval_um`` and ``three_cornered_um`` are amplitudes, ``roundness_um`` is peak to valley about the least-squares
    circle, up to 15 waves a turn; all null for a part of a turn. ``left_out`` places were not used. ``burr_um`` is the
    largest departure that neighbouring places share, outward positive, at ``burr_deg``. The diameter's U95 holds that
    of the scale.
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
    roundness_um: float | None
    roundness_u95_um: float | None
    burr_um: float
    burr_deg: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Shift:
    """How far a circle's centre lies from the hole's, and toward where on the face looked at."""

    offset_um: float
    offset_u95_um: float
    u95_um: float
    direction_deg: float
    direction_u95_deg: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ScaleUsed:
    """The scale, and how far the picture's x and y scales differ (stretch: x over y is 1 + 2 stretch) and lean (skew).

    Stretch and skew are null where nothing told them; ``lean_deg`` is that of a camera, null for a scanner.
    """

    um_per_px: float
    u95_percent: float
    source: str
    stretch_percent: float | None
    skew_percent: float | None
    stretch_u95_percent: float | None
    stretch_source: str | None
    lean_deg: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class PictureInput:
    """The file that was measured."""

    file: str
    sha256: str
    width_px: int
    height_px: int


@dataclass(frozen=True, slots=True, kw_only=True)
class PictureSettings:
    """What was asked; null is not given."""

    um_per_px: float | None
    format: str
    face: Literal["stamper", "record"]
    hole: Literal["small", "large"]
    hole_mm: float | None
    groove_mm: float
    label_mm: float | None
    rim_mm: float | None
    turned: str | None
    camera_mm: float | None
    field: str | None
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
    label: SeenCircle | None
    rim: SeenCircle | None
    label_shift: Shift | None
    rim_shift: Shift | None
    scale: ScaleUsed | None
    overlay: str | None
    findings: list[FindingRow]
    not_judged: list[NotJudged]
    cautions: list[str]
    safety: list[str]
    input: PictureInput
    settings: PictureSettings
    version: str
