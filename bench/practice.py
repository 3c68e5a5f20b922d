"""The practice captures, made by another maker, where they lie beside the repository."""

import json
from dataclasses import dataclass
from math import radians
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np

from runtrue.capture import open_sound
from runtrue.disc.arm import Arm
from runtrue.listen import hear
from runtrue.listen.heard import ChannelOrder, Identity
from runtrue.listen.setting import Setting
from runtrue.types import silent

FOLDER = Path(__file__).parents[2] / "shared" / "practice"
NAMES = ("plain", "arm_quiet", "jump_zone", "seven_inch", "shellac_mono")
_VECTOR_M = 5e-6
_FOUND_S = 1e-3


@dataclass(frozen=True, slots=True, kw_only=True)
class PracticeResult:
    """One capture against its truth."""

    name: str
    found: str
    passed: bool


def present() -> bool:
    """Whether the captures are there."""
    return all((FOLDER / name / "truth.json").is_file() for name in NAMES)


def run(name: str) -> PracticeResult:
    """Judge one capture with radii and arm of its truth and no swing of the player."""
    folder = FOLDER / name
    truth = json.loads((folder / "truth.json").read_text())
    setting = Setting(
        turn_frequency=truth["rpm"] / 60.0, start_radius=truth["r_start_mm"] * 1e-3, start_radius_u95=1e-4,
        end_radius=truth["end_radius_mm"] * 1e-3, end_radius_u95=1e-4, pitch=truth["pitch_mm"] * 1e-3,
        pitch_spread=0.3, arm=Arm(offset=radians(truth["arm_offset_deg"])), player_swing=0.0,
        hole=(7.24e-3, 7.33e-3), spindle=(7.05e-3, 7.15e-3),
    )  # fmt: skip
    with TemporaryDirectory() as work:
        heard = hear(
            open_sound(folder / "capture.flac"), open_sound(folder / "reference.flac"), setting,
            workspace=Path(work), progress=silent,
        )  # fmt: skip
    programme = heard.programme
    played = heard.centre.played
    true = 1e-6 * truth["ecc_um"] * np.exp(1j * np.radians(truth["ecc_deg"]))
    error = float("inf") if played is None else abs(complex(played.x, played.y) - true)
    made = np.array([t["t_programme"] for t in truth["ticks"]])
    got = np.array([t.programme_time for t in heard.ticks or ()])
    found = sum(bool(len(got)) and bool(np.abs(got - t).min() < _FOUND_S) for t in made)
    false = sum(not len(made) or bool(np.abs(made - t).min() > 3.0 * _FOUND_S) for t in got)
    outside = sum(
        not _in_zone(t, truth) and (not len(made) or bool(np.abs(made - t).min() > 3.0 * _FOUND_S)) for t in got
    )
    jumps = [(j.programme_time, j.turns) for j in programme.jumps or ()]
    wanted = [(j["t"], j["turns"]) for j in truth["jumps"]]
    same_jumps = len(jumps) == len(wanted) and all(
        abs(a - b) < 0.1 and m == n for (a, m), (b, n) in zip(jumps, wanted, strict=True)
    )
    order = ChannelOrder.SWAPPED if truth["swapped"] else ChannelOrder.STRAIGHT
    scratches = sum(t["kind"] == "scratch" for t in truth["ticks"])
    trains = heard.trains or ()
    right = (
        programme.identity is Identity.SAME
        and error < _VECTOR_M
        and same_jumps
        and programme.polarity == truth["polarity"]
        and (programme.channels is order or programme.channels is ChannelOrder.MONO)
        and bool(trains) == (scratches > 0)
    )
    circle = float("nan") if played is None else played.u95
    return PracticeResult(
        name=name,
        found=f"vector {error * 1e6:.2f} um off (U95 {circle * 1e6:.2f}), ticks {found} of {len(made)}, other events "
        f"{false} ({outside} outside noise zones), jumps {jumps or 'none'}, "
        f"polarity {programme.polarity}, {programme.channels}, trains of {[len(t.members) for t in trains]}",
        passed=right,
    )


def _in_zone(t: float, truth: dict[str, list[dict[str, float]]]) -> bool:
    return any(z["t0"] - 0.1 <= t <= z["t1"] + 0.1 for z in truth["fill"])
