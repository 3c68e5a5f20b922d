"""A scanner checked with a measured ring: scale, stretch, skew, and how far its travel sets circles apart."""

from math import atan2, hypot

import runtrue
from runtrue.contract import field as printed
from runtrue.contract.listening import NotJudged
from runtrue.errors import InputError
from runtrue.stamper.field import FieldCheck, RingScan, field_of, ring_scan
from runtrue.stamper.seek import Refused, Sought, ring_edges
from runtrue.types import Progress
from runtrue.units import DEG, MM, PERCENT, UM
from runtrue.workflow.actions import Ports, check_request
from runtrue.workflow.field_file import write_field
from runtrue.workflow.metal_requests import StamperFieldRequest
from runtrue.workflow.metal_safety import SAFETY
from runtrue.workflow.new_file import check_new
from runtrue.workflow.picture_file import load_picture

MOST_OFF = 0.02
"""Share by which the rim may differ from its stated size: more is another thing, or another scale."""


def field(request: StamperFieldRequest, ports: Ports, progress: Progress) -> printed.FieldResult:
    """Measure every scan and judge them together; raises ``InputError`` for one that does not show the ring."""
    check_request(request)
    if request.out is not None:
        check_new(request.out, "field file", ".toml")
    if len(request.scans) < 2:
        raise InputError("scans: one scan of the ring tells no scatter; lay it anew, turned, and scan it again")
    if request.hole_mm >= 0.8 * request.rim_mm:
        raise InputError(f"hole_mm must be below 0.8 of rim_mm ({request.rim_mm:g} mm): correct one of them")
    seen: list[RingScan] = []
    rows: list[printed.RingScanRow] = []
    digests: set[str] = set()
    for place, path in enumerate(request.scans):
        progress("measuring the ring", place / len(request.scans))
        loaded = load_picture(path)
        if loaded.digest in digests:
            raise InputError(f"image {path}: is given twice; scan the ring anew for each")
        digests.add(loaded.digest)
        sought = Sought(hole=request.hole_mm * MM, groove=request.rim_mm * MM, rim=request.rim_mm * MM)
        edges = ring_edges(loaded.picture, sought, request.um_per_px * UM)
        if isinstance(edges, Refused):
            raise InputError(f"image {path}: {edges.reason}")
        one = ring_scan(*edges, request.um_per_px * UM)
        size = 2.0 * one.rim.circle.radius * request.um_per_px * UM / MM
        if abs(size / request.rim_mm - 1.0) > MOST_OFF:
            raise InputError(
                f"image {path}: the rim measures {size:.2f} mm at the scale stated, rim_mm is {request.rim_mm:g}: "
                "correct one, or scan the ring itself"
            )
        seen.append(one)
        rows.append(_row(path.name, loaded.digest, one, request))
    found = field_of(seen, rim_diameter=request.rim_mm * MM, ring_u95=request.ring_u95_um * UM)
    if request.out is not None:
        write_field(
            request.out, found, name=request.name, owner=request.owner, day=ports.clock(), rim=request.rim_mm * MM
        )
    return printed.FieldResult(
        u95_um=round(found.u95 / UM, 3),
        systematic_um=round(hypot(*found.systematic) / UM, 3),
        um_per_px=round(found.scale / UM, 6),
        scale_u95_percent=round(found.scale_u95 / PERCENT, 4),
        stretch_percent=round(found.distortion.stretch / PERCENT, 4),
        skew_percent=round(found.distortion.skew / PERCENT, 4),
        stretch_u95_percent=round(found.distortion.u95 / PERCENT, 4),
        scans=rows,
        field_file=None if request.out is None else str(request.out),
        not_judged=[]
        if request.out is not None
        else [NotJudged(key="field_file", reason="no file was asked for")],
        cautions=_cautions(found, request),
        safety=list(SAFETY),
        settings=printed.FieldSettings(
            um_per_px=request.um_per_px, rim_mm=request.rim_mm, hole_mm=request.hole_mm,
            ring_u95_um=request.ring_u95_um, name=request.name, owner=request.owner,
        ),
        version=runtrue.__version__,
    )  # fmt: skip


def _row(file: str, digest: str, one: RingScan, request: StamperFieldRequest) -> printed.RingScanRow:
    return printed.RingScanRow(
        file=file,
        sha256=digest,
        offset_um=round(hypot(one.x, one.y) / UM, 3),
        direction_deg=round(atan2(one.y, one.x) / DEG % 360.0, 1),
        um_per_px=round(request.rim_mm * MM / 2.0 / one.rim.circle.radius / UM, 6),
        oval_um=round(one.rim.uneven[0] * request.um_per_px, 3),
        seen_deg=round(360.0 * one.rim.arc, 1),
    )


def _cautions(found: FieldCheck, request: StamperFieldRequest) -> list[str]:
    said = []
    if found.scans < 4:
        said.append(f"{found.scans} scans only: four or more narrow the circle.")
    apart = found.scale / UM / request.um_per_px - 1.0
    if abs(apart) > 0.005:
        said.append(f"The ring gives another scale than the one stated, by {100 * apart:+.1f} %: is it the right ring?")
    said.append("This holds for records that lie where the ring lay, and for as long as nobody moves the scanner.")
    return said
