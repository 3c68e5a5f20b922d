"""What a person can do, described once: command lines, forms, reference pages and the role table derive from here.

An action names its request and result (frozen dataclasses whose fields carry unit, range and help) and the function
that does it, by its dotted name so that nothing heavy is imported before it is asked for. This module and the requests
it names import nothing beyond the standard library and the vocabulary: ``--help`` reads them.
"""

import re
from collections.abc import Callable, Iterator
from dataclasses import MISSING, Field, dataclass, field, fields
from enum import StrEnum
from functools import cache
from importlib import import_module
from typing import TYPE_CHECKING, Any

from runtrue.errors import InputError
from runtrue.types import Progress

if TYPE_CHECKING:
    from runtrue.records import Book

_KEY = "runtrue"
_NO_TEXT = re.compile("[\ud800-\udfff]")
"""What is left of bytes that are no UTF-8 on a command line."""
LARGEST = 10**15
"""Whole numbers beyond it are slips; both databases hold them. Our choice."""


class Kind(StrEnum):
    """How a person writes the value of a field."""

    PATH = "path"
    NUMBER = "number"
    WHOLE = "whole"
    WORD = "word"
    TEXT = "text"
    FLAG = "flag"


@dataclass(frozen=True, slots=True, kw_only=True)
class Ask:
    """How one field of a request is asked for. Ranges are in the unit, ends included; ``choices`` are the words."""

    kind: Kind
    help: str
    unit: str = ""
    low: float | None = None
    high: float | None = None
    choices: Callable[[], list[str]] | None = None
    positional: bool = False
    many: bool = False
    common: bool = False
    """Asked by many actions; such fields come last."""

    @property
    def written(self) -> bool:
        """Whether it names a file or folder that is to be written; the help of all that are says so."""
        return self.kind is Kind.PATH and "to write" in self.help

    def check(self, name: str, value: object) -> None:
        """Raise ``InputError`` when a given value is out of range or not among the words."""
        if isinstance(value, tuple):
            for one in value:
                self.check(name, one)
            return
        if isinstance(value, str) and not value.isascii() and _NO_TEXT.search(value):
            raise InputError(f"{name} holds bytes that are no text in UTF-8: type it again")
        if self.choices is not None and value not in (known := self.choices()):
            raise InputError(f"{name} '{value}' is unknown; known are {', '.join(known)}: choose one of them")
        if isinstance(value, int | float) and not isinstance(value, bool):
            low = self.low if self.low is not None else float("-inf")
            high = self.high if self.high is not None else float("inf")
            if not low <= value <= high:
                unit = f" {self.unit}" if self.unit else ""
                raise InputError(
                    f"{name} must be {self.range_words()}, got {value:g}{unit}: check the value and its unit"
                )
            if isinstance(value, int) and abs(value) > LARGEST:
                raise InputError(f"{name} {str(value)[:20]} is more than anything that is counted: check the number")

    def range_words(self) -> str:
        """The allowed range in words: "0 to 90 deg"."""
        unit = f" {self.unit}" if self.unit else ""
        if self.low is not None and self.high is not None:
            return f"{self.low:g} to {self.high:g}{unit}"
        if self.low is not None:
            return f"{self.low:g}{unit} or more"
        return f"{self.high:g}{unit} or less" if self.high is not None else f"a number{unit}"


def ask(kind: Kind, help: str, *, default: object = MISSING, **words: Any) -> Any:
    """Return a dataclass field that carries how it is asked for."""
    metadata = {_KEY: Ask(kind=kind, help=help, **words)}
    return field(metadata=metadata) if default is MISSING else field(default=default, metadata=metadata)


def same(request: type, name: str) -> Any:
    """Return a dataclass field that is asked for as the field of another request is."""
    item = next(item for item in fields(request) if item.name == name)
    return (
        field(metadata=item.metadata)
        if item.default is MISSING
        else field(default=item.default, metadata=item.metadata)
    )


@cache
def asks(request: type) -> list[tuple[Field[Any], Ask]]:
    """Fields of a request class in their order, each with how it is asked for; those that many ask come last."""
    found = [(item, item.metadata[_KEY]) for item in fields(request) if _KEY in item.metadata]
    return sorted(found, key=lambda one: one[1].common)


