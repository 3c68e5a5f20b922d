"""What is asked of the book: small queries that give plain rows, all of what stands."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, and_, func, or_, select

from runtrue.errors import InputError
from runtrue.records import tables
from runtrue.records.pen import stands
from runtrue.records.ranges import Stretch
from runtrue.records.tables import Counted, Entry, Holding, Standing, table_of


@dataclass(frozen=True, slots=True, kw_only=True)
class RunRow:
    """A run and how far it has counted."""

    run: str
    job: str
    press: str
    cavity: str
    closures: int
    counter: int


def rows_where(connection: Connection, model: type[tables.Base], **equal: Any) -> list[Any]:
    """Standing rows with these values, the oldest first; a list of values stands for any of them."""
    table = table_of(model)
    query = select(table).join(Entry, Entry.id == table.c.entry).where(stands(model)).order_by(Entry.seq)
    for name, value in equal.items():
        column = table.columns[name]
        query = query.where(column.in_(value) if isinstance(value, list) else column == value)
    return list(connection.execute(query).all())


def count_where(connection: Connection, model: type[tables.Base], **equal: Any) -> int:
    """How many standing rows have these values; a list of values stands for any of them."""
    table = table_of(model)
    query = select(func.count()).select_from(table).where(stands(model))
    for name, value in equal.items():
        column = table.columns[name]
        query = query.where(column.in_(value) if isinstance(value, list) else column == value)
    return int(connection.execute(query).scalar_one())


def newest(connection: Connection, model: type[tables.Base], **equal: Any) -> Any:
    """The newest standing row with these values; None if there is none."""
    found = rows_where(connection, model, **equal)
    return found[-1] if found else None


def run_rows(connection: Connection, **equal: Any) -> list[RunRow]:
    """Runs with these values."""
    rows = rows_where(connection, tables.Run, **equal)
    if not rows:
        return []
    names = [row.run for row in rows]
    query = select(table_of(Counted)).where(Counted.run.in_(names))
    counted = {row.run: row for row in connection.execute(query)}
    return [
        RunRow(
            run=row.run, job=row.job, press=row.press, cavity=row.cavity, closures=counted[row.run].closures,
            counter=counted[row.run].counter,
        )
        for row in rows
    ]  # fmt: skip


def run_row(connection: Connection, run: str) -> RunRow:
    """The run of this name; raises ``InputError``."""
    found = run_rows(connection, run=run.strip())
    if not found:
        raise InputError(
            f"run '{run.strip()}' is not in the book; check the spelling, `runtrue book chain` finds names"
        )
    return found[-1]


def spans_of(connection: Connection, kinds: Sequence[str], ref: str) -> list[Any]:
    """Where something held, over all runs."""
    table = table_of(Standing)
    query = select(table).where(table.c.kind.in_(kinds), table.c.ref == ref).order_by(table.c.run, table.c.first_low)
    return list(connection.execute(query).all())


def spans_over(
    connection: Connection, run: str, kinds: Sequence[str], low: int | None = None, high: int | None = None
) -> list[Any]:
    """Spans of a run, those that touch closures from low to high where given, in the order of closures."""
    table = table_of(Standing)
    query = select(table).where(table.c.run == run, table.c.kind.in_(kinds))
    if low is not None:
        query = query.where(or_(table.c.last_high.is_(None), table.c.last_high >= low))
    if high is not None:
        query = query.where(table.c.first_low <= high)
    return list(connection.execute(query.order_by(table.c.kind, table.c.first_high)).all())


def stretch_of(row: Any, closures: int) -> Stretch:
    """Stretch of a standing span; one that still holds ends at the run's count."""
    last_low = closures if row.last_low is None else row.last_low
    last_high = closures if row.last_high is None else row.last_high
    return Stretch(first_low=row.first_low, first_high=row.first_high, last_low=last_low, last_high=last_high)


def samples_over(connection: Connection, run: str, low: int, high: int) -> list[Any]:
    """Samples of a run that can be of closures low to high, in the order of closures."""
    table = table_of(tables.Sample)
    query = (
        select(table)
        .where(table.c.run == run, table.c.closure + table.c.slack >= low, table.c.closure - table.c.slack <= high)
        .where(stands(tables.Sample)).order_by(table.c.closure)
    )  # fmt: skip
    return list(connection.execute(query).all())


def holdings(connection: Connection, runs: Sequence[str]) -> list[Any]:
    """Records of runs by place; what holds nothing is left out."""
    table = table_of(Holding)
    query = select(table).where(table.c.run.in_(runs)).order_by(table.c.run, table.c.place)
    return list(connection.execute(query).all())


def moved(connection: Connection, runs: Sequence[str], *, group: str, **equal: Any) -> dict[str, int]:
    """Records moved in runs, summed by a column of the moves."""
    table = table_of(tables.Move)
    by = table.columns[group]
    query = select(by, func.sum(table.c.records)).where(table.c.run.in_(runs), stands(tables.Move)).group_by(by)
    for name, value in equal.items():
        column = table.columns[name]
        query = query.where(column.in_(value) if isinstance(value, list) else column == value)
    return {str(name): int(total) for name, total in connection.execute(query).all()}


