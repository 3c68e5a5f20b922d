"""Hole, closed groove, label and rim on a picture: where they are, and their edges to a fraction of a pixel.

The hole is sought by votes of the edges of a reduced picture, then its edge along rays; the groove by the circle along
which a thin line is seen best, then the line along rays. Label and rim are edges about the hole.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from math import hypot, pi

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter, maximum_filter, uniform_filter1d

from runtrue.stamper.edges import (
    STEP,
    Picture,
    Ring,
    edge_response,
    line_peaks,
    line_response,
    rays,
    ring_through,
    step_edges,
)
from runtrue.stamper.field import Distortion

_Array = NDArray[np.float64]

COARSE_HOLE = 16.0
"""Radius of the hole in the reduced picture [px]."""
LEAST_VOTES = 0.45
"""Part of the hole's rim that must vote for it."""
MOST_OFFSET = 0.6e-3
"""Offset within which the groove is sought about the hole [m]."""
LEAST_ARC = 0.15
"""Part of the turn over which the groove must be seen."""
MOST_OF_IT = 0.9
"""Part of the turn over which a measured ring's edges must be seen."""
MOST_OVAL = 0.005
"""Oval of the groove over its radius above which a scan is refused [-]: no record is so oval, a slanted one is."""
MOST_TRIED = 0.012
"""Oval of the groove over its radius up to which it is sought, so that it is refused and not taken for another [-]."""
DRAWS = 1000
"""Draws of five rays in the search for an oval: enough where a third of the rays see the groove."""
HOLE_RAYS = 240
GROOVE_RAYS = 720


@dataclass(frozen=True, slots=True, kw_only=True)
class Refused:
    """The picture does not give a centre, and why."""

    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Sought:
    """Diameters to look for [m].

    The hole is sought within 4 %, the groove within ``groove_slack`` of its radius. ``known_hole`` is a measured
    diameter, from which the scale is taken; ``label`` and ``rim`` are None where they do not matter.
    """

    hole: float
    groove: float
    groove_slack: float = 1.2e-3
    known_hole: float | None = None
    label: float | None = None
    rim: float | None = None


def rings(picture: Picture, sought: Sought, scale: float, known: Distortion | None) -> tuple[Ring, Ring] | Refused:
    """Hole and groove as the picture shows them."""
    radius = sought.hole / 2.0 / scale
    start = find_hole(picture, radius)
    if isinstance(start, Refused):
        return start
    hole = _hole(picture, start, radius)
    if hole is None or hole.arc < 0.5:
        seen = 0.0 if hole is None else hole.arc
        return Refused(reason=f"the edge of the hole is seen over {360 * seen:.0f} deg only: clean it, scan again")
    if sought.known_hole is not None:
        scale = sought.known_hole / 2.0 / hole.circle.radius
    groove = _groove(picture, hole, sought, scale, known)
    if groove is None:
        slant = hypot(*hole.oval) > MOST_OVAL
        return Refused(
            reason="no closed groove is seen where the format has it: turn the light, or give its diameter"
            + (f"; the hole is oval by {100 * hypot(*hole.oval):.1f} %: is it seen at a slant?" if slant else "")
        )
    if groove.arc < LEAST_ARC:
        return Refused(reason=f"the groove is seen over {360 * groove.arc:.0f} deg only: turn the light, scan again")
    return hole, groove


def ring_edges(picture: Picture, sought: Sought, scale: float) -> tuple[Ring, Ring] | Refused:
    """Hole and rim of a measured ring [px]."""
    start = find_hole(picture, sought.hole / 2.0 / scale)
    if isinstance(start, Refused):
        return start
    hole = _hole(picture, start, sought.hole / 2.0 / scale)
    if hole is None or hole.arc < MOST_OF_IT:
        return Refused(reason="the ring's hole is not seen all the way round: clean it, scan again")
    rim = edge_circle(picture, hole, (sought.rim or sought.groove) / 2.0 / scale, 1.5e-3 / scale)
    if rim is None or rim.arc < MOST_OF_IT:
        return Refused(reason="the ring's rim is not seen all the way round: check rim_mm, clean it, scan again")
    return hole, rim


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


