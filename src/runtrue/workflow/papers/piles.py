"""Piles: the tag when one is full, the release when it has rested, and which closures come off it first."""

from datetime import timedelta
from typing import Any
from uuid import UUID

from runtrue.errors import InputError
from runtrue.records import tables
from runtrue.records.counts import At
from runtrue.records.pen import Pen, RunState, clean_name
from runtrue.records.ranges import stretch
from runtrue.workflow.papers import ask_press as ask
from runtrue.workflow.papers.paper import Told
from runtrue.workflow.papers.press import count


def pile(asked: ask.PileRequest, pen: Pen, entry: UUID) -> Told:
    """Tag a pile: which closures lie on it and until when they rest."""
    state = pen.run(asked.run)
    name = clean_name("pile", asked.pile)
    if pen.where(tables.Pile, run=state.run, pile=name) is not None:
        raise InputError(f"pile {name} of run {state.run} is in the book already; give another number")
    if asked.counter is not None:
        if asked.last is not None:
            raise InputError("counter and last: give one of them; the counter says where the pile ends")
        count(pen, entry, state, asked.counter)
    last = state.closures if asked.last is None else asked.last
    first = _first(pen, state) if asked.first is None else asked.first
    stretch(first, last, asked.slack)
    if last > state.closures:
        raise InputError(
            f"closure {last} is beyond the counter: run {state.run} has counted {state.closures}; give --counter"
        )
    pen.apart(state.run, "pile", first=first, last=last, slack=asked.slack, what="a pile")
    ahead = state.closures - last
    expected = max(min(state.holdings.get(At.PRESSED, 0) - ahead, last - first + 1), 0)
    records = expected if asked.records is None else asked.records
    cautions = _off(expected, records)
    if records > last - first + 1 + 2 * asked.slack:
        raise InputError(
            f"{records} records are more than closures {first} to {last} can have made; count again, or correct "
            "the range"
        )
    pen.span(entry, state, "pile", name, first=first, last=last, slack=asked.slack, records=records)
    until = None if asked.rest_hours is None else pen.at + timedelta(hours=asked.rest_hours)
    pen.add(tables.Pile, entry, run=state.run, pile=name, direction=asked.direction, records=records, rest_until=until)
    pen.move(entry, state, At.PRESSED, At.RESTING, min(records, expected), first=first, last=last)
    pen.move(entry, state, At.PRESSED, At.DIFFERENCE, max(expected - records, 0), cause="pile", first=first, last=last)
    pen.move(entry, state, At.DIFFERENCE, At.RESTING, max(records - expected, 0), cause="pile", first=first, last=last)
    rests = f", rests until {until.astimezone():%d %b %H:%M}" if until is not None else ""
    return Told(said=f"Pile {name} of run {state.run}: {records} records, closures {first} to {last}{rests}.",
                cautions=cautions)  # fmt: skip


def _first(pen: Pen, state: RunState) -> int:
    """The closure after the last pile."""
    return max((one.last or 0 for one in pen.standing(state.run, "pile")), default=0) + 1


def _off(expected: int, records: int) -> tuple[str, ...]:
    if records == expected:
        return ()
    less = "fewer" if records < expected else "more"
    where = (
        "blank closures, warm-up, rejects and samples that were not entered"
        if records < expected
        else "records of another pile or title, and rejects or samples entered twice"
    )
    return (
        f"By the counter there should be {expected}; {abs(expected - records)} {less} were counted: look for {where}.",
    )


def release(asked: ask.ReleaseRequest, pen: Pen, entry: UUID) -> Told:
    """Release a pile that has rested."""
    state = pen.run(asked.run)
    row = tagged(pen, state, asked.pile)
    if pen.where(tables.Release, run=state.run, pile=row.pile) is not None:
        raise InputError(f"pile {row.pile} of run {state.run} was released already; correct that entry with --replaces")
    good = row.records - asked.held - asked.scrapped if asked.good is None else asked.good
    if good < 0:
        raise InputError(
            f"pile {row.pile} holds {row.records} records; {asked.held + asked.scrapped} are more: count again"
        )
    total, missing = good + asked.held + asked.scrapped, row.records - good - asked.held - asked.scrapped
    pen.add(
        tables.Release, entry, run=state.run, pile=row.pile, good=good, held=asked.held, scrapped=asked.scrapped,
        cause=asked.cause,
    )  # fmt: skip
    pen.move(entry, state, At.DIFFERENCE, At.RESTING, max(-missing, 0), cause="release")
    pen.move(entry, state, At.RESTING, At.GOOD, good)
    pen.move(entry, state, At.RESTING, At.HELD, asked.held, cause=asked.cause)
    pen.move(entry, state, At.RESTING, At.SCRAPPED, asked.scrapped, cause=asked.cause)
    pen.move(entry, state, At.RESTING, At.DIFFERENCE, max(missing, 0), cause="release")
    cautions = []
    if missing:
        cautions.append(f"{row.records} were on the tag and {total} were found: look for samples taken from the pile.")
    if row.rest_until is not None and pen.at < row.rest_until:
        cautions.append(
            f"Released before its rest was over ({row.rest_until.astimezone():%d %b %H:%M}): discs may warp."
        )
    return Told(said=f"Pile {row.pile} of run {state.run}: {good} good, {asked.held} held, {asked.scrapped} scrapped.",
                cautions=tuple(cautions))  # fmt: skip


def tagged(pen: Pen, state: RunState, pile_name: str) -> Any:
    """The tag of a pile."""
    name = clean_name("pile", pile_name)
    row = pen.where(tables.Pile, run=state.run, pile=name)
    if row is None:
        raise InputError(f"pile '{name}' of run {state.run} is not in the book; enter its tag first")
    return row


def taken_off(*, first: int, last: int, records: int, before: int, taken: int, from_high: bool) -> tuple[int, int]:
    """First and last closure that ``taken`` records off one end of a pile can be, after ``before`` went off that end.

    The pile holds ``records`` of the closures ``first`` to ``last`` in their order; which closures are missing on it
    is not known, so the range is the widest. ``from_high`` means the end where the last closure lies.

    Examples
    --------
    >>> taken_off(first=201, last=300, records=100, before=0, taken=25, from_high=True)
    (276, 300)
    >>> taken_off(first=201, last=300, records=98, before=25, taken=25, from_high=False)
    (226, 252)
    """
    gone = max(last - first + 1 - records, 0)
    low = records - before - taken if from_high else before
    return max(first + low, first), min(first + low + taken - 1 + gone, last)
