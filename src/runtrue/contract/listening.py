"""The object ``runtrue/listening-1``: one judged recording, in shown units, every key always present.

``None`` means not judged; the dotted key and the reason then stand in ``not_judged``. An empty list means looked and
found none. Angles are degrees on the playing face, counter-clockwise; arcs wrap (``from_deg`` may exceed ``to_deg``).
"""

from dataclasses import dataclass, field
from typing import Literal

SCHEMA: Literal["runtrue/listening-1"] = "runtrue/listening-1"

VerdictWord = Literal["pass", "fail", "cannot_judge"]
ChannelWord = Literal["L", "R", "lateral", "vertical"]
IdentityWord = Literal["same", "other", "unclear"]
ChannelsWord = Literal["straight", "swapped", "mono", "left_only", "right_only"]
BurstWord = Literal["non_fill_like", "tearing_like", "noise_zone", "thump"]
ShapeWord = Literal["short", "long", "stitch"]
AboutWord = Literal["disc", "rig", "rig or disc"]


@dataclass(frozen=True, slots=True, kw_only=True)
class NotJudged:
    """A key that is null, and why."""

    key: str
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class FindingRow:
    """A measurement beside its limit. Bounds and value are in ``unit``; a count has no u95."""

    quantity: str
    words: str
    unit: str
    value: float | None
    u95: float | None
    lower: float | None
    upper: float | None
    meaning: str
    about: Literal["disc", "rig"]
    owner: str
    source: str
    date: str
    rule: str
    conformance_probability: float | None
    verdict: VerdictWord
    in_verdict: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Input:
    """The file that was judged."""

    file: str
    sha256: str
    rate_hz: int
    channels: int
    duration_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Programme:
    """Whether it is the right music, and where it lies in the capture."""

    identity: IdentityWord
    matched: bool
    start_s: float | None
    reach_s: tuple[float, float] | None
    polarity: Literal[1, -1] | None
    channels: ChannelsWord | None
    edits: list["Edit"] | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Edit:
    """A cut against the reference that is no whole number of turns."""

    programme_s: float
    skipped_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Speed:
    """Mean programme speed; positive plays fast."""

    deviation_percent: float | None
    u95_percent: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Turn:
    """Programme time of one turn of the disc."""

    period_s: float
    u95_s: float
    fitted: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Centre:
    """Offset from groove centre to hole centre. ``u95_um`` is the radius that holds the true vector."""

    offset_um: float
    swing_um: float
    direction_deg: float
    direction_u95_deg: float
    u95_um: float
    offset_u95_um: float
    placings: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class OffCentre:
    """What this placing did (``played``) and what the disc is (``disc``)."""

    played: Centre | None
    disc: Centre | None
    player_swing_percent: float | None
    separated: list[str] | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Flutter:
    """Weighted speed variation, two-sigma."""

    weighted_percent: float | None
    u95_percent: float | None
    weighted_without_once_a_turn_percent: float | None
    bandwidth_hz: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Tick:
    """One impulse with its address.

    ``audible_margin_db`` is its height above what is just heard in the music there; stitches are many small ticks close
    together.
    """

    programme_s: float
    u95_s: float
    capture_s: float
    turn: int
    angle_deg: float
    angle_u95_deg: float
    radius_mm: float
    radius_u95_mm: float
    peak_db: float
    prominence_db: float
    duration_ms: float
    channel: ChannelWord
    shape: ShapeWord = "short"
    audible_margin_db: float | None = None
    audible_probability: float | None
    train: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Train:
    """Ticks once a turn over some turns."""

    id: int
    count: int
    period_s: float
    from_s: float
    to_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Burst:
    """A zone of noise or a thump, neighbouring turns merged."""

    turns: int
    from_s: float
    to_s: float
    from_deg: float
    to_deg: float
    channel: ChannelWord
    level_db: float
    prominence_db: float
    kind: BurstWord


@dataclass(frozen=True, slots=True, kw_only=True)
class Jump:
    """The stylus left its turn: +1 skipped forward one turn, -1 went back one and repeats."""

    programme_s: float
    turns: int


@dataclass(frozen=True, slots=True, kw_only=True)
class NoiseBand:
    """Noise of the disc in one third octave at three radii, re ``level_reference``."""

    hz: float
    outer_db: float | None
    middle_db: float | None
    inner_db: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """A steady tone: mains, motor."""

    hz: float
    db: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Noise:
    """Levels of what is not programme, re ``level_reference``.

    ``rumble_band`` names the edition whose band the rumble is told in. ``by_angle_db_a`` holds the A-weighted level of
    twelve arcs of 30 deg, from 0 deg on; ``unmodulated_db_a`` that of grooves without music, ``under_programme_db_a``
    of those with it, where it does not show through.
    """

    surface_db_a: float | None
    surface_db_468: float | None
    swish_db: float | None
    rumble_db: float | None
    rumble_band: str = "IEC 60098, unweighted since 1987"
    hum_db: float | None
    lines: list[Line] | None = None
    third_octaves: list[NoiseBand] | None = None
    by_angle_db_a: list[float | None] | None = None
    unmodulated_db_a: float | None = None
    under_programme_db_a: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ThirdOctave:
    """Transfer in one band at three radii, re its 1 kHz band."""

    hz: float
    outer_db: float | None
    middle_db: float | None
    inner_db: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Distortion:
    """What of the difference goes with the programme, 250 Hz to 4 kHz, over the programme, at three radii."""

    outer_percent: float | None
    middle_percent: float | None
    inner_percent: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Response:
    """How this rig and disc pass the reference on; ``about`` says whether what stands here can judge the disc."""

    about: AboutWord = "rig or disc"
    third_octaves: list[ThirdOctave] | None
    distortion: Distortion | None = None
    balance_db: float | None
    crosstalk_left_into_right_db: float | None
    crosstalk_right_into_left_db: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """What the judgement assumed; digest keys the result."""

    format: str
    rpm: float
    start_radius_mm: float
    start_radius_u95_mm: float
    end_radius_mm: float | None
    end_radius_u95_mm: float | None
    arm: str
    player_swing_percent: float
    spindle_mm: tuple[float, float]
    hole_mm: tuple[float, float]
    listening_level_spl_db: float = 75.0
    hearing_shift_db: float = 0.0
    limits: str
    digest: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Listening:
    """One judged recording."""

    schema: Literal["runtrue/listening-1"] = SCHEMA
    verdict: VerdictWord
    findings: list[FindingRow]
    not_judged: list[NotJudged]
    cautions: list[str]
    input: Input
    reference: Input | None
    settings: Settings
    version: str
    programme: Programme
    speed: Speed
    turn: Turn
    off_centre: OffCentre
    flutter: Flutter
    ticks: list[Tick] | None
    trains: list[Train] | None
    bursts: list[Burst] | None
    jumps: list[Jump] | None
    noise: Noise
    response: Response
    level_reference: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Traces:
    """Curves along the side for pictures; all share ``programme_s`` (one point a second). None where not judged."""

    programme_s: list[float] = field(default_factory=list)
    radius_mm: list[float] = field(default_factory=list)
    level_db: list[float | None] = field(default_factory=list)
    noise_db_a: list[float | None] = field(default_factory=list)
    speed_low_percent: list[float | None] = field(default_factory=list)
    speed_high_percent: list[float | None] = field(default_factory=list)
    tick_threshold_db: list[float | None] = field(default_factory=list)
