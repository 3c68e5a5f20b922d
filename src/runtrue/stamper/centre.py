r"""Where the groove's centre lies from the axis the readings turn about, and with the punch's bias from its axis.

The readings r(theta) of a groove whose centre lies at c from the axis are R + c . u(theta) + ..., u the unit vector at
theta. The offset reported is the direction and distance from groove centre to axis, -c; the stamper is to be moved by
just that. A punch whose axis lies at b from the table's makes it b - c.
"""

from dataclasses import dataclass
from math import atan2, hypot, inf, sqrt

import numpy as np
from numpy.typing import NDArray

from runtrue.errors import InputError
from runtrue.stamper.axis import PunchAxis
from runtrue.stamper.model import Design, Fitted, design, fit
from runtrue.stamper.readings import STOPPING_GROOVE, Face, Groove, Readings, angles_to_add, hindrance
from runtrue.stats.plane import plane_vector
from runtrue.types import PlaneVector
from runtrue.units import DEG, UM

_Array = NDArray[np.float64]

ENOUGH_FREE = 4
"""Readings beyond the unknowns that are kept before a harmonic is added to the model. Our choice."""
HIGHEST_HARMONIC = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class Harmonic:
    """An out-of-round part: ``amplitude`` [m] at ``order`` a turn with its U95, first crest at ``crest`` [rad]."""

    order: int
    amplitude: float
    u95: float
    crest: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Centre:
    """What the readings say.

    ``offset`` from groove centre to the axis (of the punch where it is known), in the frame of the face looked at, with
    its distribution; ``pitch`` per turn, positive where the groove runs inward as it is played [m], 0 for a closed one;
    ``table`` the table's own run-out as told by two sets.
    """

    offset: PlaneVector
    readings: Readings
    fitted: Fitted
    face: Face
    groove: Groove
    known_pitch: float | None
    pitch: float
    pitch_u95: float
    harmonics: tuple[Harmonic, ...]
    axis: PunchAxis | None
    table: PlaneVector | None
    cautions: tuple[str, ...]

    @property
    def outliers(self) -> tuple[int, ...]:
        """Places of the readings left out."""
        return self.fitted.left_out

    @property
    def deviation(self) -> float:
        """Standard deviation of a reading [m]."""
        return self.fitted.deviation

    @property
    def groove_centre(self) -> tuple[float, float]:
        """Groove centre from the axis the readings turn about [m]."""
        return self.fitted.value("x"), self.fitted.value("y")


@dataclass(frozen=True, slots=True, kw_only=True)
class NoCentre:
    """The readings do not give a centre: why, and at which angles to read [deg]."""

    reason: str
    add: tuple[float, ...] = ()


def slope_sign(face: Face) -> float:
    """Sign of the radius's growth with the angle for a groove that runs inward as played.

    On the record the angle grows as it plays, so the radius falls; the stamper is its mirror image.
    """
    return 1.0 if face is Face.STAMPER else -1.0


