"""Capture less the reference as this rig would play it, section by section.

The reference is read along the time line and passed through the 2 x 2 transfer of the rig, estimated band by band in
each section; what is left is the difference. How much of the difference is the reference's own, left over by line or
transfer, is learnt from the loud and the quiet frames of each band (``leak``), so that loud passages raise the
threshold there and only there.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray
from scipy.ndimage import maximum_filter1d, uniform_filter1d

from runtrue.listen.line import Line, Piece
from runtrue.listen.store import RATE, WorkingCopy
from runtrue.listen.tracing import Ball
from runtrue.signal.smoothing import Points, smooth
from runtrue.signal.stft import BINS, FRAME, HOP, Complex64, analyse, frequencies
from runtrue.signal.warp import read_along

Float32 = NDArray[np.float32]
Float64 = NDArray[np.float64]

SECTION_S = 8.0
_SECTION = round(SECTION_S * RATE / HOP) * HOP
_MARGIN = 64
_OFF_JUMP_S = 0.05
"""Kept off a jump on both sides [s]: the stylus lands with a noise of its own."""
_MEDIAN_OF_EXPONENTIAL = 0.6931
"""Median over mean of the power of Gaussian noise in one bin (ln 2)."""
_BEND, _LARGEST = 0.3e-6, 5e-6
_THINNED = 3
"""One frame of so many is enough for a median over time."""
FREQUENCIES = frequencies(RATE)
"""Middle of each bin [Hz]."""
_JUDGED = slice(int(np.searchsorted(FREQUENCIES, 1000.0)), int(np.searchsorted(FREQUENCIES, 16000.0)))
BAND_EDGES = np.unique(np.concatenate([np.arange(0, 8), np.geomspace(8, BINS, 30).astype(int)]))
"""First bins of the bands in which leak is learnt; the last entry closes the last band."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Section:
    """One section: spectra of all frames that touch samples ``first`` to ``last`` (exclusive) of the working copy.

    ``difference``, ``played`` and ``captured`` have shape (2, frames, BINS); ``programme`` (last - first,) is the
    programme time of each sample; ``heard`` (frames,) marks frames wholly inside the programme and off the jumps;
    ``noise_power`` (2, BINS) and ``leak`` (2, BINS) say what the difference holds: noise + leak x power of the
    reference as played. ``low_captured`` and ``low_played`` are capture and reference along the line, (n, 2), for the
    low end. ``doubt`` (2, cells of 1 ms): what may be wrong of the reference there, see ``WorkingCopy``.
    """

    first: int
    last: int
    programme: Float64
    difference: Complex64
    played: Complex64
    captured: Complex64
    heard: NDArray[np.bool_]
    transfer: Complex64
    noise_power: Float64
    leak: Float64
    low_captured: Float32
    low_played: Float32
    doubt: Float32 | None = None


