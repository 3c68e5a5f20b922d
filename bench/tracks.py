"""Off-centre from delay tracks without sound: whether the circle holds the truth as often as it says.

Twenty homogeneous classes; within one only offset direction, lathe error, wow and errors of the delays are drawn anew.
"""

from dataclasses import dataclass
from math import pi, radians

import numpy as np

from runtrue.disc.arm import Arm
from runtrue.forward import Disc, LeaningArm, Play, Player, RandomWow, Recorder, delay_tracks
from runtrue.listen.centre import BINS_PER_TURN, Track, fit_centre
from runtrue.listen.setting import Setting

PLAYER_SWING = 2e-4
"""Radius that holds the player's own swing with 95 % where it is unknown [-]."""
_LATHE_SD = 1e-4 / 1.96
_CIRCLE_95 = 2.447747


@dataclass(frozen=True, slots=True, kw_only=True)
class TrackClass:
    """A homogeneous class: ``count`` tracks that differ by chance only."""

    seed: int
    count: int
    swing: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class TrackResult:
    """Per track: error and circle [m], and over the class the circle that the swing's prior implies [m]."""

    errors: tuple[float, ...]
    circles: tuple[float, ...]
    separated: int
    implied: float
    name: str

    @property
    def covered(self) -> int:
        """Tracks whose circle holds the truth."""
        return sum(e <= c for e, c in zip(self.errors, self.circles, strict=True))


def run(which: TrackClass) -> TrackResult:
    """Make and fit the tracks of one class."""
    rng = np.random.default_rng([which.seed, 3])
    rpm = float(rng.choice([100.0 / 3.0, 45.0, 78.26]))
    duration = 60.0 if which.swing else float(rng.choice([60.0, 90.0, 120.0]))
    quietest = 1e-5 if which.swing else 3e-6
    frequency = rpm / 60.0
    start = float(rng.uniform(0.085, 0.146))
    end = start - frequency * duration * 0.15e-3
    offset = float(np.exp(rng.uniform(np.log(20e-6), np.log(500e-6))))
    lean = float(rng.uniform(0.0, radians(24.0)))
    wow = RandomWow(
        density=float(np.exp(rng.uniform(np.log(quietest), np.log(1e-4)))), slope=float(rng.uniform(-1.2, 0.3))
    )
    sigma = float(np.exp(rng.uniform(np.log(0.3e-6), np.log(20e-6))))
    correlation = float(rng.choice([0.0, 0.0, 0.5]))
    step = 1.0 / (frequency * BINS_PER_TURN)
    setting = Setting(
        turn_frequency=frequency, start_radius=start, start_radius_u95=1e-4, end_radius=end, end_radius_u95=1e-4,
        pitch=1.25e-4, pitch_spread=0.3, arm=Arm(offset=lean), player_swing=PLAYER_SWING if which.swing else 0.0,
        hole=(7.24e-3, 7.33e-3), spindle=(7.05e-3, 7.15e-3),
    )  # fmt: skip
    errors, circles, separated = [], [], 0
    for k in range(which.count):
        play = Play(
            disc=Disc(
                turn_frequency=frequency, start_radius=start, end_radius=end,
                lathe_error=float(rng.normal(0.0, _LATHE_SD)),
            ),
            player=Player(arm=LeaningArm(angle=lean), wow=wow, speed=float(rng.uniform(-0.004, 0.004))),
            recorder=Recorder(lead_in=2.0),
        )  # fmt: skip
        axis = offset * np.exp(2j * pi * rng.random())
        own = PLAYER_SWING / _CIRCLE_95 * complex(*rng.standard_normal(2)) if which.swing else 0.0
        made = delay_tracks(
            play, duration, 1, axis=[axis], swing=[own], step=step, sigma=sigma, correlation=correlation,
            seed=which.seed * 10_000 + k,
        )  # fmt: skip
        programme = made.delay[0] + made.capture_time
        inside = (programme > 0.0) & (programme < duration)
        track = Track(
            step=step, capture=made.capture_time[inside], programme=programme[inside],
            run=np.zeros(int(inside.sum()), dtype=np.int64), turned=programme[inside],
        )  # fmt: skip
        centre = fit_centre(track, setting, duration=duration).centre
        separated += bool(centre.separated)
        if centre.played is None:
            errors.append(float("inf"))
            circles.append(0.0)
            continue
        errors.append(abs(complex(centre.played.x, centre.played.y) - axis))
        circles.append(centre.played.u95)
    return TrackResult(
        errors=tuple(errors), circles=tuple(circles), separated=separated, implied=PLAYER_SWING * 0.5 * (start + end),
        name=f"seed {which.seed}: {rpm:.0f} rpm {duration:.0f} s offset {offset * 1e6:.0f} um wow {wow.density:.0e} "
        f"slope {wow.slope:.1f} delay error {sigma * 1e6:.1f} us",
    )  # fmt: skip
