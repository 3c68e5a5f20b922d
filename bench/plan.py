"""How many renders of what, and from which seeds."""

from dataclasses import dataclass, replace

import numpy as np

from bench import tracks
from bench.judged import Outcome, try_judge
from bench.scenes import FAULTS, MUSIC, Scene, draw

FIXED = 1000
"""First of the fixed seeds."""
FRESH_SHARE = 0.2
"""Share of the renders and track classes whose seeds are fresh."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """How many of each."""

    measure: int
    fault: int
    clean: int
    classes: int
    tracks: int
    swing_classes: int
    minutes: float
    real: int
    practice: bool = True
    seconds: float = 60.0
    """Length of the long renders."""
    fault_seconds: tuple[float, float] = (25.0, 40.0)


FULL = Plan(measure=108, fault=50, clean=200, classes=20, tracks=50, swing_classes=10, minutes=20.0, real=12)
QUICK = Plan(measure=18, fault=4, clean=12, classes=10, tracks=20, swing_classes=4, minutes=0.0, real=2)
TINY = Plan(
    measure=1, fault=0, clean=1, classes=1, tracks=4, swing_classes=1, minutes=0.0, real=0, practice=False,
    seconds=20.0, fault_seconds=(12.0, 13.0),
)  # fmt: skip


def scaled(plan: Plan, share: float) -> Plan:
    """A plan of fewer renders; tracks and side stay."""
    return replace(
        plan,
        measure=max(18, round(plan.measure * share)),
        fault=max(4, round(plan.fault * share)),
        clean=max(12, round(plan.clean * share)),
    )


def seeds(count: int, offset: int, fresh: int) -> list[int]:
    """Fixed seeds, and for the last share of them fresh ones."""
    new = max(1, round(FRESH_SHARE * count)) if count > 1 else 0
    return [FIXED + offset + i for i in range(count - new)] + [fresh * 1000 + offset + i for i in range(new)]


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """A scene to be drawn where it is rendered."""

    kind: str
    character: str
    seed: int
    seconds: float

    def scene(self) -> Scene:
        """The scene itself."""
        return draw(self.kind, self.character, self.seed, seconds=self.seconds)


def perform(job: Job) -> Outcome:
    """Draw, render, judge, compare."""
    return try_judge(job.scene())


def jobs_of(plan: Plan, fresh: int) -> list[Job]:
    """Every render of the bench."""
    jobs = [
        Job(kind="measure", character=MUSIC[i % len(MUSIC)], seed=seed, seconds=plan.seconds)
        for i, seed in enumerate(seeds(plan.measure, 0, fresh))
    ]
    for index, kind in enumerate(FAULTS, start=1):
        count = plan.clean if kind == "clean" else plan.fault
        for i, seed in enumerate(seeds(count, 1000 * index, fresh)):
            length = float(np.random.default_rng([seed, 7]).uniform(*plan.fault_seconds))
            # a cut in bars that repeat to the sample is known but for whole bars
            music = tuple(c for c in MUSIC if (kind, c) != ("edit", "loops_exact"))
            jobs.append(Job(kind=kind, character=music[(i + index) % len(music)], seed=seed, seconds=length))
    return jobs


def track_jobs(count: int, size: int, offset: int, fresh: int, *, swing: bool) -> list[tracks.TrackClass]:
    """Classes of delay tracks."""
    return [tracks.TrackClass(seed=s, count=size, swing=swing) for s in seeds(count, offset, fresh)]