@dataclass(frozen=True, slots=True, kw_only=True)
class _Line:
    """Where a line may run about a middle: centre shift (x, y), radius, oval (cosine, sine) [px], its sense."""

    x: float
    y: float
    radius: float
    oval: tuple[float, float]
    sense: float

    def at(self, angles: _Array) -> _Array:
        """Radius about the shifted centre [px]."""
        return np.asarray(self.radius + self.oval[0] * np.cos(2.0 * angles) + self.oval[1] * np.sin(2.0 * angles))


def _groove(picture: Picture, hole: Ring, sought: Sought, scale: float, known: Distortion | None) -> Ring | None:
    """The closed groove about the hole: first the circle along which a line is seen best, then the line itself.

    A picture whose scales differ makes the groove oval. Where a round one is not seen all the way round, the oval of a
    known distortion, that of the hole, and the one that a coarse search finds are tried too; the fullest ring counts.
    """
    middle = (hole.circle.x, hole.circle.y)
    radius, slack, most = sought.groove / 2.0 / scale, sought.groove_slack / scale, MOST_OFFSET / scale
    angles = np.arange(GROOVE_RAYS) * 2.0 * pi / GROOVE_RAYS
    wide = slack + most + radius * MOST_TRIED
    radii = np.arange(radius - wide, radius + wide, STEP)
    response = line_response(rays(picture, middle, angles, radii))

    def ovals() -> Iterator[tuple[float, float]]:
        yield 0.0, 0.0
        if known is not None:
            yield known.stretch, known.skew
        yield hole.oval
        yield _coarse_oval(response, angles, radii, radius)

    fullest = None
    for place, oval in enumerate(ovals()):
        if place > 0 and not 1.0 / radius < hypot(*oval) < MOST_TRIED:
            continue
        best = _best_circle(response, angles, radii, most, oval=(radius * oval[0], radius * oval[1]))
        ring = None if best is None else _followed(picture, middle, angles, best[1])
        if ring is not None and (fullest is None or ring.count > fullest.count):
            fullest = ring
        if fullest is not None and fullest.arc >= MOST_OF_IT:
            break
    return fullest


def _followed(picture: Picture, middle: tuple[float, float], angles: _Array, line: _Line) -> Ring | None:
    """The line near where it is thought to run, ray by ray, to a fraction of a pixel."""
    ring = None
    for reach in (6.0, 5.0, 4.0, 3.0, 3.0, 3.0):
        near = np.arange(-reach, reach + STEP, STEP)
        centre = (middle[0] + line.x, middle[1] + line.y)
        base = line.at(angles)[:, None]
        here = line.sense * line_response(rays(picture, centre, angles, base + _wide(near)))
        margin = (here.shape[1] - near.size) // 2
        off, height = line_peaks(here[:, margin : margin + near.size], near)
        off[height < max(4.0, 0.35 * float(np.percentile(height, 90)))] = np.nan
        off[uniform_filter1d(np.isfinite(off).astype(np.float64), 11, mode="wrap") < 0.6] = np.nan  # strays alone
        ring = ring_through(angles, base[:, 0] + off, centre, least=36)
        if ring is None:
            return None
        oval = (ring.shape[0], ring.shape[1]) if ring.arc > 0.7 else line.oval
        line = _Line(x=ring.circle.x - middle[0], y=ring.circle.y - middle[1], radius=ring.circle.radius, oval=oval,
                     sense=line.sense)  # fmt: skip
    return ring


