"""Kill writers and workers at random moments and see whether anything that was committed is lost.

``python -m bench.book_kill [--times N] [--postgres URL] [--seed S]``: a child process writes papers, imports tables,
keeps captures and results and does waiting work; it tells each commit through a pipe. It is killed (SIGKILL) at a
random moment, the book is opened again, and must be sound and hold every entry, capture and result that was told, and
of each table all rows or none.
"""

import argparse
import multiprocessing
import os
import random
import signal
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import dataclass, fields
from datetime import UTC, datetime, timedelta
from hashlib import sha256
from multiprocessing.connection import Connection as Pipe
from pathlib import Path
from tempfile import NamedTemporaryFile, TemporaryDirectory

from sqlalchemy import func, select

from runtrue.errors import InputError, SurroundingsError
from runtrue.records import Book, captures, make_book, open_book, queue
from runtrue.records.check import check
from runtrue.records.results import Results
from runtrue.records.tables import Entry, PressStop, Task, table_of
from runtrue.types import silent
from runtrue.workflow.actions import Ports
from runtrue.workflow.book_requests import ImportRequest
from runtrue.workflow.papers.catalogue import paper
from runtrue.workflow.papers.entering import enter
from runtrue.workflow.papers.importing import import_rows

LEASE = timedelta(milliseconds=150)
ROWS = 25
"""Rows of an imported table."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """What a child said was kept: numbers of entries, keys of results, tasks done."""

    entries: list[int]
    results: list[str]
    tasks: list[str]
    tables: list[str]
    captures: list[str]


def begin(given: str) -> None:
    """Begin the book with a run to write into."""
    book = make_book(given, plant="kill", who="bench")[0]
    ports = _ports(book)
    for verb, values in (
        ("ticket", {"job": "J", "title": "T", "format": "12in-33", "ordered": 100, "matrix_a": "M"}),
        ("metal", {"metal": "S1", "matrix": "M", "generation": "stamper"}),
        ("metal", {"metal": "S2", "matrix": "M", "generation": "stamper"}),
        ("set-up", {"run": "R", "job": "J", "press": "P", "stamper_a": "S1"}),
    ):
        enter(paper(verb).request(**values), ports, silent)
    book.close()


def _ports(book: Book) -> Ports:
    return Ports(clock=lambda: datetime.now(UTC).isoformat(), who="bench", open_book=lambda _given: book)


def write_until_killed(given: str, seed: int, pipe: Pipe) -> None:
    """What a child does; it stops by itself where its server was killed first."""
    with suppress(SurroundingsError):
        write_on(given, seed, pipe)


def write_on(given: str, seed: int, pipe: Pipe) -> None:
    """What a child does until it is killed: papers, results, work, in any order."""
    rng = random.Random(seed)
    book = open_book(given)
    ports, results = _ports(book), Results(book.place.store)
    for number in range(10**6):
        what = rng.random()
        if what < 0.1:
            pipe.send(("table", _import(ports, f"{seed}-{number}")))
        elif what < 0.2:
            pipe.send(("capture", _capture(book, rng, f"{seed}-{number}")))
        elif what < 0.7:
            verb, values = random_paper(rng, f"{seed}-{number}")
            with suppress(InputError):
                pipe.send(("entry", enter(paper(verb).request(**values), ports, silent).seq))
        elif what < 0.85:
            content = f"{seed} {number} ".encode() * rng.randrange(1, 4000)
            key = sha256(content).hexdigest()
            results.put(key, {"report.json": content})
            pipe.send(("result", key))
        else:
            _work(book, results, pipe, f"{seed}-{number}")


def _import(ports: Ports, name: str) -> str:
    """A table of stops, all of one cause."""
    with NamedTemporaryFile("w", suffix=".csv", dir=os.environ["XDG_DATA_HOME"]) as file:
        file.write("run,minutes,cause\n" + "".join(f"R,{n},{name}\n" for n in range(ROWS)))
        file.flush()
        import_rows(ImportRequest(paper="stop", file=Path(file.name)), ports, silent)
    return name


def _capture(book: Book, rng: random.Random, name: str) -> str:
    """A capture is kept; those whose time is over go."""
    now = datetime.now(UTC)
    with NamedTemporaryFile(dir=os.environ["XDG_DATA_HOME"]) as file:
        file.write(name.encode() * rng.randrange(1, 4000))
        file.flush()
        kept = captures.keep(book, Path(file.name), keep_as=rng.choice(["week", "always"]), who="bench", at=now)
    if rng.random() < 0.3:
        captures.expire(book, who="bench", at=now + timedelta(days=8))
    return kept.digest


def _work(book: Book, results: Results, pipe: Pipe, name: str) -> None:
    now = datetime.now(UTC)
    queue.add(book, action=name, request={}, who="bench", at=now)
    taken = queue.take(book, name, now, LEASE)
    if taken is not None:
        key = sha256(taken.action.encode()).hexdigest()
        results.put(key, {"report.json": taken.action.encode()})
        queue.renew(book, taken.id, name, datetime.now(UTC), doing="half", share=0.5, lease=LEASE)
        if queue.finish(book, taken.id, name, datetime.now(UTC), state="done", result=key):
            pipe.send(("task", str(taken.id)))


def random_paper(rng: random.Random, name: str) -> tuple[str, dict[str, object]]:
    """A paper of run R that may or may not be possible just now."""
    closure, records = rng.randrange(1, 400), rng.randrange(1, 6)
    papers: list[tuple[str, dict[str, object]]] = [
        ("read", {"run": "R", "counter": rng.randrange(1, 10**6)}),
        ("pile", {"run": "R", "pile": name, "slack": rng.randrange(3)}),
        ("sample", {"run": "R", "sample": name, "closure": closure}),
        ("reject", {"run": "R", "records": records, "cause": "non-fill"}),
        ("change", {"run": "R", "what": "stamper_a", "to": rng.choice(["S1", "S2"]), "closure": closure}),
        ("blank", {"run": "R", "first": closure}),
        ("count", {"run": "R", "place": "scrapped", "records": records}),
        ("scrap", {"run": "R", "material": "records", "mass_kg": 1.0, "records": records}),
        ("withdraw", {"entry": str(rng.randrange(1, 4000))}),
    ]
    return rng.choice(papers)


def kill_once(given: str, seed: int, crash: Callable[[], None] | None = None) -> Told:
    """Let a child write, kill it at a random moment; what it had told."""
    context = multiprocessing.get_context("fork")
    mine, its = context.Pipe(duplex=False)
    child = context.Process(target=write_until_killed, args=(given, seed, its), daemon=True)
    child.start()
    its.close()
    said: list[tuple[str, object]] = []
    if mine.poll(20.0):
        time.sleep(random.Random(seed).uniform(0.0, 0.25))
    if crash is not None:
        crash()
    assert child.pid is not None
    os.kill(child.pid, signal.SIGKILL)
    child.join()
    with suppress(EOFError):
        while mine.poll(0):
            said.append(mine.recv())
    return Told(
        entries=[int(str(value)) for kind, value in said if kind == "entry"],
        results=[str(value) for kind, value in said if kind == "result"],
        tasks=[str(value) for kind, value in said if kind == "task"],
        tables=[str(value) for kind, value in said if kind == "table"],
        captures=[str(value) for kind, value in said if kind == "capture"],
    )


def losses(given: str, told: Told) -> Iterator[str]:
    """What is wrong with the book after a kill; nothing when all is well."""
    book = open_book(given)
    try:
        with book.read() as connection:
            yield from (f"{one.what} {one.where}: {one.found}" for one in check(connection, silent))
            last = connection.execute(select(func.max(Entry.seq))).scalar_one()
            if told.entries and max(told.entries) > last:
                yield f"entry {max(told.entries)} was told, the last one is {last}"
            done = set(map(str, connection.execute(select(Task.id).where(Task.state == "done")).scalars()))
            yield from (f"task {task} was told done" for task in told.tasks if task not in done)
            orphans = connection.execute(select(table_of(Task)).where(Task.state == "done")).all()
            counted = connection.execute(select(PressStop.cause, func.count()).group_by(PressStop.cause))
            rows = {row[0]: row[1] for row in counted}
        yield from (f"{rows[name]} rows of table {name}" for name in rows if rows[name] != ROWS)
        yield from (f"table {name} was told" for name in told.tables if name not in rows)
        states = {one.digest: one.state for one in captures.listed(book)}
        yield from (f"capture {digest} is missing" for digest, state in states.items() if state == "missing")
        yield from (f"capture {digest} was told" for digest in told.captures if digest not in states)
        results = Results(book.place.store)
        yield from (f"result {key} was told" for key in told.results if results.get(key) is None)
        yield from (f"task {row.id} is done without result" for row in orphans if results.get(row.result) is None)
        time.sleep(LEASE.total_seconds())
        while (taken := queue.take(book, "heir", datetime.now(UTC))) is not None:  # what the dead one held
            key = sha256(taken.action.encode()).hexdigest()
            results.put(key, {"report.json": taken.action.encode()})
            queue.finish(book, taken.id, "heir", datetime.now(UTC), state="done", result=key)
    finally:
        book.close()


def run(given: str, times: int, seed: int, crash: Callable[[], None] | None = None) -> list[str]:
    """Kill so many times; everything that was lost or wrong. ``crash`` kills a server too, every tenth time."""
    Path(os.environ["XDG_DATA_HOME"]).mkdir(parents=True, exist_ok=True)
    begin(given)
    found: list[str] = []
    told = 0
    for number in range(times):
        kept = kill_once(given, seed + number, crash if number % 10 == 9 else None)
        told += sum(len(getattr(kept, item.name)) for item in fields(kept))
        lost = [f"kill {number}: {one}" for one in losses(given, kept)]
        print(*lost, sep="\n", end="\n" if lost else "", file=sys.stderr, flush=True)
        found += lost
        if number % 20 == 19:
            print(f"{number + 1} kills, {told} commits told, {len(found)} losses", file=sys.stderr, flush=True)
    if told < times:
        found.append(f"only {told} commits in {times} rounds: the writers hardly wrote")
    return found


def main(arguments: list[str] | None = None) -> int:
    """Run it; 0 when nothing was lost."""
    parser = argparse.ArgumentParser(prog="python -m bench.book_kill", description=__doc__)
    parser.add_argument("--times", type=int, default=200, help="kills; 200 if not given")
    parser.add_argument("--postgres", help="URL of an empty database in place of a file")
    parser.add_argument("--seed", type=int, default=1, help="of the random moments and papers")
    given = parser.parse_args(arguments)
    with TemporaryDirectory() as folder:
        os.environ["XDG_DATA_HOME"] = folder
        found = run(given.postgres or str(Path(folder) / "book.sqlite"), given.times, given.seed)
    print("\n".join(found) or f"{given.times} kills: nothing lost, the book is sound each time")
    return int(bool(found))


if __name__ == "__main__":
    sys.exit(main())