def locate(
    readings: Readings,
    *,
    groove: Groove,
    face: Face = Face.STAMPER,
    pitch: float | None = None,
    harmonics: int | None = None,
    noise: float | None = None,
    division: float = 0.0,
    axis: PunchAxis | None = None,
) -> Centre | NoCentre:
    """Find the centre.

    Parameters
    ----------
    readings : Readings
        At least 4 at 3 angles or more
    groove : Groove
        A spiral's pitch is fitted unless ``pitch`` is given
    face : Face
        The face looked at
    pitch : float, optional
        Known pitch of a spiral, positive for one that runs inward as it is played [m]
    harmonics : int, optional
        Highest order of the out-of-round part, 1 to 3; if not given the highest that the readings afford
    noise : float, optional
        Standard deviation of a reading from a study of operator and lens [m]
    division : float
        Division of the lens, 0 where unknown [m]; a reading is never taken for better than division / sqrt(12)
    axis : PunchAxis, optional
        What is known of the punch's axis, in the frame of the face

    Returns
    -------
    centre : Centre or NoCentre

    Notes
    -----
    The U95 circle holds the true vector 95 times in 100: scatter (with its degrees of freedom), division and the
    punch's axis. Raises ``InputError`` for a closed groove with a pitch.
    """
    if groove is Groove.LOCKED and pitch:
        raise InputError("pitch: a locked groove has none; take the pitch away or say that the groove is a spiral")
    why = hindrance(readings, division=division)
    if why:
        return NoCentre(reason=why, add=tuple(angles_to_add(readings.places, max(4 - readings.places.size, 1))))
    fit_pitch = groove is Groove.SPIRAL and pitch is None
    made = _choose(readings, harmonics, fit_pitch, known_noise=noise is not None)
    if isinstance(made, NoCentre):
        return made
    sign = slope_sign(face)
    reading = readings.radius
    if groove is Groove.SPIRAL and pitch is not None:
        reading = reading - sign * pitch * readings.angle / (2.0 * np.pi)
    fitted = fit(made, reading, deviation=noise, floor=division / sqrt(12.0))
    found = hypot(fitted.value("x"), fitted.value("y"))
    if groove is Groove.LOCKED and found > STOPPING_GROOVE:
        return NoCentre(
            reason=f"the closed groove lies {found / UM:.0f} um off: it is a stopping groove, off centre on purpose; "
            "read the innermost recorded turns"
        )
    return Centre(
        offset=_offset(fitted, axis, division),
        readings=readings,
        fitted=fitted,
        face=face,
        groove=groove,
        known_pitch=pitch,
        pitch=sign * fitted.value("pitch") if fit_pitch else (pitch or 0.0),
        pitch_u95=_student(fitted.dof) * fitted.deviation_of("pitch") if fit_pitch else 0.0,
        harmonics=_harmonics(fitted),
        axis=axis,
        table=_table(fitted),
        cautions=tuple(_cautions(fitted, readings, division, noise, axis)),
    )


def _choose(readings: Readings, harmonics: int | None, fit_pitch: bool, *, known_noise: bool) -> Design | NoCentre:
    """The model with the highest harmonics that these readings afford."""
    second = readings.second_set if readings.second_set.any() and not readings.second_set.all() else None
    orders = range(HIGHEST_HARMONIC, 0, -1) if harmonics is None else (harmonics,)
    made = None
    for order in orders:
        made = design(readings.angle, harmonics=order, pitch=fit_pitch, second_set=second)
        enough = made.free >= (ENOUGH_FREE if order > 1 and harmonics is None else 0 if known_noise else 1)
        if enough and made.sound:
            return made
    assert made is not None
    words = _unknown_words(made)
    missing = len(made.names) + (0 if known_noise else 1) - readings.count
    if missing > 0:
        add = tuple(angles_to_add(readings.places, missing))
        shown = ", ".join(f"{a:.0f}" for a in add)
        return NoCentre(
            reason=f"{readings.count} readings do not fix {len(made.names)} unknowns ({words}) and their scatter: add "
            f"{missing}, at {shown} deg",
            add=add,
        )
    add = tuple(angles_to_add(readings.places, 4))
    shown = ", ".join(f"{a:.0f}" for a in add)
    return NoCentre(
        reason=f"the angles read cannot tell {words} apart: read at {shown} deg too"
        + (", over a second turn" if fit_pitch and readings.turns < 1.5 else ""),
        add=add,
    )


_NAMES = {
    "mean": "mean", "x": "centre", "x2": "oval", "x3": "three-cornered part", "pitch": "pitch",
    "table_x": "the table's run-out",
}  # fmt: skip


def _unknown_words(made: Design) -> str:
    words = [_NAMES[name] for name in made.names if name in _NAMES]
    return " and ".join([", ".join(words[:-1]), words[-1]])


def _offset(fitted: Fitted, axis: PunchAxis | None, division: float) -> PlaneVector:
    """-c, or b - c with both covariances; freedom of the sum by Welch and Satterthwaite on the traces.

    Where the division hides the scatter, half of it may hide an offset too: that is carried as a uniform disc.
    """
    hidden = division / 2.0 if _hidden(fitted, division) else 0.0
    slack = (hidden, hidden)
    xx, xy, yy = fitted.block("x", "y")
    x, y = -fitted.value("x"), -fitted.value("y")
    if axis is None:
        return plane_vector(x, y, (xx, xy, yy), slack, dof=None if fitted.dof == inf else fitted.dof)
    bx, by, bb = axis.covariance
    ours, its = xx + yy, bx + bb
    parts = ours**2 / fitted.dof + its**2 / axis.dof
    dof = (ours + its) ** 2 / parts if parts > 0.0 else inf
    return plane_vector(x + axis.x, y + axis.y, (xx + bx, xy + by, yy + bb), slack, dof=None if dof == inf else dof)


