"""The moment of the metal: a stamper's centre from readings, judged, with the move and what it would do."""

from collections.abc import Iterator
from dataclasses import dataclass, fields, is_dataclass
from pathlib import Path
from typing import Any, Literal, cast

import numpy as np

import runtrue
from runtrue.contract import centre as printed
from runtrue.contract.listening import NotJudged, VerdictWord
from runtrue.disc.formats import disc_format
from runtrue.errors import InputError
from runtrue.quantities import QUANTITIES
from runtrue.stamper.axis import Machine, PunchAxis, aim_words
from runtrue.stamper.centre import (
    Centre,
    NoCentre,
    degrees_of,
    direction_playing,
    level_at,
    locate,
    out_of_round,
    pitch_at,
)
from runtrue.stamper.consequence import pitch_swing
from runtrue.stamper.more import readings_to_decide
from runtrue.stamper.move import move_of
from runtrue.stamper.readings import Face, Groove
from runtrue.stats import conformity
from runtrue.stats.plane import direction_half_width, length_half_width
from runtrue.types import Finding, Limit, Measurement, PlaneVector, Progress, Verdict
from runtrue.units import DEG, MM, PERCENT, UM
from runtrue.workflow.actions import Ports, check_request
from runtrue.workflow.limits import load_limits
from runtrue.workflow.metal_requests import StamperCentreRequest, StamperPictureRequest
from runtrue.workflow.metal_safety import SAFETY
from runtrue.workflow.new_file import check_new
from runtrue.workflow.printing import _row as finding_row
from runtrue.workflow.punch import Punch, keep_check, load_punch
from runtrue.workflow.readings_file import ReadingsFile, load_readings

_OFFSET = "off_centre_offset"


def centre(request: StamperCentreRequest, ports: Ports, progress: Progress) -> printed.StamperCentre:
    """Find and judge the centre. Raises ``InputError`` for what is not usable; too few readings are no error."""
    check_request(request)
    groove, face = Groove(request.groove), Face(request.face)
    _refuse(request, groove)
    limit = stated_limit(request)
    punch = None if request.punch is None else load_punch(request.punch)
    file = load_readings(request.readings, groove)
    second = file.readings.second_set
    if second.any() and not second.all() and request.held != "pinned":
        raise InputError(
            "readings: sets 0 and 180 together take the table's own run-out away only where the stamper is pinned by "
            "its hole; say --held pinned, or give one set"
        )
    machine = Machine() if punch is None else punch.machine
    axis = None if punch is None or punch.axis is None or request.held == "pinned" else punch.axis.turned(machine)
    division = request.lens_division_um * UM if request.lens_division_um is not None else (
        punch.division if punch is not None else None
    )  # fmt: skip
    found = locate(
        file.readings,
        groove=groove,
        face=face,
        pitch=None if request.pitch_um is None else request.pitch_um * UM,
        noise=None if request.lens_noise_um is None else request.lens_noise_um * UM,
        division=division or 0.0,
        axis=axis,
    )
    measurement = _measurement(found)
    findings = conformity.judge([measurement], [] if limit is None else [limit])
    asked = _Asked(request=request, file=file, punch=punch, division=division)
    result = _printed(asked, found, findings)
    if result.kept_in is not None and request.punch is not None and result.after_punch is not None:
        keep_check(request.punch, result.after_punch, day=ports.clock()[:10], stamper=request.stamper)
    if request.sheet is not None:
        write_sheet(result, request.sheet, ports.clock()[:10])
    return result


def write_sheet(result: printed.StamperCentre, path: Path, day: str) -> None:
    """Write the sheet of a centre as PDF."""
    from runtrue.paper.centre_sheet import CentreWords, centre_pages
    from runtrue.paper.pdf import write_pages
    from runtrue.workflow.centre_words import found, heard_words, todo
    from runtrue.workflow.dossier import day_words

    heard = tuple(heard_words(end) for end in result.consequence or ())
    words = CentreWords(found=found(result), todo=todo(result), heard=heard)
    pages = centre_pages(result, words, day=day_words(day))
    write_pages(path, pages, title=pages[0].title, author=result.settings.punch or "runtrue")


@dataclass(frozen=True, slots=True, kw_only=True)
class _Asked:
    """The question with its files read; ``division`` of the lens [m]."""

    request: StamperCentreRequest
    file: ReadingsFile
    punch: Punch | None
    division: float | None


