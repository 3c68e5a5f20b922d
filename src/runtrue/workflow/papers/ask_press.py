"""What the papers at the press ask."""

from dataclasses import dataclass

from runtrue.workflow.actions import Kind, ask
from runtrue.workflow.papers.paper import PaperRequest, one_of

_CHECKED = one_of("pass", "fail", "not_checked")


def _scrapped_from() -> list[str]:
    return ["pressed", "resting", "good", "held", "warm_up", "returned", "sample", "boxed"]


def changes() -> list[str]:
    """What may change within a run."""
    return ["stamper_a", "stamper_b", "batch", "label_a", "label_b", "settings", "operator"]


@dataclass(frozen=True, slots=True, kw_only=True)
class SetUpRequest(PaperRequest):
    """Set-up sheet: begins a run."""

    run: str = ask(Kind.TEXT, "name for the run")
    job: str = ask(Kind.TEXT, "job number")
    press: str = ask(Kind.TEXT, "press")
    stamper_a: str = ask(Kind.TEXT, "stamper of side A")
    stamper_b: str | None = ask(Kind.TEXT, "stamper of side B; none for a blank back", default=None)
    cavity: str = ask(Kind.TEXT, "cavity, where the press has two; 1 if not given", default="1")
    counter: int = ask(Kind.WHOLE, "what the press counter reads now; 0 if not given", default=0, low=0)
    batch: str | None = ask(Kind.TEXT, "compound batch", default=None)
    label_a: str | None = ask(Kind.TEXT, "label lot of side A", default=None)
    label_b: str | None = ask(Kind.TEXT, "label lot of side B", default=None)
    operator: str | None = ask(Kind.TEXT, "press operator", default=None)
    settings: str | None = ask(Kind.TEXT, "settings, in the plant's own words: 'steam 9 s, water 14 s'", default=None)
    mould: str | None = ask(Kind.TEXT, "mould pair", default=None)
    side_a: str = ask(Kind.TEXT, "label of the side that stamper A presses; A if not given", default="A")
    side_b: str = ask(Kind.TEXT, "label of the side that stamper B presses; B if not given", default="B")
    scribing_a: str | None = ask(
        Kind.TEXT, "matrix number as read on stamper A; the identity check needs it", default=None
    )
    scribing_b: str | None = ask(Kind.TEXT, "matrix number as read on stamper B", default=None)
    clearance: str = ask(
        Kind.WORD, "line clearance: nothing of the former job is left", choices=_CHECKED, default="not_checked"
    )
    cleared_by: str | None = ask(Kind.TEXT, "who cleared the line", default=None)
    note: str | None = ask(Kind.TEXT, "anything else", default=None)


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangeRequest(PaperRequest):
    """Something on the press was changed."""

    run: str = ask(Kind.TEXT, "run")
    what: str = ask(Kind.WORD, "what was changed", choices=changes)
    to: str = ask(Kind.TEXT, "what is on the press from then on")
    closure: int | None = ask(Kind.WHOLE, "first closure with it; the next one if not given", default=None, low=1)
    slack: int = ask(Kind.WHOLE, "how many closures that may be off; 0 if not given", default=0, low=0, high=10000)
    scribing: str | None = ask(Kind.TEXT, "matrix number as read on a new stamper", default=None)


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadRequest(PaperRequest):
    """Run sheet: the press counter was read."""

    counter: int = ask(Kind.WHOLE, "what the counter reads", low=0)
    run: str | None = ask(Kind.TEXT, "run; or name the press", default=None)
    press: str | None = ask(Kind.TEXT, "press: all its cavities count on", default=None)
    set_to: int | None = ask(Kind.WHOLE, "the counter was then set to this, most often 0", default=None, low=0)


