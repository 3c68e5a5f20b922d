"""A result becomes a finder ring on paper: each fault's angle and radius at 1:1, for the disc and for the stamper."""

from dataclasses import dataclass
from json import loads
from typing import Any

from pydantic import TypeAdapter, ValidationError

import runtrue
from runtrue.contract.copies import COPIES_SCHEMA, Copies
from runtrue.contract.listening import SCHEMA, Listening
from runtrue.contract.ring import FinderRing, RingMark
from runtrue.disc.formats import disc_format
from runtrue.disc.frame import mirrored
from runtrue.errors import InputError
from runtrue.paper.page import Sheet
from runtrue.paper.pdf import write_pages
from runtrue.paper.ring import RingSheet, ring_page
from runtrue.paper.words import clock, count
from runtrue.types import Progress
from runtrue.workflow.actions import Ports, check_request
from runtrue.workflow.copies_request import ListenRingRequest
from runtrue.workflow.copies_words import copy_words
from runtrue.workflow.new_file import check_new
from runtrue.workflow.toml_file import read_text

MOST = 8
"""Faults that a ring marks when nothing else is asked."""
_LABELS = {12: 100.0, 10: 100.0, 7: 92.0}
"""Label diameters [mm] by inches of the record; common practice, no source."""
_RIM = 8.0
"""The ring stays so far within the label [mm], so that it lies flat on it."""
_WIDE = 20.0
"""An angle known no better than this finds nothing under a magnifier [deg]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Result:
    """What a ring needs of a result: faults without letters, most telling first."""

    name: str
    key: str
    format: str
    turn: float
    marks: tuple[RingMark, ...]
    said: str


def ring(request: ListenRingRequest, ports: Ports, progress: Progress) -> FinderRing:
    """Print the finder ring of a result. Raises ``InputError`` for a file that is none or holds no fault."""
    check_request(request)
    check_new(request.out, "out", ".pdf")
    result = _read(request)
    if not result.marks:
        raise InputError(f"result {request.result}: holds no tick that a ring could mark")
    chosen = sorted(result.marks[: request.most or MOST], key=lambda m: m.programme_s)
    zero_deg = 0.0 if request.zero_at_s is None else 360.0 * (request.zero_at_s / result.turn % 1.0)
    marks = [_turned(mark, letter, zero_deg) for mark, letter in zip(chosen, "ABCDEFGHIJKL", strict=False)]
    zero = (
        "the groove point where the programme starts" if request.zero_at_s is None
        else f"the mark that is played at {clock(request.zero_at_s)}"
    )  # fmt: skip
    label = request.label_mm or _LABELS[disc_format(result.format).inches]
    size = min(label - 2.0 * _RIM, 84.0)
    side = f"side {request.side}" if request.side else ""
    sheet = RingSheet(
        said=result.said,
        below=f"{result.name}, {result.format}. {count(len(marks), 'fault')} of {len(result.marks)} marked. "
        "± is 95 %. Wear gloves at a stamper: its edges cut.",
        marks=tuple(marks),
        ring_mm=size,
        zero=zero,
        side=side,
        sheet=Sheet(plant="", name="Finder ring", key=result.key, version=runtrue.__version__, date=ports.clock()[:10]),
    )  # fmt: skip
    write_pages(request.out, (ring_page(sheet),), title="Finder ring", author="runtrue")
    wide = [mark.letter for mark in marks if mark.angle_u95_deg > _WIDE]
    return FinderRing(
        file=request.out.name,
        zero=zero,
        ring_mm=size,
        marks=marks,
        left_out=len(result.marks) - len(marks),
        cautions=[f"The angle of {', '.join(wide)} is known to {_WIDE:.0f}° or worse: look round the turn."]
        if wide
        else [],
        version=runtrue.__version__,
    )


def _turned(mark: RingMark, letter: str, zero: float) -> RingMark:
    angle = round((mark.angle_deg - zero) % 360.0, 3) % 360.0
    return RingMark(
        letter=letter, programme_s=mark.programme_s, turn=mark.turn, angle_deg=angle,
        angle_u95_deg=mark.angle_u95_deg, stamper_angle_deg=round(mirrored(angle), 3), radius_mm=mark.radius_mm,
        radius_u95_mm=mark.radius_u95_mm, prominence_db=mark.prominence_db, copies=mark.copies,
    )  # fmt: skip


def _read(request: ListenRingRequest) -> _Result:
    """The faults of a result file, whichever kind it is."""
    where = f"result {request.result}"
    try:
        content = loads(read_text(request.result, where))
    except ValueError as error:
        if isinstance(error, InputError):
            raise
        raise InputError(f"{where}: is no JSON ({error}); give what --json printed") from None
    kind = content.get("schema") if isinstance(content, dict) else None
    try:
        if kind == SCHEMA:
            return _of_listening(TypeAdapter(Listening).validate_python(content))
        if kind == COPIES_SCHEMA:
            return _of_copies(TypeAdapter(Copies).validate_python(content))
    except ValidationError as error:
        place = ".".join(str(part) for part in error.errors()[0]["loc"])
        raise InputError(f"{where}: {place} is not as in {kind}; give what this version printed") from None
    raise InputError(
        f"{where}: holds '{kind}'; a ring is made of {SCHEMA} or {COPIES_SCHEMA}: give what `listen check --json` or "
        "`listen compare --json` printed"
    )


def _mark(one: Any, copies: list[str]) -> RingMark:
    return RingMark(
        letter="", programme_s=one.programme_s, turn=one.turn, angle_deg=one.angle_deg,
        angle_u95_deg=one.angle_u95_deg, stamper_angle_deg=0.0, radius_mm=one.radius_mm,
        radius_u95_mm=one.radius_u95_mm, prominence_db=one.prominence_db, copies=copies,
    )  # fmt: skip


def _of_listening(result: Listening) -> _Result:
    name = result.input.file
    ticks = sorted(result.ticks or [], key=lambda tick: -tick.prominence_db)
    return _Result(
        name=name, key=result.input.sha256, format=result.settings.format, turn=result.turn.period_s,
        marks=tuple(_mark(tick, []) for tick in ticks), said=f"{count(len(ticks), 'tick')} on {name}.",
    )  # fmt: skip


def _of_copies(result: Copies) -> _Result:
    rows = [row for row in result.recurrences if len(row.copies) > 1]
    rows.sort(key=lambda row: (not row.fails, -row.prominence_db))
    key = (result.reference.sha256 or "") + str(len(result.copies))
    return _Result(
        name=copy_words([row.copy for row in result.copies]), key=key, format=result.format, turn=result.turn_s,
        marks=tuple(_mark(row, row.copies) for row in rows), said=result.headline,
    )  # fmt: skip
