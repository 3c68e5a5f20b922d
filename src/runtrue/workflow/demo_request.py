"""What the demonstration is asked."""

from dataclasses import dataclass
from pathlib import Path

from runtrue.workflow.actions import Kind, ask, same
from runtrue.workflow.serve_request import ServeRequest


@dataclass(frozen=True, slots=True, kw_only=True)
class DemoRequest:
    """Press an invented title with faults, judge its copies, write the dossier."""

    out: Path = ask(Kind.PATH, "folder for dossier, results and truth; demo-out if not given", default=Path("demo-out"))
    keep_sound: bool = ask(Kind.FLAG, "keep the music and the recordings in the folder too", default=False)
    serve: bool = ask(
        Kind.FLAG, "write a book of the run too and open its pages on this computer, until Ctrl-C", default=False
    )
    port: int = same(ServeRequest, "port")
    scenario: Path | None = ask(
        Kind.PATH, "story of one's own (TOML) in place of the one that comes with the program", default=None
    )
