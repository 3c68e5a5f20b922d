"""What the listening test is told about disc, player and placing. SI units."""

from dataclasses import dataclass

from runtrue.disc.arm import Arm


@dataclass(frozen=True, slots=True, kw_only=True)
class Hearing:
    """Who listens: ``level`` at which the programme's rms is played [dB SPL], how far the just-heard threshold lies
    above the computed one (``shift`` [dB]) and over how much it is spread (``spread`` [dB], scale of a logistic).

    75 dB is a usual level in a living room and 3 dB a usual spread of such thresholds (common practice, no source).
    """

    level: float = 75.0
    shift: float = 0.0
    spread: float = 3.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting:
    """Knowledge that comes from outside the sound.

    ``turn_frequency`` nominal turns per second [Hz]; radii and their U95 [m], ``end_radius`` None when not given (then
    start less turns times ``pitch`` [m], spread ``pitch_spread`` relative); ``player_swing`` the radius that holds the
    player's own peak once-a-turn speed swing with 95 % [-]; ``hole`` and ``spindle`` least and largest diameter [m];
    ``hearing`` whose ears decide what is audible; ``quick`` stops at the time line: nothing is subtracted.
    """

    turn_frequency: float
    start_radius: float
    start_radius_u95: float
    end_radius: float | None
    end_radius_u95: float
    pitch: float
    pitch_spread: float
    arm: Arm
    player_swing: float
    hole: tuple[float, float]
    spindle: tuple[float, float]
    hearing: Hearing = Hearing()
    quick: bool = False

    @property
    def slack(self) -> tuple[float, float]:
        """Least and largest radial gap between hole and spindle [m]."""
        least = max(0.0, self.hole[0] - self.spindle[1]) / 2.0
        return least, max(least, (self.hole[1] - self.spindle[0]) / 2.0)
