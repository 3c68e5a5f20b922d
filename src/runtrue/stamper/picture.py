"""The centre from a picture: hole and finishing groove, where they lie from each other, and what spoils that.

The hole is sought by votes of the edges of a reduced picture, then its edge along rays; the groove by the circle along
which a thin line is seen best, then the line along rays. Both are fitted as circles through the points that belong.
What the pixels say is the method's doubt; how evenly the carriage travels is not in the pixels and is stated beside it.
"""

from dataclasses import dataclass
from math import hypot, pi

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter, maximum_filter, uniform_filter1d

from runtrue.stamper.edges import STEP, Picture, Ring, line_peaks, line_response, rays, ring_through, step_edges
from runtrue.stats.plane import plane_vector
from runtrue.types import PlaneVector
from runtrue.units import UM

_Array = NDArray[np.float64]

FIELD_U95 = 30.0 * UM
"""U95 of the scanner's travel where no measured ring has checked it [m]. Common practice."""
COARSE_HOLE = 16.0
"""Radius of the hole in the reduced picture [px]."""
LEAST_VOTES = 0.45
"""Part of the hole's rim that must vote for it."""
MOST_OFFSET = 0.6e-3
"""Offset within which the groove is sought about the hole [m]."""
HOLE_RAYS = 240
GROOVE_RAYS = 720


@dataclass(frozen=True, slots=True, kw_only=True)
class Refused:
    """The picture does not give a centre, and why."""

    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PictureCentre:
    """Hole and groove [px], the scale [m/px], and the offset from groove centre to hole centre [m].

    ``method`` carries what the pixels say, ``field`` the scanner's travel too; both are the same vector.
    """

    hole: Ring
    groove: Ring
    scale: float
    method: PlaneVector
    field: PlaneVector
    field_u95: float
    cautions: tuple[str, ...]


def measure(
    picture: Picture,
    *,
    scale: float,
    hole_diameter: float,
    groove_diameter: float,
    groove_slack: float = 1.2e-3,
    known_hole: float | None = None,
    field_u95: float | None = None,
) -> PictureCentre | Refused:
    """Measure one picture.

    Parameters
    ----------
    picture : array (rows, columns)
        8 or 16 bit grey
    scale : float
        [m/px]
    hole_diameter, groove_diameter : float
        Expected diameters [m]; the hole is sought within 4 %, the groove within ``groove_slack`` of its radius
    known_hole : float, optional
        Measured diameter of the hole [m]; the scale is then taken from it
    field_u95 : float, optional
        U95 of the scanner's travel from a check with a measured ring [m]; 30 um if not given
    """
    start = find_hole(picture, hole_diameter / 2.0 / scale)
    if isinstance(start, Refused):
        return start
    hole = _hole(picture, start, hole_diameter / 2.0 / scale)
    if hole is None or hole.arc < 0.5:
        seen = 0.0 if hole is None else hole.arc
        return Refused(reason=f"the edge of the hole is seen over {360 * seen:.0f} deg only: clean it, scan again")
    if known_hole is not None:
        scale = known_hole / 2.0 / hole.circle.radius
    middle = (hole.circle.x, hole.circle.y)
    groove = _groove(picture, middle, groove_diameter / 2.0 / scale, groove_slack / scale, MOST_OFFSET / scale)
    if groove is None:
        return Refused(reason="no closed groove is seen where the format has it: turn the light, or give its diameter")
    stated = FIELD_U95 if field_u95 is None else field_u95
    method, field = _offset(hole, groove, scale, stated)
    return PictureCentre(
        hole=hole, groove=groove, scale=scale, method=method, field=field, field_u95=stated,
        cautions=tuple(_cautions(hole, groove, scale, field_u95)),
    )  # fmt: skip


