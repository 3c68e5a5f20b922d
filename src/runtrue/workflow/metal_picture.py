"""A stamper's or record's centre from a scan or photograph, judged, with an overlay of what was found."""

from collections.abc import Iterator
from dataclasses import dataclass, fields
from math import hypot
from typing import Any, cast

import runtrue
from runtrue.contract import picture as printed
from runtrue.contract.listening import NotJudged
from runtrue.disc.formats import Figure, Format, Hole, disc_format
from runtrue.disc.formats import hole as hole_figure
from runtrue.errors import InputError
from runtrue.stamper.centre import degrees_of, direction_playing
from runtrue.stamper.edges import Ring, roundness
from runtrue.stamper.field import PHOTO_U95, STRETCH_U95, Field
from runtrue.stamper.picture import PictureCentre, measure
from runtrue.stamper.readings import Face
from runtrue.stamper.seek import Refused, Sought
from runtrue.stats import conformity
from runtrue.stats.plane import direction_half_width, length_half_width
from runtrue.types import Finding, Limit, Measurement, Progress
from runtrue.units import DEG, MM, PERCENT, UM
from runtrue.workflow.actions import Ports, check_request
from runtrue.workflow.centre_words import picture_told
from runtrue.workflow.field_file import FieldFile, load_field
from runtrue.workflow.metal import stated_limits
from runtrue.workflow.metal_requests import StamperPictureRequest
from runtrue.workflow.metal_safety import SAFETY
from runtrue.workflow.new_file import check_new
from runtrue.workflow.overlay import write_overlay
from runtrue.workflow.picture_file import Loaded, load_picture
from runtrue.workflow.printing import _row as finding_row

_OFFSET = "off_centre_offset"
_BOUNDED = (_OFFSET, "hole_diameter", "label_shift", "rim_shift", "rim_roundness")
_LABELS = {12: 100.0 * MM, 10: 100.0 * MM, 7: 92.0 * MM}
"""Label diameters by inches of the record; common practice, no source."""
_WHOLE = 0.7
"""Part of the turn above which an edge's shape is told."""


def picture(request: StamperPictureRequest, ports: Ports, progress: Progress) -> printed.PictureCentreResult:
    """Find and judge the centre. A picture that shows none is no error: the result says why."""
    check_request(request)
    asked = _ask(request)
    progress("reading the picture", 0.0)
    seen = load_picture(request.image)
    if seen.camera and request.camera_mm is None:
        raise InputError(
            f"image {request.image}: is a photograph (its lens is written in it); give camera_mm, the height it was "
            "taken from, or scan the record"
        )
    turned = None if request.turned is None else load_picture(request.turned)
    if turned is not None and turned.digest == seen.digest:
        raise InputError(f"turned {request.turned}: is the same picture; scan the record again, turned by 90 deg")
    progress("looking for hole and groove", 0.4)
    found = measure(
        seen.picture, asked.sought, scale=asked.scale, field=asked.field,
        turned=None if turned is None else turned.picture,
    )  # fmt: skip
    here = found if isinstance(found, PictureCentre) else None
    why = found.reason if isinstance(found, Refused) else ""
    measured = list(_measurements(here, why, asked))
    findings = conformity.judge(measured, asked.limits)
    result = _printed(asked, seen, here, findings, why)
    if here is not None and request.overlay is not None:
        limit = next((one.upper for one in asked.limits if one.quantity == _OFFSET), None)
        said = (picture_told(result), *result.cautions)
        write_overlay(seen.picture, here, request.overlay, said=said, limit=limit)
    return result


@dataclass(frozen=True, slots=True, kw_only=True)
class _Asked:
    """The question with its files read. ``scale`` [m/px] as stated or from the field file."""

    request: StamperPictureRequest
    record: Format
    scale: float
    scale_source: str
    field: Field
    sought: Sought
    hole: Figure
    limits: tuple[Limit, ...]


