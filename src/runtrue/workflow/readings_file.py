"""A table of lens readings (CSV) into values; every mistake becomes one line that says where it is."""

from collections.abc import Sequence
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path

import numpy as np

from runtrue.errors import InputError
from runtrue.stamper.readings import Groove, Readings, radians_by_mistake
from runtrue.units import DEG, UM
from runtrue.workflow.table_file import Row, load_table

NEEDED = ("angle_deg", "reading_um")
KNOWN = (*NEEDED, "turn", "set", "operator")
MOST_READINGS = 5000
"""More than any hand reads; a longer file is another file."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingsFile:
    """Readings, and what the file says beside them. ``turn`` counts from 1; ``angle`` [deg] is as written."""

    name: str
    digest: str
    readings: Readings
    angle: tuple[float, ...]
    turn: tuple[int, ...]
    operators: tuple[str, ...]


def load_readings(path: Path, groove: Groove) -> ReadingsFile:
    """Read a CSV of lens readings; raises ``InputError`` with file, line and what is allowed."""
    rows = load_table(path, "readings", needed=NEEDED, known=KNOWN, most=MOST_READINGS)
    readings, angle, turn = readings_of(rows, groove, f"readings {path}")
    return ReadingsFile(
        name=path.name,
        digest=sha256(path.read_bytes()).hexdigest(),
        readings=readings,
        angle=angle,
        turn=turn,
        operators=tuple(sorted({row.text("operator") for row in rows} - {""})),
    )


def readings_of(rows: Sequence[Row], groove: Groove, where: str) -> tuple[Readings, tuple[float, ...], tuple[int, ...]]:
    """Readings of one stamper, with the angle [deg] as written and the turn of each; ``where`` begins messages."""
    angle = np.array([row.number("angle_deg") for row in rows])
    radius = np.array([_reading(row) for row in rows])
    turn = np.array([row.whole("turn", 1, 100, default=1) for row in rows])
    second = np.array([_set(row) for row in rows])
    if radians_by_mistake(angle):
        raise InputError(
            f"{where}: all angles lie from {angle.min():g} to {angle.max():g}, which looks like radians; angle_deg "
            "is in degrees: convert them"
        )
    if np.abs(angle).max() > 36_000.0:
        raise InputError(f"{where}: angle_deg reaches {np.abs(angle).max():g}; 100 turns are allowed: correct it")
    with_turns = "turn" in rows[0].values
    if groove is Groove.SPIRAL and not with_turns and _comes_again(angle):
        raise InputError(
            f"{where}: angles come again within a turn and no column 'turn' says in which turn of the spiral; add it, "
            "or let the angle grow beyond 360"
        )
    full = (angle + 360.0 * (turn - 1)) * DEG if with_turns and groove is Groove.SPIRAL else angle * DEG
    return (
        Readings(angle=full, radius=radius * UM, second_set=second),
        tuple(float(a) for a in angle),
        tuple(int(t) if with_turns else int(a // 360.0) + 1 for t, a in zip(turn, angle, strict=True)),
    )


def _reading(row: Row) -> float:
    value = row.number("reading_um")
    if abs(value) > 1e6:
        raise InputError(f"{row.where}: reading_um is {value:g}; at most a metre is allowed: check the unit")
    return value


def _set(row: Row) -> bool:
    text = row.text("set", "0")
    if text not in ("0", "180"):
        raise InputError(
            f"{row.where}: set '{text}' must be 0 or 180, how far the stamper was turned on the table; correct it"
        )
    return text == "180"


def _comes_again(angle: "np.ndarray[tuple[int], np.dtype[np.float64]]") -> bool:
    if float(np.ptp(angle)) >= 360.0:
        return False
    return len({round(float(a) % 360.0, 3) for a in angle}) < angle.size
