"""What the maker can be told: a disc with its faults, a player, how the disc lies on it, and how it is captured.

All values SI, angles in radians, levels in dB; "re full scale" is amplitude 1.0 of the capture, rms of a noise is per
channel. Directions are in the disc's frame of design section 3 unless they say platter. ``programme_time`` is always
position in the reference [s].
"""

from dataclasses import dataclass, field
from math import cos, sin
from typing import Annotated, Literal

from runtrue.errors import InputError
from runtrue.forward.geometry import Arm, LeaningArm
from runtrue.forward.quantity import (
    Angle,
    Decibel,
    PositiveSeconds,
    Q,
    Seconds,
    check,
)

Axis = Literal["lateral", "vertical", "left", "right"]
"""Lateral = both walls in phase (L = R), vertical = against each other (L = -R), right = outer wall (IEC 60098)."""
Channels = Literal["straight", "swapped", "mono", "left_only", "right_only"]
Shape = Literal["vinyl", "shellac", "white"]
Level = Annotated[float | None, Q("dB", -200.0, 60.0)]
Small = Annotated[float, Q("1", -0.5, 0.5)]


class _Checked:
    """Every fault holds its numbers to their ranges when it is made."""

    __slots__ = ()

    def __post_init__(self) -> None:
        check(self)


def _three(name: str, time_constants: tuple[float, ...] | None) -> None:
    if time_constants is not None and (len(time_constants) != 3 or min(time_constants) < 0.0):
        raise InputError(f"{name} must be three times of 0 s or more (shelf, turnover, treble), got {time_constants}")


# --- on the disc -----------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Warp(_Checked):
    """Height of the playing face, ``height`` cos(order (angle - high)): half the peak-to-peak value [m].

    Equal at every radius, or growing in proportion to r and ``height`` at ``tilt_radius`` [m]. It shifts the sound by
    height tan(elevation of the player's arm): an order of 1 and equal height looks like an offset.
    """

    height: Annotated[float, Q("m", 0.0, 5e-3)]
    high: Angle = 0.0
    order: Annotated[int, Q("", 1, 8)] = 1
    tilt_radius: Annotated[float | None, Q("m", 0.01, 0.2)] = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Cut(_Checked):
    """A piece of the reference, from ``start`` to ``end`` [s], that is not on the disc."""

    start: PositiveSeconds
    end: PositiveSeconds

    def __post_init__(self) -> None:
        check(self)
        if self.end <= self.start:
            raise InputError(f"a cut must end after it starts, got {self.start:g} to {self.end:g} s")


@dataclass(frozen=True, slots=True, kw_only=True)
class Surface(_Checked):
    """Surface noise: rms of each channel above 200 Hz, re full scale or re the programme's rms; swish once a turn."""

    level_db: Decibel
    re: Literal["full_scale", "programme"] = "full_scale"
    shape: Shape = "vinyl"
    swish_db: Annotated[float, Q("dB", 0.0, 30.0)] = 0.0
    """Peak to peak of the once-a-turn swing of the noise level."""
    swish_direction: Angle = 0.0
    """Angle where the noise is loudest."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Pulse(_Checked):
    """Shape of a tick: a Gaussian edge of ``width`` [s] that sets off a resonance dying away in ``decay`` [s]."""

    width: Annotated[float, Q("s", 5e-6, 1e-2)] = 20e-6
    resonance: Annotated[float, Q("Hz", 0.0, 40e3)] = 6000.0
    decay: Annotated[float, Q("s", 5e-6, 0.1)] = 100e-6


@dataclass(frozen=True, slots=True, kw_only=True)
class Tick(_Checked):
    """One short disturbance; ``peak_db``: its largest value in the channels it is on, re full scale."""

    programme_time: Seconds
    peak_db: Decibel
    axis: Axis = "lateral"
    sign: Annotated[int, Q("", -1, 1)] = 1
    pulse: Pulse = Pulse()
    kind: str = "tick"


@dataclass(frozen=True, slots=True, kw_only=True)
class Train(_Checked):
    """A scratch: one tick a turn for ``count`` turns, moving by ``drift`` [rad] a turn (+ = later)."""

    programme_time: Seconds
    count: Annotated[int, Q("", 1, 2000)]
    peak_db: Decibel
    drift: Angle = 0.0
    spread_db: Annotated[float, Q("dB", 0.0, 20.0)] = 1.0
    """Standard deviation of the ticks' levels among each other."""
    jitter: PositiveSeconds = 0.0
    """Standard deviation of the ticks' programme times about the steady drift."""
    axis: Axis = "lateral"
    pulse: Pulse = Pulse()


