"""The reference as it is in the groove: traced by the ball whose size the difference teaches."""

from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from runtrue.disc.frame import Frame
from runtrue.listen.difference import SECTION_S, Differ
from runtrue.listen.line import Line
from runtrue.listen.store import RATE, WorkingCopy
from runtrue.listen.tracing import Ball

Float32 = NDArray[np.float32]

_LOOKED_AT = 7
"""Sections along the side by which the ball is learnt."""
_MS = RATE // 1000
_BLOCK = _MS << 14
_WRONG = ((0.0, 0.4, 0.7, 0.9), (0.01, 0.02, 0.1, 1.0))
"""Bend of the wall, and the share of the ball's part that may be wrong there (seen in renders)."""
_MARGIN = 4096


def ball_of(
    line: Line,
    capture: WorkingCopy,
    reference: WorkingCopy,
    frame: Frame,
    *,
    duration: float,
    polarity: int,
    first: tuple[float, float] | None = None,
) -> Ball:
    """The ball's size from a few sections along the side, starting from ``first`` where it is known."""
    ball = Ball(frame, top=0.5 * min(capture.rate, reference.rate), size=first)
    differ = Differ(line, capture, reference, duration=duration, polarity=polarity, ball=ball)
    for _ in differ.sections(every=max(1, round(duration / SECTION_S / _LOOKED_AT))):
        if ball.size == (0.0, 0.0):
            break
    return ball


def in_the_groove(reference: WorkingCopy, ball: Ball, path: Path) -> WorkingCopy:
    """A working copy of the reference as ``ball`` traces it."""
    copy = WorkingCopy(path, rate=RATE, with_side=True)
    try:
        doubt = []
        for start in range(0, reference.frames, _BLOCK):
            count = min(_BLOCK, reference.frames - start)
            wide = reference.read(start - _MARGIN, count + 2 * _MARGIN)
            copy.push(ball.traced(wide, (start - _MARGIN) / RATE)[_MARGIN : _MARGIN + count])
            if len(ball.added):
                doubt.append(_doubt(ball.added[_MARGIN : _MARGIN + count], ball.bend[_MARGIN : _MARGIN + count]))
            else:
                doubt.append(np.zeros((-(-count // _MS), 2), dtype=np.float32))
        copy.finish()
        copy.doubt = np.concatenate(doubt)
    except BaseException:
        copy.close()
        raise
    copy.rate = reference.rate
    return copy


def _doubt(added: Float32, bend: Float32) -> Float32:
    """What may be wrong of the ball's part, as rms of the steps from sample to sample in each millisecond, (n, 2).

    A hundredth while the wall bends gently; a good part where it bends as sharply as the ball, which then touches it
    twice, and everything depends on where it lets go.
    """
    steps = np.diff(added, axis=0, prepend=added[:1])
    count = -(-len(steps) // _MS) * _MS
    cells, bent = (np.pad(x, ((0, count - len(x)), (0, 0))).reshape(-1, _MS, 2) for x in (steps, bend))
    share = np.interp(bent.max(axis=1), *_WRONG)
    return np.asarray(share * np.sqrt((cells**2).mean(axis=1)), dtype=np.float32)
