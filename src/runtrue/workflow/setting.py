"""From what a person states, a rig file and the defaults to what the listening test is told."""

from runtrue.disc.arm import Arm
from runtrue.disc.formats import SPINDLE, START_RADIUS_U95, Figure, Format, Hole, Standard, disc_format, hole
from runtrue.errors import InputError
from runtrue.listen.setting import Hearing, Setting
from runtrue.units import DEG, MM, PERCENT, rpm_to_hz
from runtrue.workflow.requests import ListenCheckRequest
from runtrue.workflow.rig import Rig

GIVEN_RADIUS_U95 = 0.1 * MM
"""U95 of a radius that a person states [m]: read from the cutting file or with a rule and a magnifier. Our choice."""
PLAYER_SWING = 0.02 * PERCENT
"""Radius that holds the peak once-a-turn swing of a player of which nothing is known, 95 % [-]. Our choice."""
RPM_SPREAD = 0.2
"""How far a stated speed may lie from the format's, relative: early coarse-groove sides ran at 70 to 82."""


def format_of(request: ListenCheckRequest) -> Format:
    """Return the format with the dimensions of the standard whose limits were asked for."""
    return disc_format(request.format, _standard(request))


def setting_of(request: ListenCheckRequest, rig: Rig | None) -> Setting:
    """Build the setting; an option overrides the rig file, the rig file the default. Raises ``InputError``."""
    record = format_of(request)
    start = record.start_radius if request.start_radius_mm is None else request.start_radius_mm * MM
    end = None if request.end_radius_mm is None else request.end_radius_mm * MM
    _check_radii(record, request)
    hole_ends = _given(request.hole_mm) or _ends(hole(Hole.SMALL, _standard(request)))
    spindle = _given(request.spindle_mm) or (rig.spindle if rig and rig.spindle else _ends(SPINDLE))
    if spindle[0] > hole_ends[1]:
        raise InputError(
            f"spindle_mm must not exceed hole_mm, got {spindle[0] / MM:.2f} mm in a hole of {hole_ends[1] / MM:.2f} "
            "mm: the record would not go on; measure both again"
        )
    return Setting(
        turn_frequency=rpm_to_hz(_rpm(request, record)),
        start_radius=start,
        start_radius_u95=START_RADIUS_U95 if request.start_radius_mm is None else GIVEN_RADIUS_U95,
        end_radius=end,
        end_radius_u95=GIVEN_RADIUS_U95,
        pitch=record.pitch.value,
        pitch_spread=record.pitch_spread,
        arm=_arm(request, rig),
        player_swing=_player_swing(request, rig),
        hole=hole_ends,
        spindle=spindle,
        quick=request.quick,
        hearing=_hearing(request),
    )


def cautions_of(request: ListenCheckRequest, rig: Rig | None, setting: Setting) -> list[str]:
    """Sentences about what was assumed, for the person who reads the result."""
    found: list[str] = []
    if not setting.arm.known:
        found.append(
            "The arm's angle was not given: it is taken as anything from 0 to 25 deg, which widens the off-centre "
            "result; state --arm-offset-deg, or --arm-length-mm and --arm-overhang-mm."
        )
    if request.format == "7in-45" and request.hole_mm is None:
        found.append(
            "The hole was taken as a small one; for a large hole on an adaptor state --hole-mm and, as --spindle-mm, "
            "the adaptor's diameter."
        )
    if rig is not None and rig.level is not None:
        found.append("The rig file's level calibration is not applied: levels are relative to the programme.")
    if rig is not None and rig.spindle_runout > 0.0:
        found.append(
            f"The rig file's spindle run-out of {rig.spindle_runout / MM * 1e3:g} μm is not taken off: the off-centre "
            "of the disc may be wrong by that much."
        )
    return found


def _hearing(request: ListenCheckRequest) -> Hearing:
    usual = Hearing()
    return Hearing(
        level=usual.level if request.listening_level_db is None else request.listening_level_db,
        shift=usual.shift if request.hearing_shift_db is None else request.hearing_shift_db,
        spread=usual.spread if request.hearing_spread_db is None else request.hearing_spread_db,
    )


def _standard(request: ListenCheckRequest) -> Standard:
    return Standard(request.standard) if request.standard in set(Standard) else Standard.IEC


def _ends(figure: Figure) -> tuple[float, float]:
    return figure.low, figure.high


def _given(millimetres: float | None) -> tuple[float, float] | None:
    return None if millimetres is None else (millimetres * MM, millimetres * MM)


def _rpm(request: ListenCheckRequest, record: Format) -> float:
    if request.rpm is None:
        return record.rpm
    low, high = record.rpm * (1.0 - RPM_SPREAD), record.rpm * (1.0 + RPM_SPREAD)
    if not low <= request.rpm <= high:
        raise InputError(
            f"rpm must be {low:.1f} to {high:.1f} for format {record.id}, got {request.rpm:g}: give the speed at which "
            "the side is cut, or another format"
        )
    return request.rpm


def _check_radii(record: Format, request: ListenCheckRequest) -> None:
    edge = 0.5 * record.outside_diameter.high / MM
    for name, value in (("start_radius_mm", request.start_radius_mm), ("end_radius_mm", request.end_radius_mm)):
        if value is not None and value >= edge:
            raise InputError(
                f"{name} must be below {edge:.1f} mm, the edge of a {record.id} record, got {value:g} mm: give a "
                "radius (half the diameter) or another format"
            )
    start = record.start_radius / MM if request.start_radius_mm is None else request.start_radius_mm
    if request.end_radius_mm is not None and request.end_radius_mm >= start:
        stated = "" if request.start_radius_mm is not None else f" (the start of format {record.id})"
        raise InputError(
            f"end_radius_mm must be below start_radius_mm, got {request.end_radius_mm:g} mm and {start:g} mm{stated}: "
            "a side runs inward; exchange them"
        )


def _arm(request: ListenCheckRequest, rig: Rig | None) -> Arm:
    given = (request.arm_offset_deg, request.arm_length_mm, request.arm_overhang_mm)
    if given == (None, None, None):
        return rig.arm if rig is not None else Arm()
    return Arm(
        offset=None if request.arm_offset_deg is None else request.arm_offset_deg * DEG,
        length=None if request.arm_length_mm is None else request.arm_length_mm * MM,
        overhang=None if request.arm_overhang_mm is None else request.arm_overhang_mm * MM,
    )


def _player_swing(request: ListenCheckRequest, rig: Rig | None) -> float:
    if request.player_swing_percent is not None:
        return request.player_swing_percent * PERCENT
    return rig.player_swing if rig is not None and rig.player_swing is not None else PLAYER_SWING
