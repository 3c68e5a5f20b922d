"""Ticks and bursts: from the faults on the disc to what happens at which capture time."""

from dataclasses import dataclass
from math import pi

import numpy as np

from runtrue.forward.faults import Axis, Disc, Play, Pulse
from runtrue.forward.geometry import type_f
from runtrue.forward.groove import type_s
from runtrue.forward.pulses import tick_span, tick_waveform
from runtrue.forward.surface import TICKS, on_axis
from runtrue.forward.timeline import TimeMap, generator

AXES: tuple[Axis, ...] = ("lateral", "vertical", "left", "right")


@dataclass(frozen=True, slots=True, kw_only=True)
class TickTruth:
    """A tick as it was heard: one entry per passing of the stylus. Times are those of its peak."""

    programme_time: float
    capture_time: float
    peak_db: float
    """Largest value in the channels it is on, re full scale, before the player's gain."""
    axis: Axis
    sign: int
    pulse: Pulse
    kind: str
    """tick, train, crackle, click (of a jump) or the word given with it."""
    train: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class TrainTruth:
    """A scratch: programme time of its first and last tick, ticks, programme seconds from tick to tick."""

    id: int
    start: float
    end: float
    count: int
    period: float


@dataclass(frozen=True, slots=True, kw_only=True)
class BurstTruth:
    """A stretch of noise on one turn, or a thump; ``zone``: number of the fault it belongs to."""

    start: float
    end: float
    from_angle: float
    to_angle: float
    axis: Axis
    kind: str
    level_db: float
    zone: int


@dataclass(frozen=True, slots=True)
class _Placed:
    """A tick on the disc, at a programme time."""

    time: float
    peak_db: float
    axis: Axis
    sign: int
    pulse: Pulse
    kind: str
    train: int | None = None


def _on_disc(disc: Disc, line: TimeMap, seed: int) -> list[_Placed]:
    placed = [_Placed(t.programme_time, t.peak_db, t.axis, t.sign, t.pulse, t.kind) for t in disc.ticks]
    turn = 1.0 / line.frequency
    for i, train in enumerate(disc.trains):
        rng = generator(seed, TICKS, i)
        step = turn * (1.0 + train.drift / (2.0 * pi))
        late = rng.standard_normal(train.count) * train.jitter
        louder = rng.standard_normal(train.count) * train.spread_db
        first = float(line.programme.groove(train.programme_time))
        times = line.programme.reference(first + np.arange(train.count) * step + late)
        placed += [
            _Placed(float(t), train.peak_db + float(d), train.axis, 1, train.pulse, "train", i)
            for t, d in zip(times, louder, strict=True)
        ]
    if disc.crackle is not None:
        c = disc.crackle
        rng = generator(seed, TICKS, 1_000_000)
        end = line.programme.duration if c.end is None else c.end
        count = int(rng.poisson(c.per_second * max(end - c.start, 0.0)))
        times = np.sort(rng.uniform(c.start, end, count))
        levels = c.peak_db + c.spread_db * rng.standard_normal(count)
        which, signs = rng.integers(0, 4, count), rng.choice((-1, 1), count)
        placed += [
            _Placed(float(t), float(d), AXES[int(w)], int(s), c.pulse, "crackle")
            for t, d, w, s in zip(times, levels, which, signs, strict=True)
        ]
    return placed


def ticks_heard(play: Play, line: TimeMap, seed: int) -> tuple[tuple[TickTruth, ...], tuple[TrainTruth, ...]]:
    """Every tick that passes the stylus, in the order of capture time, and the trains among them."""
    placed = _on_disc(play.disc, line, seed)
    heard = []
    if placed:
        times, which = line.captures(np.array([p.time for p in placed]))
        for tc, i in zip(times, which, strict=True):
            p = placed[int(i)]
            heard.append(
                TickTruth(
                    programme_time=p.time,
                    capture_time=float(tc),
                    peak_db=p.peak_db,
                    axis=p.axis,
                    sign=p.sign,
                    pulse=p.pulse,
                    kind=p.kind,
                    train=p.train,
                )
            )
    for jump, truth in zip(play.player.jumps, line.jumps, strict=False):
        if jump.click_db is not None:
            heard.append(
                TickTruth(
                    programme_time=truth.programme_time,
                    capture_time=truth.capture_time,
                    peak_db=jump.click_db,
                    axis="left" if jump.turns > 0 else "right",  # the wall the stylus climbs: inner goes forward
                    sign=1,
                    pulse=Pulse(width=40e-6, resonance=2500.0, decay=400e-6),
                    kind="click",
                    train=None,
                )
            )
    heard.sort(key=lambda tick: tick.capture_time)
    trains = []
    for i, train in enumerate(play.disc.trains):
        mine = sorted({t.programme_time for t in heard if t.train == i})
        if mine:
            period = (1.0 + train.drift / (2.0 * pi)) / line.frequency
            trains.append(TrainTruth(id=i, start=mine[0], end=mine[-1], count=len(mine), period=period))
    return tuple(heard), tuple(trains)


