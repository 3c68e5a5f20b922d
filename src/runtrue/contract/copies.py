"""The object ``runtrue/copies-1``: copies of one side laid over one another, in shown units, every key always present.

``None`` means not judged; the dotted key and the reason then stand in ``not_judged``. An empty list means looked and
found none. Intervals of closures include both ends; an upper end of ``None`` is not bounded by what was played.
"""

from dataclasses import dataclass
from typing import Literal

from runtrue.contract.listening import Centre, NotJudged, VerdictWord

COPIES_SCHEMA: Literal["runtrue/copies-1"] = "runtrue/copies-1"

OriginWord = Literal[
    "cut", "father", "mother", "stamper", "press_event", "press", "cavity", "compound", "pile", "copy", "player", "dirt"
]
NextWord = Literal[
    "closure", "untold", "wash", "second_rig", "other_stamper", "other_mother", "other_press", "other_batch", "mother"
]


@dataclass(frozen=True, slots=True, kw_only=True)
class CopyRow:
    """One copy with all its plays. ``verdict`` is the worst of those after a wash, else of all; ``reason`` says why it
    takes no part, if so. ``washed_away``: ticks that went with a wash, null where it was not played before and after.

    ``ticks_s`` and ``ticks_db`` are programme times and prominences of the ticks of its most telling play.
    """

    copy: str
    closure: int | None
    stamper: str | None
    files: list[str]
    plays: int
    verdict: VerdictWord
    reason: str | None
    off_centre: Centre | None
    surface_db_a: float | None
    washed_away: int | None
    reach_s: tuple[float, float] | None
    ticks_s: list[float] | None
    ticks_db: list[float] | None


@dataclass(frozen=True, slots=True, kw_only=True)
class OriginRow:
    """A place where the mark could have been made. ``which`` is None where the list of copies does not name it."""

    origin: OriginWord
    which: str | None
    probability: float


@dataclass(frozen=True, slots=True, kw_only=True)
class OriginName:
    """An origin without its odds."""

    origin: OriginWord
    which: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Tie:
    """Origins that nothing in this sample can tell apart, and why."""

    origins: list[OriginName]
    because: str


@dataclass(frozen=True, slots=True, kw_only=True)
class NextPlay:
    """What to play next, in words and as numbers; ``tells`` is what it is expected to tell [bit]."""

    words: str
    kind: NextWord
    which: str | None
    closure: int | None
    from_s: float
    to_s: float
    tells: float


@dataclass(frozen=True, slots=True, kw_only=True)
class RecurrenceRow:
    """One mark that several plays share.

    ``chance_probability``: that unrelated events meet there; with ``none_of_these`` and the origins it adds up to 1
    (origins below 0.001 are left out). ``without`` copies would show it and do not; ``untold`` cannot say.
    ``from_closure`` and ``to_closure``: first and last closure with it, where it may be an event on the press.
    ``fails``: whether a copy that shows it is out of a limit on ticks by it.
    """

    programme_s: float
    u95_s: float
    turn: int
    angle_deg: float
    angle_u95_deg: float
    radius_mm: float
    radius_u95_mm: float
    prominence_db: float
    copies: list[str]
    without: list[str]
    untold: list[str]
    likeness: float | None
    chance_probability: float
    none_of_these: float
    origins: list[OriginRow]
    cannot_tell_apart: list[Tie]
    from_closure: tuple[int, int] | None
    to_closure: tuple[int, int | None] | None
    rises_db_per_1000: float | None
    train: int | None
    fails: bool
    advice: str
    next: NextPlay | None


@dataclass(frozen=True, slots=True, kw_only=True)
class DatedRow:
    """A copy without a number, placed on the count; ``marks`` events on the press bear it out.

    It lies on one of the ``stretches``: a copy that lacks a mark may be older or pressed after it was cleared.
    ``closure`` spans them.
    """

    copy: str
    closure: tuple[int, int]
    stretches: list[tuple[int, int]]
    stamper: str | None
    stamper_probability: float
    marks: int


@dataclass(frozen=True, slots=True, kw_only=True)
class OffsetRow:
    """Off-centre of one stamper's copies together: one vector as played (``agrees``) or scattered; null from one copy.

    ``placing``: the scatter is no more than a loose hole makes; null where there is none.
    """

    stamper: str | None
    copies: list[str]
    offset_um: float
    direction_deg: float
    u95_um: float
    spread_um: float
    agrees: bool | None
    placing: bool | None
    advice: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TogetherRow:
    """Whether the offsets of both sides move together over the copies of one pair of stampers: then pin or hole
    (``bound``).

    ``likeness`` 0 to 1 of their deviations; ``chance_probability``: that sides without a bond are as much alike.
    """

    stamper: str | None
    other_stamper: str | None
    copies: list[str]
    likeness: float
    chance_probability: float
    bound: bool
    advice: str


@dataclass(frozen=True, slots=True, kw_only=True)
class WearRow:
    """A value over one stamper's closures. ``parted``: told from what each play wears the stylus."""

    quantity: str
    stamper: str | None
    plays: int
    per_1000_closures: float
    u95: float
    per_play: float | None
    parted: bool
    crossing_closure: float | None
    crossing_interval: tuple[float, float] | None
    advice: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Base:
    """What the copies were laid over: the reference's file, or the copies' own mean of ``copies``."""

    file: str | None
    sha256: str | None
    copies: list[str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Copies:
    """Copies of one side laid over one another.

    ``verdict`` is the worst of the copies'; where they pass and closures are to be held for a mark that came on the
    press, it is cannot_judge: the records between the copies that were played are not known to pass.
    """

    schema: Literal["runtrue/copies-1"] = COPIES_SCHEMA
    verdict: VerdictWord
    headline: str
    act: str
    copies: list[CopyRow]
    recurrences: list[RecurrenceRow]
    dated: list[DatedRow]
    offsets: list[OffsetRow]
    together: list[TogetherRow] | None
    trends: list[WearRow]
    reference: Base
    duration_s: float
    turn_s: float
    format: str
    not_judged: list[NotJudged]
    cautions: list[str]
    version: str
