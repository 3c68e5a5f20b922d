"""A short story of one run, played and judged: what the pages are tried on where sound is needed.

The demonstration's own story, shortened to 18 s of one side and four copies; judged once for all tests of a run.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from fcntl import LOCK_EX, flock
from pathlib import Path

from runtrue.demo.bench import limits_text, name_of, request_of, rig_text
from runtrue.demo.jobs import PlayJob, SideJob, TuneJob, compose_tune, lay_side, play_and_judge
from runtrue.demo.ledger import write_book
from runtrue.demo.scenario import Mark, Scenario, load_scenario
from runtrue.workflow.actions import system_ports

SECONDS = 18
SCRAP = 11.3
"""Programme time of the mark that came on the press [s]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """The book of the story, a recording that is not in it yet, and its reference."""

    book: Path
    extra: Path
    reference: Path


def short() -> Scenario:
    """Side A alone, four copies of which two have the scrap."""
    story = load_scenario(None)
    side = next(one for one in story.side if one.label == "A")
    side = replace(side, tune=(replace(side.tune[2], seconds=SECONDS),))
    other = replace(next(one for one in story.side if one.label == "B"), tune=side.tune)
    copies = tuple(
        replace(
            copy, disc={key: value for key, value in copy.disc.items() if key == "surface"},
            plays=tuple(replace(p, jumps=(), dirt=(), stopped_s=None, state="") for p in copy.plays[-1:]),
        )
        for copy in story.copy[:4]
    )  # fmt: skip
    marks: list[Mark] = []
    for mark in story.mark:
        tick = {**mark.ticks[0], "programme_time_s": {"A-M1": 4.2}.get(mark.on, SCRAP)}
        if mark.on != "A-M1-S1" or mark.from_closure > 1:
            marks.append(replace(mark, ticks=(tick,)))
    return replace(story, side=(side, other), copy=copies, mark=tuple(marks))


def tell(folder: Path) -> Told:
    """Play, judge and write the story's book; an hour's work of nobody: about ten seconds."""
    story = short()
    sound = folder / "sound"
    sound.mkdir(parents=True, exist_ok=True)
    (folder / "limits.toml").write_text(limits_text(story), encoding="utf-8")
    (folder / "rig.toml").write_text(rig_text(story), encoding="utf-8")
    music = sound / "A.wav"
    compose_tune(TuneJob(tune=story.side[0].tune[0], path=folder / "A-0.npy"))
    lay_side(SideJob(tunes=story.side[0].tune, parts=(folder / "A-0.npy",), path=music))
    extra, reference = folder / "late-copy.wav", folder / "cut.wav"
    results = {}
    for copy, playing in story.playings():
        name = name_of(copy, playing)
        results[name] = play_and_judge(
            PlayJob(
                play=story.play(copy, playing), seed=story.seed(copy, playing), music=music,
                request=request_of(
                    story, playing, capture=sound / f"{name}.wav", reference=music, limits=folder / "limits.toml",
                    rig=folder / "rig.toml",
                ),
                truth=folder / f"{name}.json", keep=True,
            )
        )  # fmt: skip
    extra.write_bytes((sound / "c2-A.wav").read_bytes())
    reference.write_bytes(music.read_bytes())
    return Told(book=write_book(story, results, folder, system_ports()), extra=extra, reference=reference)


@contextmanager
def told_once(shared: Path) -> Iterator[Path]:
    """A folder that the first of several processes fills with the story, for all of them."""
    folder = shared / "story"
    with (shared / "story.lock").open("w") as lock:
        flock(lock, LOCK_EX)
        if not (folder / "done").exists():
            tell(folder)
            (folder / "done").write_text("")
    yield folder
