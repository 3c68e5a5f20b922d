"""From what the renders gave to the lines of the table."""

from collections import Counter, defaultdict
from collections.abc import Iterable

import numpy as np

from bench.acceptance import Row, at_least, between, each, line, rarer, ratio_below
from bench.judged import Outcome
from bench.scenes import FAULTS
from bench.tracks import TrackResult

VECTOR_M = 5e-6
SPEED = 50e-6
START_S = 1e-3
FLUTTER_SHARE, FLUTTER = 0.05, 2e-5
RADIUS_RATIO = 2.6
PRIOR_RATIO = 1.3
RAISED = 0.10
_WORDS = {
    "clean": "nothing wrong: nothing claimed",
    "other": "other title or side",
    "swapped": "swapped channels",
    "inverted": "inverted polarity",
    "early": "early stop (within 0.5 s)",
    "late": "late needle (within 0.5 s)",
    "jumps": "two jumps of one turn, one each way, and nothing else",
    "edit": "edited version: place within 0.1 s, length within 10 ms",
}


def track_rows(results: list[TrackResult]) -> list[Row]:
    """Coverage and radius of the circle over delay tracks without a player's swing."""
    n, covered = sum(len(r.errors) for r in results), sum(r.covered for r in results)
    scaled = np.concatenate([np.array(r.errors) / np.median(r.circles) for r in results])
    ratio = float(1.0 / np.sqrt(np.mean(scaled**2) / 2.0))
    single = sorted(float(np.median(r.circles) / np.sqrt(np.mean(np.square(r.errors)) / 2.0)) for r in results)
    return [
        line(f"U95 circle, {n} delay tracks", "covers 93 to 97 %", percent(covered / n), between(covered, n, 0.95)),
        line(
            f"its median radius over the per-axis rms error, {len(results)} classes pooled",
            "below 2.6",
            f"{ratio:.2f} (single classes {single[0]:.2f} to {single[-1]:.2f})",
            ratio_below(ratio, 2 * n, RADIUS_RATIO),
        ),
    ]


def swing_rows(results: list[TrackResult]) -> list[Row]:
    """The same with the player's swing unknown and drawn from its prior."""
    n, covered = sum(len(r.errors) for r in results), sum(r.covered for r in results)
    ratio = max(float(np.median(r.circles)) / r.implied for r in results)
    separated = sum(r.separated for r in results)
    title = f"player's swing unknown, {n} delay tracks"
    return [
        line(title, "covers (95 %)", percent(covered / n), at_least(covered, n, 0.95)),
        line(
            f"{title}: median radius over what the prior implies",
            "at most 1.3",
            f"{ratio:.2f} (largest of {len(results)} classes)",
            (ratio < PRIOR_RATIO, "each class"),
        ),
        line(f"{title}: `separated`", "empty", f"filled in {separated} of {n}", (separated == 0, "each track")),
    ]


def centre_rows(outcomes: list[Outcome], title: str) -> list[Row]:
    """Off-centre of renders."""
    errors, n = [o.vector_error for o in outcomes], len(outcomes)
    near = sum(e is not None and e < VECTOR_M for e in errors)
    found = f"{near} of {n}; median {median(errors) * 1e6:.2f} um, largest {largest(errors) * 1e6:.2f} um"
    covered = sum(o.vector_error is not None and o.circle is not None and o.vector_error <= o.circle for o in outcomes)
    return [
        line(f"off-centre vector, {title}", "error below 5 um in 95 %", found, at_least(near, n, 0.95)),
        line(f"U95 circle, {title}", "covers 90 to 99 of 100", f"{covered} of {n}", between(covered, n, 0.95)),
    ]


def time_rows(outcomes: list[Outcome], title: str) -> list[Row]:
    """Speed and start of renders."""
    return [
        _within(f"programme speed, {title}", [o.speed_error for o in outcomes], SPEED, (1e6, "ppm")),
        _within(f"start of programme, {title}", [o.start_error for o in outcomes], START_S, (1e3, "ms")),
        *_flutter_rows(outcomes, title),
    ]


def _flutter_rows(outcomes: list[Outcome], title: str) -> list[Row]:
    """Weighted flutter where the music lets it be read."""
    read = [o.flutter for o in outcomes if o.flutter is not None]
    errors = [abs(value - truth) for value, _, truth in read]
    near = sum(e < max(FLUTTER_SHARE * truth, FLUTTER) for e, (_, _, truth) in zip(errors, read, strict=True))
    covered = sum(e <= u95 for e, (_, u95, _) in zip(errors, read, strict=True))
    n, name = len(read), f"flutter, two-sigma weighted, {len(read)} of {title} that let it be read"
    worst = max((e / t for e, (_, _, t) in zip(errors, read, strict=True)), default=0.0)
    return [
        line(name, "within 5 % or 0.002 %", f"{near} of {n}; largest {percent(worst)} of the reading", each(near, n)),
        line(f"its U95, {n} of {title}", "covers 95 % or more", f"{covered} of {n}", at_least(covered, n, 0.95)),
    ]


def _within(title: str, values: list[float | None], limit: float, shown: tuple[float, str]) -> Row:
    near = sum(v is not None and abs(v) < limit for v in values)
    found = f"{near} of {len(values)}; largest {largest(values) * shown[0]:.3g} {shown[1]}"
    return line(title, f"within {limit * shown[0]:g} {shown[1]}", found, each(near, len(values)))


