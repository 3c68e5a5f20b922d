"""Made logs and families, measured again: energy, dump, peaks, coverage; false alarms, shifts found and named."""

import numpy as np
import pytest

from runtrue.compound.family import check_family, curve_distances
from runtrue.compound.mixing import Mixer, MixerLog, measurements, mixed
from runtrue.errors import InputError
from runtrue.forward.weighing import MixerRun, family, mixer_log
from runtrue.types import Verdict

NAMES = tuple("abcdefgh")


def run(**changes):
    given = {
        "mass": 104.0, "capacity": 1030.0, "idle": 12e3, "plateau": 60e3, "humps": ((25, 8, 70e3), (90, 20, 45e3)),
        "lost": 0.45, "start": 297.0, "dump": 215.0, "power_noise": 800.0, "temperature_noise": 0.2,
    }  # fmt: skip
    return MixerRun(**{**given, **changes})


def measured(made, **changes):
    given = {"mass": 104.0, "idle": 12e3, "heat_capacity": 1030.0}
    log = MixerLog(time=made.time, power=made.power, temperature=made.temperature)
    return mixed(log, Mixer(**{**given, **changes}))


@pytest.mark.parametrize("step", [0.5, 1.0, 5.0])
def test_energy_temperature_dump_and_peaks_come_back(step):
    made = mixer_log(run(step=step, power_noise=0.0, temperature_noise=0.0), 1)
    found = measured(made)
    assert found.dump == pytest.approx(215.0, abs=step)
    assert found.dump_known == "the power falls to idle"
    assert found.energy == pytest.approx(made.energy, abs=found.energy_u95)
    assert found.end == pytest.approx(made.dump_temperature, abs=found.end_u95)
    told = {row.quantity: row for row in measurements(found)}
    assert told["mixing_loss"].value == pytest.approx(0.45, abs=told["mixing_loss"].u95)
    assert [peak.time for peak in found.peaks] == pytest.approx([25.0, 90.0], abs=max(4.0, 2.0 * step))


def test_u95_covers_what_gauges_and_scale_do():
    """Each gauge wrong by its own Gaussian error: the U95 covers the truth about 95 times in 100."""
    rng = np.random.default_rng(3)
    held = {"specific_energy": 0, "dump_temperature": 0, "mixing_loss": 0}
    made = mixer_log(run(power_noise=0.0, temperature_noise=0.0), 1)
    truth = {"specific_energy": made.energy / 104.0, "dump_temperature": made.dump_temperature, "mixing_loss": 0.45}
    count = 400
    for _ in range(count):
        gain, mass, capacity = 1.0 + np.array([0.02, 0.005, 0.10]) / 1.96 * rng.standard_normal(3)
        start, end = 2.0 / 1.96 * rng.standard_normal(2)
        drift = start + (end - start) * np.minimum(made.time / 215.0, 1.0)
        log = MixerLog(time=made.time, power=12e3 + gain * (made.power - 12e3), temperature=made.temperature + drift)
        mixer = Mixer(mass=104.0 * mass, idle=12e3, heat_capacity=1030.0 * capacity)
        for row in measurements(mixed(log, mixer)):
            if row.quantity in held:
                held[row.quantity] += abs(row.value - truth[row.quantity]) <= row.u95
    assert all(0.91 <= share / count <= 0.99 for share in held.values()), held


def test_no_peak_is_seen_where_the_material_shows_none():
    found = measured(mixer_log(run(humps=()), 2))
    assert len(found.peaks) == 0
    told = {row.quantity: row for row in measurements(found)}
    assert told["second_peak_energy"].value is None
    assert told["second_peak_energy"].reason == "the power shows no second peak"


def test_a_log_that_runs_backwards_and_a_dump_outside_it():
    time = np.array([0.0, 2.0, 1.0])
    with pytest.raises(InputError, match="reading 3: time 1 s does not come after 2 s"):
        MixerLog(time=time, power=time, temperature=time)
    made = mixer_log(run(), 1)
    with pytest.raises(InputError, match="dump at 999 s lies outside the log"):
        measured(made, dump=999.0)


@pytest.mark.slow
def test_few_false_alarms_and_a_shift_is_found_and_named():
    """A small, seeded form of the bench's 10,000 families: 30 batches, 8 numbers, 6 batches after."""
    alarms = found = named = 0
    count = 150
    for seed in range(count):
        still = check_family(family([10.0] * 8, [2.0] * 8, 36, seed=seed), NAMES, 30, since=False)
        alarms += len({one.place for one in still.out})
        moved = family([10.0] * 8, [2.0] * 8, 36, seed=seed, shift={5: 3.0}, shift_from=30)
        shifted = check_family(moved, NAMES, 30, since=False)
        found += bool(shifted.out)
        named += bool(shifted.out) and shifted.out[0].number == "f"
    assert alarms / (6 * count) < 0.02
    assert found >= 0.93 * count
    assert named >= 0.90 * count


def test_since_when_is_told():
    moved = family([5.0, 7.0], [1.0, 0.1], 40, seed=2, shift={1: 3.0}, shift_from=33)
    found = check_family(moved, ("a", "b"), 30)
    last = next(one for one in found.out if one.place == 9)
    assert last.number == "b"
    assert last.since[0] <= 33 <= last.since[1]
    assert last.since[1] - last.since[0] <= 3


def test_fewer_than_15_batches_cannot_judge_and_wild_ones_are_left_out():
    few = check_family(family([5.0], [1.0], 15, seed=2), ("a",), 14)
    assert few.verdict is Verdict.CANNOT_JUDGE
    assert "14 batches" in few.reason
    wild = family([5.0], [1.0], 31, seed=2)
    wild[7] = 40.0
    found = check_family(wild, ("a",), 30)
    assert found.numbers[0].left_out == (7,)
    assert found.verdict is Verdict.PASS
    same = check_family(np.full((20, 1), 3.0), ("a",), 19)
    assert same.verdict is Verdict.CANNOT_JUDGE


def test_a_pair_that_does_not_go_together_is_found_where_each_alone_looks_well():
    made = family([0.0, 0.0], [1.0, 1.0], 61, common=0.98, seed=4)
    made[60] = [1.9, -1.9]
    found = check_family(made, ("a", "b"), 60)
    assert [(one.number, one.chart) for one in found.out] == [(None, "T2")]


def test_missing_numbers_are_waited_for():
    made = family([5.0, 5.0], [1.0, 1.0], 34, seed=8)
    made[31, 0] = np.nan
    made[3, 1] = np.nan
    found = check_family(made, ("a", "b"), 30)
    assert found.numbers[1].baseline == 30
    assert not np.isnan(found.numbers[0].ewma).any()
    assert found.t2 is None


def test_a_strange_curve_stands_out_where_it_is_strange():
    rng = np.random.default_rng(5)

    def logged(seed, at=90):
        humps = ((25 + rng.standard_normal(), 8, 70e3), (at + 2 * rng.standard_normal(), 20, 45e3))
        return measured(mixer_log(run(humps=humps), seed)).curve

    curves = np.array([*(logged(seed) for seed in range(20)), logged(50), logged(51, at=150)])
    distances, z = curve_distances(curves, 20)
    assert distances[20] < 2.0
    assert distances[21] > 4.0
    assert 64 * 80 / 215 < np.argmax(np.abs(z[21])) < 64 * 180 / 215
