"""Files to ``Sound``: WAV, RF64, AIFF and FLAC through libsndfile, decoded in a thread of its own.

Measured on one core of a server: 20 minutes of 96 kHz stereo FLAC decode in about 2.2 s; the thread lets that pass
while the consumer works, and the file's SHA-256 is taken in the same pass.
"""

import hashlib
import os
import stat
from collections.abc import Callable, Generator, Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from queue import Empty, Queue
from threading import Event, Thread, current_thread
from typing import Any

import numpy as np
import soundfile

from runtrue.capture.headers import Header, read_header
from runtrue.capture.sound import Block, Sound, check_samples, check_shape, check_size
from runtrue.errors import MissingFileError, RecordingError, RuntrueError, SurroundingsError

_NEEDED = "a WAV, RF64, AIFF or FLAC recording is needed"
_AGAIN = "copy the file again or make the recording again"
_CODINGS = {
    "PCM_16": "16 bit",
    "PCM_24": "24 bit",
    "PCM_32": "32 bit",
    "FLOAT": "32 bit float",
    "DOUBLE": "64 bit float",
}
_FLOATS = frozenset({"FLOAT", "DOUBLE"})
_DECODE_FRAMES = 65_536
_WAITING = 3


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _FileSound(Sound):
    """A sound that lies in a file; made by ``open_sound``."""

    path: Path
    where: str
    stamp: tuple[int, int]
    subtype: str
    _name: str
    _rate: int
    _frames: int
    _channels: int
    _coding: str
    _cautions: tuple[str, ...]
    _memo: dict[str, str] = field(default_factory=dict)

    @property
    def name(self) -> str:
        return self._name

    @property
    def rate(self) -> int:
        return self._rate

    @property
    def frames(self) -> int:
        return self._frames

    @property
    def channels(self) -> int:
        return self._channels

    @property
    def coding(self) -> str:
        return self._coding

    @property
    def cautions(self) -> tuple[str, ...]:
        return self._cautions

    @property
    def digest(self) -> str:
        if "digest" not in self._memo:
            with _surroundings(self.where), self.path.open("rb") as file:
                found = hashlib.file_digest(file, "sha256").hexdigest()
                self._unchanged(file.fileno())
            self._memo["digest"] = found
        return self._memo["digest"]

    def blocks(self, size: int, *, start: int = 0, stop: int | None = None) -> Iterator[Block]:
        check_size(self.name, size)
        first, end = self._range(start, stop)
        return _threaded(self, first, end, size)

    def read(self, start: int, n: int) -> Block:
        first, end = self._piece(start, n)
        with closing(self._decode(first, end, max(end - first, 1))) as pieces:
            return next(pieces, np.zeros((0, self.channels), np.float32))

    def _decode(self, first: int, end: int, chunk: int) -> Generator[Block, None, None]:
        """Decode in the calling thread; a complete pass leaves the digest behind."""
        if first == end:
            return
        whole = first == 0 and end == self.frames and "digest" not in self._memo
        with _surroundings(self.where), self.path.open("rb") as raw, _decoder(self.path, self.where) as decoder:
            self._unchanged(raw.fileno())
            digest = hashlib.sha256()
            at = first
            with _decoding(self.where, lambda: at / self.rate):
                if first:
                    decoder.seek(first)
                while at < end:
                    block = np.empty((min(chunk, end - at), self.channels), np.float32)
                    got = decoder.buffer_read_into(block, dtype="float32")
                    self._complete(at + got, min(at + len(block), end))
                    if self.subtype in _FLOATS:
                        check_samples(self.where, block, first=at, rate=self.rate)
                    block.setflags(write=False)
                    at += got
                    if whole:  # the bytes just decoded are still in the system's cache
                        digest.update(raw.read(self.stamp[0] * at // self.frames - raw.tell()))
                    yield block
            if whole:
                self._unchanged(raw.fileno())
                self._memo["digest"] = digest.hexdigest()

    def _complete(self, at: int, wanted: int) -> None:
        """Refuse a file whose sound ends before its header says so."""
        if at < wanted:
            raise RecordingError(
                f"{self.where}: the sound ends at {at / self.rate:.3f} s, its header promises "
                f"{self.duration:.3f} s; a whole file is needed: {_AGAIN}"
            )

    def _unchanged(self, descriptor: int) -> None:
        """Refuse a file that was written to after it was opened."""
        if _stamp(os.fstat(descriptor)) != self.stamp:
            raise SurroundingsError(
                f"{self.where}: the file changed while it was in use; it must stay as it is: wait until the "
                "recorder has closed it and start again"
            )


def open_sound(path: str | os.PathLike[str], *, what: str = "capture") -> Sound:
    """Open a recording: WAV, RF64, AIFF or FLAC of 16, 24, 32 bit or float, 44.1 to 192 kHz, mono or stereo.

    Nothing is decoded yet. ``what`` is the file's part in the job ("capture", "reference") and begins every message.
    Raises ``MissingFileError`` when there is no such file, ``RecordingError`` when it is no usable recording and
    ``SurroundingsError`` when it cannot be read; damage inside the sound is reported while reading.
    """
    name = _one_line(os.fspath(path))
    where = f"{what} {name}"
    found = Path(path)
    status = _status(found, where)
    with _surroundings(where), found.open("rb") as file:
        header = read_header(file, status.st_size)
    caution = _check_header(header, where, status.st_size)
    with _surroundings(where), _decoder(found, where) as decoder:
        rate, frames, channels, subtype = decoder.samplerate, decoder.frames, decoder.channels, decoder.subtype
        container = header.container if header else decoder.format
    if subtype not in _CODINGS:
        raise RecordingError(
            f"{where}: its samples are coded as {subtype}; 16, 24 or 32 bit and float are judged: "
            "record or export it again in one of these"
        )
    check_shape(where, rate=rate, channels=channels, frames=frames)
    return _FileSound(
        path=found,
        where=where,
        stamp=_stamp(status),
        subtype=subtype,
        _name=name,
        _rate=rate,
        _frames=frames,
        _channels=channels,
        _coding=f"{container}, {_CODINGS[subtype]}",
        _cautions=(caution,) if caution else (),
    )


def _status(path: Path, where: str) -> os.stat_result:
    """Return the state of a regular file that is not empty."""
    try:
        status = path.stat()
    except (FileNotFoundError, NotADirectoryError, ValueError):
        raise MissingFileError(
            f"{where}: there is no such file; {_NEEDED}: check the spelling and the folder"
        ) from None
    except OSError as error:
        raise SurroundingsError(f"{where}: cannot be reached ({_reason(error)}): check the permissions") from None
    if not stat.S_ISREG(status.st_mode):
        kind = "a folder" if stat.S_ISDIR(status.st_mode) else "not a file on a disk"
        raise MissingFileError(f"{where}: is {kind}; {_NEEDED}: give the path of the recording itself")
    if status.st_size == 0:
        raise RecordingError(f"{where}: the file is empty (0 bytes); {_NEEDED}: {_AGAIN}")
    return status


def _check_header(header: Header | None, where: str, size: int) -> str:
    """Refuse a header that is none or promises sound that is not there; return a caution or an empty text."""
    if header is None:
        raise RecordingError(
            f"{where}: the content ({size} bytes) is none of the formats that are judged; {_NEEDED}, whatever the "
            "file is called: export the recording in one of these"
        )
    if header.is_mpeg:
        raise RecordingError(
            f"{where}: holds MPEG sound, which leaves out what it takes for inaudible; 16, 24 or 32 bit and float "
            "are judged: record it again without such coding"
        )
    if header.held is None or header.promised is None:
        if header.held:
            return "The file's header does not state its length; the sound was taken to reach to the end of the file."
        return ""
    if header.promised == 0 and header.held > 0:
        raise RecordingError(
            f"{where}: its header says that it holds no sound although {header.held} bytes follow; the recorder was "
            "stopped before it closed the file: repair it there or make the recording again"
        )
    if header.promised > header.held:
        share = 100.0 * header.held / header.promised
        raise RecordingError(
            f"{where}: the file is cut short, its header promises {header.promised} bytes of sound and "
            f"{header.held} ({share:.1f} %) are there; a whole file is needed: {_AGAIN}"
        )
    return ""


def _threaded(sound: _FileSound, first: int, end: int, size: int) -> Iterator[Block]:
    """Yield blocks that a second thread decodes ahead, a few at a time; the thread ends with the generator."""
    queue: Queue[Block | BaseException | None] = Queue(_WAITING)
    halt = Event()
    chunk = size * max(1, _DECODE_FRAMES // size)
    source = sound._decode(first, end, chunk)
    thread = Thread(target=_fill, args=(source, queue, halt), name="runtrue reader", daemon=True)
    thread.start()
    try:
        while (item := queue.get()) is not None:
            if isinstance(item, BaseException):
                raise item
            for i in range(0, len(item), size):
                yield item[i : i + size]
    finally:
        halt.set()
        while thread.is_alive():
            _drain(queue)
            if thread is current_thread():  # the garbage collector may close us from anywhere
                break
            thread.join(0.02)


def _drain(queue: "Queue[Any]") -> None:
    """Empty a queue so that who waits to put into it can go on."""
    try:
        while True:
            queue.get_nowait()
    except Empty:
        return


def _fill(source: Generator[Block, None, None], queue: "Queue[Block | BaseException | None]", halt: Event) -> None:
    """Body of the reader thread: decode into the queue; an error travels to the consumer the same way."""
    last: BaseException | None = None
    try:
        for block in source:
            if halt.is_set():
                break
            queue.put(block)
    except BaseException as error:
        last = error
    source.close()
    if not halt.is_set():
        queue.put(last)


@contextmanager
def _decoder(path: Path, where: str) -> Iterator[Any]:
    """Open libsndfile on a file; what it cannot open becomes our error."""
    try:
        decoder = soundfile.SoundFile(os.fspath(path))
    except (soundfile.SoundFileError, RuntimeError, TypeError, ValueError) as error:
        raise RecordingError(
            f"{where}: the header is damaged or of an unknown kind ({_reason(error)}); {_NEEDED}: {_AGAIN}"
        ) from None
    with decoder:
        yield decoder


@contextmanager
def _decoding(where: str, position: Callable[[], float]) -> Iterator[None]:
    """Turn what the decoder raises in the middle of a file into our error, with the place."""
    try:
        yield
    except RuntrueError:
        raise
    except (soundfile.SoundFileError, RuntimeError, ValueError) as error:
        raise RecordingError(
            f"{where}: the sound cannot be decoded after {position():.3f} s ({_reason(error)}); the file is cut short "
            f"or damaged, a whole file is needed: {_AGAIN}"
        ) from None


@contextmanager
def _surroundings(where: str) -> Iterator[None]:
    """Turn the system's refusals into our error; our own errors pass."""
    try:
        yield
    except RuntrueError:
        raise
    except FileNotFoundError:
        raise MissingFileError(f"{where}: there is no such file any more; {_NEEDED}: put it back") from None
    except OSError as error:
        raise SurroundingsError(
            f"{where}: cannot be read ({_reason(error)}); the right to read it is needed: check the permissions "
            "and the disk"
        ) from None


def _stamp(status: os.stat_result) -> tuple[int, int]:
    return status.st_size, status.st_mtime_ns


def _reason(error: Exception) -> str:
    """Return the reason in the decoder's or the system's words, one short line without the path."""
    words = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
    if isinstance(error, soundfile.LibsndfileError):
        words = error.error_string
    return _one_line(words).removeprefix("Error : ").rstrip(". ")[:120]


def _one_line(text: str | bytes) -> str:
    """Return text that stays on one line of a terminal."""
    words = os.fsdecode(text)
    return "".join(c if c.isprintable() else "?" for c in " ".join(words.split()))
