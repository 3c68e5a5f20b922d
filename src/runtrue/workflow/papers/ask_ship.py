"""What the papers of packing, shipping, complaints, scrap and gauges ask."""

from dataclasses import dataclass

from runtrue.workflow.actions import Kind, ask
from runtrue.workflow.papers.paper import PaperRequest, one_of


def _places() -> list[str]:
    return [
        "pressed", "warm_up", "sample", "resting", "good", "held", "scrapped", "boxed", "shipped", "returned",
        "destroyed", "difference",
    ]  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class BoxRequest(PaperRequest):
    """Records of a pile go into a box."""

    box: str = ask(Kind.TEXT, "number of the box")
    run: str = ask(Kind.TEXT, "run the records come from")
    records: int = ask(Kind.WHOLE, "how many", low=1)
    pile: str | None = ask(Kind.TEXT, "pile they are taken from; any of the run if not given", default=None)
    end: str = ask(
        Kind.WORD, "end of the pile they are taken from; top if not given", choices=one_of("top", "bottom", "unknown"),
        default="top",
    )  # fmt: skip
    first: int | None = ask(Kind.WHOLE, "first closure in it, where known", default=None, low=1)
    last: int | None = ask(Kind.WHOLE, "last closure in it", default=None, low=1)
    slack: int = ask(Kind.WHOLE, "how many closures the ends may be off; 0 if not given", default=0, low=0, high=10000)


@dataclass(frozen=True, slots=True, kw_only=True)
class PalletRequest(PaperRequest):
    """A box goes on a pallet."""

    pallet: str = ask(Kind.TEXT, "number of the pallet")
    job: str = ask(Kind.TEXT, "job number of the box")
    box: str = ask(Kind.TEXT, "number of the box")


@dataclass(frozen=True, slots=True, kw_only=True)
class ConsignRequest(PaperRequest):
    """A pallet or a box leaves the house."""

    consignment: str = ask(Kind.TEXT, "number of the consignment")
    pallet: str | None = ask(Kind.TEXT, "pallet; or a box with its job", default=None)
    job: str | None = ask(Kind.TEXT, "job number of the box", default=None)
    box: str | None = ask(Kind.TEXT, "box that goes without pallet", default=None)
    customer: str | None = ask(Kind.TEXT, "who receives it", default=None)
    invoiced: int | None = ask(Kind.WHOLE, "records on the invoice", default=None, low=0)


@dataclass(frozen=True, slots=True, kw_only=True)
class ComplaintRequest(PaperRequest):
    """A reported fault."""

    complaint: str = ask(Kind.TEXT, "number of the complaint")
    job: str = ask(Kind.TEXT, "job number")
    fault: str = ask(Kind.TEXT, "the fault, in the words of who reports it")
    box: str | None = ask(Kind.TEXT, "box the copy came from, where known", default=None)
    consignment: str | None = ask(Kind.TEXT, "consignment it went with", default=None)
    sample: str | None = ask(Kind.TEXT, "name given to the copy that came back", default=None)
    side: str | None = ask(Kind.TEXT, "side", default=None)
    programme_s: float | None = ask(
        Kind.NUMBER, "where on the side, programme time", default=None, unit="s", low=0, high=7200
    )
    verdict: str | None = ask(
        Kind.WORD, "what the plant found", choices=one_of("ours", "not_ours", "open"), default=None
    )
    cause: str | None = ask(Kind.TEXT, "root cause", default=None)
    action: str | None = ask(Kind.TEXT, "what was done", default=None)
    run: str | None = ask(Kind.TEXT, "run of what came back; told by the box if not given", default=None)
    returned: int = ask(Kind.WHOLE, "records that came back; 0 if not given", default=0, low=0)


@dataclass(frozen=True, slots=True, kw_only=True)
class ScrapRequest(PaperRequest):
    """Scrap and regrind ledger."""

    material: str = ask(
        Kind.WORD, "what it is", choices=one_of("records", "flash", "purge", "biscuits", "labels_with_compound")
    )
    mass_kg: float = ask(Kind.NUMBER, "its mass", unit="kg", low=0, high=1e6)
    run: str | None = ask(Kind.TEXT, "run it comes from", default=None)
    records: int = ask(Kind.WHOLE, "scrapped records destroyed by this; 0 if not given", default=0, low=0)
    goes_to: str = ask(
        Kind.WORD, "where it went; regrind if not given", choices=one_of("regrind", "sold", "waste"), default="regrind"
    )
    batch: str | None = ask(Kind.TEXT, "batch the regrind went into", default=None)


@dataclass(frozen=True, slots=True, kw_only=True)
class MoveRequest(PaperRequest):
    """Records go from one place to another: held ones are cleared, samples destroyed, a box opened again."""

    run: str = ask(Kind.TEXT, "run")
    records: int = ask(Kind.WHOLE, "how many", low=1)
    source: str = ask(Kind.WORD, "where they were", choices=_places)
    target: str = ask(Kind.WORD, "where they are now", choices=_places)
    cause: str | None = ask(Kind.TEXT, "why", default=None)


@dataclass(frozen=True, slots=True, kw_only=True)
class CountRequest(PaperRequest):
    """A hand count: what differs from the book becomes an entry of its own."""

    run: str = ask(Kind.TEXT, "run")
    place: str = ask(Kind.WORD, "what was counted", choices=_places)
    records: int = ask(Kind.WHOLE, "how many are there", low=0)


@dataclass(frozen=True, slots=True, kw_only=True)
class GaugeRequest(PaperRequest):
    """Gauge and rig log: a gauge or a player against what it should read."""

    gauge: str = ask(Kind.TEXT, "gauge or player")
    quantity: str = ask(Kind.TEXT, "what it reads: mass, thickness, speed, ...")
    unit: str = ask(Kind.TEXT, "unit of the three numbers")
    reference: float = ask(Kind.NUMBER, "what it should read")
    reading: float = ask(Kind.NUMBER, "what it reads")
    tolerance: float = ask(Kind.NUMBER, "how far it may be off", low=0)
    u95: float | None = ask(Kind.NUMBER, "U95 of the comparison; the verdict needs it", default=None, low=0)
    stylus: str | None = ask(Kind.TEXT, "stylus on the player", default=None)
    stylus_hours: float | None = ask(Kind.NUMBER, "hours it has played", default=None, unit="h", low=0, high=100000)
    due: str | None = ask(Kind.TEXT, "date of the next check, ISO 8601", default=None)


@dataclass(frozen=True, slots=True, kw_only=True)
class SignRequest(PaperRequest):
    """Shift hand-over, signed."""

    shift: str = ask(Kind.TEXT, "name of the shift")
    since: str = ask(Kind.TEXT, "beginning of the shift, ISO 8601")
    upto: str | None = ask(Kind.TEXT, "its end, ISO 8601; now if not given", default=None)


@dataclass(frozen=True, slots=True, kw_only=True)
class WithdrawRequest(PaperRequest):
    """An entry was wrong and nothing takes its place."""

    entry: str = ask(Kind.TEXT, "number or id of the entry", positional=True)
