r"""Where a mark could have been made: the odds over origins, given which copies were played and how well they hear.

Each origin says which copies have the mark: all (cut), those of a father, mother, stamper, press, cavity, batch of
compound or pile, those of one stamper from closure k until m (event on the press), one copy, every copy on one player,
one copy until it is washed (dirt). With N marks of that origin expected on a side, the odds of the origin against
chance, that is against unrelated events which happen to meet, are

.. math:: \frac{N}{T} \int dt\, dS\, p(S) \prod_i
          \frac{p(\text{heard}_i \mid \text{mark of strength } S \text{ at } t)}{p(\text{heard}_i \mid \text{none})}

over the copies i that the origin names. A copy that lists the mark brings the density of its time about t, of its level
about S and its chance of being heard, over its rate of events and their levels; a copy that lists none brings the
chance of missing it. So a copy that was not played there, or is too noisy, says nothing, and dense ticks weigh less.
A mark stands higher and lower on its copies, with heavy tails, and fails to come out at all on 1 copy in 1,000.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from runtrue.listen.copies.matching import centre_of
from runtrue.listen.copies.onset import Onset, onset
from runtrue.listen.copies.sample import METAL, PLANT, RIG, Events, Float64, Int, Sample

HALF_HEARD = 14.0
"""Prominence at which a mark is listed on every second copy [dB]."""
_HEARD_SCALE = 1.8
"""Scale of the Student distribution of 4 degrees by which a mark stands higher or lower on a copy, noise included [dB]:
a mark far above the threshold fails to be listed once in thousands of copies."""
_MISSING = 0.001
_LEVEL_SCALE = 1.5
"""One mark stands equally high on its copies but for this [dB]: scale of a Student distribution of 4 degrees."""
_LEVEL_STEP = 2.0
_LEVEL_SPAN = 40.0
_WASHED = 0.1
"""Odds that dirt stays in the groove through a wash; and through a replay without one. Our choice."""
_STAYS = 0.8
_UNKNOWN = 0.5


class Origin(StrEnum):
    """Who could have made a mark."""

    CUT = "cut"
    FATHER = "father"
    MOTHER = "mother"
    STAMPER = "stamper"
    PRESS_EVENT = "press_event"
    PRESS = "press"
    CAVITY = "cavity"
    COMPOUND = "compound"
    PILE = "pile"
    COPY = "copy"
    PLAYER = "player"
    DIRT = "dirt"


EXPECTED: dict[Origin, float] = {
    Origin.CUT: 0.15, Origin.FATHER: 0.15, Origin.MOTHER: 0.3, Origin.STAMPER: 0.4, Origin.PRESS_EVENT: 0.5,
    Origin.PRESS: 0.02, Origin.CAVITY: 0.03, Origin.COMPOUND: 0.01, Origin.PILE: 0.01, Origin.PLAYER: 0.15,
}  # fmt: skip
"""Marks that are expected on a side from each cut, father, mother ... : common practice has no figures; our choice.
A pile and a batch hold a mark in common only when something lay on the stack or in the mould."""
_DIRT_SHARE = 0.4
"""Of a copy's own events those that a wash takes away. Our choice."""
_OTHER = 0.002
"""Marks on any set of copies whatever: what none of the origins explains."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Suspect:
    """An origin with the one of its kind ("A-M1", None where the sample does not name it) and its probability."""

    origin: Origin
    which: str | None
    probability: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Odds:
    """All suspects, likeliest first; what remains is chance, or none of them.

    ``members`` (suspects, copies): probability that the suspect puts the mark on the copy; ``heard`` (copies,): that
    the copy would list it if it has it; ``has`` the copies that list it. ``onsets``: for each stamper whose copies were
    counted its beginning and end and the copies in the order of closures. ``level``: strength of the mark [dB].
    ``gain`` (copies,): log of the likelihood of each copy with the mark over that without.
    """

    suspects: tuple[Suspect, ...]
    chance: float
    other: float
    members: Float64
    heard: Float64
    has: NDArray[np.bool_]
    onsets: dict[str, tuple[Onset, Int]]
    level: float
    gain: Float64


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Evidence:
    """Of one group of events. ``gain`` (copies, s): log of the likelihood with the mark over that of chance events for
    strengths ``level`` (s,), whose log prior weights are ``weight``; ``alone`` (copies,) the same for a mark of the
    copy's own; ``by_play`` (plays, s) before it is joined by copy; ``scale``: log of the time integral over the side.
    """

    gain: Float64
    alone: Float64
    by_play: Float64
    level: Float64
    weight: Float64
    scale: float
    hit: NDArray[np.bool_]
    rate: Float64
    noise: Float64


@dataclass(frozen=True, slots=True, kw_only=True)
class _Levels:
    """How high the sample's events stand: middle and spread [dB]."""

    middle: float
    spread: float


