"""What is rendered: a scene is a piece of composed music, a disc, a player and a recorder, all drawn from one seed."""

from dataclasses import dataclass
from math import log10, pi, radians

import numpy as np
from numpy.typing import NDArray

from runtrue.demo.composer import CHARACTERS, compose
from runtrue.disc.arm import Arm
from runtrue.forward import (
    Cut,
    Disc,
    Jump,
    LeaningArm,
    PivotedArm,
    Play,
    Player,
    Pulse,
    RandomWow,
    Recorder,
    Surface,
    Tick,
)
from runtrue.forward.sound import Rendered, render
from runtrue.listen.setting import Setting

MUSIC = tuple(c for c in CHARACTERS if c != "steady_tone")
"""Characters that are programme: the steady tone holds nothing by which a place could be known."""
FAULTS = ("clean", "other", "swapped", "inverted", "early", "late", "jumps", "edit")
SURFACE_DB = -50.0
"""Surface noise re the programme's rms [dB]."""
HOLE, SPINDLE = (7.24e-3, 7.33e-3), (7.05e-3, 7.15e-3)
CELL_S = 0.1
Levels = NDArray[np.float64]
_SPEEDS = {33: 100.0 / 180.0, 45: 0.75, 78: 78.26 / 60.0}
_RADII = {33: (0.062, 0.146), 45: (0.056, 0.084), 78: (0.055, 0.121)}
_PITCH = {33: 0.125e-3, 45: 0.16e-3, 78: 0.26e-3}
_OVERHUNG = (0.230, 0.0165)


@dataclass(frozen=True, slots=True, kw_only=True)
class Scene:
    """One render: everything but the samples, small enough to be sent to another process."""

    kind: str
    character: str
    seconds: float
    seed: int
    rate: int
    capture_rate: int
    play: Play
    arm: Arm
    end_radius: float
    other: tuple[str, int] | None = None
    """Character and seed of what is really on the disc when it is another title."""

    @property
    def mono(self) -> bool:
        """Whether both channels of the reference are the same."""
        return self.character in {"mono", "bass"}

    def setting(self, *, player_swing: float = 0.0) -> Setting:
        """What the listening test is told about this scene."""
        disc = self.play.disc
        return Setting(
            turn_frequency=disc.turn_frequency, start_radius=disc.start_radius, start_radius_u95=1e-4,
            end_radius=self.end_radius, end_radius_u95=1e-4, pitch=_PITCH[33], pitch_spread=0.3, arm=self.arm,
            player_swing=player_swing, hole=HOLE, spindle=SPINDLE,
        )  # fmt: skip

    def reference(self) -> np.ndarray[tuple[int, ...], np.dtype[np.float32]]:
        """The side as it should sound, (frames, 2)."""
        return compose(self.character, self.seconds, self.seed, self.rate)

    def make(self) -> Rendered:
        """Compose what is on the disc and render its capture."""
        character, seed = self.other or (self.character, self.seed)
        pressed = compose(character, self.seconds, seed, self.rate)
        return render(pressed, self.rate, self.play, seed=self.seed, capture_rate=self.capture_rate)

    def label(self) -> str:
        """Enough to run it again."""
        return f"{self.kind} {self.character} seed {self.seed}"


def draw(kind: str, character: str, seed: int, *, seconds: float = 60.0) -> Scene:
    """Draw the scene ``seed`` of ``kind``: "measure" (off-centre, speed, ticks) or one of ``FAULTS``."""
    rng = np.random.default_rng([seed, 77])
    rpm = int(rng.choice([33, 33, 45, 78]))
    rate = int(rng.choice([44_100, 48_000, 48_000]))
    capture_rate = int(rng.choice([44_100, 48_000, 96_000])) if rng.random() < 0.5 else rate
    frequency = _SPEEDS[rpm]
    inner, outer = _RADII[rpm]
    width = frequency * seconds * _PITCH[rpm]
    start = float(rng.uniform(inner + width, outer))
    if rng.random() < 0.5:
        lean = float(rng.uniform(0.0, radians(24.0)))
        maker_arm: LeaningArm | PivotedArm = LeaningArm(angle=lean)
        arm = Arm(offset=lean)
    else:
        maker_arm = PivotedArm.from_overhang(*_OVERHUNG)
        arm = Arm(length=_OVERHUNG[0], overhang=_OVERHUNG[1])
    speed = float(rng.uniform(-0.06, 0.06)) if rng.random() < 0.4 else float(rng.uniform(-0.004, 0.004))
    wow = RandomWow(density=float(np.exp(rng.uniform(np.log(5e-6), np.log(4e-5)))), slope=float(rng.uniform(-1.0, 0.0)))
    offset = float(np.exp(rng.uniform(np.log(20e-6), np.log(500e-6))))
    lathe = float(rng.normal(0.0, 1e-4 / 1.96))
    levels = levels_of(compose(character, seconds, seed, rate), rate)
    level = 10.0 * log10(float(np.mean(10.0 ** (levels / 10.0)))) + SURFACE_DB
    turn = 1.0 / (frequency * (1.0 + lathe))
    change = _change(kind, _Places(levels, rng), turn, character)
    ticks = _ticks(rng, seconds, level, 12) if kind == "measure" else ()
    return Scene(
        kind=kind, character=character, seconds=seconds, seed=seed, rate=rate, capture_rate=capture_rate, arm=arm,
        end_radius=start - width, other=change.other,
        play=Play(
            disc=Disc(
                turn_frequency=frequency, start_radius=start, end_radius=start - width, lathe_error=lathe,
                offset=offset, direction=float(rng.uniform(0.0, 2.0 * pi)), surface=Surface(level_db=level),
                ticks=ticks, cuts=change.cuts,
            ),
            player=Player(
                arm=maker_arm, speed=speed, wow=wow, jumps=change.jumps,
                channels="swapped" if kind == "swapped" else "straight", polarity=-1 if kind == "inverted" else 1,
            ),
            recorder=Recorder(
                lead_in=float(rng.uniform(0.5, 5.0)), late_needle=change.late, stop_at=change.stop,
                lead_out=float(rng.uniform(0.5, 3.0)), silence=float(rng.uniform(0.0, 2.0)),
            ),
        ),
    )  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class _Change:
    """What sets a faulty scene apart from a clean one."""

    other: tuple[str, int] | None = None
    late: float = 0.0
    stop: float | None = None
    jumps: tuple[Jump, ...] = ()
    cuts: tuple[Cut, ...] = ()


