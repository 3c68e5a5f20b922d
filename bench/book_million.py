"""A book of a million closures, 40,000 spans, 20,000 samples and 400,000 findings; how long its questions take.

``python -m bench.book_million [--postgres URL] [--runs N]`` prints one line a goal and ends with 1 on a miss. The book
is written through the same pen as every paper.
"""

import argparse
import statistics
import sys
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from tempfile import TemporaryDirectory
from time import perf_counter, process_time
from typing import Any

from sqlalchemy import func, select

from runtrue.records import Book, make_book
from runtrue.records.check import check
from runtrue.records.counts import At
from runtrue.records.pen import Pen, RunState
from runtrue.records.tables import Analysed, Box, Entry, Found, MetalPiece, Pile, Play, Release, Sample, Side, Ticket
from runtrue.types import silent
from runtrue.workflow import book_requests as ask
from runtrue.workflow.actions import Ports
from runtrue.workflow.job_page import job
from runtrue.workflow.papers.importing import import_rows
from runtrue.workflow.recall import recall

RUN = 5000
"""Closures of a run; 200 runs make the million."""
PILE, BOX = 50, 50
SAMPLES, FINDINGS = 100, 20
"""Samples of a run, findings of a sample."""
AT = datetime(2026, 11, 25, 8, tzinfo=UTC)


def fill(book: Book, runs: int) -> None:
    """Write the whole book, one transaction a run."""
    for number in range(1, runs + 1):
        with book.write(who="bench", at=AT) as pen:
            _run(pen, number)


