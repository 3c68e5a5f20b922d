"""One transaction that writes: entries get their number, counts and spans are carried along, nothing half done.

Rows are collected and go to the database many at a time; what is asked of the book meanwhile is answered from what is
known here, so that a long import asks little.
"""

import re
from collections import defaultdict
from collections.abc import Collection, Sequence
from dataclasses import asdict, dataclass, field
from datetime import datetime
from functools import cache
from typing import Any
from uuid import UUID

from sqlalchemy import Connection, delete, func, insert, select, update

from runtrue.errors import InputError
from runtrue.records import spans
from runtrue.records.counts import MAY_BE_OWED, At, check_way
from runtrue.records.ids import new_id
from runtrue.records.tables import (
    Base,
    Counted,
    Entry,
    Holding,
    Move,
    Reading,
    Run,
    Sample,
    Span,
    Standing,
    name_of,
    table_of,
)

LONGEST_TEXT = 20_000
"""Most characters of a text in the book; a cell that holds more holds something else. Our choice."""
LONGEST_NAME = 200
"""Most characters of a name."""
LARGEST = 10**9
"""Most closures, records or readings; more is a slip."""
_FLUSH_AT = 4000
_NOT_IN_A_TEXT = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f\ud800-\udfff]")
_NOT_IN_A_NAME = re.compile(r"[\x00-\x1f\x7f\ud800-\udfff\u2028\u2029]")


@dataclass(slots=True, kw_only=True)
class RunState:
    """A run as it stands within the transaction."""

    run: str
    job: str
    press: str
    cavity: str
    closures: int
    counter: int
    holdings: dict[str, int]
    before: dict[str, int] = field(default_factory=dict)
    touched: set[str] = field(default_factory=set)
    ended: bool = False
    counted: bool = False
    recounted: bool = False


def clean_name(what: str, value: str) -> str:
    """A name without blanks at its ends; raises ``InputError`` for one that no label could carry."""
    name = value.strip()
    if not name:
        raise InputError(f"{what}: is empty; give the name as it is written on the paper")
    if len(name) > LONGEST_NAME:
        raise InputError(f"{what}: has {len(name)} characters; a name has at most {LONGEST_NAME}: shorten it")
    if _NOT_IN_A_NAME.search(name):
        raise InputError(f"{what}: holds a line end or another control character; a name is one line: remove it")
    return name


def clean_text(what: str, value: str) -> str:
    """A text that both databases keep as it is."""
    if len(value) > LONGEST_TEXT:
        raise InputError(f"{what}: has {len(value)} characters; at most {LONGEST_TEXT} are allowed: shorten it")
    if _NOT_IN_A_TEXT.search(value):
        raise InputError(f"{what}: holds a control character; remove it")
    return value


@cache
def _blank_row(model: type[Base]) -> tuple[dict[str, Any], bool]:
    """A row of a table with nothing in it, and whether rows are lines of their entry."""
    names = [column.name for column in table_of(model).columns]
    return dict.fromkeys(names), "line" in names


