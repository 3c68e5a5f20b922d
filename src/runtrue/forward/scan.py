r"""A scan of the middle of a record or stamper, by exact geometry: hole, label, closed groove, noise, dust, glare.

Every pixel takes its brightness from its distance to the circles, blurred by a Gaussian of ``blur`` pixels: an edge at
distance d is (1 + erf(d / (sqrt(2) blur))) / 2, a line a Gaussian. Rows go down and columns to the right; (x, y) are up
and to the left of the picture's middle.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import erf


@dataclass(frozen=True, slots=True, kw_only=True)
class Scan:
    """What is scanned: lengths [m], ``hole_at`` and ``groove_at`` (x, y) from the picture's middle, greys 0 to 255.

    ``groove_from`` and ``groove_to`` [deg] bound the arc of the groove that can be seen.
    """

    scale: float
    size: int
    hole: float = 7.26e-3
    hole_at: tuple[float, float] = (0.0, 0.0)
    groove: float = 106.4e-3
    groove_at: tuple[float, float] = (0.0, 0.0)
    groove_from: float = 0.0
    groove_to: float = 360.0
    label: float = 100e-3
    land_grey: float = 45.0
    label_grey: float = 130.0
    hole_grey: float = 235.0
    line_grey: float = 60.0
    line_width: float = 40e-6
    blur: float = 0.7
    noise: float = 4.0
    dust: int = 300
    glare: float = 0.0


def render(scan: Scan, rng: np.random.Generator) -> NDArray[np.uint8]:
    """Return the picture (size, size), 8 bit grey."""
    made = np.empty((scan.size, scan.size), dtype=np.uint8)
    specks = _specks(scan, rng)
    for first in range(0, scan.size, 256):
        last = min(first + 256, scan.size)
        grey = _slab(scan, first, last)
        for row, column, half, value in specks:
            if row + half >= first and row - half < last:
                grey[max(row - half - first, 0) : row + half + 1 - first, max(column - half, 0) : column + half + 1] = (
                    value
                )
        if scan.noise > 0.0:
            grey += scan.noise * rng.standard_normal(grey.shape, dtype=np.float32)
        made[first:last] = np.clip(np.rint(grey), 0, 255).astype(np.uint8)
    return made


def _slab(scan: Scan, first: int, last: int) -> NDArray[np.float32]:
    middle = (scan.size - 1) / 2.0
    x = (middle - np.arange(first, last, dtype=np.float32))[:, None] * np.float32(scan.scale)
    y = (middle - np.arange(scan.size, dtype=np.float32))[None, :] * np.float32(scan.scale)
    soft = scan.blur * scan.scale
    from_hole = np.hypot(x - np.float32(scan.hole_at[0]), y - np.float32(scan.hole_at[1]))
    grey = np.where(from_hole < scan.label / 2.0, np.float32(scan.label_grey), np.float32(scan.land_grey))
    near = np.abs(from_hole - scan.hole / 2.0) < 6.0 * soft
    grey[from_hole < scan.hole / 2.0] = scan.hole_grey
    inside = 0.5 * (1.0 + erf((scan.hole / 2.0 - from_hole[near]) / (np.sqrt(2.0) * soft)))
    grey[near] = scan.label_grey + (scan.hole_grey - scan.label_grey) * inside
    from_groove = np.hypot(x - np.float32(scan.groove_at[0]), y - np.float32(scan.groove_at[1])) - scan.groove / 2.0
    wide = np.hypot(soft, scan.line_width / 2.0)
    seen = np.abs(from_groove) < 6.0 * wide
    if scan.groove_to - scan.groove_from < 360.0:
        angle = np.degrees(np.arctan2(y + 0.0 * x, x + 0.0 * y)) % 360.0
        seen &= (angle - scan.groove_from) % 360.0 <= scan.groove_to - scan.groove_from
    grey[seen] += scan.line_grey * np.exp(-0.5 * (from_groove[seen] / wide) ** 2)
    if scan.glare > 0.0:
        width = np.sqrt(scan.glare) * scan.size / 2.0
        row = np.arange(first, last)[:, None] - 0.78 * scan.size
        column = np.arange(scan.size)[None, :] - 0.7 * scan.size
        grey[(np.abs(row) < width) & (np.abs(column) < width)] = 255.0
    return grey.astype(np.float32)


def _specks(scan: Scan, rng: np.random.Generator) -> list[tuple[int, int, int, float]]:
    """Row, column, half width [px] and grey of the dust."""
    return [
        (
            int(rng.integers(scan.size)),
            int(rng.integers(scan.size)),
            int(rng.integers(1, 7)),
            float(rng.uniform(150, 255)),
        )
        for _ in range(scan.dust)
    ]
