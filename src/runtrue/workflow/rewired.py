"""A recording whose channels carry the other walls than usual, as the rig file states."""

from collections.abc import Iterator
from dataclasses import dataclass

from runtrue.capture.sound import Block, Sound


@dataclass(frozen=True, slots=True, eq=False)
class Rewired(Sound):
    """The same two-channel recording with its channels exchanged; the digest stays that of the file."""

    sound: Sound

    @property
    def name(self) -> str:
        """Name of the file."""
        return self.sound.name

    @property
    def rate(self) -> int:
        """Sampling rate [Hz]."""
        return self.sound.rate

    @property
    def frames(self) -> int:
        """Samples per channel."""
        return self.sound.frames

    @property
    def channels(self) -> int:
        """Two."""
        return self.sound.channels

    @property
    def coding(self) -> str:
        """How the samples are kept."""
        return self.sound.coding

    @property
    def cautions(self) -> tuple[str, ...]:
        """Of the file."""
        return self.sound.cautions

    @property
    def digest(self) -> str:
        """SHA-256 of the file."""
        return self.sound.digest

    def blocks(self, size: int, *, start: int = 0, stop: int | None = None) -> Iterator[Block]:
        """Blocks with the channels exchanged."""
        return (block[:, ::-1] for block in self.sound.blocks(size, start=start, stop=stop))

    def read(self, start: int, n: int) -> Block:
        """Frames with the channels exchanged."""
        return self.sound.read(start, n)[:, ::-1]