def _ask(request: StamperPictureRequest) -> _Asked:
    record = disc_format(request.format)
    if record.coarse and request.groove_mm is None:
        raise InputError(
            f"groove_mm: the closed groove of a {request.format} stops the arm and is off centre on purpose; give the "
            "diameter of another ring, or read the innermost recorded turns under the lens"
        )
    if request.overlay is not None:
        check_new(request.overlay, "overlay", ".png")
    file = None if request.field is None else load_field(request.field)
    if file is None and request.um_per_px is None:
        raise InputError(
            "um_per_px: the scale is missing; give it (21.167 at 1200 dpi), or a field file of the scanner"
        )
    if file is not None:
        for name in ("um_per_px", "field_u95_um", "camera_mm"):
            if getattr(request, name) is not None:
                raise InputError(f"{name}: the field file says it already; give one of the two")
    figure = hole_figure(Hole(request.hole))
    on_record = request.face == "record"
    known = request.hole_mm
    groove = record.finishing_groove.value if request.groove_mm is None else request.groove_mm * MM
    return _Asked(
        request=request, record=record, hole=figure, field=_field(request, file),
        scale=file.scale if file is not None else (request.um_per_px or 0.0) * UM,
        scale_source=file.field.source if file is not None else "stated with the request",
        sought=Sought(
            hole=(figure.low + figure.high) / 2.0 if known is None else known * MM, groove=groove,
            known_hole=None if known is None else known * MM,
            label=_diameter(request.label_mm, _LABELS[record.inches]) if on_record else None,
            rim=_diameter(request.rim_mm, record.outside_diameter.value) if on_record else None,
        ),
        limits=tuple(stated_limits(request, _BOUNDED)),
    )  # fmt: skip


def _diameter(stated_mm: float | None, usual: float) -> float:
    return usual if stated_mm is None else stated_mm * MM


def _field(request: StamperPictureRequest, file: FieldFile | None) -> Field:
    if file is not None:
        return file.field
    camera = None if request.camera_mm is None else request.camera_mm * MM
    if request.field_u95_um is not None:
        return Field(u95=request.field_u95_um * UM, source="a check with a measured ring", camera=camera, checked=True)
    return Field() if camera is None else Field(u95=PHOTO_U95, source="our choice for a photograph", camera=camera)


def _measurements(here: PictureCentre | None, why: str, asked: _Asked) -> Iterator[Measurement]:
    """What was measured of everything that a limit may bound."""
    for name in _BOUNDED:
        found = None if here is None else _measured(here, name, asked)
        if found is not None:
            yield found
        else:
            yield Measurement(quantity=name, value=None, reason=why or _unseen(name, asked, here))


def _measured(here: PictureCentre, name: str, asked: _Asked) -> Measurement | None:
    vector = None
    if name == _OFFSET:
        vector = here.field
    elif name == "label_shift" and here.label is not None:
        vector = here.shift(here.label)
    elif name == "rim_shift" and here.rim is not None:
        vector = here.shift(here.rim)
    if vector is not None:
        return Measurement(quantity=name, value=vector, u95=vector.u95)
    if name == "hole_diameter" and asked.sought.known_hole is None:
        return Measurement(
            quantity=name, value=2.0 * here.hole.circle.radius * here.scale, u95=_diameter_u95(here.hole, here)
        )
    if name == "rim_roundness" and here.rim is not None and here.rim.arc > _WHOLE:
        peak, u95 = roundness(here.rim)
        return Measurement(
            quantity=name, value=peak * here.scale, u95=hypot(u95 * here.scale, _stretched_u95(here.rim, here))
        )
    return None


def _diameter_u95(ring: Ring, here: PictureCentre) -> float:
    """Half-width of a diameter: the fit and the scale [m]."""
    fit = 1.96 * float(ring.circle.covariance[2, 2]) ** 0.5 * 2.0 * here.scale
    return hypot(fit, here.scale_u95 * 2.0 * ring.circle.radius * here.scale)


def _stretched_u95(ring: Ring, here: PictureCentre) -> float:
    """What unknown stretch and skew may add to a roundness, peak to valley [m]."""
    share = STRETCH_U95 if here.distortion is None else here.distortion.u95
    return 2.0 * share * ring.circle.radius * here.scale


def _unseen(name: str, asked: _Asked, here: PictureCentre | None) -> str:
    """Why one thing was not measured on a picture that shows the centre."""
    if name == "hole_diameter":
        return "the hole's diameter was given and made the scale"
    what = "label" if name.startswith("label") else "rim"
    if asked.request.face == "stamper":
        return f"a stamper has no {what}"
    if name == "rim_roundness" and here is not None and here.rim is not None:
        return "the rim is seen over part of the turn only"
    return f"no edge of the {what} is seen where it should be"


