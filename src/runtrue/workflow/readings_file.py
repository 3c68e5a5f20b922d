"""A table of lens readings (CSV) into values; every mistake becomes one line that says where it is."""

import csv
import io
from collections.abc import Mapping
from dataclasses import dataclass
from hashlib import sha256
from math import isfinite
from pathlib import Path

import numpy as np

from runtrue.errors import InputError
from runtrue.stamper.readings import Groove, Readings, radians_by_mistake
from runtrue.units import DEG, UM
from runtrue.workflow.toml_file import read_text

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
    where = f"readings {path}"
    text = read_text(path, where).removeprefix("\ufeff")
    rows = _rows(text, where)
    angle = np.array([_number(row, "angle_deg", line, where) for line, row in rows])
    radius = np.array([_number(row, "reading_um", line, where) for line, row in rows])
    turn = np.array([_turn(row, line, where) for line, row in rows])
    second = np.array([_set(row, line, where) for line, row in rows])
    if radians_by_mistake(angle):
        raise InputError(
            f"{where}: all angles lie from {angle.min():g} to {angle.max():g}, which looks like radians; angle_deg "
            "is in degrees: convert them"
        )
    if np.abs(angle).max() > 36_000.0:
        raise InputError(f"{where}: angle_deg reaches {np.abs(angle).max():g}; 100 turns are allowed: correct it")
    with_turns = "turn" in rows[0][1]
    if groove is Groove.SPIRAL and not with_turns and _comes_again(angle):
        raise InputError(
            f"{where}: angles come again within a turn and no column 'turn' says in which turn of the spiral; add it, "
            "or let the angle grow beyond 360"
        )
    full = (angle + 360.0 * (turn - 1)) * DEG if with_turns and groove is Groove.SPIRAL else angle * DEG
    return ReadingsFile(
        name=path.name,
        digest=sha256(path.read_bytes()).hexdigest(),
        readings=Readings(angle=full, radius=radius * UM, second_set=second),
        angle=tuple(float(a) for a in angle),
        turn=tuple(int(t) if with_turns else int(a // 360.0) + 1 for t, a in zip(turn, angle, strict=True)),
        operators=tuple(sorted({(row.get("operator") or "").strip() for _, row in rows} - {""})),
    )


def _rows(text: str, where: str) -> list[tuple[int, Mapping[str, str]]]:
    """Lines of the table with their number in the file, blank lines left out."""
    first = text.partition("\n")[0]
    if ";" in first or "\t" in first:
        raise InputError(f"{where}: columns are parted by ';' or tabs; save it with commas and decimal points")
    try:
        reader = csv.DictReader(io.StringIO(text, newline=""), strict=True)
        names = [name.strip() for name in reader.fieldnames or []]
        reader.fieldnames = names
        rows: list[tuple[int, Mapping[str, str]]] = [
            (reader.line_num, row) for row in reader if any((v or "") and str(v).strip() for v in row.values())
        ]
    except csv.Error as error:
        raise InputError(f"{where}: is no table with commas ({error}); save it as CSV") from None
    for name in NEEDED:
        if name not in names:
            raise InputError(f"{where}: column '{name}' is missing; needed are {', '.join(NEEDED)}: add it")
    unknown = [name for name in names if name not in KNOWN]
    if unknown:
        known = ", ".join(KNOWN)
        raise InputError(f"{where}: column '{unknown[0]}' is unknown; known are {known}: rename or remove it")
    if len(set(names)) < len(names):
        raise InputError(f"{where}: a column stands there twice; keep one")
    for line, row in rows:
        if None in row:
            raise InputError(
                f"{where}, line {line}: more values than columns; a decimal comma would do that: write 12.5, not 12,5"
            )
    if not rows:
        raise InputError(f"{where}: holds no readings; write one a line below the column names")
    if len(rows) > MOST_READINGS:
        raise InputError(f"{where}: {len(rows)} readings; at most {MOST_READINGS} are allowed: give one stamper's")
    return rows


def _number(row: Mapping[str, str], name: str, line: int, where: str) -> float:
    text = (row.get(name) or "").strip()
    if not text:
        raise InputError(f"{where}, line {line}: {name} is empty; write the number or remove the line")
    try:
        value = float(text)
    except ValueError:
        hint = "write a decimal point, not a comma" if "," in text else "write a number"
        raise InputError(f"{where}, line {line}: {name} '{text}' is no number; {hint}") from None
    if not isfinite(value) or "_" in text:
        raise InputError(f"{where}, line {line}: {name} '{text}' is no finite number; write a number")
    if name == "reading_um" and abs(value) > 1e6:
        raise InputError(f"{where}, line {line}: reading_um is {value:g}; at most a metre is allowed: check the unit")
    return value


def _turn(row: Mapping[str, str], line: int, where: str) -> int:
    text = (row.get("turn") or "1").strip()
    if not text.isascii() or not text.isdigit() or not 1 <= int(text) <= 100:
        raise InputError(f"{where}, line {line}: turn '{text}' must be a whole number, 1 to 100; correct it")
    return int(text)


def _set(row: Mapping[str, str], line: int, where: str) -> bool:
    text = (row.get("set") or "0").strip()
    if text not in ("0", "180"):
        raise InputError(
            f"{where}, line {line}: set '{text}' must be 0 or 180, how far the stamper was turned on the table; "
            "correct it"
        )
    return text == "180"


def _comes_again(angle: "np.ndarray[tuple[int], np.dtype[np.float64]]") -> bool:
    if float(np.ptp(angle)) >= 360.0:
        return False
    return len({round(float(a) % 360.0, 3) for a in angle}) < angle.size