@dataclass(frozen=True, slots=True, kw_only=True)
class Crackle(_Checked):
    """Small ticks at random: Poisson in time, levels spread about ``peak_db`` (Gaussian in dB), axes at random."""

    per_second: Annotated[float, Q("", 0.0, 1000.0)]
    peak_db: Decibel
    spread_db: Annotated[float, Q("dB", 0.0, 20.0)] = 5.0
    start: Seconds = 0.0
    end: Annotated[float | None, Q("s")] = None
    pulse: Pulse = Pulse(width=20e-6, resonance=8000.0, decay=60e-6)


@dataclass(frozen=True, slots=True, kw_only=True)
class Zone(_Checked):
    """Noise between two angles on neighbouring turns (compound that did not fill the wall): rms in its channel."""

    start: Seconds
    end: Seconds
    from_angle: Angle
    to_angle: Angle
    level_db: Decibel
    axis: Axis = "right"
    kind: str = "non_fill_like"

    def __post_init__(self) -> None:
        check(self)
        if self.end <= self.start:
            raise InputError(f"a noise zone must end after it starts, got {self.start:g} to {self.end:g} s")


@dataclass(frozen=True, slots=True, kw_only=True)
class Tearing(_Checked):
    """Noise that follows the modulation: ``relative_db`` re the programme's envelope, from ``start`` to ``end`` [s]."""

    start: Seconds
    end: Seconds
    relative_db: Decibel
    from_angle: Angle = 0.0
    to_angle: Angle = 6.283185307179586
    axis: Axis = "vertical"


@dataclass(frozen=True, slots=True, kw_only=True)
class Thump(_Checked):
    """A low bump, mostly vertical: one swing that lasts about ``width`` [s]; peak re full scale."""

    programme_time: Seconds
    peak_db: Decibel
    width: Annotated[float, Q("s", 1e-3, 1.0)] = 15e-3
    axis: Axis = "vertical"


@dataclass(frozen=True, slots=True, kw_only=True)
class TrebleLoss(_Checked):
    """Short waves lost (wear, a blunt cut): gain 2 ** -((wavelength f / v)**2 / 2), 3 dB at ``wavelength`` [m]."""

    wavelength: Annotated[float, Q("m", 1e-6, 1e-3)]


@dataclass(frozen=True, slots=True, kw_only=True)
class Disc(_Checked):
    """A record side. ``lathe_error``: how much faster than nominal the disc turned per programme second [-]."""

    turn_frequency: Annotated[float, Q("Hz", 0.2, 2.0)]
    """Nominal, rpm/60."""
    start_radius: Annotated[float, Q("m", 0.03, 0.25)]
    """At programme time 0."""
    end_radius: Annotated[float | None, Q("m", 0.02, 0.25)] = None
    """At the end of the programme; if not given, ``pitch`` leads there."""
    pitch: Annotated[float, Q("m", 0.0, 5e-3)] = 0.125e-3
    """Radius lost per turn; used when no end radius and no landmarks are given."""
    landmarks: tuple[tuple[float, float], ...] = ()
    """(programme time [s], radius [m]) through which the groove goes, instead of a straight law."""
    lathe_error: Annotated[float, Q("1", -0.02, 0.02)] = 0.0
    offset: Annotated[float, Q("m", 0.0, 5e-3)] = 0.0
    """Distance from groove centre to hole centre."""
    direction: Angle = 0.0
    """From groove centre to hole centre, counter-clockwise on the playing face."""
    warps: tuple[Warp, ...] = ()
    cuts: tuple[Cut, ...] = ()
    surface: Surface | None = None
    ticks: tuple[Tick, ...] = ()
    trains: tuple[Train, ...] = ()
    crackle: Crackle | None = None
    zones: tuple[Zone, ...] = ()
    tearing: tuple[Tearing, ...] = ()
    thumps: tuple[Thump, ...] = ()
    treble_loss: TrebleLoss | None = None

    @property
    def groove_frequency(self) -> float:
        """Turns of the groove per programme second, f [Hz]."""
        return self.turn_frequency * (1.0 + self.lathe_error)

    @property
    def axis(self) -> complex:
        """From groove centre to hole centre [m] in the complex plane of the playing face."""
        return complex(self.offset * cos(self.direction), self.offset * sin(self.direction))


# --- the player ------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class SlowStart(_Checked):
    """Speed that is ``deficit`` low at needle-down and comes up with ``time_constant`` [s]."""

    deficit: Annotated[float, Q("1", -0.5, 0.5)]
    time_constant: Annotated[float, Q("s", 0.01, 600.0)] = 2.0


