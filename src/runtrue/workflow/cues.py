"""The findings of a result as cue points in a copy of the recording."""

import soundfile

import runtrue
from runtrue.capture import open_sound
from runtrue.capture.cues import Cue, write_with_cues
from runtrue.contract.heard import CuedCopy, CuePoint
from runtrue.contract.listening import Listening
from runtrue.errors import InputError, RecordingError
from runtrue.types import Progress
from runtrue.units import PERCENT
from runtrue.workflow.actions import Ports, check_request
from runtrue.workflow.heard_request import ListenCuesRequest
from runtrue.workflow.new_file import check_new
from runtrue.workflow.result_file import load_listening

_TOGETHER_S = 0.5


def cues(request: ListenCuesRequest, ports: Ports, progress: Progress) -> CuedCopy:
    """Write the copy; it is there whole or not at all. Raises ``InputError`` before anything is written."""
    check_request(request)
    check_new(request.out, "out", ".wav")
    result = load_listening(request.result)
    sound = open_sound(request.capture)
    if sound.digest != result.input.sha256:
        raise InputError(
            f"capture {request.capture}: is not the recording of result {request.result} ({result.input.file}); give "
            "that one, unchanged"
        )
    points = [point for point in points_of(result) if 0.0 <= point.capture_s < sound.duration]
    if not points:
        raise InputError(f"result {request.result}: holds no finding with a place; there is nothing to mark")
    progress("copying", 0.0)
    part = request.out.with_name(f".{request.out.stem}.part.wav")
    marks = [
        Cue(at=round(p.capture_s * sound.rate), label=p.label, length=round(p.length_s * sound.rate)) for p in points
    ]
    try:
        write_with_cues(request.capture, part, marks)
        part.replace(request.out)
    except soundfile.SoundFileError as error:
        raise RecordingError(f"capture {request.capture}: cannot be copied ({error}); copy it again") from None
    finally:
        part.unlink(missing_ok=True)
    loose = any(point.length_s or point.label.startswith("jump") for point in points)
    return CuedCopy(
        file=request.out.name, cues=points,
        cautions=["Zones and jumps lie within some 20 ms of their mark; ticks to the sample."] if loose else [],
        version=runtrue.__version__,
    )  # fmt: skip


def points_of(result: Listening) -> list[CuePoint]:
    """Findings with a place, in order of the recording."""
    ticks = [
        CuePoint(
            capture_s=tick.capture_s, length_s=0.0,
            label=f"tick {tick.prominence_db:.0f} dB {tick.channel}" + (f" train {tick.train}" if tick.train else ""),
        )
        for tick in result.ticks or []
    ]  # fmt: skip
    zones = [
        CuePoint(
            capture_s=_capture_time(result, b.from_s),
            length_s=max(0.0, _capture_time(result, b.to_s) - _capture_time(result, b.from_s)),
            label=f"{b.kind.replace('_', ' ')} {b.from_deg:.0f} to {b.to_deg:.0f} deg {b.channel}",
        )
        for b in result.bursts or []
    ]  # fmt: skip
    jumps = [
        CuePoint(capture_s=_capture_time(result, j.programme_s), length_s=0.0, label=f"jump of {j.turns:+d} turn")
        for j in result.jumps or []
    ]
    return sorted([*ticks, *zones, *jumps], key=lambda point: point.capture_s)


def _capture_time(result: Listening, programme_s: float) -> float:
    """Place in the recording of a programme time: by the nearest tick's where one is near, else by start and speed.

    A jump of a turn ahead brings what follows a turn earlier.
    """
    near = min(result.ticks or [], key=lambda tick: abs(tick.programme_s - programme_s), default=None)
    if near is not None and abs(near.programme_s - programme_s) < _TOGETHER_S:
        return near.capture_s + programme_s - near.programme_s
    speed = 1.0 + (result.speed.deviation_percent or 0.0) * PERCENT
    left_out = sum(jump.turns for jump in result.jumps or [] if jump.programme_s < programme_s) * result.turn.period_s
    return (result.programme.start_s or 0.0) + (programme_s - left_out) / speed
