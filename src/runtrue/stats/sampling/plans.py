"""From lot size, level and AQL to the single plan, with the standard's arrows followed."""

from dataclasses import dataclass
from enum import StrEnum
from functools import lru_cache

from runtrue.errors import InputError, unknown_name
from runtrue.stats.checks import whole
from runtrue.stats.sampling.tables import (
    AQLS,
    LEVELS,
    LOTS,
    NORMAL,
    REDUCED_105E,
    REDUCED_GBT,
    TIGHTENED,
    UNCONFIRMED_REDUCED,
)


class Severity(StrEnum):
    """How sharply a lot is inspected."""

    NORMAL = "normal"
    TIGHTENED = "tightened"
    REDUCED = "reduced"


_REDUCED_TABLE = {
    "MIL-STD-105E": "105E",
    "ANSI/ASQ Z1.4-2003": "105E",
    "ISO 2859-1:1999": "",
    "GB/T 2828.1-2012": "GBT",
}
STANDARDS = tuple(_REDUCED_TABLE)
"""Standards and editions whose tables are held; the first is the default. The contract names the one that counts."""

_TABLE_TEXT = {"normal": NORMAL, "tightened": TIGHTENED, "105E": REDUCED_105E, "GBT": REDUCED_GBT}


@dataclass(frozen=True, slots=True, kw_only=True)
class SinglePlan:
    """Take ``n`` at random, accept the lot with ``accept`` faults or fewer, refuse it with ``refuse`` or more.

    ``table_letter`` is the row that lot size and level point to, ``code_letter`` the row the arrows led to, whose n
    counts. ``inspect_all``: the lot is not larger than n, so every record of it is inspected. A count between
    ``accept`` and ``refuse`` (reduced inspection of MIL-STD-105E only) accepts the lot and ends reduced inspection.
    """

    standard: str
    severity: Severity
    aql: str
    table_letter: str
    code_letter: str
    n: int
    accept: int
    refuse: int
    inspect_all: bool = False
    cautions: tuple[str, ...] = ()


def code_letter(lot_size: int, level: str = "II") -> str:
    """Sample size code letter (Table I).

    Parameters
    ----------
    lot_size : int
        Records in the lot, 2 or more
    level : str
        S-1, S-2, S-3, S-4, I, II or III

    Returns
    -------
    letter : str
        A to R, without I and O

    Examples
    --------
    >>> code_letter(1000), code_letter(150, "II"), code_letter(5000, "S-3")
    ('J', 'F', 'F')

    References
    ----------
    .. [1] MIL-STD-105E, Table I = ISO 2859-1:1999, Table 1.
    """
    whole("lot_size", lot_size, 2)
    if level not in LEVELS:
        raise unknown_name("inspection level", level, LEVELS)
    for line in LOTS.split("\n"):
        cells = line.split()
        if cells and (cells[1] == "-" or lot_size <= int(cells[1])):
            return cells[2 + LEVELS.index(level)]
    raise AssertionError("the last row is open")