@dataclass(frozen=True, slots=True, kw_only=True)
class RandomWow(_Checked):
    """Random speed deviation with amplitude density ``density`` (f / 1 Hz)**slope [1/sqrt(Hz)] between two limits."""

    density: Annotated[float, Q("1", 0.0, 0.05)]
    slope: Annotated[float, Q("", -3.0, 3.0)] = -0.5
    lower: Annotated[float, Q("Hz", 1e-3, 100.0)] = 0.05
    upper: Annotated[float, Q("Hz", 0.1, 200.0)] = 10.0


@dataclass(frozen=True, slots=True, kw_only=True)
class FlutterLine(_Checked):
    """Sinusoidal speed deviation of peak ``amount`` [-] at ``frequency``; phase of the sine at needle-down."""

    frequency: Annotated[float, Q("Hz", 0.01, 400.0)]
    amount: Annotated[float, Q("1", 0.0, 0.1)]
    phase: Angle = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Stylus(_Checked):
    """A ball of ``radius`` [m] on each wall; ``full_scale_velocity``: groove velocity of one wall at reference value 1.

    Velocity is meant at 1 kHz, peak; the recording characteristic lifts the treble in the groove and the playback
    takes it down again, with the time constants given (fine groove: IEC 60098, 3180/318/75 us).
    """

    radius: Annotated[float, Q("m", 1e-6, 1e-4)] = 18e-6
    full_scale_velocity: Annotated[float, Q("m/s", 1e-3, 1.0)] = 0.1
    time_constants: tuple[float, float, float] = (3180e-6, 318e-6, 75e-6)

    def __post_init__(self) -> None:
        check(self)
        _three("Stylus.time_constants", self.time_constants)


@dataclass(frozen=True, slots=True, kw_only=True)
class Mistracking(_Checked):
    """Spit: bursts of noise where the programme above 4 kHz exceeds ``threshold_db`` re full scale (envelope)."""

    threshold_db: Decibel
    relative_db: Decibel = -6.0
    """Noise re the excess over the threshold."""
    axis: Axis = "right"


@dataclass(frozen=True, slots=True, kw_only=True)
class Crosstalk(_Checked):
    """Leakage between channels at 1 kHz [dB, below 0], changing by ``slope_db`` per octave (never above -3 dB)."""

    left_into_right_db: Annotated[float, Q("dB", -200.0, -3.0)] = -25.0
    right_into_left_db: Annotated[float, Q("dB", -200.0, -3.0)] = -25.0
    slope_db: Annotated[float, Q("dB", -12.0, 12.0)] = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Response(_Checked):
    """Wrong frequency response: zero-phase gain through ``points`` (Hz, dB), and equalisation played wrongly."""

    points: tuple[tuple[float, float], ...] = ()
    cut_with: tuple[float, float, float] | None = None
    """Time constants [s] (bass shelf, bass turnover, treble) of the recording ..."""
    played_with: tuple[float, float, float] | None = None
    """... and of the playback; both or neither."""

    def __post_init__(self) -> None:
        _three("Response.cut_with", self.cut_with)
        _three("Response.played_with", self.played_with)
        if (self.cut_with is None) != (self.played_with is None):
            raise InputError("Response needs both cut_with and played_with, or neither")
        if any(b[0] <= a[0] for a, b in zip(self.points, self.points[1:], strict=False)):
            raise InputError("the frequencies of Response.points must rise")


@dataclass(frozen=True, slots=True, kw_only=True)
class Rumble(_Checked):
    """Low random noise of the drive between two frequencies: rms of each channel re full scale."""

    level_db: Decibel
    lower: Annotated[float, Q("Hz", 0.5, 200.0)] = 8.0
    upper: Annotated[float, Q("Hz", 1.0, 400.0)] = 60.0
    vertical_share: Annotated[float, Q("", 0.0, 1.0)] = 0.7
    """Share of the power that is vertical."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Hum(_Checked):
    """Mains and its harmonics in both channels; ``level_db``: rms of the whole family re full scale."""

    level_db: Decibel
    frequency: Annotated[float, Q("Hz", 10.0, 500.0)] = 50.0
    harmonics_db: tuple[float, ...] = (0.0, -6.0, -3.0, -15.0, -10.0, -20.0)
    """Level of harmonic 1, 2, 3 ... among each other."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Jump(_Checked):
    """A jump of whole turns, +1 forward, -1 back, when the stylus has reached ``programme_time``; with its click."""

    programme_time: Seconds
    turns: Annotated[int, Q("", -50, 50)]
    click_db: Level = None
    """Peak of the tick that the stylus makes, re full scale; None: none."""

    def __post_init__(self) -> None:
        check(self)
        if self.turns == 0:
            raise InputError("Jump.turns must not be 0: +1 skips forward one turn, -1 goes back one turn")