def _printed(
    asked: _Asked, seen: Loaded, here: PictureCentre | None, findings: tuple[Finding, ...], why: str
) -> printed.PictureCentreResult:
    request = asked.request
    vector = None if here is None else here.field
    direction = None if vector is None else degrees_of(vector)
    probability = next(
        (one.conformance_probability for one in findings if one.limit.quantity == _OFFSET and vector is not None), None
    )
    result = printed.PictureCentreResult(
        verdict=conformity.verdict(findings).value if findings else None,
        offset_um=_um(None if vector is None else vector.length),
        offset_u95_um=_um(None if vector is None else length_half_width(vector)),
        swing_um=_um(None if vector is None else 2.0 * vector.length),
        u95_um=_um(None if vector is None else vector.u95),
        method_u95_um=_um(None if here is None else here.method.u95),
        direction_deg=None if direction is None else round(direction, 3),
        direction_u95_deg=None if vector is None else round(direction_half_width(vector) / DEG, 3),
        direction_playing_deg=(
            None if direction is None else round(direction_playing(direction, Face(request.face)), 3)
        ),
        conformance_probability=None if probability is None else round(probability, 6),
        hole=_circle(None if here is None else here.hole, here),
        groove=_circle(None if here is None else here.groove, here),
        label=_circle(None if here is None else here.label, here),
        rim=_circle(None if here is None else here.rim, here),
        label_shift=_shift(None if here is None else here.label, here),
        rim_shift=_shift(None if here is None else here.rim, here),
        scale=None if here is None else _scale(here, asked),
        overlay=None if here is None or request.overlay is None else str(request.overlay),
        findings=[finding_row(one, True) for one in findings],
        not_judged=[],
        cautions=[] if here is None else [*here.cautions, *_record_cautions(here, asked)],
        safety=list(SAFETY),
        input=printed.PictureInput(
            file=request.image.name, sha256=seen.digest, width_px=int(seen.picture.shape[1]),
            height_px=int(seen.picture.shape[0]),
        ),
        settings=_settings(asked),
        version=runtrue.__version__,
    )  # fmt: skip
    result.not_judged.extend(_not_judged(result, asked, here, findings, why))
    return result


def _settings(asked: _Asked) -> printed.PictureSettings:
    request, sought = asked.request, asked.sought
    return printed.PictureSettings(
        um_per_px=request.um_per_px, format=request.format, face=cast(Any, request.face), hole=cast(Any, request.hole),
        hole_mm=request.hole_mm, groove_mm=round(sought.groove / MM, 3),
        label_mm=None if sought.label is None else round(sought.label / MM, 3),
        rim_mm=None if sought.rim is None else round(sought.rim / MM, 3),
        turned=None if request.turned is None else request.turned.name, camera_mm=request.camera_mm,
        field=None if request.field is None else request.field.name, field_u95_um=round(asked.field.u95 / UM, 3),
        field_source=asked.field.source,
    )  # fmt: skip


def _um(value: float | None) -> float | None:
    return None if value is None else round(value / UM, 4)


def _circle(ring: Ring | None, here: PictureCentre | None) -> printed.SeenCircle | None:
    if ring is None or here is None:
        return None
    scale = here.scale
    whole = ring.arc > _WHOLE
    peak, peak_u95 = roundness(ring) if whole else (0.0, 0.0)
    return printed.SeenCircle(
        row_px=round(-ring.circle.x, 4), column_px=round(-ring.circle.y, 4), radius_px=round(ring.circle.radius, 4),
        diameter_mm=round(2.0 * ring.circle.radius * scale / MM, 5),
        diameter_u95_mm=round(_diameter_u95(ring, here) / MM, 5), seen_deg=round(360.0 * ring.arc, 1),
        places=ring.count, left_out=ring.left_out,
        oval_um=round(ring.uneven[0] * scale / UM, 3) if whole else None,
        three_cornered_um=round(ring.uneven[1] * scale / UM, 3) if whole else None,
        roundness_um=round(peak * scale / UM, 3) if whole else None,
        roundness_u95_um=round(hypot(peak_u95 * scale, _stretched_u95(ring, here)) / UM, 3) if whole else None,
        burr_um=round(ring.burr * scale / UM, 3), burr_deg=round(ring.burr_at / DEG % 360.0, 1),
    )  # fmt: skip


