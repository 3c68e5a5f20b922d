"""Is the book as it has to be? The file, its guards, the numbers of its entries, and every projection made anew."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass
from typing import Any

from sqlalchemy import Connection, delete, func, insert, select, union_all

from runtrue.records import guards, migrations, spans
from runtrue.records.counts import MAY_BE_OWED
from runtrue.records.pen import stands, written_spans
from runtrue.records.tables import (
    Base,
    Counted,
    Entry,
    Holding,
    Move,
    Reading,
    Run,
    Standing,
    grown,
    table_of,
)
from runtrue.types import Progress

SHOWN = 20
"""Problems of a kind that are listed."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Wrong:
    """Something that is not as it has to be."""

    what: str
    where: str
    found: str


def check(connection: Connection, progress: Progress) -> list[Wrong]:
    """All that is wrong; nothing in a sound book."""
    steps = (_file, _guards, _numbers, _replacements, _projections)
    found: list[Wrong] = []
    for at, step in enumerate(steps):
        progress("checking the book", at / len(steps))
        found += step(connection)
    return found


def _file(connection: Connection) -> Iterable[Wrong]:
    form = migrations.revision(connection)
    if form != migrations.HEAD:
        yield Wrong(what="form", where="book", found=f"{form}, this program writes {migrations.HEAD}")
    if connection.dialect.name == "sqlite":
        for (said,) in connection.exec_driver_sql(f"PRAGMA integrity_check({SHOWN})"):
            if said != "ok":
                yield Wrong(what="file", where="SQLite", found=str(said))
        for row in connection.exec_driver_sql("PRAGMA foreign_key_check").fetchmany(SHOWN):
            yield Wrong(what="reference", where=str(row[0]), found=f"row {row[1]} belongs to no entry")


def _guards(connection: Connection) -> Iterable[Wrong]:
    names = [table.name for table in grown()]
    for name in sorted(guards.expected(connection.dialect.name, names) - guards.guarded(connection)):
        yield Wrong(what="guard", where=name, found="the trigger is missing: rows could have been altered")


def _numbers(connection: Connection) -> Iterable[Wrong]:
    query = select(Entry.plant, func.count(), func.min(Entry.seq), func.max(Entry.seq)).group_by(Entry.plant)
    for plant, count, lowest, highest in connection.execute(query):
        if (lowest, highest) != (1, count):
            yield Wrong(what="numbers", where=plant, found=f"{count} entries are numbered {lowest} to {highest}")


def _replacements(connection: Connection) -> Iterable[Wrong]:
    old, new = table_of(Entry).alias("old"), table_of(Entry).alias("new")
    query = (
        select(new.c.seq, new.c.kind, old.c.kind.label("was"))
        .join(old, old.c.id == new.c.replaces)
        .where(new.c.kind != old.c.kind, new.c.kind != "withdraw")
    )
    for row in connection.execute(query).fetchmany(SHOWN):
        yield Wrong(what="replacement", where=f"entry {row.seq}", found=f"a {row.kind} replaces a {row.was}")


def _projections(connection: Connection) -> Iterable[Wrong]:
    for model, anew in made_anew(connection).items():
        table = table_of(model)
        key = [column.name for column in table.primary_key]
        kept = {tuple(row[name] for name in key): dict(row) for row in connection.execute(select(table)).mappings()}
        right = {tuple(row[name] for name in key): row for row in anew}
        wrong = [at for at in kept.keys() | right.keys() if kept.get(at) != right.get(at)]
        for at in sorted(wrong, key=str)[:SHOWN]:
            yield Wrong(
                what=f"projection {table.name}", where=" ".join(str(part) for part in at),
                found=f"{_words(kept.get(at))}, by the entries {_words(right.get(at))}",
            )  # fmt: skip
        if model is Holding:
            for row in anew:
                if row["records"] < 0 and row["place"] not in MAY_BE_OWED:
                    yield Wrong(what="count", where=f"run {row['run']}", found=f"{row['records']} in {row['place']}")


def _words(row: Mapping[str, Any] | None) -> str:
    if row is None:
        return "nothing"
    return ", ".join(f"{name} {value}" for name, value in row.items() if name not in ("entry", "line", "run", "place"))


def made_anew(connection: Connection) -> dict[type[Base], list[dict[str, Any]]]:
    """Rows of every projection, worked out from the entries that stand."""
    return {Holding: _holdings(connection), Counted: _counted(connection), Standing: _standing(connection)}


def _holdings(connection: Connection) -> list[dict[str, Any]]:
    table = table_of(Move)
    standing = select(table).where(stands(Move)).subquery()
    both = union_all(
        select(standing.c.run, standing.c.target.label("place"), standing.c.records),
        select(standing.c.run, standing.c.source.label("place"), (-standing.c.records).label("records")),
    ).subquery()
    query = select(both.c.run, both.c.place, func.sum(both.c.records)).group_by(both.c.run, both.c.place)
    return [
        {"run": run, "place": place, "records": int(records)}
        for run, place, records in connection.execute(query)
        if records
    ]


def _counted(connection: Connection) -> list[dict[str, Any]]:
    found = {
        row.run: {"run": row.run, "closures": 0, "counter": row.counter}
        for row in connection.execute(select(Run.run, Run.counter).where(stands(Run)))
    }
    query = (
        select(Reading.run, Reading.closures, Reading.counter, Reading.set_to)
        .join(Entry, Entry.id == Reading.entry).where(stands(Reading)).order_by(Entry.seq, Reading.line)
    )  # fmt: skip
    for row in connection.execute(query):
        counter = row.counter if row.set_to is None else row.set_to
        found[row.run] = {"run": row.run, "closures": row.closures, "counter": counter}
    return list(found.values())


def _standing(connection: Connection) -> list[dict[str, Any]]:
    groups: dict[tuple[str, str], list[spans.Written]] = defaultdict(list)
    for span in written_spans(connection):
        groups[(span.run, span.kind)].append(span)
    return [asdict(one) for group in groups.values() for one in spans.lay_out(group)]


def repair(connection: Connection) -> list[str]:
    """Put the projections made anew in the place of those that are kept; the names of those that differed."""
    differ = []
    for model, anew in made_anew(connection).items():
        table = table_of(model)
        kept = sorted((tuple(row) for row in connection.execute(select(table))), key=str)
        names = [column.name for column in table.columns]
        if kept == sorted((tuple(row[name] for name in names) for row in anew), key=str):
            continue
        differ.append(table.name)
        connection.execute(delete(table))
        if anew:
            connection.execute(insert(table), anew)
    return differ


def size(connection: Connection) -> tuple[int, int]:
    """Entries, and rows of all tables that grow."""
    counts = {
        table.name: int(connection.execute(select(func.count()).select_from(table)).scalar_one()) for table in grown()
    }
    return counts["entry"], sum(counts.values())