def ticks_block(ticks: tuple[TickTruth, ...], starts: type_f, tc: type_f, rate: float) -> type_s:
    """Sum of all ticks at evenly spaced capture times ``tc`` [s], (2, len(tc)); ``starts``: the ticks' times."""
    out = np.zeros((2, tc.size), dtype=np.float32)
    if not ticks or tc.size == 0:
        return out
    reach = max(max(tick_span(p)) for p in {t.pulse for t in ticks})
    first, last = np.searchsorted(starts, (tc[0] - reach, tc[-1] + reach))
    for tick in ticks[first:last]:
        before, after = tick_span(tick.pulse)
        a = max(int(np.ceil((tick.capture_time - before - tc[0]) * rate)), 0)
        b = min(int(np.floor((tick.capture_time + after - tc[0]) * rate)) + 1, tc.size)
        if b <= a:
            continue
        wave = tick_waveform(tick.pulse, tc[a:b] - tick.capture_time) * (tick.sign * 10.0 ** (tick.peak_db / 20.0))
        out[:, a:b] += on_axis(tick.axis)[:, None] * wave.astype(np.float32)
    return out


def tick_alone(tick: TickTruth, rate: int, count: int | None = None) -> tuple[int, type_s]:
    """One tick's own waveform in capture samples: index of its first sample in the capture and (2, n) samples."""
    before, after = tick_span(tick.pulse)
    first = int(np.ceil((tick.capture_time - before) * rate))
    n = int(np.floor((tick.capture_time + after) * rate)) - first + 1 if count is None else count
    tc = (first + np.arange(n)) / rate
    wave = tick_waveform(tick.pulse, tc - tick.capture_time) * (tick.sign * 10.0 ** (tick.peak_db / 20.0))
    return first, np.asarray(on_axis(tick.axis)[:, None] * wave, dtype=np.float32)


def bursts_on_disc(disc: Disc, line: TimeMap) -> tuple[BurstTruth, ...]:
    """Every zone turn by turn, every stretch of tearing and every thump, by programme time."""
    f = line.frequency
    found = []
    for i, z in enumerate(disc.zones):
        whole = abs(z.to_angle - z.from_angle) >= 2.0 * pi - 1e-9
        width = 2.0 * pi if whole else (z.to_angle - z.from_angle) % (2.0 * pi)
        start, end = (float(line.programme.groove(t)) for t in (z.start, z.end))
        for n in range(int(np.floor(start * f)) - 1, int(np.ceil(end * f)) + 1):
            a = max(start, (n + (z.from_angle % (2.0 * pi)) / (2.0 * pi)) / f)
            b = min(end, (n + (z.from_angle % (2.0 * pi) + width) / (2.0 * pi)) / f)
            if b > a:
                found.append(_burst(line, (a, b), axis=z.axis, kind=z.kind, level=z.level_db, zone=i))
    for i, tear in enumerate(disc.tearing):
        ends = (float(line.programme.groove(tear.start)), float(line.programme.groove(tear.end)))
        found.append(_burst(line, ends, axis=tear.axis, kind="tearing_like", level=tear.relative_db, zone=i))
    for i, thump in enumerate(disc.thumps):
        u, w = float(line.programme.groove(thump.programme_time)), thump.width
        found.append(_burst(line, (u - w, u + w), axis=thump.axis, kind="thump", level=thump.peak_db, zone=i))
    return tuple(sorted(found, key=lambda burst: burst.start))


def _burst(line: TimeMap, groove: tuple[float, float], *, axis: Axis, kind: str, level: float, zone: int) -> BurstTruth:
    """Burst between two groove times."""
    a, b = (float(np.mod(2.0 * pi * line.frequency * u, 2.0 * pi)) for u in groove)
    start, end = (float(t) for t in line.programme.reference(np.array(groove)))
    return BurstTruth(start=start, end=end, from_angle=a, to_angle=b, axis=axis, kind=kind, level_db=level, zone=zone)
