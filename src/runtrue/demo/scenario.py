"""The demonstration's story: a plant, a title, its metal and eight copies, read from TOML into frozen values.

Fault tables keep the keys and shown units of the maker (``forward.play_from_table``). What a playing meets is added
up along the way: the side's disc, its mother's marks, the stamper's offset and marks, the copy, the placing.
"""

import json
import tomllib
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date
from importlib.resources import files
from pathlib import Path
from typing import Any, ClassVar, Literal, TypeVar

from pydantic import ConfigDict, TypeAdapter, ValidationError

from runtrue.demo.composer import Passage, Stereo, Tune, compose_side, passages
from runtrue.errors import InputError, MissingFileError, unknown_name
from runtrue.forward import Play, play_from_table

Table = dict[str, Any]
"""A part of a fault table in shown units, as ``play_from_table`` reads it."""

_T = TypeVar("_T")
_STRICT = ConfigDict(extra="forbid", strict=True, allow_inf_nan=False)
_FAULT_LISTS = ("ticks", "trains", "zones", "tearing", "thumps", "warps", "cuts")


@dataclass(frozen=True, slots=True, kw_only=True)
class Story:
    """What the demonstration asks, and what is true: for the tests and the last page, never for the judge."""

    __pydantic_config__: ClassVar[ConfigDict] = _STRICT
    question: str
    answers: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Plant:
    """Where the run was pressed."""

    __pydantic_config__: ClassVar[ConfigDict] = _STRICT
    name: str
    town: str
    press: str
    cavity: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Person:
    """Someone who answers for a station."""

    __pydantic_config__: ClassVar[ConfigDict] = _STRICT
    name: str
    role: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Title:
    """What was ordered; ``ordered`` in records."""

    __pydantic_config__: ClassVar[ConfigDict] = _STRICT
    name: str
    artist: str
    catalogue: str
    format: str
    hole: str
    ordered: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Rig:
    """The player and recorder; lengths in mm, ``player`` and ``recorder`` as the maker reads them."""

    __pydantic_config__: ClassVar[ConfigDict] = _STRICT
    name: str
    stylus: str
    spindle_mm: float
    hole_mm: float
    player_swing_percent: float
    player: Table
    recorder: Table = field(default_factory=dict)

    @property
    def slack_um(self) -> float:
        """Farthest that a disc's hole can lie off the spindle's centre [um]."""
        return 500.0 * (self.hole_mm - self.spindle_mm)


@dataclass(frozen=True, slots=True, kw_only=True)
class Side:
    """One side as it was cut: its tunes and the disc it makes."""

    __pydantic_config__: ClassVar[ConfigDict] = _STRICT
    label: str
    matrix: str
    mother: str
    father: str
    disc: Table
    tune: tuple[Tune, ...]

    def music(self, rate: int = 48_000) -> Stereo:
        """The reference of the side, of shape (frames, 2)."""
        return compose_side(self.tune, rate)

    @property
    def passages(self) -> tuple[Passage, ...]:
        """Where each tune stands, in programme time [s]."""
        return passages(self.tune)

    @property
    def seconds(self) -> float:
        """Length of the side [s]."""
        return self.passages[-1].end


@dataclass(frozen=True, slots=True, kw_only=True)
class Stamper:
    """A stamper, the closures it pressed (both included), and from groove centre to hole centre [um, deg]."""

    __pydantic_config__: ClassVar[ConfigDict] = _STRICT
    id: str
    side: str
    from_closure: int
    to_closure: int
    offset_um: float
    direction_deg: float

    def pressed(self, closure: int) -> bool:
        """Whether it was in the press at this closure."""
        return self.from_closure <= closure <= self.to_closure


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """A fault in the metal: ``on`` a mother or a stamper, from a closure on, until another where it was cleared."""

    __pydantic_config__: ClassVar[ConfigDict] = _STRICT
    on: str
    what: str
    ticks: tuple[Table, ...]
    from_closure: int = 1
    to_closure: int | None = None

    def pressed(self, closure: int) -> bool:
        """Whether it was there at this closure."""
        return self.from_closure <= closure and (self.to_closure is None or closure <= self.to_closure)


