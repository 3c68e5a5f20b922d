"""What a shift leaves to the next, written from what happened."""

from collections import defaultdict
from collections.abc import Iterator
from datetime import datetime
from typing import Any

from sqlalchemy import Connection

import runtrue
from runtrue.contract import book as printed
from runtrue.errors import InputError
from runtrue.records import asking, tables
from runtrue.records.counts import At
from runtrue.types import Progress
from runtrue.workflow.actions import Ports, check_request
from runtrue.workflow.book_requests import HandOverRequest
from runtrue.workflow.papers.paper import moment
from runtrue.workflow.recall import ranges


def hand_over(request: HandOverRequest, ports: Ports, progress: Progress) -> printed.HandOverText:
    """Write the hand-over of a time without signing it."""
    check_request(request)
    since, upto = moment("since", request.since), moment("upto", request.upto or ports.clock())
    if upto <= since:
        raise InputError("since and upto: the shift ends before it begins; exchange them")
    book = ports.open_book(request.book)
    with book.read() as connection:
        text = hand_over_text(connection, since, upto)
    return printed.HandOverText(
        said=text.partition("\n")[0], since=since.isoformat(timespec="seconds"),
        upto=upto.isoformat(timespec="seconds"), text=text, not_judged=[], book=book.place.name,
        version=runtrue.__version__,
    )  # fmt: skip


def hand_over_text(connection: Connection, since: datetime, upto: datetime) -> str:
    """The hand-over as lines of plain text: what has to be decided first, then press by press, then the rest."""
    entries = asking.entries_between(connection, since, upto)
    kinds: dict[str, list[Any]] = defaultdict(list)
    for entry in entries:
        kinds[entry.kind].append(entry.id)
    ids = [entry.id for entry in entries]
    first = list(_to_decide(connection, ids))
    runs = sorted({row.run for model in (tables.Reading, tables.Run, tables.PressStop, tables.Sample)
                   for row in asking.rows_of(connection, model, ids)})  # fmt: skip
    pressed = "1 run" if len(runs) == 1 else f"{len(runs)} runs"
    lines = [f"From {since:%Y-%m-%d %H:%M} to {upto:%H:%M} UTC: {len(entries)} entries, {pressed}."]
    lines += (
        ["", "To decide first", *(f"- {line}" for line in first)] if first else ["", "Nothing waits for a decision."]
    )
    for run in runs:
        lines += ["", *_run(connection, run, ids, upto)]
    other = list(_other(connection, ids))
    return "\n".join([*lines, *(["", "Besides", *(f"- {line}" for line in other)] if other else [])])


def _to_decide(connection: Connection, ids: list[Any]) -> Iterator[str]:
    for row in asking.rows_of(connection, tables.SetUp, ids):
        if row.identity != "pass" or row.clearance != "pass":
            yield f"Set-up of run {row.run}: identity {plain(row.identity)}, line clearance {plain(row.clearance)}."
    for row in asking.rows_of(connection, tables.FirstOff, ids):
        if row.verdict != "pass":
            yield f"First-off of run {row.run} at closure {row.closure}: {plain(row.verdict)}."
    for row in asking.rows_of(connection, tables.Sample, ids):
        if row.verdict == "fail":
            fault = row.faults or "no fault named"
            yield f"Sample {row.sample}, closure {row.closure} of run {row.run}, failed: {fault}."
    for row in asking.rows_of(connection, tables.Complaint, ids):
        yield f"Complaint {row.complaint} about job {row.job}: {row.fault}."
    for row in asking.rows_of(connection, tables.Gauge, ids):
        if row.verdict != "pass":
            yield f"Gauge {row.gauge}: {plain(row.verdict)}."


def plain(word: str) -> str:
    """A word of the book for people: "cannot judge", "stamper A"."""
    return word.replace("_a", " A").replace("_b", " B") if word.endswith(("_a", "_b")) else word.replace("_", " ")


def _run(connection: Connection, run: str, ids: list[Any], upto: datetime) -> Iterator[str]:
    row = asking.run_row(connection, run)
    moves = [one for one in asking.rows_of(connection, tables.Move, ids) if one.run == run]
    made = sum(one.records for one in moves if one.source == At.CLOSURE)
    on = {
        one.kind: one.ref
        for one in asking.spans_over(connection, run, ("stamper_a", "stamper_b", "batch"), row.closures)
    }
    yield f"Press {row.press}, cavity {row.cavity}, run {run} of job {row.job}: closure {row.closures}, {made} pressed."
    if on:
        yield "  On the press: " + ", ".join(f"{plain(kind)} {ref}" for kind, ref in on.items()) + "."
    held = {one.place: one.records for one in asking.holdings(connection, [run])}
    waiting = [f"{held[place]} {place}" for place in (At.RESTING, At.GOOD, At.HELD) if held.get(place)]
    if waiting:
        yield f"  Lie there: {', '.join(waiting)}."
    good = [one for one in asking.samples_over(connection, run, 1, row.closures) if one.verdict == "pass"]
    yield (
        f"  Last good sample: {good[-1].sample}, closure {good[-1].closure}." if good else "  No sample has passed yet."
    )
    yield from _happened(connection, run, ids, moves)
    freed = {one.pile for one in asking.rows_where(connection, tables.Release, run=run)}
    piles = [one for one in asking.rows_where(connection, tables.Pile, run=run)
             if one.pile not in freed and one.rest_until is not None and one.rest_until > upto]  # fmt: skip
    if piles:
        last, names = max(one.rest_until for one in piles), ranges([one.pile for one in piles])
        yield f"  Pile {names} may not be sleeved yet, the last until {last:%d %b %H:%M} UTC."


def _happened(connection: Connection, run: str, ids: list[Any], moves: list[Any]) -> Iterator[str]:
    causes: dict[str, int] = defaultdict(int)
    for one in moves:
        if one.target in (At.SCRAPPED, At.HELD):
            causes[one.cause or "no reason"] += one.records
    if causes:
        most_first = sorted(causes.items(), key=lambda one: -one[1])
        yield f"  Rejects: {', '.join(f'{n} {cause}' for cause, n in most_first)}."
    for one in asking.rows_of(connection, tables.PressStop, ids):
        if one.run == run:
            yield f"  Stood {one.minutes:g} min after closure {one.closure}: {one.cause}."
    for one in asking.rows_of(connection, tables.Span, ids):
        if one.run == run and one.kind not in ("pile", "box", "blank") and one.first > 1:
            yield f"  Changed at closure {one.first}: {plain(one.kind)} {one.ref}."


def _other(connection: Connection, ids: list[Any]) -> Iterator[str]:
    for row in asking.rows_of(connection, tables.MetalCard, ids):
        yield f"Metal {row.metal}: {plain(row.state)}."
    for row in asking.rows_of(connection, tables.Batch, ids):
        yield f"Batch {row.batch} mixed, {row.mass_kg:g} kg."
    for row in asking.rows_of(connection, tables.Consignment, ids):
        yield f"Consignment {row.consignment} left with {row.records} records."
    for row in asking.rows_of(connection, tables.HandCount, ids):
        if row.counted != row.expected:
            yield f"Hand count of {row.place}, run {row.run}: {row.counted}, the book had {row.expected}."
