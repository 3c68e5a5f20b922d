"""Makes what a listening test would list on several copies of one side, with the hidden truth behind it.

Marks are made where records are made: in the cut, a father, a mother, a stamper, by something on the press from a
closure until another, by a press, a cavity, a batch of compound, a pile, in one copy, by the player, by dirt that a
wash takes off. Every play lists the marks that its copy carries and its noise lets through, and random ticks besides.
"""

from dataclasses import dataclass, field
from typing import Literal

import numpy as np
import numpy.typing as npt

type_f = npt.NDArray[np.float64]

MadeOrigin = Literal[
    "cut", "father", "mother", "stamper", "press_event", "press", "cavity", "compound", "pile", "copy", "player", "dirt"
]
SAMPLES = 97
"""Of a waveform, 1 ms to both sides at 48 kHz."""
_LISTED_DB = 12.0
_SURE_DB = 13.8
_OWN, _DIRT = -1, -2


@dataclass(frozen=True, slots=True, kw_only=True)
class Design:
    """What was pressed and which of it was played.

    ``confounded``: one press for each stamper, one player, nothing washed or played twice; else stampers change presses
    and some copies are played again, washed, and on a second player.
    """

    copies: int = 12
    mothers: int = 2
    stampers: int = 2
    closures: int = 1200
    confounded: bool = False
    unnumbered: int = 0
    minutes: float = 20.0
    ticks_per_minute: float = 2.0
    crackle: bool = False
    time_sd: float = 25e-6


@dataclass(frozen=True, slots=True, kw_only=True)
class MadeMark:
    """One mark. ``level_db`` as it stands in any copy; ``first`` to ``last`` closure for an event on the press;
    ``rise_db`` grows over the stamper's life."""

    origin: MadeOrigin
    which: str
    programme_time: float
    level_db: float
    first: int = 0
    last: int | None = None
    rise_db: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MadePlay:
    """One play of a copy: what is known of it and what it lists.

    ``mark`` (n,) names the mark behind each, -1 for a grain or scratch of the copy's own, -2 for dirt of its own.
    """

    copy: str
    closure: int | None
    factors: dict[str, str]
    order: int
    washed: bool
    reach: tuple[float, float]
    noise_db: type_f
    time: type_f
    u95: type_f
    prominence_db: type_f
    mark: npt.NDArray[np.intp]
    waveform: npt.NDArray[np.float16]


@dataclass(frozen=True, slots=True, kw_only=True)
class CopySet:
    """Plays and the truth: marks, the true closure of each copy, and which copies carry each mark."""

    design: Design
    length: float
    plays: tuple[MadePlay, ...]
    marks: tuple[MadeMark, ...]
    closure: dict[str, int]
    carries: tuple[frozenset[str], ...]
    known: dict[str, dict[str, str]] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Disc:
    name: str
    closure: int
    factors: dict[str, str]


