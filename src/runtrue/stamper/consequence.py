"""What an offset does to the pitch of the music along a side, and whether published thresholds call it heard."""

from dataclasses import dataclass
from math import log2

from runtrue.errors import InputError

THRESHOLDS: tuple[tuple[str, float, str], ...] = (
    ("in a room", 0.00015, "0.03 % peak to peak, wow in a room (facts read in trade literature)"),
    ("free field", 0.0015, "0.3 % peak to peak, wow in free field (facts read in trade literature)"),
    ("pure tones", 0.0035, "0.7 % peak to peak at 4 Hz, Zwicker and Fastl, Psychoacoustics, ch. 7 (from memory)"),
)
"""Name, peak deviation that is just heard [-], source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Heard:
    """Whether a published threshold is reached. ``margin`` is deviation over threshold."""

    threshold: str
    peak: float
    source: str
    margin: float

    @property
    def heard(self) -> bool:
        """At or above the threshold."""
        return self.margin >= 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class PitchSwing:
    """Peak speed deviation [-] and the whole swing in cents at one radius [m]."""

    radius: float
    peak: float
    cents: float
    heard: tuple[Heard, ...]


def pitch_swing(offset: float, radius: float) -> PitchSwing:
    r"""Pitch swing of a groove that runs off centre.

    .. math:: m = e / r, \quad c = 1200 \log_2 \frac{1 + m}{1 - m}

    Parameters
    ----------
    offset : float
        e, 0 or more and below the radius [m]
    radius : float
        r, above 0 [m]

    Examples
    --------
    >>> swing = pitch_swing(0.2e-3, 60.3e-3)
    >>> swing.peak * 100, swing.cents
    (0.3317, 11.48)
    >>> [h.heard for h in swing.heard]
    [True, True, False]

    References
    ----------
    .. [1] Plane geometry; a fine-groove side within IEC's 0.2 mm just stays below +-0.35 % at its inner end.
    """
    if not 0.0 <= offset < radius:
        raise InputError(f"offset must be 0 or more and below the radius ({radius:g} m), got {offset:g} m")
    peak = offset / radius
    return PitchSwing(
        radius=radius,
        peak=peak,
        cents=1200.0 * log2((1.0 + peak) / (1.0 - peak)),
        heard=tuple(Heard(threshold=n, peak=p, source=s, margin=peak / p) for n, p, s in THRESHOLDS),
    )
