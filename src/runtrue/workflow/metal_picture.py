"""A stamper's or record's centre from a scan or photograph, judged, with an overlay of what was found."""

from pathlib import Path
from typing import Any, cast

import runtrue
from runtrue.contract import picture as printed
from runtrue.contract.listening import NotJudged
from runtrue.disc.formats import disc_format
from runtrue.errors import InputError
from runtrue.stamper.centre import degrees_of, direction_playing
from runtrue.stamper.edges import Ring
from runtrue.stamper.picture import FIELD_U95, PictureCentre, Refused, measure
from runtrue.stamper.readings import Face
from runtrue.stats import conformity
from runtrue.stats.plane import direction_half_width, length_half_width
from runtrue.types import Measurement, Progress
from runtrue.units import DEG, MM, UM
from runtrue.workflow.actions import Ports, check_request
from runtrue.workflow.metal import stated_limit
from runtrue.workflow.metal_requests import StamperPictureRequest
from runtrue.workflow.metal_safety import SAFETY
from runtrue.workflow.picture_file import load_picture, write_overlay
from runtrue.workflow.printing import _row as finding_row

_OFFSET = "off_centre_offset"
_HOLE = 7.26 * MM


def picture(request: StamperPictureRequest, ports: Ports, progress: Progress) -> printed.PictureCentreResult:
    """Find and judge the centre. A picture that shows none is no error: the result says why."""
    check_request(request)
    record = disc_format(request.format)
    if record.coarse and request.groove_mm is None:
        raise InputError(
            f"groove_mm: the closed groove of a {request.format} stops the arm and is off centre on purpose; give the "
            "diameter of another ring, or read the innermost recorded turns under the lens"
        )
    if request.overlay is not None:
        _free(request.overlay)
    limit = stated_limit(request)
    groove = request.groove_mm if request.groove_mm is not None else record.finishing_groove.value / MM
    progress("reading the picture", 0.0)
    seen, digest = load_picture(request.image)
    progress("looking for hole and groove", 0.4)
    found = measure(
        seen,
        scale=request.um_per_px * UM,
        hole_diameter=_HOLE if request.hole_mm is None else request.hole_mm * MM,
        groove_diameter=groove * MM,
        known_hole=None if request.hole_mm is None else request.hole_mm * MM,
        field_u95=None if request.field_u95_um is None else request.field_u95_um * UM,
    )
    here = found if isinstance(found, PictureCentre) else None
    why = found.reason if isinstance(found, Refused) else ""
    if here is not None and request.overlay is not None:
        write_overlay(seen, here, request.overlay)
    vector = None if here is None else here.field
    measured = (
        Measurement(quantity=_OFFSET, value=None, reason=why)
        if vector is None
        else Measurement(quantity=_OFFSET, value=vector, u95=vector.u95)
    )
    findings = conformity.judge([measured], [] if limit is None else [limit])
    probability = findings[0].conformance_probability if findings else None
    direction = None if vector is None else degrees_of(vector)
    result = printed.PictureCentreResult(
        verdict=findings[0].verdict.value if findings else None,
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
        hole=None if here is None else _circle(here.hole, here.scale),
        groove=None if here is None else _circle(here.groove, here.scale),
        overlay=None if here is None or request.overlay is None else str(request.overlay),
        findings=[finding_row(one, True) for one in findings],
        not_judged=[],
        cautions=[*(here.cautions if here is not None else ()), *_scale_caution(here, request)],
        safety=list(SAFETY),
        input=printed.PictureInput(
            file=request.image.name, sha256=digest, width_px=int(seen.shape[1]), height_px=int(seen.shape[0])
        ),
        settings=printed.PictureSettings(
            um_per_px=request.um_per_px, used_um_per_px=None if here is None else round(here.scale / UM, 5),
            format=request.format, face=cast(Any, request.face), hole_mm=request.hole_mm, groove_mm=round(groove, 3),
            field_u95_um=request.field_u95_um if request.field_u95_um is not None else round(FIELD_U95 / UM, 3),
            field_source="common practice" if request.field_u95_um is None else "a check with a measured ring",
        ),
        version=runtrue.__version__,
    )  # fmt: skip
    result.not_judged.extend(_not_judged(result, why))
    return result


def _um(value: float | None) -> float | None:
    return None if value is None else round(value / UM, 4)


def _circle(ring: Ring, scale: float) -> printed.SeenCircle:
    whole = ring.arc > 0.7
    u95 = 1.96 * float(ring.circle.covariance[2, 2]) ** 0.5 * 2.0 * scale
    return printed.SeenCircle(
        row_px=round(-ring.circle.x, 4), column_px=round(-ring.circle.y, 4), radius_px=round(ring.circle.radius, 4),
        diameter_mm=round(2.0 * ring.circle.radius * scale / MM, 5), diameter_u95_mm=round(u95 / MM, 5),
        seen_deg=round(360.0 * ring.arc, 1), places=int(ring.angle.size), left_out=ring.left_out,
        oval_um=round(ring.uneven[0] * scale / UM, 3) if whole else None,
        three_cornered_um=round(ring.uneven[1] * scale / UM, 3) if whole else None,
        burr_um=round(ring.burr * scale / UM, 3),
    )  # fmt: skip


def _scale_caution(here: PictureCentre | None, request: StamperPictureRequest) -> list[str]:
    if here is None or request.hole_mm is None:
        return []
    apart = here.scale / UM / request.um_per_px - 1.0
    if abs(apart) < 0.005:
        return []
    return [f"The measured hole gives another scale than the one stated, by {100 * apart:+.1f} %; the hole's is used."]


def _free(out: Path) -> None:
    if out.suffix.lower() != ".png":
        raise InputError(f"overlay {out}: the name must end in .png; choose such a name")
    if out.exists():
        raise InputError(f"overlay {out}: is there already; name another file or remove it")
    if not out.parent.is_dir():
        raise InputError(f"overlay {out}: there is no folder {out.parent}; make it first")


def _not_judged(result: printed.PictureCentreResult, why: str) -> list[NotJudged]:
    told = []
    for key in printed.PictureCentreResult.__slots__:
        if getattr(result, key) is None:
            own = {"verdict": "no limit was given", "conformance_probability": why or "no limit was given"}
            told.append(NotJudged(key=key, reason=own.get(key) or why or "no overlay was asked for"))
    for name, ring in (("hole", result.hole), ("groove", result.groove)):
        if ring is not None and ring.oval_um is None:
            reason = f"the {name} is seen over {ring.seen_deg:.0f} deg only"
            told += [NotJudged(key=f"{name}.{part}", reason=reason) for part in ("oval_um", "three_cornered_um")]
    return told
