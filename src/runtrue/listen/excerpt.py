"""A few seconds of a judged recording again: what was captured, the reference as played there, and the difference.

The same engine as for a whole side, on a short piece: the line is found and sharpened anew between the two excerpts, so
nothing but the rough place has to be known.
"""

from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from runtrue.listen.difference import Differ
from runtrue.listen.refine import refine
from runtrue.listen.route import find_route
from runtrue.listen.store import RATE, WorkingCopy, fill
from runtrue.signal.stft import synthesise
from runtrue.types import silent

Float32 = NDArray[np.float32]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Excerpt:
    """Three sounds of equal length (n, 2) at 48 kHz, on the capture's own scale; ``programme`` (n,) [s] of each sample
    from the start of the reference's excerpt."""

    captured: Float32
    played: Float32
    difference: Float32
    programme: NDArray[np.float64]


def excerpt(
    capture: Float32, reference: Float32, *, rates: tuple[int, int], turn_period: float, workspace: Path
) -> Excerpt | None:
    """Lay an excerpt of the reference under one of the capture; None where the two do not match.

    ``capture`` and ``reference`` have shape (n, 1 or 2), float32, at ``rates`` [Hz]; the reference should reach a
    little further at both ends. The channels lie as on the disc.
    """
    taken = fill(WorkingCopy(workspace / "capture.f32", rate=rates[0]), [capture])
    offered = fill(WorkingCopy(workspace / "reference.f32", rate=rates[1], with_side=True), [reference])
    try:
        route = find_route(taken.track, offered.track, turn_period=turn_period, progress=silent)
        if not route.pieces:
            return None
        line = refine(route, taken.track, offered.track, offered.side, turn_period=turn_period)
        duration = offered.frames / RATE
        differ = Differ(line, taken, offered, duration=duration, polarity=route.polarity)
        parts = [
            (_sound(s.captured), _sound(s.played), _sound(s.difference), s.programme) for s in differ.sections()
        ]  # fmt: skip
    finally:
        taken.close()
        offered.close()
    if not parts:
        return None
    captured, played, difference, programme = (np.concatenate(each) for each in zip(*parts, strict=True))
    return Excerpt(captured=captured, played=played, difference=difference, programme=programme)


def _sound(spectra: NDArray[np.complex64]) -> Float32:
    """Stereo sound (n, 2) of spectra (2, frames, bins)."""
    return np.stack([synthesise(channel) for channel in spectra], axis=1)