def _refuse(request: StamperCentreRequest, groove: Groove) -> None:
    if request.sheet is not None:
        check_new(request.sheet, "sheet", ".pdf")
    if request.keep and (request.punch is None or request.held != "pinned"):
        raise InputError("keep: only a check of a pinned stamper goes into a punch file; say --held pinned and --punch")
    if groove is Groove.LOCKED and request.format is not None and disc_format(request.format).coarse:
        raise InputError(
            f"groove: the locked groove of a {request.format} stops the arm and is off centre on purpose; read the "
            "innermost recorded turns with --groove spiral"
        )
    if groove is Groove.LOCKED and request.pitch_um:
        raise InputError("pitch_um: a locked groove has no pitch; remove it, or say --groove spiral")


def stated_limit(request: StamperCentreRequest) -> Limit | None:
    """The limit on the offset that was asked for; None for none. Raises ``InputError`` for two."""
    limits = stated_limits(request, (_OFFSET,))
    return limits[0] if limits else None


def stated_limits(request: StamperCentreRequest | StamperPictureRequest, known: tuple[str, ...]) -> list[Limit]:
    """The limits that were asked for on these quantities; a limits file may bound others too."""
    given = [name for name in ("limit_offset_um", "limit_swing_um", "limits") if getattr(request, name) is not None]
    if len(given) > 1:
        raise InputError(f"{given[0]} and {given[1]}: both bound the same thing; give one")
    if not given:
        if request.limit_owner is not None:
            raise InputError("limit_owner: there is no limit to own; give limit_offset_um or limit_swing_um")
        return []
    if request.limits is not None:
        limits = [one.limit for one in load_limits(request.limits).limits if one.limit.quantity in known]
        if not limits:
            keys = ", ".join(QUANTITIES[name].key for name in known)
            raise InputError(f"limits file {request.limits}: bounds none of {keys}; add one")
        return limits
    swing = request.limit_swing_um is not None
    value = request.limit_swing_um if swing else request.limit_offset_um
    assert value is not None
    limit = Limit(
        quantity=_OFFSET,
        upper=value * UM / (2.0 if swing else 1.0),
        meaning="swing" if swing else "offset",
        owner=request.limit_owner or "the person who asked",
        source="stated with the request",
        date="",
    )
    return [limit]


def _measurement(found: Centre | NoCentre) -> Measurement:
    if isinstance(found, NoCentre):
        return Measurement(quantity=_OFFSET, value=None, reason=found.reason)
    return Measurement(quantity=_OFFSET, value=found.offset, u95=found.offset.u95)


def _decides(limit: Limit) -> Any:
    def decides(vector: PlaneVector) -> bool:
        judged = conformity.judge([Measurement(quantity=_OFFSET, value=vector, u95=vector.u95)], [limit])
        return judged[0].verdict is not Verdict.CANNOT_JUDGE

    return decides


