"""What the book prints, in shown units, every key always present.

``answer`` is surely, maybe or surely_not; ``least`` and ``most`` bound how many records it is about. Ends of a stretch
of closures are pairs [low, high]: somewhere between the two, both included.
"""

from dataclasses import dataclass, field
from typing import Literal

from runtrue.contract.listening import NotJudged, VerdictWord

ENTERED_SCHEMA: Literal["runtrue/entered-1"] = "runtrue/entered-1"
BOOK_SCHEMA: Literal["runtrue/book-1"] = "runtrue/book-1"
IMPORT_SCHEMA: Literal["runtrue/import-1"] = "runtrue/import-1"
RECALL_SCHEMA: Literal["runtrue/recall-1"] = "runtrue/recall-1"
MADE_SCHEMA: Literal["runtrue/made-1"] = "runtrue/made-1"
AGE_SCHEMA: Literal["runtrue/age-1"] = "runtrue/age-1"
BALANCE_SCHEMA: Literal["runtrue/balance-1"] = "runtrue/balance-1"
CHAIN_SCHEMA: Literal["runtrue/chain-1"] = "runtrue/chain-1"
JOB_SCHEMA: Literal["runtrue/job-1"] = "runtrue/job-1"
HAND_OVER_SCHEMA: Literal["runtrue/hand-over-1"] = "runtrue/hand-over-1"
EXPORT_SCHEMA: Literal["runtrue/book-export-1"] = "runtrue/book-export-1"
COLUMNS_SCHEMA: Literal["runtrue/columns-1"] = "runtrue/columns-1"
LOG_SCHEMA: Literal["runtrue/log-1"] = "runtrue/log-1"
CAPTURES_SCHEMA: Literal["runtrue/captures-1"] = "runtrue/captures-1"
TASKS_SCHEMA: Literal["runtrue/tasks-1"] = "runtrue/tasks-1"

AnswerWord = Literal["surely", "maybe", "surely_not"]
Ends = tuple[int, int]


@dataclass(frozen=True, slots=True, kw_only=True)
class Entered:
    """A paper that was entered. ``seq`` is its number in the book, by which it can be corrected or taken back."""

    schema: Literal["runtrue/entered-1"] = ENTERED_SCHEMA
    said: str
    verdict: VerdictWord | None
    cautions: list[str]
    not_judged: list[NotJudged]
    entry: str
    seq: int
    kind: str
    at: str
    who: str
    book: str
    version: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """Something in the book that is not as it has to be."""

    what: str
    where: str
    found: str


@dataclass(frozen=True, slots=True, kw_only=True)
class BookState:
    """A book that was begun, checked, backed up or restored. ``file`` is the backup where one was written or read."""

    schema: Literal["runtrue/book-1"] = BOOK_SCHEMA
    said: str
    verdict: VerdictWord
    book: str
    plant: str
    form: str
    entries: int
    rows: int
    digest: str | None
    problems: list[Problem]
    repaired: list[str]
    file: str | None
    not_judged: list[NotJudged]
    version: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Imported:
    """Rows of a CSV that became entries; those that were in the book already are counted as known."""

    schema: Literal["runtrue/import-1"] = IMPORT_SCHEMA
    said: str
    file: str
    sha256: str
    paper: str
    rows: int
    entered: int
    known: int
    first_seq: int | None
    last_seq: int | None
    cautions: list[str]
    not_judged: list[NotJudged]
    book: str
    version: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """A column of a paper's CSV; an empty cell is not given."""

    name: str
    needed: bool
    allowed: str
    help: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Columns:
    """Columns of a paper's CSV; ``said`` is the whole first line."""

    schema: Literal["runtrue/columns-1"] = COLUMNS_SCHEMA
    said: str
    paper: str
    columns: list[Column]
    not_judged: list[NotJudged]
    version: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Closures:
    """Closures of a run that are meant."""

    run: str
    job: str
    press: str
    cavity: str
    first: Ends
    last: Ends


@dataclass(frozen=True, slots=True, kw_only=True)
class HeldBox:
    """A box that holds, or may hold, some of the closures. ``place`` is in house, on a pallet or consignment."""

    job: str
    box: str
    answer: AnswerWord
    records: int
    least: int
    most: int
    pallet: str | None
    consignment: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class HeldPile:
    """A pile with some of the closures. ``unboxed`` records of it are in no box."""

    run: str
    pile: str
    answer: AnswerWord
    records: int
    least: int
    most: int
    unboxed: int


