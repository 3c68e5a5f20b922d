"""Copies compared against the maker's hidden truth. ``python -m bench.copies [--sets N] [--sound N] [--write]``.

Event-level sets are made by ``forward.copies`` with designs drawn from one seed, half of them confounded; what is said
is held against what was made.
"""

import argparse
import sys
import time
import tracemalloc
from collections import Counter
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from scipy.special import chdtr

from bench import copies_sound
from bench.acceptance import Row, line
from bench.copies_sound import SoundTold
from bench.pool import Pool
from runtrue.forward.copies import CopySet, Design, MadeMark, make_copies
from runtrue.listen.copies.compare import Recurrence, recurrences
from runtrue.listen.copies.dating import Dated, dated
from runtrue.listen.copies.onset import CLOSE, first_closure, onset
from runtrue.listen.copies.origins import Origin, Suspect
from runtrue.listen.copies.sample import Play, Sample

PAGE = Path(__file__).parents[1] / "docs" / "accuracy-copies.md"
TURN = 1.8
MISSING = 0.003
TELLS = 0.95
"""A copy bounds where a mark came or went if it would list it with this chance: an interval of 95 in 100 needs it."""
_EVERY = 5
"""Of the rendered sets one in so many is compared without a reference too."""
_DATED = 1_000_000
"""Seeds of the sets for dated copies lie apart by this."""
_LINEAR = 1.3
"""Twice the events may cost a little more than twice the time: caches."""
SURE = 0.8
"""From these odds on one origin counts as named."""


def sample_of(made: CopySet) -> Sample:
    """The plays of a made set as the comparison takes them."""
    plays = []
    for p in made.plays:
        second = np.minimum(p.time, len(p.noise_db) - 1).astype(int)
        plays.append(
            Play(
                copy=p.copy, closure=p.closure, factors=p.factors, order=p.order, washed=p.washed, reach=p.reach,
                time=p.time, u95=p.u95, level=p.prominence_db + p.noise_db[second], prominence=p.prominence_db,
                noise=p.noise_db, waveform=p.waveform,
            )
        )  # fmt: skip
    return Sample(plays, length=made.length)


