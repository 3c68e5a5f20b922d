"""Scenes for what is heard in the difference: ticks, trains, zones and thumps; levels and response; and nothing at all.

Every draw has a stylus that traces as a ball does, crosstalk and rumble: what a plain render leaves out.
"""

from dataclasses import dataclass
from math import log10, pi
from typing import Any

import numpy as np
from numpy.typing import NDArray

from bench.scenes import HOLE, MUSIC, SPINDLE
from runtrue.demo.composer import compose
from runtrue.disc.arm import Arm
from runtrue.forward import (
    Crosstalk,
    Disc,
    Hum,
    LeaningArm,
    Play,
    Player,
    Pulse,
    RandomWow,
    Recorder,
    Rumble,
    Stylus,
    Surface,
    Thump,
    Tick,
    Train,
    TrebleLoss,
    Zone,
)
from runtrue.forward.sound import Rendered, render
from runtrue.listen.setting import Setting
from runtrue.signal.weighting import weigh

Float32 = NDArray[np.float32]
KINDS = ("faults", "levels", "clean")
RATE = 48_000
SURFACE_DB = -50.0
_SPEEDS = {33: 100.0 / 180.0, 45: 0.75, 78: 78.26 / 60.0}
_RADII = {33: (0.062, 0.146), 45: (0.056, 0.084), 78: (0.055, 0.121)}
_PITCH = {33: 0.125e-3, 45: 0.16e-3, 78: 0.26e-3}


@dataclass(frozen=True, slots=True, kw_only=True)
class Trial:
    """One render, drawn from its seed where it is made."""

    kind: str
    character: str
    seed: int
    seconds: float = 40.0

    def label(self) -> str:
        """Enough to run it again."""
        return f"{self.kind} {self.character} seed {self.seed} {self.seconds:g} s"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Made:
    """A trial made: the reference, what was rendered, what the listening test is told."""

    reference: Float32
    rendered: Rendered
    setting: Setting


def make(trial: Trial) -> Made:
    """Compose, draw, render."""
    rng = np.random.default_rng([trial.seed, 31])
    reference = compose(trial.character, trial.seconds, trial.seed, RATE)
    rpm = 33 if trial.kind == "levels" else int(rng.choice([33, 33, 45, 78]))
    frequency = _SPEEDS[rpm]
    inner, outer = _RADII[rpm]
    width = frequency * trial.seconds * _PITCH[rpm]
    start = float(rng.uniform(inner + width, outer))
    end = start - width
    if trial.kind == "levels":
        start, end = 0.146, 0.066  # a whole side's radii on a short one
    lathe = float(rng.normal(0.0, 1e-4 / 1.96))
    level = 10.0 * log10(float(np.mean(np.square(reference, dtype=np.float64)))) + SURFACE_DB
    turn = 1.0 / (frequency * (1.0 + lathe))
    common: dict[str, Any] = {
        "turn_frequency": frequency, "start_radius": start, "end_radius": end, "lathe_error": lathe,
        "offset": float(np.exp(rng.uniform(np.log(20e-6), np.log(300e-6)))), "direction": float(rng.uniform(0.0, 6.28)),
    }  # fmt: skip
    player: dict[str, Any] = {
        "arm": LeaningArm(angle=0.35), "speed": float(rng.uniform(-0.004, 0.004)),
        "wow": RandomWow(density=float(np.exp(rng.uniform(np.log(5e-6), np.log(4e-5))))), "stylus": Stylus(),
        "crosstalk": Crosstalk(left_into_right_db=float(rng.uniform(-30, -22)), slope_db=1.5),
        "rumble": Rumble(level_db=level + float(rng.uniform(-5.0, 10.0))),
    }  # fmt: skip
    faults: dict[str, Any] = _faults(rng, trial.seconds, reference, level, turn) if trial.kind == "faults" else {}
    surface = Surface(level_db=level, swish_db=float(rng.uniform(0.0, 2.0)), swish_direction=float(rng.uniform(0, 6)))
    if trial.kind == "levels":
        surface = Surface(level_db=level + float(rng.uniform(-6, 12)), swish_db=float(rng.uniform(0.0, 8.0)),
                          swish_direction=float(rng.uniform(0.0, 6.28)))  # fmt: skip
        faults = {"treble_loss": TrebleLoss(wavelength=float(rng.uniform(4e-6, 14e-6)))}
        player |= {
            "hum": Hum(level_db=level + float(rng.uniform(-8.0, 6.0)), frequency=float(rng.choice([50.0, 60.0])))
        }
    disc = Disc(**common, surface=surface, **faults)
    play = Play(
        disc=disc,
        player=Player(**player),
        recorder=Recorder(lead_in=1.5, lead_out=1.0),
    )
    setting = Setting(
        turn_frequency=frequency, start_radius=start, start_radius_u95=1e-4, end_radius=end, end_radius_u95=1e-4,
        pitch=_PITCH[rpm], pitch_spread=0.3, arm=Arm(offset=0.35), player_swing=0.0, hole=HOLE, spindle=SPINDLE,
    )  # fmt: skip
    return Made(reference=reference, rendered=render(reference, RATE, play, seed=trial.seed), setting=setting)


