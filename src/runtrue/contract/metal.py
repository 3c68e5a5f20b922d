"""The object ``runtrue/metal-1``: pieces of metal, their family and incoming inspection, in shown units."""

from dataclasses import dataclass
from typing import Literal

from runtrue.contract.listening import NotJudged

METAL_SCHEMA: Literal["runtrue/metal-1"] = "runtrue/metal-1"
AdviceWord = Literal["accept", "sand", "measure first", "refuse"]


@dataclass(frozen=True, slots=True, kw_only=True)
class ThicknessFound:
    """Thickness as a tilted plane. ``wedge_um`` is from side to side of the disc, thickest toward ``toward_hour``.

    Its U95 is null with three readings only, which leave nothing to judge the scatter by.
    """

    mean_um: float
    wedge_um: float
    wedge_u95_um: float | None
    toward_hour: float
    thinnest_um: float
    thinnest_hour: float
    thinnest_radius_mm: float
    thickest_um: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """A visual fault or a repair by clock position and radius; ``recorded``: it lies in the recorded part."""

    what: str
    hour: float
    radius_mm: float
    recorded: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class PieceRow:
    """One piece. ``family`` is what it was grown from, oldest last; ``reasons`` worst first."""

    id: str
    matrix: str
    generation: Literal["father", "mother", "stamper"]
    family: list[str]
    grown: str
    bath: str
    kept: str
    state: str
    impressions: int
    back_um: float | None
    thickness: ThicknessFound | None
    faults: list[Mark]
    repairs: list[Mark]
    advice: AdviceWord
    reasons: list[str]
    not_looked_at: list[str]


@dataclass(frozen=True, slots=True, kw_only=True)
class MetalRules:
    """What the house asks of incoming metal, and who says so."""

    thinnest_um: float
    thickest_um: float
    wedge_um: float
    back_um: float
    owner: str
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class MetalInput:
    """The register that was read."""

    file: str
    sha256: str
    pieces: int


@dataclass(frozen=True, slots=True, kw_only=True)
class MetalResult:
    """The whole result; ``pieces`` in the order of the family, every piece after what it was grown from."""

    schema: Literal["runtrue/metal-1"] = METAL_SCHEMA
    pieces: list[PieceRow]
    rules: MetalRules
    not_judged: list[NotJudged]
    cautions: list[str]
    safety: list[str]
    input: MetalInput
    version: str
