"""A copy of a recording as WAV with cue points: sample for sample the same sound, marks at places of it.

Chunks ``cue `` and ``LIST adtl`` (``labl``, and ``ltxt`` for stretches) of RIFF: Microsoft and IBM, Multimedia
Programming Interface and Data Specifications 1.0 (1991), from memory; readers of WAV leave unknown chunks alone.
"""

import struct
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

import soundfile

from runtrue.errors import InputError

_BLOCK = 65_536
_LARGEST = 2**32 - 2**20
_WIDTH = {"PCM_16": 2, "PCM_24": 3, "PCM_32": 4, "FLOAT": 4, "DOUBLE": 8}


@dataclass(frozen=True, slots=True, kw_only=True)
class Cue:
    """A mark at sample ``at``; ``length`` samples long, 0 for a point."""

    at: int
    label: str
    length: int = 0


def write_with_cues(source: Path, out: Path, cues: Sequence[Cue]) -> None:
    """Copy ``source`` to the WAV file ``out`` with cue points. Raises ``InputError`` for what does not fit a WAV."""
    with soundfile.SoundFile(source) as sound:
        coding = sound.subtype if sound.subtype in _WIDTH else "PCM_24"
        if sound.frames * sound.channels * _WIDTH[coding] > _LARGEST:
            raise InputError(f"capture {source}: is larger than a WAV file can be, 4 GB; cut it first")
        exact: Literal["int32", "float64"] = "int32" if coding.startswith("PCM") else "float64"
        with soundfile.SoundFile(out, "w", sound.samplerate, sound.channels, coding, format="WAV") as copy:
            while len(block := sound.read(_BLOCK, dtype=exact, always_2d=True)):
                copy.write(block)
    chunks = _cue_chunk(cues) + _labels(cues)
    with out.open("r+b") as file:
        file.seek(0, 2)
        end = file.tell()
        file.write(b"\0" * (end % 2) + chunks)
        size = file.tell() - 8
        file.seek(4)
        file.write(struct.pack("<I", size))


def _chunk(name: bytes, data: bytes) -> bytes:
    return name + struct.pack("<I", len(data)) + data + b"\0" * (len(data) % 2)


def _cue_chunk(cues: Sequence[Cue]) -> bytes:
    points = (struct.pack("<II4sIII", n, cue.at, b"data", 0, 0, cue.at) for n, cue in enumerate(cues, 1))
    return _chunk(b"cue ", struct.pack("<I", len(cues)) + b"".join(points))


def _labels(cues: Sequence[Cue]) -> bytes:
    parts = [b"adtl"]
    for n, cue in enumerate(cues, 1):
        parts.append(_chunk(b"labl", struct.pack("<I", n) + cue.label.encode("ascii", "replace") + b"\0"))
        if cue.length:
            parts.append(_chunk(b"ltxt", struct.pack("<II4sHHHH", n, cue.length, b"rgn ", 0, 0, 0, 0)))
    return _chunk(b"LIST", b"".join(parts))
