"""What the press's actions are asked: one frozen request each, its fields described for command line and form."""

from dataclasses import dataclass
from pathlib import Path

from runtrue.workflow.actions import Kind, ask

_SPEC = "press file (TOML): phases, layers, limits"
_CALIBRATION = "what `press calibrate --json` printed for this press"


@dataclass(frozen=True, slots=True, kw_only=True)
class PressCycleRequest:
    """Work out a press cycle."""

    spec: Path = ask(Kind.PATH, _SPEC, positional=True)
    compare: Path | None = ask(Kind.PATH, "a second press file to lay beside it", default=None)
    calibration: Path | None = ask(Kind.PATH, _CALIBRATION, default=None)
