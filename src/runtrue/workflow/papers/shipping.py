"""Boxes, pallets, consignments, complaints, scrap, hand counts, gauges, hand-over."""

from typing import Any
from uuid import UUID

from runtrue.contract.listening import VerdictWord
from runtrue.errors import InputError
from runtrue.records import tables
from runtrue.records.counts import At
from runtrue.records.pen import Pen, RunState, clean_name
from runtrue.records.ranges import stretch
from runtrue.stats import conformity
from runtrue.types import Limit, Measurement
from runtrue.workflow.papers import ask_ship as ask
from runtrue.workflow.papers.paper import Told, day, moment, values_of
from runtrue.workflow.papers.piles import tagged, taken_off
from runtrue.workflow.papers.press import known_stretch


def box(asked: ask.BoxRequest, pen: Pen, entry: UUID) -> Told:
    """Pack records; which closures they are follows from the pile and the end they are taken from."""
    state = pen.run(asked.run)
    name = clean_name("box", asked.box)
    if was_shipped(pen, state.job, name):
        raise InputError(f"box {name} of job {state.job} was shipped; nothing goes into it any more: take another box")
    end = None if asked.pile is None else asked.end
    if asked.first is not None or asked.last is not None:
        first, last = known_stretch(state, asked.first, asked.last, asked.records)
        slack = asked.slack
        if first is None or last is None:
            raise InputError("first and last: give both closures or neither")
    elif asked.pile is not None:
        first, last, slack = _off_pile(asked, pen, state)
    else:
        first, last, slack = 1, max(state.closures, 1), 0
    stretch(first, last, slack)
    pen.span(entry, state, "box", f"{state.job}/{name}", first=first, last=last, slack=slack, records=asked.records)
    pen.add(
        tables.Box, entry, job=state.job, box=name, run=state.run,
        pile=None if asked.pile is None else asked.pile.strip(), end=end, records=asked.records,
    )  # fmt: skip
    pen.move(entry, state, At.GOOD, At.BOXED, asked.records, cause=f"box {name}")
    return Told(said=f"Box {name} of job {state.job}: {asked.records} records, closures {first} to {last}.")


def _off_pile(asked: ask.BoxRequest, pen: Pen, state: RunState) -> tuple[int, int, int]:
    row = tagged(pen, state, asked.pile or "")
    span = next(one for one in pen.standing(state.run, "pile") if one.ref == row.pile)
    freed = pen.where(tables.Release, run=state.run, pile=row.pile)
    if freed is None:
        raise InputError(
            f"pile {row.pile} of run {state.run} was not released; release it before its records are boxed"
        )
    boxed: dict[str, int] = {}
    for one in pen.all_where(tables.Box, run=state.run, pile=row.pile):
        boxed[one.end] = boxed.get(one.end, 0) + one.records
    if sum(boxed.values()) + asked.records > freed.good:
        raise InputError(
            f"pile {row.pile} of run {state.run} had {freed.good} good records and {sum(boxed.values())} are boxed; "
            f"{asked.records} more are not there: count again"
        )
    first, last, slack = span.first, span.last or span.first, (span.first_high - span.first_low + 1) // 2
    if row.direction == "unknown" or asked.end == "unknown" or "unknown" in boxed:
        return first, last, slack
    found = taken_off(
        first=first, last=last, records=freed.good, before=boxed.get(asked.end, 0), taken=asked.records,
        from_high=(asked.end == "top") == (row.direction == "first_at_bottom"),
    )  # fmt: skip
    return found[0], found[1], slack


def was_shipped(pen: Pen, job: str, name: str) -> bool:
    """Whether a box has left the house, alone or on its pallet."""
    return pen.where(tables.Consignment, job=job, box=name) is not None or _shipped_on_pallet(pen, job, name)


def _shipped_on_pallet(pen: Pen, job: str, name: str) -> bool:
    row = pen.where(tables.Pallet, job=job, box=name)
    return row is not None and pen.where(tables.Consignment, pallet=row.pallet) is not None


def pallet(asked: ask.PalletRequest, pen: Pen, entry: UUID) -> Told:
    """Put a box on a pallet."""
    job, name = asked.job.strip(), asked.box.strip()
    number = clean_name("pallet", asked.pallet)
    if pen.where(tables.Box, job=job, box=name) is None:
        raise InputError(f"box '{name}' of job '{job}' is not in the book; enter it first")
    before = pen.where(tables.Pallet, job=job, box=name)
    if before is not None:
        raise InputError(f"box {name} of job {job} is on pallet {before.pallet} already; correct that entry")
    if pen.where(tables.Consignment, pallet=number) is not None:
        raise InputError(f"pallet {number} was shipped; nothing goes onto it any more: take another")
    pen.add(tables.Pallet, entry, pallet=number, job=job, box=name)
    return Told(said=f"Box {name} of job {job} on pallet {number}.")


