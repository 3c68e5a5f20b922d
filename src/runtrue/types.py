"""Values that cross from one room to another. All frozen, all in SI units."""

from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum
from math import hypot, isfinite

from runtrue.errors import InputError
from runtrue.quantities import quantity


class About(StrEnum):
    """Whose property a measurement is."""

    DISC = "disc"
    RIG = "rig"


class Channel(StrEnum):
    """Where on the groove something is: a wall, or both in phase or against each other."""

    LEFT = "L"
    RIGHT = "R"
    LATERAL = "lateral"
    VERTICAL = "vertical"


class Verdict(StrEnum):
    """What a judgement says. "Could not measure" is never a pass."""

    PASS = "pass"
    FAIL = "fail"
    CANNOT_JUDGE = "cannot_judge"


@dataclass(frozen=True, slots=True, kw_only=True)
class Address:
    """A place on a side: what is stored. Turn, angle and radius follow from ``disc.Frame.locate``."""

    side: str
    programme_time: float
    channel: Channel | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class PlaneVector:
    """A vector in the plane of the disc with its distribution.

    The error is a Gaussian with covariance ``(xx, xy, yy)`` [m2] plus a displacement that is uniform over a disc whose
    radius is itself uniform from ``slack[0]`` to ``slack[1]`` [m] (a loose placing; (0, 0) for none). x points to
    0 deg and y to 90 deg of the frame the vector is stated in. ``u95`` is the radius of the circle about (x, y) that
    covers the true vector 95 times in 100 [m].
    """

    x: float
    y: float
    covariance: tuple[float, float, float]
    slack: tuple[float, float] = (0.0, 0.0)
    u95: float

    @property
    def length(self) -> float:
        """Distance of the estimate from zero [m]."""
        return hypot(self.x, self.y)


@dataclass(frozen=True, slots=True, kw_only=True)
class Measurement:
    """One measured quantity in SI units.

    ``value`` is None when it could not be measured; then ``reason`` says why. ``u95`` is the half-width of the
    interval that covers the truth 95 times in 100 (for a plane vector the radius of the covering circle); None for
    a count, which is exact.
    """

    quantity: str
    value: float | PlaneVector | None
    u95: float | None = None
    about: About = About.DISC
    address: Address | None = None
    conditions: str = ""
    cautions: tuple[str, ...] = ()
    reason: str = ""

    def __post_init__(self) -> None:
        """Refuse what no reader could use."""
        quantity(self.quantity)
        if self.value is None and not self.reason:
            raise InputError(f"measurement of {self.quantity}: a missing value needs a reason")
        if isinstance(self.value, float) and not isfinite(self.value):
            raise InputError(f"measurement of {self.quantity}: {self.value} is no number; use None with a reason")
        if self.u95 is not None and not self.u95 >= 0.0:
            raise InputError(f"measurement of {self.quantity}: u95 must be 0 or more, got {self.u95}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """When a conformance probability is a pass and when a fail."""

    pass_at_least: float = 0.95
    fail_at_most: float = 0.05

    def __post_init__(self) -> None:
        """Keep the two thresholds in order."""
        if not 0.0 <= self.fail_at_most < self.pass_at_least <= 1.0:
            raise InputError(
                f"rule: fail ({self.fail_at_most}) must be below pass ({self.pass_at_least}), both from 0 to 1"
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """A bound on a quantity, in SI units, with the one who answers for it."""

    quantity: str
    lower: float | None = None
    upper: float | None = None
    meaning: str = ""
    owner: str
    source: str
    date: str
    rule: Rule = Rule()

    def __post_init__(self) -> None:
        """Refuse a limit that bounds nothing."""
        quantity(self.quantity)
        if self.lower is None and self.upper is None:
            raise InputError(f"limit on {self.quantity}: give lower, upper or both")
        if self.lower is not None and self.upper is not None and self.lower > self.upper:
            raise InputError(f"limit on {self.quantity}: lower {self.lower} is above upper {self.upper}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """A measurement beside its limit. ``conformance_probability`` is None when nothing was measured."""

    measurement: Measurement
    limit: Limit
    conformance_probability: float | None
    verdict: Verdict


@dataclass(frozen=True, slots=True, kw_only=True)
class Analysis:
    """What stands once over the measurements of one action."""

    id: str
    action: str
    input_digests: tuple[str, ...]
    settings_digest: str
    method: str
    version: str
    at: str


Progress = Callable[[str, float], None]
"""Called with what is being done and the share that is done, 0 to 1."""


def silent(_what: str, _share: float) -> None:
    """Progress that nobody watches."""
