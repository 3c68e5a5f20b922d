"""The press: the temperatures of a cycle with their bands, and what other seconds would do."""

import json
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from hashlib import sha256
from pathlib import Path

from pydantic import TypeAdapter

import runtrue
from runtrue.contract.press_cycle import PressCycles
from runtrue.errors import InputError
from runtrue.paper.layout import SCREEN
from runtrue.paper.press import temperature_picture
from runtrue.paper.words import sentence_case
from runtrue.records import Book
from runtrue.records.results import Results
from runtrue.types import silent
from runtrue.workflow.actions import Ports
from runtrue.workflow.pages.beside import file_beside, files_beside
from runtrue.workflow.pages.page import Head, Picture, head, picture
from runtrue.workflow.press_calibrate import load_calibration
from runtrue.workflow.press_cycle import side_by_side
from runtrue.workflow.press_results import SAFETY
from runtrue.workflow.press_spec import PressSpec, WhatIf, load_spec, phase_names, what_if
from runtrue.workflow.press_words import cycle_rows, cycles_told, difference_rows

FOLDER = "press"
MOST_SECONDS = 600.0
WIDE, HIGH = 590.0, 420.0
_RESULT = "cycles.json"


@dataclass(frozen=True, slots=True, kw_only=True)
class PressFile:
    """A press file beside the book."""

    name: str
    href: str
    here: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class PhaseField:
    """A phase of the file: its seconds there, and those that are asked for."""

    name: str
    file_s: str
    asked_s: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """A number of the cycle: as the file has it, as it would be, and what that changes ("" where nothing is asked)."""

    name: str
    now: str
    then: str
    change: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PressPage:
    """A press's cycle. ``asked`` is true where other seconds were asked for."""

    head: Head
    files: list[PressFile]
    name: str
    phases: list[PhaseField]
    hold_s: str
    asked: bool
    picture: Picture | None
    rows: list[Row]
    calibrated: str
    cautions: list[str]
    safety: list[str]
    error: str


def press_page(ports: Ports, name: str | None, seconds: Sequence[str] = (), hold: str = "") -> PressPage:
    """The cycle of a press file, the first one where none is named, beside the same with other seconds."""
    book = ports.open_book(None)
    found = files_beside(book, FOLDER, ".toml")
    if name is None and not found:
        return _empty()
    path = file_beside(found, next(iter(found)) if name is None else name, "press file")
    spec, phases = load_spec(path), phase_names(path)
    error, other = "", None
    try:
        asked = _asked(phases, seconds, hold)
        other = None if asked is None else what_if(path, asked)
        result = _cycles(book, [one for one in (spec, other) if one is not None])
    except InputError as trouble:
        other, error = None, str(trouble)
        result = _cycles(book, [spec])
    return PressPage(
        head=_head(result, error),
        files=[PressFile(name=one, href=f"/press/{one}", here=one == path.stem) for one in found], name=path.stem,
        phases=[
            PhaseField(name=phase, file_s=f"{duration:g}",
                       asked_s=seconds[place].strip() if place < len(seconds) else "")
            for place, (phase, duration) in enumerate(phases)
        ],
        hold_s=hold.strip(), asked=other is not None,
        picture=picture(temperature_picture(result.cycles, pen=SCREEN, wide=WIDE, high=HIGH), "cycle"),
        rows=_rows(result), calibrated=_calibrated(result), cautions=list(result.cautions), safety=list(SAFETY),
        error=error,
    )  # fmt: skip


def _empty() -> PressPage:
    return PressPage(
        head=head("Press", "No press file lies beside the book.", act="Put one there as press/NAME.toml.",
                  detail="`runtrue press cycle --help` shows what it holds."),
        files=[], name="", phases=[], hold_s="", asked=False, picture=None, rows=[], calibrated="", cautions=[],
        safety=list(SAFETY), error="",
    )  # fmt: skip


def _asked(phases: Sequence[tuple[str, float]], seconds: Sequence[str], hold: str) -> WhatIf | None:
    """The seconds that are asked for, those of the file where a field is empty; None where nothing differs."""
    if len(seconds) > len(phases):
        raise InputError(f"{len(seconds)} durations were given for {len(phases)} phases: give one each")
    given = [
        _seconds(name, seconds[place]) if place < len(seconds) and seconds[place].strip() else duration
        for place, (name, duration) in enumerate(phases)
    ]
    held = _seconds("hold", hold, low=0.0) if hold.strip() else 0.0
    if held == 0.0 and given == [duration for _, duration in phases]:
        return None
    return WhatIf(seconds=tuple(given), hold=held)


def _seconds(name: str, text: str, low: float = 0.1) -> float:
    try:
        value = float(text)
    except ValueError:
        value = float("nan")
    if not low <= value <= MOST_SECONDS or "_" in text:
        raise InputError(f"{name} must be {low:g} to {MOST_SECONDS:g} s, got '{text.strip()[:20]}': correct it")
    return value


def _cycles(book: Book, specs: list[PressSpec]) -> PressCycles:
    """The cycles; that of the file alone is looked up where it was worked out before."""
    calibration = _calibration(book, specs[0])
    if len(specs) > 1:
        return side_by_side(specs, silent, calibration=calibration)
    fitted = None if calibration is None else sha256(calibration.read_bytes()).hexdigest()
    key = sha256(json.dumps(["cycle", runtrue.__version__, specs[0].digest, fitted]).encode()).hexdigest()
    store = Results(book.place.store)
    found = store.get(key)
    if found is not None:
        return TypeAdapter(PressCycles).validate_json(found[_RESULT])
    made = side_by_side(specs, silent, calibration=calibration)
    store.put(key, {_RESULT: json.dumps(asdict(made), ensure_ascii=False, allow_nan=False).encode()})
    return made


def _calibration(book: Book, spec: PressSpec) -> Path | None:
    """The calibration beside the press file that belongs to its layers."""
    for path in files_beside(book, FOLDER, ".json").values():
        try:
            load_calibration(path, spec)
        except InputError:
            continue
        return path
    return None


def _head(result: PressCycles, error: str) -> Head:
    told = cycles_told(result)
    said, _, below = told[-1].partition("; ")
    act = sentence_case(below)
    if error:
        return head("Press", f"{said.rstrip('.')}.", act="The other seconds cannot be worked out.",
                    detail=sentence_case(error).rstrip(".") + ".")  # fmt: skip
    return head("Press", f"{said.rstrip('.')}.", act=act, detail=told[0] if len(told) > 1 else "")


def _rows(result: PressCycles) -> list[Row]:
    changes = {} if result.difference is None else dict(difference_rows(result.difference))
    columns = [dict(cycle_rows(one)) for one in result.cycles]
    return [
        Row(name=name, now=value, then=columns[1].get(name, "") if len(columns) > 1 else "",
            change=changes.get(name, ""))
        for name, value in columns[0].items()
    ]  # fmt: skip


def _calibrated(result: PressCycles) -> str:
    if all(one.calibrated for one in result.cycles):
        return "Films and contacts are fitted to this press by its own log."
    return "Films and contacts are not fitted to this press: the bands are those of a press nobody has measured."
