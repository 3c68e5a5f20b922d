"""`runtrue demo`: composes, presses and plays the story in two worker processes, and has every recording judged.

The process that talks to the person imports no signal processing: workers do all of it. The shortest recording goes
first, so that a result is there soon; the others follow in closure order. Everything unfinished lies in one temporary
folder that goes whatever happens, so that Ctrl-C leaves nothing behind.
"""

import json
import os
import shutil
from collections.abc import Iterator
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from dataclasses import asdict, dataclass
from functools import partial
from multiprocessing import active_children, get_context
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from runtrue.contract.demo import Demonstration
from runtrue.demo.bench import limits_text, name_of, request_of, rig_text
from runtrue.demo.jobs import ComposeJob, PlayJob, begin, compose, play_and_judge
from runtrue.demo.outcome import demonstration_of, judged_of, run_of
from runtrue.demo.scenario import Copy, Playing, Scenario, load_scenario
from runtrue.errors import InputError, SurroundingsError
from runtrue.types import Progress
from runtrue.workflow.actions import Ports, check_request
from runtrue.workflow.advice import Span
from runtrue.workflow.demo_request import DemoRequest
from runtrue.workflow.dossier import dossier_of, write
from runtrue.workflow.listening import Checked
from runtrue.workflow.words import told

WORKERS = 2
ONE_THREAD = dict.fromkeys(("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"), "1")
"""Each worker computes in one thread; two of them fill two cores."""

