"""The centre from a picture: hole and finishing groove, where they lie from each other, and what spoils that.

The hole is sought by votes of the edges of a reduced picture, then its edge along rays; the groove by the circle along
which a thin line is seen best, then the line along rays. Both are fitted as circles through the points that belong.
What the pixels say is the method's doubt; how evenly the carriage travels is not in the pixels and is stated beside it.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from math import hypot, pi, sin, sqrt

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
    moved,
    rays,
    ring_through,
    step_edges,
)
from runtrue.stamper.field import STRETCH_U95, Distortion, Field, distortion_of_two
from runtrue.stamper.move import clock_hour, hour_words
from runtrue.stats.plane import plane_vector
from runtrue.types import PlaneVector
from runtrue.units import DEG, UM

_Array = NDArray[np.float64]

COARSE_HOLE = 16.0
"""Radius of the hole in the reduced picture [px]."""
LEAST_VOTES = 0.45
"""Part of the hole's rim that must vote for it."""
MOST_OFFSET = 0.6e-3
"""Offset within which the groove is sought about the hole [m]."""
MOST_OF_IT = 0.9
"""Part of the turn over which a measured ring's edges must be seen."""
LEAST_ARC = 0.15
"""Part of the turn over which the groove must be seen."""
OVAL_U95 = 20.0 * UM
"""Oval of a groove of which part is seen, U95 of its amplitude [m]. Our choice."""
BURR = 60.0 * UM
"""Departure of the hole's edge that is named [m]. Our choice."""
DRAWS = 1000
"""Draws of five rays in the search for an oval: enough where a third of the rays see the groove."""
HOLE_RAYS = 240
GROOVE_RAYS = 720


MOST_OVAL = 0.005
"""Oval of the groove over its radius above which a scan is refused [-]: no record is so oval, a slanted one is."""
MOST_TRIED = 0.012
"""Oval of the groove over its radius up to which it is sought, so that it is refused and not taken for another [-]."""
SEEN_OVAL = 0.0002
"""Oval above which it is named [-]."""
MOST_LEAN = 8.0 * DEG
"""Lean of a camera above which a photograph is refused [rad]."""


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


@dataclass(frozen=True, slots=True, kw_only=True)
class PictureCentre:
    """Hole and groove [px], scale [m/px] with its U95 (share), and the offset from groove centre to hole centre [m].

    ``method`` carries what the pixels say, ``field`` the scanner or camera too; both are the same vector. Stretch and
    skew are taken out of the rings where ``distortion`` knows them. ``label`` and ``rim`` are None where they were not
    looked for or not seen; their shift is from the hole's centre.
    """

    hole: Ring
    groove: Ring
    label: Ring | None
    rim: Ring | None
    scale: float
    scale_u95: float
    distortion: Distortion | None
    lean: float | None
    method: PlaneVector
    field: PlaneVector
    field_u95: float
    cautions: tuple[str, ...]

    def shift(self, ring: Ring) -> PlaneVector:
        """Where a ring's centre lies from the hole's, the scanner's travel in its circle [m]."""
        return _apart(ring, self.hole, self.scale, self.field_u95)


