"""The listening session of the story: who is played when, and what the recordings come to.

What is needed only after the first result is loaded then.
"""

import json
import shutil
from collections.abc import Callable
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from runtrue.contract.demo import Demonstration
from runtrue.demo.bench import limits_text, name_of, request_of, rig_text
from runtrue.demo.compound_room import RoomJob, weigh_and_chart
from runtrue.demo.guide import guide_text, reference_of
from runtrue.demo.jobs import PlayJob, SideJob, TuneJob, compose_tune, keep_reference, lay_side, play_and_judge
from runtrue.demo.press_room import PressJob, measure_and_ask
from runtrue.demo.scenario import Copy, Playing, Scenario, load_scenario
from runtrue.types import Progress
from runtrue.workflow.actions import Ports

if TYPE_CHECKING:
    from runtrue.workflow.listening import Checked

SOUND = "sound"
"""Folder of music and recordings."""
PARTS = "parts"
"""Folder of tunes, until they lie on their side."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Session:
    """One run of the demonstration in ``folder``; recordings stay there where ``keep``."""

    story: Scenario
    folder: Path
    keep: bool
    now: str
    tell: Callable[[str], None]
    progress: Progress

    def judge_all(self, pool: ProcessPoolExecutor) -> "dict[str, Checked]":
        """Compose each side once, play and judge each disc; results by name, in the order of the story.

        The shortest recording goes first, so that a result is there soon; of the others the longest, so that both
        workers end together.
        """
        self._file("limits.toml").write_text(limits_text(self.story), encoding="utf-8")
        self._file("rig.toml").write_text(rig_text(self.story), encoding="utf-8")
        self._file("truth", "story.json").write_text(
            json.dumps(asdict(self.story.story), ensure_ascii=False, indent=1) + "\n", encoding="utf-8"
        )
        in_order = list(self.story.playings())
        first = min(in_order, key=lambda each: self._seconds(each[1]))
        self.progress("composing", 0.0)
        jobs = self._submit_first(pool, first)
        labels = list(dict.fromkeys(label for _, p in in_order for label in (p.label, p.music)))
        self._compose(pool, [each for label in labels for each in self._tunes(label)])
        self._lay(pool, {label: self._music(label) for label in labels})
        others = sorted((each for each in in_order if each is not first), key=lambda each: -self._seconds(each[1]))
        jobs |= {pool.submit(play_and_judge, self._job(*each)): each for each in others}
        room = pool.submit(weigh_and_chart, RoomJob(folder=self.folder / "compound", now=self.now))
        press = pool.submit(measure_and_ask, PressJob(folder=self.folder / "press", now=self.now))
        references = [
            pool.submit(keep_reference, self._music(label), self._file(*reference_of(label).split("/")))
            for label in labels
        ]
        whole, done = sum(self._seconds(playing) for _, playing in in_order), 0.0
        open_jobs = set(jobs)
        while open_jobs:
            finished, open_jobs = wait(open_jobs, return_when=FIRST_COMPLETED)
            for future in finished:
                copy, playing = jobs[future]
                done += self._seconds(playing)
                self.tell(_told(copy, playing, future.result()))
                self.progress(f"copy {copy.id}, side {playing.label} is judged", 0.04 + 0.94 * done / whole)
        for written in references:
            written.result()
        for station, sentences in (("Compound", room.result()), ("Press", press.result())):
            for said in sentences:
                self.tell(f"{station}: {said}")
        shutil.rmtree(self.folder / PARTS)
        by_name = {name_of(*played): future.result() for future, played in jobs.items()}
        return {name_of(*played): by_name[name_of(*played)] for played in in_order}

    def _submit_first(
        self, pool: ProcessPoolExecutor, first: tuple[Copy, Playing]
    ) -> "dict[Future[Checked], tuple[Copy, Playing]]":
        """Have the first disc played as soon as there is the music that its recording and its reference need."""
        playing = first[1]
        upto = self._seconds(playing) + 1.0
        heard = [k for k, place in enumerate(self.story.side_of(playing.music).passages) if place.start <= upto]
        self._compose(pool, [*self._tunes(playing.label), *((playing.music, k) for k in heard)])
        music = self._music(playing.music)
        if playing.music != playing.label and len(heard) < len(self._tunes(playing.music)):
            music = self._file(PARTS, "begun.wav")
        self._lay(pool, {playing.label: self._music(playing.label), playing.music: music})
        return {pool.submit(play_and_judge, replace(self._job(*first), music=music)): first}

    def _tunes(self, label: str) -> list[tuple[str, int]]:
        """The tunes of a side, each by its label and number."""
        return [(label, k) for k in range(len(self.story.side_of(label).tune))]

    def _compose(self, pool: ProcessPoolExecutor, tunes: list[tuple[str, int]]) -> None:
        """Compose what is not yet there."""
        jobs = [
            TuneJob(tune=self.story.side_of(label).tune[k], path=self._part(label, k))
            for label, k in dict.fromkeys(tunes)
            if not self._part(label, k).exists()
        ]
        for made in [pool.submit(compose_tune, job) for job in jobs]:
            made.result()

    def _lay(self, pool: ProcessPoolExecutor, sides: dict[str, Path]) -> None:
        """Lay the tunes that there are into files that are not yet there."""
        jobs = [
            SideJob(
                tunes=self.story.side_of(label).tune, parts=tuple(self._part(*each) for each in self._tunes(label)),
                path=path,
            )
            for label, path in sides.items()
            if not path.exists()
        ]  # fmt: skip
        for made in [pool.submit(lay_side, job) for job in jobs]:
            made.result()

    def _music(self, label: str) -> Path:
        return self._file(SOUND, f"{label}.wav")

    def _part(self, label: str, k: int) -> Path:
        return self._file(PARTS, f"{label}-{k}.npy")

    def _file(self, *parts: str) -> Path:
        """A file of the folder; the folder it lies in is there."""
        path = self.folder.joinpath(*parts)
        path.parent.mkdir(exist_ok=True)
        return path

    def _seconds(self, playing: Playing) -> float:
        """How long a playing lasts [s]."""
        whole = self.story.side_of(playing.music).seconds
        return whole if playing.stopped_s is None else min(playing.stopped_s, whole)

    def _job(self, copy: Copy, playing: Playing) -> PlayJob:
        name = name_of(copy, playing)
        request = request_of(
            self.story,
            playing,
            capture=self._file(SOUND, f"{name}.wav"),
            reference=self._music(playing.label),
            limits=self._file("limits.toml"),
            rig=self._file("rig.toml"),
        )
        return PlayJob(
            play=self.story.play(copy, playing),
            seed=self.story.seed(copy, playing),
            music=self._music(playing.music),
            request=request,
            truth=self._file("truth", f"{name}.json"),
            keep=self.keep,
        )


def hold_session(
    scenario: Path | None,
    pool: ProcessPoolExecutor,
    *,
    folder: Path,
    keep: bool,
    now: str,
    tell: Callable[[str], None],
    progress: Progress,
    ledger: Ports | None = None,
) -> Callable[[str, list[str]], Demonstration]:
    """Judge the story, write results and dossier into ``folder``; a book of the run too, where it gets ports.

    Returns what makes the outcome of the place (folder, files) that all this is then moved to.
    """
    story = load_scenario(scenario)
    session = Session(story=story, folder=folder, keep=keep, now=now, tell=tell, progress=progress)
    results = session.judge_all(pool)
    from runtrue.demo.outcome import demonstration_of, judged_of, run_of, spans_of
    from runtrue.workflow.dossier import dossier_of, write

    progress("writing the dossier", 0.98)
    dossier = dossier_of(run_of(story, now), judged_of(story, results), spans_of(story))
    (folder / "results").mkdir(exist_ok=True)
    for name, checked in results.items():
        text = json.dumps(asdict(checked.listening), ensure_ascii=False, allow_nan=False, indent=1)
        (folder / "results" / f"{name}.json").write_text(text + "\n", encoding="utf-8")
    write(folder / "dossier.pdf", dossier)
    (folder / "README.md").write_text(guide_text(story, sound=keep and ledger is None), encoding="utf-8")
    if ledger is not None:
        from runtrue.demo.ledger import write_book

        progress("writing the book", 0.99)
        write_book(story, results, folder, ledger)
    return lambda out, files: demonstration_of(story, results, dossier, out=out, files=files)


def _told(copy: Copy, playing: Playing, checked: "Checked") -> str:
    """A recording's sentence, said when it is there."""
    from runtrue.workflow.words import sentence

    pushed = f", pushed {playing.push}" if playing.push else ""
    return sentence(f"Copy {copy.id}, side {playing.label}{pushed},", checked.listening, places=True)
