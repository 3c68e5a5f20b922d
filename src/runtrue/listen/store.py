"""Working copies of a sound: 48 kHz stereo in a temporary file, a mono track at 12 kHz in memory.

One decode feeds both. The file is read back in slices, so memory does not grow with the side's length beyond the
track (2.9 MB a minute).
"""

from collections.abc import Iterable
from pathlib import Path

import numpy as np
import soxr
from numpy.typing import NDArray

from runtrue.errors import SurroundingsError

RATE = 48_000
"""Rate at which differences are judged [Hz]."""
TRACK_RATE = 12_000
"""Rate at which the time line is found [Hz]."""

Float32 = NDArray[np.float32]


def as_stereo(block: Float32) -> Float32:
    """Shape (n, 2) of a block of shape (n, 1) or (n, 2)."""
    return np.repeat(block, 2, axis=1) if block.shape[1] == 1 else block


class WorkingCopy:
    """Takes blocks at the file's rate (``push``), ends with ``finish``; then serves slices at 48 kHz and the track.

    ``track`` is half of left plus right, ``side``, where asked for, half of left less right, both at 12 kHz.
    """

    def __init__(self, path: Path, *, rate: int, with_side: bool = False) -> None:
        self._path, self.rate = path, rate
        self.doubt: Float32 | None = None
        """What may be wrong of what was worked out and added to the sound, rms of the steps from sample to sample in
        each millisecond, (n, 2); None: nothing was."""
        self._file = path.open("w+b")
        self._wide = soxr.ResampleStream(rate, RATE, 2, dtype="float32", quality="HQ") if rate != RATE else None
        self._narrow = soxr.ResampleStream(RATE, TRACK_RATE, 1 + with_side, dtype="float32", quality="HQ")
        self._with_side = with_side
        self._track: list[Float32] = []
        self.frames = 0
        self.track: Float32 = np.zeros(0, dtype=np.float32)
        self.side: Float32 = np.zeros(0, dtype=np.float32)

    def push(self, block: Float32) -> None:
        """Append a block of shape (n, 1 or 2), float32, at the file's rate."""
        stereo = as_stereo(block)
        self._keep(self._wide.resample_chunk(stereo) if self._wide else stereo, last=False)

    def finish(self) -> None:
        """Flush the resamplers; afterwards ``track`` and ``read`` are complete."""
        rest = np.zeros((0, 2), dtype=np.float32)
        self._keep(self._wide.resample_chunk(rest, last=True) if self._wide else rest, last=True)
        narrow = np.concatenate(self._track) if self._track else np.zeros((0, 1 + self._with_side), dtype=np.float32)
        self.track = np.ascontiguousarray(narrow[:, 0])
        self.side = np.ascontiguousarray(narrow[:, -1]) if self._with_side else self.side
        self._track = []

    def _keep(self, stereo: Float32, *, last: bool) -> None:
        try:
            self._file.write(np.ascontiguousarray(stereo, dtype=np.float32).tobytes())
        except OSError as error:
            raise SurroundingsError(
                f"working copy: cannot write to {self._path.parent} ({error.strerror}); a side needs 0.4 GB free there"
            ) from error
        self.frames += len(stereo)
        left, right = stereo[:, 0], stereo[:, 1]
        half = [left + right, left - right] if self._with_side else [left + right]
        narrow = np.float32(0.5) * np.stack(half, axis=1)
        self._track.append(self._narrow.resample_chunk(narrow, last=last).reshape(-1, 1 + self._with_side))

    def read(self, start: int, count: int) -> Float32:
        """Frames ``start`` to ``start + count``, shape (count, 2); zeros outside the sound."""
        out = np.zeros((count, 2), dtype=np.float32)
        first, end = max(0, start), min(self.frames, start + count)
        if first < end:
            self._file.seek(first * 8)
            data = np.frombuffer(self._file.read((end - first) * 8), dtype=np.float32).reshape(-1, 2)
            out[first - start : first - start + len(data)] = data
        return out

    def close(self) -> None:
        """Close and remove the file."""
        self._file.close()
        self._path.unlink(missing_ok=True)


def fill(copy: WorkingCopy, blocks: Iterable[Float32]) -> WorkingCopy:
    """Push all blocks and finish."""
    for block in blocks:
        copy.push(block)
    copy.finish()
    return copy