@dataclass(frozen=True, slots=True, kw_only=True)
class Player(_Checked):
    """The machine: arm, speed, what swings with the platter, stylus and channels."""

    arm: Arm = field(default_factory=LeaningArm)
    elevation: Annotated[float, Q("rad", -0.5, 0.5)] = 0.05
    """Angle at which the arm's pivot stands above the stylus, a; matters only with a warp."""
    speed: Annotated[float, Q("1", -0.25, 0.25)] = 0.0
    """Platter faster than nominal by this fraction."""
    drift: Annotated[float, Q("1", -1e-3, 1e-3)] = 0.0
    """Change of speed per second, fraction."""
    slow_start: SlowStart | None = None
    wow: RandomWow | None = None
    flutter: tuple[FlutterLine, ...] = ()
    swing: Annotated[float, Q("1", 0.0, 0.05)] = 0.0
    """Peak once-a-turn speed deviation that stays with the platter."""
    swing_direction: Angle = 0.0
    """On the platter; the swing acts like an offset of swing times radius in this direction."""
    run_out: Annotated[float, Q("m", 0.0, 2e-3)] = 0.0
    """Distance from the spindle's centre to the axis the platter turns about."""
    run_out_direction: Angle = 0.0
    """On the platter, from spindle centre to axis."""
    jumps: tuple[Jump, ...] = ()
    """In the order in which they happen."""
    stylus: Stylus | None = None
    mistracking: Mistracking | None = None
    crosstalk: Crosstalk | None = None
    response: Response | None = None
    gain_db: Annotated[float, Q("dB", -120.0, 40.0)] = 0.0
    balance_db: Annotated[float, Q("dB", -60.0, 60.0)] = 0.0
    """Left minus right."""
    channels: Channels = "straight"
    polarity: Annotated[int, Q("", -1, 1)] = 1
    rumble: Rumble | None = None
    hum: Hum | None = None

    def __post_init__(self) -> None:
        check(self)
        if self.polarity == 0:
            raise InputError("Player.polarity must be 1 or -1")


@dataclass(frozen=True, slots=True, kw_only=True)
class Placing(_Checked):
    """How the disc lies: ``turned`` counter-clockwise on the platter; pushed by ``slack`` against the spindle.

    Slack runs from hole centre to spindle centre, in the disc's frame.
    """

    turned: Angle = 0.0
    slack: Annotated[float, Q("m", 0.0, 1e-3)] = 0.0
    slack_direction: Angle = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Dropout(_Checked):
    """Samples lost between two capture times [s]: ``level_db`` None is digital silence, else that gain."""

    start: PositiveSeconds
    end: PositiveSeconds
    level_db: Level = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Recorder(_Checked):
    """How the capture is taken and stored."""

    silence: PositiveSeconds = 0.0
    """Seconds before the needle is down: hum only."""
    lead_in: PositiveSeconds = 2.0
    """Programme seconds of unmodulated groove before programme time 0."""
    late_needle: PositiveSeconds = 0.0
    """Programme time at which the needle comes down instead of in the lead-in."""
    lead_out: PositiveSeconds = 2.0
    """Programme seconds of unmodulated groove after the end."""
    stop_at: Annotated[float | None, Q("s", 0.0)] = None
    """Programme time at which the capture ends early."""
    clip_db: Level = None
    """Largest value the converter holds, re full scale."""
    bits: Annotated[int | None, Q("", 2, 32)] = None
    """Round to this word length (triangular dither of one step)."""
    dropouts: tuple[Dropout, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Play:
    """One playing of one side, everything that shapes the capture."""

    disc: Disc
    player: Player = field(default_factory=Player)
    placing: Placing = field(default_factory=Placing)
    recorder: Recorder = field(default_factory=Recorder)

    @property
    def played_axis(self) -> complex:
        """From groove centre to the axis really turned about [m], disc's frame: offset + slack + run-out."""
        place, player = self.placing, self.player
        shift = player.run_out_direction - place.turned
        return (
            self.disc.axis
            + place.slack * complex(cos(place.slack_direction), sin(place.slack_direction))
            + player.run_out * complex(cos(shift), sin(shift))
        )