def consign(asked: ask.ConsignRequest, pen: Pen, entry: UUID) -> Told:
    """Send a pallet or a box away."""
    number = clean_name("consignment", asked.consignment)
    if (asked.pallet is None) == (asked.box is None):
        raise InputError("pallet and box: name one of them")
    if asked.pallet is not None:
        goes = clean_name("pallet", asked.pallet)
        boxes = [(row.job, row.box) for row in pen.all_where(tables.Pallet, pallet=goes)]
        if not boxes:
            raise InputError(f"pallet '{goes}' is not in the book; put its boxes on it first")
        if pen.where(tables.Consignment, pallet=goes) is not None:
            raise InputError(f"pallet {goes} was shipped already; correct the number")
    else:
        job = pen.need(tables.Ticket, asked.job or "", "job")
        boxes = [(job, clean_name("box", asked.box or ""))]
    lines = [row for job, name in boxes for row in _packed(pen, job, name, asked.pallet is None)]
    records = sum(row.records for row in lines)
    pen.add(
        tables.Consignment, entry, consignment=number, pallet=None if asked.pallet is None else asked.pallet.strip(),
        job=None if asked.box is None else boxes[0][0], box=None if asked.box is None else boxes[0][1],
        records=records, **values_of(asked, "customer", "invoiced"),
    )  # fmt: skip
    for row in lines:
        pen.move(entry, pen.run(row.run), At.BOXED, At.SHIPPED, row.records, cause=f"consignment {number}")
    cautions: tuple[str, ...] = ()
    if asked.invoiced is not None and asked.invoiced != records:
        cautions = (f"{asked.invoiced} are on the invoice and {records} in the boxes: count the boxes again.",)
    return Told(said=f"Consignment {number}: {len(boxes)} boxes, {records} records.", cautions=cautions)


def _packed(pen: Pen, job: str, name: str, alone: bool) -> list[Any]:
    """What was put into a box that may go."""
    rows = pen.all_where(tables.Box, job=job, box=name)
    if not rows:
        raise InputError(f"box '{name}' of job {job} is not in the book; enter it first")
    if pen.where(tables.Consignment, job=job, box=name) is not None or (alone and _shipped_on_pallet(pen, job, name)):
        raise InputError(f"box {name} of job {job} was shipped already; correct the number")
    return rows


def complaint(asked: ask.ComplaintRequest, pen: Pen, entry: UUID) -> Told:
    """Note a complaint and what came back."""
    number = pen.free(tables.Complaint, asked.complaint, "complaint")
    job = pen.need(tables.Ticket, asked.job, "job")
    name = None if asked.box is None else clean_name("box", asked.box)
    rows = [] if name is None else pen.all_where(tables.Box, job=job, box=name)
    if name is not None and not rows:
        raise InputError(f"box '{name}' of job {job} is not in the book; leave it out, or check the number")
    if asked.consignment is not None:
        pen.need(tables.Consignment, asked.consignment, "consignment")
    values = values_of(asked, "consignment", "sample", "side", "programme_s", "verdict", "cause", "action", "returned")
    pen.add(tables.Complaint, entry, complaint=number, job=job, box=name, fault=asked.fault.strip() or "-", **values)
    if asked.returned:
        runs = {row.run for row in rows} if asked.run is None else {asked.run.strip()}
        if len(runs) != 1:
            raise InputError("run: name the run of what came back; the box does not tell it")
        pen.move(entry, pen.run(runs.pop()), At.SHIPPED, At.RETURNED, asked.returned, cause=f"complaint {number}")
    return Told(said=f"Complaint {number} about job {job}: {asked.fault.strip()}.")


def scrap(asked: ask.ScrapRequest, pen: Pen, entry: UUID) -> Told:
    """Enter scrap; records that are ground up end there."""
    state = None if asked.run is None else pen.run(asked.run)
    if asked.records and (state is None or asked.material != "records"):
        raise InputError("records: name the run and material 'records' for records that are destroyed")
    into = None if asked.batch is None else pen.need(tables.Batch, asked.batch, "batch")
    pen.add(
        tables.Scrap, entry, run=None if state is None else state.run, batch=into,
        **values_of(asked, "material", "mass_kg", "records", "goes_to"),
    )  # fmt: skip
    if state is not None and asked.records:
        pen.move(entry, state, At.SCRAPPED, At.DESTROYED, asked.records, cause=asked.goes_to)
    return Told(said=f"{asked.mass_kg:g} kg {asked.material.replace('_', ' ')} to {asked.goes_to}.")


