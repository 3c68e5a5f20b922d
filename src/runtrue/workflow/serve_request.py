"""What serving the pages is asked."""

from dataclasses import dataclass

from runtrue.workflow.actions import Kind, ask
from runtrue.workflow.papers.paper import BookRequest

PORT = 8417
"""Port of the pages, where none is named. Our choice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ServeRequest(BookRequest):
    """Open the pages of a book on this computer."""

    port: int = ask(Kind.WHOLE, f"port; {PORT} if not given, 0 for any that is free", default=PORT, low=0, high=65535)
    no_work: bool = ask(
        Kind.FLAG, "do no work that waits: `runtrue work` does it elsewhere, uploads wait for it", default=False
    )
