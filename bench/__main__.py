"""Print the whole table of goals, exit 1 on a miss. ``python -m bench [--quick | --share S] [--fresh N] [--write]``."""

import argparse
import sys
import time
from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory

from bench import cost, practice, real, rows, tracks
from bench.acceptance import Row, line
from bench.page import page
from bench.plan import FULL, QUICK, TINY, Plan, jobs_of, perform, scaled, track_jobs
from bench.pool import Pool

PAGE = Path(__file__).parents[1] / "docs" / "accuracy.md"


def practice_rows(wanted: bool, pool: Pool) -> list[Row]:
    """One line per practice capture."""
    needed = "identity, vector within 5 um, jumps, polarity, channels, trains"
    if not wanted or not practice.present():
        why = "they are not beside the repository" if wanted else "not in this mode"
        return [line("practice captures", needed, f"not run: {why}", (None, ""))]
    results = pool.run("practice captures", practice.run, practice.NAMES)
    return [line(f"practice capture {r.name}", needed, r.found, (r.passed, "all of these")) for r in results]


def real_rows(count: int, pool: Pool) -> list[Row]:
    """Real music and surface, where installed."""
    title = "real music and surface"
    found = min(count, len(real.pieces()))
    if not count:
        return [line(title, "as composed music", "not run: not in this mode", (None, ""))]
    if not found or real.surface_file() is None:
        why = f"not run: Debian packages {real.MUSIC_PACKAGE} and {real.SURFACE_PACKAGE} are not installed"
        return [line(title, "as composed music", why, (None, ""))]
    results = pool.run(title, real.run, range(found))
    title = f"{title}, {found} renders"
    return [*rows.centre_rows(results, title), *rows.time_rows(results, title), *rows.tick_rows(results, title)]


def cost_rows(minutes: float) -> list[Row]:
    """Time and memory of a long side at 96 kHz."""
    title = f"cost of a side of {minutes or 20.0:.0f} min at 96 kHz"
    needed = "printed as R + kF; below 1 GiB"
    if not minutes:
        return [line(title, needed, "not run: only in the full bench", (None, ""))]
    with TemporaryDirectory() as folder:
        print("cost: a side is made and judged", file=sys.stderr, flush=True)
        found = cost.measure(folder, minutes)
    return [line(title, needed, found.words(), (found.memory < cost.LIMIT_BYTES, "memory only"))]


def measured_page(plan: Plan, fresh: int, title: str) -> tuple[str, bool]:
    """Run everything; the page, and whether every goal is reached."""
    with Pool() as pool:
        plain = pool.run("delay tracks", tracks.run, track_jobs(plan.classes, plan.tracks, 0, fresh, swing=False))
        swung = pool.run(
            "swing unknown", tracks.run, track_jobs(plan.swing_classes, plan.tracks, 500, fresh, swing=True)
        )
        outcomes = pool.run("renders", perform, jobs_of(plan, fresh))
        others = [*real_rows(plan.real, pool), *practice_rows(plan.practice, pool)]
    long = [o for o in outcomes if rows.kind_of(o) == "measure"]
    name = f"{len(long)} renders of {plan.seconds:.0f} s"
    table = [
        *rows.centre_rows(long, name),
        *rows.track_rows(plain),
        *rows.swing_rows(swung),
        *rows.time_rows(long, name),
        *rows.tick_rows(long, name),
        *rows.fault_rows(outcomes),
        *others,
        *cost_rows(plan.minutes),
    ]
    text = page(table, outcomes, fresh=fresh, title=title)
    return text, all(row.passed is not False for row in table)


def main(arguments: list[str] | None = None) -> int:
    """Run the bench; 0 if every goal is reached."""
    parser = argparse.ArgumentParser(prog="python -m bench", description=__doc__)
    parser.add_argument("--quick", action="store_true", help="about 3 minutes on two cores")
    parser.add_argument("--tiny", action="store_true", help="one or two of a kind: only to see that it runs")
    parser.add_argument("--share", type=float, default=1.0, help="share of the full bench's renders")
    parser.add_argument("--fresh", type=int, default=None, help="the fresh seed; drawn from the clock if not given")
    parser.add_argument("--write", action="store_true", help=f"write {PAGE.name}")
    parser.add_argument("--minutes", type=float, default=None, help="length of the side whose cost is measured")
    given = parser.parse_args(arguments)
    fresh = int(time.time()) % 1_000_000 + 2 if given.fresh is None else given.fresh
    plan, title = FULL, "full"
    if given.quick or given.tiny:
        plan, title = (QUICK, "quick") if given.quick else (TINY, "tiny")
    elif given.share != 1.0:
        plan, title = scaled(FULL, given.share), f"{given.share:g} of the full number of renders"
    if given.minutes is not None:
        plan = replace(plan, minutes=given.minutes)
    print(f"fresh seed {fresh}", file=sys.stderr, flush=True)
    text, reached = measured_page(plan, fresh, title)
    print(text)
    if given.write:
        PAGE.write_text(text, encoding="utf-8")
    return int(not reached)


if __name__ == "__main__":
    sys.exit(main())
