"""Sets of copies rendered to sound, judged as `listen check` judges and compared as `listen compare` does.

A composed programme of 32 s; five to seven copies of one or two stampers, half of the sets confounded (one press for
each stamper, one player). Marks come from the mother, a stamper, something on the press, one copy.
"""

from collections import Counter
from dataclasses import dataclass, field, replace
from math import log10
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import numpy as np
import soundfile

from bench.heard_scenes import SURFACE_DB, characters
from runtrue.contract.copies import Base, Copies, OriginName, RecurrenceRow
from runtrue.demo.composer import compose
from runtrue.forward import (
    Crackle,
    Disc,
    LeaningArm,
    Placing,
    Play,
    Player,
    Pulse,
    RandomWow,
    Recorder,
    Surface,
    Tick,
    TimeMap,
    render,
)
from runtrue.types import silent
from runtrue.workflow.copies import compared
from runtrue.workflow.copies_common import COMMON, common_of
from runtrue.workflow.copies_file import Listed
from runtrue.workflow.copies_judged import Heard, Job, judge_one
from runtrue.workflow.copies_request import ListenCompareRequest
from runtrue.workflow.requests import ListenCheckRequest

RATE = 48_000
SECONDS = 32.0
_SAME_S = 0.002
_CLOSURES = 1000
_NAMED = 0.97


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """One mark: where it was made, when it is played [s], on which copies."""

    origin: str
    which: str | None
    time: float
    on: frozenset[str]
    first: int = 0
    last: int | None = None
    tick: Tick


@dataclass(frozen=True, slots=True, kw_only=True)
class SoundTold:
    """What was said of one rendered set: tallies, and in words what was wrong."""

    counts: Counter[str] = field(default_factory=Counter)
    wrong: tuple[str, ...] = ()


