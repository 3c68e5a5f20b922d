"""What a worker process of the demonstration does: compose a tune, or play one disc and judge the recording.

Nothing of this runs in the process that talks to the person. Files pass from one worker to the next, so that a side is
composed once; what a worker begins lies in the workspace that the other process removes.
"""

import json
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import soundfile

from runtrue.demo.composer import Tune, compose, passages
from runtrue.forward import Play, render_to_file
from runtrue.types import silent
from runtrue.workflow.actions import system_ports
from runtrue.workflow.requests import ListenCheckRequest

if TYPE_CHECKING:
    from runtrue.workflow.listening import Checked

RATE = 48_000
"""Of music and recordings [Hz]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TuneJob:
    """Write the samples of a tune to ``path`` (.npy)."""

    tune: Tune
    path: Path


@dataclass(frozen=True, slots=True, kw_only=True)
class SideJob:
    """Write a side to ``path``: each of its tunes from its part, silence where there is no part yet."""

    tunes: tuple[Tune, ...]
    parts: tuple[Path, ...]
    path: Path


@dataclass(frozen=True, slots=True, kw_only=True)
class PlayJob:
    """Play a disc whose groove holds ``music``, record it to ``request.capture`` and judge that by ``request``.

    The truth goes to ``truth``; the recording is removed again unless ``keep``.
    """

    play: Play
    seed: int
    music: Path
    request: ListenCheckRequest
    truth: Path
    keep: bool


def compose_tune(job: TuneJob) -> None:
    """Compose a tune."""
    np.save(job.path, compose(job.tune.character, job.tune.seconds, job.tune.seed, RATE))


def lay_side(job: SideJob) -> None:
    """Lay the tunes of a side one after another, as ``compose_side`` does."""
    places = passages(job.tunes)
    side = np.zeros((round(places[-1].end * RATE), 2), np.float32)
    for part, place in zip(job.parts, places, strict=True):
        if part.exists():
            at = round(place.start * RATE)
            sound = np.load(part)[: len(side) - at]
            side[at : at + len(sound)] = sound
    soundfile.write(job.path, side, RATE, subtype="FLOAT")


def keep_reference(music: Path, out: Path) -> None:
    """Write the music of a side as FLAC, for whoever judges a recording of their own."""
    sound, rate = soundfile.read(music, dtype="float32")
    soundfile.write(out, sound, rate, subtype="PCM_16")


def play_and_judge(job: PlayJob) -> "Checked":
    """Make the recording, keep the truth beside, and judge the recording as anybody's is judged."""
    from runtrue.workflow.listening import check  # the parent, which also imports this module, does without

    truth = render_to_file(job.music, job.request.capture, job.play, job.seed)
    job.truth.write_text(json.dumps(truth.shown(), ensure_ascii=False, indent=1) + "\n", encoding="utf-8")
    try:
        return check(job.request, system_ports(), silent)
    finally:
        if not job.keep:
            job.request.capture.unlink(missing_ok=True)