def levels_of(events: Events) -> _Levels:
    """Middle and spread of all levels, at least 6 dB wide."""
    if not len(events.level):
        return _Levels(middle=0.0, spread=10.0)
    return _Levels(middle=float(np.mean(events.level)), spread=max(6.0, float(np.std(events.level))))


def detection(level: Float64, noise: Float64) -> Float64:
    r"""Chance that a mark of this level is listed over this noise [dB, dB] -> [-]; NaN noise (not heard) gives 0.

    Student's distribution of 4 degrees, whose integral is closed:
    :math:`F(x) = \frac12 + \frac38 \frac{x}{\sqrt{u}} \left(1 - \frac{x^2}{12 u}\right)` with u = 1 + x^2 / 4.
    """
    x = (level - noise - HALF_HEARD) / _HEARD_SCALE
    u = 1.0 + 0.25 * x * x
    return np.nan_to_num(0.5 + 0.375 * x / np.sqrt(u) * (1.0 - x * x / (12.0 * u)), nan=0.0)


def evidence(group: Int, events: Events, sample: Sample, levels: _Levels, trend: Float64 | None = None) -> Evidence:
    """What each copy says about one group of events.

    ``trend`` (copies,): how much higher than on the others the mark stands on each copy [dB], for one that grows.
    """
    time, _ = centre_of(group, events)
    noise = sample.noise_at(time)
    rate = sample.rates_at(time)
    plays = events.of[group]
    high = trend[sample.copy_of] if trend is not None else np.zeros(len(sample.plays))
    seen = events.level[group] - high[plays]
    top = float(np.median(seen))
    level = np.arange(top - 10.0, top + 10.0 + _LEVEL_STEP, _LEVEL_STEP)
    weight = np.full(len(level), np.log(_LEVEL_STEP / _LEVEL_SPAN))
    heard = detection(level[None, :] + high[:, None], noise[:, None])
    by_play = np.log(1.0 - np.minimum(heard, 1.0 - 1e-9))
    hit = np.zeros(len(sample.plays), dtype=bool)
    hit[plays] = True
    away = (events.time[group] - time) / events.sigma[group]
    near = -0.5 * away**2 - np.log(np.sqrt(2.0 * np.pi) * events.sigma[group])
    from_mark = np.log(heard[plays] + 1e-12) + _student(seen[:, None] - level) + near[:, None]
    by_chance = np.log(rate[plays]) + _normal(events.level[group], levels)
    by_play[plays] = np.logaddexp(from_mark - by_chance[:, None], 0.0)
    joined = np.zeros((len(sample.copies), len(level)))
    np.add.at(joined, sample.copy_of, by_play)
    width = np.log(np.sqrt(2.0 * np.pi)) - 0.5 * np.log(np.square(1.0 / events.sigma[group]).sum())
    alone = _alone(joined, sample, rate, weight + width)
    gain = np.logaddexp(np.log(1.0 - _MISSING) + joined, np.log(_MISSING) + alone[:, None])
    return Evidence(
        gain=gain, alone=alone, by_play=by_play, level=level, weight=weight, scale=width - float(np.log(sample.length)),
        hit=hit, rate=rate, noise=noise,
    )  # fmt: skip


def _student(x: Float64) -> Float64:
    """Log density of a Student variable of 4 degrees and scale ``_LEVEL_SCALE``."""
    return np.asarray(np.log(0.375 / _LEVEL_SCALE) - 2.5 * np.log1p((x / _LEVEL_SCALE) ** 2 / 4.0))


def _normal(x: Float64, levels: _Levels) -> Float64:
    return np.asarray(-0.5 * ((x - levels.middle) / levels.spread) ** 2 - np.log(np.sqrt(2.0 * np.pi) * levels.spread))


