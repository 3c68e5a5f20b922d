"""Metal: the family of a side with its lives and repairs, and a stamper's centre from readings under the lens."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any
from urllib.parse import quote

from sqlalchemy import Connection

from runtrue.contract.centre import MoveBy, StamperCentre
from runtrue.errors import InputError, UnknownNameError
from runtrue.paper.layout import SCREEN
from runtrue.paper.runout import move_field, runout_plot
from runtrue.paper.words import clock, count, fixed, number, odds, sentence_case
from runtrue.records import asking, tables
from runtrue.types import silent
from runtrue.workflow import analyses
from runtrue.workflow.actions import Ports
from runtrue.workflow.book_requests import AgeRequest
from runtrue.workflow.centre_words import found, heard_words, todo
from runtrue.workflow.hand_over import plain
from runtrue.workflow.keeping import Read
from runtrue.workflow.made import age
from runtrue.workflow.metal import centre
from runtrue.workflow.metal_requests import StamperCentreRequest
from runtrue.workflow.metal_safety import SAFETY
from runtrue.workflow.pages.page import Head, Picture, head, picture

SIDES = 24
"""Newest sides that can be chosen."""
PIECES = 60
"""Pieces of a side that are shown."""
PLACES = (4, 6, 8, 12, 16, 24)
"""Angles a turn that can be read; eight is common practice, no source."""
_SPANS = ("stamper_a", "stamper_b")


@dataclass(frozen=True, slots=True, kw_only=True)
class SideOf:
    """A side of a job whose metal can be shown."""

    matrix: str
    words: str
    href: str
    here: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Repair:
    """A line of a piece's card: where on the side, what was done."""

    where: str
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """A piece of the family. ``depth`` 0 is what was grown from nothing that stands in the book.

    ``share`` [0 to 100] is its life beside the longest of the family, for the bar; None for what does not press.
    """

    name: str
    generation: str
    depth: int
    state: str
    life: str
    share: float | None
    kept: str
    repairs: list[Repair]
    href: str
    here: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingRow:
    """A place under the lens: what was typed, the fitted value, and whether the reading was left out."""

    angle: str
    typed: str
    fitted: str
    left_out: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """A number with what it is; ``doubt`` carries ± and unit."""

    name: str
    value: str
    doubt: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Centred:
    """The answer to the readings."""

    said: str
    runout: Picture
    move: Picture
    numbers: list[Shown]
    heard: list[str]
    cautions: list[str]
    kept: str


