"""Random actions on a run beside an independent tally of what they should come to.

``python -m bench.book_random [--actions N] [--postgres URL]``: 10,000 in random order; the book's places must be the
tally's after every hundred, and the check clean at the end.
"""

import argparse
import random
import sys
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, ClassVar

from sqlalchemy import select

from runtrue.errors import InputError
from runtrue.records import Book, make_book
from runtrue.records.check import check
from runtrue.records.tables import Holding, table_of
from runtrue.types import silent
from runtrue.workflow.papers.catalogue import paper
from runtrue.workflow.papers.entering import write

Step = tuple[str, int, int]


@dataclass(slots=True, kw_only=True)
class Tally:
    """Records by place, kept with nothing of the book's own code."""

    WAYS: ClassVar[dict[str, tuple[str, str]]] = {
        "press": ("closure", "pressed"),
        "reject": ("pressed", "scrapped"),
        "hold": ("pressed", "held"),
        "sample": ("pressed", "sample"),
        "scrap": ("scrapped", "destroyed"),
        "free": ("held", "good"),
        "box": ("good", "boxed"),
        "open": ("boxed", "good"),
        "destroy": ("sample", "destroyed"),
        "count": ("good", "difference"),
    }
    closures: int
    counts: Counter[str]

    def allows(self, what: str, records: int) -> bool:
        """Whether so many can go that way."""
        source = self.WAYS[what][0]
        return source == "closure" or what == "count" or self.counts[source] >= self.records(what, records)

    def records(self, what: str, records: int) -> int:
        """How many go: a sample is one, a hand count all that differs."""
        if what == "sample":
            return 1
        return self.counts["good"] - records if what == "count" else records

    def go(self, what: str, records: int) -> None:
        """Move them."""
        source, target = self.WAYS[what]
        moved = self.records(what, records)
        self.counts[source] -= moved
        self.counts[target] += moved
        self.closures += moved if source == "closure" else 0


def request_of(tally: Tally, what: str, records: int, number: int) -> tuple[str, dict[str, Any]]:
    """The paper that does it."""
    source, target = Tally.WAYS[what]
    several = {"run": "R1", "records": records}
    papers: dict[str, tuple[str, dict[str, Any]]] = {
        "press": ("read", {"run": "R1", "counter": tally.closures + records}),
        "reject": ("reject", {**several, "cause": what, "to": target}),
        "hold": ("reject", {**several, "cause": what, "to": target}),
        "sample": ("sample", {"run": "R1", "sample": f"s{number}-{random.random()}", "closure": 1}),
        "scrap": ("scrap", {**several, "material": "records", "mass_kg": 1.0}),
        "box": ("box", {**several, "box": str(number)}),
        "count": ("count", {**several, "place": "good"}),
    }
    return papers.get(what, ("move", {**several, "source": source, "target": target}))


def apply(book: Book, tally: Tally, steps: Iterable[Step]) -> int:
    """Do the steps, a transaction each; what the tally refuses the book must refuse too. How many were refused."""
    refused, now = 0, datetime(2026, 11, 25, tzinfo=UTC)
    for what, records, number in steps:
        verb, values = request_of(tally, what, records, number)
        try:
            with book.write(who="bench", at=now) as pen:
                write(paper(verb).request(**values), pen)
        except InputError:
            if tally.allows(what, records):
                raise
            refused += 1
            continue
        if not tally.allows(what, records):
            raise AssertionError(f"the book took {what} of {records} with {dict(tally.counts)}")
        tally.go(what, records)
    return refused


def held(book: Book) -> dict[str, int]:
    """Places of run R1 as the book has them."""
    with book.read() as connection:
        return {row.place: row.records for row in connection.execute(select(table_of(Holding))).all()}


def begin(book: Book) -> Tally:
    """A run with 200 closures to take from."""
    now = datetime(2026, 11, 25, tzinfo=UTC)
    papers: list[tuple[str, dict[str, Any]]] = [
        ("ticket", {"job": "J", "title": "T", "format": "12in-33", "ordered": 100, "matrix_a": "M"}),
        ("metal", {"metal": "S1", "matrix": "M", "generation": "stamper"}),
        ("set-up", {"run": "R1", "job": "J", "press": "P", "stamper_a": "S1"}),
        ("read", {"run": "R1", "counter": 200}),
    ]
    with book.write(who="bench", at=now) as pen:
        for verb, values in papers:
            write(paper(verb).request(**values), pen)
    return Tally(closures=200, counts=Counter({"closure": -200, "pressed": 200}))


def run(given: str, actions: int, seed: int) -> list[str]:
    """So many random actions; everything that differs."""
    rng = random.Random(seed)
    book = make_book(given, plant="random", who="bench")[0]
    tally, refused, found = begin(book), 0, []
    for done in range(0, actions, 100):
        steps = [(rng.choice(list(Tally.WAYS)), rng.randrange(1, 10), rng.randrange(1, 300)) for _ in range(100)]
        refused += apply(book, tally, steps)
        kept = held(book)
        if kept != {place: n for place, n in tally.counts.items() if n} or sum(kept.values()) != 0:
            found.append(f"after {done + 100} actions: the book has {kept}, the tally {dict(tally.counts)}")
    with book.read() as connection:
        found += [f"{one.what} {one.where}: {one.found}" for one in check(connection, silent)]
    print(f"{actions} actions, {refused} refused by book and tally alike, {dict(tally.counts)}", file=sys.stderr)
    book.close()
    return found


def main(arguments: list[str] | None = None) -> int:
    """Run it; 0 when every sum was kept."""
    parser = argparse.ArgumentParser(prog="python -m bench.book_random", description=__doc__)
    parser.add_argument("--actions", type=int, default=10_000, help="10,000 if not given")
    parser.add_argument("--postgres", help="URL of an empty database in place of a file")
    parser.add_argument("--seed", type=int, default=1, help="of the order")
    given = parser.parse_args(arguments)
    with TemporaryDirectory() as folder:
        found = run(given.postgres or str(Path(folder) / "book.sqlite"), given.actions, given.seed)
    print("\n".join(found) or f"{given.actions} random actions: every sum is kept, the book is sound")
    return int(bool(found))


if __name__ == "__main__":
    sys.exit(main())