def move(asked: ask.MoveRequest, pen: Pen, entry: UUID) -> Told:
    """Move records from one place to another."""
    state = pen.run(asked.run)
    if At.DIFFERENCE.value in (asked.source, asked.target):
        raise InputError("a difference comes from a hand count; enter that with `runtrue book count`")
    pen.move(entry, state, At(asked.source), At(asked.target), asked.records, cause=asked.cause)
    return Told(said=f"Run {state.run}: {asked.records} from {asked.source} to {asked.target}.")


def count(asked: ask.CountRequest, pen: Pen, entry: UUID) -> Told:
    """Enter a hand count; the difference is an entry of its own."""
    state = pen.run(asked.run)
    if asked.place in (At.DESTROYED.value, At.DIFFERENCE.value):
        raise InputError(f"'{asked.place}' cannot be counted by hand; count where records lie")
    expected = state.holdings.get(asked.place, 0)
    pen.add(tables.HandCount, entry, run=state.run, place=asked.place, counted=asked.records, expected=expected)
    pen.move(entry, state, At(asked.place), At.DIFFERENCE, max(expected - asked.records, 0), cause="hand count")
    pen.move(entry, state, At.DIFFERENCE, At(asked.place), max(asked.records - expected, 0), cause="hand count")
    off = asked.records - expected
    cautions = () if off == 0 else (f"The book had {expected}: {abs(off)} {'too many' if off > 0 else 'missing'}.",)
    return Told(said=f"Run {state.run}: {asked.records} counted in {asked.place}.", cautions=cautions)


def gauge(asked: ask.GaugeRequest, pen: Pen, entry: UUID) -> Told:
    """Hold a gauge to its reference."""
    name = clean_name("gauge", asked.gauge)
    known = asked.u95 is not None and asked.tolerance > 0
    measured = Measurement(
        quantity="gauge_error", value=(asked.reading - asked.reference) / asked.tolerance if known else None,
        u95=(asked.u95 or 0.0) / asked.tolerance if known else None,
        reason="" if known else "the U95 of the comparison and a tolerance above 0 are needed",
    )  # fmt: skip
    limit = Limit(
        quantity="gauge_error", lower=-1.0, upper=1.0, owner=pen.who, source="gauge log", date=pen.at.date().isoformat()
    )
    verdict: VerdictWord = conformity.judge([measured], [limit])[0].verdict.value
    pen.add(
        tables.Gauge, entry, gauge=name, verdict=verdict, due=day("due", asked.due),
        quantity=clean_name("quantity", asked.quantity), unit=clean_name("unit", asked.unit),
        **values_of(asked, "reference", "reading", "u95", "tolerance", "stylus", "stylus_hours"),
    )  # fmt: skip
    off = asked.reading - asked.reference
    cautions = [] if known else [measured.reason[:1].upper() + measured.reason[1:] + "."]
    if verdict == "fail":
        cautions.append(f"What {name} measured since its last check is in doubt: measure it again.")
    return Told(said=f"{name} reads {off:+g} {asked.unit} off at {asked.reference:g} {asked.unit}.", verdict=verdict,
                cautions=tuple(cautions))  # fmt: skip


def sign(asked: ask.SignRequest, pen: Pen, entry: UUID) -> Told:
    """Write the hand-over of a shift from what happened, and sign it."""
    from runtrue.workflow.hand_over import hand_over_text

    since = moment("since", asked.since)
    upto = pen.at if asked.upto is None else moment("upto", asked.upto)
    if upto <= since:
        raise InputError("since and upto: the shift ends before it begins; exchange them")
    pen.flush()
    text = hand_over_text(pen.connection, since, upto)
    pen.add(tables.HandOver, entry, shift=clean_name("shift", asked.shift), since=since, upto=upto, text=text)
    return Told(said=text)


def withdraw(asked: ask.WithdrawRequest, pen: Pen, entry: UUID) -> Told:
    """Take an entry back: it no longer counts, and stays to be read."""
    old = pen.entry_of("entry", asked.entry)
    kind = pen.kind_of(old)
    if kind in ("keep", "expire"):
        raise InputError(f"a {kind} cannot be taken back, for the file follows it; keep the file again")
    if kind in _KEPT:
        raise InputError(f"a {kind} cannot be taken back, others refer to it; correct it with --replaces")
    pen.add(tables.Withdrawal, entry, kind=kind)
    return Told(said=f"Entry {asked.entry.strip()}, a {kind}, no longer counts.")


_KEPT = frozenset({"opened", "ticket", "side", "metal", "batch", "labels", "set-up", "withdraw"})
"""Kinds of which others hold the name."""
