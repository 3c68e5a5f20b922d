r"""A scan or photograph of a record or stamper, by exact geometry: hole, label, closed groove, rim, and what spoils it.

Every pixel takes its brightness from its distance to the circles, blurred by a Gaussian of ``blur`` pixels: an edge at
distance d is (1 + erf(d / (sqrt(2) blur))) / 2, a line a Gaussian. Rows go down and columns to the right; (x, y) are up
and to the left of the picture's middle. A pixel at p (scale times its place) shows the place q of the record:

.. math:: q = (I + S)^{-1} p' , \quad p'_x = p_x - \sum_j a_j \sin(2 \pi p_x / \lambda_j + \varphi_j), \quad
          S = \begin{pmatrix} k & s \\ s & -k \end{pmatrix}

with k the stretch and s the skew of the scanner and the sines its carriage's uneven travel. A camera at height D over
the middle, whose picture leans by tau toward u, sees q at p_u = q_u cos(tau) D / (D + q_u sin(tau)) and
p_v = q_v D / (D + q_u sin(tau)).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import erf

_Grey = NDArray[np.float32]
Place = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Scan:
    """What is scanned: lengths [m], places (x, y) from the picture's middle, greys 0 to 255.

    ``groove_from`` and ``groove_to`` [deg] bound the arc of the groove that can be seen; ``rim`` 0 is out of the
    picture; ``hole_oval`` is an amplitude at two a turn; ``burr`` (height [m], place [deg]) stands into the hole.
    ``turned`` [deg] is how far the record lies turned on the glass, against the clock; ``travel`` has amplitude [m],
    wavelength [m] and phase [rad] of each sine; ``camera`` height [m], 0 for a scanner, ``tilt`` (angle, toward) [deg];
    ``print_marks`` dark letters lie on the label.
    """

    scale: float
    size: int
    hole: float = 7.26e-3
    hole_at: Place = (0.0, 0.0)
    hole_oval: float = 0.0
    burr: tuple[float, float] = (0.0, 0.0)
    groove: float = 106.4e-3
    groove_at: Place = (0.0, 0.0)
    groove_oval: float = 0.0
    groove_from: float = 0.0
    groove_to: float = 360.0
    label: float = 100e-3
    label_at: Place | None = None
    rim: float = 0.0
    rim_at: Place = (0.0, 0.0)
    rim_oval: float = 0.0
    turned: float = 0.0
    stretch: float = 0.0
    skew: float = 0.0
    travel: tuple[tuple[float, float, float], ...] = ()
    camera: float = 0.0
    tilt: tuple[float, float] = (0.0, 0.0)
    land_grey: float = 45.0
    label_grey: float = 130.0
    hole_grey: float = 235.0
    lid_grey: float = 200.0
    line_grey: float = 60.0
    line_width: float = 40e-6
    blur: float = 0.7
    noise: float = 4.0
    dust: int = 300
    glare: float = 0.0
    print_marks: int = 0


def render(scan: Scan, rng: np.random.Generator) -> NDArray[np.uint8]:
    """Return the picture (size, size), 8 bit grey."""
    made = np.empty((scan.size, scan.size), dtype=np.uint8)
    specks = _specks(scan, rng)
    letters = _letters(scan, rng)
    for first in range(0, scan.size, 256):
        last = min(first + 256, scan.size)
        grey = _slab(scan, first, last, letters)
        for row, column, half, value in specks:
            if row + half >= first and row - half < last:
                grey[max(row - half - first, 0) : row + half + 1 - first, max(column - half, 0) : column + half + 1] = (
                    value
                )
        if scan.noise > 0.0:
            grey += scan.noise * rng.standard_normal(grey.shape, dtype=np.float32)
        made[first:last] = np.clip(np.rint(grey), 0, 255).astype(np.uint8)
    return made


def _seen(scan: Scan, first: int, last: int) -> tuple[_Grey, _Grey]:
    """Places (x, y) of the record, turned back, that the pixels of some rows show [m]."""
    middle = (scan.size - 1) / 2.0
    x = ((middle - np.arange(first, last, dtype=np.float64)) * scan.scale)[:, None]
    y = ((middle - np.arange(scan.size, dtype=np.float64)) * scan.scale)[None, :]
    if scan.camera > 0.0:
        x, y = _upright(scan, x, y)
    for amplitude, wavelength, phase in scan.travel:
        x = x - amplitude * np.sin(2.0 * np.pi * x / wavelength + phase)
    if scan.stretch or scan.skew:
        k, s = scan.stretch, scan.skew
        x, y = ((1.0 - k) * x - s * y) / (1.0 - k * k - s * s), ((1.0 + k) * y - s * x) / (1.0 - k * k - s * s)
    if scan.turned:
        c, s = np.cos(np.radians(scan.turned)), np.sin(np.radians(scan.turned))
        x, y = c * x + s * y, c * y - s * x
    return np.asarray(x, dtype=np.float32), np.asarray(y, dtype=np.float32)


def _upright(
    scan: Scan, x: NDArray[np.float64], y: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Undo the camera's view."""
    lean, toward = np.radians(scan.tilt)
    c, s = np.cos(toward), np.sin(toward)
    u, v = c * x + s * y, c * y - s * x
    along = u * scan.camera / (scan.camera * np.cos(lean) - u * np.sin(lean))
    across = v * (scan.camera + along * np.sin(lean)) / scan.camera
    return c * along - s * across, s * along + c * across


