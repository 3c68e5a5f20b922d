r"""What a scanner or camera does to lengths: stretch and skew, and how far its travel sets one circle from another.

A scanner with unequal scales and skew shows the place q of the record at (I + S) q / scale,

.. math:: S = \begin{pmatrix} k & s \\ s & -k \end{pmatrix}, \quad
          \rho(\theta) = R (1 + k \cos 2\theta + s \sin 2\theta)

for a round thing of radius R. A groove that is oval itself shows the same; laid on the glass again, turned by a quarter
turn, its own part changes sign and the scanner's does not, so half the sum of both is the scanner's. Uneven travel of
the carriage is in no record: only a ring whose hole and rim are known to be concentric tells it.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import hypot, sqrt

import numpy as np
from numpy.typing import NDArray
from scipy.special import fdtri, stdtrit

from runtrue.errors import InputError
from runtrue.stamper.edges import Ring
from runtrue.units import DEG, UM

FIELD_U95 = 30.0 * UM
"""U95 of a flatbed scanner's travel where no measured ring has checked it [m]. Common practice."""
PHOTO_U95 = 100.0 * UM
"""The same for a photograph, lens and all [m]. Our choice: nothing is known of the camera."""
SCALE_U95 = 0.003
"""U95 of a scale that is only stated, as a share of it [-]. Our choice."""
STRETCH_U95 = 0.003
"""U95 of stretch and skew where nothing told them [-]. Our choice."""
TURNED_WITHIN = 5.0 * DEG
"""How well a second scan is taken to be turned by a quarter turn [rad]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Distortion:
    """Stretch k and skew s [-], each with half-width ``u95``."""

    stretch: float
    skew: float
    u95: float
    source: str

    @property
    def undo(self) -> NDArray[np.float64]:
        """Map (2, 2) of a picture's places to those without stretch and skew."""
        k, s = self.stretch, self.skew
        return np.linalg.inv(np.array([[1.0 + k, s], [s, 1.0 - k]]))


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """What is known of the scanner or camera.

    ``u95`` is the radius of the circle that its travel adds to an offset [m], ``scale_u95`` that of the scale [-],
    ``camera`` the distance of a camera [m], None for a flatbed scanner.
    """

    u95: float = FIELD_U95
    scale_u95: float = SCALE_U95
    distortion: Distortion | None = None
    source: str = "common practice"
    camera: float | None = None
    checked: bool = False


def distortion_of_two(first: Ring, second: Ring) -> Distortion:
    """Stretch and skew from one ring scanned twice, the second time turned by a quarter turn either way.

    Examples
    --------
    >>> from runtrue.stamper.edges import ring_through
    >>> theta = np.arange(360) * DEG
    >>> one, two = (ring_through(theta, 500 + a * np.cos(2 * theta), (0.0, 0.0)) for a in (1.5, 0.5))
    >>> found = distortion_of_two(one, two)
    >>> found.stretch * 500, found.skew
    (1.0, 0.0)
    """
    (a, b), (c, d) = first.oval, second.oval
    own = hypot(a - c, b - d) / 2.0
    noise = hypot(first.oval_u, second.oval_u) / 2.0
    return Distortion(
        stretch=(a + c) / 2.0,
        skew=(b + d) / 2.0,
        u95=hypot(1.96 * noise, own * TURNED_WITHIN),
        source="a second scan turned by 90 deg",
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class RingScan:
    """One scan of a measured ring: its rim [px] and the offset found from rim to hole (x, y) [m]."""

    rim: Ring
    hole: Ring
    x: float
    y: float


@dataclass(frozen=True, slots=True, kw_only=True)
class FieldCheck:
    """What scans of a measured ring say.

    ``scale`` [m/px] with half-width ``scale_u95`` (share of it); ``u95`` is the radius within which the next offset is
    found 95 times in 100 [m]; ``systematic`` the mean of what was found (x, y) [m].
    """

    scale: float
    scale_u95: float
    distortion: Distortion
    u95: float
    systematic: tuple[float, float]
    scans: int


def ring_scan(hole: Ring, rim: Ring, scale: float) -> RingScan:
    """The offset that a ring without any shows, at a scale [m/px]."""
    return RingScan(
        rim=rim, hole=hole, x=(hole.circle.x - rim.circle.x) * scale, y=(hole.circle.y - rim.circle.y) * scale
    )


def field_of(scans: Sequence[RingScan], *, rim_diameter: float, ring_u95: float) -> FieldCheck:
    r"""Judge a scanner by a ring of which hole and rim are concentric, laid anew and turned for every scan.

    .. math:: s^2 = \frac{\sum_i |e_i|^2}{2 m}, \quad u_{95} = \sqrt{2 F_{0.95}(2, 2m)\, s^2}

    with e_i the offset found in scan i: what is the same every time is not taken away, since records do not lie where
    the ring lay. The same travel lengthens the ring too, so its share of the rim is in scale, stretch and skew.

    Parameters
    ----------
    scans : sequence of RingScan
        Two or more, each measured at the stated scale
    rim_diameter : float
        Measured diameter of the rim [m]
    ring_u95 : float
        U95 of that diameter and of the offset of hole from rim [m]

    Notes
    -----
    Stretch and skew are the means over the scans; the ring's own oval turns with it and is in their scatter. Raises
    ``InputError`` for fewer than two scans.
    """
    m = len(scans)
    if m < 2:
        raise InputError("scans: one scan of the ring tells no scatter; lay it anew, turned, and scan it again")
    t = float(stdtrit(m - 1, 0.975))
    scales = np.array([rim_diameter / 2.0 / one.rim.circle.radius for one in scans])
    ovals = np.array([one.rim.oval for one in scans])
    scale = float(scales.mean())
    spread = float(scales.std(ddof=1)) / scale / sqrt(m)
    own = float(np.sqrt(ovals.var(axis=0, ddof=1).mean() / m))
    e = np.array([[one.x, one.y] for one in scans])
    s2 = float((e**2).sum()) / (2.0 * m) + (ring_u95 / 2.447746830680816) ** 2
    u95 = sqrt(2.0 * float(fdtri(2.0, 2.0 * m, 0.95)) * s2)
    same = hypot(ring_u95, u95) / rim_diameter
    return FieldCheck(
        scale=scale,
        scale_u95=hypot(t * spread, same),
        distortion=Distortion(
            stretch=float(ovals[:, 0].mean()),
            skew=float(ovals[:, 1].mean()),
            u95=hypot(t * own, same),
            source=f"{m} scans of a measured ring",
        ),
        u95=u95,
        systematic=(float(e[:, 0].mean()), float(e[:, 1].mean())),
        scans=m,
    )
