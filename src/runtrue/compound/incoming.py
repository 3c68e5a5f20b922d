"""A supplier's lot as it comes in: its certificate beside the plant's own tests, its shelf life, what to do with it."""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from math import hypot, sqrt

from runtrue.stats.checks import within
from runtrue.types import Finding, Measurement, Verdict

NEARLY_OVER = 0.1
"""Share of the shelf life below which a lot is used with care (our choice)."""
LEVEL_U95 = 1.0
"""U95 of a surface noise level where a recording's finding states none [dB] (our choice)."""


class Decision(StrEnum):
    """What to do with a lot."""

    ACCEPT = "accept"
    CARE = "use_with_care"
    REFUSE = "refuse"


@dataclass(frozen=True, slots=True, kw_only=True)
class Shelf:
    """Shelf life in days: ``life`` from the day it was made, ``age`` today, ``tested_at`` its age at the last test."""

    life: int
    age: int
    tested_at: int

    def __post_init__(self) -> None:
        """Refuse what lies before the day it was made."""
        within("shelf life", self.life, 1)
        within("age", self.age, 0)
        within("age at the test", self.tested_at, 0, self.age)

    @property
    def left(self) -> int:
        """Days left; below 0 when it is over."""
        return self.life - self.age

    @property
    def over_untested(self) -> bool:
        """Whether it is over and was not tested since."""
        return self.left < 0 and self.tested_at <= self.life


@dataclass(frozen=True, slots=True, kw_only=True)
class Decided:
    """The decision, None where it cannot be made yet, and why."""

    decision: Decision | None
    reasons: tuple[str, ...]


def disagreement(own: Measurement, certificate: Measurement) -> float | None:
    r"""How far the plant's value and the certificate's lie apart, in their common U95; above 1 they disagree.

    .. math:: E = |y_1 - y_2| / \sqrt{U_1^2 + U_2^2}

    None where one is not known or neither states a doubt.

    Examples
    --------
    >>> own = Measurement(quantity="moisture", value=0.0050, u95=0.0003)
    >>> disagreement(own, Measurement(quantity="moisture", value=0.0040, u95=0.0004))
    2.0

    References
    ----------
    .. [1] The normalised error of ISO 13528 and ISO/IEC 17043 (from memory, sure).
    """
    if not isinstance(own.value, float) or not isinstance(certificate.value, float):
        return None
    doubt = hypot(own.u95 or 0.0, certificate.u95 or 0.0)
    return abs(own.value - certificate.value) / doubt if doubt > 0.0 else None


def trial_level(trial: float, proved: float, *, trial_u95: float | None, proved_u95: float | None) -> Measurement:
    """Surface noise of the trial pressing less that of the proved compound, same stamper and rig [dB]."""
    u95 = hypot(*(LEVEL_U95 if u is None else u for u in (trial_u95, proved_u95)))
    return Measurement(quantity="trial_surface_difference", value=trial - proved, u95=u95)


def trial_ticks(trial: int, proved: int) -> Measurement:
    """Ticks a side of the trial pressing less those of the proved compound; both counts are Poisson."""
    return Measurement(
        quantity="trial_ticks_difference", value=float(trial - proved), u95=1.96 * sqrt(max(trial + proved, 1))
    )


def decide(
    findings: Sequence[Finding], *, apart: Sequence[str], family: Verdict | None, shelf: Shelf | None
) -> Decided:
    """Accept, use with care, or refuse.

    Parameters
    ----------
    findings : sequence of Finding
        The plant's values (the certificate's where the plant has none) beside the limits
    apart : sequence of str
        What the plant and the certificate disagree on, in words
    family : Verdict, optional
        Of the lot against earlier lots; None where it was not asked for
    shelf : Shelf, optional
        Shelf life

    Returns
    -------
    decided : Decided
        Refused on any fail, or over its shelf life untested. No decision while a limit's quantity is not measured, or
        without any limit. With care where anything is in doubt. Else accepted.

    Examples
    --------
    >>> decide((), apart=(), family=None, shelf=Shelf(life=100, age=120, tested_at=0)).reasons
    ('past its shelf life by 20 days and not tested since',)
    """
    failed = [f"{finding.measurement.quantity} fails" for finding in findings if finding.verdict is Verdict.FAIL]
    if shelf is not None and shelf.over_untested:
        failed.append(f"past its shelf life by {-shelf.left} days and not tested since")
    if failed:
        return Decided(decision=Decision.REFUSE, reasons=tuple(failed))
    open_ones = [f"{f.measurement.quantity} is not measured" for f in findings if f.measurement.value is None]
    if open_ones or not findings:
        return Decided(decision=None, reasons=tuple(open_ones) or ("no limit was laid beside it",))
    care = [f"{f.measurement.quantity} is too near its limit" for f in findings if f.verdict is Verdict.CANNOT_JUDGE]
    care += [f"certificate and own test disagree on {what}" for what in apart]
    if family is Verdict.FAIL:
        care.append("it is unlike the lots before")
    if shelf is not None and shelf.left < NEARLY_OVER * shelf.life:
        care.append(
            "its shelf life is over, tested since" if shelf.left < 0 else f"{shelf.left} days of shelf life left"
        )
    return Decided(decision=Decision.CARE if care else Decision.ACCEPT, reasons=tuple(care))
