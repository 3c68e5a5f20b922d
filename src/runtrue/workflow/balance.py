"""Sums that must close: labels and closures, places, compound, boxes and invoice; a gap says where to look."""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection

import runtrue
from runtrue.contract import book as printed
from runtrue.contract.listening import NotJudged, VerdictWord
from runtrue.errors import InputError
from runtrue.records import asking, tables
from runtrue.records.counts import At
from runtrue.types import Progress
from runtrue.workflow.actions import Ports, check_request
from runtrue.workflow.book_requests import BalanceRequest

MASS_SHARE = 0.02
"""Share of the compound that may be lost unseen before its balance counts as open. Our choice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sums:
    """What is counted of a job's runs."""

    places: Mapping[str, int]
    closures: int
    rejects: Mapping[str, int]
    labels: Mapping[str, list[Any]]
    samples: list[Any]
    ticket: Any
    issued_kg: float
    scrap_kg: Mapping[str, float]
    runs: list[asking.RunRow]
    astray: int
    """Records that were pressed before the last pile ended and are on none."""


def balance(request: BalanceRequest, ports: Ports, progress: Progress) -> printed.Balances:
    """Work out the sums of a job, or of one run of it."""
    check_request(request)
    book = ports.open_book(request.book)
    with book.read() as connection:
        job = request.job.strip()
        sums = _sums(connection, job, request.run)
        lines = [*_labels(sums), _closures(sums), _good(sums), _compound(sums), *_shipping(connection, job, sums)]
        places = asking.holdings(connection, [one.run for one in sums.runs])
    verdict = _verdict(lines)
    return printed.Balances(
        said=_said(lines, verdict), verdict=verdict, job=job, runs=[one.run for one in sums.runs], balances=lines,
        places=[printed.PlaceCount(run=row.run, place=row.place, records=row.records) for row in places],
        rejects=causes(sums.rejects),
        not_judged=[NotJudged(key=f"balances.{line.id}", reason=line.look) for line in lines if line.closes is None],
        book=book.place.name, version=runtrue.__version__,
    )  # fmt: skip


def causes(rejects: Mapping[str, int]) -> list[printed.CauseCount]:
    """Rejects by reason, most first."""
    ordered = sorted(rejects.items(), key=lambda one: (-one[1], one[0]))
    return [printed.CauseCount(cause=cause, records=records) for cause, records in ordered]


def _sums(connection: Connection, job: str, run: str | None) -> Sums:
    ticket = asking.newest(connection, tables.Ticket, job=job)
    if ticket is None:
        raise InputError(f"job '{job}' is not in the book; check the spelling")
    runs = asking.run_rows(connection, job=job)
    if run is not None:
        runs = [one for one in runs if one.run == run.strip()]
        if not runs:
            raise InputError(f"run '{run.strip()}' is none of job {job}; check the spelling")
    names = [one.run for one in runs]
    places: dict[str, int] = defaultdict(int)
    for row in asking.holdings(connection, names):
        places[row.place] += row.records
    sides = {row.lot: row.side for row in asking.rows_where(connection, tables.LabelLot, job=job)}
    labels: dict[str, list[Any]] = defaultdict(list)
    for row in asking.rows_where(connection, tables.LabelCount, run=names):
        labels[sides.get(row.lot, "?")].append(row)
    scrap: dict[str, float] = defaultdict(float)
    for row in asking.rows_where(connection, tables.Scrap, run=names):
        scrap[row.material] += row.mass_kg
    return Sums(
        astray=sum(_astray(connection, one) for one in runs), places=places, labels=labels, ticket=ticket, runs=runs,
        closures=sum(one.closures for one in runs),
        rejects=asking.moved(connection, names, group="cause", source=At.PRESSED.value,
                             target=[At.SCRAPPED.value, At.HELD.value]),
        samples=asking.rows_where(connection, tables.Sample, run=names), scrap_kg=scrap,
        issued_kg=sum(row.mass_kg for row in asking.rows_where(connection, tables.Issue, run=names)),
    )  # fmt: skip


def _astray(connection: Connection, run: asking.RunRow) -> int:
    """Records at the press that are more than the closures since the last pile."""
    piles = asking.spans_over(connection, run.run, ("pile",))
    since = run.closures - max((row.last_low or 0 for row in piles), default=0)
    pressed: int = sum(row.records for row in asking.holdings(connection, [run.run]) if row.place == At.PRESSED)
    return max(pressed - since, 0)


def _line(
    name: str, words: str, left: float | None, right: float | None, *, look: str, unit: str = "", within: float = 0.0
) -> printed.Balance:
    """A sum with its gap; where one side is not known it cannot close, and ``look`` says what is missing."""
    if left is None or right is None:
        return printed.Balance(
            id=name, words=words, left=left, right=right, gap=None, unit=unit, closes=None, look=look
        )  # fmt: skip
    gap = round(left - right, 3)
    closes = abs(gap) <= within
    return printed.Balance(
        id=name, words=words, left=round(left, 3), right=round(right, 3), gap=gap, unit=unit, closes=closes,
        look="" if closes else look,
    )  # fmt: skip