def table_plan(
    letter: str,
    aql: float | str,
    severity: Severity = Severity.NORMAL,
    *,
    standard: str = STANDARDS[0],
    per_hundred_units: bool = False,
) -> SinglePlan:
    """Plan of a code letter, arrows followed to the row whose sample size counts.

    Parameters
    ----------
    letter : str
        Code letter A to R
    aql : float or str
        One of the 26 printed values [% nonconforming, or nonconformities per 100 units]
    severity : Severity
        normal, tightened or reduced
    standard : str
        One of :data:`STANDARDS`
    per_hundred_units : bool
        The AQL counts nonconformities per 100 units; needed above 10

    Returns
    -------
    plan : SinglePlan
        With ``inspect_all`` False, for no lot is known here

    Notes
    -----
    Raises ``InputError`` for a letter, AQL or standard that is not in the tables, and for reduced inspection under
    ISO 2859-1:1999, whose reduced table could not be confirmed in 14 cells.

    Examples
    --------
    >>> plan = table_plan("F", 1.5)
    >>> plan.code_letter, plan.n, plan.accept, plan.refuse
    ('G', 32, 1, 2)

    References
    ----------
    .. [1] MIL-STD-105E, Tables II-A to II-C; the example is the case of an arrow that a calculator on the web gets
       wrong by keeping n = 20.
    """
    if standard not in _REDUCED_TABLE:
        raise unknown_name("sampling standard", standard, STANDARDS)
    if severity not in set(Severity):
        raise unknown_name("severity", str(severity), list(Severity))
    severity = Severity(severity)
    column = _column(aql, per_hundred_units=per_hundred_units)
    table = _table(_table_name(standard, severity))
    letters = [row[0] for row in table]
    if letter not in letters or letter == "S":
        raise unknown_name("code letter", letter, [name for name in letters if name != "S"])
    index = letters.index(letter)
    while (cell := table[index][2][column]) in ("v", "^"):
        index += 1 if cell == "v" else -1
    accept, _, refuse = cell.partition("/")
    found, n, _ = table[index]
    cautions: tuple[str, ...] = ()
    if table is _table("GBT") and f"{found}@{AQLS[column]}" in UNCONFIRMED_REDUCED:
        cautions = ("this reduced plan is printed as 5/6 in one transcription and 4/5 in another; check a paper copy",)
    return SinglePlan(
        standard=standard,
        severity=severity,
        aql=AQLS[column],
        table_letter=letter,
        code_letter=found,
        n=n,
        accept=int(accept),
        refuse=int(refuse) if refuse else int(accept) + 1,
        cautions=cautions,
    )


def single_plan(
    lot_size: int,
    aql: float | str,
    *,
    level: str = "II",
    severity: Severity = Severity.NORMAL,
    standard: str = STANDARDS[0],
    per_hundred_units: bool = False,
) -> SinglePlan:
    """Plan for a lot: Table I, then the master table, then 100 % inspection where n reaches the lot.

    Parameters are those of :func:`code_letter` and :func:`table_plan`.

    Examples
    --------
    >>> plan = single_plan(5000, 1.5)
    >>> plan.code_letter, plan.n, plan.accept, plan.refuse
    ('L', 200, 7, 8)
    >>> small = single_plan(20, 0.65)
    >>> small.n, small.inspect_all
    (20, True)

    References
    ----------
    .. [1] MIL-STD-105E, 4.9 and Tables I, II-A; the first example is printed in the documentation of ANSI/ASQ Z1.4.
    """
    plan = table_plan(
        code_letter(lot_size, level), aql, severity, standard=standard, per_hundred_units=per_hundred_units
    )
    if plan.n < lot_size:
        return plan
    return SinglePlan(
        standard=plan.standard,
        severity=plan.severity,
        aql=plan.aql,
        table_letter=plan.table_letter,
        code_letter=plan.code_letter,
        n=lot_size,
        accept=plan.accept,
        refuse=plan.refuse,
        inspect_all=True,
        cautions=plan.cautions,
    )


def next_tighter_aql(aql: str) -> str | None:
    """AQL one column tighter, as the switching score of ISO 2859-1:1999 asks; None at the first column.

    Examples
    --------
    >>> next_tighter_aql("0.65")
    '0.40'
    """
    column = _column(aql, per_hundred_units=True)
    return AQLS[column - 1] if column else None


def _table_name(standard: str, severity: Severity) -> str:
    if severity is not Severity.REDUCED:
        return severity.value
    name = _REDUCED_TABLE[standard]
    if not name:
        raise InputError(
            f"reduced inspection under {standard} is not offered: 14 cells of its reduced table are unconfirmed; "
            "use the reduced table of MIL-STD-105E or stay on normal inspection"
        )
    return name


def _column(aql: float | str, *, per_hundred_units: bool) -> int:
    values = [float(text) for text in AQLS]
    try:
        value = float(aql)
    except ValueError:
        raise unknown_name("AQL", str(aql), AQLS) from None
    if value not in values:
        raise unknown_name("AQL", f"{aql}", AQLS)
    if value > 10.0 and not per_hundred_units:
        raise InputError(f"an AQL above 10 counts nonconformities per 100 units, got {aql}; say per_hundred_units")
    return values.index(value)


@lru_cache(maxsize=8)
def _table(name: str) -> tuple[tuple[str, int, tuple[str, ...]], ...]:
    rows = [line.split() for line in _TABLE_TEXT[name].split("\n") if line]
    return tuple((row[0], int(row[1]), tuple(row[2:])) for row in rows)