def listed(rng: np.random.Generator, folder: Path, *, confounded: bool) -> list[Listed]:
    """The copies of a set: one or two stampers of one mother, drawn along the run."""
    stampers = ("S1", "S2")[: int(rng.integers(1, 3))]
    count = int(rng.integers(5, 8))
    rows = []
    for k in range(count):
        stamper = stampers[k % len(stampers)]
        per = -(-count // len(stampers))
        closure = int((k // len(stampers) + rng.uniform(0.1, 0.9)) / per * _CLOSURES) + 1
        press = f"P{stampers.index(stamper) + 1}" if confounded else f"P{1 + k // len(stampers) % 2}"
        factors = {"stamper": stamper, "mother": "M1", "press": press}
        factors["player"] = "bench1" if confounded or k % 2 else "bench2"
        rows.append(Listed(where=f"copy {k}", file=folder / f"c{k}.flac", copy=f"c{k}", closure=closure,
                           factors=factors, order=k + 1))  # fmt: skip
    return rows


def marks_of(rng: np.random.Generator, rows: list[Listed], level: float) -> list[Mark]:
    """A mark of the mother, one of a stamper, one that came on the press, one of a copy."""
    times = np.sort(rng.uniform(2.0, SECONDS - 2.0, 4))
    while np.diff(times).min() < 0.2:
        times = np.sort(rng.uniform(2.0, SECONDS - 2.0, 4))
    rng.shuffle(times)
    stamper = rows[int(rng.integers(len(rows)))].factors["stamper"]
    mine = sorted((row.closure or 0, row.copy) for row in rows if row.factors["stamper"] == stamper)
    late: frozenset[str] = frozenset()
    while len(late) < 2:
        first = int(rng.integers(1, mine[-1][0] + 1))
        last = int(rng.integers(first, _CLOSURES)) if rng.random() < 0.4 else None
        late = frozenset(c for k, c in mine if k >= first and (last is None or k <= last))
    everywhere = frozenset(row.copy for row in rows)
    alone = rows[int(rng.integers(len(rows)))].copy
    made = (
        ("mother", "M1", everywhere),
        ("stamper", stamper, frozenset(c for _, c in mine)),
        ("press_event", stamper, late),
        ("copy", alone, frozenset({alone})),
    )
    return [
        Mark(origin=origin, which=which, time=float(t), on=on, first=first, last=last, tick=_tick(rng, float(t), level))
        for (origin, which, on), t in zip(made, times, strict=True)
    ]


def _tick(rng: np.random.Generator, time: float, level: float) -> Tick:
    axis = str(rng.choice(["left", "right", "lateral", "vertical"]))
    pulse = Pulse(
        width=float(rng.uniform(10e-6, 40e-6)), resonance=float(rng.uniform(2e3, 9e3)),
        decay=float(rng.uniform(5e-5, 3e-4)),
    )  # fmt: skip
    return Tick(
        programme_time=time, peak_db=level + float(rng.uniform(28.0, 42.0)), axis=axis,  # type: ignore[arg-type]
        sign=int(rng.choice([-1, 1])), pulse=pulse,
    )  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class MadeSet:
    """A set on disk: the reference, the list of its copies, its marks, what is asked of each recording, and the exact
    time line of each file."""

    reference: Path
    rows: list[Listed]
    marks: list[Mark]
    asked: dict[str, Any]
    lines: dict[str, TimeMap]


def make_set(seed: int, folder: Path) -> MadeSet:
    """Compose, press, play and write a set."""
    rng = np.random.default_rng([seed, 41])
    names = characters()
    music = compose(names[seed % len(names)], SECONDS, seed, RATE)
    soundfile.write(folder / "reference.flac", music, RATE, subtype="PCM_24")
    level = 10.0 * log10(float(np.mean(np.square(music, dtype=np.float64)))) + SURFACE_DB
    rows = listed(rng, folder, confounded=seed % 2 == 1)
    marks = marks_of(rng, rows, level)
    start = float(rng.uniform(0.09, 0.146))
    end = start - SECONDS * 100.0 / 180.0 * 0.13e-3
    punched = {row.factors["stamper"]: rng.normal(0.0, 50e-6, 2) for row in rows}
    lathe = float(rng.normal(0.0, 5e-5))
    lines: dict[str, TimeMap] = {}
    for k, row in enumerate(rows):
        x, y = punched[row.factors["stamper"]]
        disc = Disc(
            turn_frequency=100.0 / 180.0, start_radius=start, end_radius=end, lathe_error=lathe,
            offset=float(np.hypot(x, y)), direction=float(np.arctan2(y, x)) % 6.28,
            surface=Surface(level_db=level + float(rng.normal(0.0, 1.0)), swish_db=1.0),
            ticks=tuple(
                replace(m.tick, peak_db=m.tick.peak_db + float(rng.normal(0.0, 1.0)))
                for m in marks
                if row.copy in m.on
            ),
            crackle=Crackle(per_second=0.15, peak_db=level + 26.0, spread_db=5.0),
        )  # fmt: skip
        player = Player(
            arm=LeaningArm(angle=0.35), speed=float(rng.uniform(-0.003, 0.003)), wow=RandomWow(density=2e-5),
            gain_db=float(rng.uniform(-7.0, -4.0)),
        )  # fmt: skip
        placing = Placing(slack=float(rng.uniform(0.0, 60e-6)), slack_direction=float(rng.uniform(0.0, 6.28)))
        play = Play(disc=disc, player=player, placing=placing, recorder=Recorder(lead_in=1.0, lead_out=1.0))
        made = render(music, RATE, play, seed=1000 * seed + k)
        lines[row.file.name] = made.truth.line
        soundfile.write(row.file, np.clip(made.capture, -1.0, 1.0), made.rate, subtype="PCM_24")
    asked = {
        "format": "12in-33", "start_radius_mm": 1e3 * start, "end_radius_mm": 1e3 * end, "arm_offset_deg": 20.0,
        "player_swing_percent": 0.0,
    }  # fmt: skip
    return MadeSet(reference=folder / "reference.flac", rows=rows, marks=marks, asked=asked, lines=lines)


def judged(seed: int) -> SoundTold:
    """Make a set, judge its recordings, compare them, hold what is said against the truth."""
    with TemporaryDirectory(prefix="runtrue-bench-") as folder:
        made = make_set(seed, Path(folder))
        heard = [_heard(row.file, made.reference, made.asked) for row in made.rows]
        result = compared(
            made.rows, heard, format="12in-33", reference=Base(file="reference.flac", sha256=None, copies=[])
        )
        return score(result, made.marks, seed)


def judged_without_reference(seed: int) -> SoundTold:
    """The same sets with nothing to lay the copies over but one another."""
    with TemporaryDirectory(prefix="runtrue-bench-") as name:
        folder = Path(name)
        made = make_set(seed, folder)
        asked = {key: value for key, value in made.asked.items() if not key.endswith("radius_mm")}
        request = ListenCompareRequest(copies=folder / "copies.csv", **asked)
        common = common_of(request, made.rows, None, folder, silent)
        jobs = [
            Job(request=ListenCheckRequest(capture=row.file, reference=folder / COMMON, **asked), common=common.reach)
            for row in made.rows
        ]
        heard = [judge_one(job) for job in jobs]
        base = Base(file=None, sha256=None, copies=common.copies)
        result = compared(made.rows, heard, format="12in-33", reference=base)
        whole = frozenset(row.copy for row in made.rows)
        line = made.lines[common.base]  # whose times are those of the result
        marks = [replace(m, time=float(line.captures(m.time)[0][0])) for m in made.marks if m.on != whole]
        return score(result, marks, seed)


def _heard(capture: Path, reference: Path, asked: dict[str, Any]) -> Heard:
    return judge_one(Job(request=ListenCheckRequest(capture=capture, reference=reference, **asked)))


def score(result: Copies, marks: list[Mark], seed: int) -> SoundTold:
    """A printed result against the truth of its set."""
    counts: Counter[str] = Counter(sets=1, copies=len(result.copies))
    counts["copies that take part"] = sum(row.plays > 0 for row in result.copies)
    wrong: list[str] = []
    for row in result.recurrences:
        mark = next((m for m in marks if abs(m.time - row.programme_s) < _SAME_S), None)
        if mark is None or len(mark.on) < 2:
            counts["false of 3"] += len(row.copies) > 2
            counts["false of 2"] += len(row.copies) == 2
            if len(row.copies) > 1:
                wrong.append(f"set {seed}: chance at {row.programme_s:.3f} on {len(row.copies)} copies")
            continue
        _score_row(row, mark, counts, wrong, seed)
    for mark in (m for m in marks if len(m.on) > 1):
        counts["shared"] += 1
        counts["shared found"] += any(
            abs(mark.time - row.programme_s) < _SAME_S and len(row.copies) > 1 for row in result.recurrences
        )
    return SoundTold(counts=counts, wrong=tuple(wrong))


def _score_row(row: RecurrenceRow, mark: Mark, counts: Counter[str], wrong: list[str], seed: int) -> None:
    right = OriginName(origin=mark.origin, which=mark.which)  # type: ignore[arg-type]
    named = named_of(row)
    counts["told"] += 1
    counts["told inside"] += right in named
    first = row.origins[0]
    if right not in named:
        wrong.append(
            f"set {seed}: {mark.origin} {mark.which}, said {first.origin} {first.which} {first.probability:.2f}"
        )
    tied = any(OriginName(origin=first.origin, which=first.which) in tie.origins for tie in row.cannot_tell_apart)
    if first.probability >= 0.8 and not tied:
        counts["single"] += 1
        counts["single right"] += (first.origin, first.which) == (mark.origin, mark.which)
    if mark.origin == "press_event" and first.origin == "press_event" and row.from_closure is not None:
        counts["began"] += 1
        counts["began inside"] += row.from_closure[0] <= mark.first <= row.from_closure[1]


def named_of(row: RecurrenceRow) -> list[OriginName]:
    """Origins that are named: the likeliest, until they hold 97 in 100 of what is no chance, and their ties."""
    real = 1.0 - row.chance_probability - row.none_of_these
    named: list[OriginName] = []
    held = 0.0
    for one in row.origins:
        named.append(OriginName(origin=one.origin, which=one.which))
        held += one.probability
        if held >= _NAMED * real:
            break
    ties = [tie.origins for tie in row.cannot_tell_apart if any(one in named for one in tie.origins)]
    return [*named, *(one for group in ties for one in group if one not in named)]