class Pen:
    """Writes within one transaction of a book. ``at`` is when it happened, in UTC."""

    def __init__(self, connection: Connection, *, plant: str, who: str, at: datetime, reason: str = "") -> None:
        self.connection = connection
        self.plant = plant
        self.who = clean_name("who", who)
        self.at = at
        self.reason = clean_text("reason", reason)
        self._rows: dict[type[Base], list[dict[str, Any]]] = defaultdict(list)
        self._waiting = 0
        self._runs: dict[str, RunState] = {}
        self._names: dict[tuple[type[Base], str], set[str]] = {}
        self._asked: dict[tuple[type[Base], str], int] = defaultdict(int)
        self._lines: dict[UUID, int] = defaultdict(int)
        self._standing: dict[tuple[str, str], list[spans.Stands]] = {}
        self._relay: list[tuple[str, str]] = []
        newest = select(Entry.seq, Entry.id).where(Entry.plant == plant).order_by(Entry.seq.desc()).limit(1)
        last = connection.execute(newest).first()
        self._seq = 0 if last is None else int(last.seq)
        self._id: UUID | None = None if last is None else last.id

    # entries

    def enter(self, kind: str, *, replaces: UUID | None = None, source: str | None = None) -> UUID:
        """Begin an entry; what it replaces no longer stands from here on."""
        if replaces is not None:
            self._void(replaces, kind)
        self._seq += 1
        entry = self._id = new_id(self._id)
        self._put(
            Entry, id=entry, plant=self.plant, seq=self._seq, at=self.at, who=self.who, reason=self.reason,
            replaces=replaces, kind=kind, source=source,
        )  # fmt: skip
        return entry

    def add(self, model: type[Base], entry: UUID, **values: Any) -> None:
        """Add a typed row to an entry; a line gets its number."""
        blank, numbered = _blank_row(model)
        for name, value in values.items():
            if isinstance(value, str):
                values[name] = clean_text(name, value)
            elif isinstance(value, int) and not isinstance(value, bool) and abs(value) > LARGEST:
                raise InputError(f"{name}: {value} is more than {LARGEST}: check the number")
        if numbered:
            self._lines[entry] += 1
            values["line"] = self._lines[entry]
        self._put(model, **(blank | {"entry": entry} | values))

    @property
    def seq(self) -> int:
        """Number of the newest entry."""
        return self._seq

    def entry_of(self, what: str, text: str) -> UUID:
        """Entry by its number in this plant's book, or by its id; raises ``InputError``."""
        given = text.strip()
        self.flush()
        if given.isascii() and given.isdigit() and len(given) < 12:
            query = select(Entry.id).where(Entry.plant == self.plant, Entry.seq == int(given))
            found = self.connection.execute(query).scalar()
            if found is None:
                raise InputError(f"{what} {given}: there is no entry of this number; `runtrue book log` lists them")
            return found
        try:
            return UUID(given)
        except ValueError:
            raise InputError(f"{what} '{given[:40]}' is no number of an entry; `runtrue book log` lists them") from None

    # names

    def has(self, model: type[Base], name: str, column: str | None = None) -> bool:
        """Whether something of this name stands. Asked often, it keeps the list."""
        at = column or name_of(model)
        key = (model, at)
        if key in self._names:
            return name in self._names[key]
        self._asked[key] += 1
        self.flush()
        named = table_of(model).columns[at]
        if self._asked[key] > 3:
            found = set(self.connection.execute(select(named).where(stands(model))).scalars())
            self._names[key] = found
            return name in found
        query = select(named).where(named == name, stands(model)).limit(1)
        return self.connection.execute(query).first() is not None

    def need(self, model: type[Base], name: str, what: str, column: str | None = None) -> str:
        """The name, when something of that name stands; raises ``InputError`` otherwise."""
        found = clean_name(what, name)
        if not self.has(model, found, column):
            raise InputError(f"{what} '{found}' is not in the book; enter it first, or check the spelling")
        return found

    def free(self, model: type[Base], name: str, what: str, column: str | None = None) -> str:
        """The name, when nothing of that name stands; raises ``InputError`` otherwise."""
        found = clean_name(what, name)
        if self.has(model, found, column):
            raise InputError(
                f"{what} '{found}' is in the book already; give another name, or correct that entry with --replaces"
            )
        return found

    def row(self, model: type[Base], name: str, column: str | None = None) -> Any:
        """The newest standing row of this name; None if there is none."""
        self.flush()
        named = table_of(model).columns[column or name_of(model)]
        table = table_of(model)
        query = (
            select(table).join(Entry, Entry.id == table.c.entry)
            .where(named == name, stands(model)).order_by(Entry.seq.desc()).limit(1)
        )  # fmt: skip
        return self.connection.execute(query).first()

    def where(self, model: type[Base], **equal: Any) -> Any:
        """The newest standing row with these values; None if there is none."""
        found = self.all_where(model, **equal)
        return found[-1] if found else None

    def all_where(self, model: type[Base], **equal: Any) -> list[Any]:
        """All standing rows with these values, the oldest first."""
        self.flush()
        table = table_of(model)
        query = select(table).join(Entry, Entry.id == table.c.entry).where(stands(model)).order_by(Entry.seq)
        for name, value in equal.items():
            query = query.where(table.columns[name] == value)
        return list(self.connection.execute(query).all())

    # counts

    def runs_on(self, press: str) -> list[RunState]:
        """The newest run of each cavity of a press."""
        self.flush()
        newest = newest_runs(self.connection, [press]).values()
        return [state for state in map(self.run, newest) if not state.ended]

    def runs_with(self, stamper: str) -> list[str]:
        """Runs that have a stamper on the press now."""
        self.flush()
        table = table_of(Standing)
        kinds = ("stamper_a", "stamper_b")
        query = select(table.c.run).where(table.c.kind.in_(kinds), table.c.ref == stamper, table.c.last_low.is_(None))
        held = list(self.connection.execute(query).scalars())
        return [run for run in held if run not in ended_runs(self.connection, held)]

    def run(self, name: str) -> RunState:
        """A run as it stands here; raises ``InputError`` for one that is not in the book."""
        run = clean_name("run", name)
        if run not in self._runs:
            row = self.row(Run, run)
            if row is None:
                raise InputError(f"run '{run}' is not in the book; begin it with a set-up sheet, or check the spelling")
            self._runs[run] = self._state(row)
        return self._runs[run]

    def begin_run(self, *, entry: UUID, run: str, job: str, press: str, cavity: str, counter: int) -> RunState:
        """Begin to count the closures of a run."""
        self.add(Run, entry, run=run, job=job, press=press, cavity=cavity, counter=counter)
        self._remember(Run, "run", run)
        if self.connection.execute(select(Counted.run).where(Counted.run == run)).first() is not None:
            return self.run(run)  # the set-up sheet is corrected; what was counted stays
        self._put(Counted, run=run, closures=0, counter=counter)
        state = RunState(run=run, job=job, press=press, cavity=cavity, closures=0, counter=counter, holdings={})
        self._runs[run] = state
        return state

    def _state(self, row: Any) -> RunState:
        counted = self.connection.execute(select(Counted.closures, Counted.counter).where(Counted.run == row.run)).one()
        held = self.connection.execute(select(Holding.place, Holding.records).where(Holding.run == row.run)).all()
        return RunState(
            run=row.run, job=row.job, press=row.press, cavity=row.cavity, closures=counted.closures,
            counter=counted.counter, holdings={row.place: row.records for row in held},
            ended=row.run in closed_runs(self.connection, [row.run]),
        )  # fmt: skip

    def move(
        self, entry: UUID, state: RunState, source: At, target: At, records: int, *, cause: str | None = None,
        first: int | None = None, last: int | None = None,
    ) -> None:  # fmt: skip
        """Move records of a run; nought moves nothing."""
        if records < 0:
            raise InputError(f"records: {records} cannot be moved; give 0 or more")
        if records == 0:
            return
        check_way(source, target)
        self.add(
            Move, entry, run=state.run, source=source.value, target=target.value, records=records, cause=cause,
            first=first, last=last,
        )  # fmt: skip
        self._book(state, source, target, records)

    def _book(self, state: RunState, source: str, target: str, records: int) -> None:
        for place, change in ((source, -records), (target, records)):
            state.before.setdefault(place, state.holdings.get(place, 0))
            state.holdings[place] = state.holdings.get(place, 0) + change
            state.touched.add(place)

    def settle(self) -> None:
        """Hold the counts to what can be; raises ``InputError`` for a place that would hold less than nothing."""
        for state in self._runs.values():
            for place in state.before:
                now, had = state.holdings.get(place, 0), state.before[place]
                if now < 0 and place not in MAY_BE_OWED:
                    raise InputError(
                        f"run {state.run}: {had - now} records are to leave '{place}' and {had} are there; count "
                        "again, or correct the entry that says so"
                    )
            state.before.clear()
            if state.recounted:
                self._hold_to_counter(state)

    def _hold_to_counter(self, state: RunState) -> None:
        """After a reading was corrected nothing may lie beyond it."""
        state.recounted = False
        self.flush()
        written = select(func.max(Span.last)).where(Span.run == state.run, stands(Span))
        sampled = select(func.max(Sample.closure)).where(Sample.run == state.run, stands(Sample))
        highest = max(int(self.connection.execute(query).scalar() or 0) for query in (written, sampled))
        if highest > state.closures:
            raise InputError(
                f"run {state.run} would have counted {state.closures} closures, and closure {highest} stands in a "
                "pile, a box or a sample; correct that first"
            )

    def count_to(self, entry: UUID, state: RunState, closures: int, counter: int, set_to: int | None = None) -> None:
        """Note that a run has counted ``closures`` in all; the new ones are pressed."""
        self.add(Reading, entry, run=state.run, counter=counter, closures=closures, set_to=set_to)
        self.move(entry, state, At.CLOSURE, At.PRESSED, closures - state.closures)
        state.closures, state.counter = closures, counter if set_to is None else set_to
        state.counted = True

    # spans

    def span(
        self, entry: UUID, state: RunState, kind: str, ref: str, *, first: int, last: int | None = None,
        slack: int = 0, slack_last: int | None = None, records: int | None = None,
    ) -> None:  # fmt: skip
        """Say what held over closures of a run."""
        values: dict[str, Any] = {
            "run": state.run, "kind": kind, "ref": ref, "first": first, "last": last, "slack_first": slack,
            "slack_last": slack if slack_last is None else slack_last, "records": records,
        }  # fmt: skip
        self.add(Span, entry, **values)
        written = spans.Written(entry=entry, line=self._lines[entry], seq=self._seq, **values)
        new = spans.closed(written)
        if kind in spans.UNTIL_NEXT:
            self._standing.pop((state.run, kind), None)
            self._end_the_one_before(new)
        else:
            self._put(Standing, **asdict(new))
            if (state.run, kind) in self._standing:
                self._standing[(state.run, kind)].append(new)

    def standing(self, run: str, kind: str) -> list[spans.Stands]:
        """Spans of one kind that stand in a run, in the order of closures."""
        if (run, kind) not in self._standing:
            self.flush()
            table = table_of(Standing)
            query = select(table).where(table.c.run == run, table.c.kind == kind).order_by(table.c.first_high)
            rows = self.connection.execute(query).all()
            self._standing[(run, kind)] = [spans.Stands(**row._mapping) for row in rows]
        return self._standing[(run, kind)]

    def apart(self, run: str, kind: str, *, first: int, last: int, slack: int, what: str) -> None:
        """Refuse closures that another span of the kind surely has."""
        for one in self.standing(run, kind):
            low, high = max(first + slack, one.first_high), min(last - slack, one.last_low or 0)
            if low <= high:
                raise InputError(
                    f"closures {first} to {last} of run {run} overlap {what} ({one.ref}), closures {one.first_low} to "
                    f"{one.last_high}; correct the range, or that entry"
                )

    def _end_the_one_before(self, new: spans.Stands) -> None:
        self.flush()
        of_kind = (Standing.run == new.run, Standing.kind == new.kind)
        newest = self.connection.execute(
            select(table_of(Standing)).where(*of_kind).order_by(Standing.first_high.desc()).limit(1)
        ).first()
        if newest is not None and newest.first_high >= new.first_high:
            self.lay_out_again(new.run, new.kind)
            return
        if newest is not None:
            end = spans.ended(spans.Stands(**newest._mapping), new)
            self.connection.execute(
                update(Standing)
                .where(Standing.entry == newest.entry, Standing.line == newest.line)
                .values(last_low=end.last_low, last_high=end.last_high)
            )
        self._put(Standing, **asdict(new))

    def lay_out_again(self, run: str, kind: str) -> None:
        """Work out anew how the spans of one kind stand in a run."""
        self.flush()
        self.connection.execute(delete(Standing).where(Standing.run == run, Standing.kind == kind))
        found = spans.lay_out(written_spans(self.connection, run, kind))
        if found:
            self.connection.execute(insert(Standing), [asdict(one) for one in found])

    # what no longer stands

    def kind_of(self, entry: UUID) -> str:
        """Kind of an entry; raises ``InputError`` for one that is not in the book."""
        self.flush()
        kind = self.connection.execute(select(Entry.kind).where(Entry.id == entry)).scalar()
        if kind is None:
            raise InputError(f"entry {entry} is not in the book; `runtrue book log` lists them")
        return str(kind)

    def _void(self, entry: UUID, by: str) -> None:
        """Undo what an entry did to counts and spans, for it is replaced."""
        kind = self.kind_of(entry)
        if by not in (kind, "withdraw"):
            raise InputError(f"entry {entry} is a {kind} and cannot be replaced by a {by}; use the paper of its kind")
        taken = self.connection.execute(select(Entry.id, Entry.who).where(Entry.replaces == entry)).first()
        if taken is not None:
            raise InputError(
                f"entry {entry} was replaced already, by {taken.who} (entry {taken.id}); look at that one, then "
                "correct it"
            )
        for move in self.connection.execute(select(table_of(Move)).where(Move.entry == entry)).all():
            self._book(self.run(move.run), move.target, move.source, move.records)
        self._void_readings(entry)
        laid = self.connection.execute(select(Span.run, Span.kind).where(Span.entry == entry).distinct()).all()
        self.connection.execute(delete(Standing).where(Standing.entry == entry))
        self._relay = [(run, span_kind) for run, span_kind in laid if span_kind in spans.UNTIL_NEXT]
        self._names.clear()
        self._standing.clear()

    def _void_readings(self, entry: UUID) -> None:
        rows = self.connection.execute(select(table_of(Reading)).where(Reading.entry == entry)).all()
        for row in rows:
            state = self.run(row.run)
            state.ended = False  # an end is the last of the readings
            query = (
                select(Reading.closures, Reading.counter, Reading.set_to, Reading.entry)
                .join(Entry, Entry.id == Reading.entry)
                .where(Reading.run == row.run, stands(Reading))
                .order_by(Entry.seq.desc(), Reading.line.desc()).limit(2)
            )  # fmt: skip
            newest = self.connection.execute(query).all()
            if newest[0].entry != entry:
                raise InputError(
                    f"entry {entry}: a later reading of run {row.run} counts on from it; correct the newest reading "
                    "first"
                )
            if len(newest) > 1:
                state.closures = newest[1].closures
                state.counter = newest[1].counter if newest[1].set_to is None else newest[1].set_to
            else:
                state.closures, state.counter = 0, self.row(Run, row.run).counter
            state.counted = state.recounted = True

    # to the database

    def _remember(self, model: type[Base], column: str, name: str) -> None:
        if (model, column) in self._names:
            self._names[(model, column)].add(name)

    def _put(self, model: type[Base], **row: Any) -> None:
        self._rows[model].append(row)
        for (named, column), names in self._names.items():
            if named is model and row.get(column) is not None:
                names.add(row[column])
        self._waiting += 1
        if self._waiting >= _FLUSH_AT:
            self.flush()

    def flush(self) -> None:
        """Send what waits; the spine goes first."""
        if self._waiting:
            rows, self._rows, self._waiting = self._rows, defaultdict(list), 0
            for model in sorted(rows, key=lambda m: m is not Entry):
                self.connection.execute(insert(model), rows[model])
        if self._relay:
            again, self._relay = self._relay, []
            for run, kind in again:
                self.lay_out_again(run, kind)

    def finish(self) -> None:
        """Bring counts and holdings to the database; the last thing before the commit."""
        self.settle()
        self.flush()
        for state in self._runs.values():
            if state.counted:
                self.connection.execute(
                    update(Counted)
                    .where(Counted.run == state.run)
                    .values(closures=state.closures, counter=state.counter)
                )
            if state.touched:
                self.connection.execute(
                    delete(Holding).where(Holding.run == state.run, Holding.place.in_(state.touched))
                )
                rows = [
                    {"run": state.run, "place": str(place), "records": state.holdings[place]}
                    for place in state.touched
                    if state.holdings[place]
                ]
                if rows:
                    self.connection.execute(insert(Holding), rows)


