"""The difference heard against the maker's truth: ``python -m bench.heard [--count N] [--seed S] [--write]``.

Every render is drawn from its seed; ``--json`` keeps each result as it is made, and what it holds is not made again, so
a long run may be stopped and taken up. The table is docs/accuracy-heard.md.
"""

import argparse
import json
import sys
import time
from dataclasses import asdict
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np

from bench import heard_rows
from bench.heard_rows import Result
from bench.heard_scenes import KINDS, RATE, Made, Trial, characters, make
from bench.prominence import prominence_db
from runtrue.capture import sound_from_array
from runtrue.forward import TrainTruth
from runtrue.forward.truth import Truth
from runtrue.listen import hear
from runtrue.listen.heard import BurstKind, Heard, HeardBurst
from runtrue.signal.weighting import QuasiPeak, a_weighting, bs468_weighting, rumble_since_1987, weigh
from runtrue.types import Channel, silent

PAGE = Path(__file__).parents[1] / "docs" / "accuracy-heard.md"
FOUND_S = 2e-4
AXES = {"left": Channel.LEFT, "right": Channel.RIGHT, "lateral": Channel.LATERAL, "vertical": Channel.VERTICAL}
TREBLE_HZ = (5000.0, 10_000.0, 15_000.0)


def run(trial: Trial) -> Result:
    """Render, judge, compare; what fails by an exception of ours is a result that says so."""
    try:
        made = make(trial)
        heard = judge(made)
    except Exception as error:
        return Result(trial=trial, said=f"{type(error).__name__}: {error}")
    if heard.ticks is None:
        return Result(trial=trial, said=heard.programme.reason or "not judged")
    found, false, in_zones = _ticks(made, heard)
    zones, thumps, other = _bursts(made, heard)
    levels, nulls = _levels(made, heard) if trial.kind == "levels" else ({}, [])
    trains = [_train(t, heard) for t in made.rendered.truth.trains]
    return Result(
        trial=trial, minutes=trial.seconds / 60.0, raised=heard.threshold_raised, ticks=found, false=false,
        in_zones=in_zones, trains=trains, false_trains=max(0, len(heard.trains or ()) - len(trains)), zones=zones,
        thumps=thumps, false_bursts=other, levels=levels, nulls=nulls,
    )  # fmt: skip


def judge(made: Made) -> Heard:
    """Judge a render."""
    with TemporaryDirectory() as folder:
        return hear(
            sound_from_array(made.rendered.capture, RATE), sound_from_array(made.reference, RATE), made.setting,
            workspace=Path(folder), progress=silent,
        )  # fmt: skip


def _ticks(made: Made, heard: Heard) -> tuple[list[tuple[float, bool]], list[str], int]:
    times = np.array([t.programme_time for t in heard.ticks or ()] or [-1e9])
    noise = made.rendered.noise
    found = [
        (prominence_db(noise, RATE, t), bool(np.abs(times - t.programme_time).min() < FOUND_S))
        for t in made.rendered.truth.ticks
    ]
    true = np.array([t.programme_time for t in made.rendered.truth.ticks] or [-1e9])
    inside = [(b.start, b.end) for b in made.rendered.truth.bursts]
    strange = [t for t in heard.ticks or () if np.abs(true - t.programme_time).min() > 3e-3]
    false = [t for t in strange if not any(a - 0.02 < t.programme_time < b + 0.02 for a, b in inside)]
    words = [f"{t.channel} {t.programme_time:.3f} s {t.prominence:.1f} dB" for t in false]
    return found, words, len(strange) - len(false)


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
    within = (1.0 + 10.0 / 360.0) * turn
    if abs(b.start - start) > within or abs(b.end - end) > within:
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
    """``count`` of each kind over all music, the kinds by turns."""
    music = characters()
    return [
        Trial(kind=kind, character=music[i % len(music)], seed=seed + 1000 * k + i, seconds=60.0 if k else 45.0)
        for i in range(count)
        for k, kind in enumerate(KINDS)
    ]


def kept(path: Path | None) -> list[Result]:
    """Results of an earlier run."""
    if path is None or not path.exists():
        return []
    rows = [json.loads(line) for line in path.read_text(encoding="utf-8").splitlines()]
    return [Result(**{**row, "trial": Trial(**row["trial"])}) for row in rows]


def measured(jobs: list[Trial], path: Path | None, minutes: float) -> list[Result]:
    """Results of the jobs, as many as ``minutes`` allow."""
    results = kept(path)
    done = {r.trial for r in results}
    begin = time.monotonic()
    for number, trial in enumerate(jobs, 1):
        if trial in done:
            continue
        if time.monotonic() - begin > 60.0 * minutes:
            break
        results.append(run(trial))
        if path is not None:
            with path.open("a", encoding="utf-8") as file:
                file.write(json.dumps(asdict(results[-1])) + "\n")
        print(f"renders: {number} of {len(jobs)}, {time.monotonic() - begin:.0f} s", file=sys.stderr, flush=True)
    wanted = set(jobs)
    return [r for r in results if r.trial in wanted]


def main() -> int:
    """Run it; 0 if every goal is reached."""
    parser = argparse.ArgumentParser(prog="python -m bench.heard", description=__doc__)
    parser.add_argument("--count", type=int, default=100, help="renders of each of the three kinds")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--kind", choices=KINDS, default=None)
    parser.add_argument("--json", type=Path, default=None, help="keep each result here, one a line")
    parser.add_argument("--minutes", type=float, default=1e9, help="stop starting renders after so long")
    parser.add_argument("--write", action="store_true", help=f"write {PAGE.name}")
    wanted = parser.parse_args()
    jobs = [t for t in trials(wanted.count, wanted.seed) if wanted.kind in (None, t.kind)]
    results = measured(jobs, wanted.json, wanted.minutes)
    table = heard_rows.rows_of(results)
    text = heard_rows.page(results, table, seed=wanted.seed)
    print(text)
    if wanted.write:
        PAGE.write_text(text, encoding="utf-8")
    return int(any(row.passed is False for row in table))


if __name__ == "__main__":
    sys.exit(main())
