"""The difference heard against the maker's truth: ``python -m bench.heard [--count N] [--seed S] [--write]``.

One line per quantity of the table in docs/accuracy-heard.md; every render is drawn from its seed.
"""

import argparse
import json
import sys
from dataclasses import asdict, dataclass, field
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np

from bench.heard_scenes import KINDS, RATE, Made, Trial, characters, make
from bench.pool import Pool
from bench.prominence import prominence_db
from runtrue.capture import sound_from_array
from runtrue.forward import TrainTruth
from runtrue.forward.truth import Truth
from runtrue.listen import hear
from runtrue.listen.heard import BurstKind, Heard, HeardBurst
from runtrue.signal.weighting import QuasiPeak, a_weighting, bs468_weighting, rumble_since_1987, weigh
from runtrue.types import Channel, silent

FOUND_S = 2e-4
AXES = {"left": Channel.LEFT, "right": Channel.RIGHT, "lateral": Channel.LATERAL, "vertical": Channel.VERTICAL}
TREBLE_HZ = (5000.0, 10_000.0, 15_000.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Result:
    """One trial's numbers against its truth."""

    trial: Trial
    said: str = ""
    minutes: float = 0.0
    raised: float | None = None
    ticks: list[tuple[float, bool]] = field(default_factory=list)
    """Prominence by the exact noise, and whether it was found."""
    false: list[str] = field(default_factory=list)
    trains: list[str] = field(default_factory=list)
    """Empty string: found whole with its period; else what went wrong."""
    false_trains: int = 0
    zones: list[str] = field(default_factory=list)
    thumps: list[str] = field(default_factory=list)
    false_bursts: list[str] = field(default_factory=list)
    levels: dict[str, float] = field(default_factory=dict)
    """Found less true [dB]."""
    nulls: list[str] = field(default_factory=list)


def run(trial: Trial) -> Result:
    """Render, judge, compare; what fails by an exception of ours is a result that says so."""
    try:
        made = make(trial)
        heard = judge(made)
    except Exception as error:
        return Result(trial=trial, said=f"{type(error).__name__}: {error}")
    if heard.ticks is None:
        return Result(trial=trial, said=heard.programme.reason or "not judged")
    found, false = _ticks(made, heard)
    zones, thumps, other = _bursts(made, heard)
    levels, nulls = _levels(made, heard) if trial.kind == "levels" else ({}, [])
    trains = [_train(t, heard) for t in made.rendered.truth.trains]
    return Result(
        trial=trial, minutes=trial.seconds / 60.0, raised=heard.threshold_raised, ticks=found, false=false,
        trains=trains, false_trains=max(0, len(heard.trains or ()) - len(trains)), zones=zones, thumps=thumps,
        false_bursts=other, levels=levels, nulls=nulls,
    )  # fmt: skip


def judge(made: Made) -> Heard:
    """Judge a render."""
    with TemporaryDirectory() as folder:
        return hear(
            sound_from_array(made.rendered.capture, RATE), sound_from_array(made.reference, RATE), made.setting,
            workspace=Path(folder), progress=silent,
        )  # fmt: skip


def _ticks(made: Made, heard: Heard) -> tuple[list[tuple[float, bool]], list[str]]:
    times = np.array([t.programme_time for t in heard.ticks or ()] or [-1e9])
    noise = made.rendered.noise
    found = [
        (prominence_db(noise, RATE, t), bool(np.abs(times - t.programme_time).min() < FOUND_S))
        for t in made.rendered.truth.ticks
    ]
    true = np.array([t.programme_time for t in made.rendered.truth.ticks] or [-1e9])
    inside = [(b.start, b.end) for b in made.rendered.truth.bursts]
    false = [
        f"{t.channel} {t.programme_time:.3f} s {t.prominence:.1f} dB"
        for t in heard.ticks or ()
        if np.abs(true - t.programme_time).min() > 3e-3
        and not any(a - 0.02 < t.programme_time < b + 0.02 for a, b in inside)
    ]
    return found, false


def _train(true: TrainTruth, heard: Heard) -> str:
    mine = [
        t for t in heard.trains or ()
        if true.start - 0.01 < (heard.ticks or ())[t.members[0]].programme_time < true.end + 0.01
    ]  # fmt: skip
    if len(mine) != 1:
        return f"{len(mine)} trains of {true.count}"
    if abs(mine[0].period - true.period) > 1e-3:
        return f"period {1e3 * (mine[0].period - true.period):.2f} ms off"
    return "" if len(mine[0].members) >= 0.8 * true.count else f"{len(mine[0].members)} of {true.count} ticks"


def _bursts(made: Made, heard: Heard) -> tuple[list[str], list[str], list[str]]:
    truth, left = made.rendered.truth, list(heard.bursts or ())
    zones = [_zone(truth, i, left) for i in range(len(truth.play.disc.zones))]
    thumps = []
    if truth.play.disc.thumps:
        first, last = truth.play.disc.thumps[0].programme_time, truth.play.disc.thumps[-1].programme_time
        near = [b for b in left if b.kind is BurstKind.THUMP and first - 0.05 < b.end and b.start < last + 0.05]
        ok = len(near) == 1 and abs(near[0].start - first) < 0.05 and abs(near[0].end - last) < 0.05
        thumps.append("" if ok else f"{len(near)} entries of {len(truth.play.disc.thumps)} thumps")
        for b in near:
            left.remove(b)
    return zones, thumps, [f"{b.kind} {b.start:.2f}-{b.end:.2f} s {b.channel} {b.prominence:.1f} dB" for b in left]


def _zone(truth: Truth, number: int, left: list[HeardBurst]) -> str:
    """Empty where the zone was found with edges within 10 deg and a turn and on its channel."""
    zone = truth.play.disc.zones[number]
    mine = [b for b in truth.bursts if b.zone == number and b.kind == zone.kind]
    turn, start, end = truth.turn_period, mine[0].start, mine[-1].end
    near = [b for b in left if b.kind is not BurstKind.THUMP and b.start < end and b.end > start]
    for b in near:
        left.remove(b)
    if len(near) != 1:
        return f"{len(near)} entries" + "".join(f" [{b.start:.2f}-{b.end:.2f} {b.kind}]" for b in near)
    (b,) = near
    angles = [np.degrees(a) for a in (zone.from_angle, zone.to_angle)]
    off = [(f - a + 180.0) % 360.0 - 180.0 for f, a in zip((b.from_angle, b.to_angle), angles, strict=True)]
    if max(abs(o) for o in off) > 10.0:
        return f"edges {off[0]:.0f}, {off[1]:.0f} deg off"
    if abs(b.start - start) > 1.05 * turn or abs(b.end - end) > 1.05 * turn:
        return f"{(b.start - start) / turn:.1f}, {(b.end - end) / turn:.1f} turns off"
    return "" if b.channel is AXES[zone.axis] else f"channel {b.channel} not {zone.axis}"


def _levels(made: Made, heard: Heard) -> tuple[dict[str, float], list[str]]:
    rendered, truth = made.rendered, made.rendered.truth
    found = {m.quantity: m.value for m in heard.scalars}
    assert rendered.programme is not None
    assert rendered.background is not None
    begin = round((truth.start or 0.0) * RATE)
    inside = slice(begin, begin + len(made.reference) - RATE // 2)
    zero = float(np.mean(rendered.programme[inside].astype(np.float64) ** 2))
    noise = rendered.background[inside]
    disc, player = truth.play.disc, truth.play.player
    assert disc.surface is not None
    assert player.hum is not None
    assert disc.treble_loss is not None

    def db(power: float) -> float:
        return 10.0 * float(np.log10(power / zero))

    meter = QuasiPeak(2)
    meter.push(weigh(noise, bs468_weighting, rate=RATE))
    true = {
        "surface": db(float(np.mean(weigh(noise, a_weighting, rate=RATE) ** 2))),
        "surface_quasi_peak": db(float((np.median(meter.finish()[150:], axis=0) ** 2).mean())),
        "swish": disc.surface.swish_db,
        "rumble": db(float(np.mean(weigh(noise, rumble_since_1987, rate=RATE) ** 2))),
        "hum": player.hum.level_db - 10.0 * float(np.log10(zero)),
    }
    off = {k: float(found[k] - v) for k, v in true.items() if isinstance(found.get(k), float)}  # type: ignore[operator]
    nulls = [k for k in true if not isinstance(found.get(k), float)]
    off |= {"balance": float(found["balance"] or 0.0)}  # type: ignore[arg-type]
    if player.crosstalk is not None and isinstance(found["crosstalk_left_into_right"], float):
        hz = np.geomspace(250.0, 4000.0, 200)
        db_at = player.crosstalk.left_into_right_db + player.crosstalk.slope_db * np.log2(hz / 1000.0)
        off["crosstalk"] = found["crosstalk_left_into_right"] - 10.0 * float(
            np.log10(np.trapezoid(10.0 ** (db_at / 10.0), hz) / np.ptp(hz))
        )
    treble, missing = _treble(made, heard)
    return off | treble, nulls + missing


def _treble(made: Made, heard: Heard) -> tuple[dict[str, float], list[str]]:
    """Response at three frequencies and radii against the law of the lost waves."""
    disc = made.rendered.truth.play.disc
    assert disc.treble_loss is not None
    assert heard.response is not None
    assert disc.end_radius is not None
    out, nulls = {}, []
    hz = np.log([t.frequency for t in heard.response.thirds])
    for place, name in enumerate(("outer", "middle", "inner")):
        shares = np.linspace(place / 3.0, (place + 1) / 3.0, 50)
        speed = 2.0 * np.pi * disc.turn_frequency * (disc.start_radius + (disc.end_radius - disc.start_radius) * shares)
        curve = np.array([np.nan if t.values[place] is None else t.values[place] for t in heard.response.thirds])
        for f in TREBLE_HZ:
            value = float(np.interp(np.log(f), hz, curve))
            key = f"treble {name} {f / 1000:.0f} kHz"
            loss = [np.mean(2.0 ** (-((disc.treble_loss.wavelength * x / speed) ** 2))) for x in (f, 1000.0)]
            if np.isnan(value):
                nulls.append(key)
            else:
                out[key] = value - 10.0 * float(np.log10(loss[0] / loss[1]))
    return out, nulls


def trials(count: int, seed: int) -> list[Trial]:
    """``count`` of each kind over all music."""
    music = characters()
    return [
        Trial(kind=kind, character=music[i % len(music)], seed=seed + 1000 * k + i, seconds=60.0 if k else 45.0)
        for k, kind in enumerate(KINDS)
        for i in range(count)
    ]


def summary(results: list[Result]) -> str:
    """The numbers in words."""
    out = [f"{len(results)} renders; failed: {[r.said + ' ' + r.trial.label() for r in results if r.said]}"]
    ticks = [t for r in results for t in r.ticks]
    for low, high in ((12, 15), (15, 18), (18, 24), (24, 99)):
        mine = [f for p, f in ticks if low <= p < high]
        out.append(f"ticks {low} to {high} dB: {sum(mine)} of {len(mine)}")
    minutes = sum(r.minutes for r in results)
    false = [f"{r.trial.label()}: {f}" for r in results for f in r.false]
    out.append(f"false ticks {len(false)} in {minutes:.1f} min")
    by: dict[str, list[float]] = {}
    for r in results:
        by.setdefault(r.trial.character, []).append(r.raised or 0.0)
    out.append("raised % " + ", ".join(f"{k} {100 * max(v):.0f}" for k, v in by.items()))
    for name in ("trains", "zones", "thumps"):
        told = [(said, r.trial.label()) for r in results for said in getattr(r, name)]
        out.append(f"{name}: {sum(not said for said, _ in told)} of {len(told)}")
        out += [f"    {label}: {said}" for said, label in told if said]
    out.append(f"false trains {sum(r.false_trains for r in results)}")
    wrong = [f"{r.trial.label()}: {b}" for r in results for b in r.false_bursts]
    out.append(f"false bursts {len(wrong)}")
    out += [f"    {w}" for w in wrong]
    keys = sorted({k for r in results for k in r.levels})
    for key in keys:
        v = np.array([r.levels[key] for r in results if key in r.levels])
        worst, most = float(v[np.abs(v).argmax()]), float(np.quantile(np.abs(v), 0.95))
        out.append(f"{key}: n {len(v)} mean {v.mean():.2f} worst {worst:.2f} p95 {most:.2f}")
    nulls = [n for r in results for n in r.nulls]
    out.append("nulls " + ", ".join(f"{k} {nulls.count(k)}" for k in sorted(set(nulls))))
    out += [f"    false tick {f}" for f in false[:60]]
    return "\n".join(out)


def main() -> int:
    """Run it."""
    parser = argparse.ArgumentParser(prog="python -m bench.heard", description=__doc__)
    parser.add_argument("--count", type=int, default=18)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--kind", choices=KINDS, default=None)
    parser.add_argument("--json", type=Path, default=None)
    wanted = parser.parse_args()
    jobs = [t for t in trials(wanted.count, wanted.seed) if wanted.kind in (None, t.kind)]
    with Pool() as pool:
        results = pool.run("renders", run, jobs)
    if wanted.json:
        wanted.json.write_text(json.dumps([asdict(r) for r in results], indent=1), encoding="utf-8")
    print(summary(results))
    return 0


if __name__ == "__main__":
    sys.exit(main())
