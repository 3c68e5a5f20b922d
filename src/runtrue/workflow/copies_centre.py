"""Off-centre over copies: one vector on a stamper's copies, scatter, and what both sides share."""

from collections.abc import Sequence
from dataclasses import replace
from json import loads
from math import atan2, cos, degrees, hypot, radians, sin
from pathlib import Path

import numpy as np
from pydantic import TypeAdapter, ValidationError

from runtrue.contract.copies import COPIES_SCHEMA, Copies, CopyRow, OffsetRow, TogetherRow
from runtrue.contract.listening import Centre
from runtrue.errors import InputError
from runtrue.listen.copies.sample import Sample
from runtrue.listen.copies.trends import Offset, Vector, offsets, together
from runtrue.workflow.copies_file import Listed
from runtrue.workflow.copies_judged import Heard
from runtrue.workflow.toml_file import read_text


def pushed(rows: Sequence[Listed], heard: Sequence[Heard]) -> Centre | None:
    """The disc's offset from two opposite pushes: their mean is free of the slack."""
    by_push = {row.push: h.centre for row, h in zip(rows, heard, strict=True) if h.centre is not None and not h.reason}
    away, toward = by_push.get("away"), by_push.get("toward")
    if away is None or toward is None:
        return None
    x, y = (0.5 * (a + b) for a, b in zip(_plane(away), _plane(toward), strict=True))
    slack = 0.5 * hypot(*(a - b for a, b in zip(_plane(away), _plane(toward), strict=True)))
    u95 = max(min(away.u95_um, toward.u95_um) - slack, 0.1 * min(away.u95_um, toward.u95_um))
    return _centre(x, y, u95, placings=2)


def _plane(centre: Centre) -> tuple[float, float]:
    angle = radians(centre.direction_deg)
    return centre.offset_um * cos(angle), centre.offset_um * sin(angle)


def _centre(x: float, y: float, u95: float, *, placings: int) -> Centre:
    length = hypot(x, y)
    half = 180.0 if u95 >= length else degrees(np.arcsin(u95 / length))
    return Centre(
        offset_um=round(length, 3),
        swing_um=round(2.0 * length, 3),
        direction_deg=round(degrees(atan2(y, x)) % 360.0, 3),
        direction_u95_deg=round(float(half), 3),
        u95_um=round(u95, 3),
        offset_u95_um=round(u95, 3),
        placings=placings,
    )


def vectors_of(rows: Sequence[Listed], heard: Sequence[Heard], sample: Sample) -> list[Vector]:
    """What each play that takes part played; two opposite pushes of a copy are one vector free of the slack."""
    index = {copy: i for i, copy in enumerate(sample.copies)}
    out = []
    for copy, i in index.items():
        mine = [k for k, row in enumerate(rows) if row.copy == copy]
        both = pushed([rows[k] for k in mine], [heard[k] for k in mine])
        if both is not None:
            out.append(_vector(i, both, both))
            continue
        out += [_vector(i, played, heard[k].centre) for k in mine if (played := heard[k].played) is not None]
    return out


def _vector(copy: int, played: Centre, disc: Centre | None) -> Vector:
    x, y = _plane(played)
    slack = 0.0 if disc is None else max(disc.u95_um**2 - played.u95_um**2, 0.0) ** 0.5
    return Vector(copy=copy, x=x, y=y, u95=played.u95_um, slack=slack)


def offset_rows(vectors: Sequence[Vector], sample: Sample) -> list[OffsetRow]:
    """The offset of each stamper's copies and what it comes from."""
    return [_offset_row(one, sample) for one in offsets(vectors, sample)]


def _offset_row(one: Offset, sample: Sample) -> OffsetRow:
    return OffsetRow(
        stamper=one.stamper,
        copies=[sample.copies[i] for i in one.copies],
        offset_um=round(hypot(one.x, one.y), 2),
        direction_deg=round(degrees(atan2(one.y, one.x)) % 360.0, 2),
        u95_um=round(one.u95, 2),
        spread_um=round(one.spread, 2),
        agrees=one.agrees,
        placing=one.placing,
        advice=_offset_words(one),
    )


def _offset_words(one: Offset) -> str:
    name = f"stamper {one.stamper}" if one.stamper else "the stamper"
    length = hypot(one.x, one.y)
    if one.agrees is None:
        return "From one copy: play another of it."
    if one.placing is False:
        return "The vectors scatter more than placing does: the pin or the hole. Look at the centre pin."
    scatter = "" if one.agrees else " They scatter as a loose hole lets the disc lie: placing."
    if length <= one.u95_played:
        return "No common offset beyond its ±." + scatter
    if length <= one.u95:
        return (
            f"One vector on its copies: {name} was punched or seated so, or all lay to one side of a loose hole. "
            "Turn one on the spindle and play it again."
        )
    return f"One vector on its copies: {name} was punched or seated so.{scatter}"


def load_other(path: Path | None) -> Copies | None:
    """The result of comparing the other side. Raises ``InputError`` for a file that is none."""
    if path is None:
        return None
    where = f"other_side {path}"
    try:
        content = loads(read_text(path, where))
        if not isinstance(content, dict) or content.get("schema") != COPIES_SCHEMA:
            raise ValueError("no such result")
        return TypeAdapter(Copies).validate_python(content)
    except InputError:
        raise
    except (ValueError, ValidationError):
        raise InputError(
            f"{where}: holds no {COPIES_SCHEMA}; give what `listen compare --json` printed for the other side"
        ) from None


def with_other(result: Copies, other: Copies) -> Copies:
    """The result with what its offsets share with the other side's, copy by copy."""
    rows = _together(result, other)
    why = "fewer than four copies of one pair of stampers have an off-centre on both sides"
    keep = [one for one in result.not_judged if one.key != "together"]
    lacking = [] if rows else [replace(one, reason=why) for one in result.not_judged if one.key == "together"]
    return replace(result, together=rows or None, not_judged=[*keep, *lacking])


def _together(result: Copies, other: Copies) -> list[TogetherRow]:
    """Each pair of stampers apart, for each was punched for itself: four copies or more with a vector on both sides."""
    there = {row.copy: row for row in other.copies if row.off_centre is not None}
    pairs: dict[tuple[str | None, str | None], list[CopyRow]] = {}
    for row in result.copies:
        if row.off_centre is not None and row.copy in there:
            pairs.setdefault((row.stamper, there[row.copy].stamper), []).append(row)
    out = []
    for (mine, theirs), rows in pairs.items():
        found = together(_complex(rows), _complex([there[row.copy] for row in rows]))
        if found is not None:
            scatter = any(
                one.agrees is False
                for side, stamper in ((result, mine), (other, theirs))
                for one in side.offsets
                if one.stamper == stamper
            )
            out.append(
                TogetherRow(
                    stamper=mine, other_stamper=theirs, copies=[row.copy for row in rows],
                    likeness=round(found.likeness, 3), chance_probability=round(found.probability, 6),
                    bound=found.bound and scatter, advice=_together_words(found.bound, scatter),
                )
            )  # fmt: skip
    return out


def _complex(rows: Sequence[CopyRow]) -> "np.ndarray[tuple[int], np.dtype[np.complex128]]":
    return np.array([complex(*_plane(row.off_centre)) for row in rows if row.off_centre is not None])


def _together_words(bound: bool, scatter: bool) -> str:
    if not scatter:
        return "Neither side's vector moves from copy to copy: no fault of pin or hole shows."
    if bound:
        return "Both sides move together: the pin or the hole. Look at the centre pin and how the hole is made."
    return "The sides move each for itself: placing, not the pin or the hole."
