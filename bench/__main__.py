"""Print the whole table of goals, exit 1 on a miss. ``python -m bench [--quick | --share S] [--fresh N] [--write]``."""

import argparse
import sys
import time
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np

from bench import cost, practice, real, rows, tracks
from bench.acceptance import Row, line
from bench.judged import Outcome, try_judge
from bench.page import page
from bench.pool import run, single_threaded
from bench.scenes import FAULTS, MUSIC, Scene, draw

PAGE = Path(__file__).parents[1] / "docs" / "accuracy.md"
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
    fault_seconds: tuple[float, float] = (25.0, 40.0)


FULL = Plan(measure=108, fault=50, clean=200, classes=20, tracks=50, swing_classes=10, minutes=20.0, real=12)
QUICK = Plan(measure=18, fault=4, clean=12, classes=10, tracks=20, swing_classes=4, minutes=0.0, real=2)


def scaled(plan: Plan, share: float) -> Plan:
    """A plan of fewer renders; tracks and side stay."""
    return Plan(
        measure=max(18, round(plan.measure * share)), fault=max(4, round(plan.fault * share)),
        clean=max(12, round(plan.clean * share)), classes=plan.classes, tracks=plan.tracks,
        swing_classes=plan.swing_classes, minutes=plan.minutes, real=max(2, round(plan.real * share)),
    )  # fmt: skip


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
        Job(kind="measure", character=MUSIC[i % len(MUSIC)], seed=seed, seconds=60.0)
        for i, seed in enumerate(seeds(plan.measure, 0, fresh))
    ]
    for index, kind in enumerate(FAULTS, start=1):
        count = plan.clean if kind == "clean" else plan.fault
        for i, seed in enumerate(seeds(count, 1000 * index, fresh)):
            length = float(np.random.default_rng([seed, 7]).uniform(*plan.fault_seconds))
            jobs.append(Job(kind=kind, character=MUSIC[(i + index) % len(MUSIC)], seed=seed, seconds=length))
    return jobs


def track_jobs(count: int, size: int, offset: int, fresh: int, *, swing: bool) -> list[tracks.TrackClass]:
    """Classes of delay tracks."""
    return [tracks.TrackClass(seed=s, count=size, swing=swing) for s in seeds(count, offset, fresh)]


def practice_rows() -> list[Row]:
    """One line per practice capture."""
    needed = "identity, vector within 5 um, jumps, polarity, channels, trains"
    if not practice.present():
        return [line("practice captures", needed, "not run: not beside the repository", (None, ""))]
    results = run("practice captures", practice.run, practice.NAMES)
    return [line(f"practice capture {r.name}", needed, r.found, (r.passed, "all of these")) for r in results]


def real_rows(count: int) -> list[Row]:
    """Real music and surface, where installed."""
    title = "real music and surface"
    found = min(count, len(real.pieces()))
    if not found or real.surface_file() is None:
        why = f"not run: Debian packages {real.MUSIC_PACKAGE} and {real.SURFACE_PACKAGE} are not installed"
        return [line(title, "as composed music", why, (None, ""))]
    results = run(title, real.run, range(found))
    title = f"{title}, {found} renders"
    return [*rows.centre_rows(results, title), *rows.time_rows(results, title), *rows.tick_rows(results, title)]


def cost_rows(minutes: float) -> list[Row]:
    """Time and memory of a long side at 96 kHz."""
    title = f"cost of a side of {minutes or 20.0:.0f} min at 96 kHz"
    needed = "printed as R + kF; below 1 GiB"
    if not minutes:
        return [line(title, needed, "not run: only in the full bench", (None, ""))]
    with TemporaryDirectory() as folder:
        (found,) = run("cost: a side made and judged", cost.measure, [(folder, minutes)], workers=1)
    return [line(title, needed, found.words(), (found.memory < cost.LIMIT_BYTES, "memory only"))]


def main(arguments: list[str] | None = None) -> int:
    """Run the bench; 0 if every goal is reached."""
    parser = argparse.ArgumentParser(prog="python -m bench", description=__doc__)
    parser.add_argument("--quick", action="store_true", help="about 3 minutes on two cores")
    parser.add_argument("--share", type=float, default=1.0, help="share of the full bench's renders")
    parser.add_argument("--fresh", type=int, default=None, help="the fresh seed; drawn from the clock if not given")
    parser.add_argument("--write", action="store_true", help=f"write {PAGE.name}")
    given = parser.parse_args(arguments)
    single_threaded()
    fresh = int(time.time()) % 1_000_000 + 2 if given.fresh is None else given.fresh
    plan = QUICK if given.quick else scaled(FULL, given.share) if given.share != 1.0 else FULL
    title = "quick" if given.quick else "full" if plan == FULL else f"{given.share:g} of the full number of renders"
    print(f"fresh seed {fresh}", file=sys.stderr, flush=True)
    plain = run("delay tracks", tracks.run, track_jobs(plan.classes, plan.tracks, 0, fresh, swing=False))
    swung = run("delay tracks, swing unknown", tracks.run, track_jobs(plan.swing_classes, 30, 500, fresh, swing=True))
    outcomes = run("renders", perform, jobs_of(plan, fresh))
    measured = [o for o in outcomes if rows.kind_of(o) == "measure"]
    name = f"{len(measured)} renders of 60 s"
    table = [
        *rows.centre_rows(measured, name),
        *rows.track_rows(plain),
        *rows.swing_rows(swung),
        *rows.time_rows(measured, name),
        *rows.tick_rows(measured, name),
        *rows.fault_rows(outcomes),
        *real_rows(plan.real),
        *practice_rows(),
        *cost_rows(plan.minutes),
    ]
    text = page(table, outcomes, fresh=fresh, title=title)
    print(text)
    if given.write:
        PAGE.write_text(text, encoding="utf-8")
    return int(any(row.passed is False for row in table))


if __name__ == "__main__":
    sys.exit(main())
