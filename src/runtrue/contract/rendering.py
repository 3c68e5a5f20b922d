"""The object ``runtrue/render-1``: what was written, and the truth about it."""

from dataclasses import dataclass
from typing import Any, Literal

RENDER_SCHEMA: Literal["runtrue/render-1"] = "runtrue/render-1"


@dataclass(frozen=True, slots=True, kw_only=True)
class Rendering:
    """A made capture. ``truth`` has the keys of a listening result where there is one, in shown units."""

    schema: Literal["runtrue/render-1"] = RENDER_SCHEMA
    file: str
    sha256: str
    rate_hz: int
    duration_s: float
    truth: dict[str, Any]
    version: str
