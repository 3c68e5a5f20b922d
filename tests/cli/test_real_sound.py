"""The commands on sound: made with faults, judged by the real engine, through the command line."""

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile

from tests.cli.conftest import Outcome
from tests.music import RATE, music

Run = Callable[..., Outcome]
KNOWN = ("--format", "12in-33", "--arm-offset-deg", "0", "--player-swing-percent", "0")

pytestmark = pytest.mark.sound


@pytest.fixture(scope="module")
def side(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with ``reference.flac`` (40 s) and another title."""
    folder = tmp_path_factory.mktemp("side")
    soundfile.write(folder / "reference.flac", music(40.0), RATE, subtype="PCM_24")
    soundfile.write(folder / "other.flac", music(40.0, seed=77), RATE, subtype="PCM_24")
    return folder


@pytest.fixture(autouse=True)
def _stand_there(side: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(side)


def check(runtrue: Run, capture: str, *more: str) -> tuple[int, Any]:
    outcome = runtrue("listen", "check", capture, "--reference", "reference.flac", *KNOWN, *more, "--json")
    return outcome.code, outcome.json


def test_what_was_put_in_comes_out(runtrue: Run) -> None:
    made = runtrue(
        "listen", "render", "reference.flac", "faulty.flac", "--format", "12in-33", "--offset-um", "150",
        "--direction-deg", "40", "--tick", "7.5", "--repeat", "20", "--surface-db", "-45", "--speed-percent", "0.2",
        "--json",
    )  # fmt: skip
    assert made.code == 0
    code, result = check(runtrue, "faulty.flac")
    truth = made.json["truth"]
    played = result["off_centre"]["played"]
    assert (code, result["verdict"], result["programme"]["identity"]) == (3, "fail", "same")
    assert played["offset_um"] == pytest.approx(truth["played_offset_um"], abs=5.0)
    assert played["direction_deg"] == pytest.approx(40.0, abs=3.0)
    assert result["programme"]["start_s"] == pytest.approx(truth["start_s"], abs=0.001)
    assert result["speed"]["deviation_percent"] == pytest.approx(truth["speed_percent"], abs=0.005)
    assert [(round(jump["programme_s"]), jump["turns"]) for jump in result["jumps"]] == [(20, -1)]
    assert min(abs(tick["programme_s"] - 7.5) for tick in result["ticks"]) < 0.001


def test_the_page_of_a_real_result_reads(runtrue: Run) -> None:
    runtrue("listen", "render", "reference.flac", "good.flac", "--format", "12in-33", "--surface-db", "-50")
    outcome = runtrue("listen", "check", "good.flac", "--reference", "reference.flac", *KNOWN)
    assert outcome.code == 0
    assert outcome.out.startswith("good passes")
    assert "No tick, no jump and no noise zone found from 0:00 to 0:40." in outcome.out
    assert "nan" not in outcome.out.lower()


def test_another_title_fails(runtrue: Run) -> None:
    runtrue("listen", "render", "other.flac", "wrong.flac", "--format", "12in-33", "--surface-db", "-50")
    code, result = check(runtrue, "wrong.flac")
    assert (code, result["programme"]["identity"], result["verdict"]) == (3, "other", "fail")


@pytest.mark.parametrize("kind", ["silence", "square"])
def test_a_recording_that_cannot_be_judged(runtrue: Run, kind: str) -> None:
    time = np.arange(20 * RATE)
    sound = np.zeros(len(time)) if kind == "silence" else np.where(time // 50 % 2, 1.0, -1.0)
    soundfile.write(f"{kind}.wav", np.column_stack([sound, sound]), RATE, subtype="FLOAT")
    code, result = check(runtrue, f"{kind}.wav")
    assert (code, result["programme"]["identity"], result["verdict"]) == (4, "unclear", "cannot_judge")
    assert check(runtrue, f"{kind}.wav")[0] == 4


def test_without_a_reference(runtrue: Run) -> None:
    outcome = runtrue("listen", "check", "reference.flac", "--format", "12in-33", "--json")
    assert outcome.code == 4
    assert outcome.json["reference"] is None
    assert outcome.json["verdict"] == "cannot_judge"


def test_damage_inside_a_file_is_told_in_one_line(runtrue: Run) -> None:
    samples = music(10.0)
    samples[RATE, 0] = np.nan
    soundfile.write("nan.wav", samples, RATE, subtype="FLOAT")
    whole = Path("reference.flac").read_bytes()
    Path("cut.flac").write_bytes(whole[: len(whole) // 2])
    for name, word in (("nan.wav", "no finite number"), ("cut.flac", "cut short")):
        for files in ((name, "--reference", "reference.flac"), ("reference.flac", "--reference", name)):
            outcome = runtrue("listen", "check", *files, "--format", "12in-33", "--json")
            assert (outcome.code, outcome.out) == (2, ""), name
            assert len(outcome.lines) == 1
            assert word in outcome.err


def test_render_writes_a_whole_file_or_none(runtrue: Run) -> None:
    Path("faults.toml").write_text("[disc]\nrpm = 33.3\nstart_radius_mm = 145\nofset_um = 3\n", encoding="utf-8")
    cases = (
        (("reference.flac", "x.mp3"), "must end in .wav or .flac"),
        (("reference.flac", "reference.flac"), "is there already"),
        (("reference.flac", "nowhere/x.wav"), "there is no folder nowhere"),
        (("nowhere.flac", "x.wav"), "there is no such file"),
        (("reference.flac", "x.wav", "--faults", "nowhere.toml"), "there is no such file"),
        (("reference.flac", "x.wav", "--faults", "faults.toml"), "ofset_um"),
        (("reference.flac", "x.wav", "--faults", "faults.toml", "--offset-um", "3"), "a faults file says everything"),
        (("reference.flac", "x.wav", "--tick", "-3"), "tick must be 0 s or more, got -3 s"),
        (("cut2.flac", "x.wav"), "a whole file is needed"),
    )
    whole = Path("reference.flac").read_bytes()
    Path("cut2.flac").write_bytes(whole[: len(whole) // 2])
    for arguments, words in cases:
        outcome = runtrue("listen", "render", *arguments, "--format", "12in-33")
        assert (outcome.code, outcome.out) == (2, ""), arguments
        assert words in outcome.err
        assert len(outcome.lines) == 1
    assert not Path("x.wav").exists()
    assert not list(Path().glob(".*part*"))


def test_a_faults_file(runtrue: Run) -> None:
    Path("swing.toml").write_text(
        "[disc]\nrpm = 33.333333\nstart_radius_mm = 145.7\noffset_um = 90\ndirection_deg = 10\n", encoding="utf-8"
    )
    outcome = runtrue("listen", "render", "reference.flac", "swing.wav", "--format", "12in-33", "--faults",
                      "swing.toml", "--json")  # fmt: skip
    assert json.loads(outcome.out)["truth"]["disc_offset_um"] == pytest.approx(90.0)
