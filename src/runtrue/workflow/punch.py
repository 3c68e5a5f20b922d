"""The punch of the house, set once: how its x and y lie on the face, and where its own axis is (TOML)."""

import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated

from pydantic import Field

from runtrue.contract.centre import AfterPunch
from runtrue.errors import InputError, SurroundingsError
from runtrue.stamper.axis import Machine, PunchAxis, axis_from_checks, stated_axis
from runtrue.units import DEG, UM
from runtrue.workflow.toml_file import Day, Strict, load_toml, read_text, toml_string

Micrometres = Annotated[float, Field(ge=-2000.0, le=2000.0)]


class _Check(Strict):
    x_um: Micrometres
    y_um: Micrometres
    date: Day | None = None
    stamper: str | None = None


class _Bias(Strict):
    x_um: Micrometres
    y_um: Micrometres
    u95_um: Annotated[float, Field(ge=0.0, le=2000.0)] | None = None


class _Punch(Strict):
    name: Annotated[str, Field(min_length=1)]
    owner: Annotated[str, Field(min_length=1)]
    date: Day
    x_axis_deg: Annotated[float, Field(ge=-360.0, le=360.0)] = 0.0
    mirrored: bool = False
    lens_division_um: Annotated[float, Field(ge=0.0, le=1000.0)] | None = None
    bias: _Bias | None = None
    check: Annotated[list[_Check], Field(default_factory=list)]


@dataclass(frozen=True, slots=True, kw_only=True)
class Punch:
    """What the house says of its punch; ``axis`` is in the machine's axes."""

    name: str
    machine: Machine
    x_axis_deg: float
    division: float | None
    axis: PunchAxis | None


def load_punch(path: Path) -> Punch:
    """Read a punch file; raises ``InputError`` with file, place and what is allowed."""
    file = load_toml(path, _Punch, "punch file")
    if file.bias is not None and file.check:
        raise InputError(f"punch file {path}: bias and check both say where the axis is; keep the checks")
    axis = None
    if file.check:
        axis = axis_from_checks([(c.x_um * UM, c.y_um * UM) for c in file.check])
    elif file.bias is not None:
        u95 = None if file.bias.u95_um is None else file.bias.u95_um * UM
        axis = stated_axis(file.bias.x_um * UM, file.bias.y_um * UM, u95)
    return Punch(
        name=file.name,
        machine=Machine(x_axis=file.x_axis_deg * DEG, mirrored=file.mirrored),
        x_axis_deg=file.x_axis_deg,
        division=None if file.lens_division_um is None else file.lens_division_um * UM,
        axis=axis,
    )


def keep_check(path: Path, check: AfterPunch, *, day: str, stamper: str | None) -> None:
    """Append a check after punching to the punch file; what stands there stays as it is.

    The file is written anew beside the old one and put in its place, so that a full disk leaves the old one whole.
    """
    where = f"punch file {path}"
    name = "" if stamper is None else f"stamper = {toml_string(stamper)}\n"
    text = read_text(path, where).rstrip() + f"\n\n[[check]]\nx_um = {check.x_um:.1f}\ny_um = {check.y_um:.1f}\n"
    text += f"date = {day}\n{name}"
    try:
        tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        raise InputError(
            f"{where}: its checks stand in one list; write each as a table [[check]] to keep more"
        ) from None
    beside = path.with_name(f"{path.name}.new")
    try:
        beside.write_text(text, encoding="utf-8")
        beside.replace(path)
    except OSError as error:
        raise SurroundingsError(f"{where}: cannot be written ({error.strerror}); check the disk") from None
