"""Tables with commas (CSV) into rows; every mistake becomes one line that says where it is."""

import csv
import io
from collections.abc import Mapping
from dataclasses import dataclass
from math import isfinite
from pathlib import Path

from runtrue.errors import InputError
from runtrue.workflow.toml_file import read_text


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One line of a table; ``where`` names file and line in every message."""

    where: str
    values: Mapping[str, str]

    def text(self, name: str, default: str = "") -> str:
        """A value as written, without blanks at its ends; ``default`` where it is empty or the column is missing."""
        return (self.values.get(name) or "").strip() or default

    def needed(self, name: str) -> str:
        """A value that must be there."""
        found = self.text(name)
        if not found:
            raise InputError(f"{self.where}: {name} is empty; write it or remove the line")
        return found

    def number(self, name: str, *, low: float | None = None, high: float | None = None, unit: str = "") -> float:
        """A number that must be there, decimal point, from ``low`` to ``high``."""
        text = self.text(name)
        if not text:
            raise InputError(f"{self.where}: {name} is empty; write the number or remove the line")
        try:
            value = float(text)
        except ValueError:
            hint = "write a decimal point, not a comma" if "," in text else "write a number"
            raise InputError(f"{self.where}: {name} '{text}' is no number; {hint}") from None
        if not isfinite(value) or "_" in text:
            raise InputError(f"{self.where}: {name} '{text}' is no finite number; write a number")
        if (low is not None and value < low) or (high is not None and value > high):
            shown = f" {unit}" if unit else ""
            allowed = (
                f"{low:g} to {high:g}{shown}" if low is not None and high is not None
                else f"{low:g}{shown} or more" if low is not None else f"at most {high:g}{shown}"
            )  # fmt: skip
            raise InputError(f"{self.where}: {name} must be {allowed}, got {value:g}: check the value and its unit")
        return value

    def number_or_none(
        self, name: str, *, low: float | None = None, high: float | None = None, unit: str = ""
    ) -> float | None:
        """A number, or None where it is empty or the column is missing."""
        return self.number(name, low=low, high=high, unit=unit) if self.text(name) else None

    def whole(self, name: str, low: int, high: int, default: int | None = None) -> int:
        """A whole number from ``low`` to ``high``."""
        text = self.text(name, "" if default is None else str(default))
        if not text.isascii() or not text.isdigit() or not low <= int(text) <= high:
            raise InputError(f"{self.where}: {name} '{text}' must be a whole number, {low} to {high}; correct it")
        return int(text)

    def word(self, name: str, known: tuple[str, ...], default: str = "") -> str:
        """One of the words that are known."""
        found = self.text(name, default)
        if found not in known:
            raise InputError(f"{self.where}: {name} '{found}' is unknown; known are {', '.join(known)}: correct it")
        return found


def load_table(path: Path, what: str, *, needed: tuple[str, ...], known: tuple[str, ...], most: int) -> list[Row]:
    """Rows of a table with commas, blank lines left out.

    Parameters
    ----------
    path : Path
        The file, UTF-8
    what : str
        Begins every message ("readings")
    needed, known : tuple of str
        Columns that must be there, and all that may be
    most : int
        Rows above which it must be another file
    """
    where = f"{what} {path}"
    text = read_text(path, where).removeprefix("\ufeff")
    first = text.partition("\n")[0]
    if ";" in first or "\t" in first:
        raise InputError(f"{where}: columns are parted by ';' or tabs; save it with commas and decimal points")
    try:
        reader = csv.reader(io.StringIO(text, newline=""), strict=True)
        names = [name.strip() for name in next(reader, [])]
        lines = [(reader.line_num, cells) for cells in reader if any(map(str.strip, cells))]
    except csv.Error as error:
        raise InputError(f"{where}: is no table with commas ({error}); save it as CSV") from None
    _check_names(names, where, needed, known)
    for line, cells in lines:
        if len(cells) > len(names):
            raise InputError(
                f"{where}, line {line}: more values than columns; a decimal comma would do that: write 12.5, not 12,5"
            )
    if not lines:
        raise InputError(f"{where}: holds no {what}; write one a line below the column names")
    if len(lines) > most:
        raise InputError(f"{where}: {len(lines)} lines; at most {most} are allowed: is it the right file?")
    return [Row(where=f"{where}, line {line}", values=dict(zip(names, cells, strict=False))) for line, cells in lines]


def _check_names(names: list[str], where: str, needed: tuple[str, ...], known: tuple[str, ...]) -> None:
    for name in needed:
        bare = next((other for other in names if name.startswith(f"{other}_")), "")
        if name not in names and bare:
            raise InputError(f"{where}: column '{name}' is missing; '{bare}' names no unit: write {name}")
        if name not in names:
            raise InputError(f"{where}: column '{name}' is missing; needed are {', '.join(needed)}: add it")
    unknown = [name for name in names if name not in known]
    if unknown:
        raise InputError(
            f"{where}: column '{unknown[0]}' is unknown; known are {', '.join(known)}: rename or remove it"
        )
    if len(set(names)) < len(names):
        raise InputError(f"{where}: a column stands there twice; keep one")
