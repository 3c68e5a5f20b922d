"""What is judged is kept: where there is a book, findings of every station stand in it, and a recording judged before
is looked up. Where there is none, nothing is kept and nothing of the book is loaded.
"""

import csv
from dataclasses import dataclass
from hashlib import file_digest
from pathlib import Path
from typing import TYPE_CHECKING, Any

from runtrue.errors import RuntrueError
from runtrue.records.place import is_there, place_of
from runtrue.types import Progress
from runtrue.workflow.actions import Kind, Ports, asks
from runtrue.workflow.requests import ListenCheckRequest

if TYPE_CHECKING:
    from runtrue.workflow.listening import Checked


def check(request: ListenCheckRequest, ports: Ports, progress: Progress) -> "Checked":
    """Judge one recording, or look its judgement up, and keep it in the book named or in the default one."""
    named = request.book is not None or request.sample is not None
    if not named and not is_there(place_of(None)):
        from runtrue.workflow import listening

        return listening.check(request, ports, progress)
    from runtrue.workflow import analyses

    return analyses.check(request, ports, progress, named=named)


@dataclass(frozen=True, slots=True, kw_only=True)
class Read:
    """A file that was read: the field that names it, its name, its digest."""

    role: str
    file: str
    sha256: str


def inputs_of(request: Any) -> list[Read] | None:
    """Files that a request reads, with their digests, and the files that its tables name; None without a book."""
    if not is_there(place_of(None)):
        return None
    found = []
    kind: type = type(request)
    for item, how in asks(kind):
        value = getattr(request, item.name)
        for path in value if isinstance(value, tuple) else (value,):
            if how.kind is Kind.PATH and not how.written and isinstance(path, Path):
                found += [_read(item.name, one) for one in (path, *_named_in(path)) if one.is_file()]
    return found


def _read(role: str, path: Path) -> Read:
    with path.open("rb") as file:
        return Read(role=role, file=path.name, sha256=file_digest(file, "sha256").hexdigest())


def _named_in(path: Path) -> list[Path]:
    """Recordings and logs that a CSV names, in the order of its rows; nothing where it cannot be read as one."""
    if path.suffix.lower() != ".csv" or not path.is_file():
        return []
    try:
        with path.open(encoding="utf-8-sig", newline="") as file:
            rows = list(csv.DictReader(file))
    except (OSError, UnicodeDecodeError, csv.Error):
        return []  # the action itself says what is wrong with it
    named = [row.get(column) for row in rows for column in ("file", "log")]
    return list(dict.fromkeys(path.parent / name for name in named if isinstance(name, str) and name))


def remember(action: str, request: Any, outcome: Any, ports: Ports, read: list[Read]) -> None:
    """Enter what a station found in the default book; trouble becomes a caution of the result."""
    from runtrue.workflow import analyses

    try:
        analyses.remember(action, request, outcome, ports, read)
    except RuntrueError as trouble:
        if isinstance(getattr(outcome, "cautions", None), list):
            outcome.cautions.append(f"The result was not entered in the book: {trouble}.")
