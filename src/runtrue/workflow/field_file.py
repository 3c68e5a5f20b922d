"""The field file of a scanner (TOML): what a check with a measured ring told, for every picture after it."""

from dataclasses import dataclass
from pathlib import Path
from typing import Annotated

from pydantic import Field as Bounds

from runtrue.errors import SurroundingsError
from runtrue.stamper.field import Distortion, Field, FieldCheck
from runtrue.units import MM, PERCENT, UM
from runtrue.workflow.toml_file import Day, Strict, load_toml, toml_string

_Share = Annotated[float, Bounds(ge=0.0, le=10.0)]
_Signed = Annotated[float, Bounds(ge=-5.0, le=5.0)]


class _File(Strict):
    name: Annotated[str, Bounds(min_length=1)]
    owner: Annotated[str, Bounds(min_length=1)]
    date: Day
    um_per_px: Annotated[float, Bounds(ge=1.0, le=500.0)]
    scale_u95_percent: _Share
    stretch_percent: _Signed
    skew_percent: _Signed
    stretch_u95_percent: _Share
    u95_um: Annotated[float, Bounds(ge=0.0, le=2000.0)]
    rim_mm: Annotated[float, Bounds(ge=10.0, le=420.0)]
    scans: Annotated[int, Bounds(ge=2, le=1000)]


@dataclass(frozen=True, slots=True, kw_only=True)
class FieldFile:
    """A checked scanner: ``scale`` [m/px], what is known of it, and the rim of the ring it was checked with [m]."""

    name: str
    scale: float
    field: Field
    rim: float


def load_field(path: Path) -> FieldFile:
    """Read a field file; raises ``InputError`` with file, place and what is allowed."""
    file = load_toml(path, _File, "field file")
    source = f"{file.name}, {file.scans} scans of a measured ring, {file.date}"
    return FieldFile(
        name=file.name,
        scale=file.um_per_px * UM,
        rim=file.rim_mm * MM,
        field=Field(
            u95=file.u95_um * UM,
            scale_u95=file.scale_u95_percent * PERCENT,
            distortion=Distortion(
                stretch=file.stretch_percent * PERCENT,
                skew=file.skew_percent * PERCENT,
                u95=file.stretch_u95_percent * PERCENT,
                source=source,
            ),
            source=source,
            checked=True,
        ),
    )


def write_field(path: Path, found: FieldCheck, *, name: str, owner: str, day: str, rim: float) -> None:
    """Write a field file; the folder is there and the name is free."""
    lines = [
        "# Made by runtrue stamper field; check the scanner again after it was moved or mended.",
        f"name = {toml_string(name)}",
        f"owner = {toml_string(owner)}",
        f"date = {day[:10]}",
        f"um_per_px = {found.scale / UM:.6f}",
        f"scale_u95_percent = {found.scale_u95 / PERCENT:.4f}",
        f"stretch_percent = {found.distortion.stretch / PERCENT:.5f}",
        f"skew_percent = {found.distortion.skew / PERCENT:.5f}",
        f"stretch_u95_percent = {found.distortion.u95 / PERCENT:.5f}",
        f"u95_um = {found.u95 / UM:.3f}",
        f"rim_mm = {rim / MM:.4f}",
        f"scans = {found.scans}",
    ]
    try:
        path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    except OSError as error:
        raise SurroundingsError(f"field file {path}: cannot be written ({error.strerror}); check the disk") from None
