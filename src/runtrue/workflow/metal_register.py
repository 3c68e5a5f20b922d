"""A register of metal (TOML) looked through: family, incoming inspection, what to do with each piece."""

from hashlib import sha256
from pathlib import Path
from typing import Annotated, Any, Literal, cast

from pydantic import Field

import runtrue
from runtrue.contract import metal as printed
from runtrue.contract.listening import NotJudged
from runtrue.disc.formats import disc_format
from runtrue.errors import InputError, unknown_name
from runtrue.stamper.metal import (
    FaultKind,
    Generation,
    HouseMetal,
    Metal,
    Repair,
    Thickness,
    VisualFault,
    family_order,
    inspect,
    lineage,
    wedge,
)
from runtrue.stamper.move import clock_hour
from runtrue.types import Progress
from runtrue.units import DEG, MM, UM
from runtrue.workflow.actions import Ports, check_request
from runtrue.workflow.metal_requests import StamperInspectRequest
from runtrue.workflow.metal_safety import SAFETY
from runtrue.workflow.toml_file import Day, Strict, load_toml

Hour = Annotated[float, Field(ge=0.0, le=12.0)]
Radius = Annotated[float, Field(ge=0.0, le=200.0)]
Name = Annotated[str, Field(min_length=1)]
Micrometres = Annotated[float, Field(gt=0.0, le=5000.0)]


class _Gauge(Strict):
    hour: Hour
    radius_mm: Radius
    um: Micrometres


class _Fault(Strict):
    kind: Literal["scratch", "pit", "pimple", "crack", "kink", "stain", "burr"]
    hour: Hour
    radius_mm: Radius
    recorded: bool | None = None


class _Repair(Strict):
    hour: Hour
    radius_mm: Radius
    done: Name


class _Piece(Strict):
    id: Name
    matrix: Name
    generation: Literal["father", "mother", "stamper"]
    parent: Name | None = None
    format: str | None = None
    grown: Day
    bath: str = ""
    back_um: Annotated[float, Field(ge=0.0, le=100.0)] | None = None
    thickness: Annotated[list[_Gauge], Field(default_factory=list)]
    fault: Annotated[list[_Fault], Field(default_factory=list)]
    repair: Annotated[list[_Repair], Field(default_factory=list)]
    kept: str = ""
    state: str = "in store"
    impressions: Annotated[int, Field(ge=0, le=1_000_000)] = 0


class _Register(Strict):
    piece: Annotated[list[_Piece], Field(min_length=1, max_length=10_000)]


class _Rules(Strict):
    owner: Name
    date: Day
    thinnest_um: Micrometres = 150.0
    thickest_um: Micrometres = 300.0
    wedge_um: Micrometres = 30.0
    back_um: Annotated[float, Field(gt=0.0, le=100.0)] = 0.8


def look_through(request: StamperInspectRequest, ports: Ports, progress: Progress) -> printed.MetalResult:
    """Judge every piece of the register; raises ``InputError`` for a family that cannot be."""
    check_request(request)
    where = f"register {request.register}"
    file = load_toml(request.register, _Register, "register")
    register: dict[str, Metal] = {}
    for stated in file.piece:
        if stated.id in register:
            raise InputError(f"{where}: piece {stated.id} stands there twice; give each its own name")
        register[stated.id] = _metal(stated, where)
    if request.piece is not None and request.piece not in register:
        raise unknown_name("piece", request.piece, list(register))
    rules, house = _house(request.rules)
    rows, unseen = [], []
    for piece in family_order(register) if request.piece is None else (register[request.piece],):
        try:
            rows.append(_row(piece, register, house))
        except InputError as error:
            raise InputError(f"{where}: {error}") from None
        unseen += _not_judged(rows[-1], len(rows) - 1)
    return printed.MetalResult(
        pieces=rows,
        rules=rules,
        not_judged=unseen,
        cautions=[] if request.rules is not None else ["The rules are common practice: set the house's own."],
        safety=list(SAFETY),
        input=printed.MetalInput(
            file=request.register.name, sha256=sha256(request.register.read_bytes()).hexdigest(), pieces=len(register)
        ),
        version=runtrue.__version__,
    )  # fmt: skip


