"""The time line sharpened on the waveform itself.

With the reference read along the present line, what is left of the capture is, to first order, the slope of the
reference times the error of the line. Summed over 10 ms that gives an error with its information (Gauss-Newton, the
least squares of delay); smoothing joins the errors as far as their information goes, so quiet places are bridged. The
band widens from 1.5 kHz to 5.4 kHz as the error shrinks.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import fft
from scipy.interpolate import CubicSpline
from scipy.ndimage import median_filter, uniform_filter1d

from runtrue.listen.lattice import HOP_S, Lattice, Path
from runtrue.listen.line import Line, Piece
from runtrue.listen.route import Route
from runtrue.listen.store import TRACK_RATE
from runtrue.signal.smoothing import Points, likeliest_stiffness, smooth
from runtrue.signal.warp import read_along

Float32 = NDArray[np.float32]
Float64 = NDArray[np.float64]

STEP_S = 0.01
_STEP = int(STEP_S * TRACK_RATE)
_BLOCK = 1 << 20
"""Samples of the line that are worked out at once: memory stays that of the tracks."""
_ROWS = 4096
_BANDS = ((60.0, 700.0), (60.0, 1500.0), (60.0, 3000.0), (60.0, 4000.0))
_NOISE_EDGES = np.concatenate([[0.0], np.geomspace(30.0, 5800.0, 45)])
_ERRORS_LEFT = (300e-6, 100e-6, 20e-6, 5e-6)
"""Errors of the line up to about this [s] are not clipped away as if they were ticks, pass by pass."""
_GAIN_S = 1.0
_STRETCHES, _STRETCH_S = 5, 10.0
"""Places along a piece, and their length [s], from which the balance of the walls is taken."""
_EQUAL = 0.01
"""Walls that differ by less than this share (0.2 dB) need no mixing."""
_SWITCH_S = 1.2
_COARSE = 5e-5
"""While the line may be wrong by more, a pass holds on to it where the waveform says little."""
_FIRST_BEND = 1e-5
"""Second difference [s] of the line over 40 ms beside its once-a-turn part: a speed that changes by 0.6 % a second."""
_WANDER = 50e-6
"""How far [s] the line strays from a straight line and its once-a-turn part by wow alone."""
_PULL = 1e9
"""A speed of 0.1 % off the trend, held for a tenth of a second, costs one."""
_LEAST_INFORMATION = 1e4
"""A piece in which no knot says where it is to 10 ms [1/s2] was not heard: its waveform moves nothing."""
_SLIP_S = 5e-4
"""Smaller differences are left to the waveform."""


def refine(route: Route, capture: Float32, reference: Float32, side: Float32, *, turn_period: float) -> Line:
    """Time line at 10 ms knots from the followed route and the 12 kHz tracks; ``side`` is the reference's.

    A capture whose walls are not equally loud has some of the side in its middle; from the third pass on the reference
    gets the same share.
    """
    pieces = []
    for index, path in enumerate(route.pieces):
        if len(path.capture) < 8:
            continue
        low = 0.0 if index == 0 else float(path.capture[0])
        high = (
            len(capture) / TRACK_RATE if index == len(route.pieces) - 1 else float(route.pieces[index + 1].capture[0])
        )
        pieces.append(_unslipped(_first(path, low, high, turn_period), route.lattice))

    def sharpened(source: Float32, band: tuple[float, float], error: float) -> list[Piece]:
        return [
            _sharpened(p, capture, source, band, error_left=error, polarity=route.polarity, turn=turn_period)
            for p in pieces
        ]

    coarse = len(_BANDS) // 2
    for band, error in zip(_BANDS[:coarse], _ERRORS_LEFT, strict=False):
        pieces = sharpened(reference, band, error)
    middle = reference
    for band, error in zip(_BANDS[coarse:], _ERRORS_LEFT[coarse:], strict=True):
        reference = _mixed(pieces, capture, middle, side, route.polarity)
        pieces = sharpened(reference, band, error)
    if len(pieces) > 1:
        pieces = _divided(pieces, capture, reference, route.polarity)
        pieces = sharpened(reference, _BANDS[-1], _ERRORS_LEFT[-2])
    return Line(pieces=tuple(pieces))


def _mixed(pieces: list[Piece], capture: Float32, middle: Float32, side: Float32, polarity: int) -> Float32:
    """The reference's middle with as much of its side as the capture's middle holds, by least squares."""
    normal, moment = np.zeros((2, 2)), np.zeros(2)
    for piece in pieces:
        for low in np.linspace(piece.start, max(piece.start, piece.end - _STRETCH_S), _STRETCHES):
            first = max(0, round(low * TRACK_RATE))
            taken = capture[first : min(len(capture), round(min(low + _STRETCH_S, piece.end) * TRACK_RATE))]
            place = piece.at(np.asarray((first + np.arange(len(taken))) / TRACK_RATE, dtype=np.float64)) * TRACK_RATE
            played = np.stack([_in_band(read_along(x[:, None], place)[:, 0], _BANDS[1]) for x in (middle, side)])
            normal += played @ played.T
            moment += polarity * (played @ _in_band(taken, _BANDS[1]))
    normal += (1e-6 * np.trace(normal) + 1e-20) * np.eye(2)
    gain, share = np.linalg.solve(normal, moment)
    share = float(np.clip(share / gain, -1.5, 1.5)) if gain > 0.0 else 0.0
    return middle if abs(share) < _EQUAL else np.asarray(middle + np.float32(share) * side, dtype=np.float32)


def _divided(pieces: list[Piece], capture: Float32, reference: Float32, polarity: int) -> list[Piece]:
    """Neighbouring pieces cut where changing from one line to the next leaves least, to a millisecond or two.

    The platter does not notice a jump: beyond its end a line runs on as its neighbour does, the shift taken off.
    """
    out = list(pieces)
    for index in range(len(pieces) - 1):
        before, after = out[index], out[index + 1]
        reach = min(_SWITCH_S, 0.45 * (before.end - before.start), 0.45 * (after.end - after.start))
        shift = float(after.at(np.array([after.start]))[0] - before.at(np.array([after.start]))[0])
        count = int(2 * reach * TRACK_RATE)
        first = round((after.start - reach) * TRACK_RATE)
        if first < 0 or first + count > len(capture):
            continue
        grid = np.asarray((first + np.arange(count)) / TRACK_RATE, dtype=np.float64)
        joint = np.where(grid < after.start, before.at(grid), after.at(grid) - shift)
        taken = _in_band(capture[first : first + count], _BANDS[1])
        cross, power = np.zeros((2, count)), np.zeros((2, count))
        for row, line in enumerate((joint, joint + shift)):
            played = read_along(reference[:, None], line * TRACK_RATE)[:, 0] * np.float32(polarity)
            played = _in_band(played, _BANDS[1])
            cross[row] = np.cumsum(taken * played, dtype=np.float64)
            power[row] = np.cumsum(played * played, dtype=np.float64)
        # one gain for both lines: what a cut leaves is the capture's power less that of its projection
        shared = cross[0] + cross[1, -1] - cross[1]
        cost = -(np.maximum(shared, 0.0) ** 2) / (power[0] + power[1, -1] - power[1] + 1e-12)
        cut = float(grid[int(cost.argmin())])
        out[index] = _span(before, before.start, cut, after, -shift)
        out[index + 1] = _span(after, cut, after.end, before, shift)
    return out


def _span(piece: Piece, low: float, high: float, neighbour: Piece, shift: float) -> Piece:
    """The same line with knots from ``low`` to ``high`` [s]; outside its own span its neighbour's, ``shift`` away."""
    count = max(8, int((high - low) / STEP_S) + 1)
    knots = np.asarray(low + STEP_S * np.arange(count), dtype=np.float64)
    own = (knots >= piece.start) & (knots <= piece.end)
    programme = np.where(own, piece.at(knots), neighbour.at(knots) + shift)
    weight = np.where(
        own,
        np.interp(knots, piece.knots, piece.weight),
        np.interp(knots, neighbour.knots, neighbour.weight, left=0.0, right=0.0),
    )
    return Piece(start=low, step=STEP_S, programme=programme, weight=weight)


