"""The goals of the pages: any page below 0.2 s on a book of a million closures, sound within 0.3 s of a long capture.

``python -m bench.pages [--runs N] [--minutes M]`` prints one line a goal and ends with 1 on a miss. Asked in the
process itself, so that neither network nor browser is in it; a browser adds its own. The processor's time stands beside
the clock's, for a machine that does other work too.
"""

import argparse
import sys
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from statistics import median
from tempfile import TemporaryDirectory
from time import perf_counter, process_time
from typing import Any

import numpy as np
import soundfile
from fastapi.testclient import TestClient

from bench.book_million import RUN, fill
from runtrue.records import make_book, open_book
from runtrue.web.app import make_app
from runtrue.workflow.actions import system_ports
from runtrue.workflow.pages import sound
from tests.pages.story import SCRAP, tell

PAGE_S, SOUND_S = 0.2, 0.3
RATE = 96_000


def timed(what: Callable[[], Any], times: int = 7) -> tuple[float, float]:
    """Median of clock and processor [s]; the first go, which fills caches, does not count."""
    what()
    clock, worked = [], []
    for _ in range(times):
        before, work = perf_counter(), process_time()
        what()
        clock.append(perf_counter() - before)
        worked.append(process_time() - work)
    return median(clock), median(worked)


def page_rows(folder: Path, runs: int) -> Iterator[tuple[str, float, float, float]]:
    """Name, goal, clock, processor of each page, on a million closures and the told story's run."""
    book = make_book(str(folder / "book.sqlite"), plant="bench", who="bench")[0]
    fill(book, runs)
    book.close()
    tell(folder)
    book = open_book(str(folder / "book.sqlite"))
    ports = replace(system_ports(), open_book=lambda _given: book)
    with TestClient(make_app(ports), base_url="http://127.0.0.1") as client:
        lines = client.get("/recordings.json").json()["lines"]
        recording = next(line["href"] for line in lines if line["copy"] == "c2")
        for name, path in {
            "start": "/", "recordings": "/recordings", "a recording": recording, "sides": "/copies",
            "copies": "/copies/J-0417/A", "work": "/work",
        }.items():  # fmt: skip
            assert client.get(path).status_code == 200
            yield f"page: {name}", PAGE_S, *timed(lambda path=path: client.get(path))  # type: ignore[misc]
        difference = f"{recording}/sound/difference.wav?at={SCRAP}"
        before, work = perf_counter(), process_time()
        client.get(difference)
        yield "a difference, for the first time", 1.0, perf_counter() - before, process_time() - work
        yield "a difference again", SOUND_S, *timed(lambda: client.get(difference))
    book.close()


def sound_rows(folder: Path, minutes: float) -> Iterator[tuple[str, float, float, float]]:
    """How long a cut of a long capture at 96 kHz takes."""
    for ending, subtype in (("flac", "PCM_24"), ("wav", "PCM_24")):
        path = folder / f"long.{ending}"
        rng = np.random.default_rng(7)
        block = (0.1 * rng.standard_normal((RATE * 10, 2))).astype(np.float32)
        with soundfile.SoundFile(path, "w", RATE, 2, subtype) as file:
            for _ in range(round(6 * minutes)):
                file.write(block)
        middle = 30.0 * minutes

        def cut(path: Path = path, middle: float = middle) -> bytes:
            taken, rate = sound.read_about(path, middle, sound.AROUND)
            return sound.wav(sound.faded(taken, rate), rate)

        yield f"4 s out of {minutes:.0f} min at 96 kHz, {ending}", SOUND_S, *timed(cut)
        path.unlink()


def main(arguments: list[str] | None = None) -> int:
    """Run it; 0 when every goal is reached."""
    parser = argparse.ArgumentParser(prog="python -m bench.pages", description=__doc__)
    parser.add_argument("--runs", type=int, default=200, help=f"runs of {RUN} closures; 200 if not given")
    parser.add_argument("--minutes", type=float, default=20.0, help="length of the capture; 20 if not given")
    given = parser.parse_args(arguments)
    missed = 0
    with TemporaryDirectory() as place:
        print("a book is written and a story told", file=sys.stderr, flush=True)
        for rows in (page_rows(Path(place) / "book", given.runs), sound_rows(Path(place), given.minutes)):
            (Path(place) / "book").mkdir(exist_ok=True)
            for name, goal, clock, worked in rows:
                missed += clock >= goal
                said = "met" if clock < goal else "missed"
                print(f"{name}: {1e3 * clock:.0f} ms, {1e3 * worked:.0f} ms of work, below {1e3 * goal:.0f}: {said}")
    return min(missed, 1)


if __name__ == "__main__":
    raise SystemExit(main())