def _alone(joined: Float64, sample: Sample, rate: Float64, weight: Float64) -> Float64:
    """A mark of the copy's own explains what several of its plays share; one play explains nothing by it."""
    alone = np.zeros(len(sample.copies))
    for i in np.flatnonzero(sample.counts > 1):
        own = np.log(rate[sample.copy_of == i].mean()) + np.logaddexp.reduce(joined[i] + weight)
        alone[i] = np.logaddexp(own, 0.0)
    return alone


def odds(found: Evidence, sample: Sample, likeness: float = 0.0) -> Odds:
    """Probabilities of all origins, of chance and of none of them; ``likeness`` is the log ratio that shapes add."""
    has = _hit_copies(found, sample)
    only = int(np.flatnonzero(has)[0]) if has.sum() == 1 else None
    alone = float(found.alone.sum()) - (0.0 if only is None else float(found.alone[only]))
    entries: list[tuple[Origin, str | None, float, Float64]] = []
    onsets: dict[str, tuple[Onset, Int]] = {}
    for origin, which, member in _groups(sample):
        value = np.log(EXPECTED[origin]) + _joint(found, member)
        entries.append((origin, which, value, member))
    for which, member in _players(sample):
        entries.append(
            (
                Origin.PLAYER,
                which,
                np.log(EXPECTED[Origin.PLAYER]) + _played(found, sample, member),
                member[sample.first],
            )
        )
    for name, member, order in _stampers(sample):
        value, one = _event(found, member, order, sample)
        onsets[name] = (one, order)
        entries.append(
            (
                Origin.PRESS_EVENT,
                name or None,
                np.log(EXPECTED[Origin.PRESS_EVENT]) + value,
                _during(one, order, len(sample.copies)),
            )
        )
    if only is not None:
        entries += _own(found, sample, only)
    other = np.log(_OTHER) + _joint(found, np.full(len(sample.copies), 0.5))
    values = np.array([value for _, _, value, _ in entries] + [other]) + found.scale + likeness
    values = np.append(values, alone)
    share = np.exp(values - np.logaddexp.reduce(values))
    best = np.argsort(-share[:-2], kind="stable")
    strength = found.weight + found.gain[has].sum(axis=0)
    top = found.level[int(strength.argmax())]
    heard = np.zeros(len(sample.copies))
    np.maximum.at(heard, sample.copy_of, detection(np.full(len(sample.plays), top), found.noise))
    return Odds(
        suspects=tuple(
            Suspect(origin=entries[k][0], which=entries[k][1], probability=float(share[k])) for k in best
        ),
        chance=float(share[-1]),
        other=float(share[-2]),
        members=np.stack([entries[k][3] for k in best]),
        heard=heard,
        has=has,
        onsets=onsets,
        level=float(top),
        gain=np.logaddexp.reduce(found.gain + strength - np.logaddexp.reduce(strength), axis=1) - found.alone,
    )  # fmt: skip


def _hit_copies(found: Evidence, sample: Sample) -> NDArray[np.bool_]:
    has = np.zeros(len(sample.copies), dtype=bool)
    has[sample.copy_of[found.hit]] = True
    return has


def _joint(found: Evidence, member: Float64) -> float:
    """Log likelihood of an origin that puts the mark on each copy with probability ``member`` (copies,)."""
    sure, never = member >= 1.0, member <= 0.0
    total = found.gain[sure].sum(axis=0) + float(found.alone[never].sum())
    maybe = ~sure & ~never
    if maybe.any():
        m = member[maybe, None]
        total = total + np.logaddexp(np.log(m) + found.gain[maybe], np.log1p(-m) + found.alone[maybe, None]).sum(axis=0)
    return float(np.logaddexp.reduce(total + found.weight))


def _groups(sample: Sample) -> Iterator[tuple[Origin, str | None, Float64]]:
    """Each cut, father, mother, stamper, press, cavity, batch and pile with the copies it made."""
    yield Origin.CUT, None, np.ones(len(sample.copies))
    for name in (*METAL, *PLANT):
        names, code = sample.values[name]
        origin = Origin(name)
        if not names:
            if name not in ("cavity", "pile"):
                yield origin, None, np.ones(len(sample.copies))
            continue
        unknown = np.where(code < 0, _UNKNOWN / len(names), 0.0)
        for k, which in enumerate(names):
            yield origin, which, np.where(code == k, 1.0, unknown)


