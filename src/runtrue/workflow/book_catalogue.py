"""What can be done with the book: its papers, and what is asked of it."""

from typing import TYPE_CHECKING, Any

from runtrue.workflow import book_requests as ask
from runtrue.workflow.actions import Action, Role
from runtrue.workflow.papers.catalogue import PAPERS

if TYPE_CHECKING:
    from runtrue.contract.book import BookState

_EXITS = "0 done, 2 argument not usable, 5 book locked, disk or rights"


def _sound(outcome: "BookState") -> int:
    return 0 if outcome.verdict == "pass" else 3


def _done(_outcome: object) -> int:
    return 0


def _asked(verb: str, *, result: str, function: str, writes: bool = False, **more: Any) -> Action:
    words = {"role": Role.ANYONE, "exit_code": _done, "exits": _EXITS, "long": False, **more}
    return Action(
        station="book", verb=verb, result=f"runtrue.contract.book:{result}", function=f"runtrue.workflow.{function}",
        writes=writes, **words,
    )  # fmt: skip


BOOK = (
    _asked(
        "init", result="BookState", function="bookkeeping:init", writes=True, request=ask.InitRequest,
        summary="Begin a book.",
        text="One SQLite file in your data folder or where --book says, or the tables in a PostgreSQL database. A book "
        "that is there keeps all that is in it and is brought to this program's form.",
        example="runtrue book init --plant 'Quillmere Record Works'",
    ),
    _asked(
        "check", result="BookState", function="bookkeeping:check", request=ask.CheckRequest, exit_code=_sound,
        exits="0 sound, 3 not sound, 2 argument not usable, 5 book locked, disk or rights",
        summary="Check that the book is sound.",
        text="Looks through the file, the guards against altered rows and the numbers of the entries, works out every "
        "count and span anew from the entries and compares.",
        example="runtrue book check --json",
    ),
    _asked(
        "log", result="Log", function="bookkeeping:log", request=ask.LogRequest,
        summary="List the newest entries.",
        text="Each with its number, by which it can be corrected (--replaces) or taken back (`runtrue book withdraw`).",
        example="runtrue book log --last 10",
    ),
    *(paper.action for paper in PAPERS),
    _asked(
        "recall", result="Recall", function="recall:recall", request=ask.RecallRequest, role=Role.QUALITY,
        summary="Find the boxes that hold given closures.",
        text="By closures of a run, or by what made them: stamper, batch, labels, settings, operator, pile, or a "
        "failed sample with the good ones before and after it. Each box is told surely, maybe or surely not, with how "
        "many records at least and at most; what was shipped is named with its consignment.",
        example="runtrue book recall --run R1 --first 181 --last 352",
    ),
    _asked(
        "made", result="Made", function="made:made", request=ask.MadeRequest, role=Role.QUALITY,
        summary="Say what made a closure.",
        text="Stampers, batch, labels, settings and operator of a closure, a sample or a box, with the metal's family "
        "and the supplier's lots in the batch.",
        example="runtrue book made --run R1 --closure 312",
    ),
    _asked(
        "age", result="Age", function="made:age", request=ask.AgeRequest, role=Role.ENGINEER,
        summary="Count a stamper's impressions.",
        text="Those it came with and the closures of every session on a press, up to now, at least and at most.",
        example="runtrue book age A-M1-S1",
    ),
)  # fmt: skip
"""Every action of the book, in the order of the job."""
