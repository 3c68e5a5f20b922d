"""What is judged is kept: where there is a book, findings of every station stand in it, and a recording judged before
is looked up. Where there is none, nothing is kept and nothing of the book is loaded.
"""

from typing import TYPE_CHECKING, Any

from runtrue.errors import RuntrueError
from runtrue.records.place import is_there, place_of
from runtrue.types import Progress
from runtrue.workflow.actions import Ports
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


def remember(action: str, request: Any, outcome: Any, ports: Ports) -> None:
    """Enter what a station found in the default book, if there is one; trouble becomes a caution of the result."""
    if not getattr(outcome, "findings", None) or not is_there(place_of(None)):
        return
    from runtrue.workflow import analyses

    try:
        analyses.remember(action, request, outcome, ports)
    except RuntrueError as trouble:
        if isinstance(getattr(outcome, "cautions", None), list):
            outcome.cautions.append(f"The result was not entered in the book: {trouble}.")