@dataclass(frozen=True, slots=True, kw_only=True)
class HeldSample:
    """A sample of these closures, or that may be."""

    sample: str
    run: str
    closure: int
    slack: int
    answer: AnswerWord
    verdict: VerdictWord | None
    faults: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Recall:
    """Which boxes, piles and samples hold closures. ``clear_boxes`` surely hold none."""

    schema: Literal["runtrue/recall-1"] = RECALL_SCHEMA
    said: str
    act: str
    asked: str
    closures: list[Closures]
    boxes: list[HeldBox]
    clear_boxes: list[str]
    piles: list[HeldPile]
    samples: list[HeldSample]
    consignments: list[str]
    complaints: list[str]
    cautions: list[str]
    not_judged: list[NotJudged]
    book: str
    version: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Held:
    """What held at a closure: stamper, batch, settings and so on. ``last`` is null while it still holds."""

    kind: str
    ref: str
    answer: AnswerWord
    first: Ends
    last: Ends | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Made:
    """What made a closure, or the records of a box."""

    schema: Literal["runtrue/made-1"] = MADE_SCHEMA
    said: str
    run: str
    job: str
    press: str
    cavity: str
    first: Ends
    last: Ends
    held: list[Held]
    metal: list[str]
    lots: list[str]
    not_judged: list[NotJudged]
    book: str
    version: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Session:
    """A stamper in a press: closures it made, at least and at most."""

    run: str
    job: str
    press: str
    first: Ends
    last: Ends
    impressions: Ends
    on_press: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Age:
    """How many impressions a stamper has made, at least and at most."""

    schema: Literal["runtrue/age-1"] = AGE_SCHEMA
    said: str
    stamper: str
    matrix: str
    came_with: int
    impressions: Ends
    sessions: list[Session]
    state: str
    family: list[str]
    not_judged: list[NotJudged]
    book: str
    version: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Balance:
    """One sum that must close: left and right, the gap, and where to look for it. Nulls could not be counted."""

    id: str
    words: str
    left: float | None
    right: float | None
    gap: float | None
    unit: str
    closes: bool | None
    look: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PlaceCount:
    """Records of a run in a place."""

    run: str
    place: str
    records: int


@dataclass(frozen=True, slots=True, kw_only=True)
class CauseCount:
    """Rejects by reason."""

    cause: str
    records: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Balances:
    """The sums of a job or a run that must close."""

    schema: Literal["runtrue/balance-1"] = BALANCE_SCHEMA
    said: str
    verdict: VerdictWord
    job: str
    runs: list[str]
    balances: list[Balance]
    places: list[PlaceCount]
    rejects: list[CauseCount]
    not_judged: list[NotJudged]
    book: str
    version: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Link:
    """One thing of the chain from job to complaint."""

    kind: str
    name: str
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Chain:
    """Everything in the book that hangs together with a name."""

    schema: Literal["runtrue/chain-1"] = CHAIN_SCHEMA
    said: str
    name: str
    links: list[Link]
    not_judged: list[NotJudged]
    book: str
    version: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RunState:
    """A run: how far it is and what is on the press."""

    run: str
    press: str
    cavity: str
    closures: int
    counter: int
    stamper_a: str | None
    stamper_b: str | None
    batch: str | None
    operator: str | None
    first_off: VerdictWord | None
    last_good_sample: int | None
    last_sample: int | None
    piles: int
    boxes: int


@dataclass(frozen=True, slots=True, kw_only=True)
class JobPage:
    """A job as it stands: what a page of it shows."""

    schema: Literal["runtrue/job-1"] = JOB_SCHEMA
    said: str
    job: str
    title: str
    artist: str | None
    customer: str | None
    catalogue: str | None
    format: str
    ordered: int
    due: str | None
    matrices: list[Link]
    runs: list[RunState]
    places: list[PlaceCount]
    rejects: list[CauseCount]
    samples: int
    failed_samples: list[HeldSample]
    analyses: int
    complaints: list[Link]
    not_judged: list[NotJudged]
    book: str
    version: str


@dataclass(frozen=True, slots=True, kw_only=True)
class HandOverText:
    """What a shift leaves to the next, written from what happened."""

    schema: Literal["runtrue/hand-over-1"] = HAND_OVER_SCHEMA
    said: str
    since: str
    upto: str
    text: str
    not_judged: list[NotJudged]
    book: str
    version: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ExportedFile:
    """A table in a file of its own."""

    file: str
    table: str
    rows: int
    sha256: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Exported:
    """The book as files. ``neutralised`` text cells began like a formula and got an apostrophe in front (CSV only)."""

    schema: Literal["runtrue/book-export-1"] = EXPORT_SCHEMA
    said: str
    folder: str
    form: Literal["csv", "jsonl"]
    files: list[ExportedFile]
    neutralised: int
    not_judged: list[NotJudged]
    book: str
    version: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LogLine:
    """An entry. ``stands`` is false where a later one replaces it."""

    seq: int
    plant: str
    kind: str
    at: str
    who: str
    reason: str
    stands: bool
    entry: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Log:
    """Entries, the newest last."""

    schema: Literal["runtrue/log-1"] = LOG_SCHEMA
    said: str
    entries: list[LogLine]
    not_judged: list[NotJudged]
    book: str
    version: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CaptureRow:
    """A recording or picture by its digest; ``gone`` means that its time is over and the digest is kept."""

    name: str
    state: Literal["kept", "gone", "missing"]
    keep: str
    until: str | None
    bytes: int
    sha256: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Captures:
    """Recordings and pictures of the book."""

    schema: Literal["runtrue/captures-1"] = CAPTURES_SCHEMA
    said: str
    captures: list[CaptureRow]
    not_judged: list[NotJudged]
    book: str
    version: str


TaskState = Literal["waiting", "running", "done", "failed", "cancelled"]


@dataclass(frozen=True, slots=True, kw_only=True)
class TaskRow:
    """Work that waits, is under way or is done. ``result`` is the key of its result."""

    id: str
    action: str
    state: TaskState
    doing: str | None
    share: float
    attempts: int
    worker: str | None
    who: str
    created: str
    finished: str | None
    result: str | None
    error: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Tasks:
    """Work of the book."""

    schema: Literal["runtrue/tasks-1"] = TASKS_SCHEMA
    said: str
    tasks: list[TaskRow]
    not_judged: list[NotJudged] = field(default_factory=list)
    book: str
    version: str
