"""How many more readings would let the centre be decided, if they scatter as these do and the offset stays."""

from collections.abc import Callable
from math import inf

from runtrue.stamper.centre import Centre
from runtrue.stats.plane import plane_vector
from runtrue.types import PlaneVector

MOST = 500
"""More readings than nobody takes."""


def expected(centre: Centre, more: int) -> PlaneVector:
    """Offset as it would be known after ``more`` readings spread like these: C n / (n + more), freedom + more."""
    fitted = centre.fitted
    kept = centre.readings.count - len(centre.outliers)
    share = kept / (kept + more)
    xx, xy, yy = (share * v for v in fitted.block("x", "y"))
    dof = fitted.dof + more
    if centre.axis is not None:
        bx, by, bb = centre.axis.covariance
        ours, its = xx + yy, bx + bb
        parts = ours**2 / dof + its**2 / centre.axis.dof
        dof = (ours + its) ** 2 / parts if parts > 0.0 else inf
        xx, xy, yy = xx + bx, xy + by, yy + bb
    return plane_vector(centre.offset.x, centre.offset.y, (xx, xy, yy), dof=None if dof == inf else dof)


def readings_to_decide(centre: Centre, decides: Callable[[PlaneVector], bool]) -> int | None:
    """Fewest further readings, in steps of a tenth, after which ``decides`` says yes; None where ``MOST`` do not."""
    more = 1
    tried = 0
    while more <= MOST:
        if decides(expected(centre, more)):
            while more - tried > 1:
                middle = (more + tried) // 2
                if decides(expected(centre, middle)):
                    more = middle
                else:
                    tried = middle
            return more
        tried, more = more, more * 2
    return None
