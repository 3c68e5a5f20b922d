"""A small render judged: what the truth tests of the listening test share."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from math import radians
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
from numpy.typing import NDArray

from runtrue.capture import sound_from_array
from runtrue.demo.composer import compose
from runtrue.disc.arm import Arm
from runtrue.forward import Cut, Disc, LeaningArm, Play, Player, RandomWow, Recorder, Surface, Tick, Train
from runtrue.forward.sound import Rendered, render
from runtrue.listen import hear
from runtrue.listen.heard import Heard
from runtrue.listen.setting import Setting
from runtrue.types import silent

Stereo = NDArray[np.float32]
RATE = 48_000
LEAN = radians(22.0)
F33 = 100.0 / 180.0


@cache
def piece(character: str, seconds: float, seed: int = 1, rate: int = RATE) -> Stereo:
    """Composed music, made once."""
    return compose(character, seconds, seed, rate)


def level_db(sound: Stereo) -> float:
    """Rms re full scale, mean power of left and right."""
    return float(10.0 * np.log10(np.mean(np.square(sound, dtype=np.float64))))


def record(
    sound: Stereo,
    *,
    turn_frequency: float = F33,
    seconds: float,
    offset: float = 80e-6,
    direction: float = 2.0,
    lathe_error: float = 4e-5,
    ticks: Sequence[Tick] = (),
    trains: Sequence[Train] = (),
    cuts: Sequence[Cut] = (),
) -> Disc:
    """A disc of ``sound`` with surface noise 50 dB below the programme and a start radius of 100 mm."""
    return Disc(
        turn_frequency=turn_frequency, start_radius=0.1, end_radius=_end(turn_frequency, seconds), offset=offset,
        direction=direction, lathe_error=lathe_error, surface=Surface(level_db=level_db(sound) - 50.0),
        ticks=tuple(ticks), trains=tuple(trains), cuts=tuple(cuts),
    )  # fmt: skip


def _end(turn_frequency: float, seconds: float) -> float:
    return 0.1 - 0.15e-3 * turn_frequency * seconds


def rig(**changes: object) -> Player:
    """A pivoted arm at 22 deg, 0.15 % fast, with a little random wow."""
    usual = {"arm": LeaningArm(angle=LEAN), "speed": 0.0015, "wow": RandomWow(density=1e-5, slope=-0.5)}
    return Player(**{**usual, **changes})  # type: ignore[arg-type]


@dataclass(frozen=True, slots=True, kw_only=True)
class Listened:
    """What was made and what was heard."""

    made: Rendered
    heard: Heard

    @property
    def vector_error(self) -> float:
        """|played - truth| [m]."""
        played = self.heard.centre.played
        assert played is not None, self.heard.centre.reason
        return abs(complex(played.x, played.y) - self.made.truth.played_axis)

    @property
    def circle(self) -> float:
        """U95 radius of the played vector [m]."""
        played = self.heard.centre.played
        assert played is not None, self.heard.centre.reason
        return played.u95

    def scalar(self, quantity: str) -> float:
        """Value of one measurement."""
        value = next(m.value for m in self.heard.scalars if m.quantity == quantity)
        assert value is not None, quantity
        return value


def setting(disc: Disc) -> Setting:
    """What the listening test is told about ``disc`` and the rig."""
    assert disc.end_radius is not None
    return Setting(
        turn_frequency=disc.turn_frequency, start_radius=disc.start_radius, start_radius_u95=1e-4,
        end_radius=disc.end_radius, end_radius_u95=1e-4, pitch=0.15e-3, pitch_spread=0.3, arm=Arm(offset=LEAN),
        player_swing=0.0, hole=(7.24e-3, 7.33e-3), spindle=(7.05e-3, 7.15e-3),
    )  # fmt: skip


def listen(
    reference: Stereo,
    disc: Disc,
    player: Player | None = None,
    recorder: Recorder | None = None,
    *,
    pressed: Stereo | None = None,
    seed: int = 7,
    rate: int = RATE,
    capture_rate: int | None = None,
) -> Listened:
    """Render ``pressed`` (``reference`` if not given) with its faults and judge it against ``reference``."""
    play = Play(disc=disc, player=player or rig(), recorder=recorder or Recorder(lead_in=1.5, lead_out=1.0))
    made = render(reference if pressed is None else pressed, rate, play, seed=seed, capture_rate=capture_rate)
    with TemporaryDirectory() as folder:
        heard = hear(
            sound_from_array(made.capture, made.rate), sound_from_array(reference, rate),
            setting(disc), workspace=Path(folder), progress=silent,
        )  # fmt: skip
    return Listened(made=made, heard=heard)