class Differ:
    """Walks along the line and yields sections; remembers the transfer from one section to the next."""

    def __init__(
        self,
        line: Line,
        capture: WorkingCopy,
        reference: WorkingCopy,
        *,
        duration: float,
        polarity: int,
        ball: Ball | None = None,
    ) -> None:
        self._line, self._capture, self._reference = line, capture, reference
        self._duration = duration
        self._polarity = np.float32(polarity)
        self._past: tuple[Complex64, Complex64] | None = None
        self._ball = ball

    def sections(self, *, every: int = 1) -> Iterator[Section]:
        """Sections in order of capture time, those wholly outside the programme left out; one of ``every``."""
        number = 0
        for index, piece in enumerate(self._line.pieces):
            low = piece.start
            high = piece.end if index < len(self._line.pieces) - 1 else min(piece.end, self._capture.frames / RATE)
            at_jump = (index > 0, index < len(self._line.pieces) - 1)
            first = int(np.ceil(low * RATE / HOP)) * HOP
            last = int(high * RATE / HOP) * HOP
            while first < last:
                upto = min(first + _SECTION, last)
                if last - upto < _SECTION // 4:
                    upto = last
                wanted = number % every == every // 2
                section = self._section(piece, first, upto, (low, high), at_jump) if wanted else None
                number += 1
                if section is not None:
                    yield section
                first = upto

    def _section(
        self, piece: Piece, first: int, last: int, span: tuple[float, float], at_jump: tuple[bool, bool]
    ) -> Section | None:
        grid = np.arange(first - HOP, last + HOP) / RATE
        programme = piece.at(grid)
        inside = (programme > 0.0) & (programme < self._duration)
        if at_jump[0]:
            inside &= grid > span[0] + _OFF_JUMP_S
        if at_jump[1]:
            inside &= grid < span[1] - _OFF_JUMP_S
        if inside.sum() < 4 * FRAME:
            return None
        taken = self._capture.read(first - HOP, len(grid)) * self._polarity
        start = int(np.floor(programme.min() * RATE)) - _MARGIN
        stop = int(np.ceil(programme.max() * RATE)) + _MARGIN
        source = self._reference.read(start, stop - start)
        captured = _spectra(taken)
        both: NDArray[np.bool_] = np.asarray(sliding_window_view(inside, FRAME)[::HOP].all(axis=1), dtype=np.bool_)
        past = self._past
        for _ in range(1 if self._ball is None else self._ball.rounds):
            self._past = past
            groove = source if self._ball is None else self._ball.traced(source, start / RATE)
            warped = read_along(groove, programme * RATE - start)
            offered = _spectra(warped)
            transfer = self._transfer(captured[:, both], offered[:, both])
            played = np.stack([row[0] * offered[0] + row[1] * offered[1] for row in transfer])
            difference = captured - played
            learning = self._ball is not None and self._ball.learning
            if not learning and both.any():
                played *= _turned(_late(difference[:, both], played[:, both]), both)
                difference = captured - played
            noise, leak = _noise_and_leak(difference[:, both], played[:, both])
            if self._ball is None or not self._ball.learning:
                break
            added = _spectra(read_along(self._ball.added, programme * RATE - start))
            if not self._ball.learn(added[:, both], difference[:, both], played[:, both], transfer, noise):
                break
        return Section(
            first=first, last=last, programme=programme[HOP:-HOP], difference=difference, played=played,
            captured=captured, heard=both, transfer=transfer, noise_power=noise, leak=leak,
            doubt=self._doubt(programme[HOP:-HOP]),
            low_captured=taken[HOP:-HOP][inside[HOP:-HOP]], low_played=warped[HOP:-HOP][inside[HOP:-HOP]],
        )  # fmt: skip

    def _doubt(self, programme: Float64) -> Float32 | None:
        """What was worked out of the reference at the programme times of each millisecond, largest of the next ones."""
        doubt = self._reference.doubt
        if doubt is None:
            return None
        at = np.clip((programme[RATE // 2000 :: RATE // 1000] * 1000.0).astype(np.int64), 0, len(doubt) - 1)
        return np.asarray(maximum_filter1d(doubt[at], 3, axis=0).T, dtype=np.float32)

    def _transfer(self, captured: Complex64, offered: Complex64) -> Complex64:
        """Transfer from reference (second index) to capture (first index), shape (2, 2, BINS)."""
        loudness = np.sqrt(_power(captured).sum(axis=(0, 2)))
        weight = 1.0 / np.maximum(loudness, 0.2 * np.median(loudness) + 1e-9)
        scaled = offered * weight[None, :, None]
        auto, cross = (_products(one, scaled) for one in (scaled, captured * weight[None, :, None]))
        if self._past is not None:
            auto, cross = auto + 0.5 * self._past[0], cross + 0.5 * self._past[1]
        self._past = (auto, cross)
        auto, cross = _over_frequency(auto), _over_frequency(cross)
        trace = (auto[0, 0] + auto[1, 1]).real
        ridge = 1e-4 * trace + 1e-9 * trace.max() + 1e-20
        a, b, d = auto[0, 0] + ridge, auto[0, 1], auto[1, 1] + ridge
        determinant = a * d - b * b.conj()
        inverse = np.array([[d, -b], [-b.conj(), a]]) / determinant
        return np.asarray(np.einsum("ijf,jkf->ikf", cross, inverse), dtype=np.complex64)


def _products(one: Complex64, other: Complex64) -> Complex64:
    """Sums over the frames of ``one`` (2, frames, BINS) times the conjugate of ``other``, (2, 2, BINS)."""
    other = other.conj()
    return np.stack([[(a * b).sum(axis=0) for b in other] for a in one])


def _late(difference: Complex64, played: Complex64) -> Float64:
    """What the line is late by in each frame [s], from the whole band that is judged.

    Least squares of the difference on the slope of the reference as played, each bin weighted by what is left there.
    A frame that fits badly after it (a tick) counts for less; a line that bends by more than ``_BEND`` between frames
    and errors above ``_LARGEST`` are taken for something else.
    """
    left, offered = difference[..., _JUDGED], played[..., _JUDGED]
    power = _power(left)
    weight = 1.0 / (np.median(power[:, ::_THINNED], axis=1) / _MEDIAN_OF_EXPONENTIAL + 1e-12 * power.max() + 1e-30)
    omega = 2.0 * np.pi * FREQUENCIES[_JUDGED]
    moment = np.einsum("inf,if->n", offered.real * left.imag - offered.imag * left.real, weight * omega)
    information = 2.0 * np.einsum("inf,if->n", _power(offered), weight * omega**2)
    late = 2.0 * moment / (information + 1e-30)
    misfit = (np.einsum("inf,if->n", power, weight) - late * moment) / (weight.size)
    points = Points.at_knots(late, information / np.maximum(misfit, 1.0) ** 2)
    return smooth(points, 1.0 / _BEND**2, toward=np.zeros(len(late)), hold=1.0 / _LARGEST**2)


def _turned(late: Float64, heard: NDArray[np.bool_]) -> Complex64:
    """Factor (frames, BINS) that brings the frames that were ``heard`` to where they belong."""
    turn = np.ones((len(heard), BINS), dtype=np.complex64)
    phase = (2.0 * np.pi * late[:, None] * FREQUENCIES).astype(np.float32)
    turn[heard] = np.cos(phase) + 1j * np.sin(phase)
    return turn


def _spectra(sound: Float32) -> Complex64:
    """Spectra (2, frames, BINS) of a stereo sound (n, 2)."""
    return np.stack([analyse(np.ascontiguousarray(sound[:, c])) for c in (0, 1)])


def _power(spectra: Complex64) -> Float32:
    return np.asarray(spectra.real**2 + spectra.imag**2, dtype=np.float32)


def _over_frequency(matrix: Complex64) -> Complex64:
    """Mean over about a sixth of an octave, five bins at least."""
    flat = matrix.reshape(-1, matrix.shape[-1])
    total = np.cumsum(np.concatenate([np.zeros((len(flat), 1)), flat], axis=1), axis=1)
    index = np.arange(BINS)
    half = np.maximum(2, index // 16)
    low, high = np.maximum(index - half, 0), np.minimum(index + half + 1, BINS)
    return np.asarray((total[:, high] - total[:, low]) / (high - low)).reshape(matrix.shape)


def axes_of(spectra: Complex64) -> Complex64:
    """Left, right, lateral, vertical from left, right: shape (2, ...) to (4, ...), each with the power of one wall."""
    left, right = spectra
    half = np.float32(np.sqrt(0.5))
    return np.stack([left, right, (left + right) * half, (left - right) * half])


def _noise_and_leak(difference: Complex64, played: Complex64) -> tuple[Float64, Float64]:
    """Noise power (axes, BINS) and leak (axes, BINS) by bands, from medians, so that ticks do not count.

    The quieter third of the frames shows the noise; what the louder third has more, over the reference's power there,
    is the leak.
    """
    noise = np.zeros((2, BINS))
    leak = np.zeros((2, BINS))
    widths = np.diff(BAND_EDGES)
    for axis in range(2):
        left = np.add.reduceat(_power(difference[axis]), BAND_EDGES[:-1], axis=1) / widths
        loud = np.add.reduceat(_power(played[axis]), BAND_EDGES[:-1], axis=1) / widths
        order = np.argsort(loud, axis=0)
        left, loud = np.take_along_axis(left, order, axis=0), np.take_along_axis(loud, order, axis=0)
        third = max(1, len(left) // 3)
        low_left, low_loud = np.median(left[:third], axis=0), np.mean(loud[:third], axis=0)
        high_left, high_loud = np.median(left[-third:], axis=0), np.mean(loud[-third:], axis=0)
        share = np.clip(high_left - low_left, 0.0, None) / np.maximum(high_loud - low_loud, 1e-20)
        share = np.minimum(share, 1.0)
        floor = np.maximum(low_left - share * low_loud, 0.05 * low_left)
        # a median of band powers stands for a mean when the band is wide; one bin needs 1 / ln 2
        correction = 1.0 + (1.0 / _MEDIAN_OF_EXPONENTIAL - 1.0) / widths
        middle = 0.5 * (BAND_EDGES[:-1] + BAND_EDGES[1:] - 1)
        noise[axis] = np.interp(np.arange(BINS), middle, floor * correction)
        leak[axis] = np.interp(np.arange(BINS), middle, share)
    return noise, leak


def smooth_power(power: Float64) -> Float64:
    """Power over frequency smoothed over nine bins, last axis."""
    return np.asarray(uniform_filter1d(power, 9, axis=-1, mode="nearest"))