def _printed(asked: "_Asked", found: Centre | NoCentre, findings: tuple[Finding, ...]) -> printed.StamperCentre:
    request, file, punch, division = asked.request, asked.file, asked.punch, asked.division
    machine = Machine() if punch is None else punch.machine
    here = found if isinstance(found, Centre) else None
    finding = findings[0] if findings else None
    verdict: VerdictWord | None = None if finding is None else finding.verdict.value
    reasons: dict[str, str] = {"": found.reason if isinstance(found, NoCentre) else ""}
    more = None
    if finding is None:
        reasons["verdict"] = reasons["conformance_probability"] = reasons["more_readings"] = "no limit was given"
    elif here is None:
        reasons["more_readings"] = "no centre was found"
    elif finding.verdict is Verdict.CANNOT_JUDGE:
        more = readings_to_decide(here, _decides(finding.limit))
        reasons["more_readings"] = (
            "500 more readings would not decide: the offset lies at the limit, or the punch's axis is not known well "
            "enough"
        )
    else:
        more = 0
    vector = None if here is None else here.offset
    move = None if vector is None else _move(vector, machine)
    direction = None if vector is None else degrees_of(vector)
    pinned = request.held == "pinned"
    result = printed.StamperCentre(
        verdict=verdict,
        offset_um=_um(None if vector is None else vector.length),
        offset_u95_um=_um(None if vector is None else length_half_width(vector)),
        swing_um=_um(None if vector is None else 2.0 * vector.length),
        u95_um=_um(None if vector is None else vector.u95),
        direction_deg=None if direction is None else round(direction, 3),
        direction_u95_deg=None if vector is None else round(direction_half_width(vector) / DEG, 3),
        direction_playing_deg=(
            None if direction is None else round(direction_playing(direction, Face(request.face)), 3)
        ),
        pitch_um=_um(None if here is None else here.pitch),
        pitch_u95_um=_um(None if here is None or request.pitch_um is not None else here.pitch_u95),
        scatter_um=_um(None if here is None else here.deviation),
        spare_readings=None if here is None else here.fitted.design.free - len(here.outliers),
        harmonics=None if here is None else _harmonics(here),
        outliers=None if here is None else _outliers(here, file),
        conformance_probability=(
            None
            if finding is None or finding.conformance_probability is None
            else round(finding.conformance_probability, 6)
        ),
        more_readings=more,
        read_at_deg=list(found.add) if isinstance(found, NoCentre) else [],
        move=move,
        after_punch=_after_punch(vector, machine) if pinned and vector is not None else None,
        axis=_axis(here, None if pinned or punch is None else punch.axis, pinned),
        consequence=_consequence(request, vector),
        sheet=None if request.sheet is None else str(request.sheet),
        kept_in=str(request.punch) if request.keep and vector is not None else None,
        points=_points(here, file),
        curve=None if here is None else _curve(here),
        findings=[finding_row(one, True) for one in findings],
        not_judged=[],
        cautions=_cautions(here, request, punch),
        safety=list(SAFETY),
        input=printed.CentreInput(file=file.name, sha256=file.digest, readings=file.readings.count),
        settings=_settings(request, punch, division),
        version=runtrue.__version__,
    )  # fmt: skip
    reasons["pitch_u95_um"] = reasons[""] or "the pitch was stated"
    reasons["after_punch"] = reasons[""] or "the stamper was not pinned by its hole"
    reasons["sheet"] = "no sheet was asked for"
    reasons["kept_in"] = reasons[""] if request.keep else "keeping the check was not asked for"
    reasons["consequence"] = reasons[""] or "no format was given"
    reasons["axis"] = "" if pinned else "no punch file says where the punch's axis is"
    result.not_judged.extend(_not_judged(result, reasons, found, finding))
    return result


def _um(value: float | None) -> float | None:
    return None if value is None else round(value / UM, 4)


def _move(vector: PlaneVector, machine: Machine) -> printed.MoveBy:
    move = move_of(vector.x, vector.y, machine)
    return printed.MoveBy(
        x_um=round(move.x / UM, 4), y_um=round(move.y / UM, 4), distance_um=round(move.distance / UM, 4),
        clock_hour=move.hour, words=move.words, machine_x_um=round(move.machine_x / UM, 4),
        machine_y_um=round(move.machine_y / UM, 4), screws=move.screws,
    )  # fmt: skip


def _after_punch(vector: PlaneVector, machine: Machine) -> printed.AfterPunch:
    x, y = machine.to_machine(vector.x, vector.y)
    return printed.AfterPunch(x_um=round(x / UM, 4), y_um=round(y / UM, 4))


def _harmonics(here: Centre) -> list[printed.OutOfRound]:
    return [
        printed.OutOfRound(
            order=h.order, amplitude_um=round(h.amplitude / UM, 4), u95_um=round(h.u95 / UM, 4),
            crest_deg=round(h.crest / DEG, 3),
        )
        for h in here.harmonics
    ]  # fmt: skip


def _outliers(here: Centre, file: ReadingsFile) -> list[printed.Outlier]:
    return [
        printed.Outlier(
            row=place + 1, angle_deg=file.angle[place], turn=file.turn[place],
            reading_um=round(float(file.readings.radius[place]) / UM, 4),
            off_um=round(float(here.fitted.residual[place]) / UM, 4),
        )
        for place in here.outliers
    ]  # fmt: skip


def _points(here: Centre | None, file: ReadingsFile) -> list[printed.Point]:
    if here is None:
        return []
    fitted = file.readings.radius - here.fitted.residual
    level = file.readings.radius - pitch_at(here, file.readings.angle)
    return [
        printed.Point(
            row=place + 1, angle_deg=file.angle[place], turn=file.turn[place],
            reading_um=round(float(file.readings.radius[place]) / UM, 4),
            fitted_um=round(float(fitted[place]) / UM, 4),
            off_um=round(float(here.fitted.residual[place]) / UM, 4), level_um=round(float(level[place]) / UM, 4),
            left_out=place in here.outliers,
        )
        for place in range(file.readings.count)
    ]  # fmt: skip


