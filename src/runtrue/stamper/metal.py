"""A piece of metal: where it comes from, what was found on it, and whether it may go to the press."""

from dataclasses import dataclass
from enum import StrEnum
from math import cos, pi, sin, sqrt

import numpy as np
from numpy.typing import NDArray
from scipy.special import stdtrit

from runtrue.errors import InputError
from runtrue.stamper.move import clock_hour, hour_words
from runtrue.units import DEG, MM, UM


class Generation(StrEnum):
    """What the piece is."""

    FATHER = "father"
    MOTHER = "mother"
    STAMPER = "stamper"


PARENT = {Generation.MOTHER: Generation.FATHER, Generation.STAMPER: Generation.MOTHER}
"""What a piece is grown from. A father used as stamper is entered as a stamper without a mother."""


class Advice(StrEnum):
    """What an incoming inspection says."""

    ACCEPT = "accept"
    SAND = "sand"
    MEASURE = "measure first"
    REFUSE = "refuse"


class FaultKind(StrEnum):
    """Visual faults of metal, in the trade's words."""

    SCRATCH = "scratch"
    PIT = "pit"
    PIMPLE = "pimple"
    CRACK = "crack"
    KINK = "kink"
    STAIN = "stain"
    BURR = "burr"


@dataclass(frozen=True, slots=True, kw_only=True)
class Thickness:
    """Gauge reading ``value`` [m] at ``radius`` [m] and ``angle`` [rad] of the face."""

    radius: float
    angle: float
    value: float


@dataclass(frozen=True, slots=True, kw_only=True)
class VisualFault:
    """A fault by clock position (0 to 12) and radius [m]; ``recorded`` where it lies in the recorded part."""

    kind: FaultKind
    hour: float
    radius: float
    recorded: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Repair:
    """Where a piece was repaired: clock position, radius [m], in words what was done."""

    hour: float
    radius: float
    done: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Metal:
    """A piece of metal in the register; ``parent`` is what it was grown from, ``back`` its roughness Ra [m]."""

    id: str
    matrix: str
    generation: Generation
    parent: str | None
    grown: str
    bath: str
    thickness: tuple[Thickness, ...] = ()
    back: float | None = None
    faults: tuple[VisualFault, ...] = ()
    repairs: tuple[Repair, ...] = ()
    kept: str = ""
    state: str = "in store"
    impressions: int = 0

    def __post_init__(self) -> None:
        """Keep the family and the counts in order."""
        if self.generation is Generation.FATHER and self.parent is not None:
            raise InputError(f"metal {self.id}: a father is grown from the cut and has no parent here; remove it")
        if self.generation is Generation.MOTHER and self.parent is None:
            raise InputError(f"metal {self.id}: a mother is grown from a father; name it")
        if self.impressions < 0:
            raise InputError(f"metal {self.id}: impressions must be 0 or more, got {self.impressions}")


def lineage(piece: Metal, register: dict[str, Metal]) -> tuple[Metal, ...]:
    """The piece and what it was grown from, oldest last; raises ``InputError`` for a parent that cannot be one.

    Examples
    --------
    >>> father = Metal(id="F1", matrix="RT-7", generation=Generation.FATHER, parent=None, grown="2026-01-05", bath="2")
    >>> mother = Metal(id="M1", matrix="RT-7", generation=Generation.MOTHER, parent="F1", grown="2026-01-08", bath="2")
    >>> [one.id for one in lineage(mother, {"F1": father})]
    ['M1', 'F1']
    """
    found = [piece]
    while found[-1].parent is not None:
        name = found[-1].parent
        parent = register.get(name)
        if parent is None:
            raise InputError(f"metal {found[-1].id}: its parent {name} is not in the register; enter it first")
        if parent.matrix != piece.matrix:
            raise InputError(f"metal {found[-1].id}: its parent {name} is of matrix {parent.matrix}; correct one")
        if PARENT.get(found[-1].generation) is not parent.generation:
            raise InputError(
                f"metal {found[-1].id}: a {found[-1].generation} is not grown from a {parent.generation}; correct it"
            )
        found.append(parent)
    return tuple(found)


@dataclass(frozen=True, slots=True, kw_only=True)
class Wedge:
    """Thickness as a tilted plane: mean at the middle, ``slope`` [m/m] up toward ``toward`` [rad], thinnest reading.

    ``slope_u95`` is the half-width along the slope; None with three readings, which leave nothing to judge it by.
    """

    mean: float
    slope: float
    slope_u95: float | None
    toward: float
    thinnest: Thickness
    thickest: Thickness


def wedge(points: tuple[Thickness, ...]) -> Wedge:
    """Fit a plane to thickness readings; three places or more that do not lie on one line.

    Examples
    --------
    >>> points = tuple(Thickness(radius=0.1, angle=a, value=2e-4 + 1e-5 * cos(a)) for a in (0.0, pi / 2, pi))
    >>> found = wedge(points)
    >>> found.slope * 1e4, found.mean * 1e6
    (1.0, 200.0)
    """
    if len(points) < 3:
        raise InputError(f"thickness: {len(points)} readings; three places or more make a wedge visible: read more")
    x = np.array([[1.0, p.radius * cos(p.angle), p.radius * sin(p.angle)] for p in points])
    if np.linalg.matrix_rank(x, tol=1e-6) < 3:
        raise InputError("thickness: the readings lie on one line; read at a third place beside it")
    value = np.array([p.value for p in points])
    found = np.linalg.lstsq(x, value, rcond=None)[0]
    slope = float(np.hypot(found[1], found[2]))
    toward = float(np.arctan2(found[2], found[1]))
    return Wedge(
        mean=float(found[0]),
        slope=slope,
        slope_u95=_slope_u95(x, value - x @ found, toward),
        toward=toward % (2.0 * pi),
        thinnest=min(points, key=lambda p: p.value),
        thickest=max(points, key=lambda p: p.value),
    )