@dataclass(frozen=True, slots=True, kw_only=True)
class Playing:
    """One placing of one side: the label that was up, the side that is really under it, and how the disc lay.

    ``stopped_s``: programme time at which whoever played it lifted the needle. ``dirt`` lies in the groove for this
    playing alone.
    """

    __pydantic_config__: ClassVar[ConfigDict] = _STRICT
    label: str
    carries: str = ""
    slack_um: float = 0.0
    slack_direction_deg: float = 0.0
    turned_deg: float = 0.0
    push: Literal["", "away", "toward"] = ""
    stopped_s: float | None = None
    jumps: tuple[Table, ...] = ()
    state: Literal["", "dirty", "washed"] = ""
    dirt: tuple[Table, ...] = ()

    @property
    def was_washed(self) -> bool | None:
        """Whether the copy was washed before; None where nothing is said of it."""
        return None if not self.state else self.state == "washed"

    @property
    def music(self) -> str:
        """Label of the side whose music is heard."""
        return self.carries or self.label


@dataclass(frozen=True, slots=True, kw_only=True)
class Copy:
    """One disc: when it was pressed, of what, and how it was played."""

    __pydantic_config__: ClassVar[ConfigDict] = _STRICT
    id: str
    closure: int
    compound: str
    pile: int
    about: str
    disc: Table
    plays: tuple[Playing, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Scenario:
    """Everything the demonstration knows. ``limits`` has the shape of a limits file."""

    __pydantic_config__: ClassVar[ConfigDict] = _STRICT
    story: Story
    plant: Plant
    person: tuple[Person, ...]
    title: Title
    limits: Table
    rig: Rig
    side: tuple[Side, ...]
    stamper: tuple[Stamper, ...]
    mark: tuple[Mark, ...] = ()
    copy: tuple[Copy, ...]

    def __post_init__(self) -> None:
        """Hold the names together and build every playing once, so that a slip shows before anything is rendered."""
        _unique("side", [s.label for s in self.side])
        _unique("stamper", [s.id for s in self.stamper])
        _unique("copy", [c.id for c in self.copy])
        metal = [s.id for s in self.stamper] + [s.mother for s in self.side]
        for stamper in self.stamper:
            self.side_of(stamper.side)
            for other in self.stamper:
                if other is not stamper and other.side == stamper.side and other.pressed(stamper.from_closure):
                    raise InputError(
                        f"stamper {stamper.id}: at closure {stamper.from_closure} stamper {other.id} still presses "
                        f"side {stamper.side}: correct from_closure or to_closure"
                    )
        for mark in self.mark:
            if mark.on not in metal:
                raise unknown_name("mark on", mark.on, metal)
        for copy in self.copy:
            for playing in copy.plays:
                if playing.slack_um > self.rig.slack_um + 1e-6:
                    raise InputError(
                        f"copy {copy.id}: slack_um must be at most {self.rig.slack_um:.0f} um (hole and spindle of "
                        f"[rig]), got {playing.slack_um:g} um"
                    )
                self.play(copy, playing)

    def side_of(self, label: str) -> Side:
        """The side with this label."""
        return _named("side", self.side, label, lambda s: s.label)

    def copy_of(self, name: str) -> Copy:
        """The copy with this id."""
        return _named("copy", self.copy, name, lambda c: c.id)

    def stamper_of(self, copy: Copy, label: str) -> Stamper:
        """The stamper that pressed this side of the copy."""
        found = [s for s in self.stamper if s.side == label and s.pressed(copy.closure)]
        if len(found) != 1:
            raise InputError(
                f"copy {copy.id}: closure {copy.closure} must lie within exactly one stamper of side {label}, "
                f"got {len(found)}: correct from_closure and to_closure"
            )
        return found[0]

    def playings(self) -> Iterator[tuple[Copy, Playing]]:
        """Every playing in the order of copies."""
        return ((copy, playing) for copy in self.copy for playing in copy.plays)

    def table(self, copy: Copy, playing: Playing) -> Table:
        """The fault table of one playing in shown units: what the maker reads."""
        side = self.side_of(playing.music)
        stamper = self.stamper_of(copy, side.label)
        disc: Table = {"offset_um": stamper.offset_um, "direction_deg": stamper.direction_deg}
        marks = [m for m in self.mark if m.on in {side.mother, stamper.id} and m.pressed(copy.closure)]
        for part in (side.disc, *({"ticks": list(m.ticks)} for m in marks), {"ticks": list(playing.dirt)}, copy.disc):
            _add(disc, part)
        player = dict(self.rig.player)
        if playing.jumps:
            player["jumps"] = [*player.get("jumps", []), *playing.jumps]
        placing = {
            "slack_um": playing.slack_um,
            "slack_direction_deg": playing.slack_direction_deg,
            "turned_deg": playing.turned_deg,
        }
        recorder = dict(self.rig.recorder)
        if playing.stopped_s is not None:
            recorder["stop_at_s"] = playing.stopped_s
        return {"disc": disc, "player": player, "placing": placing, "recorder": recorder}

    def play(self, copy: Copy, playing: Playing) -> Play:
        """Everything that shapes the capture of one playing."""
        return play_from_table(self.table(copy, playing), f"scenario, copy {copy.id}, label {playing.label}")

    def seed(self, copy: Copy, playing: Playing) -> int:
        """Start of the maker's random parts for one playing."""
        return 1000 * (1 + self.copy.index(copy)) + copy.plays.index(playing)


def _named(what: str, values: tuple[_T, ...], name: str, key: Callable[[_T], str]) -> _T:
    for value in values:
        if key(value) == name:
            return value
    raise unknown_name(what, name, [key(v) for v in values])


def _unique(what: str, names: list[str]) -> None:
    for name in names:
        if names.count(name) > 1:
            raise InputError(f"scenario: {what} '{name}' stands there twice: give each its own name")


def _add(disc: Table, part: Mapping[str, Any]) -> None:
    """Add a part to a disc's table in place: lists of faults grow, everything else is replaced."""
    for key, value in part.items():
        if key in _FAULT_LISTS:
            disc[key] = [*disc.get(key, []), *value]
        else:
            disc[key] = value


def load_scenario(path: Path | None = None) -> Scenario:
    """Read a scenario file, or the one that comes with the program.

    Raises ``InputError`` that names file, place and key for every slip, ``MissingFileError`` for a path without file.
    """
    if path is None:
        return parse_scenario(files("runtrue.demo").joinpath("scenario.toml").read_text("utf-8"), "scenario.toml")
    try:
        text = path.read_text(encoding="utf-8")
    except (FileNotFoundError, IsADirectoryError):
        raise MissingFileError(f"scenario {path}: there is no such file: check the spelling and the folder") from None
    except UnicodeDecodeError:
        raise InputError(f"scenario {path}: is no text in UTF-8; save it as such") from None
    return parse_scenario(text, str(path))


def parse_scenario(text: str, where: str) -> Scenario:
    """Read a scenario from TOML text; ``where`` begins every message."""
    try:
        content = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise InputError(f"{where}: is no TOML ({error}); correct that line") from None
    try:
        return TypeAdapter(Scenario).validate_json(json.dumps(content, default=_day))
    except ValidationError as error:
        raise InputError(f"{where}: {_first(error)}") from None


def _day(value: Any) -> str:
    if isinstance(value, date):
        return value.isoformat()
    raise InputError(f"scenario: {value!r} has no meaning here: write it as text")


def _first(error: ValidationError) -> str:
    """The first slip in words: place, what is allowed, what to do."""
    slips = error.errors(include_url=False)
    slip = next((s for s in slips if s["type"] in {"unexpected_keyword_argument", "extra_forbidden"}), slips[0])
    place = ".".join(f"{part + 1}" if isinstance(part, int) else str(part) for part in slip["loc"])
    if slip["type"] in {"unexpected_keyword_argument", "extra_forbidden"}:
        return f"key '{place}' is unknown: correct or remove it"
    if slip["type"] in {"missing", "missing_argument", "missing_keyword_only_argument"}:
        return f"key '{place}' is missing: add it"
    words = slip["msg"].removeprefix("Value error, ")
    given = slip.get("input")
    shown = f", got {given!r}" if isinstance(given, str | int | float | bool) else ""
    return f"{place + ': ' if place else ''}{words[:1].lower()}{words[1:]}{shown}"