def check_request(request: Any) -> None:
    """Hold every given value of a request to its range; raises ``InputError`` that names the field."""
    kind: type = type(request)
    for item, how in asks(kind):
        value = getattr(request, item.name)
        if value is not None:
            how.check(item.name, value)


_NOTHING_TO_KEEP = frozenset({"listen check", "listen render", "listen ring", "listen cues"})
"""Actions of stations that write in the book by themselves, or find nothing out."""


class Role(StrEnum):
    """Who does it."""

    LISTENER = "listener"
    ENGINEER = "engineer"
    COMPOUNDER = "compounder"
    OFFICE = "office"
    PRESS = "press"
    SHIFT_LEAD = "shift lead"
    QUALITY = "quality"
    SHIPPING = "shipping"
    ANYONE = "anyone"


@dataclass(frozen=True, slots=True, kw_only=True)
class Action:
    """One thing a person can do.

    ``function`` and ``result`` (the class of what is printed) are "module:name", imported when asked for; the function
    is called with (request, ports, progress).

    ``exit_code`` takes the function's outcome and gives the code of the command contract. ``example`` is a command line
    that works in a folder with the files it names; a test runs it.
    """

    station: str
    verb: str
    summary: str
    text: str
    request: type
    result: str
    function: str
    exit_code: Callable[[Any], int]
    exits: str
    example: str
    role: Role
    writes: bool
    long: bool

    @property
    def name(self) -> str:
        """Station and verb, as typed."""
        return f"{self.station} {self.verb}".strip()

    def run(self, request: Any, ports: "Ports", progress: Progress) -> Any:
        """Do it; what a station found stands in the book, where there is one."""
        if self.station in ("book", "") or self.name in _NOTHING_TO_KEEP:
            return _named(self.function)(request, ports, progress)
        read = _named("runtrue.workflow.keeping:inputs_of")(request)
        outcome = _named(self.function)(request, ports, progress)
        if read is not None:
            _named("runtrue.workflow.keeping:remember")(self.name, request, outcome, ports, read)
        return outcome

    def result_class(self) -> type:
        """Class of what is printed."""
        found = _named(self.result)
        assert isinstance(found, type)
        return found


def _named(dotted: str) -> Any:
    module, _, name = dotted.partition(":")
    return getattr(import_module(module), name)


def _open_book(given: str | None) -> "Book":
    from runtrue.records import open_book

    return open_book(given)


@dataclass(frozen=True, slots=True, kw_only=True)
class Ports:
    """What a function may reach besides its request.

    ``clock`` gives the time in UTC as ISO 8601; ``tell`` takes what is worth knowing before the outcome is there;
    ``lines`` gives the lines of standard input as they come; ``who`` is the person at the computer;
    ``open_book`` opens the book of a path or URL, the default one for None.
    """

    clock: Callable[[], str]
    tell: Callable[[str], None] = lambda _said: None
    lines: Callable[[], Iterator[str]] = lambda: iter(())
    who: str = "unknown"
    open_book: "Callable[[str | None], Book]" = _open_book


def utc_now() -> str:
    """Time of the system in UTC, ISO 8601, to the second."""
    from datetime import UTC, datetime

    return datetime.now(UTC).isoformat(timespec="seconds")


def system_ports() -> Ports:
    """Ports of a person's own computer."""
    import sys

    return Ports(clock=utc_now, lines=lambda: iter(sys.stdin.readline, ""), who=_person())


def _person() -> str:
    """Name of the person by the computer's own account."""
    from getpass import getuser

    try:
        return getuser()
    except (KeyError, OSError, ImportError):
        return "unknown"


def actions() -> tuple[Action, ...]:
    """All actions, in the order of the job."""
    from runtrue.workflow.catalogue import CATALOGUE

    return CATALOGUE


def action(name: str) -> Action:
    """Return the action of this name ("listen check"); raises ``InputError`` with the list."""
    for found in actions():
        if found.name == name:
            return found
    raise InputError(f"action '{name}' is unknown; known are {', '.join(a.name for a in actions())}")
