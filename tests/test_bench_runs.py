"""Each benchmark runs once, in a tiny form, and the rules by which its table is judged mean what they say."""

import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import soundfile

from bench import compound, cost, heard_rows, practice, real
from bench.acceptance import at_least, between, each, line, rarer, ratio_below
from bench.heard_scenes import Trial
from bench.page import page
from bench.plan import FULL, QUICK, jobs_of, scaled, seeds
from bench.prominence import prominence_db
from bench.scenes import FAULTS, MUSIC
from runtrue.forward import Pulse, TickTruth

ROOT = Path(__file__).parents[1]


@pytest.mark.slow
@pytest.mark.sound
def test_the_command_prints_its_table_and_ends_by_its_verdict() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "bench", "--tiny", "--fresh", "1"], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert done.stdout.startswith("# Accuracy"), done.stderr
    assert "fresh seed 1" in done.stderr
    table = [text for text in done.stdout.split("## What is drawn")[0].splitlines() if text.startswith("| ")][1:]
    assert all(len(text.split(" | ")) == 5 for text in table)
    assert done.returncode == int(any("| **no** |" in text for text in table))


@pytest.mark.slow
@pytest.mark.sound
def test_cost_is_measured(tmp_path: Path) -> None:
    found = cost.measure(str(tmp_path), 0.2)
    assert soundfile.info(str(tmp_path / "capture.flac")).samplerate == 96_000
    assert found.seconds > found.read > 0.0
    assert 0 < found.before <= found.memory < cost.LIMIT_BYTES
    assert " F (R " in found.words()


@pytest.mark.practice
@pytest.mark.slow
@pytest.mark.sound
def test_practice_capture_is_judged() -> None:
    if not practice.present():
        pytest.skip("the practice captures are not here; they are kept beside the repository")
    result = practice.run("seven_inch")
    assert result.passed, result.found


@pytest.mark.slow
@pytest.mark.sound
def test_real_music_is_judged() -> None:
    if not real.pieces() or real.surface_file() is None:
        pytest.skip(f"Debian packages {real.MUSIC_PACKAGE} and {real.SURFACE_PACKAGE} are not installed")
    result = real.run(0)
    assert result.vector_error is not None
    assert result.vector_error < 5e-6
    assert not result.missed


def test_full_bench_is_as_large_as_its_goals_ask() -> None:
    kinds = [job.kind for job in jobs_of(FULL, 9)]
    assert all(kinds.count(kind) == 50 for kind in FAULTS if kind != "clean")
    assert kinds.count("clean") == 200
    assert kinds.count("measure") >= 100
    assert FULL.classes * FULL.tracks == 1000
    assert {job.character for job in jobs_of(QUICK, 9) if job.kind == "measure"} == set(MUSIC)
    assert scaled(FULL, 0.1).fault == 5


def test_a_share_of_the_seeds_is_fresh() -> None:
    old, new = set(seeds(50, 0, 3)), set(seeds(50, 0, 4))
    assert len(old & new) == 40
    assert len(set(seeds(50, 0, 3) + seeds(50, 1000, 3))) == 100


@pytest.mark.slow
def test_chance_neither_fails_nor_passes_a_row() -> None:
    rng = np.random.default_rng(1)
    good = rng.binomial(100, 0.95, 4000)
    assert np.mean([at_least(int(k), 100, 0.95)[0] for k in good]) > 0.985
    poor = rng.binomial(100, 0.80, 4000)
    assert np.mean([at_least(int(k), 100, 0.95)[0] for k in poor]) < 0.05
    assert between(950, 1000, 0.95) == (True, "931 to 967 of 1000")
    assert not between(1000, 1000, 0.95)[0]
    assert each(50, 50) == (True, "all 50; passes from 94.2 %")
    assert not each(49, 50)[0]
    assert each(0, 0) == (False, "no trial")
    assert not rarer(100, 100.0, "min")[0]
    assert rarer(80, 100.0, "min")[0]
    assert ratio_below(2.6, 2000, 2.6)[0]
    assert not ratio_below(2.8, 2000, 2.6)[0]


def test_page_marks_misses() -> None:
    table = [line("a", "b", "c", (False, "d")), line("e", "f", "g", (None, ""))]
    text = page(table, [], fresh=5, title="quick")
    assert "| a | b | c | **no** | d |" in text
    assert "| e | f | g | not run |  |" in text


@pytest.mark.parametrize("colour", [0.0, -1.0])
def test_prominence_of_a_tick_in_exact_noise(colour: float) -> None:
    """In white noise it is the filtered tick's peak over the noise of the band; the noise's colour is taken out."""
    rate, rng = 48_000, np.random.default_rng(3)
    spectrum = np.fft.rfft(rng.standard_normal((4 * rate, 2)), axis=0)
    f = np.fft.rfftfreq(4 * rate, 1.0 / rate)
    shape = np.maximum(f, 100.0) ** colour
    noise = np.fft.irfft(spectrum * shape[:, None], axis=0).astype(np.float32)
    # far narrower than a sample's worth of the band: its whitened peak is the sum over the band of its own spectrum
    pulse = Pulse(width=10e-6, resonance=0.0, decay=10e-6)

    def height(peak: float) -> float:
        tick = TickTruth(
            programme_time=2.0, capture_time=2.0, peak_db=20.0 * float(np.log10(peak)), axis="left", sign=1,
            pulse=pulse, kind="tick", train=None,
        )  # fmt: skip
        return prominence_db(noise, rate, tick)

    level = float(noise[:, 0].std())
    assert height(300.0 * level) - height(30.0 * level) == pytest.approx(20.0, abs=1.0)
    assert height(1e-6 * level) == pytest.approx(20.0 * np.log10(2.6), abs=2.5)  # the highest of some 100 samples


def test_the_table_of_what_is_heard_says_no() -> None:
    trial = Trial(kind="faults", character="band", seed=1, seconds=60.0)
    levels = {"surface": 0.1, "swish": 0.1, "rumble": 0.1, "treble outer 5 kHz": 0.2}
    good = heard_rows.Result(
        trial=trial,
        minutes=1.0,
        raised=0.05,
        ticks=[(20.0, True)] * 99,
        trains=[""] * 60,
        zones=[""] * 60,
        levels=levels,
    )
    poor = replace(
        good, raised=0.5, ticks=[(20.0, False)] * 99, false=["L 1.000 s 18.0 dB"], trains=["0 trains of 4"] * 9,
        zones=["0 entries"] * 9, false_bursts=["thump"], levels=dict.fromkeys(levels, 1.5),
    )  # fmt: skip
    assert [row.quantity for row in heard_rows.rows_of([good]) if row.passed is False] == []
    missed = [row.quantity for row in heard_rows.rows_of([poor]) if row.passed is False]
    assert len(missed) == 10
    text = heard_rows.page([poor], heard_rows.rows_of([poor]), seed=3)
    assert "**no**" in text
    assert "this table stands on 1." in text
    assert "0 trains of 4" in text


def test_the_compound_bench_runs_in_a_tiny_form() -> None:
    alarms, found, named = compound.families(12, 3.0, 5)
    assert 0.0 < alarms <= 1.0
    assert found == sorted(found)
    assert found[-1] >= 0.75
    assert named >= 0.75
    assert compound.weighing_seconds(400) > 0.0
    assert compound.blend_seconds(2)[0] > 0.0
