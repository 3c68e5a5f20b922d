"""The listening session of the story: who is played when, and what the recordings come to."""

import json
from collections.abc import Callable
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from dataclasses import asdict, dataclass
from pathlib import Path

from runtrue.contract.demo import Demonstration
from runtrue.demo.bench import limits_text, name_of, request_of, rig_text
from runtrue.demo.guide import guide_text, reference_of
from runtrue.demo.jobs import ComposeJob, PlayJob, compose, keep_reference, play_and_judge
from runtrue.demo.outcome import demonstration_of, judged_of, run_of, spans_of
from runtrue.demo.scenario import Copy, Playing, Scenario, load_scenario
from runtrue.types import Progress
from runtrue.workflow.dossier import dossier_of, write
from runtrue.workflow.listening import Checked
from runtrue.workflow.words import sentence

SOUND = "sound"
"""Folder of music and recordings."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Session:
    """One run of the demonstration in ``folder``; recordings stay there where ``keep``."""

    story: Scenario
    folder: Path
    keep: bool
    tell: Callable[[str], None]
    progress: Progress

    def judge_all(self, pool: ProcessPoolExecutor) -> dict[str, Checked]:
        """Compose each side once, play and judge each disc; results by name, in the order of the story.

        The shortest recording goes first, so that a result is there soon.
        """
        self._file("limits.toml").write_text(limits_text(self.story), encoding="utf-8")
        self._file("rig.toml").write_text(rig_text(self.story), encoding="utf-8")
        self._file("truth", "story.json").write_text(
            json.dumps(asdict(self.story.story), ensure_ascii=False, indent=1) + "\n", encoding="utf-8"
        )
        in_order = list(self.story.playings())
        first = min(in_order, key=lambda each: self._seconds(each[1]))
        playings = [first, *(each for each in in_order if each is not first)]
        self.progress("composing", 0.0)
        labels = list(dict.fromkeys(label for _, p in playings for label in (p.label, p.music)))
        self._compose(pool, labels)
        whole, done = sum(self._seconds(p) for _, p in playings), 0.0
        jobs: dict[Future[Checked], tuple[Copy, Playing]] = {
            pool.submit(play_and_judge, self._job(copy, playing)): (copy, playing) for copy, playing in playings
        }
        references = [
            pool.submit(keep_reference, self._file(SOUND, f"{label}.wav"), self._file(*reference_of(label).split("/")))
            for label in labels
        ]
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
        by_name = {name_of(*played): future.result() for future, played in jobs.items()}
        return {name_of(*played): by_name[name_of(*played)] for played in in_order}

    def _compose(self, pool: ProcessPoolExecutor, labels: list[str]) -> None:
        jobs = [
            ComposeJob(tunes=self.story.side_of(label).tune, path=self._file(SOUND, f"{label}.wav")) for label in labels
        ]
        for side in [pool.submit(compose, job) for job in jobs]:
            side.result()

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
            reference=self._file(SOUND, f"{playing.label}.wav"),
            limits=self._file("limits.toml"),
            rig=self._file("rig.toml"),
        )
        return PlayJob(
            play=self.story.play(copy, playing),
            seed=self.story.seed(copy, playing),
            music=self._file(SOUND, f"{playing.music}.wav"),
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
) -> Callable[[str, list[str]], Demonstration]:
    """Judge the story, write results and dossier into ``folder``.

    Returns what makes the outcome of the place (folder, files) that all this is then moved to.
    """
    story = load_scenario(scenario)
    session = Session(story=story, folder=folder, keep=keep, tell=tell, progress=progress)
    results = session.judge_all(pool)
    progress("writing the dossier", 0.98)
    dossier = dossier_of(run_of(story, now), judged_of(story, results), spans_of(story))
    (folder / "results").mkdir(exist_ok=True)
    for name, checked in results.items():
        text = json.dumps(asdict(checked.listening), ensure_ascii=False, allow_nan=False, indent=1)
        (folder / "results" / f"{name}.json").write_text(text + "\n", encoding="utf-8")
    write(folder / "dossier.pdf", dossier)
    (folder / "README.md").write_text(guide_text(story, sound=keep), encoding="utf-8")
    return lambda out, files: demonstration_of(story, results, dossier, out=out, files=files)


def _told(copy: Copy, playing: Playing, checked: Checked) -> str:
    """A recording's sentence, said when it is there."""
    pushed = f", pushed {playing.push}" if playing.push else ""
    return sentence(f"Copy {copy.id}, side {playing.label}{pushed},", checked.listening, places=True)
