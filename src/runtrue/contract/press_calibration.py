"""The object ``runtrue/press-calibration-1``: what a thermocouple log says of a press, every key always present.

``posterior`` is what `press shorten` and `press cycle` take: means and covariance of the natural logarithm of each
input's factor over the value in the press file.
"""

from dataclasses import dataclass
from typing import Literal

from runtrue.contract.listening import NotJudged
from runtrue.contract.press_cycle import Range

PRESS_CALIBRATION_SCHEMA: Literal["runtrue/press-calibration-1"] = "runtrue/press-calibration-1"


@dataclass(frozen=True, slots=True, kw_only=True)
class CalibratedInput:
    """One input: as the press file has it, as fitted with its 95 % limits, in ``unit``; the half-widths in percent.

    ``told``: the log sharpened it; where it did not, the limits are those from before the log.
    """

    input: str
    words: str
    unit: str
    stated: float
    fitted: Range
    before_percent: float
    after_percent: float
    told: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class FittedAlong:
    """What was fitted along so that it is not taken for a film: the log's clock, offsets, starts."""

    words: str
    unit: str
    value: float


@dataclass(frozen=True, slots=True, kw_only=True)
class LogPlace:
    """One thermocouple: readings beside the fit, at ``time_s`` of the log."""

    place: str
    measured_degc: list[float]
    fitted_degc: list[float]


@dataclass(frozen=True, slots=True, kw_only=True)
class CalibrationLog:
    """The log that was used."""

    file: str
    sha256: str
    readings: int
    step_s: float
    cycles: int


@dataclass(frozen=True, slots=True, kw_only=True)
class PosteriorTable:
    """Means and covariance of ln factors, in the order of ``inputs``, and degrees of freedom.

    ``draws``: sets of them that are equally likely after the log; odds are worked with these.
    """

    inputs: list[str]
    mean: list[float]
    covariance: list[list[float]]
    dof: float
    draws: list[list[float]]


@dataclass(frozen=True, slots=True, kw_only=True)
class PressCalibration:
    """The whole result. ``matter`` is the digest of the press file's layers, to which the calibration belongs.

    ``cannot_tell_apart`` are pairs whose errors go together; ``neighbours_correlation`` of the residuals, 0 for noise.
    """

    schema: Literal["runtrue/press-calibration-1"] = PRESS_CALIBRATION_SCHEMA
    name: str
    file: str
    sha256: str
    matter: str
    log: CalibrationLog
    inputs: list[CalibratedInput]
    cannot_tell_apart: list[tuple[str, str]]
    scatter_k: float
    neighbours_correlation: float
    along: list[FittedAlong]
    time_s: list[float]
    places: list[LogPlace]
    posterior: PosteriorTable
    advice: str
    not_judged: list[NotJudged]
    cautions: list[str]
    safety: list[str]
    version: str
