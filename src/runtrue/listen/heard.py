"""What the listening test found, in SI units, before any limit is laid beside it."""

from dataclasses import dataclass, field
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from runtrue.disc.frame import Frame
from runtrue.types import Channel, Measurement, PlaneVector


class Identity(StrEnum):
    """Whether the capture holds the programme of the reference."""

    SAME = "same"
    OTHER = "other"
    UNCLEAR = "unclear"


class ChannelOrder(StrEnum):
    """How the capture's channels lie to the reference's."""

    STRAIGHT = "straight"
    SWAPPED = "swapped"
    MONO = "mono"
    LEFT_ONLY = "left_only"
    RIGHT_ONLY = "right_only"


@dataclass(frozen=True, slots=True, kw_only=True)
class HeardJump:
    """The stylus left its turn at ``programme_time`` (last before it) by ``turns``: +1 forward, -1 back."""

    programme_time: float
    turns: int


@dataclass(frozen=True, slots=True, kw_only=True)
class HeardEdit:
    """A cut at ``programme_time`` that skips ``skipped`` seconds of the reference (negative: repeats)."""

    programme_time: float
    skipped: float


@dataclass(frozen=True, slots=True, kw_only=True)
class HeardProgramme:
    """Identity and position. None where it could not be told; ``reason`` then says why."""

    identity: Identity
    reason: str = ""
    start: float | None = None
    reach: tuple[float, float] | None = None
    polarity: int | None = None
    channels: ChannelOrder | None = None
    jumps: tuple[HeardJump, ...] | None = None
    edits: tuple[HeardEdit, ...] | None = None


class TickShape(StrEnum):
    """What a tick looks like."""

    SHORT = "short"
    LONG = "long"
    STITCH = "stitch"


@dataclass(frozen=True, slots=True, kw_only=True)
class HeardTick:
    """One impulse: times in s, levels in dB, duration in s.

    ``waveform`` (2, 97) is the whitened difference of left and right within 1 ms at 48 kHz, its largest value 1.
    ``margin`` is its height above what is just heard in the music there [dB], ``audible`` the probability that it is
    heard; None where not judged.
    """

    programme_time: float
    time_u95: float
    capture_time: float
    peak: float
    prominence: float
    duration: float
    channel: Channel
    waveform: NDArray[np.float16] | None = field(default=None, compare=False, repr=False)
    shape: TickShape = TickShape.SHORT
    margin: float | None = None
    audible: float | None = None


class BurstKind(StrEnum):
    """What a burst is like; the likeness, not the cause."""

    NON_FILL_LIKE = "non_fill_like"
    TEARING_LIKE = "tearing_like"
    NOISE_ZONE = "noise_zone"
    THUMP = "thump"


@dataclass(frozen=True, slots=True, kw_only=True)
class HeardBurst:
    """Noise at one place over ``turns`` neighbouring turns: times in s, angles in degrees (may wrap), levels in dB."""

    start: float
    end: float
    from_angle: float
    to_angle: float
    channel: Channel
    level: float
    prominence: float
    kind: BurstKind
    turns: int


@dataclass(frozen=True, slots=True, kw_only=True)
class HeardThird:
    """A third octave at ``frequency`` [Hz, nominal]: level [dB] outer, middle, inner; None where not known."""

    frequency: float
    values: tuple[float | None, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class HeardLine:
    """A steady tone of the rig: frequency [Hz], level [dB]."""

    frequency: float
    level: float


@dataclass(frozen=True, slots=True, kw_only=True)
class HeardNoise:
    """Noise in more than one number, dB re the result's reference; A-weighted but for the thirds.

    ``by_angle`` in arcs of equal width from 0 deg on; ``unmodulated`` where the groove carries no music,
    ``under_music`` where it does and does not show through.
    """

    thirds: tuple[HeardThird, ...]
    by_angle: tuple[float | None, ...]
    unmodulated: float | None
    under_music: float | None
    lines: tuple[HeardLine, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class HeardResponse:
    """Third octaves of the transfer re its 1 kHz band, and distortion [-] (outer, middle, inner)."""

    thirds: tuple[HeardThird, ...]
    distortion: tuple[float | None, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class HeardTrain:
    """Ticks that return once a turn; ``members`` index the tick list."""

    members: tuple[int, ...]
    period: float


@dataclass(frozen=True, slots=True, kw_only=True)
class HeardCentre:
    """Off-centre: ``played`` by this placing, ``disc`` what the disc is; None with a reason."""

    played: PlaneVector | None = None
    disc: PlaneVector | None = None
    placings: int = 1
    player_swing: float | None = None
    separated: tuple[str, ...] | None = None
    reason: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class HeardTraces:
    """Curves over ``time`` (programme time [s]), NaN where nothing was judged."""

    time: tuple[float, ...] = ()
    level: tuple[float, ...] = ()
    noise: tuple[float, ...] = ()
    speed_low: tuple[float, ...] = ()
    speed_high: tuple[float, ...] = ()
    tick_threshold: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Heard:
    """Everything one listening test found.

    ``scalars`` holds one measurement per scalar quantity (speed, surface, rumble, hum, ...), a missing one with its
    reason. ``ticks``, ``trains``, ``bursts``, ``noise``, ``response`` are
    None where not judged; ``reasons`` then says why by contract key.
    ``threshold_raised`` is the share of time in which the programme's own remains lift the threshold of ticks above
    1.5 times the noise.
    """

    programme: HeardProgramme
    frame: Frame
    turn_fitted: bool
    centre: HeardCentre
    scalars: tuple[Measurement, ...]
    ticks: tuple[HeardTick, ...] | None = None
    trains: tuple[HeardTrain, ...] | None = None
    bursts: tuple[HeardBurst, ...] | None = None
    noise: HeardNoise | None = None
    response: HeardResponse | None = None
    reasons: dict[str, str] = field(default_factory=dict)
    level_reference: str | None = None
    threshold_raised: float | None = None
    cautions: tuple[str, ...] = ()
    traces: HeardTraces = HeardTraces()
