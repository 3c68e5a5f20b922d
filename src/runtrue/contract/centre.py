"""The object ``runtrue/centre-1``: a stamper's or record's centre, in shown units, every key always present.

Directions are degrees on the face looked at, against the clock as the person sees it, from groove centre to axis;
``direction_playing_deg`` is the same on the playing face. ``None`` means not judged: key and reason are in
``not_judged``. An empty list means looked and found none.
"""

from dataclasses import dataclass
from typing import Literal

from runtrue.contract.listening import FindingRow, NotJudged, VerdictWord

CENTRE_SCHEMA: Literal["runtrue/centre-1"] = "runtrue/centre-1"


@dataclass(frozen=True, slots=True, kw_only=True)
class CentreInput:
    """The file that was judged."""

    file: str
    sha256: str
    readings: int


@dataclass(frozen=True, slots=True, kw_only=True)
class CentreSettings:
    """What was asked. ``pitch_um`` is the known pitch, null where it is fitted or there is none."""

    groove: Literal["locked", "spiral"]
    face: Literal["stamper", "record"]
    held: Literal["pinned", "placed"]
    pitch_um: float | None
    lens_division_um: float | None
    lens_noise_um: float | None
    format: str | None
    punch: str | None
    x_axis_deg: float
    mirrored: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class OutOfRound:
    """A part of the readings that comes ``order`` times a turn; its U95 is that of the amplitude's circle."""

    order: int
    amplitude_um: float
    u95_um: float
    crest_deg: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Outlier:
    """A reading that was left out. ``row`` counts the readings of the file from 1; ``off_um`` is from the curve."""

    row: int
    angle_deg: float
    turn: int
    reading_um: float
    off_um: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Point:
    """A reading beside the fitted curve; ``off_um`` is how far it lies outside, ``level_um`` it without the pitch."""

    row: int
    angle_deg: float
    turn: int
    reading_um: float
    fitted_um: float
    off_um: float
    level_um: float
    left_out: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Axis:
    """The axis that the offset is measured to: the readings' own, or the punch's with its bias (machine x and y)."""

    source: str
    bias_x_um: float | None
    bias_y_um: float | None
    bias_u95_um: float | None
    aim: str | None
    table_runout_um: float | None
    table_runout_u95_um: float | None
    table_direction_deg: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class MoveBy:
    """Move the stamper by this: x to 0 deg, y to 90 deg of the face looked at, 0 deg at 12 o'clock."""

    x_um: float
    y_um: float
    distance_um: float
    clock_hour: float
    words: str
    machine_x_um: float
    machine_y_um: float
    screws: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Threshold:
    """A published threshold of hearing, peak deviation."""

    name: str
    peak_percent: float
    heard: bool
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Consequence:
    """What the offset does to the pitch at one end of the side; the swing in cents is peak to peak."""

    end: Literal["outer", "inner"]
    radius_mm: float
    swing_peak_percent: float
    swing_u95_percent: float
    swing_cents: float
    heard: list[Threshold]


@dataclass(frozen=True, slots=True, kw_only=True)
class AfterPunch:
    """Where a pinned stamper's hole came to lie from where it was meant to be, in the machine's x and y."""

    x_um: float
    y_um: float


@dataclass(frozen=True, slots=True, kw_only=True)
class StamperCentre:
    """The whole result. ``curve`` is the fit without the pitch: pairs of angle_deg (growing through the turns) and um.

    ``sheet`` is the printed sheet that was written, ``kept_in`` the punch file that got the check after punching.
    """

    schema: Literal["runtrue/centre-1"] = CENTRE_SCHEMA
    verdict: VerdictWord | None
    offset_um: float | None
    offset_u95_um: float | None
    swing_um: float | None
    u95_um: float | None
    direction_deg: float | None
    direction_u95_deg: float | None
    direction_playing_deg: float | None
    pitch_um: float | None
    pitch_u95_um: float | None
    scatter_um: float | None
    spare_readings: int | None
    harmonics: list[OutOfRound] | None
    outliers: list[Outlier] | None
    conformance_probability: float | None
    more_readings: int | None
    read_at_deg: list[float]
    move: MoveBy | None
    after_punch: AfterPunch | None
    axis: Axis
    consequence: list[Consequence] | None
    sheet: str | None
    kept_in: str | None
    points: list[Point]
    curve: list[tuple[float, float]] | None
    findings: list[FindingRow]
    not_judged: list[NotJudged]
    cautions: list[str]
    safety: list[str]
    input: CentreInput
    settings: CentreSettings
    version: str