@dataclass(frozen=True, slots=True, kw_only=True)
class MetalPage:
    """The metal of a side; everything from ``rows`` on is about the chosen stamper."""

    head: Head
    sides: list[SideOf]
    matrix: str
    family: list[Piece]
    family_said: str
    chosen: str
    reads: bool
    rows: list[ReadingRow]
    asked: "Readings"
    answer: Centred | None
    error: str
    safety: list[str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Readings:
    """What the form holds: readings as typed [um], one per place of a turn from 0° on against the clock."""

    places: int = 8
    typed: tuple[str, ...] = ()
    groove: str = "locked"
    face: str = "stamper"
    held: str = "placed"
    limit_swing_um: float | None = None

    @staticmethod
    def limit(typed: str) -> float | None:
        """A limit as typed [um]; raises ``InputError``."""
        text = typed.strip()
        if not text:
            return None
        if not _number(text) or not 0.0 < float(text) <= 10_000.0:
            raise InputError(f"limit_swing_um must be a number above 0 to 10000 μm, got {text!r}: correct it")
        return float(text)

    @property
    def angles(self) -> list[float]:
        """Angles of the places [deg]."""
        return [360.0 * place / self.places for place in range(self.places)]

    @property
    def values(self) -> list[str]:
        """The readings, one per place, empty where none was typed."""
        given = [one.strip().replace("\N{MINUS SIGN}", "-") for one in self.typed[: self.places]]
        return given + [""] * (self.places - len(given))


def metal_page(ports: Ports, *, matrix: str | None = None) -> MetalPage:
    """The family of a side, the newest of all where none is named."""
    return _page(ports, matrix=matrix, chosen=None, asked=Readings())


def piece_page(ports: Ports, name: str, asked: Readings) -> MetalPage:
    """A piece in its family, with the centre that the readings give."""
    return _page(ports, matrix=None, chosen=name, asked=asked)


def keep_centre(ports: Ports, name: str, asked: Readings) -> None:
    """Enter the centre of these readings in the book; raises ``InputError`` for what is not usable."""
    with ports.open_book(None).read() as connection:
        _piece(connection, name)
    with TemporaryDirectory() as folder:
        request = _request(name, asked, Path(folder))
        result = centre(request, ports, silent)
        if not result.findings:
            raise InputError("limit_swing_um: only what was judged against a limit is kept; give the limit")
        read = [Read(role="readings", file=request.readings.name, sha256=result.input.sha256)]
        analyses.remember("stamper centre", request, result, ports, read)


def _page(ports: Ports, *, matrix: str | None, chosen: str | None, asked: Readings) -> MetalPage:
    if asked.places not in PLACES:
        raise InputError(f"places must be one of {', '.join(map(str, PLACES))}, got {asked.places}")
    with ports.open_book(None).read() as connection:
        sides = asking.last_rows(connection, tables.Side, last=SIDES)
        row = None if chosen is None else _piece(connection, chosen)
        here = row.matrix if row is not None else matrix if matrix is not None else sides[-1].matrix if sides else ""
        pieces = asking.last_rows(connection, tables.MetalPiece, last=PIECES, matrix=here)
        if matrix is not None and not pieces and matrix not in {one.matrix for one in sides}:
            raise UnknownNameError(f"matrix '{matrix[:60]}' is not in the book; `/metal` lists the newest sides")
        cards = asking.rows_where(connection, tables.MetalCard, metal=[one.metal for one in pieces])
    stampers = [one.metal for one in pieces if one.generation == "stamper"]
    lives = {name: age(AgeRequest(stamper=name), ports, silent) for name in stampers}
    family = list(_family(pieces, cards, lives, chosen))
    answer, rows, error, top = None, [], "", _family_head(here, family)
    if row is not None:
        result, error = _centred(ports, row.metal, asked)
        top = _piece_head(row, family, result, error)
        rows = _rows(asked, result)
        answer = None if result is None else _answer(result, ports, row.metal)
    return MetalPage(
        head=top, sides=[_side(one, here) for one in reversed(sides)], matrix=here, family=family,
        family_said="Bars: impressions beside the stamper of this side that made the most.", chosen=chosen or "",
        reads=row is not None and row.generation == "stamper", rows=rows, asked=asked, answer=answer, error=error,
        safety=list(SAFETY),
    )  # fmt: skip


def _piece(connection: Connection, name: str) -> Any:
    row = asking.newest(connection, tables.MetalPiece, metal=name.strip())
    if row is None:
        raise UnknownNameError(f"piece '{name[:60]}' is not in the metal register; `/metal` shows the families")
    return row


def _side(row: Any, here: str) -> SideOf:
    return SideOf(matrix=row.matrix, words=f"job {row.job}, side {row.side}",
                  href=f"/metal/side/{quote(row.matrix, safe='')}", here=row.matrix == here)  # fmt: skip


def _href(name: str) -> str:
    return f"/metal/piece/{quote(name, safe='')}"


def _family(pieces: Sequence[Any], cards: Sequence[Any], lives: dict[str, Any], chosen: str | None) -> Iterator[Piece]:
    """Pieces, each after the one it was grown from."""
    named = {one.metal for one in pieces}
    most = max((one.impressions[1] for one in lives.values()), default=0)

    def below(parent: str | None, depth: int) -> Iterator[Piece]:
        for one in pieces:
            roots = parent is None and (one.parent is None or one.parent not in named)
            if not roots and (parent is None or one.parent != parent):
                continue
            own = [card for card in cards if card.metal == one.metal]
            life = lives.get(one.metal)
            yield Piece(
                name=one.metal, generation=one.generation, depth=min(depth, 4), state=_state(own, life),
                life="" if life is None else f"{_between(life.impressions)} pressed",
                share=None if life is None else round(100.0 * life.impressions[1] / most, 1) if most else 0.0,
                kept=next((card.kept for card in reversed(own) if card.kept), one.kept or ""),
                repairs=[_repair(card) for card in own if card.programme_s is not None or card.angle_deg is not None
                         or card.note], href=_href(one.metal), here=one.metal == chosen,
            )  # fmt: skip
            if depth < 10:
                yield from below(one.metal, depth + 1)

    yield from below(None, 0)


def _between(ends: Sequence[int]) -> str:
    return f"{ends[0]}" if ends[0] == ends[1] else f"{ends[0]} to {ends[1]}"


def _state(cards: Sequence[Any], life: Any) -> str:
    """What became of a piece: on which press, or the newest word of its card."""
    on = next((one for one in life.sessions if one.on_press), None) if life is not None else None
    if on is not None:
        return f"on press {on.press}"
    if cards:
        return plain(cards[-1].state)
    return "" if life is None else "new" if not life.sessions else "off the press"


def _repair(card: Any) -> Repair:
    where = [] if card.programme_s is None else [clock(card.programme_s)]
    where += [] if card.angle_deg is None else [f"{card.angle_deg:.0f}°"]
    return Repair(where=", ".join(where), words=f"{plain(card.state)}" + (f": {card.note}" if card.note else ""))


def _family_head(matrix: str, family: Sequence[Piece]) -> Head:
    if not matrix:
        return head("Metal", "No metal is in the register yet.", act="Enter what came from plating.",
                    detail="`runtrue book metal` enters a piece.")  # fmt: skip
    on = [one for one in family if one.state.startswith("on press")]
    stampers = sum(one.generation == "stamper" for one in family)
    said = f"Side {matrix} has {count(stampers, 'stamper')}."
    act = f"{on[-1].name} is {on[-1].state}, {on[-1].life}." if on else "None is on a press."
    return head("Metal", said, act=act, detail="Choose a stamper to centre it.")


def _piece_head(row: Any, family: Sequence[Piece], result: StamperCentre | None, error: str) -> Head:
    own = next((one for one in family if one.name == row.metal), None)
    life = ", ".join(part for part in ((own.state, own.life) if own else ()) if part)
    if error:
        return head("Metal", f"{sentence_case(row.generation)} {row.metal}: the readings cannot be used.",
                    act=sentence_case(error).rstrip(".") + ".", verdict="cannot_judge")  # fmt: skip
    if result is None:
        said = f"{sentence_case(row.generation)} {row.metal}" + (f": {life}." if life else ".")
        act = "Read the groove under the lens to centre it." if row.generation == "stamper" else ""
        return head("Metal", said, act=act)
    return head("Metal", f"Stamper {row.metal} {_swings(result)}", act=todo(result), detail=_sure(result),
                verdict=result.verdict)  # fmt: skip


def _sure(result: StamperCentre) -> str:
    """What the headline leaves out."""
    if result.offset_um is None or result.conformance_probability is None or result.verdict == "cannot_judge":
        return found(result)
    return f"Odds inside the limit {odds(result.conformance_probability)}; a pass asks for 95, a fail for at most 5."


def _swings(result: StamperCentre) -> str:
    if result.swing_um is None:
        return "is not read far enough."
    u95 = None if result.offset_u95_um is None else 2e-3 * result.offset_u95_um
    said = f"swings {number(1e-3 * result.swing_um, u95, 'mm', decimals=3)}"
    row = result.findings[0] if result.findings else None
    if row is None or row.upper is None:
        return f"{said}; no limit is given."
    return f"{said}, limit {fixed(1e-3 * row.upper, 3)} mm {row.meaning}."


def _request(name: str, asked: Readings, folder: Path) -> StamperCentreRequest:
    file = folder / f"readings of {''.join(c if c.isalnum() or c in '-_' else '_' for c in name)}.csv"
    lines = [f"{angle:g},{value}" for angle, value in zip(asked.angles, asked.values, strict=True) if value]
    file.write_text("\n".join(["angle_deg,reading_um", *lines, ""]), encoding="utf-8")
    return StamperCentreRequest(
        readings=file, groove=asked.groove, face=asked.face, held=asked.held, limit_swing_um=asked.limit_swing_um,
        stamper=name,
    )  # fmt: skip


def _centred(ports: Ports, name: str, asked: Readings) -> tuple[StamperCentre | None, str]:
    """The centre, or why the readings are not usable; nothing before the first reading."""
    if not any(asked.values):
        return None, ""
    bad = next((f"{angle:g}°: {value[:20]!r} is no number" for angle, value in zip(asked.angles, asked.values,
                strict=True) if value and not _number(value)), "")  # fmt: skip
    if bad:
        return None, f"{bad}; write micrometres with a decimal point"
    with TemporaryDirectory() as folder:
        try:
            return centre(_request(name, asked, Path(folder)), ports, silent), ""
        except InputError as error:
            return None, str(error).replace(f"{folder}/", "")


def _number(text: str) -> bool:
    try:
        return abs(float(text)) < 1e6 and "_" not in text
    except ValueError:
        return False


def _rows(asked: Readings, result: StamperCentre | None) -> list[ReadingRow]:
    points = {round(one.angle_deg, 3): one for one in result.points} if result is not None else {}
    rows = []
    for angle, value in zip(asked.angles, asked.values, strict=True):
        point = points.get(round(angle, 3)) if value else None
        rows.append(
            ReadingRow(angle=f"{angle:g}°", typed=value, fitted="" if point is None else fixed(point.fitted_um, 0),
                       left_out=point is not None and point.left_out)
        )  # fmt: skip
    return rows


def _answer(result: StamperCentre, ports: Ports, name: str) -> Centred:
    scatter = (
        "" if result.scatter_um is None else f" They scatter by {fixed(result.scatter_um, 0)} μm (standard deviation);"
        f" {count(len(result.outliers or []), 'reading')} stands apart."
    )  # fmt: skip
    return Centred(
        said=f"{count(result.input.readings, 'reading')}.{scatter}",
        runout=picture(runout_plot(result, pen=SCREEN, wide=440.0, high=240.0), "runout"),
        move=picture(move_field(result, pen=SCREEN, wide=250.0, high=290.0, screws=False), "move"),
        numbers=list(_numbers(result)),
        heard=[heard_words(end) for end in result.consequence or ()], cautions=list(result.cautions),
        kept=_kept(ports, name),
    )  # fmt: skip


def _numbers(result: StamperCentre) -> Iterable[Shown]:
    if result.offset_um is None or result.offset_u95_um is None:
        return
    offset = number(1e-3 * result.offset_um, 1e-3 * result.offset_u95_um, "mm", decimals=3)
    yield Shown(name="Offset, groove centre to axis", value=offset.value, doubt=offset.doubt)
    swing = number(2e-3 * result.offset_um, 2e-3 * result.offset_u95_um, "mm", decimals=3)
    yield Shown(name="Swing, side to side", value=swing.value, doubt=swing.doubt)
    if result.move is not None:
        yield Shown(name="In two steps", value=_toward(result.move), doubt="")
    if result.conformance_probability is not None:
        yield Shown(name="Odds inside the limit", value=odds(result.conformance_probability), doubt="")


def _toward(move: MoveBy) -> str:
    """The move by the clock: 0° is 12 and 90° is 9 on the face looked at."""
    up, left = "12" if move.x_um > 0 else "6", "9" if move.y_um > 0 else "3"
    return f"{fixed(1e-3 * abs(move.x_um), 3)} mm toward {up}, {fixed(1e-3 * abs(move.y_um), 3)} mm toward {left}"


def _kept(ports: Ports, name: str) -> str:
    """When this stamper's centre was last entered."""
    with ports.open_book(None).read() as connection:
        rows = asking.last_rows(connection, tables.Analysed, last=100, action="stamper centre")
        inputs = asking.rows_of(connection, tables.AnalysedInput, [row.entry for row in rows])
        own = [one.entry for one in inputs if name in one.name]
        entries = asking.entry_rows(connection, own[-1:])
        verdicts = {row.entry: row.verdict for row in rows}
    if not own:
        return ""
    when = entries[0].at
    return f"Last kept {when.day} {when:%b %H:%M} UTC: {plain(verdicts[own[-1]] or 'no verdict')}."