def tick_rows(outcomes: list[Outcome], title: str) -> list[Row]:
    """Ticks of renders."""
    prominent, missed = sum(o.prominent for o in outcomes), sum(len(o.missed) for o in outcomes)
    minutes, false = sum(o.minutes for o in outcomes), sum(len(o.false) for o in outcomes)
    raised = known(o.raised for o in outcomes)
    over = sum(r > RAISED for r in raised)
    mean = float(np.mean(raised)) if raised else float("nan")
    return [
        line(
            f"ticks of 20 dB or more by the exact noise, {title}",
            "95 % found within 1 ms",
            f"{prominent - missed} of {prominent}",
            at_least(prominent - missed, prominent, 0.95),
        ),
        line(
            f"ticks where none is, {title}",
            "fewer than 1 a minute",
            f"{false} in {minutes:.0f} min",
            rarer(false, minutes, "min"),
        ),
        line(
            f"time with the tick threshold above 1.5 x the noise, {title}",
            "below 10 % of the side",
            f"{percent(mean)} (largest {percent(largest(raised))}; {over} of {len(raised)} above)",
            (bool(raised) and over == 0, "each render"),
        ),
    ]


def kind_of(outcome: Outcome) -> str:
    """Kind of the scene, empty for real music."""
    return outcome.scene.kind if outcome.scene else ""


def percent(share: float) -> str:
    """A share as people read it."""
    return f"{100.0 * share:.1f} %"


def largest(values: Iterable[float | None]) -> float:
    """Largest magnitude of those that are there."""
    return max((abs(v) for v in known(values)), default=float("nan"))


def median(values: Iterable[float | None]) -> float:
    """Median of those that are there."""
    there = known(values)
    return float(np.median(there)) if there else float("nan")


def known(values: Iterable[float | None]) -> list[float]:
    """Those that are there."""
    return [v for v in values if v is not None]


def fault_rows(outcomes: list[Outcome]) -> list[Row]:
    """What was named, kind by kind."""
    rows = []
    made, found = sum(o.jumps_made for o in outcomes), sum(o.jumps_found for o in outcomes)
    if made:
        needed = "each found with its sign, within 0.1 s"
        rows.append(line("jumps of one turn either way", needed, f"{found} of {made}", each(found, made)))
    for kind in (*FAULTS[1:], FAULTS[0]):
        mine = [o for o in outcomes if kind_of(o) == kind]
        right = sum(o.recognised for o in mine)
        if mine:
            needed = "in each" if kind == "clean" else "recognised in each"
            rows.append(line(_WORDS[kind], needed, f"{right} of {len(mine)}", each(right, len(mine))))
    return rows


def by_character(outcomes: list[Outcome]) -> list[str]:
    """A table of the long renders by the character of their music."""
    lines = [
        "| music | renders | largest vector error [um] | in the circle | largest speed error [ppm] | ticks missed "
        "| false ticks | threshold raised, largest [%] |",
        "|" + " --- |" * 8,
    ]
    groups: dict[str, list[Outcome]] = defaultdict(list)
    for o in outcomes:
        groups[o.scene.character if o.scene else ""].append(o)
    for name, mine in groups.items():
        inside = sum((o.vector_error or np.inf) <= (o.circle or 0.0) for o in mine)
        lines.append(
            f"| {name} | {len(mine)} | {largest(o.vector_error for o in mine) * 1e6:.2f} | {inside} "
            f"| {largest(o.speed_error for o in mine) * 1e6:.1f} | {sum(len(o.missed) for o in mine)} of "
            f"{sum(o.prominent for o in mine)} | {sum(len(o.false) for o in mine)} "
            f"| {100.0 * largest(o.raised for o in mine):.1f} |"
        )
    return lines


def misses(outcomes: list[Outcome]) -> list[str]:
    """One line for every render that held something against the goals, to run again."""
    lines = []
    for o in outcomes:
        what = []
        if not o.recognised and kind_of(o) != "measure":
            what.append(f"said: {o.said}")
        if kind_of(o) == "measure":
            if o.vector_error is None or o.circle is None:
                what.append(f"no vector: {o.reason or o.said}")
            elif o.vector_error > min(o.circle, VECTOR_M):
                what.append(f"vector {o.vector_error * 1e6:.2f} um off, circle {o.circle * 1e6:.2f} um")
            if abs(o.speed_error or 0.0) > SPEED:
                what.append(f"speed {(o.speed_error or 0.0) * 1e6:.0f} ppm off")
            if abs(o.start_error or 0.0) > START_S:
                what.append(f"start {(o.start_error or 0.0) * 1e3:.2f} ms off")
            what += [f"missed tick {m}" for m in o.missed] + [f"false tick {f}" for f in o.false]
            if (o.raised or 0.0) > RAISED:
                what.append(f"threshold raised {100.0 * (o.raised or 0.0):.0f} % of the time")
        if what and o.scene:
            lines.append(f"{o.scene.label()}, {o.scene.seconds:.1f} s: {'; '.join(what)}")
    return lines


def counted(outcomes: list[Outcome]) -> str:
    """How many renders of each kind."""
    return ", ".join(f"{n} {kind}" for kind, n in Counter(kind_of(o) for o in outcomes).items())