def boxes_by_place(connection: Connection, job: str) -> tuple[dict[str, str], dict[str, str]]:
    """Of the boxes of a job that are on a pallet or were sent: box -> pallet, box -> consignment."""
    pallets = {row.box: row.pallet for row in rows_where(connection, tables.Pallet, job=job)}
    table = table_of(tables.Consignment)
    on_pallets = table.c.pallet.in_(sorted(set(pallets.values()))) if pallets else None
    alone = and_(table.c.job == job, table.c.box.is_not(None))
    query = select(table).where(alone if on_pallets is None else or_(alone, on_pallets), stands(tables.Consignment))
    sent: dict[str, str] = {}
    for row in connection.execute(query).all():
        for box in [row.box] if row.box is not None else [b for b, p in pallets.items() if p == row.pallet]:
            sent[box] = row.consignment
    return pallets, sent


def lineage(connection: Connection, metal: str) -> list[Any]:
    """A piece and what it was grown from, oldest last."""
    found: list[Any] = []
    name: str | None = metal
    while name is not None and len(found) < 10:
        row = newest(connection, tables.MetalPiece, metal=name)
        if row is None:
            break
        found.append(row)
        name = row.parent
    return found


def entries_between(connection: Connection, since: Any, upto: Any) -> list[Any]:
    """Standing entries of a time, in their order."""
    table = table_of(Entry)
    query = select(table).where(table.c.at >= since, table.c.at < upto, stands(Entry)).order_by(table.c.at, table.c.seq)
    return list(connection.execute(query).all())


def entries_of(connection: Connection, kinds: Sequence[str]) -> list[Any]:
    """Standing entries of these kinds: id and number."""
    query = select(Entry.id, Entry.seq).where(Entry.kind.in_(kinds), stands(Entry))
    return list(connection.execute(query).all())


def rows_of(connection: Connection, model: type[tables.Base], entries: Sequence[Any]) -> list[Any]:
    """Rows of a table that belong to these entries."""
    table = table_of(model)
    found: list[Any] = []
    for at in range(0, len(entries), 500):
        query = select(table).where(table.c.entry.in_(entries[at : at + 500]))
        found += connection.execute(query).all()
    return found


def log(connection: Connection, *, last: int, kind: str | None, text: str | None) -> list[Any]:
    """The newest entries, oldest first, with the entry that replaces each."""
    table, other = table_of(Entry), table_of(Entry).alias("other")
    query = (
        select(table, other.c.id.label("replaced_by"))
        .outerjoin(other, other.c.replaces == table.c.id)
        .order_by(table.c.seq.desc()).limit(last)
    )  # fmt: skip
    if kind is not None:
        query = query.where(table.c.kind == kind)
    if text is not None:
        query = query.where(or_(table.c.reason.contains(text, autoescape=True), table.c.who == text))
    return list(reversed(connection.execute(query).all()))


def analyses_of(connection: Connection, runs: Sequence[str]) -> int:
    """How many analyses were made of samples of these runs."""
    sample, play = table_of(tables.Sample), table_of(tables.Play)
    query = (
        select(func.count()).select_from(play.join(sample, sample.c.sample == play.c.sample))
        .where(sample.c.run.in_(runs), play.c.analysis.is_not(None), stands(tables.Play), stands(tables.Sample))
    )  # fmt: skip
    return int(connection.execute(query).scalar_one())


def last_samples(connection: Connection, run: str) -> tuple[int | None, int | None]:
    """Closure of the last good sample of a run, and of the last one."""
    table = table_of(tables.Sample)
    query = select(func.max(table.c.closure)).where(table.c.run == run, stands(tables.Sample))
    good = connection.execute(query.where(table.c.verdict == "pass")).scalar()
    last = connection.execute(query).scalar()
    return None if good is None else int(good), None if last is None else int(last)


def last_rows(connection: Connection, model: type[tables.Base], *, last: int, **equal: Any) -> list[Any]:
    """The newest standing rows with these values, in the order they were written."""
    table = table_of(model)
    query = select(table).where(stands(model)).order_by(table.c.entry.desc()).limit(last)
    for name, value in equal.items():
        query = query.where(table.columns[name] == value)
    return list(reversed(connection.execute(query).all()))


def entry_rows(connection: Connection, entries: Sequence[Any]) -> list[Any]:
    """Entries by their ids: who wrote them and when."""
    table = table_of(Entry)
    found: list[Any] = []
    for at in range(0, len(entries), 500):
        found += connection.execute(select(table).where(table.c.id.in_(entries[at : at + 500]))).all()
    return found


def names_like(connection: Connection, model: type[tables.Base], column: str, start: str, *, last: int) -> list[str]:
    """Different names in a column that begin with the same letter or figure as ``start``, whatever its case."""
    named = table_of(model).columns[column]
    first = next((one for one in start if one.isalnum()), "")
    begins = or_(named.startswith(first.lower(), autoescape=True), named.startswith(first.upper(), autoescape=True))
    query = select(named).where(begins, stands(model)).distinct().limit(50 * last)
    return [str(one) for one in connection.execute(query).scalars()]