def _labels(sums: Sums) -> Iterator[printed.Balance]:
    """A labels used = B labels used = closures less blanks; issued = used + spoiled + returned."""
    made = sums.closures - sums.places.get(At.BLANK, 0)
    for side in ("A", "B"):
        rows = sums.labels.get(side, [])
        used = sum(row.used for row in rows) if rows else None
        name = f"labels_{side.lower()}_used"
        words = f"{side} labels used = closures - blanks"
        if used is None:
            yield _line(name, words, None, made, look=f"the labels of side {side} were not reconciled")
            continue
        gap = used - made
        look = (
            "two labels picked up together, and blank closures that were entered but made a record"
            if gap > 0
            else "blank closures that were not entered, records pressed without a label, labels of another lot or title"
        )
        yield _line(name, words, used, made, look=look)
    a, b = (sum(row.used for row in sums.labels[side]) if side in sums.labels else None for side in ("A", "B"))
    yield _line(
        "labels_a_b", "A labels used = B labels used", a, b,
        look="not both sides were reconciled" if a is None or b is None
        else "records with two labels on one side or none on the other; A and B labels exchanged on the warming plate",
    )  # fmt: skip
    for side, rows in sorted(sums.labels.items()):
        issued = sum(row.issued for row in rows)
        rest = sum(row.used + row.spoiled + row.returned for row in rows)
        yield _line(
            f"labels_{side.lower()}_issued", f"{side} labels issued = used + spoiled + returned", issued, rest,
            look="the warming plate, under the press, the labels of the title before and after",
        )  # fmt: skip


def _closures(sums: Sums) -> printed.Balance:
    """Closures = what lies at the press + blank + warm-up + samples + rejects + good and what came of it."""
    differ = sums.places.get(At.DIFFERENCE, 0)
    look = []
    if sums.astray:
        look.append(f"{sums.astray} were pressed and are on no pile, sample or reject: blanks, warm-up and rejects")
    if differ:
        look.append(f"{differ} by hand counts: the piles and places named in `runtrue book log`")
    return _line(
        "closures", "closures = at the press + blank + warm-up + samples + rejects + resting + good + boxed + shipped",
        sums.closures, sums.closures - sums.astray - differ, look="; ".join(look),
    )  # fmt: skip


def _good(sums: Sums) -> printed.Balance:
    """Good off the press = boxed + loose + held + scrapped or destroyed after it was good."""
    at = sums.places
    after = [At.GOOD, At.BOXED, At.SHIPPED, At.RETURNED, At.HELD, At.SCRAPPED, At.DESTROYED, At.RESTING, At.SAMPLE]
    found = sum(at.get(place, 0) for place in after)
    pressed = sums.closures - sum(at.get(place, 0) for place in (At.BLANK, At.WARM_UP, At.PRESSED))
    return _line(
        "good", "taken off the press = resting + loose + boxed + shipped + returned + held + scrapped + samples",
        pressed, found, look="hand counts that differed: count the piles and boxes named in `runtrue book log`",
    )  # fmt: skip


def _compound(sums: Sums) -> printed.Balance:
    """Compound issued = records x mean mass + flash + purge + the rest."""
    words = "compound issued = records x mean mass + flash, purge and other scrap"
    masses = [row.mass_g for row in sums.samples if row.mass_g is not None]
    mass = sum(masses) / len(masses) if masses else sums.ticket.mass_g
    records = sums.closures - sums.places.get(At.BLANK, 0)
    if not sums.issued_kg or mass is None:
        look = (
            "no compound was issued to its runs"
            if not sums.issued_kg
            else "no sample was weighed, no mass is on the ticket"
        )
        return _line("compound", words, sums.issued_kg or None, None, look=look, unit="kg")
    scrap = sum(kg for material, kg in sums.scrap_kg.items() if material != "records")
    look = "flash and purge that were not weighed, compound left at the press or issued to another run, the scale"
    return _line(
        "compound", words, sums.issued_kg, records * mass / 1000.0 + scrap, look=look, unit="kg",
        within=MASS_SHARE * sums.issued_kg,
    )  # fmt: skip


def _shipping(connection: Connection, job: str, sums: Sums) -> Iterator[printed.Balance]:
    """Boxes = what the runs say is boxed; consignments = boxes sent; invoice = consignments."""
    runs = {one.run for one in sums.runs}
    rows = [row for row in asking.rows_where(connection, tables.Box, job=job) if row.run in runs]
    in_boxes = sum(row.records for row in rows)
    at = sums.places
    went = at.get(At.BOXED, 0) + at.get(At.SHIPPED, 0) + at.get(At.RETURNED, 0)
    yield _line(
        "boxes", "records in boxes = boxed + shipped + returned", in_boxes, went,
        look="boxes opened again, returns that were scrapped or put back, hand counts of boxes",
    )  # fmt: skip
    sent = asking.boxes_by_place(connection, job)[1]
    consigned = sum(row.records for row in rows if row.box in sent)
    shipped = at.get(At.SHIPPED, 0) + at.get(At.RETURNED, 0)
    yield _line(
        "shipped", "records in boxes sent = shipped + returned", consigned, shipped,
        look="samples that went with a consignment, returns that were scrapped or put back",
    )  # fmt: skip
    lines = asking.rows_where(connection, tables.Consignment, consignment=sorted(set(sent.values())))
    invoiced = [row.invoiced for row in lines]
    known = sum(one for one in invoiced if one is not None) if invoiced and None not in invoiced else None
    yield _line(
        "invoice", "invoice = consignment", known, sum(row.records for row in lines) if lines else None,
        look="no invoice count was entered with the consignment" if known is None
        else "part boxes, boxes counted twice on the packing list",
    )  # fmt: skip


def _verdict(lines: Iterable[printed.Balance]) -> VerdictWord:
    found = [line.closes for line in lines]
    if False in found:
        return "fail"
    return "cannot_judge" if None in found else "pass"


def _said(lines: list[printed.Balance], verdict: VerdictWord) -> str:
    open_lines = [line for line in lines if line.closes is False]
    if open_lines:
        first = open_lines[0]
        return (
            f"{len(open_lines)} of {len(lines)} sums do not close. First: {first.words}, {first.gap:+g}. "
            f"Look for {first.look}."
        )
    return "Every sum closes." if verdict == "pass" else "No sum is open, but some could not be worked out."