@dataclass(frozen=True, slots=True)
class _Places:
    """Draws places in the programme at which it is loud enough to hear what happens there."""

    levels: Levels
    rng: np.random.Generator

    @property
    def seconds(self) -> float:
        return len(self.levels) * CELL_S

    def draw(self, low: float, high: float, reach: float = 0.5) -> float:
        """A time between two shares of the programme, ``reach`` [s] before and behind it audible.

        Where there is none, that of the place whose surroundings are audible for longest.
        """
        clear = audible(self.levels)
        width = round(reach / CELL_S)
        cells = np.arange(int(low * len(clear)), max(int(low * len(clear)) + 1, int(high * len(clear))))
        heard = np.array([clear[max(0, c - width) : c + width + 1].mean() for c in cells])
        best = cells[heard == heard.max()]
        return float(self.rng.choice(best) + self.rng.random()) * CELL_S


def levels_of(sound: np.ndarray[tuple[int, ...], np.dtype[np.float32]], rate: int) -> Levels:
    """Level of each cell of ``CELL_S`` [dB re full scale, mean of the channels]."""
    width = round(CELL_S * rate)
    cells = sound[: len(sound) // width * width].reshape(-1, width * sound.shape[1])
    return np.asarray(10.0 * np.log10(np.mean(np.square(cells, dtype=np.float64), axis=1) + 1e-12))


def audible(levels: Levels) -> NDArray[np.bool_]:
    """Cells at least 10 dB above the surface noise."""
    return np.asarray(levels > 10.0 * np.log10(np.mean(10.0 ** (levels / 10.0))) + SURFACE_DB + 10.0)


def _change(kind: str, places: _Places, turn: float, character: str) -> _Change:
    rng = places.rng
    if kind == "other":
        title = str(rng.choice([c for c in MUSIC if c != "quiet"])) if rng.random() < 0.5 else character
        return _Change(other=(title, int(rng.integers(10**6, 10**7))))
    if kind == "late":
        return _Change(late=places.draw(0.1, 0.4))
    if kind == "early":
        return _Change(stop=places.draw(0.6, 0.9))
    if kind == "jumps":
        way = int(rng.choice([-1, 1]))
        first, second = places.draw(0.2, 0.45, 0.5 + turn), places.draw(0.55, 0.8, 0.5 + turn)
        return _Change(jumps=(Jump(programme_time=first, turns=way), Jump(programme_time=second, turns=-way)))
    if kind == "edit":
        # no whole number of turns
        skipped = (int(rng.integers(0, 4)) + float(rng.uniform(0.15, 0.85))) * turn
        at = places.draw(0.3, 0.6)
        return _Change(cuts=(Cut(start=at, end=at + skipped),))
    return _Change()


def _ticks(rng: np.random.Generator, seconds: float, surface_db: float, count: int) -> tuple[Tick, ...]:
    """Ticks of many shapes, at least 0.5 s apart, 5 to 45 dB above the surface noise."""
    cell = (seconds - 2.0) / count
    places = 1.0 + cell * (np.arange(count) + 0.5)
    half = 0.5 * cell - 0.25
    return tuple(
        Tick(
            programme_time=float(at + rng.uniform(-half, half)),
            peak_db=surface_db + float(rng.uniform(5.0, 45.0)),
            axis=str(rng.choice(["lateral", "vertical", "left", "right"])),  # type: ignore[arg-type]
            sign=int(rng.choice([-1, 1])),
            pulse=Pulse(
                width=float(np.exp(rng.uniform(np.log(10e-6), np.log(60e-6)))),
                resonance=float(rng.uniform(2000.0, 12000.0)),
                decay=float(np.exp(rng.uniform(np.log(40e-6), np.log(400e-6)))),
            ),
        )
        for at in places
    )
