"""What the papers of the office, the metal room, the compound room and the label drier ask."""

from dataclasses import dataclass

from runtrue.workflow.actions import Kind, ask
from runtrue.workflow.papers.paper import PaperRequest, one_of


def formats() -> list[str]:
    """Kinds of record."""
    from runtrue.disc.formats import FORMATS

    return list(FORMATS)


@dataclass(frozen=True, slots=True, kw_only=True)
class TicketRequest(PaperRequest):
    """Job ticket."""

    job: str = ask(Kind.TEXT, "job number")
    title: str = ask(Kind.TEXT, "title of the record")
    format: str = ask(Kind.WORD, "kind of record", choices=formats)
    ordered: int = ask(Kind.WHOLE, "records ordered", low=1)
    matrix_a: str = ask(Kind.TEXT, "matrix number of side A")
    matrix_b: str | None = ask(Kind.TEXT, "matrix number of side B", default=None)
    artist: str | None = ask(Kind.TEXT, "artist", default=None)
    customer: str | None = ask(Kind.TEXT, "who ordered it", default=None)
    catalogue: str | None = ask(Kind.TEXT, "catalogue number", default=None)
    overs_percent: float | None = ask(Kind.NUMBER, "over-pressing allowed", default=None, unit="%", low=0, high=100)
    mass_g: float | None = ask(Kind.NUMBER, "mass of a record", default=None, unit="g", low=5, high=1000)
    colour: str | None = ask(Kind.TEXT, "colour of the compound", default=None)
    regrind: str | None = ask(
        Kind.WORD, "whether regrind may go in", default=None, choices=one_of("allowed", "virgin_only")
    )
    due: str | None = ask(Kind.TEXT, "date due, ISO 8601", default=None)
    note: str | None = ask(Kind.TEXT, "anything else", default=None)


@dataclass(frozen=True, slots=True, kw_only=True)
class SideRequest(PaperRequest):
    """A further side of a job."""

    job: str = ask(Kind.TEXT, "job number")
    side: str = ask(Kind.TEXT, "label of the side: C, D, ...")
    matrix: str = ask(Kind.TEXT, "its matrix number")


@dataclass(frozen=True, slots=True, kw_only=True)
class MetalRequest(PaperRequest):
    """A piece for the metal register."""

    metal: str = ask(Kind.TEXT, "name of the piece as it is scribed: QRW-0417-A-M1-S2")
    matrix: str = ask(Kind.TEXT, "matrix number of its side")
    generation: str = ask(Kind.WORD, "what it is", choices=one_of("cut", "father", "mother", "stamper"))
    parent: str | None = ask(Kind.TEXT, "the piece it was grown from", default=None)
    grown: str | None = ask(Kind.TEXT, "date it was grown or cut, ISO 8601", default=None)
    bath: str | None = ask(Kind.TEXT, "plating bath", default=None)
    thickness_um: float | None = ask(Kind.NUMBER, "mean thickness", default=None, unit="μm", low=10, high=5000)
    impressions: int = ask(Kind.WHOLE, "impressions it had made when it came; 0 if not given", default=0, low=0)
    owner: str | None = ask(Kind.TEXT, "whose it is", default=None)
    kept: str | None = ask(Kind.TEXT, "where it is kept", default=None)
    inspector: str | None = ask(Kind.TEXT, "who inspected it", default=None)
    note: str | None = ask(Kind.TEXT, "anything else", default=None)


@dataclass(frozen=True, slots=True, kw_only=True)
class CardRequest(PaperRequest):
    """A line on the card of a stamper or mother."""

    metal: str = ask(Kind.TEXT, "name of the piece")
    state: str = ask(
        Kind.WORD,
        "what became of it",
        choices=one_of("new", "on_press", "rested", "repaired", "heard_after_repair", "retired", "scrapped"),
    )
    kept: str | None = ask(Kind.TEXT, "where it is kept", default=None)
    inspector: str | None = ask(Kind.TEXT, "who inspected or repaired it", default=None)
    programme_s: float | None = ask(
        Kind.NUMBER, "programme time of the repair", default=None, unit="s", low=0, high=7200
    )
    angle_deg: float | None = ask(Kind.NUMBER, "angle of the repair", default=None, unit="deg", low=0, high=360)
    note: str | None = ask(Kind.TEXT, "what was done or found", default=None)


