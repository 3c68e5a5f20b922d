"""A recording as the listening test reads it: wired as the rig file states, and audited on its one way through."""

from collections.abc import Iterator

from runtrue.capture import Audit, Auditor
from runtrue.capture.sound import Block, Sound

_BLOCK = 65_536


class Played(Sound):
    """The same recording; its channels exchanged where ``exchanged``, audited during the first complete pass.

    The digest stays that of the file.
    """

    __slots__ = ("_audit", "_exchanged", "_sound")

    def __init__(self, sound: Sound, *, exchanged: bool = False) -> None:
        """Wrap ``sound``; channels of a mono recording cannot be exchanged."""
        self._sound = sound
        self._exchanged = exchanged and sound.channels == 2
        self._audit: Audit | None = None

    @property
    def name(self) -> str:
        """Name of the file."""
        return self._sound.name

    @property
    def rate(self) -> int:
        """Sampling rate [Hz]."""
        return self._sound.rate

    @property
    def frames(self) -> int:
        """Samples per channel."""
        return self._sound.frames

    @property
    def channels(self) -> int:
        """1 or 2."""
        return self._sound.channels

    @property
    def coding(self) -> str:
        """How the samples are kept."""
        return self._sound.coding

    @property
    def cautions(self) -> tuple[str, ...]:
        """Of the file."""
        return self._sound.cautions

    @property
    def digest(self) -> str:
        """SHA-256 of the file."""
        return self._sound.digest

    def blocks(self, size: int, *, start: int = 0, stop: int | None = None) -> Iterator[Block]:
        """Blocks as wired; the first complete pass is audited."""
        blocks = (self._wired(block) for block in self._sound.blocks(size, start=start, stop=stop))
        whole = start == 0 and stop in (None, self.frames)
        return self._audited(blocks) if whole and self._audit is None else blocks

    def read(self, start: int, n: int) -> Block:
        """Frames as wired."""
        return self._wired(self._sound.read(start, n))

    def audit(self) -> Audit:
        """State of the recording; costs a pass of its own only when nobody has read the whole yet."""
        for _ in self.blocks(_BLOCK) if self._audit is None else ():
            pass
        assert self._audit is not None
        return self._audit

    def _wired(self, block: Block) -> Block:
        return block[:, ::-1] if self._exchanged else block

    def _audited(self, blocks: Iterator[Block]) -> Iterator[Block]:
        auditor = Auditor(rate=self.rate, channels=self.channels)
        for block in blocks:
            auditor.push(block)
            yield block
        self._audit = auditor.finish()