def _slab(scan: Scan, first: int, last: int, letters: NDArray[np.float32]) -> _Grey:
    x, y = _seen(scan, first, last)
    soft = scan.blur * scan.scale
    label_at = scan.hole_at if scan.label_at is None else scan.label_at
    grey = np.full(np.broadcast_shapes(x.shape, y.shape), np.float32(scan.land_grey))
    _fill(grey, _beyond(x, y, label_at, scan.label, 0.0), scan.label_grey, soft)
    for at_x, at_y, half in letters:
        grey[(np.abs(x - at_x) < half) & (np.abs(y - at_y) < half)] = 40.0
    from_hole = _beyond(x, y, scan.hole_at, scan.hole, scan.hole_oval)
    if scan.burr[0] > 0.0:
        off = (np.degrees(np.arctan2(y - scan.hole_at[1], x - scan.hole_at[0])) - scan.burr[1] + 180.0) % 360.0 - 180.0
        from_hole = from_hole + np.float32(scan.burr[0]) * np.exp(-0.5 * (off / 4.0) ** 2).astype(np.float32)
    _fill(grey, from_hole, scan.hole_grey, soft)
    from_groove = _beyond(x, y, scan.groove_at, scan.groove, scan.groove_oval)
    wide = np.hypot(soft, scan.line_width / 2.0)
    seen = np.abs(from_groove) < 6.0 * wide
    if scan.groove_to - scan.groove_from < 360.0:
        angle = np.degrees(np.arctan2(y + 0.0 * x, x + 0.0 * y)) % 360.0
        seen &= (angle - scan.groove_from) % 360.0 <= scan.groove_to - scan.groove_from
    grey[seen] += scan.line_grey * np.exp(-0.5 * (from_groove[seen] / wide) ** 2)
    if scan.rim > 0.0:
        _fill(grey, -_beyond(x, y, scan.rim_at, scan.rim, scan.rim_oval), scan.lid_grey, soft)
    if scan.glare > 0.0:
        width = np.sqrt(scan.glare) * scan.size / 2.0
        row = np.arange(first, last)[:, None] - 0.78 * scan.size
        column = np.arange(scan.size)[None, :] - 0.7 * scan.size
        grey[(np.abs(row) < width) & (np.abs(column) < width)] = 255.0
    return grey


def _beyond(x: _Grey, y: _Grey, at: Place, diameter: float, oval: float) -> _Grey:
    """How far a place lies outside a circle [m]; ``oval`` is the amplitude at two a turn, crest at 0."""
    dx, dy = x - np.float32(at[0]), y - np.float32(at[1])
    away = np.hypot(dx, dy)
    if oval:
        return np.asarray(away - diameter / 2.0 - oval * np.cos(2.0 * np.arctan2(dy, dx)), dtype=np.float32)
    return np.asarray(away - np.float32(diameter / 2.0))


def _fill(grey: _Grey, outside: _Grey, value: float, soft: float) -> None:
    """Paint the inside of an edge, softened over ``soft`` [m]."""
    grey[outside < -6.0 * soft] = value
    near = np.abs(outside) <= 6.0 * soft
    share = 0.5 * (1.0 - erf(outside[near] / (np.sqrt(2.0) * soft)))
    grey[near] += share * (value - grey[near])


def _letters(scan: Scan, rng: np.random.Generator) -> NDArray[np.float32]:
    """Places (x, y) and half widths [m] of dark marks on the label, some right at the hole and at the label's edge."""
    radius = np.sqrt(rng.uniform((0.5 * scan.hole) ** 2, max(0.5 * scan.label, 0.5 * scan.hole) ** 2, scan.print_marks))
    angle = rng.uniform(0.0, 2.0 * np.pi, scan.print_marks)
    half = rng.uniform(0.2e-3, 0.8e-3, scan.print_marks)
    return np.stack([radius * np.cos(angle), radius * np.sin(angle), half], axis=1).astype(np.float32)


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