def measure(
    picture: Picture, sought: Sought, *, scale: float, field: Field | None = None, turned: Picture | None = None
) -> PictureCentre | Refused:
    """Measure one picture.

    Parameters
    ----------
    picture : array (rows, columns)
        8 or 16 bit grey
    sought : Sought
        What to look for
    scale : float
        [m/px]
    field : Field, optional
        What is known of scanner or camera
    turned : array (rows, columns), optional
        The same record scanned again, turned by a quarter turn: it tells stretch and skew
    """
    field = field or Field()
    rings = _rings(picture, sought, scale, field.distortion)
    if isinstance(rings, Refused):
        return rings
    hole, groove = rings
    distortion = field.distortion
    cautions: list[str] = []
    if turned is not None:
        again = _rings(turned, sought, scale, field.distortion)
        if isinstance(again, Refused):
            return Refused(reason=f"second scan: {again.reason}")
        if min(groove.arc, again[1].arc) <= 0.7:
            return Refused(reason="second scan: the groove is not seen far enough round to tell stretch and skew")
        distortion = distortion_of_two(groove, again[1])
        cautions += _disagreement(rings, again, scale, field.u95)
    why = _slant(hole, groove, field, distortion)
    if why:
        return Refused(reason=why)
    label = None if sought.label is None else edge_circle(picture, hole, sought.label / 2.0 / scale, 2.5e-3 / scale)
    rim = None if sought.rim is None else edge_circle(picture, hole, sought.rim / 2.0 / scale, 3.0e-3 / scale)
    if distortion is not None:
        about = (hole.circle.x, hole.circle.y)
        hole, groove = (moved(ring, distortion.undo, about) for ring in (hole, groove))
        label, rim = (None if ring is None else moved(ring, distortion.undo, about) for ring in (label, rim))
    scale_u95 = field.scale_u95
    if sought.known_hole is not None:
        scale = sought.known_hole / 2.0 / hole.circle.radius
        scale_u95 = 1.96 * sqrt(float(hole.circle.covariance[2, 2])) / hole.circle.radius
    lean, slack = _leaning(groove, hole, field, scale)
    covariance = _fitted(hole, groove, scale) + np.eye(2) * (field.u95 / 2.447746830680816) ** 2
    covariance += _arc_doubt(groove, hole, distortion, scale)
    made = PictureCentre(
        hole=hole, groove=groove, label=label, rim=rim, scale=scale, scale_u95=scale_u95, distortion=distortion,
        lean=lean, method=_apart(hole, groove, scale), field=_vector(hole, groove, scale, covariance, slack),
        field_u95=field.u95, cautions=(),
    )  # fmt: skip
    return replace(made, cautions=(*cautions, *_cautions(made, field)))


def _rings(picture: Picture, sought: Sought, scale: float, known: Distortion | None) -> tuple[Ring, Ring] | Refused:
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


def _slant(hole: Ring, groove: Ring, field: Field, distortion: Distortion | None) -> str:
    """Why the picture cannot be used for its slant; empty where it can."""
    oval = hypot(*groove.oval)
    if field.camera is not None:
        lean = 2.0 * sqrt(oval)
        if groove.arc <= 0.7:
            return "a photograph that shows part of the groove only does not tell its slant: show it all, or scan it"
        if lean > MOST_LEAN:
            return f"the camera leans by about {lean / DEG:.0f} deg: photograph it straight from above, or scan it"
    elif distortion is None and groove.arc < 0.95 and hypot(*hole.oval) > MOST_OVAL:
        return (
            f"the hole is oval by {100 * hypot(*hole.oval):.1f} % and the groove seen over {360 * groove.arc:.0f} deg "
            "only: that does not tell an oval hole from a picture at a slant; show the whole groove, or scan it flat"
        )
    elif distortion is None and oval > MOST_OVAL:
        return (
            f"the groove is oval by {100 * oval:.1f} %: seen at a slant, or the picture's two scales differ; scan it "
            "flat, or give a second scan turned by 90 deg"
        )
    return ""


def _leaning(groove: Ring, hole: Ring, field: Field, scale: float) -> tuple[float | None, float]:
    r"""Lean of the camera [rad] and the shift of the groove's centre that it may hide [m]; None and 0 for a scanner.

    A round groove seen from a camera that leans by tau is oval by R tau^2 / 4, and its centre is shifted by R^2 tau / D
    along that oval's short axis, in a sense the picture does not tell. The largest lean that the oval allows counts,
    and the disc of displacement is drawn so that its 95 % reaches that far.
    """
    if field.camera is None:
        return None, 0.0
    oval = hypot(*groove.oval)
    most = 2.0 * sqrt(oval + 2.45 * groove.oval_u)
    squares = (groove.circle.radius**2 - hole.circle.radius**2) * scale**2
    return 2.0 * sqrt(oval), squares * sin(most) / field.camera / sqrt(0.95)


def _disagreement(first: tuple[Ring, Ring], second: tuple[Ring, Ring], scale: float, field_u95: float) -> list[str]:
    """Say so when the second scan, turned back either way, has another offset than the travel may explain."""
    (x, y), (u, v) = (
        ((hole.circle.x - groove.circle.x) * scale, (hole.circle.y - groove.circle.y) * scale)
        for hole, groove in (first, second)
    )
    apart = min(hypot(x - v, y + u), hypot(x + v, y - u))
    if apart <= sqrt(2.0) * max(field_u95, 2.0 * UM):
        return []
    return [
        f"The two scans disagree by {apart / UM:.0f} μm after turning back: the scanner's travel is worse than the "
        f"{field_u95 / UM:.0f} μm carried for it, or the record was turned by another angle."
    ]


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