def design_of(seed: int) -> Design:
    """A design drawn from one seed; every second one is confounded, every third holds an unnumbered copy or two."""
    rng = np.random.default_rng([seed, 5])
    confounded = seed % 2 == 1
    return Design(
        copies=int(rng.integers(6, 25)),
        mothers=int(rng.integers(1, 3 if confounded else 4)),
        stampers=int(rng.integers(1, 3)),
        confounded=confounded,
        unnumbered=int(rng.integers(1, 3)) if seed % 3 == 0 else 0,
        ticks_per_minute=float(rng.choice([0.5, 2.0, 5.0, 30.0])),
        crackle=bool(rng.random() < 0.3),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """What was said of one set: tallies, the odds of each first suspect with whether it was right, what was wrong.

    ``pairs``: the chance that is stated of each mark on two copies.
    """

    counts: Counter[str]
    odds: tuple[tuple[float, bool], ...]
    pairs: tuple[float, ...] = ()
    wrong: tuple[str, ...] = ()


def judged(seed: int, design: Design | None = None) -> Told:
    """Make one set, compare it, hold it against its truth."""
    made = make_copies(design or design_of(seed), seed)
    sample = sample_of(made)
    found = recurrences(sample, turn=TURN)
    counts: Counter[str] = Counter(sets=1)
    odds: list[tuple[float, bool]] = []
    wrong: list[str] = []
    for one in found:
        _score(one, made, sample, counts=counts, odds=odds, wrong=wrong)
    for mark in range(len(made.marks)):
        heard = {p.copy for p in made.plays if (p.mark == mark).any()}
        if len(heard) > 1:
            counts["shared marks"] += 1
            counts["shared marks found"] += any(_cause(one, made) == mark for one in found)
    for copy in dated(sample, found):
        if copy.marks:
            _score_dated(copy, found, made, sample, counts=counts, wrong=wrong)
    pairs = tuple(one.odds.chance for one in found if len(one.copies) == 2)
    return Told(counts=counts, odds=tuple(odds), pairs=pairs, wrong=tuple(wrong))


def _score_dated(
    copy: Dated, found: list[Recurrence], made: CopySet, sample: Sample, *, counts: Counter[str], wrong: list[str]
) -> None:
    """A dated copy against its true closure, and the closures it may be against those the marks leave open."""
    name = sample.copies[copy.copy]
    true = made.closure[name]
    size = sum(last - first + 1 for first, last in copy.stretches)
    inside = any(first <= true <= last for first, last in copy.stretches)
    counts["dated"] += 1
    counts["dated inside"] += inside
    counts["dated narrow"] += size <= 1.5 * _left_open(copy, true, found, made, sample)
    if not inside:
        wrong.append(f"copy {name} dated {copy.stretches}, was {true}")


def judged_dated(seed: int) -> Told:
    """As ``judged``, two copies of every set without a count."""
    return judged(seed + _DATED, replace(design_of(seed + _DATED), unnumbered=2))


def _cause(one: Recurrence, made: CopySet) -> int:
    """The mark behind most of a recurrence's events; -1 and -2 for a copy's own, -3 where unrelated events met."""
    behind = [int(made.plays[j].mark[int(np.abs(made.plays[j].time - one.time).argmin())]) for j in one.plays]
    marks = Counter(m for m in behind if m >= 0).most_common(1)
    if marks and marks[0][1] > 1:
        return marks[0][0]
    return (-2 if -2 in behind else -1) if len(one.copies) == 1 else -3


def _is(suspect: Suspect, mark: MadeMark) -> bool:
    return suspect.origin.value == mark.origin and (suspect.which in (None, mark.which) or mark.origin == "cut")


def _score(
    one: Recurrence, made: CopySet, sample: Sample, *, counts: Counter[str], odds: list[tuple[float, bool]],
    wrong: list[str],
) -> None:  # fmt: skip
    first = one.suspects[0]
    cause = _cause(one, made)
    if cause == -3:
        counts["false of 3"] += len(one.copies) > 2
        counts["false of 2"] += len(one.copies) == 2
        odds.append((first.probability, False))
        wrong.append(f"chance on {len(one.copies)} copies, said {one.odds.chance:.2f}")
        return
    if cause < 0:
        counts["own"] += 1
        odds.append((first.probability, first.origin is (Origin.DIRT if cause == -2 else Origin.COPY)))
        return
    mark = made.marks[cause]
    tied = {k for group in one.tied if any(k < one.named for k in group) for k in group}
    named = [s for k, s in enumerate(one.suspects) if k < one.named or k in tied]
    right = any(_is(s, mark) for s in named)
    counts["told"] += 1
    counts["told inside"] += right
    if not right:
        wrong.append(f"{mark.origin} {mark.which}, said {first.origin.value} {first.which} at {first.probability:.3f}")
    if not any(0 in group for group in one.tied) and first.probability >= SURE:
        counts["single"] += 1
        counts["single right"] += _is(first, mark)
    odds.append((first.probability, _is(first, mark)))
    if mark.origin == "press_event" and first.origin is Origin.PRESS_EVENT and one.first is not None:
        _score_span(one, mark, made, sample, counts)


def _score_span(one: Recurrence, mark: MadeMark, made: CopySet, sample: Sample, counts: Counter[str]) -> None:
    """First and last closure against the truth, and the interval against the spacing of the copies there."""
    assert one.first is not None
    assert one.last is not None
    counts["began"] += 1
    counts["began inside"] += one.first[0] <= mark.first <= one.first[1]
    counts["began narrow"] += one.first[1] - one.first[0] + 1 <= 1.5 * _spacing(
        one, made, sample, mark.which, mark.first
    )
    low, high = one.last
    if mark.last is None or high is None:
        counts["ended"] += 1
        counts["ended inside"] += (mark.last is None or mark.last >= low) and high is None
        return
    counts["ended"] += 1
    counts["ended inside"] += low <= mark.last <= high
    counts["end bounded"] += 1
    counts["end narrow"] += high - low + 1 <= 1.5 * _spacing(one, made, sample, mark.which, mark.last + 1)


def _tells(one: Recurrence, copy: int) -> bool:
    """Whether a copy bounds a mark by itself: it lists it, or would have listed it with 95 in 100."""
    return bool(one.odds.has[copy] or one.odds.heard[copy] >= TELLS)


def _edges(one: Recurrence, made: CopySet, sample: Sample, stamper: str) -> list[int]:
    """Closures of the stamper's counted copies that tell about a mark, from 0 to the end of the run."""
    names, code = sample.values["stamper"]
    mine = np.flatnonzero(np.isfinite(sample.closure) & (code == names.index(stamper)))
    return [0, *sorted(int(sample.closure[i]) for i in mine if _tells(one, int(i))), made.design.closures]


def _spacing(one: Recurrence, made: CopySet, sample: Sample, stamper: str, closure: int) -> float:
    """Closures from one copy that tells to the next, about the first closure of a state of the stamper."""
    edges = _edges(one, made, sample, stamper)
    place = min(max(int(np.searchsorted(edges, closure)), 1), len(edges) - 1)
    return float(edges[place] - edges[place - 1])


def _left_open(copy: Dated, true: int, found: list[Recurrence], made: CopySet, sample: Sample) -> float:
    """What can be attained: all closures on which a copy carries the same of the marks that it tells about, and at each
    end of these the spacing of the copies; at the end of the run how far beyond the largest of n one more copy
    lies less than once in 20 (the Pareto law of ``dating.run_of``)."""
    if copy.stamper is None:
        return float(made.design.closures)
    closures = np.arange(1, made.design.closures + 1)
    same = np.ones(len(closures), dtype=bool)
    spacing: dict[int, float] = {}
    for one in found:
        cause = _cause(one, made)
        mark = made.marks[cause] if cause >= 0 else None
        if mark is None or mark.origin != "press_event" or mark.which != copy.stamper or not _tells(one, copy.copy):
            continue
        on = (closures >= mark.first) & (closures <= (mark.last or made.design.closures))
        same &= on == on[true - 1]
        ends = (mark.first, *(() if mark.last is None else (mark.last + 1,)))
        spacing |= {end: _spacing(one, made, sample, copy.stamper, end) for end in ends}
    runs = np.flatnonzero(np.diff(np.concatenate([[False], same, [False]]).astype(np.int8)))
    counted = np.isfinite(sample.closure) & (
        sample.values["stamper"][1] == sample.values["stamper"][0].index(copy.stamper)
    )
    n, last = int(counted.sum()), float(sample.closure[counted].max())
    beyond = last * ((20.0 / (n + 1)) ** (1.0 / n) - 1.0) if same[-1] else 0.0
    return float(same.sum() + sum(spacing.get(int(cut) + 1, 0.0) for cut in runs) + beyond)


def bisection(seed: int) -> tuple[int, bool]:
    """Plays until the beginning is known to ``CLOSE`` closures of 2,000, and whether the truth is inside then."""
    rng = np.random.default_rng([seed, 9])
    true = int(rng.integers(2, 2000))
    closures, has = [1, 2000], [False, True]
    for plays in range(1, 40):
        order = np.argsort(closures)
        gain = np.where(np.array(has)[order], 8.0, -6.0)[:, None]
        found = onset(gain, np.array(closures, dtype=float)[order], np.zeros(1))
        low, high = first_closure(found, np.array(closures, dtype=float)[order])
        if high - low + 1 <= CLOSE:
            return plays - 1, low <= true <= high
        middle = found.middle(np.array(closures, dtype=float)[order])
        closures.append(middle)
        has.append(middle >= true and rng.random() > MISSING)
    return 40, False


@dataclass(frozen=True, slots=True, kw_only=True)
class Cost:
    """Seconds and bytes of one comparison beyond the copies' own judgement."""

    copies: int
    events: int
    seconds: float
    memory: int


def cost_of(copies: int, per_copy: int, *, minutes: float = 20.0, replays: bool = False) -> Cost:
    """Compare ``copies`` of ``per_copy`` events each."""
    design = Design(
        copies=copies, mothers=2, stampers=2, confounded=not replays, ticks_per_minute=1.35 * per_copy / minutes,
        minutes=minutes,
    )  # fmt: skip
    sample = sample_of(make_copies(design, 1))
    before = time.perf_counter()
    recurrences(sample, turn=TURN)
    seconds = time.perf_counter() - before
    fresh = sample_of(make_copies(design, 1)) if copies <= 100 else sample
    tracemalloc.start()
    recurrences(fresh, turn=TURN)
    memory = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    return Cost(
        copies=len(sample.copies), events=sum(len(p.time) for p in sample.plays), seconds=seconds, memory=memory
    )


def rows_of(told: list[Told], undated: list[Told], plays: list[tuple[int, bool]], costs: list[Cost]) -> list[Row]:
    """The table."""
    total: Counter[str] = Counter()
    for one in told:
        total.update(one.counts)
    n = total["sets"]
    for one in undated:
        total.update({key: one.counts[key] for key in ("dated", "dated inside", "dated narrow")})

    def share(what: str, part: str, whole: str, least: float) -> Row:
        return _share(total, what, part, whole, least)

    narrow = "its interval at most 1.5 x the spacing"
    table = [
        share(f"truth inside the named origins, {n} sets", "told inside", "told", 98),
        share("one origin at 80 in 100 or more, none tied with it: the truth", "single right", "single", 97),
        *_calibration([pair for one in told for pair in one.odds]),
        line("false recurrences of 3 copies or more", "fewer than 1 in 20 sets", f"{total['false of 3']} in {n} sets",
             (total["false of 3"] < n / 20, "as found")),
        _pairs_row(total["false of 2"], [chance for one in told for chance in one.pairs]),
        share("marks on two copies or more that are listed", "shared marks found", "shared marks", 90),
        share("first closure inside its interval", "began inside", "began", 95),
        share(narrow, "began narrow", "began", 95),
        share("last closure inside its interval", "ended inside", "ended", 95),
        share(f"{narrow}, where it ended", "end narrow", "end bounded", 95),
        share("dated copies inside their stretches", "dated inside", "dated", 95),
        share("these at most 1.5 x (what the marks leave open + the spacing)", "dated narrow", "dated", 95),
    ]  # fmt: skip
    if plays:
        most, inside = max(p for p, _ in plays), sum(ok for _, ok in plays)
        within = sum(p <= 9 for p, _ in plays)
        found = f"{within} of {len(plays)} within 9, at most {most}; truth inside in {inside}"
        reached = (within >= 0.95 * len(plays), "95 of 100")
        table.append(line("bisection to 10 closures of 2,000", "at most 9 plays", found, reached))
    for cost in costs:
        needed, limit = ("< 1 s", 1.0) if cost.copies <= 20 else ("< 30 s, < 1 GiB", 30.0)
        found = f"{cost.seconds:.2f} s, {cost.memory / 2**20:.0f} MiB"
        reached = (cost.seconds < limit and cost.memory < 2**30, "this machine")
        table.append(line(f"cost of {cost.copies} copies, {cost.events} events", needed, found, reached))
    if len(costs) > 2:
        half, whole = costs[-2], costs[-1]
        ratio = whole.seconds / half.seconds
        table.append(
            line(
                f"cost of {whole.copies} copies re {half.copies}",
                "linear: 2 x",
                f"{ratio:.2f} x",
                (ratio <= _LINEAR * whole.events / half.events, f"at most {_LINEAR:g} x the events"),
            )
        )
    return table


def sound_rows(rendered: list[SoundTold], mutual: list[SoundTold]) -> list[Row]:
    """The rows of the sets that were rendered to sound, with a reference and without."""
    out = []
    for told, kind in ((rendered, "rendered"), (mutual, "rendered, no reference")):
        total: Counter[str] = Counter()
        for one in told:
            total.update(one.counts)
        n = total["sets"]
        if not n:
            continue
        rows = [
            _share(total, f"truth inside the named origins, {n} sets {kind}", "told inside", "told", 98),
            _share(total, f"{kind}: one origin at 80 in 100 or more: the truth", "single right", "single", 97),
            _share(total, f"{kind}: marks on two copies or more that are listed", "shared found", "shared", 90),
            line(f"{kind}: false recurrences of 3 copies or more", "fewer than 1 in 20 sets",
                 f"{total['false of 3']} in {n} sets", (total["false of 3"] < max(n / 20, 1), "as found")),
            line(f"{kind}: false pairs", "their chance printed", f"{total['false of 2']} in {n} sets",
                 (total["false of 2"] <= n / 10, "1 in 10 sets")),
            _share(total, f"{kind}: first closure inside its interval", "began inside", "began", 95),
        ]  # fmt: skip
        if kind != "rendered":  # four sets: shown, not judged by shares
            rows = [replace(row, needed="no goal stated", rule="shown", passed=True) for row in rows]
        out += rows
    return out


def _share(total: Counter[str], what: str, part: str, whole: str, least: float) -> Row:
    a, b = total[part], total[whole]
    found = f"{a} of {b}" + (f", {100 * a / b:.1f} %" if b else "")
    return line(what, f"{least:g} of 100", found, (None if b == 0 else a >= least / 100 * b, "as found"))


def _pairs_row(false: int, chances: list[float]) -> Row:
    """False pairs against the chances that are printed with the pairs."""
    stated = sum(chances)
    found = f"{false} of {len(chances)} pairs; the chances printed with them add up to {stated:.1f}"
    return line(
        "false pairs",
        "as many as their chances say",
        found,
        (bool(chdtr(2 * max(false, 1), 2.0 * stated) > 0.025 or not false), "1 in 40 of a Poisson count"),
    )


def _calibration(odds: list[tuple[float, bool]]) -> list[Row]:
    """How often the first origin was right, by what was stated."""
    out = []
    for low, high in ((0.8, 0.9), (0.9, 0.95), (0.95, 0.99), (0.99, 1.01), (0.8, 1.01)):
        mine = [(p, ok) for p, ok in odds if low <= p < high]
        if mine:
            stated, right = (float(np.mean([pair[k] for pair in mine])) for k in (0, 1))
            few = 2.0 * (stated * (1.0 - stated) / len(mine)) ** 0.5
            what = f"first origin given {100 * low:.0f} to {min(100 * high, 100):.0f} %"
            found = f"stated {100 * stated:.1f}, right {100 * right:.1f} of 100 ({len(mine)})"
            rule = f"5 points and chance of {100 * few:.1f}"
            out.append(line(what, "right as often, within 5", found, (abs(stated - right) <= 0.05 + few, rule)))
    return out


def page(table: list[Row], wrong: list[str]) -> str:
    """The page of the table."""
    lines = [
        "# Accuracy of comparing copies",
        "Written by `python -m bench.copies --write`. Sets are made by `forward.copies` with hidden truth, half "
        "of them confounded (one press for each stamper, one player, nothing washed).",
        "| quantity | needed | found | reached | accepted |\n| --- | --- | --- | --- | --- |\n"
        + "\n".join(
            f"| {r.quantity} | {r.needed} | {r.found} | "
            f"{'not run' if r.passed is None else 'yes' if r.passed else '**no**'} | {r.rule} |"
            for r in table
        ),
        "Where it was wrong: " + ("; ".join(wrong[:12]) if wrong else "nowhere") + ".",
    ]
    return "\n\n".join(lines) + "\n"


def main(arguments: list[str] | None = None) -> int:
    """Run the bench; 0 if every goal is reached."""
    parser = argparse.ArgumentParser(prog="python -m bench.copies", description=__doc__)
    parser.add_argument("--sets", type=int, default=200)
    parser.add_argument("--fresh", type=int, default=0, help="first seed")
    parser.add_argument("--sound", type=int, default=0, help="sets to render to sound as well; 20 for the page")
    parser.add_argument("--small", action="store_true", help="no large costs")
    parser.add_argument("--write", action="store_true", help=f"write {PAGE.name}")
    given = parser.parse_args(arguments)
    with Pool() as pool:
        told = pool.run("sets", judged, range(given.fresh, given.fresh + given.sets))
        undated = pool.run("dated copies", judged_dated, range(given.fresh, given.fresh + given.sets // 2))
        rendered = pool.run("rendered sets", copies_sound.judged, range(given.fresh, given.fresh + given.sound))
        mutual = pool.run(
            "rendered sets without a reference", copies_sound.judged_without_reference,
            range(given.fresh, given.fresh + given.sound // _EVERY),
        )  # fmt: skip
        plays = pool.run("bisections", bisection, range(given.fresh, given.fresh + given.sets))
    costs = [cost_of(20, 60)] + ([] if given.small else [cost_of(500, 500), cost_of(1000, 500)])
    table = rows_of(told, undated, plays, costs) + sound_rows(rendered, mutual)
    text = page(table, [w for one in told for w in one.wrong] + [w for one in rendered + mutual for w in one.wrong])
    print(text)
    if given.write:
        PAGE.write_text(text, encoding="utf-8")
    return int(any(row.passed is False for row in table))


if __name__ == "__main__":
    sys.exit(main())
