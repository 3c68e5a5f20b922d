"""A list of copies (CSV) into rows; what is wrong with one row is said and the rest stands."""

from dataclasses import dataclass, field
from pathlib import Path

from runtrue.errors import InputError
from runtrue.workflow.table_file import Row, load_table
from runtrue.workflow.toml_file import read_text

FACTORS = ("stamper", "mother", "father", "press", "cavity", "compound", "pile", "player", "stylus")
KNOWN = ("file", "copy", "closure", *FACTORS, "placing", "push", "play", "played_at", "washed", "rig")
MOST_ROWS = 20_000
_YES, _NO = ("yes", "true", "1"), ("no", "false", "0")


@dataclass(frozen=True, slots=True, kw_only=True)
class Listed:
    """One recording of the list. ``factors`` are the known ones by name; ``order`` is the playing order, from 1 on."""

    where: str
    file: Path
    copy: str
    closure: int | None = None
    factors: dict[str, str] = field(default_factory=dict)
    push: str = ""
    placing: str = ""
    order: int | None = None
    washed: bool | None = None
    rig: Path | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class CopiesFile:
    """The recordings of a list, and what was wrong with it."""

    rows: tuple[Listed, ...]
    cautions: tuple[str, ...]


def load_copies(path: Path) -> CopiesFile:
    """Read a list of copies. Raises ``InputError`` where nothing could be judged at all."""
    where = f"copies {path}"
    header = read_text(path, where).removeprefix("\ufeff").partition("\n")[0]
    strays = [name for n in header.split(",") if (name := n.strip().strip('"')) and name not in KNOWN]
    if ";" in header or "\t" in header:
        strays = []  # the table says what is wrong
    table = load_table(path, "copies", needed=("file",), known=(*KNOWN, *strays), most=MOST_ROWS)
    cautions = [
        f"{where}: column '{name}' is unknown and left out; known are {', '.join(KNOWN)}."
        for name in dict.fromkeys(strays)
    ]
    orders = _orders(table, cautions)
    rows = [_listed(row, path.parent, order, cautions) for row, order in zip(table, orders, strict=True)]
    rows = _one_count(rows, cautions)
    _say_counts(rows, where, cautions)
    if any(not row.factors.get("stamper") for row in rows):
        without = [row.copy for row in rows if not row.factors.get("stamper")]
        if len(without) < len(rows):
            cautions.append(f"{where}: {_names(without)} name no stamper; each may be of any.")
        else:
            cautions.append(
                f"{where}: no stamper is stated: all copies count as one stamper's, whose name is not known."
            )
    return CopiesFile(rows=tuple(rows), cautions=tuple(cautions))


def _listed(row: Row, folder: Path, order: int | None, cautions: list[str]) -> Listed:
    file = row.needed("file")
    rig = row.text("rig")
    return Listed(
        where=row.where,
        file=folder / file,
        copy=row.text("copy") or Path(file).stem,
        closure=_closure(row, cautions),
        factors={name: value for name in FACTORS if (value := row.text(name))},
        push=row.text("push"),
        placing=row.text("placing"),
        order=order,
        washed=_washed(row, cautions),
        rig=folder / rig if rig else None,
    )


def _closure(row: Row, cautions: list[str]) -> int | None:
    text = row.text("closure")
    if not text:
        return None
    if text.isascii() and text.isdigit() and 1 <= int(text) <= 10_000_000:
        return int(text)
    cautions.append(f"{row.where}: closure '{text}' is no whole number from 1 on; the copy is taken as not counted.")
    return None


def _washed(row: Row, cautions: list[str]) -> bool | None:
    text = row.text("washed").lower()
    if text and text not in (*_YES, *_NO):
        cautions.append(f"{row.where}: washed '{text}' is neither yes nor no; it is taken as not stated.")
    return True if text in _YES else False if text in _NO else None


def _orders(table: list[Row], cautions: list[str]) -> list[int | None]:
    """Playing order: by ``play`` if every row has a number there, else by ``played_at``, else not known."""
    play = [row.text("play") for row in table]
    if all(text.isascii() and text.isdigit() for text in play) and any(play):
        return [int(text) for text in play]
    if any(play):
        cautions.append("copies: not every row has a whole number in play; the playing order is taken as not known.")
    at = [row.text("played_at") for row in table]
    if all(at):
        rank = {text: k for k, text in enumerate(sorted(set(at)), 1)}
        return [rank[text] for text in at]
    return [None] * len(table)


def _one_count(rows: list[Listed], cautions: list[str]) -> list[Listed]:
    """A copy has one count; two that differ are none."""
    counts: dict[str, set[int]] = {}
    for row in rows:
        if row.closure is not None:
            counts.setdefault(row.copy, set()).add(row.closure)
    doubtful = {copy for copy, found in counts.items() if len(found) > 1}
    for copy in sorted(doubtful):
        told = " and ".join(str(c) for c in sorted(counts[copy]))
        cautions.append(f"copies: copy {copy} has the closures {told}; it is taken as not counted: correct the list.")
    return [
        Listed(**{**{name: getattr(row, name) for name in Listed.__dataclass_fields__}, "closure": None})
        if row.copy in doubtful
        else row
        for row in rows
    ]


def _say_counts(rows: list[Listed], where: str, cautions: list[str]) -> None:
    missing = list(dict.fromkeys(row.copy for row in rows if row.closure is None))
    if missing:
        whole = len(missing) == len({row.copy for row in rows})
        told = (
            "no copy has a count" if whole else f"{_names(missing)} {'has' if len(missing) == 1 else 'have'} no count"
        )
        after = "nothing can be said on since when" if whole else "placed by the marks on them"
        cautions.append(f"{where}: {told}; {after}.")
    taken: dict[tuple[str, int], str] = {}
    for row in rows:
        if row.closure is None:
            continue
        key = (row.factors.get("stamper", ""), row.closure)
        if taken.setdefault(key, row.copy) != row.copy:
            cautions.append(f"{row.where}: closure {row.closure} is already copy {taken[key]}'s: one of them is wrong.")
    last: dict[str, int] = {}
    for row in rows:
        stamper = row.factors.get("stamper", "")
        if row.closure is not None and row.closure < last.get(stamper, 0):
            cautions.append(f"{where}: the counts do not rise down the list; they are taken as written.")
            break
        last[stamper] = max(last.get(stamper, 0), row.closure or 0)


def _names(copies: list[str]) -> str:
    told = list(dict.fromkeys(copies))
    return ", ".join(told[:6]) + (f" and {len(told) - 6} more" if len(told) > 6 else "")


def readable(rows: tuple[Listed, ...]) -> None:
    """Raise ``InputError`` unless at least one file of the list is there."""
    if not any(row.file.is_file() for row in rows):
        raise InputError(
            f"{rows[0].where}: {rows[0].file} is not there, nor any other file of the list: check the names"
        )