def _faults(rng: np.random.Generator, seconds: float, reference: Float32, level: float, turn: float) -> dict[str, Any]:
    """A zone and a train that keep apart, thumps, and ticks between; heights over the local surface noise."""
    turns = int(rng.integers(5, min(14, max(6, int(0.4 * seconds / turn)))))
    first = float(rng.uniform(0.05, 0.3)) * seconds
    arc = float(rng.uniform(40.0, 180.0))
    begin = float(rng.uniform(0.0, 360.0))
    start = (np.ceil(first / turn) + begin / 360.0) * turn - 0.02 * turn
    axis = str(rng.choice(["right", "right", "left", "lateral", "vertical"]))
    zone = Zone(
        start=start, end=start + (turns - 1) * turn + (arc / 360.0 + 0.04) * turn, from_angle=begin * pi / 180.0,
        to_angle=(begin + arc) * pi / 180.0, axis=axis,  # type: ignore[arg-type]
        level_db=level + _in_band_db() + float(rng.uniform(10.0, 25.0)),
    )  # fmt: skip
    late = zone.end + 1.0
    count = min(int(rng.integers(4, 16)), max(4, int((seconds - late - 1.0) / turn)))
    train = Train(
        programme_time=late + float(rng.uniform(0.0, 1.0)), count=count, drift=float(rng.uniform(-0.02, 0.02)),
        peak_db=level + float(rng.uniform(22.0, 40.0)), jitter=float(rng.uniform(0.0, 2e-4)),
        axis=str(rng.choice(["lateral", "left", "right"])),  # type: ignore[arg-type]
    )  # fmt: skip
    ticks = [
        Tick(
            programme_time=float(at), peak_db=level + float(rng.uniform(5.0, 40.0)),
            axis=str(rng.choice(["lateral", "vertical", "left", "right"])),  # type: ignore[arg-type]
            sign=int(rng.choice([-1, 1])),
            pulse=Pulse(width=float(np.exp(rng.uniform(np.log(10e-6), np.log(60e-6)))),
                        resonance=float(rng.uniform(2000.0, 12_000.0)),
                        decay=float(np.exp(rng.uniform(np.log(40e-6), np.log(400e-6))))),
        )
        for at in np.arange(0.7, seconds - 0.7, 1.3) + rng.uniform(-0.4, 0.4, len(np.arange(0.7, seconds - 0.7, 1.3)))
    ]  # fmt: skip
    at = float(rng.uniform(0.4, 0.6)) * seconds
    thumps = tuple(
        Thump(programme_time=at + k * turn, peak_db=level + 32.0, width=float(rng.uniform(10e-3, 20e-3)))
        for k in range(int(rng.integers(1, 5)))
    )
    return {"zones": (zone,), "trains": (train,), "ticks": tuple(ticks), "thumps": thumps}


def _in_band_db() -> float:
    """Rms of the vinyl surface from 1 to 16 kHz re its rms above 200 Hz (the maker's own shape)."""
    from runtrue.forward.surface import Noise

    noise = Noise("vinyl", float(RATE), 1, (1,), channels=1).block(0, 4 * RATE)[0]

    def band(f: NDArray[np.float64], low: float, high: float) -> NDArray[np.float64]:
        return np.where((np.asarray(f) >= low) & (np.asarray(f) <= high), 0.0, -200.0)

    parts = [weigh(noise, lambda f, b=b: band(f, *b), rate=RATE) for b in ((1000.0, 16e3), (200.0, 24e3))]  # type: ignore[misc]
    return 10.0 * log10(float(np.mean(parts[0] ** 2) / np.mean(parts[1] ** 2)))


def characters() -> tuple[str, ...]:
    """All music that is programme."""
    return MUSIC