def _first(path: Path, low: float, high: float, turn: float) -> Piece:
    """The followed path as a smooth piece over capture times ``low`` to ``high`` [s]."""
    weight = np.clip(path.correlation, 0.0, 1.0) ** 4 * np.minimum(path.reference_energy, 1.0)
    base = _base(path.capture, path.programme, weight + 1e-9, turn)
    rest = path.programme - base
    jitter = rest - median_filter(rest, 9, mode="nearest")
    weight = np.where(np.abs(jitter) < 2e-3, weight, 0.0) / (50e-6) ** 2
    stiffness = 1.0 / _FIRST_BEND**2
    fitted = base + smooth(Points.at_knots(rest, weight), stiffness, _PULL * (STEP_S / HOP_S))
    count = max(8, int(np.ceil((high - low) / STEP_S)) + 1)
    knots = low + STEP_S * np.arange(count)
    inner = np.clip(knots, path.capture[0], path.capture[-1])
    slope = np.polyfit(path.capture, fitted, 1)[0]
    programme = np.interp(inner, path.capture, fitted) + slope * (knots - inner)
    return Piece(start=low, step=STEP_S, programme=programme, weight=np.zeros(count))


def _base(capture: Float64, programme: Float64, weight: Float64, turn: float) -> Float64:
    """Straight line and once-a-turn part through ``programme``: what bridges silence, shape of ``capture``.

    The once-a-turn part grows toward the centre and its phase drifts with the lathe's error: its two amplitudes are
    polynomials of the third degree where there are turns enough to tell.
    """
    angle = 2.0 * np.pi * programme / turn
    middle = (capture - capture.mean()) / max(0.5 * np.ptp(capture), 1e-9)
    heard = (weight > 0.01 * weight.max()).mean() * np.ptp(capture) / turn
    swings = [middle**power * part for power in range(_amplitudes(heard)) for part in (np.sin(angle), np.cos(angle))]
    terms = np.stack([np.ones_like(middle), middle, *swings])
    root = np.sqrt(weight / weight.max())
    solution = np.linalg.lstsq((terms * root).T, programme * root, rcond=None)[0]
    return np.asarray(solution @ terms)


