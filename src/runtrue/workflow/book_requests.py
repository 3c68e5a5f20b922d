"""What is asked of the book itself: begun, checked, kept safe, asked for boxes, ages and sums."""

from dataclasses import dataclass
from pathlib import Path

from runtrue.workflow.actions import Kind, ask
from runtrue.workflow.papers.paper import BookRequest, one_of
from runtrue.workflow.requests import ListenCheckRequest


@dataclass(frozen=True, slots=True, kw_only=True)
class InitRequest(BookRequest):
    """Begin a book."""

    plant: str = ask(Kind.TEXT, "name of the plant; 'plant' if not given", default="plant")
    who: str | None = ask(Kind.TEXT, "who begins it; your account's name if not given", default=None)


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckRequest(BookRequest):
    """Check a book."""

    repair: bool = ask(Kind.FLAG, "put counts and spans right by the entries where they differ", default=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class BackupRequest(BookRequest):
    """Back a book up."""

    out: Path = ask(Kind.PATH, "file to write, which must not be there yet", positional=True)


@dataclass(frozen=True, slots=True, kw_only=True)
class RestoreRequest(BookRequest):
    """Make a book of a backup."""

    backup: Path = ask(Kind.PATH, "backup to read", positional=True)


@dataclass(frozen=True, slots=True, kw_only=True)
class ExportRequest(BookRequest):
    """Write the book as files."""

    out: Path = ask(Kind.PATH, "folder to write, new or empty", positional=True)
    form: str = ask(
        Kind.WORD, "csv for spreadsheets, jsonl (JSON Lines) for programs; csv if not given",
        choices=one_of("csv", "jsonl"), default="csv",
    )  # fmt: skip


def papers() -> list[str]:
    """Papers that rows may fill in."""
    from runtrue.workflow.papers.catalogue import PAPERS

    return [paper.verb for paper in PAPERS if paper.verb not in ("withdraw", "sign")]


@dataclass(frozen=True, slots=True, kw_only=True)
class ImportRequest(BookRequest):
    """Fill in a paper once for each row of a CSV."""

    paper: str = ask(Kind.WORD, "paper that a row fills in", choices=papers, positional=True)
    file: Path = ask(Kind.PATH, "CSV in UTF-8; its columns are the options of the paper, with _ for -", positional=True)
    who: str | None = ask(Kind.TEXT, "who answers for rows that do not say; your account's name if not given",
                          default=None)  # fmt: skip
    reason: str | None = ask(Kind.TEXT, "why they are written", default=None)


@dataclass(frozen=True, slots=True, kw_only=True)
class ColumnsRequest:
    """The columns of a paper's CSV."""

    paper: str = ask(Kind.WORD, "paper", choices=papers, positional=True)


@dataclass(frozen=True, slots=True, kw_only=True)
class LogRequest(BookRequest):
    """List entries."""

    last: int = ask(Kind.WHOLE, "how many of the newest; 30 if not given", default=30, low=1, high=100000)
    kind: str | None = ask(Kind.TEXT, "entries of this paper only", default=None)
    about: str | None = ask(Kind.TEXT, "entries of this person, or with this in their reason", default=None)


@dataclass(frozen=True, slots=True, kw_only=True)
class RecallRequest(BookRequest):
    """Which boxes hold what: by closures of a run, or by what made them."""

    run: str | None = ask(Kind.TEXT, "run, with --first and --last; narrows the others to one run", default=None)
    first: int | None = ask(Kind.WHOLE, "first closure", default=None, low=1)
    last: int | None = ask(Kind.WHOLE, "last closure", default=None, low=1)
    slack: int = ask(Kind.WHOLE, "how many closures the ends may be off; 0 if not given", default=0, low=0, high=10000)
    stamper: str | None = ask(Kind.TEXT, "all that this stamper pressed", default=None)
    batch: str | None = ask(Kind.TEXT, "all of this compound batch", default=None)
    labels: str | None = ask(Kind.TEXT, "all with labels of this lot", default=None)
    settings: str | None = ask(Kind.TEXT, "all pressed at these settings", default=None)
    operator: str | None = ask(Kind.TEXT, "all pressed by this operator", default=None)
    pile: str | None = ask(Kind.TEXT, "all of this pile, with --run", default=None)
    sample: str | None = ask(
        Kind.TEXT, "all from the last good sample before this failed one to the next good one", default=None
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class MadeRequest(BookRequest):
    """What made a closure."""

    run: str | None = ask(Kind.TEXT, "run, with --closure", default=None)
    closure: int | None = ask(Kind.WHOLE, "closure", default=None, low=1)
    slack: int = ask(Kind.WHOLE, "how many closures that may be off; 0 if not given", default=0, low=0, high=10000)
    sample: str | None = ask(Kind.TEXT, "sample, in place of run and closure", default=None)
    job: str | None = ask(Kind.TEXT, "job number of a box", default=None)
    box: str | None = ask(Kind.TEXT, "box, in place of run and closure", default=None)


@dataclass(frozen=True, slots=True, kw_only=True)
class AgeRequest(BookRequest):
    """A stamper's age."""

    stamper: str = ask(Kind.TEXT, "stamper", positional=True)


@dataclass(frozen=True, slots=True, kw_only=True)
class JobRequest(BookRequest):
    """A job as it stands."""

    job: str = ask(Kind.TEXT, "job number", positional=True)


@dataclass(frozen=True, slots=True, kw_only=True)
class BalanceRequest(BookRequest):
    """The sums of a job that must close."""

    job: str = ask(Kind.TEXT, "job number", positional=True)
    run: str | None = ask(Kind.TEXT, "this run of it only", default=None)


@dataclass(frozen=True, slots=True, kw_only=True)
class ChainRequest(BookRequest):
    """All that hangs together with a name."""

    name: str = ask(
        Kind.TEXT, "anything named in the book: job, catalogue or matrix number, metal, batch, lot, run, sample, box, "
        "pallet, consignment, complaint", positional=True,
    )  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class HandOverRequest(BookRequest):
    """What a shift leaves to the next."""

    since: str = ask(Kind.TEXT, "beginning of the shift, ISO 8601")
    upto: str | None = ask(Kind.TEXT, "its end, ISO 8601; now if not given", default=None)


@dataclass(frozen=True, slots=True, kw_only=True)
class LaterRequest(ListenCheckRequest):
    """Judge a recording later."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TasksRequest(BookRequest):
    """List work."""

    last: int = ask(Kind.WHOLE, "how many of the newest; 50 if not given", default=50, low=1, high=10000)


@dataclass(frozen=True, slots=True, kw_only=True)
class CancelRequest(BookRequest):
    """Cancel a piece of work."""

    task: str = ask(Kind.TEXT, "id of the work", positional=True)


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkRequest(BookRequest):
    """Do what waits."""

    stay: bool = ask(Kind.FLAG, "go on looking for work until stopped", default=False)
    lease_s: float = ask(
        Kind.NUMBER, "how long a piece stays this worker's without a sign of life; 60 if not given", default=60.0,
        unit="s", low=1, high=86400,
    )  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class KeepRequest(BookRequest):
    """Keep a recording or picture."""

    file: Path = ask(Kind.PATH, "recording or picture", positional=True)
    keep: str = ask(
        Kind.WORD, "how long; year if not given", choices=one_of("week", "quarter", "year", "ten_years", "always"),
        default="year",
    )  # fmt: skip
    move: bool = ask(Kind.FLAG, "move the file into the book's store in place of copying it", default=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class ExpireRequest(BookRequest):
    """Let go of captures whose time is over."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CapturesRequest(BookRequest):
    """List captures."""