def _players(sample: Sample) -> Iterator[tuple[str | None, Float64]]:
    """Each player, stylus and rig that some plays were made on, (plays,); all of them where none is stated."""
    told: set[tuple[float, ...]] = set()
    for name in RIG:
        names, code = sample.values[name]
        for k, which in enumerate(names):
            member = np.where(code == k, 1.0, np.where(code < 0, _UNKNOWN / len(names), 0.0))
            pattern = tuple(member.tolist())
            if pattern not in told:
                told.add(pattern)
                yield which, member
    if not told:
        yield None, np.ones(len(sample.plays))


def _played(found: Evidence, sample: Sample, member: Float64) -> float:
    """A fault of the player: on what was played there, and not on other plays of the same copies."""
    m = member[:, None]
    m = m * (1.0 - _MISSING)
    with np.errstate(divide="ignore"):
        each = np.logaddexp(np.log(m) + found.by_play, np.log1p(-m))
    others = np.ones(len(sample.copies), dtype=bool)
    others[sample.copy_of[member > 0.0]] = False
    return float(np.logaddexp.reduce(each.sum(axis=0) + float(found.alone[others].sum()) + found.weight))


def _stampers(sample: Sample) -> Iterator[tuple[str, Float64, Int]]:
    """Each stamper with two counted copies or more: its name, membership (copies,), its copies in closure order."""
    names, code = sample.values["stamper"]
    counted = np.isfinite(sample.closure)
    for k, name in enumerate(names or ("",)):
        mine = np.flatnonzero(counted & (code == k if names else True))
        if len(mine) < 2:
            continue
        unknown = _UNKNOWN * (1.0 if not names else np.where(code == k, 1.0, np.where(code < 0, 1.0 / len(names), 0.0)))
        member = np.where(counted & (code >= 0 if names else True), 0.0, unknown)
        yield name, member, mine[np.argsort(sample.closure[mine], kind="stable")]


def _event(found: Evidence, member: Float64, order: Int, sample: Sample) -> tuple[float, Onset]:
    """An event on the press: on one stamper's copies from a closure on, perhaps until another."""
    gain = found.gain[order] - found.alone[order, None]
    m = np.where(np.isin(np.arange(len(member)), order), 0.0, member)
    maybe = m > 0.0
    outside = np.logaddexp(
        np.log(m[maybe, None]) + found.gain[maybe], np.log1p(-m[maybe, None]) + found.alone[maybe, None]
    ).sum(axis=0)
    rest = float(found.alone[~maybe].sum())
    one = onset(gain, sample.closure[order], found.weight + outside)
    return one.evidence + rest, one


def _during(one: Onset, order: Int, copies: int) -> Float64:
    """Probability that each copy has the mark, were it an event on the press."""
    member = np.zeros(copies)
    member[order] = np.cumsum(one.begins) - np.cumsum(one.ends[:-1])
    return np.clip(member, 0.0, 1.0)


def _own(found: Evidence, sample: Sample, i: int) -> list[tuple[Origin, str | None, float, Float64]]:
    """A mark of copy ``i`` alone, and dirt in it: told apart by plays before and after a wash."""
    mine = np.flatnonzero(sample.copy_of == i)
    rest = float(np.delete(found.alone, i).sum())
    rate = float(np.log(found.rate[mine].mean() * sample.length))
    member = (np.arange(len(sample.copies)) == i).astype(np.float64)
    copy = float(np.logaddexp.reduce(found.by_play[mine].sum(axis=0) + found.weight)) + rest
    stays = np.array([_WASHED if sample.plays[int(j)].washed else 1.0 for j in mine])
    stays = np.where(np.arange(len(mine)) == int(np.argmax(stays)), stays, stays * _STAYS)
    with np.errstate(divide="ignore"):
        each = np.logaddexp(np.log(stays)[:, None] + found.by_play[mine], np.log1p(-stays)[:, None])
    dirt = float(np.logaddexp.reduce(each.sum(axis=0) + found.weight)) + rest
    return [
        (Origin.COPY, sample.copies[i], rate + float(np.log(1.0 - _DIRT_SHARE)) + copy, member),
        (Origin.DIRT, sample.copies[i], rate + float(np.log(_DIRT_SHARE)) + dirt, member),
    ]