def _hidden(fitted: Fitted, division: float) -> bool:
    """Whether the readings agree better than the lens divides."""
    return division > 0.0 and fitted.deviation <= division / sqrt(12.0) * 1.000001


def _student(dof: float) -> float:
    from scipy.special import stdtrit

    return 1.959963984540054 if dof == inf else float(stdtrit(dof, 0.975))


def _harmonics(fitted: Fitted) -> tuple[Harmonic, ...]:
    found = []
    for order in range(2, HIGHEST_HARMONIC + 1):
        if f"x{order}" not in fitted.design.names:
            continue
        x, y = fitted.value(f"x{order}"), fitted.value(f"y{order}")
        dof = None if fitted.dof == inf else fitted.dof
        vector = plane_vector(x, y, fitted.block(f"x{order}", f"y{order}"), dof=dof)
        found.append(
            Harmonic(
                order=order, amplitude=vector.length, u95=vector.u95, crest=atan2(y, x) / order % (2.0 * np.pi / order)
            )
        )
    return tuple(found)


def _table(fitted: Fitted) -> PlaneVector | None:
    """The table's own run-out, told by two sets half a turn apart."""
    if "table_x" not in fitted.design.names:
        return None
    dof = None if fitted.dof == inf else fitted.dof
    block = fitted.block("table_x", "table_y")
    return plane_vector(fitted.value("table_x"), fitted.value("table_y"), block, dof=dof)


def _cautions(
    fitted: Fitted, readings: Readings, division: float, noise: float | None, axis: PunchAxis | None
) -> list[str]:
    said = []
    highest = sum(name.startswith("x") for name in fitted.design.names)
    if highest < HIGHEST_HARMONIC:
        said.append(
            f"{readings.count} readings do not tell out-of-round metal of {highest + 1} a turn and more from the "
            "centre: 12 at even steps do."
        )
    free = fitted.design.free
    if free < (2 if noise is not None else 3):
        said.append("A single wrong reading would not be noticed among so few: 12 readings show it.")
    if _hidden(fitted, division):
        said.append("The readings agree better than the lens divides: its division is taken for their scatter.")
    if division == 0.0 and noise is None and fitted.deviation < 0.05 * UM:
        said.append("The readings agree too well to be true: state the division of the lens.")
    if axis is None and fitted.dof < ENOUGH_FREE:
        said.append(f"The scatter is known from {fitted.dof:.0f} spare readings only; that makes the U95 large.")
    if len(fitted.left_out) > 1:
        said.append("More than one reading does not belong: look for dirt, a slipped clamp or another groove.")
    return said


def out_of_round(centre: Centre) -> bool:
    """Whether a harmonic stands out from its doubt."""
    return any(h.amplitude > h.u95 for h in centre.harmonics)


def level_at(centre: Centre, angle: _Array) -> _Array:
    """Return the fitted curve without the pitch at angles of the first set [m, zero of the readings]."""
    second = None if centre.table is None else np.zeros(angle.size, dtype=bool)
    made = design(angle, harmonics=1 + len(centre.harmonics), pitch=False, second_set=second)
    found = np.array([centre.fitted.value(name) for name in made.names])
    known = 0.0 if centre.known_pitch is None else float(pitch_at(centre, np.zeros(1))[0])
    return np.asarray(made.matrix @ found - known)


def pitch_at(centre: Centre, angle: _Array) -> _Array:
    """What the pitch adds to readings at angles, nothing at the middle of those read [m]."""
    turns = (angle - centre.readings.angle.mean()) / (2.0 * np.pi)
    return np.asarray(slope_sign(centre.face) * centre.pitch * turns)


def direction_playing(direction: float, face: Face) -> float:
    """Direction on the playing face of a direction on the face looked at, 0 to 360 [deg].

    Examples
    --------
    >>> direction_playing(30.0, Face.STAMPER), direction_playing(30.0, Face.RECORD)
    (330.0, 30.0)
    """
    return (-direction if face is Face.STAMPER else direction) % 360.0


def degrees_of(vector: PlaneVector) -> float:
    """Direction of a vector, 0 to 360 [deg]."""
    return atan2(vector.y, vector.x) / DEG % 360.0
