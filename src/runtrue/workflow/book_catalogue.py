"""What can be done with the book: its papers, and what is asked of it."""

from typing import TYPE_CHECKING, Any

from runtrue.workflow import book_requests as ask
from runtrue.workflow.actions import Action, Role
from runtrue.workflow.papers.catalogue import PAPERS

if TYPE_CHECKING:
    from runtrue.contract.book import Balances, BookState

_EXITS = "0 done, 2 argument not usable, 5 book locked, disk or rights"


def _sound(outcome: "BookState") -> int:
    return 0 if outcome.verdict == "pass" else 3


def _by_verdict(outcome: "Balances") -> int:
    return {"pass": 0, "fail": 3, "cannot_judge": 4}[outcome.verdict]


def _done(_outcome: object) -> int:
    return 0


def _asked(verb: str, *, result: str, function: str, writes: bool = False, **more: Any) -> Action:
    words = {"role": Role.ANYONE, "exit_code": _done, "exits": _EXITS, "long": False, **more}
    return Action(
        station="book", verb=verb, result=f"runtrue.contract.book:{result}", function=f"runtrue.workflow.{function}",
        writes=writes, **words,
    )  # fmt: skip


BOOK = (
    _asked(
        "init", result="BookState", function="bookkeeping:init", writes=True, request=ask.InitRequest,
        summary="Begin a book.",
        text="One SQLite file in your data folder or where --book says, or the tables in a PostgreSQL database. A book "
        "that is there keeps all that is in it and is brought to this program's form.",
        example="runtrue book init --plant 'Quillmere Record Works'",
    ),
    _asked(
        "check", result="BookState", function="bookkeeping:check", request=ask.CheckRequest, exit_code=_sound,
        exits="0 sound, 3 not sound, 2 argument not usable, 5 book locked, disk or rights",
        summary="Check that the book is sound.",
        text="Looks through the file, the guards against altered rows and the numbers of the entries, works out every "
        "count and span anew from the entries and compares.",
        example="runtrue book check --json",
    ),
    _asked(
        "log", result="Log", function="bookkeeping:log", request=ask.LogRequest,
        summary="List the newest entries.",
        text="Each with its number, by which it can be corrected (--replaces) or taken back (`runtrue book withdraw`).",
        example="runtrue book log --last 10",
    ),
    *(paper.action for paper in PAPERS),
    _asked(
        "recall", result="Recall", function="recall:recall", request=ask.RecallRequest, role=Role.QUALITY,
        summary="Find the boxes that hold given closures.",
        text="By closures of a run, or by what made them: stamper, batch, labels, settings, operator, pile, or a "
        "failed sample with the good ones before and after it. Each box is told surely, maybe or surely not, with how "
        "many records at least and at most; what was shipped is named with its consignment.",
        example="runtrue book recall --run R1 --first 181 --last 352",
    ),
    _asked(
        "made", result="Made", function="made:made", request=ask.MadeRequest, role=Role.QUALITY,
        summary="Say what made a closure.",
        text="Stampers, batch, labels, settings and operator of a closure, a sample or a box, with the metal's family "
        "and the supplier's lots in the batch.",
        example="runtrue book made --run R1 --closure 312",
    ),
    _asked(
        "age", result="Age", function="made:age", request=ask.AgeRequest, role=Role.ENGINEER,
        summary="Count a stamper's impressions.",
        text="Those it came with and the closures of every session on a press, up to now, at least and at most.",
        example="runtrue book age A-M1-S1",
    ),
    _asked(
        "job", result="JobPage", function="job_page:job", request=ask.JobRequest,
        summary="Show a job as it stands.",
        text="Its runs with what is on the presses, where its records are, rejects by reason, failed samples and "
        "complaints.",
        example="runtrue book job J-11",
    ),
    _asked(
        "balance", result="Balances", function="balance:balance", request=ask.BalanceRequest, role=Role.QUALITY,
        exit_code=_by_verdict,
        exits="0 every sum closes, 3 one does not, 4 some not worked out, 2 argument not usable, 5 disk or rights",
        summary="Close the sums of a job.",
        text="First A labels used = B labels used = closures less blanks; then closures by place, records taken off "
        "the press, compound, boxes, consignments, invoice. A gap says where to look.",
        example="runtrue book balance J-11",
    ),
    _asked(
        "chain", result="Chain", function="chain:chain", request=ask.ChainRequest,
        summary="Follow a name from job to complaint.",
        text="Anything that is written on disc, box, label or sheet: what it is, which runs it was part of, and what "
        "hangs together with it.",
        example="runtrue book chain A-M1-S1",
    ),
    _asked(
        "hand-over", result="HandOverText", function="hand_over:hand_over", request=ask.HandOverRequest,
        role=Role.SHIFT_LEAD, summary="Write the shift hand-over from what happened.",
        text="What waits for a decision first, then press by press, then the rest. `runtrue book sign` keeps it.",
        example="runtrue book hand-over --since 2026-10-05T06:00Z --upto 2026-10-05T14:00Z",
    ),
    _asked(
        "import", result="Imported", function="papers.importing:import_rows", request=ask.ImportRequest, writes=True,
        long=True, role=Role.OFFICE, summary="Fill in a paper for each row of a CSV.",
        text="All rows enter or none. A row that came in before is known and does not come twice, so a longer file can "
        "be given again. `runtrue book columns` shows the columns.",
        example="runtrue book import weighing weighings-k89.csv",
    ),
    _asked(
        "columns", result="Columns", function="papers.importing:columns", request=ask.ColumnsRequest,
        summary="Show the columns of a paper's CSV.",
        text="The first line for a spreadsheet, and what may stand below it.",
        example="runtrue book columns weighing",
    ),
    _asked(
        "export", result="Exported", function="bookkeeping:export", request=ask.ExportRequest, writes=True, long=True,
        summary="Write the book as files.",
        text="A CSV or JSON Lines file for each table and a JSON Schema of the columns. In CSV, text that a "
        "spreadsheet would take for a formula gets an apostrophe in front.",
        example="runtrue book export book-files",
    ),
    _asked(
        "backup", result="BookState", function="bookkeeping:backup", request=ask.BackupRequest, writes=True,
        long=True, summary="Back the book up.",
        text="Into one file, while others write; the copy is checked and held to the book row by row before it counts.",
        example="runtrue book backup book-backup.sqlite",
    ),
    _asked(
        "restore", result="BookState", function="bookkeeping:restore", request=ask.RestoreRequest, writes=True,
        long=True, summary="Make a book of a backup.",
        text="Where there is no book yet: a new file, or an empty PostgreSQL database. Nothing is overwritten.",
        example="runtrue book restore backup.sqlite --book restored.sqlite",
    ),
    _asked(
        "keep", result="Captures", function="bookkeeping:keep", request=ask.KeepRequest, writes=True,
        role=Role.LISTENER, summary="Keep a recording or picture.",
        text="Copied into the book's folder by its digest, for as long as its class says.",
        example="runtrue book keep capture.flac --keep quarter",
    ),
    _asked(
        "captures", result="Captures", function="bookkeeping:captures_of", request=ask.CapturesRequest,
        summary="List recordings and pictures.",
        text="Each kept, gone with its digest kept, or missing from the folder.",
        example="runtrue book captures --json",
    ),
    _asked(
        "expire", result="Captures", function="bookkeeping:expire", request=ask.ExpireRequest, writes=True,
        role=Role.QUALITY, summary="Let go of recordings whose time is over.",
        text="The file goes, the digest and every result made of it stay.",
        example="runtrue book expire --json",
    ),
    _asked(
        "later", result="Tasks", function="work:later", request=ask.LaterRequest, writes=True, role=Role.LISTENER,
        summary="Let a recording be judged later.",
        text="As `listen check`, by a worker: it waits in the book until `runtrue work` takes it.",
        example="runtrue book later capture.flac --reference reference.flac --format 12in-33",
    ),
    _asked(
        "tasks", result="Tasks", function="work:listed", request=ask.TasksRequest,
        summary="List work that waits or is done.",
        text="With its progress, its worker and how it ended.",
        example="runtrue book tasks --last 5",
    ),
    _asked(
        "cancel", result="Tasks", function="work:cancel", request=ask.CancelRequest, writes=True,
        summary="Cancel a piece of work.",
        text="At once while it waits, at its worker's next sign of life while it is done.",
        example="runtrue book cancel 01a210d3-dcb0-7000-bbd2-f3527d638295",
    ),
)  # fmt: skip
"""Every action of the book, in the order of the job."""

WORK = Action(
    station="",
    verb="work",
    summary="Do the work that waits in the book.",
    text="Takes one piece after another under a lease, shows its progress, stops at Ctrl-C. When a worker dies its "
    "piece goes to another when the lease is over; several workers may run beside each other.",
    request=ask.WorkRequest,
    result="runtrue.contract.book:Tasks",
    function="runtrue.workflow.work:work",
    exit_code=_done,
    exits="0 nothing waits any more, 2 argument not usable, 5 book locked, disk or rights, 130 stopped",
    example="runtrue work --lease-s 60",
    role=Role.ANYONE,
    writes=True,
    long=True,
)
"""The worker."""
