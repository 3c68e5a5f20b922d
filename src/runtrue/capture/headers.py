"""What a recording's own header says, read before the decoder sees the file.

The decoder takes a cut WAV or AIFF for a whole one and guesses at text; here the first bytes must name a container
we judge, and the sound it promises must be there.
"""

from dataclasses import dataclass
from typing import BinaryIO

_SIZE_UNKNOWN = 0xFFFF_FFFF
_MOST_CHUNKS = 10_000
_MPEG_TAGS = frozenset({0x0050, 0x0055})


@dataclass(frozen=True, slots=True, kw_only=True)
class Header:
    """The container and the sound data it promises.

    ``promised`` is the number of bytes of sound that the header states, None where it states none (FLAC; or a length
    that was never filled in); ``held`` the number that follow in the file. Both None when no sound chunk was met.
    """

    container: str
    promised: int | None = None
    held: int | None = None
    format_tag: int | None = None

    @property
    def is_mpeg(self) -> bool:
        """True for lossy sound inside a WAV."""
        return self.format_tag in _MPEG_TAGS


def read_header(file: BinaryIO, size: int) -> Header | None:
    """Return what the header of an open file of ``size`` bytes says; None when it is none of the containers."""
    head = file.read(12)
    if head[:4] == b"fLaC" or head[:3] == b"ID3":
        return _flac(file, head)
    if head[8:12] == b"WAVE" and head[:4] in {b"RIFF", b"RF64", b"RIFX"}:
        order = "big" if head[:4] == b"RIFX" else "little"
        return _chunks(file, size, container="RF64" if head[:4] == b"RF64" else "WAV", order=order)
    if head[:4] == b"FORM" and head[8:12] in {b"AIFF", b"AIFC"}:
        return _chunks(file, size, container="AIFF", order="big")
    return None


def _flac(file: BinaryIO, head: bytes) -> Header | None:
    """A FLAC stream, if need be behind a tag that some editors put in front."""
    if head[:3] == b"ID3":
        length = 0
        for byte in head[6:10]:
            length = length << 7 | byte & 0x7F
        file.seek(10 + length)
        if file.read(4) != b"fLaC":
            return None
    return Header(container="FLAC")


def _chunks(file: BinaryIO, size: int, *, container: str, order: str) -> Header:
    """Walk the chunks of RIFF, RF64 or FORM up to the one that holds the sound."""
    big = order == "big"
    tag: int | None = None
    long_size: int | None = None
    at = 12
    for _ in range(_MOST_CHUNKS):
        file.seek(at)
        head = file.read(8)
        if len(head) < 8:
            break
        length = int.from_bytes(head[4:], "big" if big else "little")
        at += 8
        if head[:4] == b"fmt ":
            tag = int.from_bytes(file.read(2), "big" if big else "little")
        elif head[:4] == b"ds64":
            long_size = int.from_bytes(file.read(16)[8:], "little")
        elif head[:4] in {b"data", b"SSND"}:
            promised: int | None = length
            if length == _SIZE_UNKNOWN:
                promised = long_size
            return Header(container=container, promised=promised, held=max(size - at, 0), format_tag=tag)
        at += length + length % 2
        if at > size:
            break
    return Header(container=container, format_tag=tag)