def reduced(picture: Picture, factor: int) -> _Array:
    """Mean of blocks of ``factor`` by ``factor``; what is left over at the ends is dropped."""
    rows, columns = picture.shape[0] // factor, picture.shape[1] // factor
    made = np.empty((rows, columns), dtype=np.float64)
    slab = max(1, 4_000_000 // (picture.shape[1] * factor))
    for first in range(0, rows, slab):
        last = min(first + slab, rows)
        part = picture[first * factor : last * factor, : columns * factor].reshape(last - first, factor, -1)
        summed = part.sum(axis=1, dtype=np.uint32)
        made[first:last] = summed.reshape(last - first, columns, factor).sum(axis=2) / factor**2
    return made


def find_hole(picture: Picture, radius: float) -> tuple[float, float] | Refused:
    """Centre (x, y) of the hole to a few pixels: edges vote at the radius along and against their slope."""
    if radius < 6.0:
        return Refused(reason=f"the hole would be {2 * radius:.0f} px wide: scan finer, or check the scale")
    factor = max(1, round(radius / COARSE_HOLE))
    small = gaussian_filter(reduced(picture, factor), 1.0)
    if min(small.shape) < 2.5 * radius / factor:
        return Refused(reason="the picture is smaller than the hole should be: check the scale")
    dx, dy = (np.asarray(slope, dtype=np.float64) for slope in np.gradient(small))
    steep = np.asarray(np.hypot(dx, dy))
    span = float(np.percentile(small, 99.5) - np.percentile(small, 0.5))
    if span < 2.0:
        return Refused(reason="the picture is of one brightness: nothing is seen on it")
    at = np.nonzero(steep > 0.06 * span)
    if at[0].size == 0 or at[0].size > 0.5 * small.size:
        return Refused(reason="no edge of a hole is seen: check the light and the scale")
    votes = np.zeros(small.shape)
    unit_row, unit_column = dx[at] / steep[at], dy[at] / steep[at]
    for way in (1.0, -1.0):
        cast = np.zeros(small.shape)
        for share in (0.97, 1.0, 1.03):
            row = np.rint(at[0] + way * share * radius / factor * unit_row).astype(np.int64)
            column = np.rint(at[1] + way * share * radius / factor * unit_column).astype(np.int64)
            good = (row >= 0) & (column >= 0) & (row < small.shape[0]) & (column < small.shape[1])
            flat = row[good] * small.shape[1] + column[good]
            cast += np.bincount(flat, minlength=small.size).reshape(small.shape)
        votes = np.asarray(np.maximum(votes, np.asarray(gaussian_filter(cast, 1.5))), dtype=np.float64)
    return _best(picture, votes, factor, radius)


def _best(picture: Picture, votes: _Array, factor: int, radius: float) -> tuple[float, float] | Refused:
    """The places with most votes, each tried as a hole; the one whose rim is seen, refused when there are two."""
    reach = max(3, int(1.5 * radius / factor))
    tops = np.argwhere((maximum_filter(votes, size=reach) == votes) & (votes > 0.4 * votes.max()))
    ranked = tops[np.argsort(-np.asarray(votes)[tops[:, 0], tops[:, 1]])][:6]
    found: list[tuple[float, float]] = []
    for row, column in ranked.tolist():
        middle = (-(row + 0.5) * factor + 0.5, -(column + 0.5) * factor + 0.5)
        ring = _hole(picture, middle, radius)
        if ring is None or ring.arc < LEAST_VOTES or abs(ring.circle.radius - radius) > 0.05 * radius:
            continue
        if ring.circle.deviation > 0.01 * radius + 0.5:  # noise makes edges too, but not on one circle
            continue
        place = (ring.circle.x, ring.circle.y)
        if all(hypot(place[0] - p[0], place[1] - p[1]) > radius for p in found):
            found.append(place)
    if not found:
        return Refused(reason="no hole of the expected size is seen: check scale, kind of record and light")
    if len(found) > 1:
        return Refused(reason=f"{len(found)} holes of that size are seen: scan one record at a time")
    return found[0]


def _hole(picture: Picture, middle: tuple[float, float], radius: float) -> Ring | None:
    """The hole's edge along rays, twice: the second time from the centre found."""
    angles = np.arange(HOLE_RAYS) * 2.0 * pi / HOLE_RAYS
    ring = None
    for reach in (0.25, 0.08):
        radii = np.arange((1.0 - reach) * radius, (1.0 + reach) * radius, STEP)
        if radii.size < 12:
            radii = np.arange(radius - 6 * STEP, radius + 6.5 * STEP, STEP)
        profiles = rays(picture, middle, angles, radii)
        edge, slope = step_edges(profiles, radii)
        weak = slope < 0.25 * np.median(slope)
        edge[weak] = np.nan
        ring = ring_through(angles, edge, middle)
        if ring is None:
            return None
        middle, radius = (ring.circle.x, ring.circle.y), ring.circle.radius
    return ring


def _groove(picture: Picture, middle: tuple[float, float], radius: float, slack: float, most: float) -> Ring | None:
    """The closed groove about the hole: first the circle along which a line is seen best, then the line itself."""
    angles = np.arange(GROOVE_RAYS) * 2.0 * pi / GROOVE_RAYS
    radii = np.arange(radius - slack - most, radius + slack + most, STEP)
    response = line_response(rays(picture, middle, angles, radii))
    best = _best_circle(response, angles, radii, most)
    if best is None:
        return None
    x, y, r, sense = best
    ring = None
    for reach in (6.0, 5.0, 4.0, 3.0, 3.0, 3.0):
        near = np.arange(r - reach, r + reach + STEP, STEP)
        here = sense * line_response(rays(picture, (middle[0] + x, middle[1] + y), angles, _wide(near)))
        margin = (here.shape[1] - near.size) // 2
        line, height = line_peaks(here[:, margin : margin + near.size], near)
        line[height < max(4.0, 0.35 * float(np.percentile(height, 90)))] = np.nan
        line[uniform_filter1d(np.isfinite(line).astype(np.float64), 11, mode="wrap") < 0.6] = np.nan  # strays alone
        ring = ring_through(angles, line, (middle[0] + x, middle[1] + y), least=36)
        if ring is None:
            return None
        x, y, r = ring.circle.x - middle[0], ring.circle.y - middle[1], ring.circle.radius
    return ring


def _wide(near: _Array) -> _Array:
    """The radii with as many again on both sides, so that the response's spread is that of the land."""
    extra = near.size
    return np.asarray(near[0] + STEP * np.arange(-extra, near.size + extra))


def _best_circle(
    response: _Array, angles: _Array, radii: _Array, most: float
) -> tuple[float, float, float, float] | None:
    """Centre shift (x, y) and radius of the circle along which the line is seen best; 1 for bright, -1 for dark."""
    thin = response[:: max(1, angles.size // 120)]
    turned = angles[:: max(1, angles.size // 120)]
    soft = 2.5
    best, found = 0.0, None
    for sense in (1.0, -1.0):
        broad = np.clip(gaussian_filter(np.clip(sense * thin, 0.0, 12.0), (0.0, soft / STEP)), 0.0, 3.0)
        steps = np.arange(-most, most + 1e-9, 1.5 * soft)
        for x in steps:
            for y in steps:
                if hypot(x, y) > most:
                    continue
                shift = np.rint((x * np.cos(turned) + y * np.sin(turned)) / STEP).astype(np.int64)
                place = np.arange(int(most / STEP) + 1, radii.size - int(most / STEP) - 1)
                score = broad[np.arange(turned.size)[:, None], place + shift[:, None]].mean(axis=0)
                top = int(np.argmax(score))
                if score[top] > best:
                    best, found = float(score[top]), (float(x), float(y), float(radii[place[top]]), sense)
    return found


def _offset(hole: Ring, groove: Ring, scale: float, field_u95: float) -> tuple[PlaneVector, PlaneVector]:
    """Groove centre to hole centre: by the pixels alone, and with the scanner's travel."""
    x, y = (hole.circle.x - groove.circle.x) * scale, (hole.circle.y - groove.circle.y) * scale
    both = [ring.circle.covariance[:2, :2] * scale**2 for ring in (hole, groove)]
    c = both[0] + both[1]
    inner = (float(c[0, 0]), float(c[0, 1]), float(c[1, 1]))
    travel = (field_u95 / 2.447746830680816) ** 2
    return (
        plane_vector(x, y, inner),
        plane_vector(x, y, (inner[0] + travel, inner[1], inner[2] + travel)),
    )


def _cautions(hole: Ring, groove: Ring, scale: float, field_u95: float | None) -> list[str]:
    said = []
    if field_u95 is None:
        said.append(
            "How evenly the scanner travels was not checked with a measured ring: 30 μm are carried for it, by common "
            "practice."
        )
    if groove.arc < 0.95:
        said.append(f"The groove is seen over {360 * groove.arc:.0f} deg of the turn only; that widens the doubt.")
    for name, ring in (("hole", hole), ("groove", groove)):
        lost = ring.left_out / (ring.left_out + ring.angle.size)
        if lost > 0.1:
            said.append(f"{100 * lost:.0f} of 100 places of the {name} were left out for dust, glare or print.")
    if hole.uneven[0] * scale > 30.0 * UM:
        said.append(
            f"The hole is oval by {hole.uneven[0] * scale / UM:.0f} μm, or the picture's x and y scales differ."
        )
    return said