def stands(model: type[Base]) -> Any:
    """Condition: no later entry replaces this row's entry."""
    column = table_of(model).columns["id" if model is Entry else "entry"]
    return column.not_in(select(Entry.replaces).where(Entry.replaces.is_not(None)))


def closed_runs(connection: Connection, runs: Sequence[str]) -> set[str]:
    """Those of some runs that were ended."""
    ends = select(Reading.run).join(Entry, Entry.id == Reading.entry).where(Entry.kind == "end", stands(Reading))
    return set(connection.execute(ends.where(Reading.run.in_(runs))).scalars())


def ended_runs(connection: Connection, runs: Sequence[str]) -> set[str]:
    """Those of some runs that were ended, or whose cavity has been set up anew since."""
    table = table_of(Run)
    mine = connection.execute(select(table).where(table.c.run.in_(runs), stands(Run))).all()
    on_press = set(newest_runs(connection, {row.press for row in mine}).values())
    return closed_runs(connection, runs) | {row.run for row in mine if row.run not in on_press}


def newest_runs(connection: Connection, presses: Collection[str]) -> dict[tuple[str, str], str]:
    """Press and cavity -> the run that was begun there last, however often a set-up sheet was corrected."""
    table, begun = table_of(Run), select(Run.run, func.min(Entry.seq).label("seq")).join(Entry, Entry.id == Run.entry)
    first = begun.where(Run.press.in_(presses)).group_by(Run.run).subquery()
    query = select(table).join(first, first.c.run == table.c.run).where(table.c.press.in_(presses), stands(Run))
    return {(row.press, row.cavity): row.run for row in connection.execute(query.order_by(first.c.seq))}


def written_spans(connection: Connection, run: str | None = None, kind: str | None = None) -> list[spans.Written]:
    """Spans that stand, as they were written; of one run and kind where named."""
    table = table_of(Span)
    query = select(table, Entry.seq).join(Entry, Entry.id == table.c.entry).where(stands(Span))
    if run is not None:
        query = query.where(table.c.run == run, table.c.kind == kind)
    return [spans.Written(**row._mapping) for row in connection.execute(query)]
