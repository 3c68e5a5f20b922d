"""What the actions on one judged recording are asked."""

from dataclasses import dataclass
from pathlib import Path

from runtrue.workflow.actions import Kind, ask


@dataclass(frozen=True, slots=True, kw_only=True)
class ListenCuesRequest:
    """Write the findings as cue points into a copy of the recording."""

    result: Path = ask(Kind.PATH, "result of `listen check --json`", positional=True)
    capture: Path = ask(Kind.PATH, "the recording that was judged", positional=True)
    out: Path = ask(Kind.PATH, "WAV file to write, new", positional=True)


@dataclass(frozen=True, slots=True, kw_only=True)
class ListenMarksRequest:
    """Refit what is heard from people's marks."""

    marks: Path = ask(
        Kind.PATH,
        "marks (CSV): result, programme_s, mark (heard, not_heard, objectionable), and listener if there are several; "
        "result names a file of `listen check --json`, relative to the folder of the marks",
        positional=True,
    )
