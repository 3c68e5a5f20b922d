"""The object ``runtrue/study-1``: repeatability of operators and lens, in shown units, every key always present."""

from dataclasses import dataclass
from typing import Literal

from runtrue.contract.listening import NotJudged

STUDY_SCHEMA: Literal["runtrue/study-1"] = "runtrue/study-1"


@dataclass(frozen=True, slots=True, kw_only=True)
class AxisStudy:
    """Standard deviations along one axis of the face: same person again, between people, both, between stampers.

    ``percent`` is 100 gauge over total; ``categories`` of stampers that can be told apart; ``pooled``: the people do
    not differ from stamper to stamper, so that part went into the repeatability.
    """

    repeatability_um: float
    repeatability_low_um: float
    repeatability_high_um: float
    reproducibility_um: float
    gauge_um: float
    stampers_um: float
    total_um: float
    percent: float
    categories: int
    word: Literal["good", "conditional", "poor"]
    pooled: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class OperatorStudy:
    """One person: mean departure from all people's mean (bias) and scatter from one centring to the next."""

    operator: str
    bias_x_um: float
    bias_y_um: float
    scatter_um: float


@dataclass(frozen=True, slots=True, kw_only=True)
class StudyInput:
    """The file that was judged."""

    file: str
    sha256: str
    operators: int
    stampers: int
    repeats: int


@dataclass(frozen=True, slots=True, kw_only=True)
class CentringStudyResult:
    """The whole result.

    ``one_centring_u95_um`` is the radius of the circle that holds the true offset 95 times in 100 when anybody centres
    once; ``lens_noise_um`` the scatter of one reading, for ``stamper centre --lens-noise-um``; null where the file
    holds offsets and no readings. ``share_of_limit_percent`` is that radius over the limit.
    """

    schema: Literal["runtrue/study-1"] = STUDY_SCHEMA
    x: AxisStudy
    y: AxisStudy
    operators: list[OperatorStudy]
    one_centring_u95_um: float
    lens_noise_um: float | None
    lens_noise_spare: int | None
    limit_offset_um: float | None
    share_of_limit_percent: float | None
    not_judged: list[NotJudged]
    cautions: list[str]
    safety: list[str]
    input: StudyInput
    version: str