def _apart(to: Ring, start: Ring, scale: float, travel_u95: float = 0.0) -> PlaneVector:
    """From the centre of one ring to that of another; ``travel_u95`` [m] widens it."""
    covariance = _fitted(to, start, scale) + np.eye(2) * (travel_u95 / 2.447746830680816) ** 2
    return _vector(to, start, scale, covariance)


def _fitted(to: Ring, start: Ring, scale: float) -> _Array:
    """Covariance (2, 2) of the difference of two centres, from the fits [m2]."""
    return np.asarray(sum(ring.circle.covariance[:2, :2] for ring in (to, start)) * scale**2)


def _vector(to: Ring, start: Ring, scale: float, covariance: _Array, slack: float = 0.0) -> PlaneVector:
    x, y = (to.circle.x - start.circle.x) * scale, (to.circle.y - start.circle.y) * scale
    (xx, xy), (_, yy) = covariance.tolist()
    return plane_vector(x, y, (xx, xy, yy), (slack, slack))


def _arc_doubt(groove: Ring, hole: Ring, distortion: Distortion | None, scale: float) -> _Array:
    """Covariance (2, 2) that an oval nobody sees brings to the centre of part of a groove [m2].

    Over part of the turn the two-a-turn part cannot be told from a shift of the centre. What the scanner's scales may
    differ by (at least the oval of the hole, where nothing told them) and the groove's own oval are carried.
    """
    if groove.arc > 0.7:
        return np.zeros((2, 2))
    theta = np.arctan2(groove.y - groove.circle.y, groove.x - groove.circle.x)
    terms = np.stack([np.cos(theta), np.sin(theta), np.ones_like(theta)], axis=1)
    ovals = np.stack([np.cos(2.0 * theta), np.sin(2.0 * theta)], axis=1)
    shift = np.linalg.lstsq(terms, ovals, rcond=None)[0][:2]
    share = max(STRETCH_U95, hypot(*hole.oval)) if distortion is None else distortion.u95
    deviation = hypot(share * groove.circle.radius * scale, OVAL_U95) / 1.96
    return np.asarray(deviation**2 * shift @ shift.T)


def _cautions(found: PictureCentre, field: Field) -> list[str]:
    said = []
    hole, groove, scale = found.hole, found.groove, found.scale
    if field.camera is not None and found.lean is not None:
        said.append(
            f"A photograph: the camera leans by {found.lean / DEG:.1f} deg or less, and what that may hide is carried."
        )
    if not field.checked:
        what = "scanner travels" if field.camera is None else "camera draws"
        by = "by common practice" if field.camera is None else "by our choice"
        said.append(
            f"How evenly the {what} was not checked with a measured ring: {field.u95 / UM:.0f} μm are carried for it, "
            f"{by}."
        )
    if groove.arc < 0.95:
        said.append(f"The groove is seen over {360 * groove.arc:.0f} deg of the turn only; that widens the doubt.")
    if groove.arc <= 0.7 and found.distortion is None:
        said.append("Part of the groove and a scanner whose two scales were not checked: most of the doubt is that.")
    for name, ring in (("hole", hole), ("groove", groove)):
        lost = ring.left_out / (ring.left_out + ring.count)
        if lost > 0.1:
            said.append(f"{100 * lost:.0f} of 100 places of the {name} were left out for dust, glare or print.")
    own = (
        ""
        if found.distortion is not None
        else ", or the picture's x and y scales differ: a second scan turned by 90 deg tells; a photograph needs its "
        "height"
    )
    if hole.uneven[0] * scale > 30.0 * UM:
        said.append(f"The hole is oval by {hole.uneven[0] * scale / UM:.0f} μm{own}.")
    if hypot(*groove.oval) > SEEN_OVAL:
        said.append(f"The groove is oval by {groove.uneven[0] * scale / UM:.0f} μm{own}.")
    if abs(hole.burr) * scale > BURR and hole.left_out + hole.count > 0:
        way = "into" if hole.burr < 0.0 else "away from"
        said.append(
            f"At {hour_words(clock_hour(hole.burr_at / DEG))} the hole's edge stands {abs(hole.burr) * scale / UM:.0f} "
            f"μm {way} the hole: a burr, a nick, print or dirt."
        )
    return said
