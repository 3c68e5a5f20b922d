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


@dataclass(frozen=True, slots=True, kw_only=True)
class HeardTick:
    """One impulse: times in s, levels in dB, duration in s.

    ``waveform`` (2, 97) is the whitened difference of left and right within 1 ms at 48 kHz, its largest value 1.
    """

    programme_time: float
    time_u95: float
    capture_time: float
    peak: float
    prominence: float
    duration: float
    channel: Channel
    waveform: NDArray[np.float16] | None = field(default=None, compare=False, repr=False)


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
    reason. ``ticks``, ``trains`` are None where not judged; ``reasons`` then says why by contract key.
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
    reasons: dict[str, str] = field(default_factory=dict)
    level_reference: str | None = None
    threshold_raised: float | None = None
    cautions: tuple[str, ...] = ()
    traces: HeardTraces = HeardTraces()
