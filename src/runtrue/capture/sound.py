"""The handle of a recording: what every other room sees of a file, and the same thing made from an array."""

import hashlib
from abc import ABC, abstractmethod
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from runtrue.errors import InputError, RecordingError

Block = npt.NDArray[np.float32]
"""Samples of all channels, shape (n, channels), full scale at 1.0, read-only."""

LOWEST_RATE = 44_100
"""Lowest sampling rate that is judged [Hz]: ticks are measured up to 16 kHz and the groove carries 20 kHz."""
HIGHEST_RATE = 192_000
"""Highest sampling rate that is judged [Hz]."""
LONGEST = 12 * 3600
"""Longest recording [s]; a header that states more is damaged or states nothing."""
MOST_CHANNELS = 2
"""A groove has two walls."""
LARGEST_SAMPLE = 1e6
"""Float samples beyond this are no sound but a broken file; full scale is 1.0."""


class Sound(ABC):
    """A recording that can be read: block by block from the front, or any piece of it.

    The handle holds no samples of a file and never changes. Arrays that it hands out are read-only; copy one to work
    in it.
    """

    __slots__ = ()

    @property
    @abstractmethod
    def name(self) -> str:
        """What to call it in a message."""

    @property
    @abstractmethod
    def rate(self) -> int:
        """Sampling rate [Hz]."""

    @property
    @abstractmethod
    def frames(self) -> int:
        """Length in samples per channel, at least 1."""

    @property
    @abstractmethod
    def channels(self) -> int:
        """1 or 2; the left channel is column 0."""

    @property
    @abstractmethod
    def coding(self) -> str:
        """How the samples are kept, in words: "FLAC, 24 bit"."""

    @property
    @abstractmethod
    def cautions(self) -> tuple[str, ...]:
        """Sentences about the file itself that a person should read; usually none."""

    @property
    @abstractmethod
    def digest(self) -> str:
        """SHA-256 of the file (of rate, shape and samples for an array), 64 hexadecimal digits.

        A complete pass of ``blocks`` works it out on the way; asked earlier, it costs one reading of the bytes.
        """

    @property
    def duration(self) -> float:
        """Length [s]."""
        return self.frames / self.rate

    @abstractmethod
    def blocks(self, size: int, *, start: int = 0, stop: int | None = None) -> Iterator[Block]:
        """Yield frames ``start`` to ``stop`` (the end when None) in blocks of ``size`` frames, the last one shorter."""

    @abstractmethod
    def read(self, start: int, n: int) -> Block:
        """Return ``n`` frames from frame ``start`` on, fewer where the sound ends, none beyond it."""

    def _range(self, start: int, stop: int | None) -> tuple[int, int]:
        """Check a stretch of frames and return it with its end filled in."""
        end = self.frames if stop is None else stop
        if not 0 <= start <= end <= self.frames:
            raise InputError(
                f"{self.name}: frames {start} to {end} were asked for; they must lie in order within 0 to {self.frames}"
            )
        return start, end

    def _piece(self, start: int, n: int) -> tuple[int, int]:
        """Check a request of ``read`` and return its first frame and the frame after its last."""
        if start < 0 or n < 0:
            raise InputError(f"{self.name}: {n} frames from frame {start} were asked for; both must be 0 or more")
        first = min(start, self.frames)
        return first, min(first + n, self.frames)


def check_size(name: str, size: int) -> None:
    """Refuse a block size that holds nothing."""
    if size < 1:
        raise InputError(f"{name}: the block size must be 1 frame or more, got {size}")


def check_shape(where: str, *, rate: int, channels: int, frames: int) -> None:
    """Refuse what cannot be judged by its rate, its channels or its length."""
    if not LOWEST_RATE <= rate <= HIGHEST_RATE:
        raise RecordingError(
            f"{where}: the sampling rate is {rate} Hz; {LOWEST_RATE} to {HIGHEST_RATE} Hz is judged: "
            "record the disc again in that range (raising the rate of a finished file adds nothing)"
        )
    if not 1 <= channels <= MOST_CHANNELS:
        raise RecordingError(
            f"{where}: has {channels} channels; 1 (mono) or 2 (left, right) are judged: "
            "export the two channels of the pickup alone"
        )
    if frames < 1:
        raise RecordingError(f"{where}: holds no sound, its length is 0 s; more than that is needed: record it again")
    if frames > LONGEST * rate:
        raise RecordingError(
            f"{where}: its header states no length or an absurd one ({frames} frames); up to {LONGEST // 3600} h is "
            "read: export the recording again"
        )


def check_samples(where: str, block: Block, *, first: int, rate: int) -> None:
    """Refuse samples that are no numbers or absurdly large; ``first`` is the frame number of ``block[0]``."""
    if np.abs(block).max(initial=0.0) <= LARGEST_SAMPLE:  # a NaN makes this comparison false as well
        return
    row, column = (int(i) for i in np.argwhere(~(np.abs(block) <= LARGEST_SAMPLE))[0])
    value = float(block[row, column])
    kind = "is no finite number" if not np.isfinite(value) else f"is {value:.2g} times full scale"
    raise RecordingError(
        f"{where}: sample {first + row} ({(first + row) / rate:.6f} s) of channel {column + 1} {kind}; "
        "samples must be finite with full scale at 1.0: export the recording again"
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _ArraySound(Sound):
    """A sound that lies in memory; made by ``sound_from_array``."""

    samples: Block
    _rate: int
    _name: str

    @property
    def name(self) -> str:
        return self._name

    @property
    def rate(self) -> int:
        return self._rate

    @property
    def frames(self) -> int:
        return int(self.samples.shape[0])

    @property
    def channels(self) -> int:
        return int(self.samples.shape[1])

    @property
    def coding(self) -> str:
        return "in memory, 32 bit float"

    @property
    def cautions(self) -> tuple[str, ...]:
        return ()

    @property
    def digest(self) -> str:
        digest = hashlib.sha256(f"{self.rate} {self.frames} {self.channels} ".encode())
        digest.update(self.samples.data)
        return digest.hexdigest()

    def blocks(self, size: int, *, start: int = 0, stop: int | None = None) -> Iterator[Block]:
        check_size(self.name, size)
        first, end = self._range(start, stop)
        return (self.samples[i : min(i + size, end)] for i in range(first, end, size))

    def read(self, start: int, n: int) -> Block:
        first, end = self._piece(start, n)
        return self.samples[first:end]


def sound_from_array(array: npt.ArrayLike, rate: int, *, name: str = "sound in memory") -> Sound:
    """Return a ``Sound`` over a copy of ``array``: shape (frames,) for mono or (frames, channels), full scale 1.0.

    Raises ``RecordingError`` for what would be refused in a file too: rate, channels, no frames, no finite numbers.
    """
    samples = np.array(array, dtype=np.float32, order="C", copy=True)
    if samples.ndim == 1:
        samples = samples[:, np.newaxis]
    if samples.ndim != 2:
        raise InputError(f"{name}: an array of shape (frames,) or (frames, channels) is needed, got {samples.shape}")
    check_shape(name, rate=rate, channels=samples.shape[1], frames=samples.shape[0])
    check_samples(name, samples, first=0, rate=rate)
    samples.setflags(write=False)
    return _ArraySound(samples=samples, _rate=rate, _name=name)