def _run(pen: Pen, number: int) -> None:
    job_name, run = f"J{number}", f"R{number}"
    entry = pen.enter("ticket")
    pen.add(Ticket, entry, job=job_name, title=f"Title {number}", format="12in-33", ordered=RUN)
    pen.add(Side, entry, job=job_name, side="A", matrix=f"M{number}-A")
    for k in range(8):
        piece = {"matrix": f"M{number}-A", "generation": "stamper", "impressions": 0}
        pen.add(MetalPiece, pen.enter("metal"), metal=f"S{number}-{k}", **piece)
    state = pen.begin_run(
        entry=pen.enter("set-up"), run=run, job=job_name, press=f"P{number % 12}", cavity="1", counter=0
    )
    for k in range(8):
        for kind in ("stamper_a", "settings"):
            pen.span(pen.enter("change"), state, kind, f"S{number}-{k}", first=1 + k * RUN // 8, slack=1)
    for k in range(RUN // PILE):
        _pile(pen, state, job_name, k)
    for k in range(SAMPLES):
        _sample(pen, state, number, k)
    pen.settle()


def _pile(pen: Pen, state: RunState, job_name: str, k: int) -> None:
    first, last = 1 + k * PILE, (k + 1) * PILE
    entry = pen.enter("pile")
    pen.count_to(entry, state, last, last)
    pen.span(entry, state, "pile", str(k), first=first, last=last, records=PILE)
    pen.add(Pile, entry, run=state.run, pile=str(k), direction="first_at_bottom", records=PILE)
    pen.move(entry, state, At.PRESSED, At.RESTING, PILE - 1, first=first, last=last)
    freed = pen.enter("release")
    pen.add(Release, freed, run=state.run, pile=str(k), good=PILE - 1, held=0, scrapped=0)
    pen.move(freed, state, At.RESTING, At.GOOD, PILE - 1)
    if k % 25 < 21:  # 84 boxes a run, so that spans come to 200
        boxed = pen.enter("box")
        pen.span(boxed, state, "box", f"{job_name}/{k}", first=first, last=last, slack=1, records=PILE - 1)
        pen.add(Box, boxed, job=job_name, box=str(k), run=state.run, pile=str(k), end="top", records=PILE - 1)
        pen.move(boxed, state, At.GOOD, At.BOXED, PILE - 1)


def _sample(pen: Pen, state: RunState, number: int, k: int) -> None:
    closure, name = 1 + k * RUN // SAMPLES, f"s{number}-{k}"
    entry = pen.enter("sample")
    verdict = "fail" if k % 20 == 7 else "pass"
    pen.add(Sample, entry, sample=name, run=state.run, closure=closure, slack=0, purpose="listening", verdict=verdict)
    pen.move(entry, state, At.PRESSED, At.SAMPLE, 1, first=closure, last=closure)
    key = f"{number:032x}{k:032x}"
    analysis = pen.enter("analysis")
    pen.add(
        Analysed, analysis, key=key, action="listen check", method="listening-1", version="0", settings_digest=key,
        house_digest=key, verdict=verdict,
    )  # fmt: skip
    for line in range(FINDINGS):
        pen.add(
            Found, analysis, quantity="surface", value=-50.0 + line, u95=0.5, about="disc", upper=-42.0,
            limit_owner="house", limit_source="house", conformance_probability=0.99, verdict="pass",
        )  # fmt: skip
    pen.add(Play, pen.enter("play"), sample=name, side="A", placing=1, analysis=key)


def timed(what: Callable[[], Any], times: int = 9) -> tuple[float, float]:
    """Median and largest of several goes [s]; the first one, which fills the caches, does not count."""
    what()
    found = []
    for _ in range(times):
        before = perf_counter()
        what()
        found.append(perf_counter() - before)
    return statistics.median(found), max(found)


def samples_file(folder: Path, rows: int, run: str) -> Path:
    """A CSV of samples to import."""
    path = folder / "samples.csv"
    lines = [f"i{k},{run},{1 + k % RUN},retained,good" for k in range(rows)]
    path.write_text("\n".join(["sample,run,closure,purpose,source", *lines]) + "\n", encoding="utf-8")
    return path


def weighings_file(folder: Path, rows: int) -> Path:
    """A CSV of weighings to import."""
    path = folder / "weighings.csv"
    lines = [f"K-1,ingredient {k % 20},L-{k % 300},{1 + k % 97 / 10:.3f},2026-11-25T08:00:00Z" for k in range(rows)]
    path.write_text("\n".join(["batch,ingredient,lot,mass_kg,at", *lines]) + "\n", encoding="utf-8")
    return path


def measure(given: str, runs: int, rows: int, folder: Path) -> list[tuple[str, float, float, str]]:
    """Goal, limit, found, in words."""
    book = make_book(given, plant="bench", who="bench")[0]
    ports = Ports(clock=AT.isoformat, who="bench", open_book=lambda _given: book)
    before = perf_counter()
    fill(book, runs)
    written = perf_counter() - before
    middle = f"R{runs // 2 + 1}"
    questions = {
        "recall by closures": lambda: recall(ask.RecallRequest(run=middle, first=181, last=352), ports, silent),
        "recall by stamper": lambda: recall(ask.RecallRequest(stamper=f"S{runs // 2 + 1}-3"), ports, silent),
        "recall by failed sample": lambda: recall(ask.RecallRequest(sample=f"s{runs // 2 + 1}-27"), ports, silent),
    }
    found = []
    for name, question in questions.items():
        median, largest = timed(question)
        found.append((name, 0.1, median, f"{median * 1e3:.1f} ms, largest {largest * 1e3:.1f} ms"))
    median, largest = timed(lambda: job(ask.JobRequest(job=f"J{runs // 2 + 1}"), ports, silent))
    found.append(("job page", 0.2, median, f"{median * 1e3:.1f} ms, largest {largest * 1e3:.1f} ms"))
    size = _size(book)
    found.append(("size", 1024.0**3, size, f"{size / 1024**2:.0f} MiB"))
    with book.write(who="bench", at=AT) as pen:
        from runtrue.records.tables import Batch

        pen.add(Batch, pen.enter("batch"), batch="K-1", formula="F", mass_kg=1.0)
    path = weighings_file(folder, rows)
    before, worked = perf_counter(), process_time()
    import_rows(ask.ImportRequest(paper="weighing", file=path), ports, silent)
    took = perf_counter() - before
    worked = process_time() - worked
    found.append((f"import of {rows} rows", 30.0, took, f"{took:.1f} s, {worked:.1f} s of them at work"))
    before = perf_counter()
    again = import_rows(ask.ImportRequest(paper="weighing", file=path), ports, silent)
    found.append(("the same rows again", 30.0, perf_counter() - before, f"{again.known} known, {again.entered} new"))
    before = perf_counter()
    with book.read() as connection:
        wrong = check(connection, silent)
        entries = connection.execute(select(func.count()).select_from(Entry)).scalar_one()
    checked = perf_counter() - before
    found.append(
        ("book check clean", 0.5, float(len(wrong)), f"{len(wrong)} wrong of {entries} entries, {checked:.1f} s")
    )
    print(f"written in {written:.0f} s", file=sys.stderr)
    book.close()
    return found


def _size(book: Book) -> float:
    if book.place.file is not None:
        return float(sum(path.stat().st_size for path in book.place.file.parent.glob(f"{book.place.file.name}*")))
    with book.read() as connection:
        return float(connection.exec_driver_sql("SELECT pg_database_size(current_database())").scalar_one())


def main(arguments: list[str] | None = None) -> int:
    """Run it; 0 when every goal is reached."""
    parser = argparse.ArgumentParser(prog="python -m bench.book_million", description=__doc__)
    parser.add_argument("--postgres", help="URL of an empty database in place of a file")
    parser.add_argument("--runs", type=int, default=200, help="runs of 5,000 closures; 200 if not given")
    parser.add_argument("--rows", type=int, default=100_000, help="rows to import; 100,000 if not given")
    given = parser.parse_args(arguments)
    with TemporaryDirectory() as folder:
        place = given.postgres or str(Path(folder) / "book.sqlite")
        found = measure(place, given.runs, given.rows, Path(folder))
    for name, limit, value, words in found:
        print(f"{'reached' if value < limit else 'MISSED ':7}  {name}: {words}")
    return int(any(value >= limit for _, limit, value, _ in found))


if __name__ == "__main__":
    sys.exit(main())
