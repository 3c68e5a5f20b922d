"""Mixer logs and tables of batches (CSV) into values; every mistake becomes one line that says where it is."""

from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from runtrue.compound.mixing import MixerLog
from runtrue.errors import InputError
from runtrue.quantities import QUANTITIES, Quantity
from runtrue.units import KW, ZERO_DEGC
from runtrue.workflow.table_file import Row, load_table

_Array = NDArray[np.float64]

LOG = ("time_s", "power_kw", "temperature_degc")
LOG_KNOWN = (*LOG, "ram_bar", "speed_rpm")
MOST_READINGS = 500_000
FAMILY_NUMBERS = (
    "peak_power", "specific_energy", "second_peak_energy", "dump_temperature", "dump_time", "mixing_loss",
    "sheet_thickness", "biscuit_mass", "biscuit_temperature", "moisture", "volatiles", "flow_length", "melt_flow",
    "heat_stability", "sieve_residue", "colour_difference", "grains_per_sheet",
)  # fmt: skip
"""Numbers of a batch that a family's table may hold, by quantity."""
CURVE = "curve_distance"


@dataclass(frozen=True, slots=True, kw_only=True)
class LogFile:
    """A mixer's log with its file."""

    name: str
    digest: str
    log: MixerLog


def load_log(path: Path) -> LogFile:
    """Read a log; raises ``InputError`` with the line."""
    rows = load_table(path, "log", needed=LOG, known=LOG_KNOWN, most=MOST_READINGS)
    table = np.array([[row.number(name) for name in LOG] for row in rows])
    back = np.flatnonzero(np.diff(table[:, 0]) <= 0.0)
    if back.size:
        here = int(back[0]) + 1
        raise InputError(
            f"{rows[here].where}: time_s {table[here, 0]:g} does not come after {table[here - 1, 0]:g}; a log runs "
            "forward: put the readings in order, or split two batches"
        )
    if table.shape[0] < 2:
        raise InputError(f"{rows[0].where}: a log needs two readings at least; give the whole batch")
    for name, low, high, column in (("power_kw", -1e5, 1e5, 1), ("temperature_degc", -100.0, 600.0, 2)):
        wrong = np.flatnonzero((table[:, column] < low) | (table[:, column] > high))
        if wrong.size:
            here = int(wrong[0])
            raise InputError(
                f"{rows[here].where}: {name} must be {low:g} to {high:g}, got {table[here, column]:g}: check the unit"
            )
    return LogFile(
        name=path.name,
        digest=sha256(path.read_bytes()).hexdigest(),
        log=MixerLog(time=table[:, 0], power=table[:, 1] * KW, temperature=table[:, 2] + ZERO_DEGC),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class FamilyFile:
    """Batches in order. ``numbers`` in SI (batches, quantities), NaN where empty; ``logs`` with masses [kg] or None."""

    name: str
    digest: str
    batches: tuple[str, ...]
    quantities: tuple[Quantity, ...]
    numbers: _Array
    logs: tuple[LogFile, ...] | None
    masses: tuple[float | None, ...]


def load_family(path: Path) -> FamilyFile:
    """Read a table of batches; paths of logs are relative to its folder. Raises ``InputError`` with the line."""
    known = [QUANTITIES[name] for name in FAMILY_NUMBERS]
    rows = load_table(
        path, "family", needed=("batch",), known=("batch", "log", "mass_kg", *(q.key for q in known)), most=100_000
    )
    found = [q for q in known if q.key in rows[0].values]
    batches = tuple(row.needed("batch") for row in rows)
    for place, batch in enumerate(batches):
        if batch in batches[:place]:
            raise InputError(f"{rows[place].where}: batch '{batch}' stands there twice; keep one")
    with_logs = [bool(row.text("log")) for row in rows]
    if any(with_logs) and not all(with_logs):
        raise InputError(f"{rows[with_logs.index(False)].where}: log is empty; give a log for every batch or for none")
    if not found and not any(with_logs):
        raise InputError(
            f"family {path}: no column holds a number; known are {', '.join(q.key for q in known)}, or log with mass_kg"
        )
    return FamilyFile(
        name=path.name,
        digest=sha256(path.read_bytes()).hexdigest(),
        batches=batches,
        quantities=tuple(found),
        numbers=np.array([[_si(row, q) for q in found] for row in rows]).reshape(len(rows), len(found)),
        logs=tuple(load_log(path.parent / row.text("log")) for row in rows) if any(with_logs) else None,
        masses=tuple(row.number_or_none("mass_kg", low=0.001, high=1e5, unit="kg") for row in rows),
    )


def _si(row: Row, quantity: Quantity) -> float:
    shown = row.number_or_none(quantity.key)
    return float("nan") if shown is None else quantity.to_si(shown)
