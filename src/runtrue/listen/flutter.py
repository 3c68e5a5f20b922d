"""Flutter: how unevenly the time line runs, weighted by how well that is heard.

The slope of the line at its knots, weighted by the curve of the standard, each piece less a second at its ends; the
reading is two-sigma over all that is left. The line knows fast fluctuations only as far as the music tells its delay
(``bandwidth``): what the player does above that is not in the reading.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from functools import partial

import numpy as np
from numpy.typing import ArrayLike, NDArray

from runtrue.listen.line import Line, Piece
from runtrue.signal.weighting import flutter_weighting, two_sigma, weigh
from runtrue.types import About, Measurement

Float64 = NDArray[np.float64]

QUANTITIES = ("flutter_weighted", "flutter_without_once_a_turn", "flutter_bandwidth")
_TRIM_S = 1.0
"""Left out at ends and jumps [s]."""
_LEAST_S = 5.0
"""Shortest reading of the standard [s]."""
_LEAST_BANDWIDTH = 4.0
"""The curve is highest at 4 Hz: a line that does not follow that far reads another thing [Hz]."""
_MIRROR_S = 4.0
_OWN_U95 = 0.01
"""Of the whole reading: what the estimator itself may be off by, from renders (docs/accuracy.md)."""
_FREQUENCY: Float64 = np.arange(0.1, 50.0, 0.05)
_WEIGHTS = 24


@dataclass(frozen=True, slots=True, kw_only=True)
class _Part:
    """Weighted deviation of one piece at even steps, its programme time, and the variance of its error, all (n,)."""

    deviation: Float64
    time: Float64
    variance: Float64
    bandwidth: Float64


def flutter_of(line: Line, *, duration: float, turn_period: float) -> list[Measurement]:
    """Weighted flutter, the same without its once-a-turn part, and the bandwidth it holds [Hz].

    A two-sigma reading over the programme (0 to ``duration`` [s]) that the line reaches; ``u95`` is the rms error that
    the line's own uncertainty leaves in the weighted deviation. Without the once-a-turn part: cosine and sine of the
    programme time over ``turn_period``, each growing or falling along the side, are taken off first.
    """
    parts = [part for piece in line.pieces if (part := _part(piece, duration)) is not None]
    seconds = sum(len(part.time) for part in parts) * (line.pieces[0].step if line.pieces else 0.0)
    if seconds < _LEAST_S:
        return _none(f"less than {_LEAST_S:.0f} s of even playing lie between the jumps")
    bandwidth = float(np.median(_joined(part.bandwidth for part in parts)))
    if bandwidth < _LEAST_BANDWIDTH:
        return _none(
            f"the music tells the line's delay only up to {bandwidth:.1f} Hz; {_LEAST_BANDWIDTH:.0f} are needed"
        )
    deviation = _joined(part.deviation for part in parts)
    error = float(np.sqrt(_joined(part.variance for part in parts).mean()))
    reading = two_sigma(deviation)
    u95 = float(np.hypot(error, _OWN_U95 * reading))
    rest = _without_turn(deviation, _joined(part.time for part in parts), turn_period)
    return [
        Measurement(quantity="flutter_weighted", value=reading, u95=u95, about=About.RIG),
        Measurement(quantity="flutter_without_once_a_turn", value=two_sigma(rest), u95=u95, about=About.RIG),
        Measurement(quantity="flutter_bandwidth", value=bandwidth, about=About.RIG),
    ]


def _none(reason: str) -> list[Measurement]:
    return [Measurement(quantity=name, value=None, about=About.RIG, reason=reason) for name in QUANTITIES]


def _joined(parts: Iterable[Float64]) -> Float64:
    return np.concatenate(list(parts))


def _part(piece: Piece, duration: float) -> _Part | None:
    """What one piece adds; None for one too short."""
    inside = np.flatnonzero((piece.programme > 0.0) & (piece.programme < duration))
    trim = round(_TRIM_S / piece.step)
    if len(inside) < 2 * trim + 2 or piece.stiffness <= 0.0:
        return None
    reached = slice(int(inside[0]), int(inside[-1]) + 1)
    speed = np.diff(piece.programme[reached]) / piece.step
    weighted = weigh(speed - speed.mean(), partial(_curve, piece.step), rate=1.0 / piece.step, mirror=_MIRROR_S)
    kept = slice(trim, len(weighted) - trim)
    variance, bandwidth = _known(piece.weight[reached][:-1][kept], piece.stiffness, piece.step)
    return _Part(
        deviation=weighted[kept],
        time=piece.programme[reached][:-1][kept],
        # what is not heard is bridged: at worst the whole deviation is missing there
        variance=np.minimum(variance, float(weighted[kept].var())),
        bandwidth=bandwidth,
    )


def _curve(step: float, frequency: ArrayLike) -> Float64:
    """The flutter curve for a slope that is a difference over ``step`` [s]."""
    f = np.asarray(frequency, dtype=np.float64)
    return np.asarray(flutter_weighting(f) - 20.0 * np.log10(np.sinc(f * step)))


def _known(weight: Float64, stiffness: float, step: float) -> tuple[Float64, Float64]:
    """Variance of the weighted deviation's error and the frequency [Hz] down to 0.7 of which is followed, at each knot.

    A point of variance 1 / w in a curve held to second differences of variance 1 / s passes H = w / (w + s (2 - 2 cos
    2 pi f step)^2) of what moves at f, and leaves an error of power density step H / w.
    """
    grid = np.geomspace(max(float(weight.max()) * 1e-9, 1e-3), float(weight.max()) + 1e-3, _WEIGHTS)
    bent = stiffness * (2.0 - 2.0 * np.cos(2.0 * np.pi * _FREQUENCY * step)) ** 2
    passed = grid[:, None] / (grid[:, None] + bent)
    heard = (2.0 * np.pi * _FREQUENCY * 10.0 ** (flutter_weighting(_FREQUENCY) / 20.0)) ** 2
    variance = 2.0 * step * float(_FREQUENCY[1] - _FREQUENCY[0]) * (heard * passed / grid[:, None]).sum(axis=1)
    bandwidth = _FREQUENCY[np.maximum((passed > np.sqrt(0.5)).sum(axis=1) - 1, 0)]
    at = np.log(np.maximum(weight, grid[0]))
    return np.exp(np.interp(at, np.log(grid), np.log(variance))), np.interp(at, np.log(grid), bandwidth)


def _without_turn(deviation: Float64, time: Float64, turn_period: float) -> Float64:
    """The deviation less its once-a-turn part."""
    angle = 2.0 * np.pi * time / turn_period
    along = (time - time.mean()) / max(float(np.ptp(time)), 1e-9)
    terms = np.stack([part * course for part in (np.cos(angle), np.sin(angle)) for course in (1.0, along)], axis=1)
    return np.asarray(deviation - terms @ np.linalg.lstsq(terms, deviation, rcond=None)[0])
