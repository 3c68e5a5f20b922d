"""A CSV whose rows fill in a paper each: all of them enter, or none; a row that came in before does not come twice."""

import csv
from collections import Counter
from collections.abc import Iterator
from dataclasses import MISSING, Field, dataclass
from functools import cache
from hashlib import file_digest, sha256
from json import dumps
from math import isfinite
from pathlib import Path
from typing import Any

from sqlalchemy import select

import runtrue
from runtrue.contract import book as printed
from runtrue.contract.listening import NotJudged
from runtrue.errors import InputError, MissingFileError
from runtrue.records.pen import LONGEST_TEXT, Pen
from runtrue.records.tables import Entry
from runtrue.types import Progress
from runtrue.workflow.actions import Ask, Kind, Ports, asks, check_request
from runtrue.workflow.book_requests import ColumnsRequest, ImportRequest
from runtrue.workflow.papers.catalogue import paper
from runtrue.workflow.papers.entering import write
from runtrue.workflow.papers.paper import Paper, moment

MOST_ROWS = 1_000_000
"""Rows of one file; more come in several."""
MOST_CAUTIONS = 20
"""Cautions that are told."""
_OWN = "book"
"""The one field of a paper that is no column: the book is named once."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """A row: its line in the file, the cells that are filled in, and the digest by which it is known again."""

    line: int
    cells: dict[str, str]
    digest: str


def import_rows(request: ImportRequest, ports: Ports, progress: Progress) -> printed.Imported:
    """Enter a paper for each row of a CSV, in one transaction."""
    check_request(request)
    form = paper(request.paper)
    where = f"file {request.file}"
    rows = list(_read(request.file, form, where))
    with request.file.open("rb") as file:
        digest = file_digest(file, "sha256").hexdigest()
    now = moment("clock", ports.clock())
    who = request.who or ports.who
    book = ports.open_book(request.book)
    cautions: list[str] = []
    with book.write(who=who, at=now, reason=request.reason or "") as pen:
        before = pen.seq
        known = _known(pen, [row.digest for row in rows])
        new = [row for row in rows if row.digest not in known]
        for at, row in enumerate(new):
            if at % 500 == 0:
                progress("entering rows", at / len(new))
            try:
                asked = _request(form, row)
                pen.who, pen.reason = asked.who or who, asked.reason or request.reason or ""
                pen.at = now if asked.at is None else moment("at", asked.at)
                _, told, _ = write(asked, pen, source=row.digest)
            except InputError as error:
                raise InputError(f"{where}, line {row.line}: {error}; nothing was entered") from None
            cautions += [f"Line {row.line}: {caution}" for caution in told.cautions]
        last = pen.seq
    timeless = [row.line for row in rows if row.digest in known and "at" not in row.cells]
    if timeless:
        cautions.insert(0, f"{_lines(timeless)} in the book already and did not come twice; if it happened again say "
                        "when, in a column 'at'.")  # fmt: skip
    if len(cautions) > MOST_CAUTIONS:
        cautions = [*cautions[:MOST_CAUTIONS], f"And {len(cautions) - MOST_CAUTIONS} more."]
    reasons = [] if new else [NotJudged(key=key, reason="no row was new") for key in ("first_seq", "last_seq")]
    return printed.Imported(
        said=f"{len(new)} of {len(rows)} rows entered" + (f", {len(rows) - len(new)} were there." if known else "."),
        file=request.file.name, sha256=digest, paper=form.verb, rows=len(rows), entered=len(new),
        known=len(rows) - len(new), first_seq=before + 1 if new else None, last_seq=last if new else None,
        cautions=cautions, not_judged=reasons, book=book.place.name, version=runtrue.__version__,
    )  # fmt: skip


def _lines(numbers: list[int]) -> str:
    return f"Line {numbers[0]} is" if len(numbers) == 1 else f"{len(numbers)} lines, from line {numbers[0]} on, are"


def columns(request: ColumnsRequest, ports: Ports, progress: Progress) -> printed.Columns:
    """The columns of a paper's CSV."""
    check_request(request)
    form = paper(request.paper)
    found = [
        printed.Column(
            name=item.name, needed=item.default is MISSING, allowed=_allowed(how), help=how.help
        )
        for item, how in columns_of(form)
    ]  # fmt: skip
    return printed.Columns(
        said=",".join(column.name for column in found), paper=form.verb, columns=found, not_judged=[],
        version=runtrue.__version__,
    )  # fmt: skip


