"""The centre from a picture: hole and finishing groove, where they lie from each other, and what spoils that.

What the pixels say is the method's doubt; how evenly the carriage travels is not in the pixels and is stated beside it.
"""

from dataclasses import dataclass, replace
from math import hypot, sin, sqrt

import numpy as np
from numpy.typing import NDArray

from runtrue.stamper.edges import Picture, Ring, moved
from runtrue.stamper.field import STRETCH_U95, Distortion, Field, distortion_of_two
from runtrue.stamper.move import clock_hour, hour_words
from runtrue.stamper.seek import MOST_OVAL, Refused, Sought, edge_circle, rings
from runtrue.stats.plane import plane_vector
from runtrue.types import PlaneVector
from runtrue.units import DEG, UM

_Array = NDArray[np.float64]

OVAL_U95 = 20.0 * UM
"""Oval of a groove of which part is seen, U95 of its amplitude [m]. Our choice."""
BURR = 60.0 * UM
"""Departure of the hole's edge that is named [m]. Our choice."""
SEEN_OVAL = 0.0002
"""Oval above which it is named [-]."""
MOST_LEAN = 8.0 * DEG
"""Lean of a camera above which a photograph is refused [rad]."""


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
    seen = rings(picture, sought, scale, field.distortion)
    if isinstance(seen, Refused):
        return seen
    hole, groove = seen
    distortion = field.distortion
    cautions: list[str] = []
    if turned is not None:
        again = rings(turned, sought, scale, field.distortion)
        if isinstance(again, Refused):
            return Refused(reason=f"second scan: {again.reason}")
        if min(groove.arc, again[1].arc) <= 0.7:
            return Refused(reason="second scan: the groove is not seen far enough round to tell stretch and skew")
        distortion = distortion_of_two(groove, again[1])
        cautions += _disagreement(seen, again, scale, field.u95)
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