def _slope_u95(x: NDArray[np.float64], left: NDArray[np.float64], toward: float) -> float | None:
    """Student's half-width of the slope along its own direction; None without readings to spare."""
    spare = x.shape[0] - 3
    if spare < 1:
        return None
    along = np.array([0.0, cos(toward), sin(toward)])
    variance = float(left @ left) / spare * float(along @ np.linalg.inv(x.T @ x) @ along)
    return float(stdtrit(spare, 0.975)) * sqrt(variance)


@dataclass(frozen=True, slots=True, kw_only=True)
class HouseMetal:
    """What the house asks of incoming metal. The figures are the house's own; those here are common practice."""

    thinnest: float = 150.0 * UM
    thickest: float = 300.0 * UM
    wedge_over_disc: float = 30.0 * UM
    back: float = 0.8 * UM
    disc_radius: float = 150.0 * MM


@dataclass(frozen=True, slots=True, kw_only=True)
class Inspection:
    """Advice and every reason for it, worst first. ``not_looked_at`` names what nobody measured: no silent accept."""

    advice: Advice
    reasons: tuple[str, ...]
    not_looked_at: tuple[str, ...]


def inspect(piece: Metal, house: HouseMetal) -> Inspection:
    """Accept, sand, measure first or refuse incoming metal, and why.

    Refused is what sanding cannot mend: cracks, kinks, faults in the recorded part, thin spots. Sanding mends a rough
    back, a wedge that leaves enough metal, pimples and burrs outside the recorded part. What nobody measured, or what
    the readings leave open at the limit, is to be measured first: it is never accepted in silence.
    """
    refuse, sand, unseen = [], [], []
    for fault in piece.faults:
        place = f"{fault.kind} at {fault.hour:g} o'clock, {fault.radius / MM:.0f} mm"
        if fault.kind in (FaultKind.CRACK, FaultKind.KINK) or (fault.recorded and fault.kind is not FaultKind.STAIN):
            refuse.append(place)
        elif fault.kind in (FaultKind.PIMPLE, FaultKind.BURR):
            sand.append(place)
    if piece.back is None:
        unseen.append("back roughness")
    elif piece.back > house.back:
        sand.append(f"back is rough, {piece.back / UM:.1f} μm, at most {house.back / UM:.1f} μm")
    if len(piece.thickness) < 3:
        unseen.append("thickness at three places")
    else:
        found = wedge(piece.thickness)
        if found.thinnest.value < house.thinnest:
            refuse.append(
                f"thin, {found.thinnest.value / UM:.0f} μm at {clock_place(found.thinnest)}, at least "
                f"{house.thinnest / UM:.0f} μm"
            )
        if found.thickest.value > house.thickest:
            sand.append(f"thick, {found.thickest.value / UM:.0f} μm, at most {house.thickest / UM:.0f} μm")
        _judge_wedge(found, house, refuse, sand, unseen)
    advice = Advice.REFUSE if refuse else Advice.SAND if sand else Advice.MEASURE if unseen else Advice.ACCEPT
    return Inspection(advice=advice, reasons=(*refuse, *sand), not_looked_at=tuple(unseen))


def _judge_wedge(found: Wedge, house: HouseMetal, refuse: list[str], sand: list[str], unseen: list[str]) -> None:
    """Lay the wedge over the disc beside its limit; a doubt that reaches over the limit asks for more places."""
    across = 2.0 * house.disc_radius
    over = found.slope * across
    doubt = 0.0 if found.slope_u95 is None else found.slope_u95 * across
    limit = house.wedge_over_disc
    if over - doubt > limit or (found.slope_u95 is None and over > limit):
        mendable = found.mean - over / 2.0 >= house.thinnest
        (sand if mendable else refuse).append(f"wedge of {over / UM:.0f} μm over the disc, at most {limit / UM:.0f} μm")
    elif over + doubt > limit:
        unseen.append(
            f"wedge, {over / UM:.0f} ± {doubt / UM:.0f} μm at a limit of {limit / UM:.0f} μm: gauge more places"
        )


def clock_place(point: Thickness) -> str:
    """Where a gauge stood: "half past 4, 130 mm" of the face looked at, 12 o'clock at 0 deg."""
    return f"{hour_words(clock_hour(point.angle / DEG))}, {point.radius / MM:.0f} mm"


def family_order(register: dict[str, Metal]) -> tuple[Metal, ...]:
    """Every piece after what it was grown from, brothers in the order of the register."""
    children: dict[str | None, list[Metal]] = {}
    for piece in register.values():
        known = piece.parent if piece.parent in register else None
        children.setdefault(known, []).append(piece)

    def below(name: str | None) -> list[Metal]:
        return [found for piece in children.get(name, []) for found in (piece, *below(piece.id))]

    return tuple(below(None))
