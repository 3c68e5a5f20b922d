"""The floor: what needs a decision first, then press by press what is on it and when it was last heard."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Connection

from runtrue.contract.listening import VerdictWord
from runtrue.paper.layout import SCREEN
from runtrue.paper.run_strip import RunStrip, SampleDot, StamperStretch, run_strip
from runtrue.paper.words import VERDICT_WORDS, count
from runtrue.records import asking, tables
from runtrue.records.counts import At
from runtrue.records.pen import closed_runs, newest_runs
from runtrue.types import silent
from runtrue.workflow.actions import Ports
from runtrue.workflow.book_requests import AgeRequest
from runtrue.workflow.hand_over import plain
from runtrue.workflow.made import age
from runtrue.workflow.pages.page import Head, Picture, head, mark, picture
from runtrue.workflow.papers.paper import moment

EVERY = 100
"""Closures between two samples unless the person says otherwise: common practice, no source."""
LAST = 200
"""Newest runs among which those on the presses are looked for; and samples of a run that are shown."""
WIDE = 940.0
_ON = ("batch", "operator", "settings")
_STAMPERS = {"stamper_a": "A", "stamper_b": "B"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Waiting:
    """Something that a person has to decide: what it is, what it asks for, and where to look."""

    words: str
    act: str
    href: str
    verdict: VerdictWord
    verdict_words: str
    mark: str


@dataclass(frozen=True, slots=True, kw_only=True)
class StamperOn:
    """A stamper on a press; ``impressions`` "980" or "978 to 980", all it ever made."""

    side: str
    stamper: str
    impressions: str
    href: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PressNow:
    """A press with the run that was set up on it last."""

    press: str
    cavity: str
    run: str
    job: str
    title: str
    href: str
    closures: int
    ordered: int
    counted_at: str
    stampers: list[StamperOn]
    batch: str
    operator: str
    settings: str
    last_good: str
    last_sample: str
    next_due: str
    overdue: bool
    ended: bool
    places: list[str]
    strip: Picture
    verdict: VerdictWord
    verdict_words: str
    mark: str


@dataclass(frozen=True, slots=True, kw_only=True)
class FloorPage:
    """The floor. ``every`` is how many closures lie between two samples."""

    head: Head
    waiting: list[Waiting]
    presses: list[PressNow]
    every: int
    every_said: str


@dataclass(frozen=True, slots=True, kw_only=True)
class _Sampled:
    sample: str
    closure: int
    verdict: VerdictWord | None
    faults: str
    side: str


def floor_page(ports: Ports, every: int = EVERY) -> FloorPage:
    """Gather the presses and what waits."""
    book, now = ports.open_book(None), moment("clock", ports.clock())
    with book.read() as connection:
        pressing = {row.press for row in asking.last_rows(connection, tables.Run, last=LAST)}
        runs = sorted(newest_runs(connection, pressing).values())
        over = closed_runs(connection, runs)
        rows = asking.run_rows(connection, run=runs)
        on = [one.ref for row in rows for one in asking.spans_over(connection, row.run, tuple(_STAMPERS))
              if one.last_low is None]  # fmt: skip
    ages = {name: _impressions(name, ports) for name in on}
    with book.read() as connection:
        samples = {row.run: _samples(connection, row.run) for row in rows}
        presses = [_press(connection, row, samples[row.run], ages, every, now=now, ended=row.run in over)
                   for row in rows]  # fmt: skip
        waiting = [
            one for row in rows for one in _waits(connection, row, samples[row.run], None if row.run in over else every)
        ]
        waiting += _complaints(connection)
    waiting.sort(key=lambda one: one.verdict != "fail")
    presses.sort(key=lambda one: (("fail", "cannot_judge", "pass").index(one.verdict), one.press, one.cavity))
    return FloorPage(
        head=_head(waiting, presses), waiting=waiting, presses=presses, every=every,
        every_said="Common practice, no source; the house's own rule goes before it.",
    )  # fmt: skip


def _head(waiting: list[Waiting], presses: list[PressNow]) -> Head:
    if not presses:
        return head("Floor", "No press is set up yet.", act="A set-up sheet begins a run.",
                    detail="Fill it in with `runtrue book set-up`.")  # fmt: skip
    if not waiting:
        return head("Floor", "Nothing waits for a decision.", detail=f"{count(len(presses), 'press', 'presses')}.",
                    verdict="pass")  # fmt: skip
    first, more = waiting[0], len(waiting) - 1
    detail = f"{count(more, 'more thing')} {'waits' if more == 1 else 'wait'} below." if more else ""
    return head("Floor", first.words, act=first.act, detail=detail, verdict=first.verdict)


def _samples(connection: Connection, run: str) -> list[_Sampled]:
    """The newest samples of a run in the order of closures, each with its worst verdict by hand or by recording."""
    rows = asking.last_rows(connection, tables.Sample, last=LAST, run=run)
    plays = asking.rows_where(connection, tables.Play, sample=[row.sample for row in rows])
    keys = sorted({one.analysis for one in plays if one.analysis})
    verdicts = {one.key: one.verdict for one in asking.rows_where(connection, tables.Analysed, key=keys)}
    judged: dict[str, list[Any]] = {}
    for one in plays:
        if verdicts.get(one.analysis):
            judged.setdefault(one.sample, []).append(one)
    found = []
    for row in rows:
        own = judged.get(row.sample, [])
        words = [row.verdict, *(verdicts[one.analysis] for one in own)]
        bad = next((one.side for one in own if verdicts[one.analysis] == "fail"), None)
        found.append(
            _Sampled(
                sample=row.sample, closure=row.closure, verdict=_worst(words), faults=row.faults or "", side=bad or "",
            )
        )  # fmt: skip
    return sorted(found, key=lambda one: one.closure)


def _worst(words: list[str | None]) -> VerdictWord | None:
    for word in ("fail", "cannot_judge", "pass"):
        if word in words:
            return word
    return None


def _press(
    connection: Connection,
    row: asking.RunRow,
    samples: list[_Sampled],
    ages: dict[str, str],
    every: int,
    *,
    now: datetime,
    ended: bool,
) -> PressNow:
    on = {one.kind: one.ref for one in asking.spans_over(connection, row.run, _ON, max(row.closures, 1))}
    ticket = asking.newest(connection, tables.Ticket, job=row.job)
    spans = asking.spans_over(connection, row.run, tuple(_STAMPERS))
    there = {one.kind: one.ref for one in spans if one.last_low is None}
    good = max((one.closure for one in samples if one.verdict == "pass"), default=None)
    last = max((one.closure for one in samples), default=0)
    due = last + every
    verdict = _state(samples, good, late=not ended and due <= row.closures)
    strip = RunStrip(
        run=row.run, closures=row.closures, ordered=ticket.ordered, due=due,
        stampers=tuple(
            StamperStretch(side=_STAMPERS[one.kind], name=one.ref, first=one.first_low,
                           last=row.closures if one.last_high is None else one.last_high) for one in spans
        ),
        samples=tuple(SampleDot(closure=one.closure, verdict=one.verdict) for one in samples),
    )  # fmt: skip
    return PressNow(
        press=row.press, cavity=row.cavity, run=row.run, job=row.job, title=ticket.title,
        href=f"/find?q={row.job}", closures=row.closures, ordered=ticket.ordered,
        counted_at=_counted_at(connection, row.run),
        stampers=[
            StamperOn(side=_STAMPERS[kind], stamper=ref, impressions=ages.get(ref, "not counted"),
                      href=f"/metal/piece/{ref}")
            for kind, ref in sorted(there.items())
        ],
        batch=on.get("batch") or "not entered", operator=on.get("operator") or "not entered",
        settings=on.get("settings") or "not entered",
        last_good="none yet" if good is None else f"closure {good}, {count(row.closures - good, 'closure')} ago",
        last_sample="none yet" if not samples else f"closure {last}",
        next_due=_due(due, row.closures, ended), overdue=not ended and due <= row.closures, ended=ended,
        places=list(_places(connection, row.run, now)),
        strip=picture(run_strip(strip, pen=SCREEN, wide=WIDE), f"run-{row.run}"), verdict=verdict,
        verdict_words=VERDICT_WORDS[verdict], mark=mark(verdict),
    )  # fmt: skip


def _due(due: int, closures: int, ended: bool) -> str:
    if ended:
        return "none, the run has ended"
    return f"closure {due}" if due > closures else f"overdue since closure {due}"


def _state(samples: list[_Sampled], good: int | None, *, late: bool) -> VerdictWord:
    """A press fails if a sample failed after the last good one; without a good one, or when one is due, who can say."""
    if any(one.verdict == "fail" and one.closure > (good or 0) for one in samples):
        return "fail"
    return "cannot_judge" if good is None or late else "pass"


def _impressions(stamper: str, ports: Ports) -> str:
    low, high = age(AgeRequest(stamper=stamper), ports, silent).impressions
    return f"{low}" if low == high else f"{low} to {high}"


def _counted_at(connection: Connection, run: str) -> str:
    rows = asking.last_rows(connection, tables.Reading, last=1, run=run)
    return _when(asking.entry_rows(connection, [rows[-1].entry])[0].at) if rows else "not read yet"


def _when(at: datetime) -> str:
    return f"{at.day} {at:%b %H:%M} UTC"


def _places(connection: Connection, run: str, now: datetime) -> Iterator[str]:
    """Where the records of a run lie, and until when piles rest."""
    held = {row.place: row.records for row in asking.holdings(connection, [run])}
    for place in (At.HELD, At.RETURNED, At.PRESSED, At.RESTING, At.GOOD, At.BOXED, At.SHIPPED):
        if held.get(place):
            yield f"{held[place]} {plain(place)}"
    freed = {one.pile for one in asking.rows_where(connection, tables.Release, run=run)}
    rest = [one.rest_until for one in asking.rows_where(connection, tables.Pile, run=run)
            if one.pile not in freed and one.rest_until is not None and one.rest_until > now]  # fmt: skip
    if rest:
        yield f"{count(len(rest), 'pile')} may not be sleeved yet, the last until {_when(max(rest))}"


def _wait(words: str, act: str, href: str, verdict: VerdictWord) -> Waiting:
    return Waiting(words=words, act=act, href=href, verdict=verdict, verdict_words=VERDICT_WORDS[verdict],
                   mark=mark(verdict))  # fmt: skip


def _waits(connection: Connection, row: asking.RunRow, samples: list[_Sampled], every: int | None) -> Iterator[Waiting]:
    """What waits at a run, the worst first; without ``every``, after its end, no sample is due."""
    press = f"Press {row.press}, run {row.run}"
    failed = [one for one in samples if one.verdict == "fail"]
    if failed:
        side = next((one.side for one in failed if one.side), "")
        href = f"/copies/{row.job}/{side}" if side else f"/find?q={failed[0].sample}"
        faults = "; ".join(dict.fromkeys(one.faults for one in failed if one.faults))
        yield _wait(
            f"{press}: {len(failed)} of {count(len(samples), 'sample')} failed, the last at closure "
            f"{failed[-1].closure}.",
            "Look where the fault begins and ends" + (f": {faults}." if faults else "."), href, "fail",
        )  # fmt: skip
    held = {one.place: one.records for one in asking.holdings(connection, [row.run])}
    for place in (At.HELD, At.RETURNED):
        if held.get(place):
            yield _wait(f"{press}: {count(held[place], 'record')} {plain(place)}.", "Release or scrap them.",
                        f"/find?q={row.run}", "fail")  # fmt: skip
    sheet = asking.newest(connection, tables.SetUp, run=row.run)
    if sheet is not None and (sheet.identity != "pass" or sheet.clearance != "pass"):
        yield _wait(f"{press}: set-up with identity {plain(sheet.identity)}, line clearance {plain(sheet.clearance)}.",
                    "Check scribings and clear the line.", f"/find?q={row.run}",
                    "fail" if "fail" in (sheet.identity, sheet.clearance) else "cannot_judge")  # fmt: skip
    card = asking.newest(connection, tables.FirstOff, run=row.run)
    if card is None or card.verdict != "pass":
        what = (
            "no first-off is signed" if card is None else f"first-off at closure {card.closure}: {plain(card.verdict)}"
        )
        yield _wait(f"{press}: {what}.", "Check a record and sign its card.", f"/find?q={row.run}",
                    "fail" if card is not None and card.verdict == "fail" else "cannot_judge")  # fmt: skip
    last = max((one.closure for one in samples), default=0)
    if every is not None and row.closures - last >= every:
        yield _wait(f"{press}: {row.closures - last} closures since the last sample.", "Take one and hear it.",
                    f"/find?q={row.run}", "cannot_judge")  # fmt: skip


def _complaints(connection: Connection) -> Iterator[Waiting]:
    for row in asking.last_rows(connection, tables.Complaint, last=20):
        if row.verdict is None:
            yield _wait(f"Complaint {row.complaint}, job {row.job}: {row.fault}.", "Say what caused it.",
                        f"/find?q={row.complaint}", "cannot_judge")  # fmt: skip