Judgements = dict[str, Checked]
"""Results by the name of their playing."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Place:
    """Where things lie while the demonstration runs. ``sound`` outlives a playing only where it is kept."""

    folder: Path
    keep: bool

    def file(self, *parts: str) -> Path:
        """A file of the workspace; its folder is there."""
        path = self.folder.joinpath(*parts)
        path.parent.mkdir(exist_ok=True)
        return path


def run(request: DemoRequest, ports: Ports, progress: Progress) -> Demonstration:
    """Run the demonstration and write its folder. Raises ``InputError`` before anything long begins."""
    check_request(request)
    story = load_scenario(request.scenario)
    out = request.out
    new = _free_place(out)
    try:
        with TemporaryDirectory(prefix="runtrue-demo-", ignore_cleanup_errors=True) as folder:
            place = _Place(folder=Path(folder).resolve(), keep=request.keep_sound)
            results = _play_all(story, place, ports, progress)
            progress("writing the dossier", 0.98)
            judged = judged_of(story, results)
            spans = [
                Span(stamper=s.id, side=s.side, first=s.from_closure, last=s.to_closure) for s in story.stamper
            ]  # fmt: skip
            dossier = dossier_of(run_of(story, ports.clock()), judged, spans)
            for name, checked in results.items():
                text = json.dumps(asdict(checked.listening), ensure_ascii=False, allow_nan=False, indent=1)
                place.file("results", f"{name}.json").write_text(text + "\n", encoding="utf-8")
            write(place.file("dossier.pdf"), dossier)
            files = _hand_over(place, out)
    except BaseException:
        if new:
            shutil.rmtree(out, ignore_errors=True)
        raise
    return demonstration_of(story, results, dossier, out=str(out), files=files)


def _free_place(out: Path) -> bool:
    """Make the folder; whether it is new."""
    if out.exists() and not out.is_dir():
        raise InputError(f"out {out}: is there already and no folder; name another or remove it")
    if not out.parent.is_dir():
        raise InputError(f"out {out}: there is no folder {out.parent}; make it first")
    new = not out.exists()
    out.mkdir(exist_ok=True)
    if not os.access(out, os.W_OK):
        raise SurroundingsError(f"out {out}: cannot be written to; check the rights to the folder")
    return new


def _hand_over(place: _Place, out: Path) -> list[str]:
    """Move what is finished from the workspace into the folder; the paths within it, in order."""
    made = sorted(path for path in place.folder.rglob("*") if path.is_file())
    kept = [path for path in made if place.keep or path.parent.name != "sound"]
    for path in kept:
        target = out / path.relative_to(place.folder)
        target.parent.mkdir(exist_ok=True)
        shutil.move(path, target)
    return [path.relative_to(place.folder).as_posix() for path in kept]


def _play_all(story: Scenario, place: _Place, ports: Ports, progress: Progress) -> Judgements:
    """Compose each side once, play and judge each disc."""
    limits, rig = place.file("limits.toml"), place.file("rig.toml")
    limits.write_text(limits_text(story), encoding="utf-8")
    rig.write_text(rig_text(story), encoding="utf-8")
    playings = sorted(story.playings(), key=lambda each: _seconds(story, each[1]))[:1]
    playings += [each for each in story.playings() if each not in playings]
    sides = dict.fromkeys(label for _, p in playings for label in (p.label, p.music))
    whole = sum(_seconds(story, p) for _, p in playings)
    done = 0.0
    results: Judgements = {}
    with _workers(place.folder) as pool:
        progress("composing", 0.0)
        music = {
            label: pool.submit(
                compose, ComposeJob(tunes=story.side_of(label).tune, path=place.file("sound", f"{label}.wav"))
            )
            for label in sides
        }
        for each in music.values():
            each.result()
        jobs: dict[Future[Checked], tuple[Copy, Playing]] = {
            pool.submit(play_and_judge, _job(story, copy, playing, place)): (copy, playing)
            for copy, playing in playings
        }
        while waiting := set(jobs) - {future for future in jobs if future.done() and name_of(*jobs[future]) in results}:
            finished, _ = wait(waiting, return_when=FIRST_COMPLETED)
            for future in finished:
                copy, playing = jobs[future]
                results[name_of(copy, playing)] = future.result()
                done += _seconds(story, playing)
                ports.tell(told(future.result().listening))
                progress(f"copy {copy.id}, side {playing.label} is judged", 0.05 + 0.9 * done / whole)
    return {name_of(copy, playing): results[name_of(copy, playing)] for copy, playing in story.playings()}


def _seconds(story: Scenario, playing: Playing) -> float:
    """How long a playing lasts [s]."""
    return playing.stopped_s if playing.stopped_s is not None else story.side_of(playing.music).seconds


def _job(story: Scenario, copy: Copy, playing: Playing, place: _Place) -> PlayJob:
    name = name_of(copy, playing)
    request = request_of(
        story,
        playing,
        capture=place.file("sound", f"{name}.wav"),
        reference=place.file("sound", f"{playing.label}.wav"),
        limits=place.file("limits.toml"),
        rig=place.file("rig.toml"),
    )
    return PlayJob(
        play=story.play(copy, playing),
        seed=story.seed(copy, playing),
        music=place.file("sound", f"{playing.music}.wav"),
        request=request,
        truth=place.file("truth", f"{name}.json"),
        keep=place.keep,
    )


@contextmanager
def _workers(folder: Path) -> Iterator[ProcessPoolExecutor]:
    """Worker processes that are gone when the work is done, has failed or was stopped."""
    temporary = folder / "work"
    temporary.mkdir()
    before = set(active_children())
    with _surroundings(ONE_THREAD):
        pool = ProcessPoolExecutor(
            WORKERS, mp_context=get_context("spawn"), initializer=partial(begin, str(temporary))
        )  # fmt: skip
        try:
            yield pool
        except BrokenProcessPool:
            raise SurroundingsError(
                "a worker of the demonstration was ended from outside; two need 1 GB of memory: close other programs "
                "and start again"
            ) from None
        except BaseException:
            for worker in set(active_children()) - before:
                worker.terminate()
            raise
        finally:
            pool.shutdown(wait=True, cancel_futures=True)
            shutil.rmtree(temporary, ignore_errors=True)


@contextmanager
def _surroundings(values: dict[str, str]) -> Iterator[None]:
    """Environment variables for the processes begun meanwhile."""
    old: dict[str, Any] = {name: os.environ.get(name) for name in values}
    os.environ.update(values)
    try:
        yield
    finally:
        for name, value in old.items():
            if value is None:
                os.environ.pop(name, None)
            else:
                os.environ[name] = value
