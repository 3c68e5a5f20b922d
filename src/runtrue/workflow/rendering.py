"""Make a fault to listen to: a side as it would sound with this offset, these ticks, that jump."""

import tomllib
from pathlib import Path
from typing import Any

import soundfile

import runtrue
from runtrue.capture import open_sound
from runtrue.contract.rendering import Rendering
from runtrue.disc.formats import disc_format
from runtrue.errors import InputError, RecordingError
from runtrue.forward import Play, play_from_table, render_to_file
from runtrue.types import Progress
from runtrue.workflow.actions import Ports, check_request
from runtrue.workflow.requests import ListenRenderRequest
from runtrue.workflow.toml_file import read_text

KINDS = (".wav", ".flac")
"""Endings of files that can be written."""


def render(request: ListenRenderRequest, ports: Ports, progress: Progress) -> Rendering:
    """Write the capture; a file is there whole or not at all. Raises ``InputError`` before anything is written."""
    check_request(request)
    out = _free_place(request.out)
    open_sound(request.reference, what="reference")
    play = _play(request)
    progress("rendering", 0.0)
    part = out.with_name(f".{out.stem}.part{out.suffix}")
    try:
        truth = render_to_file(request.reference, part, play, request.seed)
        part.replace(out)
    except soundfile.SoundFileError as error:
        why = str(error).removeprefix("Error : ").rstrip(".")
        raise RecordingError(
            f"reference {request.reference}: the sound cannot be decoded ({why}); a whole file is needed: copy it again"
        ) from None
    finally:
        part.unlink(missing_ok=True)
    made = open_sound(out, what="out")
    return Rendering(
        file=made.name, sha256=made.digest, rate_hz=made.rate, duration_s=round(made.duration, 6), truth=truth.shown(),
        version=runtrue.__version__,
    )  # fmt: skip


def _free_place(out: Path) -> Path:
    if out.suffix.lower() not in KINDS:
        raise InputError(f"out {out}: the name must end in {' or '.join(KINDS)}; choose one of them")
    if out.exists():
        raise InputError(f"out {out}: is there already; name another file or remove it")
    if not out.parent.is_dir():
        raise InputError(f"out {out}: there is no folder {out.parent}; make it first")
    return out


_SIMPLE = (
    "offset_um", "direction_deg", "speed_percent", "arm_offset_deg", "surface_db", "tick", "skip", "repeat", "rpm",
    "start_radius_mm", "end_radius_mm",
)  # fmt: skip


def _play(request: ListenRenderRequest) -> Play:
    if request.faults is None:
        return play_from_table(_table(request), "options")
    given = [name for name in _SIMPLE if getattr(request, name) not in (None, ())]
    if given:
        raise InputError(f"{given[0]} and faults: a faults file says everything; put {given[0]} into it")
    where = f"faults file {request.faults}"
    try:
        table = tomllib.loads(read_text(request.faults, where))
    except tomllib.TOMLDecodeError as error:
        raise InputError(f"{where}: is no TOML ({error}); correct that line") from None
    return play_from_table(table, where)


def _table(request: ListenRenderRequest) -> dict[str, Any]:
    """The options as a table of faults."""
    record = disc_format(request.format)
    disc: dict[str, Any] = {
        "rpm": request.rpm if request.rpm is not None else record.rpm,
        "start_radius_mm": record.start_radius * 1e3 if request.start_radius_mm is None else request.start_radius_mm,
        "pitch_mm": record.pitch.value * 1e3,
        "offset_um": request.offset_um or 0.0,
        "direction_deg": request.direction_deg or 0.0,
        "ticks": [{"programme_time_s": time, "peak_db": request.tick_db} for time in request.tick],
    }
    if request.end_radius_mm is not None:
        disc["end_radius_mm"] = request.end_radius_mm
    if request.surface_db is not None:
        disc["surface"] = {"level_db": request.surface_db, "re": "programme"}
    jumps = [(time, 1) for time in request.skip] + [(time, -1) for time in request.repeat]
    player: dict[str, Any] = {
        "speed_percent": request.speed_percent or 0.0,
        "arm": {"angle_deg": request.arm_offset_deg or 0.0},
        "jumps": [{"programme_time_s": time, "turns": turns} for time, turns in sorted(jumps)],
    }
    return {"disc": disc, "player": player}