@dataclass(frozen=True, slots=True, kw_only=True)
class BatchRequest(PaperRequest):
    """Head of a compound batch sheet."""

    batch: str = ask(Kind.TEXT, "batch number")
    formula: str = ask(Kind.TEXT, "formula it is made by")
    mass_kg: float = ask(Kind.NUMBER, "mass of the batch", unit="kg", low=0.001, high=1e6)
    regrind_percent: float | None = ask(Kind.NUMBER, "own regrind in it", default=None, unit="%", low=0, high=100)
    mixed_by: str | None = ask(Kind.TEXT, "who mixed it", default=None)
    note: str | None = ask(Kind.TEXT, "anything else", default=None)


@dataclass(frozen=True, slots=True, kw_only=True)
class WeighingRequest(PaperRequest):
    """One ingredient on a batch sheet."""

    batch: str = ask(Kind.TEXT, "batch number")
    ingredient: str = ask(Kind.TEXT, "ingredient")
    lot: str = ask(Kind.TEXT, "supplier's lot")
    mass_kg: float = ask(Kind.NUMBER, "mass weighed", unit="kg", low=0, high=1e6)
    target_kg: float | None = ask(Kind.NUMBER, "mass set", default=None, unit="kg", low=0, high=1e6)
    scale: str | None = ask(Kind.TEXT, "scale used", default=None)
    operator: str | None = ask(Kind.TEXT, "who weighed", default=None)
    checked_by: str | None = ask(Kind.TEXT, "who checked", default=None)


@dataclass(frozen=True, slots=True, kw_only=True)
class IssueRequest(PaperRequest):
    """Compound taken to a press."""

    batch: str = ask(Kind.TEXT, "batch number")
    run: str = ask(Kind.TEXT, "run it is for")
    mass_kg: float = ask(Kind.NUMBER, "mass taken, less what was brought back", unit="kg", low=-1e6, high=1e6)


@dataclass(frozen=True, slots=True, kw_only=True)
class LabelsRequest(PaperRequest):
    """A lot of labels from the printer."""

    lot: str = ask(Kind.TEXT, "label lot")
    job: str = ask(Kind.TEXT, "job number")
    side: str = ask(Kind.TEXT, "side the labels are for")
    received: int = ask(Kind.WHOLE, "labels received", low=0)
    printer: str | None = ask(Kind.TEXT, "who printed them", default=None)
    note: str | None = ask(Kind.TEXT, "anything else", default=None)


@dataclass(frozen=True, slots=True, kw_only=True)
class DryingRequest(PaperRequest):
    """Drying log of a label lot with its weight-loss check."""

    lot: str = ask(Kind.TEXT, "label lot")
    before_g: float = ask(Kind.NUMBER, "mass of the sample stack before the check in the oven", unit="g", low=0.01,
                          high=1e5)  # fmt: skip
    after_g: float = ask(Kind.NUMBER, "mass of the same stack after it", unit="g", low=0.01, high=1e5)
    scale_u95_g: float | None = ask(
        Kind.NUMBER, "U95 of one weighing; the verdict needs it", default=None, unit="g", low=0, high=1000
    )
    limit_percent: float | None = ask(
        Kind.NUMBER, "most that dry labels may lose", default=None, unit="%", low=0, high=50
    )
    limit_owner: str | None = ask(Kind.TEXT, "who sets the limit; you, if not given", default=None)
    oven: str | None = ask(Kind.TEXT, "oven", default=None)
    oven_degc: float | None = ask(Kind.NUMBER, "temperature of the oven", default=None, unit="°C", low=0, high=300)
    hours: float | None = ask(
        Kind.NUMBER, "time in the oven before the check", default=None, unit="h", low=0, high=1000
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class ReconcileRequest(PaperRequest):
    """Label reconciliation of a lot at a run."""

    lot: str = ask(Kind.TEXT, "label lot")
    run: str = ask(Kind.TEXT, "run the labels went to")
    issued: int = ask(Kind.WHOLE, "labels issued to the press", low=0)
    used: int = ask(Kind.WHOLE, "labels used: on records, good or not", low=0)
    spoiled: int = ask(Kind.WHOLE, "labels spoiled", low=0)
    returned: int = ask(Kind.WHOLE, "labels brought back", low=0)