def _coarse_oval(response: _Array, angles: _Array, radii: _Array, radius: float) -> tuple[float, float]:
    """The oval (share of the radius) on which most rays agree about where their strongest line is.

    Many draws of five rays each fix centre, radius and oval; the draw to which most rays agree counts.
    """
    strongest, height = line_peaks(np.abs(response), radii)
    good = np.isfinite(strongest) & (height > 4.0)
    if good.sum() < 24:
        return 0.0, 0.0
    theta, r = angles[good], strongest[good]
    terms = np.stack([np.ones_like(theta), *(f(k * theta) for k in (1, 2) for f in (np.cos, np.sin))], axis=1)
    draws = np.random.default_rng(0).integers(0, r.size, (DRAWS, 5))
    sound = np.linalg.cond(terms[draws]) < 1e3
    found = np.linalg.solve(terms[draws[sound]], r[draws[sound]][:, :, None])[:, :, 0]
    found = found[np.hypot(found[:, 3], found[:, 4]) < MOST_TRIED * radius]
    if found.size == 0:
        return 0.0, 0.0
    agree = (np.abs(found @ terms.T - r) < 2.0).sum(axis=1)
    best = found[int(np.argmax(agree))]
    return float(best[3] / radius), float(best[4] / radius)


def _wide(near: _Array) -> _Array:
    """The radii with as many again on both sides, so that the response's spread is that of the land."""
    extra = near.size
    return np.asarray(near[0] + STEP * np.arange(-extra, near.size + extra))


def _best_circle(
    response: _Array,
    angles: _Array,
    radii: _Array,
    most: float,
    *,
    soft: float = 2.5,
    oval: tuple[float, float] = (0.0, 0.0),
) -> tuple[float, _Line] | None:
    """The line along which the response is best, and how good it is: 1 for bright (rising), -1 for dark (falling).

    Centres within ``most`` of the rays' own are tried; ``soft`` is the blur of the response, which sets their step
    [px]; the line has this oval.
    """
    every = max(1, angles.size // 120)
    thin, turned = response[::every], angles[::every]
    bent = oval[0] * np.cos(2.0 * turned) + oval[1] * np.sin(2.0 * turned)
    edge = int((most + hypot(*oval)) / STEP) + 1
    place = np.arange(edge, radii.size - edge)
    best, found = 0.0, None
    steps = np.arange(-most, most + 1e-9, 1.5 * soft)
    for sense in (1.0, -1.0):
        broad = np.clip(gaussian_filter(np.clip(sense * thin, 0.0, 12.0), (0.0, soft / STEP)), 0.0, 3.0)
        for x in steps:
            for y in steps:
                if hypot(x, y) > most:
                    continue
                shift = np.rint((x * np.cos(turned) + y * np.sin(turned) + bent) / STEP).astype(np.int64)
                score = broad[np.arange(turned.size)[:, None], place + shift[:, None]].mean(axis=0)
                top = int(np.argmax(score))
                if score[top] > best:
                    best = float(score[top])
                    found = _Line(x=float(x), y=float(y), radius=float(radii[place[top]]), oval=oval, sense=sense)
    return None if found is None else (best, found)


def edge_circle(picture: Picture, hole: Ring, radius: float, slack: float) -> Ring | None:
    """A round edge about the hole (label, rim of the record), sought within ``slack`` [px]; None where none is seen.

    First the circle along which an edge of one sense is seen best, so that print beside it does not lead astray.
    """
    angles = np.arange(GROOVE_RAYS) * 2.0 * pi / GROOVE_RAYS
    middle = (hole.circle.x, hole.circle.y)
    radii = np.arange(radius - slack, radius + slack, STEP)
    if radii.size < 24 or radii[0] <= 0.0:
        return None
    response = edge_response(rays(picture, middle, angles, radii))
    best = _best_circle(response, angles, radii, 0.6 * slack, soft=max(2.5, slack / 20.0))
    if best is None:
        return None
    line, ring = best[1], None
    middle, radius = (middle[0] + line.x, middle[1] + line.y), line.radius
    for reach in (max(8.0, 0.15 * slack), 8.0, 6.0):
        near = np.arange(radius - reach, radius + reach, STEP)
        edge, height = line_peaks(line.sense * edge_response(rays(picture, middle, angles, near)), near)
        edge[~(height > 0.3 * float(np.percentile(height, 80)))] = np.nan
        ring = ring_through(angles, edge, middle, least=GROOVE_RAYS // 4)
        if ring is None or ring.circle.deviation > 1.5:
            return None
        middle, radius = (ring.circle.x, ring.circle.y), ring.circle.radius
    return ring