def _shift(ring: Ring | None, here: PictureCentre | None) -> printed.Shift | None:
    if ring is None or here is None:
        return None
    vector = here.shift(ring)
    return printed.Shift(
        offset_um=round(vector.length / UM, 3), offset_u95_um=round(length_half_width(vector) / UM, 3),
        u95_um=round(vector.u95 / UM, 3), direction_deg=round(degrees_of(vector), 2),
        direction_u95_deg=round(direction_half_width(vector) / DEG, 2),
    )  # fmt: skip


def _scale(here: PictureCentre, asked: _Asked) -> printed.ScaleUsed:
    known = here.distortion
    source = "the hole's measured diameter" if asked.sought.known_hole is not None else asked.scale_source
    return printed.ScaleUsed(
        um_per_px=round(here.scale / UM, 6), u95_percent=round(here.scale_u95 / PERCENT, 4), source=source,
        stretch_percent=None if known is None else round(known.stretch / PERCENT, 4),
        skew_percent=None if known is None else round(known.skew / PERCENT, 4),
        stretch_u95_percent=None if known is None else round(known.u95 / PERCENT, 4),
        stretch_source=None if known is None else known.source,
        lean_deg=None if here.lean is None else round(here.lean / DEG, 3),
    )  # fmt: skip


def _record_cautions(here: PictureCentre, asked: _Asked) -> list[str]:
    """The hole's size beside the standard's, and a scale that is not the one stated."""
    said = []
    size, u95 = 2.0 * here.hole.circle.radius * here.scale, _diameter_u95(here.hole, here)
    figure, request = asked.hole, asked.request
    if request.hole_mm is not None:
        apart = here.scale / asked.scale - 1.0
        if abs(apart) >= 0.005:
            said.append(
                f"The measured hole gives another scale than the one stated, by {100 * apart:+.1f} %; the hole's is "
                "used."
            )
    elif request.face == "record" and (size + u95 < figure.low or size - u95 > figure.high):
        said.append(
            f"The hole measures {size / MM:.2f} ± {u95 / MM:.2f} mm; {figure.source} has {figure.low / MM:.2f} to "
            f"{figure.high / MM:.2f} mm."
        )
    return said


def _not_judged(
    result: printed.PictureCentreResult,
    asked: _Asked,
    here: PictureCentre | None,
    findings: tuple[Finding, ...],
    why: str,
) -> Iterator[NotJudged]:
    """Every null of the result with its reason; what was not asked or stated is no result and is left out."""
    no_offset = "no limit on the offset was given"
    own = {
        "verdict": "no limit was given", "conformance_probability": why or no_offset,
        "overlay": why or "no overlay was asked for",
    }  # fmt: skip
    for name in ("label", "rim"):
        own[name] = own[f"{name}_shift"] = why or _unseen(name, asked, here)
    for item in fields(result):
        if getattr(result, item.name) is None:
            yield NotJudged(key=item.name, reason=own.get(item.name) or why)
    yield from _parts_not_judged(result)
    for one in findings:
        if one.measurement.value is None:
            for part in ("value", "u95", "conformance_probability"):
                yield NotJudged(key=f"findings.{one.limit.quantity}.{part}", reason=one.measurement.reason)


def _parts_not_judged(result: printed.PictureCentreResult) -> Iterator[NotJudged]:
    for name in ("hole", "groove", "label", "rim"):
        ring = getattr(result, name)
        if ring is not None and ring.oval_um is None:
            for part in ("oval_um", "three_cornered_um", "roundness_um", "roundness_u95_um"):
                yield NotJudged(key=f"{name}.{part}", reason=f"the {name} is seen over {ring.seen_deg:.0f} deg only")
    if result.scale is not None:
        for part in ("stretch_percent", "skew_percent", "stretch_u95_percent", "stretch_source"):
            if getattr(result.scale, part) is None:
                yield NotJudged(key=f"scale.{part}", reason="no second scan and no field file tells them")
        if result.scale.lean_deg is None:
            yield NotJudged(key="scale.lean_deg", reason="a flatbed scan has no lean")