def _amplitudes(turns: float) -> int:
    """Terms of each once-a-turn amplitude that so many turns heard can tell."""
    return 0 if turns < 3.0 else int(np.clip(turns // 5.0, 1, 4))


def _unslipped(piece: Piece, lattice: Lattice) -> Piece:
    """The piece without stretches that follow a tone one period off."""
    at, late = lattice.slips(piece.at, start=piece.start, end=piece.end)
    late = np.where(np.abs(late) > _SLIP_S, late, 0.0)
    if not late.any():
        return piece
    slope = (piece.programme[-1] - piece.programme[0]) / (piece.end - piece.start)
    shift = np.interp(piece.knots, at, median_filter(late, 3, mode="nearest"))
    return Piece(start=piece.start, step=piece.step, programme=piece.programme + slope * shift, weight=piece.weight)


def _sharpened(
    piece: Piece,
    capture: Float32,
    reference: Float32,
    band: tuple[float, float],
    *,
    error_left: float,
    polarity: int,
    turn: float,
) -> Piece:
    """One Gauss-Newton pass in ``band`` [Hz]."""
    count = len(piece.programme)
    first = round(piece.start * TRACK_RATE) - _STEP // 2
    length = count * _STEP
    taken = np.zeros(length, dtype=np.float32)
    low, high = max(0, first), min(len(capture), first + length)
    taken[low - first : max(low, high) - first] = capture[low : max(low, high)]
    played = np.empty(length, dtype=np.float32)
    for begin in range(0, length, _BLOCK):
        end = min(begin + _BLOCK, length)
        times = np.asarray((first + np.arange(begin, end)) / TRACK_RATE, dtype=np.float64)
        position = piece.at(times) * TRACK_RATE
        near = max(0, int(position.min()) - 64)
        source = reference[near : max(near, int(position.max()) + 64)]
        played[begin:end] = read_along(source[:, None], position - near)[:, 0]
    played *= np.float32(polarity)
    rows = _Rows(*(x.reshape(count, _STEP) for x in _filtered(taken, played, band)))
    del taken, played
    cross, power, offered, centre = rows.sums()
    width = int(_GAIN_S / STEP_S)
    floor = 1e-6 * power.mean() + 1e-20
    gain = np.clip(uniform_filter1d(cross, width) / (uniform_filter1d(power, width) + floor), 0.0, None)
    noise = _robust(rows.left(gain), width) + floor / _STEP
    steep = offered * gain**2 / _STEP
    error = rows.error(gain, 4.0 * np.sqrt(noise + steep * error_left**2), 4.0 * error_left * gain)
    information = steep * _STEP
    bandwidth = TRACK_RATE / 2.0 / (band[1] - band[0])
    weight = information / (noise * bandwidth)
    weight[information <= 1e-6 * information.mean() + 1e-30] = 0.0
    held = 1.0 / error_left**2 if error_left > _COARSE else 0.0
    if weight.max() < _LEAST_INFORMATION:
        return Piece(start=piece.start, step=STEP_S, programme=piece.programme, weight=np.zeros(count))
    move = np.divide(error, information, out=np.zeros(count), where=weight > 0)
    move = np.clip(move, -0.25 / band[1], 0.25 / band[1])
    # a move that is no small part of a period is known less well than the noise says: sin x against x
    beyond = np.abs(move) * np.minimum(1.0, (_PHASE * band[1] * move) ** 2 / 6.0)
    weight = np.divide(weight, 1.0 + weight * beyond**2)
    # what was measured holds where the waveform was steep: an attack may fill the last millisecond of a row only
    late = centre / (offered + 1e-30)
    base = _base(piece.knots, piece.programme + move, weight / (1.0 + weight * _WANDER**2), turn)
    rest_line = piece.programme - base
    points = Points(value=_beside(rest_line, late) + move, weight=weight, late=late)
    stiffness = likeliest_stiffness(points, np.geomspace(1e11, 1e16, 11))
    fitted = smooth(points, stiffness, _PULL, toward=rest_line, hold=held)
    return Piece(start=piece.start, step=STEP_S, programme=base + fitted, weight=weight, stiffness=stiffness)


_PHASE = 2.0 * np.pi * 0.6
"""Radians per second of move and hertz of the band's upper edge: most of the slope lies a little below it."""
_IN_ROW = ((np.arange(_STEP) - 0.5 * _STEP) / _STEP).astype(np.float32)
"""Where the samples of a row lie beside its knot, in steps."""


def _beside(series: Float64, late: Float64) -> Float64:
    """``series`` at ``late`` steps beside its knots, by cubics."""
    index = np.arange(len(series), dtype=np.float64)
    return np.asarray(CubicSpline(index, series, bc_type="natural")(index + late))


@dataclass(frozen=True, slots=True)
class _Rows:
    """Capture, reference as played and its slope in rows of one knot, (knots, samples); worked out in stretches."""

    taken: Float32
    played: Float32
    slope: Float32

    def _stretches(self) -> list[slice]:
        return [slice(first, first + _ROWS) for first in range(0, len(self.taken), _ROWS)]

    def sums(self) -> Float64:
        """Of each row: capture x reference, reference squared, slope squared, and that times its place, (4, knots)."""
        out = np.empty((4, len(self.taken)))
        for part in self._stretches():
            taken, played, square = self.taken[part], self.played[part], np.square(self.slope[part])
            out[0, part] = (taken * played).sum(axis=1, dtype=np.float64)
            out[1, part] = np.square(played).sum(axis=1, dtype=np.float64)
            out[2, part] = square.sum(axis=1, dtype=np.float64)
            out[3, part] = square @ _IN_ROW
        return out

    def _rest(self, part: slice, gain: Float64) -> Float32:
        return np.asarray(self.taken[part] - gain[part, None].astype(np.float32) * self.played[part])

    def left(self, gain: Float64) -> Float64:
        """Mean power a sample of what the reference leaves of the capture, (knots,)."""
        parts = [np.square(self._rest(part, gain)).mean(axis=1, dtype=np.float64) for part in self._stretches()]
        return np.concatenate(parts)

    def error(self, gain: Float64, noise: Float64, slip: Float64) -> Float64:
        """Slope of the misfit in each row, (knots,); what is left is held to ``noise`` + ``slip`` x slope."""
        out = np.empty(len(gain))
        for part in self._stretches():
            slope = self.slope[part]
            limit = np.abs(slope) * slip[part, None].astype(np.float32) + noise[part, None].astype(np.float32)
            rest = self._rest(part, gain)
            out[part] = (np.clip(rest, -limit, limit, out=rest) * slope).sum(axis=1, dtype=np.float64)
        return np.asarray(out * gain)


def _robust(power: Float64, width: int) -> Float64:
    """Noise power about each row, from the lower half of the rows' powers (ticks do not count)."""
    coarse = power[: len(power) // 10 * 10].reshape(-1, 10)
    middle = np.median(coarse, axis=1) if len(coarse) else np.array([np.median(power)])
    middle = uniform_filter1d(median_filter(middle, max(1, width // 10), mode="nearest"), max(1, width // 10))
    return np.asarray(np.interp(np.arange(len(power)), np.arange(len(middle)) * 10 + 4.5, middle))


def _in_band(signal: Float32, band: tuple[float, float]) -> Float32:
    """``signal`` in ``band`` [Hz] with soft edges, zero phase."""
    size = fft.next_fast_len(len(signal) + 2048, real=True)
    soft = _soft(_bins(size), band).astype(np.float32)
    return np.asarray(fft.irfft(fft.rfft(signal, n=size, workers=1) * soft, n=size, workers=1)[: len(signal)])


def _bins(size: int) -> Float64:
    """Frequencies of a real transform of ``size`` samples [Hz]."""
    return np.asarray(np.arange(size // 2 + 1) * (TRACK_RATE / size), dtype=np.float64)


def _soft(frequency: Float64, band: tuple[float, float]) -> Float64:
    """Gain of a band with soft edges."""
    low, high = band
    rise, fall = np.tanh((frequency - low) / (0.15 * low)), np.tanh((frequency - high) / (0.06 * high))
    return np.asarray(0.5 * (rise - fall))


def _filtered(taken: Float32, played: Float32, band: tuple[float, float]) -> tuple[Float32, Float32, Float32]:
    """Both signals in ``band``, whitened by what they do not share, and the slope of ``played`` [1/s]; zero phase.

    Where the capture holds much that the reference as played does not (rumble, hiss, a line not yet sharp), it counts
    for less.
    """
    size = fft.next_fast_len(len(taken) + 2048, real=True)
    a, b = fft.rfft(taken, n=size, workers=1), fft.rfft(played, n=size, workers=1)
    bins = len(a)
    first = np.ceil(_NOISE_EDGES * size / TRACK_RATE).astype(np.int64)
    own, other = (np.add.reduceat(x.real**2 + x.imag**2, first, dtype=np.float64) for x in (a, b))
    shared = np.abs(np.add.reduceat(a * b.conj(), first)) ** 2
    count = np.diff(np.append(first, bins))
    unshared = np.maximum(own - shared / np.maximum(other, 1e-30), 1e-4 * own) / count
    middle = np.append(_NOISE_EDGES[:-1] * 1.06, _NOISE_EDGES[-1])
    level = np.log(unshared + 1e-9 * unshared.max() + 1e-30)
    level -= level.mean()
    for begin in range(0, bins, _BLOCK):
        part = slice(begin, min(begin + _BLOCK, bins))
        frequency = np.asarray(np.arange(part.start, part.stop) * (TRACK_RATE / size), dtype=np.float64)
        gain = (_soft(frequency, band) * np.exp(-0.5 * np.interp(frequency, middle, level))).astype(np.float32)
        a[part] *= gain
        b[part] *= gain
    out = [fft.irfft(a, n=size, workers=1)[: len(taken)]]
    del a
    out.append(fft.irfft(b, n=size, workers=1)[: len(taken)])
    for begin in range(0, bins, _BLOCK):
        part = slice(begin, min(begin + _BLOCK, bins))
        b[part] *= (2j * np.pi * (TRACK_RATE / size) * np.arange(part.start, part.stop)).astype(np.complex64)
    out.append(fft.irfft(b, n=size, workers=1)[: len(taken)])
    return out[0], out[1], out[2]
