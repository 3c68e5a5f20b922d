"""A rig file into a frozen ``Rig``: arm, platter, channels, calibration, stylus of one bench."""

from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Literal

from pydantic import Field

from runtrue.disc.arm import Arm
from runtrue.errors import InputError
from runtrue.units import DEG, MM, PERCENT, UM
from runtrue.workflow.toml_file import Day, Strict, load_toml


class _Head(Strict):
    name: Annotated[str, Field(min_length=1)]
    owner: Annotated[str, Field(min_length=1)]
    date: Day


class _Arm(Strict):
    length_mm: float | None = None
    overhang_mm: float | None = None
    offset_deg: float | None = None
    tangential: bool = False
    pivot_elevation_deg: Annotated[float, Field(ge=-20.0, le=20.0)] | None = None


class _Platter(Strict):
    player_swing_percent: Annotated[float, Field(ge=0.0, le=5.0)] | None = None
    spindle_mm: Annotated[float, Field(gt=1.0, lt=60.0)] | None = None
    spindle_u95_mm: Annotated[float, Field(ge=0.0, lt=1.0)] = 0.0
    spindle_runout_um: Annotated[float, Field(ge=0.0, le=500.0)] = 0.0


class _Channels(Strict):
    left: Literal[0, 1] = 0
    right: Literal[0, 1] = 1


class _Level(Strict):
    velocity_cm_s: Annotated[float, Field(gt=0.0)]
    kind: Literal["peak", "rms"]
    axis: Literal["lateral", "vertical", "left", "right"]
    hz: Annotated[float, Field(gt=0.0)]
    dbfs: float
    date: Day


class _Calibration(Strict):
    level: _Level | None = None
    speed_u95_percent: Annotated[float, Field(gt=0.0)] | None = None


class _Stylus(Strict):
    id: str
    hours: Annotated[float, Field(ge=0.0)] | None = None


class _File(Strict):
    rig: _Head
    arm: _Arm = _Arm()
    platter: _Platter = _Platter()
    channels: _Channels = _Channels()
    calibration: _Calibration = _Calibration()
    stylus: _Stylus | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class LevelCalibration:
    """A known groove velocity [m/s] of ``kind`` on ``axis`` at ``frequency`` [Hz] reads ``level`` [dBFS]."""

    velocity: float
    kind: str
    axis: str
    frequency: float
    level: float
    date: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Rig:
    """One bench: SI units; None where the file says nothing. ``spindle`` least and largest diameter [m].

    ``left`` and ``right`` are the file's channels that carry the inner and the outer groove wall. ``speed_u95`` is how
    well the platter's speed is known [-]; where it is, speed judges the disc.
    """

    name: str
    owner: str
    date: str
    arm: Arm
    pivot_elevation: float | None = None
    player_swing: float | None = None
    spindle: tuple[float, float] | None = None
    spindle_runout: float = 0.0
    left: int = 0
    right: int = 1
    level: LevelCalibration | None = None
    speed_u95: float | None = None
    stylus: str | None = None
    stylus_hours: float | None = None

    @property
    def calibrated(self) -> frozenset[str]:
        """Quantities of the rig that are known well enough to judge a disc by them."""
        return frozenset({"speed_deviation"} if self.speed_u95 is not None else ())


def load_rig(path: Path) -> Rig:
    """Read a rig file; raises ``InputError`` with file, place and what is allowed."""
    file = load_toml(path, _File, "rig file")
    where = f"rig file {path}"
    platter, calibration, channels = file.platter, file.calibration, file.channels
    if channels.left == channels.right:
        raise InputError(f"{where}: [channels]: left and right are both channel {channels.left}; give two channels")
    spindle = platter.spindle_mm
    half = platter.spindle_u95_mm
    return Rig(
        name=file.rig.name,
        owner=file.rig.owner,
        date=file.rig.date,
        arm=_arm(file.arm, where),
        pivot_elevation=None if file.arm.pivot_elevation_deg is None else file.arm.pivot_elevation_deg * DEG,
        player_swing=None if platter.player_swing_percent is None else platter.player_swing_percent * PERCENT,
        spindle=None if spindle is None else ((spindle - half) * MM, (spindle + half) * MM),
        spindle_runout=platter.spindle_runout_um * UM,
        left=channels.left,
        right=channels.right,
        level=_level(calibration.level),
        speed_u95=None if calibration.speed_u95_percent is None else calibration.speed_u95_percent * PERCENT,
        stylus=file.stylus.id if file.stylus else None,
        stylus_hours=file.stylus.hours if file.stylus else None,
    )


def _arm(stated: _Arm, where: str) -> Arm:
    if stated.tangential:
        if (stated.offset_deg, stated.length_mm, stated.overhang_mm) != (None, None, None):
            raise InputError(f"{where}: [arm]: a tangential arm has no offset, length or overhang; remove them")
        return Arm(offset=0.0)
    try:
        return Arm(
            offset=None if stated.offset_deg is None else stated.offset_deg * DEG,
            length=None if stated.length_mm is None else stated.length_mm * MM,
            overhang=None if stated.overhang_mm is None else stated.overhang_mm * MM,
        )
    except InputError as error:
        raise InputError(f"{where}: {error}") from None


def _level(stated: _Level | None) -> LevelCalibration | None:
    if stated is None:
        return None
    return LevelCalibration(
        velocity=stated.velocity_cm_s * 1e-2, kind=stated.kind, axis=stated.axis, frequency=stated.hz,
        level=stated.dbfs, date=stated.date,
    )  # fmt: skip