def _axis(here: Centre | None, axis: PunchAxis | None, pinned: bool) -> printed.Axis:
    table = None if here is None else here.table
    source = "the hole it is pinned by" if pinned else ("the table's axis" if axis is None else axis.source)
    bias = None
    if axis is not None:
        from runtrue.stats.plane import covering_radius

        bias = covering_radius(axis.covariance, dof=None if axis.dof == float("inf") else axis.dof)
    return printed.Axis(
        source=source,
        bias_x_um=_um(None if axis is None else axis.x),
        bias_y_um=_um(None if axis is None else axis.y),
        bias_u95_um=_um(bias),
        aim=None if axis is None else aim_words(axis),
        table_runout_um=_um(None if table is None else table.length),
        table_runout_u95_um=_um(None if table is None else table.u95),
        table_direction_deg=None if table is None else round(degrees_of(table), 3),
    )


def _consequence(request: StamperCentreRequest, vector: PlaneVector | None) -> list[printed.Consequence] | None:
    if vector is None or request.format is None:
        return None
    record = disc_format(request.format)
    ends: tuple[tuple[Literal["outer", "inner"], float], ...] = (
        ("outer", record.start_radius),
        ("inner", record.innermost_groove.value / 2.0),
    )
    found = []
    for end, radius in ends:
        swing = pitch_swing(vector.length, radius)
        found.append(
            printed.Consequence(
                end=end,
                radius_mm=round(radius / MM, 3),
                swing_peak_percent=round(swing.peak / PERCENT, 5),
                swing_u95_percent=round(length_half_width(vector) / radius / PERCENT, 5),
                swing_cents=round(swing.cents, 3),
                heard=[
                    printed.Threshold(
                        name=h.threshold, peak_percent=round(h.peak / PERCENT, 5), heard=h.heard, source=h.source
                    )
                    for h in swing.heard
                ],
            )
        )
    return found


def _cautions(here: Centre | None, request: StamperCentreRequest, punch: Punch | None) -> list[str]:
    said = [] if here is None else list(here.cautions)
    if here is not None and out_of_round(here):
        worst = max(here.harmonics, key=lambda h: h.amplitude)
        said.append(
            f"The groove is out of round, {worst.amplitude / UM:.0f} μm at {worst.order} a turn: no move of the "
            "stamper takes that away."
        )
    if request.held == "placed" and request.face == "stamper" and (punch is None or punch.axis is None):
        said.append("The punch is taken to work on the table's axis: checks after punching in a punch file tell.")
    if request.held == "pinned" and here is not None and here.table is None:
        said.append(
            "One set only: the table's own run-out is in the offset; a second set turned by 180 deg parts them."
        )
    return said


def _settings(request: StamperCentreRequest, punch: Punch | None, division: float | None) -> printed.CentreSettings:
    return printed.CentreSettings(
        groove=cast(Any, request.groove), face=cast(Any, request.face), held=cast(Any, request.held),
        pitch_um=request.pitch_um, lens_division_um=_um(division), lens_noise_um=request.lens_noise_um,
        format=request.format, punch=None if punch is None else punch.name,
        x_axis_deg=0.0 if punch is None else punch.x_axis_deg,
        mirrored=False if punch is None else punch.machine.mirrored,
    )  # fmt: skip


def _not_judged(
    result: printed.StamperCentre, reasons: dict[str, str], found: Centre | NoCentre, finding: Finding | None
) -> Iterator[NotJudged]:
    """Every null of the result with its reason; what was not asked or stated is no result and is left out."""
    for item in fields(result):
        value = getattr(result, item.name)
        if item.name in ("settings", "input", "findings"):
            continue
        if value is None:
            yield NotJudged(key=item.name, reason=reasons.get(item.name) or reasons[""] or "not asked for")
        elif is_dataclass(value) and item.name == "axis":
            for part in fields(value):
                if getattr(value, part.name) is None:
                    table = part.name.startswith("table")
                    yield NotJudged(
                        key=f"axis.{part.name}",
                        reason="one set of readings does not tell the table's run-out" if table
                        else reasons["axis"] or "the axis is the hole's",
                    )  # fmt: skip
    if finding is not None and finding.measurement.value is None:
        for part_name in ("value", "u95", "conformance_probability"):
            yield NotJudged(key=f"findings.{_OFFSET}.{part_name}", reason=finding.measurement.reason)


def _curve(here: Centre, steps: int = 121) -> list[tuple[float, float]]:
    """Fitted curve without the pitch over the turns read, for drawing: angle [deg], height [um]."""
    first, last = float(here.readings.angle.min()), float(here.readings.angle.max())
    angle = np.linspace(first, max(last, first + 2.0 * np.pi), steps)
    return [
        (round(float(a) / DEG, 3), round(float(v) / UM, 3)) for a, v in zip(angle, level_at(here, angle), strict=True)
    ]
