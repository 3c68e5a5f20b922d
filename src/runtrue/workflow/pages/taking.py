"""A recording is taken in: kept by its digest once it is whole and usable, then judged by a worker."""

import shutil
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path, PurePath
from time import time
from typing import BinaryIO
from uuid import UUID, uuid4

from runtrue.capture import open_sound
from runtrue.errors import InputError, SurroundingsError, UnknownNameError
from runtrue.paper.words import count
from runtrue.records import Book, queue
from runtrue.records.captures import find_kept, keep
from runtrue.records.results import tidy
from runtrue.types import silent
from runtrue.workflow.actions import Kind, Ports, asks, check_request
from runtrue.workflow.book_requests import CancelRequest
from runtrue.workflow.pages.page import Head, head
from runtrue.workflow.papers.paper import moment
from runtrue.workflow.requests import ListenCheckRequest
from runtrue.workflow.work import cancel, task_rows

FILES = ("capture", "reference", "rig", "limits")
"""Fields that a file comes for."""
_OWN = frozenset({*FILES, "book", "sample", "format", "standard"})
"""Fields for which the form has a place of its own."""
_TEXT_MOST = 1 << 20


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """A number the form may ask for; ``low`` and ``high`` are empty where there is no bound."""

    name: str
    words: str
    help: str
    unit: str
    low: str
    high: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Given:
    """A file of the form."""

    name: str
    stream: BinaryIO


def fields() -> list[Field]:
    """The numbers that judging a recording may be told."""
    return [
        Field(
            name=item.name, words=_words(item.name, how.unit), help=how.help, unit=how.unit,
            low="" if how.low is None else f"{how.low:g}", high="" if how.high is None else f"{how.high:g}",
        )
        for item, how in asks(ListenCheckRequest)
        if how.kind is Kind.NUMBER and item.name not in _OWN
    ]  # fmt: skip


def _words(name: str, unit: str) -> str:
    parts = name.split("_")
    ending = {"mm", "deg", "percent", "um", "rpm"}
    words = " ".join(parts[:-1] if parts[-1] in ending and len(parts) > 1 else parts)
    return f"{'Speed' if words == 'rpm' else words.capitalize()}, {unit}" if unit else words.capitalize()


def take_in(ports: Ports, files: Mapping[str, Given], values: Mapping[str, str]) -> str:
    """Keep the files of a form and let the recording wait for a worker; the id of the work.

    Raises ``InputError`` before anything is kept where the form is not usable.
    """
    if "capture" not in files:
        raise InputError("capture: choose the recording's file")
    book = ports.open_book(None)
    asked = {name: _number(name, values[name]) for name in (f.name for f in fields()) if values.get(name, "").strip()}
    words = {name: values[name].strip() for name in ("format", "standard", "sample") if values.get(name, "").strip()}
    if "format" not in words:
        raise InputError("format: say which kind of record it is")
    chosen = values.get("known_reference", "").strip()
    if chosen and "reference" not in files:
        asked_reference: dict[str, Path] = {"reference": find_kept(book, chosen)}
    else:
        asked_reference = {}
    check_request(ListenCheckRequest(capture=Path("capture"), **asked, **words))  # type: ignore[arg-type]
    paths = {name: _kept(book, ports, name, given) for name, given in files.items() if name in FILES}
    waiting = {**asked, **words, **{name: str(path) for name, path in {**asked_reference, **paths}.items()}}
    task = queue.add(book, action="listen check", request=waiting, who=ports.who, at=moment("clock", ports.clock()))
    return str(task)


def _number(name: str, text: str) -> float:
    try:
        return float(text.replace(",", "."))
    except ValueError:
        raise InputError(f"{name} '{text[:20]}' is no number: write it as 12.5") from None


def _kept(book: Book, ports: Ports, name: str, given: Given) -> Path:
    """Write a file beside the store, check it, then keep it: what is not usable leaves nothing."""
    folder = book.place.store / "captures" / ".part"
    part = folder / uuid4().hex
    now = moment("clock", ports.clock())
    shown = PurePath(given.name.replace("\\", "/")).name[:200] or name
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with part.open("wb") as out:
            shutil.copyfileobj(given.stream, out, 1 << 20)
        _check(name, shown, part)
        found = keep(book, part, keep_as="year", who=ports.who, at=now, name=shown, move=True)
    except OSError as error:
        if isinstance(error, InputError | SurroundingsError):
            raise
        raise SurroundingsError(
            f"{name} {shown}: cannot be kept ({error.strerror}); check the disk's free space and the rights"
        ) from None
    finally:
        part.unlink(missing_ok=True)
    assert found.path is not None
    return found.path


def _check(name: str, shown: str, part: Path) -> None:
    """Refuse what is no recording, or a text file of no sensible size."""
    if name in ("capture", "reference"):
        try:
            open_sound(part, what=name)
        except InputError as error:
            raise InputError(str(error).replace(str(part), shown)) from None
    elif part.stat().st_size > _TEXT_MOST:
        raise InputError(f"{name} {shown}: is larger than 1 MB, and no such file; give the TOML file")


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkLine:
    """A piece of work: how far it is, in words and as a share of 100."""

    id: str
    name: str
    state: str
    doing: str
    share: float
    open: bool
    href: str
    error: str
    at: str


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkPage:
    """Recordings that wait, are being judged, or were."""

    head: Head
    lines: list[WorkLine]
    open: int


def work_page(ports: Ports) -> WorkPage:
    """The newest pieces of work first."""
    book = ports.open_book(None)
    rows = list(reversed(task_rows(book, 20)))
    names = _names(book, [str(row.request.get("capture", "")) for row in rows])
    lines = [
        WorkLine(
            id=str(row.id), name=names.get(PurePath(str(row.request.get("capture", ""))).name, row.action),
            state=row.state, doing=row.doing or "", share=round(100.0 * row.share, 1), open=row.state in queue.OPEN,
            href=f"/recordings/{row.result}" if row.result else "", error=row.error or "",
            at=f"{row.created:%Y-%m-%d %H:%M}",
        )
        for row in rows
    ]  # fmt: skip
    many = sum(line.open for line in lines)
    said = f"{count(many, 'recording is', 'recordings are')} being judged." if many else "Nothing waits to be judged."
    return WorkPage(head=head("Work", said), lines=lines, open=many)


def _names(book: Book, paths: list[str]) -> dict[str, str]:
    """Digest -> name that the recording came with."""
    from runtrue.records import asking, tables

    digests = sorted({PurePath(path).name for path in paths})
    with book.read() as connection:
        return {row.digest: row.name for row in asking.rows_where(connection, tables.Capture, digest=digests)}


def stop(ports: Ports, task: str) -> None:
    """Cancel a piece of work."""
    try:
        UUID(task)
    except ValueError:
        raise UnknownNameError(f"work '{task[:40]}' is not there; `/work` lists it") from None
    cancel(CancelRequest(task=task), ports, silent)


def tidied(book: Book) -> int:
    """Remove what a program that was killed left half done an hour ago or longer; how many."""
    return tidy(book.place.store, 3600.0, time())
