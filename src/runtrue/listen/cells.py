"""The difference in small: its power by band and wall every 11 ms, kept for a whole side and laid out on the disc.

What comes later (zones, swish, levels by angle and radius) asks this map and never the spectra again. A side of 20
minutes takes 20 MB.
"""

from dataclasses import dataclass, field, fields
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy.special import digamma, gammaincinv

from runtrue.listen.difference import FREQUENCIES, Section
from runtrue.listen.store import RATE
from runtrue.signal.stft import FRAME, HOP
from runtrue.signal.weighting import a_weighting

Float32 = NDArray[np.float32]
Float64 = NDArray[np.float64]

HOP_S = HOP / RATE
EDGES_HZ = (1000.0, 2000.0, 3150.0, 5000.0, 8000.0, 12_000.0, 16_000.0)
"""Edges of the bands in which zones are looked for."""
BANDS = len(EDGES_HZ) - 1
_A = BANDS + 1
LEFT, RIGHT, LATERAL, VERTICAL = range(4)
TO_POWER = 2.0 / (FRAME * FRAME / 2)
"""Turns a squared magnitude into power per sample; both halves of the spectrum counted, 0 Hz and the top left aside."""
_INSIDE = np.array([(low <= FREQUENCIES) & (high > FREQUENCIES) for low, high in pairwise(EDGES_HZ)])
_A_POWER = 10.0 ** (a_weighting(np.maximum(FREQUENCIES, 10.0)) / 10.0)
_LOW = (FREQUENCIES > 20.0) & (FREQUENCIES < 260.0)
"""Bins in which a thump lies."""
_WEIGHTS = np.ascontiguousarray(np.vstack([_INSIDE, _LOW, _A_POWER]).T * TO_POWER, dtype=np.float32)
"""Columns: the bands, the low band, then A; shape (BINS, BANDS + 2)."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Cells:
    """The side in cells of one hop, in order of capture time.

    ``time`` (n,) programme time [s] of each cell's middle; ``section`` (n,) number of the section it lies in, rising;
    ``rest`` (n, 4, BANDS) power of the difference of left, right, lateral, vertical, ``played`` (n, 2, BANDS) that of
    the reference as played; ``rest_a`` and ``played_a`` (n,) A-weighted, mean of left and right; ``low`` (n, 4) power
    of the difference from 20 to 260 Hz and ``played_low`` (n, 2) that of the reference. Power per sample, full scale 1.
    """

    time: Float64
    section: NDArray[np.int64]
    rest: Float32
    played: Float32
    rest_a: Float32
    played_a: Float32
    low: Float32
    played_low: Float32


@dataclass(slots=True, kw_only=True)
class CellKeeper:
    """Takes sections (``push``) and gives all cells that were heard (``cells``)."""

    _parts: list[Cells] = field(default_factory=list)

    def push(self, section: Section, difference_power: Float32, played_power: Float32) -> None:
        """Take in a section and the squared magnitudes of its difference and reference, (2, frames, BINS)."""
        # the last frame is the first of the next section
        heard = section.heard.copy()
        heard[-1] = False
        index = np.flatnonzero(heard)
        if not len(index):
            return
        left, right = section.difference[:, index]
        both = (left.real * right.real + left.imag * right.imag) @ _WEIGHTS[:, :_A]
        walls = difference_power[:, index] @ _WEIGHTS
        offered = played_power[:, index] @ _WEIGHTS
        middle = 0.5 * (walls[0] + walls[1])
        rest = np.stack([walls[0, :, :_A], walls[1, :, :_A], middle[:, :_A] + both, middle[:, :_A] - both], axis=1)
        programme = section.programme
        self._parts.append(
            Cells(
                time=programme[np.minimum(index * HOP, len(programme) - 1)],
                section=np.full(len(index), len(self._parts)),
                rest=np.maximum(rest[:, :, :BANDS], 0.0),
                played=np.ascontiguousarray(np.moveaxis(offered[:, :, :BANDS], 0, 1)),
                rest_a=middle[:, _A],
                played_a=np.float32(0.5) * (offered[0, :, _A] + offered[1, :, _A]),
                low=np.maximum(rest[:, :, BANDS], 0.0),
                played_low=np.ascontiguousarray(offered[:, :, BANDS].T),
            )
        )

    def cells(self) -> Cells:
        """Everything taken in."""
        names = [f.name for f in fields(Cells)]
        return Cells(**{name: np.concatenate([getattr(part, name) for part in self._parts]) for name in names})

    @property
    def empty(self) -> bool:
        """Whether nothing was heard."""
        return not self._parts


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Expected:
    """What each cell should hold were the disc even.

    ``noise`` (sections, 4, BANDS) the local noise; ``leak`` (sections, 4, BANDS) how much of the reference's own power
    shows through the subtraction; ``ratio`` (n, 4) the difference over noise and leak, geometric mean of the bands
    (so that one band in which the music shows does not make a zone), 1 on an even disc; ``loud`` (n, 4) the leak over
    the noise.
    """

    noise: Float32
    leak: Float32
    ratio: Float32
    loud: Float32


_FLOOR_QUANTILE = 0.25
_LOUD = 3
"""The loudest third of a section shows the leak."""
_NEAR = 5
"""Sections to each side in which a noise that one section has and its neighbours lack counts as foreign."""


def expected(cells: Cells) -> Expected:
    """Noise and leak of every section, from quantiles that neither ticks nor zones move, and each cell against them.

    Noise is the lower quartile of a section's cells (a zone may fill two thirds of each turn) over what that quartile
    is of an even noise, and not above the middle of its neighbours; leak the middle of what the loudest third has
    beyond the noise, over the reference's power there.
    """
    starts = np.flatnonzero(np.diff(cells.section, prepend=-1))
    ends = np.append(starts[1:], len(cells.section))
    offered = np.stack(
        [cells.played[:, 0], cells.played[:, 1], *2 * [0.5 * (cells.played[:, 0] + cells.played[:, 1])]], axis=1
    )
    noise = np.stack([_floor(cells.rest[a:b]) for a, b in zip(starts, ends, strict=True)])
    noise = np.minimum(noise, _middle_of_neighbours(noise))
    leak = np.stack([_leak(cells.rest[a:b], offered[a:b], n) for a, b, n in zip(starts, ends, noise, strict=True)])
    leak = np.minimum(leak, 2.0 * _middle_of_neighbours(leak))
    number = np.searchsorted(starts, np.arange(len(cells.section)), side="right") - 1
    local, through = noise[number], leak[number] * offered
    # what precedes and follows an attack by a cell holds its ringing
    through = np.maximum(through, 0.5 * np.maximum(np.roll(through, 1, axis=0), np.roll(through, -1, axis=0)))
    logs = np.log(cells.rest / (local + through) + 1e-6) - _MEAN_LOG
    return Expected(
        noise=noise.astype(np.float32), leak=leak.astype(np.float32),
        ratio=np.exp(logs.mean(axis=2)).astype(np.float32), loud=(through / local).mean(axis=2).astype(np.float32),
    )  # fmt: skip


def _floor(rest: Float32) -> Float64:
    """Noise power (4, BANDS) of a section."""
    return np.asarray(np.quantile(rest, _FLOOR_QUANTILE, axis=0) / _QUARTILE + 1e-20, dtype=np.float64)


def _leak(rest: Float32, offered: Float32, noise: Float64) -> Float64:
    """Leak (4, BANDS) of a section."""
    count = max(1, len(rest) // _LOUD)
    order = np.argpartition(offered, len(offered) - count, axis=0)[-count:]
    beyond = np.take_along_axis(rest, order, axis=0) - noise
    there = np.take_along_axis(offered, order, axis=0)
    return np.clip(np.median(beyond / np.maximum(there, 1e-20), axis=0), 0.0, 1.0)


def _middle_of_neighbours(values: Float64) -> Float64:
    """Median over each section and its neighbours, (sections, ...)."""
    padded = np.pad(values, ((_NEAR, _NEAR), *((0, 0) for _ in values.shape[1:])), mode="edge")
    windows = np.lib.stride_tricks.sliding_window_view(padded, 2 * _NEAR + 1, axis=0)
    return np.asarray(np.median(windows, axis=-1), dtype=np.float64)


def _orders() -> Float64:
    """Half the free values of each band's power in one cell.

    The window (Hann, as a power) couples neighbouring bins: (sum h)^2 / (n sum h^2) = 2/3 of them are free.
    """
    return np.asarray(_INSIDE.sum(axis=1) * (2.0 / 3.0), dtype=np.float64)


_QUARTILE = gammaincinv(_orders(), _FLOOR_QUANTILE) / _orders()
"""Lower quartile over mean of the power of even noise in one cell, by band (a gamma law)."""
_MEAN_LOG = digamma(_orders()) - np.log(_orders())
"""Mean of the logarithm of that power over its mean."""