def _allowed(how: Ask) -> str:
    if how.choices is not None:
        return ", ".join(how.choices())
    return how.range_words() if how.low is not None or how.high is not None else how.kind.value


@cache
def columns_of(form: Paper) -> list[tuple[Field[Any], Ask]]:
    """Columns that a paper's CSV may have."""
    return [(item, how) for item, how in asks(form.request) if item.name != _OWN]


def _read(path: Path, form: Paper, where: str) -> Iterator[Row]:
    """Rows of the file with their digests; blank ones are left out."""
    known = [item.name for item, _ in columns_of(form)]
    seen: Counter[str] = Counter()
    try:
        with path.open(encoding="utf-8-sig", newline="") as file:
            reader = csv.reader(file, strict=True)
            names = [name.strip() for name in next(reader, [])]
            _check_header(names, known, form, where)
            for cells in reader:
                line = reader.line_num
                if len(cells) > len(names):
                    raise InputError(
                        f"{where}, line {line}: more values than columns; a decimal comma would do that: write 12.5, "
                        "not 12,5"
                    )
                given = {name: cell.strip() for name, cell in zip(names, cells, strict=False) if cell.strip()}
                if not given:
                    continue
                if line > MOST_ROWS:
                    raise InputError(f"{where}: more than {MOST_ROWS} rows; split the file")
                text = dumps([form.verb, sorted(given.items())], ensure_ascii=False)
                seen[text] += 1
                yield Row(line=line, cells=given, digest=sha256(f"{text} {seen[text]}".encode()).hexdigest())
    except (FileNotFoundError, NotADirectoryError, IsADirectoryError):
        raise MissingFileError(f"{where}: there is no such file: check the spelling and the folder") from None
    except UnicodeDecodeError as error:
        raise InputError(
            f"{where}: is no text in UTF-8 (at byte {error.start} of a block); save it as CSV in UTF-8"
        ) from None
    except csv.Error as error:
        if "field larger" in str(error):
            raise InputError(
                f"{where}: a cell holds more than {csv.field_size_limit()} characters; at most {LONGEST_TEXT} are "
                "allowed: look for a quote that is not closed"
            ) from None
        raise InputError(f"{where}: is no table with commas ({error}); save it as CSV in UTF-8") from None


def _check_header(names: list[str], known: list[str], form: Paper, where: str) -> None:
    if not any(names):
        raise InputError(
            f"{where}: is empty; the first line names the columns, `runtrue book columns {form.verb}` shows them"
        )
    if len(names) == 1 and (";" in names[0] or "\t" in names[0]):
        raise InputError(f"{where}: columns are parted by ';' or tabs; save it with commas and decimal points")
    for name in names:
        if name not in known:
            raise InputError(
                f"{where}: column '{name[:60]}' is unknown; known are {', '.join(known)}: rename or remove it"
            )
        if names.count(name) > 1:
            raise InputError(f"{where}: column '{name}' stands there twice; keep one")
    for item, _ in columns_of(form):
        if item.default is MISSING and item.name not in names:
            raise InputError(f"{where}: column '{item.name}' is missing; add it")


def _known(pen: Pen, digests: list[str]) -> set[str]:
    """Digests of rows that are in the book already."""
    found: set[str] = set()
    for at in range(0, len(digests), 500):
        query = select(Entry.source).where(Entry.source.in_(digests[at : at + 500]))
        found.update(str(one) for one in pen.connection.execute(query).scalars())
    return found


def _request(form: Paper, row: Row) -> Any:
    values: dict[str, Any] = {}
    for item, how in columns_of(form):
        cell = row.cells.get(item.name)
        if cell is None:
            if item.default is MISSING:
                raise InputError(f"{item.name} is empty; fill it in or remove the line")
            continue
        values[item.name] = _value(item.name, how, cell)
    asked = form.request(**values)
    check_request(asked)
    return asked


def _value(name: str, how: Ask, cell: str) -> Any:
    if how.kind not in (Kind.NUMBER, Kind.WHOLE):
        return cell
    try:
        if how.kind is Kind.WHOLE:
            if not cell.lstrip("+-").isascii() or "_" in cell:
                raise ValueError
            return int(cell)
        value = float(cell)
        if not isfinite(value) or "_" in cell:
            raise ValueError
        return value
    except ValueError:
        what = "whole number" if how.kind is Kind.WHOLE else "number"
        hint = "write a decimal point, not a comma" if "," in cell else f"write a {what}"
        raise InputError(f"{name} '{cell[:40]}' is no {what}; {hint}") from None
