"""The goals of the book, each on both databases: kills, random actions, a million closures, two writers.

``python -m bench.book [--write] [--times N] [--actions N] [--runs N]`` prints the table and ends with 1 on a miss;
``--write`` writes it to docs/. PostgreSQL is a server of its own, from Debian's package, thrown away afterwards.
"""

import argparse
import os
import sys
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime
from functools import partial
from pathlib import Path
from tempfile import TemporaryDirectory
from time import perf_counter

from bench import book_kill, book_million, book_random
from runtrue.records import make_book
from runtrue.records.check import check
from runtrue.types import silent
from tests.postgres import crash, database, server

PAGE = Path(__file__).parents[1] / "docs" / "accuracy-book.md"
ROWS = 100_000
Line = tuple[str, str, str, bool]
"""What, needed, found, reached."""


def lines(given: Callable[[str], str], plan: argparse.Namespace, crashed: Callable[[], None] | None) -> Iterator[Line]:
    """All goals on one database; ``given`` makes a place for a book by a name."""
    lost = book_kill.run(given("kill"), plan.times, 1, crashed)
    words = f"{plan.times} kills, {len(lost)} losses" + ("; every tenth the server too" if crashed else "")
    yield "kill -9 at random moments", "200 times, nothing committed lost, check clean", words, not lost
    off = book_random.run(given("random"), plan.actions, 1)
    needed = "10,000 keep every sum"
    yield "random actions in any order", needed, f"{plan.actions} actions, {len(off)} sums off", not off
    yield two_writers(given("two"))
    with TemporaryDirectory() as folder:
        for name, limit, value, words in book_million.measure(given("million"), plan.runs, ROWS, Path(folder)):
            yield f"{plan.runs * book_million.RUN:,} closures: {name}", NEEDED[name], words, value < limit


NEEDED = {
    **{f"recall by {what}": "below 100 ms" for what in ("closures", "stamper", "failed sample")},
    "job page": "below 200 ms", "size": "below 1 GiB", f"import of {ROWS} rows": "below 30 s",
    "the same rows again": "none comes twice", "book check clean": "nothing wrong",
}  # fmt: skip


def two_writers(given: str) -> Line:
    """Eight threads with a book each write 50 entries each: every one is there, numbered without a gap."""
    make_book(given, plant="two", who="bench")[0].close()

    def write(_number: int) -> None:
        book = make_book(given, plant="two", who="bench")[0]
        for _ in range(50):
            with book.write(who="bench", at=datetime.now(UTC)) as pen:
                pen.enter("stop")
        book.close()

    before = perf_counter()
    with ThreadPoolExecutor(8) as pool:
        list(pool.map(write, range(8)))
    took = perf_counter() - before
    book = make_book(given, plant="two", who="bench")[0]
    with book.read() as connection:
        wrong = check(connection, silent)
        kept = int(connection.exec_driver_sql("SELECT count(*) FROM entry").scalar_one())
    book.close()
    reached = kept == 401 and not wrong
    return "eight writers at once", "each waits, none is overwritten", f"{kept - 1} of 400 kept, {took:.1f} s", reached


def main(arguments: list[str] | None = None) -> int:
    """Run it; 0 when every goal is reached on both databases."""
    parser = argparse.ArgumentParser(prog="python -m bench.book", description=__doc__)
    parser.add_argument("--times", type=int, default=200, help="kills; 200 if not given")
    parser.add_argument("--actions", type=int, default=10_000, help="random actions; 10,000 if not given")
    parser.add_argument("--runs", type=int, default=200, help="runs of 5,000 closures; 200 if not given")
    parser.add_argument("--write", action="store_true", help=f"write {PAGE.name}")
    plan = parser.parse_args(arguments)
    with TemporaryDirectory(prefix="runtrue-book-") as folder, server() as address:
        os.environ["XDG_DATA_HOME"] = folder
        found = {
            "SQLite": _told("SQLite", lines(lambda name: str(Path(folder) / f"{name}.sqlite"), plan, None)),
            "PostgreSQL": _told("PostgreSQL", lines(partial(database, address), plan, lambda: crash(address))),
        }
    text = page(found, os.getloadavg()[0])
    print(text)
    if plan.write:
        PAGE.write_text(text, encoding="utf-8")
    return int(not all(line[3] for table in found.values() for line in table))


def _told(kind: str, made: Iterator[Line]) -> list[Line]:
    """The lines, each told as it comes."""
    found = []
    for line in made:
        print(f"{time.strftime('%H:%M:%S')} {kind}: {line[0]}: {line[2]}", file=sys.stderr, flush=True)
        found.append(line)
    return found


def page(found: dict[str, list[Line]], load: float) -> str:
    """The table as a page."""
    rows = [
        f"| {' | '.join((*sqlite[:3], postgres[2]))} | {'yes' if sqlite[3] and postgres[3] else '**no**'} |"
        for sqlite, postgres in zip(found["SQLite"], found["PostgreSQL"], strict=True)
    ]
    return "\n".join([
        "# The book under load",
        "",
        "Written by `python -m bench.book --write`. Writers and workers are killed at random moments while they enter",
        "papers, import tables, keep captures and results and do waiting work; what they had told as kept must be",
        "there, a table with all its rows or none. Random actions are held to an independent tally. The large book has",
        "1,000,000 closures in 40,000 spans, 20,000 samples with 400,000 findings. Times are medians of nine, on one",
        f"core of a shared machine (load {load:.0f} when this was written); a quiet one is faster.",
        "",
        "| | needed | SQLite | PostgreSQL | reached |",
        "| --- | --- | --- | --- | --- |",
        *rows,
        "",
        "What the book does not promise: captures and results lie in a folder beside the file, or in the data folder",
        "where the book is a PostgreSQL database; `runtrue book backup` copies the book, not that folder.",
        "",
    ])  # fmt: skip


if __name__ == "__main__":
    sys.exit(main())
