"""What the demonstration is asked."""

from dataclasses import dataclass
from pathlib import Path

from runtrue.workflow.actions import Kind, ask


@dataclass(frozen=True, slots=True, kw_only=True)
class DemoRequest:
    """Press an invented title with faults, judge its copies, write the dossier."""

    out: Path = ask(Kind.PATH, "folder for dossier, results and truth; demo-out if not given", default=Path("demo-out"))
    keep_sound: bool = ask(Kind.FLAG, "keep the music and the recordings in the folder too", default=False)
    scenario: Path | None = ask(
        Kind.PATH, "story of one's own (TOML) in place of the one that comes with the program", default=None
    )
