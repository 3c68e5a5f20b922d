r"""The punch's own axis: its bias from the table's, learnt from checks after punching, and the machine's x and y.

A stamper centred on the table and found, after the punch, with its hole at d_i from where it was meant to be says where
the punch's axis lies. From m checks the next one will lie within

.. math:: b = \bar d, \quad C = s^2 (1 + 1/m) I, \quad s^2 = \frac{\sum |d_i - \bar d|^2}{2 (m - 1)}

of it, with 2 (m - 1) degrees of freedom, the same in x and y.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import cos, hypot, inf, sin

from runtrue.errors import InputError
from runtrue.units import UM

UNKNOWN_SPREAD = 10.0 * UM
"""Standard deviation per axis where a single check or a stated bias without U95 is all there is [m]. Our choice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PunchAxis:
    """Punch axis from the table's axis (x, y) [m] with covariance (xx, xy, yy) [m2], freedom and source."""

    x: float
    y: float
    covariance: tuple[float, float, float]
    dof: float = inf
    source: str

    def turned(self, machine: "Machine") -> "PunchAxis":
        """The same axis in the frame of the face; given in the machine's."""
        x, y = machine.to_face(self.x, self.y)
        return PunchAxis(x=x, y=y, covariance=self.covariance, dof=self.dof, source=self.source)


@dataclass(frozen=True, slots=True, kw_only=True)
class Machine:
    """How the punch's own axes lie on the face looked at.

    +x of the machine points to ``x_axis`` [rad] of the face, +y a quarter turn on, against the clock, or with it when
    ``mirrored``.
    """

    x_axis: float = 0.0
    mirrored: bool = False

    def to_machine(self, x: float, y: float) -> tuple[float, float]:
        """A vector of the face in the machine's axes.

        Examples
        --------
        >>> from math import pi
        >>> [round(v, 9) + 0.0 for v in Machine(x_axis=pi / 2).to_machine(0.0, 1.0)]
        [1.0, 0.0]
        """
        along = x * cos(self.x_axis) + y * sin(self.x_axis)
        across = -x * sin(self.x_axis) + y * cos(self.x_axis)
        return along, -across if self.mirrored else across

    def to_face(self, x: float, y: float) -> tuple[float, float]:
        """A vector of the machine's axes on the face."""
        across = -y if self.mirrored else y
        return (
            x * cos(self.x_axis) - across * sin(self.x_axis),
            x * sin(self.x_axis) + across * cos(self.x_axis),
        )


def axis_from_checks(checks: Sequence[tuple[float, float]]) -> PunchAxis:
    """Learn the punch's axis from checks after punching.

    Parameters
    ----------
    checks : sequence of (x, y)
        Where the hole came to lie from where it was meant to be, in the machine's axes [m]; the newest may drift, so
        give those since the last work on the punch

    Returns
    -------
    axis : PunchAxis
        With the uncertainty of the next punching, the spread of one punching included

    Examples
    --------
    >>> axis = axis_from_checks([(18e-6, 1e-6), (20e-6, -1e-6), (16e-6, 0.0)])
    >>> axis.x * 1e6, axis.dof
    (18.0, 4.0)
    """
    count = len(checks)
    if count == 0:
        raise InputError("checks: give one check after punching or more")
    x = sum(c[0] for c in checks) / count
    y = sum(c[1] for c in checks) / count
    if count == 1:
        variance = 2.0 * UNKNOWN_SPREAD**2
        return PunchAxis(x=x, y=y, covariance=(variance, 0.0, variance), source="one check after punching")
    s2 = sum((c[0] - x) ** 2 + (c[1] - y) ** 2 for c in checks) / (2.0 * (count - 1))
    variance = s2 * (1.0 + 1.0 / count)
    return PunchAxis(
        x=x,
        y=y,
        covariance=(variance, 0.0, variance),
        dof=2.0 * (count - 1),
        source=f"{count} checks after punching",
    )


def stated_axis(x: float, y: float, u95: float | None) -> PunchAxis:
    """Punch axis as stated by the house; ``u95`` is the radius of the circle that holds it [m]."""
    deviation = UNKNOWN_SPREAD if u95 is None else u95 / 2.447746830680816
    return PunchAxis(x=x, y=y, covariance=(deviation**2, 0.0, deviation**2), source="stated")


def aim_words(axis: PunchAxis) -> str:
    """Say where to aim so that the hole comes right: the other way than the punch strays, in the machine's axes.

    Examples
    --------
    >>> aim_words(axis_from_checks([(-18e-6, 0.0)]))
    'aim 18 μm to +x'
    """
    parts = [
        f"{abs(v) / UM:.0f} μm to {'−' if v > 0 else '+'}{name}"
        for name, v in (("x", axis.x), ("y", axis.y))
        if abs(v) >= 0.5 * UM
    ]
    return f"aim {' and '.join(parts)}" if hypot(axis.x, axis.y) >= 0.5 * UM and parts else "aim straight"