def _house(path: Path | None) -> tuple[printed.MetalRules, HouseMetal]:
    stated = _Rules(owner="the trade", date="") if path is None else load_toml(path, _Rules, "rules file")
    if stated.thinnest_um >= stated.thickest_um:
        raise InputError(f"rules file {path}: thinnest_um must be below thickest_um; correct one")
    rules = printed.MetalRules(
        thinnest_um=stated.thinnest_um, thickest_um=stated.thickest_um, wedge_um=stated.wedge_um,
        back_um=stated.back_um, owner=stated.owner,
        source="common practice, no source" if path is None else f"{path.name}, {stated.date}",
    )  # fmt: skip
    house = HouseMetal(
        thinnest=stated.thinnest_um * UM, thickest=stated.thickest_um * UM, wedge_over_disc=stated.wedge_um * UM,
        back=stated.back_um * UM,
    )  # fmt: skip
    return rules, house


def _metal(stated: _Piece, where: str) -> Metal:
    here = f"{where}: piece {stated.id}"
    record = None
    if stated.format is not None:
        try:
            record = disc_format(stated.format)
        except InputError as error:
            raise InputError(f"{here}: {error}") from None

    def recorded(fault: _Fault) -> bool:
        if fault.recorded is not None:
            return fault.recorded
        if record is None:
            raise InputError(f"{here}: say of the {fault.kind} whether it is 'recorded', or give the piece its format")
        inner, outer = record.innermost_groove.value / 2.0, record.outermost_groove.value / 2.0
        return bool(inner <= fault.radius_mm * MM <= outer)

    return Metal(
        id=stated.id, matrix=stated.matrix, generation=Generation(stated.generation), parent=stated.parent,
        grown=stated.grown, bath=stated.bath, kept=stated.kept, state=stated.state, impressions=stated.impressions,
        back=None if stated.back_um is None else stated.back_um * UM,
        thickness=tuple(
            Thickness(radius=p.radius_mm * MM, angle=-30.0 * p.hour * DEG, value=p.um * UM) for p in stated.thickness
        ),
        faults=tuple(
            VisualFault(kind=FaultKind(f.kind), hour=f.hour, radius=f.radius_mm * MM, recorded=recorded(f))
            for f in stated.fault
        ),
        repairs=tuple(Repair(hour=r.hour, radius=r.radius_mm * MM, done=r.done) for r in stated.repair),
    )  # fmt: skip


def _row(piece: Metal, register: dict[str, Metal], house: HouseMetal) -> printed.PieceRow:
    found = inspect(piece, house)
    return printed.PieceRow(
        id=piece.id, matrix=piece.matrix, generation=piece.generation.value,
        family=[one.id for one in lineage(piece, register)][1:], grown=piece.grown, bath=piece.bath, kept=piece.kept,
        state=piece.state, impressions=piece.impressions,
        back_um=None if piece.back is None else round(piece.back / UM, 3),
        thickness=_thickness(piece, house) if len(piece.thickness) >= 3 else None,
        faults=[
            printed.Mark(what=f.kind.value, hour=f.hour, radius_mm=round(f.radius / MM, 2), recorded=f.recorded)
            for f in piece.faults
        ],
        repairs=[
            printed.Mark(what=r.done, hour=r.hour, radius_mm=round(r.radius / MM, 2), recorded=False)
            for r in piece.repairs
        ],
        advice=cast(Any, found.advice.value), reasons=list(found.reasons), not_looked_at=list(found.not_looked_at),
    )  # fmt: skip


def _thickness(piece: Metal, house: HouseMetal) -> printed.ThicknessFound:
    found = wedge(piece.thickness)
    across = 2.0 * house.disc_radius
    return printed.ThicknessFound(
        mean_um=round(found.mean / UM, 2), wedge_um=round(found.slope * across / UM, 2),
        wedge_u95_um=None if found.slope_u95 is None else round(found.slope_u95 * across / UM, 2),
        toward_hour=clock_hour(found.toward / DEG), thinnest_um=round(found.thinnest.value / UM, 2),
        thinnest_hour=clock_hour(found.thinnest.angle / DEG),
        thinnest_radius_mm=round(found.thinnest.radius / MM, 2), thickest_um=round(found.thickest.value / UM, 2),
    )  # fmt: skip


def _not_judged(row: printed.PieceRow, place: int) -> list[NotJudged]:
    found = []
    if row.back_um is None:
        found.append(NotJudged(key=f"pieces.{place}.back_um", reason=f"{row.id}: nobody measured the back"))
    if row.thickness is None:
        reason = f"{row.id}: thickness was not gauged at three places"
        found.append(NotJudged(key=f"pieces.{place}.thickness", reason=reason))
    elif row.thickness.wedge_u95_um is None:
        reason = f"{row.id}: three places leave nothing to judge the scatter by"
        found.append(NotJudged(key=f"pieces.{place}.thickness.wedge_u95_um", reason=reason))
    return found