@dataclass(frozen=True, slots=True, kw_only=True)
class EndRequest(PaperRequest):
    """A run is over."""

    run: str = ask(Kind.TEXT, "run")
    counter: int | None = ask(
        Kind.WHOLE, "what the counter reads at the end; the last reading if not given", default=None, low=0
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class BlankRequest(PaperRequest):
    """The press closed on nothing."""

    run: str = ask(Kind.TEXT, "run")
    first: int = ask(Kind.WHOLE, "first blank closure", low=1)
    last: int | None = ask(Kind.WHOLE, "last one; the first if not given", default=None, low=1)
    slack: int = ask(Kind.WHOLE, "how many closures the ends may be off; 0 if not given", default=0, low=0, high=10000)


@dataclass(frozen=True, slots=True, kw_only=True)
class WarmUpRequest(PaperRequest):
    """Warm-up records, discarded."""

    run: str = ask(Kind.TEXT, "run")
    first: int = ask(Kind.WHOLE, "first closure of them", low=1)
    last: int = ask(Kind.WHOLE, "last closure of them", low=1)


@dataclass(frozen=True, slots=True, kw_only=True)
class StopRequest(PaperRequest):
    """Run sheet: the press stood."""

    run: str = ask(Kind.TEXT, "run")
    minutes: float = ask(Kind.NUMBER, "how long", unit="min", low=0, high=100000)
    cause: str = ask(Kind.TEXT, "why")
    closure: int | None = ask(Kind.WHOLE, "after this closure; the last one counted if not given", default=None, low=0)


@dataclass(frozen=True, slots=True, kw_only=True)
class RejectRequest(PaperRequest):
    """Run sheet: records rejected, by reason."""

    run: str = ask(Kind.TEXT, "run")
    records: int = ask(Kind.WHOLE, "how many", low=1)
    cause: str = ask(Kind.TEXT, "why: non-fill, off-centre, stain, ...")
    source: str = ask(
        Kind.WORD, "where they were; pressed (fresh off the press) if not given", choices=_scrapped_from,
        default="pressed",
    )  # fmt: skip
    to: str = ask(Kind.WORD, "held for a decision, or scrapped; scrapped if not given",
                  choices=one_of("scrapped", "held"), default="scrapped")  # fmt: skip
    first: int | None = ask(Kind.WHOLE, "first closure they come from, where known", default=None, low=1)
    last: int | None = ask(Kind.WHOLE, "last closure they come from", default=None, low=1)


@dataclass(frozen=True, slots=True, kw_only=True)
class FirstOffRequest(PaperRequest):
    """First-off card: signed by quality, not by the operator."""

    run: str = ask(Kind.TEXT, "run")
    closure: int = ask(Kind.WHOLE, "closure of the record that was checked", low=1)
    identity: str = ask(
        Kind.WORD, "scribing, label and ticket agree on both sides", choices=_CHECKED, default="not_checked"
    )
    centre: str = ask(Kind.WORD, "centred", choices=_CHECKED, default="not_checked")
    fill: str = ask(Kind.WORD, "filled", choices=_CHECKED, default="not_checked")
    flatness: str = ask(Kind.WORD, "flat", choices=_CHECKED, default="not_checked")
    edge: str = ask(Kind.WORD, "edge", choices=_CHECKED, default="not_checked")
    labels: str = ask(Kind.WORD, "labels in place", choices=_CHECKED, default="not_checked")
    heard: str = ask(
        Kind.WORD, "start, loudest, quietest, end and run-outs heard", choices=_CHECKED, default="not_checked"
    )
    mass_g: float | None = ask(Kind.NUMBER, "its mass", default=None, unit="g", low=1, high=2000)
    thickness_mm: float | None = ask(Kind.NUMBER, "its thickness", default=None, unit="mm", low=0.1, high=20)
    note: str | None = ask(Kind.TEXT, "anything else", default=None)


@dataclass(frozen=True, slots=True, kw_only=True)
class SampleRequest(PaperRequest):
    """A record taken from the run to be looked at or heard."""

    run: str = ask(Kind.TEXT, "run")
    sample: str = ask(Kind.TEXT, "name of the copy")
    closure: int | None = ask(Kind.WHOLE, "its closure; the last one counted if not given", default=None, low=1)
    slack: int = ask(Kind.WHOLE, "how many closures that may be off; 0 if not given", default=0, low=0, high=10000)
    purpose: str = ask(
        Kind.WORD,
        "what for; listening if not given",
        choices=one_of("listening", "looking", "test_copy", "retained", "measuring"),
        default="listening",
    )
    source: str = ask(
        Kind.WORD, "where it was taken from; pressed (fresh off the press) if not given",
        choices=one_of("pressed", "resting", "good", "held"), default="pressed",
    )  # fmt: skip
    verdict: str | None = ask(Kind.WORD, "what was found", choices=one_of("pass", "fail", "cannot_judge"), default=None)
    faults: str | None = ask(Kind.TEXT, "faults in words", default=None)
    mass_g: float | None = ask(Kind.NUMBER, "its mass", default=None, unit="g", low=1, high=2000)
    thickness_mm: float | None = ask(Kind.NUMBER, "its thickness", default=None, unit="mm", low=0.1, high=20)


@dataclass(frozen=True, slots=True, kw_only=True)
class PlayRequest(PaperRequest):
    """A placing of a sample on a player."""

    sample: str = ask(Kind.TEXT, "name of the copy")
    side: str | None = ask(Kind.TEXT, "side played", default=None)
    placing: int = ask(Kind.WHOLE, "which placing; 1 if not given", default=1, low=1, high=1000)
    push: str | None = ask(
        Kind.WORD, "way it was pushed against the spindle", choices=one_of("away", "toward"), default=None
    )
    player: str | None = ask(Kind.TEXT, "player", default=None)
    stylus: str | None = ask(Kind.TEXT, "stylus", default=None)
    capture: str | None = ask(Kind.TEXT, "digest (SHA-256) of the recording", default=None)
    analysis: str | None = ask(Kind.TEXT, "key of its analysis", default=None)
    washed: str | None = ask(
        Kind.WORD, "whether it was washed before this placing", choices=one_of("yes", "no"), default=None
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class HeardRequest(PaperRequest):
    """A listener's word on a place of a recording."""

    analysis: str = ask(Kind.TEXT, "key of the recording's analysis")
    programme_s: float = ask(Kind.NUMBER, "where, programme time", unit="s", low=0, high=7200)
    word: str = ask(Kind.WORD, "what the listener says", choices=one_of("heard", "not_heard", "objectionable"))


@dataclass(frozen=True, slots=True, kw_only=True)
class PileRequest(PaperRequest):
    """Pile tag: a pile is full, the counter is read, the discs rest."""

    run: str = ask(Kind.TEXT, "run")
    pile: str = ask(Kind.TEXT, "number of the pile")
    counter: int | None = ask(
        Kind.WHOLE, "what the press counter reads now; the pile then ends at that closure", default=None, low=0,
    )  # fmt: skip
    first: int | None = ask(
        Kind.WHOLE, "first closure on it; the one after the pile before if not given", default=None, low=1,
    )  # fmt: skip
    last: int | None = ask(Kind.WHOLE, "last closure on it; the last one counted if not given", default=None, low=1)
    slack: int = ask(Kind.WHOLE, "how many closures the ends may be off; 0 if not given", default=0, low=0, high=10000)
    records: int | None = ask(
        Kind.WHOLE, "records on it by hand count; by the counter if not given", default=None, low=0
    )
    direction: str = ask(
        Kind.WORD,
        "which record lies where; first_at_bottom if not given",
        choices=one_of("first_at_bottom", "first_on_top", "unknown"),
        default="first_at_bottom",
    )
    rest_hours: float | None = ask(Kind.NUMBER, "how long it has to rest", default=None, unit="h", low=0, high=1000)


@dataclass(frozen=True, slots=True, kw_only=True)
class ReleaseRequest(PaperRequest):
    """A pile has rested: what is good, held, scrapped."""

    run: str = ask(Kind.TEXT, "run")
    pile: str = ask(Kind.TEXT, "number of the pile")
    good: int | None = ask(
        Kind.WHOLE, "good records; all that are not held or scrapped if not given", default=None, low=0
    )
    held: int = ask(Kind.WHOLE, "held for a decision; 0 if not given", default=0, low=0)
    scrapped: int = ask(Kind.WHOLE, "scrapped; 0 if not given", default=0, low=0)
    cause: str | None = ask(Kind.TEXT, "why they are held or scrapped", default=None)
