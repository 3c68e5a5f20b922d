"""What is heard at a place of a recording: the capture, the reference as this rig plays it, and the difference.

Both come out equally loud, for the reference is passed through the rig's own transfer; the difference is as loud as it
is within the capture.
"""

import io
from collections import OrderedDict
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from threading import Lock
from typing import Literal

import numpy as np
import soundfile
from numpy.typing import NDArray
from PIL import Image
from scipy import signal

from runtrue.capture import open_sound
from runtrue.contract.listening import Listening
from runtrue.errors import MissingFileError
from runtrue.listen.excerpt import Excerpt, excerpt
from runtrue.listen.store import RATE
from runtrue.paper.tokens import COLOURS, Role, Theme
from runtrue.records import Book
from runtrue.records.captures import find_kept
from runtrue.workflow.actions import Ports
from runtrue.workflow.pages.library import recording, result_of

Which = Literal["capture", "reference", "difference"]
Float32 = NDArray[np.float32]

AROUND = 2.0
"""Context before and after the place [s]."""
_SPARE = 0.5
"""Further taken at both ends: there the engine settles [s]."""
_FADE = 0.01
_KINDS = {"FLAC": "audio/flac", "AIFF": "audio/aiff"}
_MOST = 24
"""Excerpts kept at hand; each is 3 MB."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Three:
    """Equal stretches of the three sounds (n, 2) at 48 kHz; ``start`` is the programme time of the first sample and
    ``step`` that from one to the next [s]."""

    capture: Float32
    reference: Float32
    difference: Float32
    start: float
    step: float


_at_hand: OrderedDict[tuple[str, str, float], Three] = OrderedDict()
_one_at_a_time = Lock()


def three_at(ports: Ports, key: str, at: float) -> Three:
    """The three sounds about a programme time [s]; raises ``MissingFileError`` for what is gone or does not match."""
    book = ports.open_book(None)
    name = (str(book.place.store), key, round(at, 3))
    with _one_at_a_time:
        found = _at_hand.get(name)
        if found is None:
            found = _made(book, key, at)
            _at_hand[name] = found
            while len(_at_hand) > _MOST:
                _at_hand.popitem(last=False)
        _at_hand.move_to_end(name)
    return found


def _made(book: Book, key: str, at: float) -> Three:
    report = result_of(book, key).listening
    if report.reference is None:
        raise MissingFileError("there is no reference: this recording was judged without one")
    reach = AROUND + _SPARE
    taken, rate = _cut(book, report.input.sha256, capture_time(report, at), reach)
    if report.programme.channels == "swapped":
        taken = np.ascontiguousarray(taken[:, ::-1])
    first = max(0.0, at - reach - _SPARE)
    last = at + reach + _SPARE
    offered, other = _cut(book, report.reference.sha256, 0.5 * (first + last), 0.5 * (last - first))
    with TemporaryDirectory(prefix="runtrue-") as workspace:
        found = excerpt(
            taken, offered, rates=(rate, other), turn_period=report.turn.period_s, workspace=Path(workspace)
        )
    if found is None:
        raise MissingFileError("the reference was not found again about this place: hear the capture alone")
    return _trimmed(found, first, at)


def _trimmed(found: Excerpt, first: float, at: float) -> Three:
    """The part within ``AROUND``, its ends faded."""
    time = found.programme + first
    inside = np.flatnonzero(np.abs(time - at) <= AROUND)
    part = slice(int(inside[0]), int(inside[-1]) + 1) if len(inside) else slice(0, len(time))
    return Three(
        capture=faded(found.captured[part], RATE), reference=faded(found.played[part], RATE),
        difference=faded(found.difference[part], RATE), start=float(time[part][0]),
        step=float(time[part][-1] - time[part][0]) / max(len(time[part]) - 1, 1),
    )  # fmt: skip


def faded(sound: Float32, rate: int) -> Float32:
    """A sound whose ends do not click."""
    count = min(round(_FADE * rate), len(sound) // 2)
    if count == 0:
        return sound
    ramp = np.linspace(0.0, 1.0, count, dtype=np.float32)[:, None]
    out = sound.copy()
    out[:count] *= ramp
    out[-count:] *= ramp[::-1]
    return out


def capture_time(report: Listening, at: float) -> float:
    """Capture time [s] of a programme time: by the nearest tick, whose both times are known, and the mean speed."""
    speed = 1.0 + 0.01 * (report.speed.deviation_percent or 0.0)
    known = [(tick.programme_s, tick.capture_s) for tick in report.ticks or []]
    known += [(0.0, report.programme.start_s)] if report.programme.start_s is not None else []
    near = min(known, key=lambda one: abs(one[0] - at), default=(0.0, 0.0))
    return near[1] + (at - near[0]) / speed


def _cut(book: Book, digest: str, middle: float, reach: float) -> tuple[Float32, int]:
    """A stretch of a capture of the book (n, 1 or 2) and its rate."""
    return read_about(find_kept(book, digest), middle, reach)


def read_about(path: Path, middle: float, reach: float) -> tuple[Float32, int]:
    """A stretch of a file about a time [s] (n, 1 or 2) and its rate."""
    with soundfile.SoundFile(path) as file:
        rate = int(file.samplerate)
        first = min(max(0, round((middle - reach) * rate)), max(file.frames - 1, 0))
        file.seek(first)
        sound = file.read(min(round(2.0 * reach * rate), file.frames - first), dtype="float32", always_2d=True)
    return np.asarray(sound[:, :2], dtype=np.float32), rate


def sound_at(ports: Ports, key: str, which: Which, at: float) -> bytes:
    """A WAV of one of the three sounds about a programme time [s]; the capture comes at once, as it was recorded."""
    if which == "capture":
        book = ports.open_book(None)
        report = result_of(book, key).listening
        sound, rate = _cut(book, report.input.sha256, capture_time(report, at), AROUND)
        return wav(faded(sound, rate), rate)
    return wav(getattr(three_at(ports, key, at), which), RATE)


def wav(sound: Float32, rate: int) -> bytes:
    """16 bit WAV."""
    out = io.BytesIO()
    soundfile.write(out, np.clip(sound, -1.0, 1.0), rate, format="WAV", subtype="PCM_16")
    return out.getvalue()


def waves_at(ports: Ports, key: str, at: float) -> bytes:
    """The three sounds sample by sample, left channel then right of each: Float32, little-endian.

    Before them: programme time of a sample, their number, programme time of the first from ``at`` on [s].
    """
    found = three_at(ports, key, at)
    head = np.array([found.step, len(found.capture), found.start - at], dtype="<f4").tobytes()
    columns = [sound[:, channel] for sound in (found.capture, found.reference, found.difference) for channel in (0, 1)]
    return head + b"".join(np.ascontiguousarray(column, dtype="<f4").tobytes() for column in columns)


SPECTRUM_HIGH = 16_000.0
"""Highest frequency of the spectrogram [Hz]."""
_FLOOR, _TOP = -95.0, -25.0


def spectrogram(ports: Ports, key: str, which: Which, at: float, *, dark: bool) -> bytes:
    """PNG of half a second of a sound about ``at``: time across, 0 to 16 kHz upward, ink by level (70 dB)."""
    found = three_at(ports, key, at)
    sound = getattr(found, which).mean(axis=1)
    middle = round((at - found.start) * RATE)
    piece = sound[max(0, middle - RATE // 4) : middle + RATE // 4]
    piece = np.pad(piece, (0, max(0, 1024 - len(piece))))
    frequency, _, power = signal.spectrogram(piece, RATE, window="hann", nperseg=512, noverlap=480, mode="psd")
    level = 10.0 * np.log10(power[frequency <= SPECTRUM_HIGH] + 1e-14)
    share = np.clip((level - _FLOOR) / (_TOP - _FLOOR), 0.0, 1.0)[::-1, :, None]
    theme = Theme.DARK if dark else Theme.LIGHT
    paper, ink = (np.array(_rgb(COLOURS[theme][role])) for role in (Role.SHEET, Role.INK))
    pixels = np.rint(paper + share * (ink - paper)).astype(np.uint8)
    out = io.BytesIO()
    Image.fromarray(pixels).resize((480, 170), Image.Resampling.BILINEAR).save(out, "PNG")
    return out.getvalue()


def _rgb(text: str) -> tuple[int, int, int]:
    return int(text[1:3], 16), int(text[3:5], 16), int(text[5:7], 16)


def whole_file(ports: Ports, key: str) -> tuple[Path, str]:
    """The file of a recording in the store, and its kind, to be asked for by ranges."""
    book = ports.open_book(None)
    with book.read() as connection:
        digest = recording(connection, key).capture
    path = find_kept(book, digest)
    return path, _KINDS.get(open_sound(path).coding.split(",")[0], "audio/wav")