def _discs(design: Design, rng: np.random.Generator) -> list[_Disc]:
    """Copies drawn along the run, every stamper from its first closures to its last."""
    per = max(1, design.stampers)
    names = [f"M{m + 1}-S{s + 1}" for m in range(design.mothers) for s in range(per)]
    discs = []
    for k in range(design.copies):
        stamper = names[k % len(names)]
        place = (k // len(names) + rng.uniform(0.05, 0.95)) / (-(-design.copies // len(names)))
        closure = int(np.clip(round(place * design.closures), 1, design.closures))
        home = 1 + names.index(stamper) % 2
        away = not design.confounded and closure > 0.55 * design.closures
        press = f"P{3 - home if away else home}"
        discs.append(
            _Disc(
                name=f"c{k + 1}",
                closure=closure,
                factors={
                    "father": "F1" if stamper.startswith("M1") or design.mothers < 3 else "F2",
                    "mother": stamper[:2],
                    "stamper": stamper,
                    "press": press,
                    "cavity": f"{press}-{1 + (0 if design.confounded else k // 3 % 2)}",
                    "compound": f"K{1 + 3 * closure // (design.closures + 1)}",
                    "pile": f"{stamper}/{closure // 60}",
                },
            )
        )
    return discs


def _marks(design: Design, discs: list[_Disc], rng: np.random.Generator, length: float) -> list[MadeMark]:
    kinds: list[MadeOrigin] = ["cut", "father", "mother", "mother", "stamper", "stamper", "press_event", "press_event"]
    kinds += ["press_event", "press_event", "cavity", "press", "compound", "player", "copy", "dirt"]
    marks = []
    for _ in range(int(rng.integers(3, 7))):
        origin = kinds[int(rng.integers(len(kinds)))]
        disc = discs[int(rng.integers(len(discs)))]
        which = {"cut": "", "press_event": disc.factors["stamper"], "copy": disc.name, "dirt": disc.name}.get(
            origin, ""
        )
        which = which or disc.factors.get(origin, "") or ("bench1" if origin == "player" else "")
        first, last = 0, None
        if origin == "press_event":
            first = int(rng.integers(1, design.closures))
            last = int(rng.integers(first, design.closures)) if rng.random() < 0.5 else None
        grows = origin == "press_event" and last is None and rng.random() < 0.2
        marks.append(
            MadeMark(
                origin=origin, which=which, programme_time=float(rng.uniform(5.0, length - 5.0)),
                level_db=float(rng.uniform(-52.0, -25.0)), first=first, last=last,
                rise_db=float(rng.uniform(6.0, 14.0)) if grows else 0.0,
            )
        )  # fmt: skip
    return marks


def _on(mark: MadeMark, disc: _Disc, player: str, washed: bool) -> bool:
    """Whether this play of the disc meets the mark."""
    match mark.origin:
        case "cut":
            return True
        case "copy":
            return mark.which == disc.name
        case "dirt":
            return mark.which == disc.name and not washed
        case "player":
            return mark.which == player
        case "press_event":
            here = disc.factors["stamper"] == mark.which and disc.closure >= mark.first
            return here and (mark.last is None or disc.closure <= mark.last)
        case _:
            return disc.factors[mark.origin] == mark.which


def _pulse(rng: np.random.Generator) -> type_f:
    """A struck resonance on one axis of the groove, (2, samples), largest value 1."""
    t = (np.arange(SAMPLES) - SAMPLES // 2) / 48e3
    f, decay, phase = rng.uniform(1500.0, 11e3), rng.uniform(40e-6, 400e-6), rng.uniform(0.0, 2.0 * np.pi)
    wave = np.exp(-np.abs(t) / np.where(t < 0.0, 25e-6, decay)) * np.cos(2.0 * np.pi * f * t + phase)
    axis = np.array([(1.0, 0.0), (0.0, 1.0), (0.7, 0.7), (0.7, -0.7)][int(rng.integers(4))])
    wave = wave / np.abs(wave).max() * rng.choice([-1.0, 1.0])
    return np.asarray(axis[:, None] * wave)


def make_copies(design: Design, seed: int) -> CopySet:
    """Press, draw, play and list. Same design and seed, same set."""
    rng = np.random.default_rng([seed, 77])
    length = 60.0 * design.minutes
    discs = _discs(design, rng)
    marks = _marks(design, discs, rng, length)
    shapes = [_pulse(rng) for _ in marks]
    noise_of_day = rng.normal(-62.0, 1.0) + 2.0 * np.sin(2.0 * np.pi * np.arange(int(length)) / 240.0)
    plays: list[MadePlay] = []
    hidden = {discs[k].name for k in rng.choice(len(discs), design.unnumbered, replace=False).tolist()}
    missed = {(m, d.name): rng.random() < 0.002 for m in range(len(marks)) for d in discs}
    own = {d.name: _own_ticks(design, rng, length) for d in discs}
    for disc in discs:
        again = not design.confounded and rng.random() < 0.4
        quiet = rng.normal(0.0, 1.5)
        for turn in range(2 if again else 1):
            playing = _Playing(
                disc=disc,
                player="bench1" if turn == 0 else str(rng.choice(["bench1", "bench2"])),
                washed=turn == 1 and bool(rng.random() < 0.7),
                order=len(plays) + 1,
                stop=length if rng.random() < 0.85 else float(rng.uniform(0.4, 0.95) * length),
                noise=noise_of_day + quiet + rng.normal(0.0, 0.3),
                numbered=disc.name not in hidden,
            )
            met = [
                (mark, k, shapes[k]) for k, mark in enumerate(marks)
                if _on(mark, disc, playing.player, playing.washed) and not missed[k, disc.name]
            ]  # fmt: skip
            plays.append(_play(playing, met, own[disc.name], design, rng))
    return CopySet(
        design=design, length=length, plays=tuple(plays), marks=tuple(marks),
        closure={d.name: d.closure for d in discs},
        carries=tuple(frozenset(d.name for d in discs if _on(m, d, "bench1", False)) for m in marks),
        known={d.name: d.factors for d in discs},
    )  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Own:
    """Ticks of one copy's own; ``dirt`` marks those that lie in the groove and not in the disc."""

    time: type_f
    level: type_f
    shape: list[type_f]
    dirt: npt.NDArray[np.bool_]


def _own_ticks(design: Design, rng: np.random.Generator, length: float) -> _Own:
    count = int(rng.poisson(design.ticks_per_minute * length / 60.0))
    time = rng.uniform(0.0, length, count)
    if design.crackle and count:
        near = rng.uniform(0.0, length)
        time = np.concatenate([time, near + rng.normal(0.0, 4.0, count // 3)]).clip(0.0, length)
    level = -62.0 + 12.0 + rng.exponential(5.0, len(time))
    return _Own(time=time, level=level, shape=[_pulse(rng) for _ in time], dirt=rng.random(len(time)) < 0.35)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Playing:
    """One play about to be heard: the disc, what it is played on, how far, and the noise of it."""

    disc: _Disc
    player: str
    washed: bool
    order: int
    stop: float
    noise: type_f
    numbered: bool


def _play(
    playing: _Playing, met: list[tuple[MadeMark, int, type_f]], own: _Own, design: Design, rng: np.random.Generator
) -> MadePlay:
    """List what one play hears, in the order of time; ``met`` marks come with their number and shape."""
    disc, noise, washed = playing.disc, playing.noise, playing.washed
    rows: list[tuple[float, float, int, type_f]] = []

    def hear(time: float, level: float, mark: int, shape: type_f) -> None:
        over = level - noise[min(int(time), len(noise) - 1)] + rng.normal(0.0, 0.8)
        if time < playing.stop and over >= _LISTED_DB and over + rng.normal(0.0, 1.0) > _SURE_DB:
            rows.append((time + rng.normal(0.0, design.time_sd), over, mark, shape))

    for mark, number, shape in met:
        grown = mark.rise_db * max(0.0, disc.closure - mark.first) / design.closures
        hear(mark.programme_time, mark.level_db + grown + 1.2 * rng.standard_t(5), number, shape)
    stays = np.where(own.dirt, 0.05 if washed else 0.85, 1.0)
    kept = rng.random(len(own.time)) < stays
    for k in np.flatnonzero(kept).tolist():
        hear(float(own.time[k]), float(own.level[k]), _DIRT if own.dirt[k] else _OWN, own.shape[k])
    rows.sort(key=lambda row: row[0])
    over = np.array([row[1] for row in rows])
    waves = np.zeros((len(rows), 2, SAMPLES), dtype=np.float16)
    for k, row in enumerate(rows):
        spoiled = row[3] + rng.normal(0.0, 10.0 ** (-row[1] / 20.0), (2, SAMPLES))
        waves[k] = np.roll(spoiled, int(rng.integers(-1, 2)), axis=1) / np.abs(spoiled).max()
    return MadePlay(
        copy=disc.name, closure=disc.closure if playing.numbered else None,
        factors={**disc.factors, "player": playing.player}, order=playing.order, washed=washed,
        reach=(0.0, playing.stop), noise_db=noise, time=np.array([row[0] for row in rows]),
        u95=np.full(len(rows), 1.96 * design.time_sd), prominence_db=over,
        mark=np.array([row[2] for row in rows], dtype=np.intp), waveform=waves,
    )  # fmt: skip
