"""The demonstration from end to end, with a shorter story: what is true comes out, in JSON and on paper."""

import json
import os
import shutil
import signal
import subprocess
import sys
from collections.abc import Callable
from math import cos, hypot, radians, sin
from pathlib import Path
from time import monotonic, sleep
from typing import Any

import pypdfium2
import pytest

from runtrue.demo.run import hand_over
from tests.cli.conftest import Outcome

pytestmark = pytest.mark.sound

STORY = """
[story]
question = "Which copies are bad?"
answers = ["A scrap on A-S1 from a closure between 10 and 50 on.", "B-S2 is punched 300 um off centre."]

[plant]
name = "Fallow Bridge Pressings"
town = "Fallow Bridge"
press = "P1"
cavity = "P1-1"

[[person]]
name = "Ines Calloway"
role = "quality"

[title]
name = "Short Waves"
artist = "The Trellis"
catalogue = "FBP 001"
format = "7in-45"
hole = "small"
ordered = 100

[limits.file]
name = "short limits"
owner = "Ines Calloway, quality"
date = 2026-11-25

[[limits.limit]]
quantity = "off_centre_offset_um"
upper = 200
meaning = "offset"
source = "IEC 60098:1987"

[[limits.limit]]
quantity = "loud_ticks_per_side"
upper = 0
source = "house"

[rig]
name = "bench"
stylus = "st-1"
spindle_mm = 7.15
hole_mm = 7.24
player_swing_percent = 0.01

[rig.player]
speed_percent = 0.05
arm = { length_mm = 232, overhang_mm = 16.5 }

[rig.recorder]
silence_s = 0.4
lead_in_s = 1.0
lead_out_s = 0.6
bits = 24

[[side]]
label = "A"
matrix = "FBP-001-A"
mother = "A-M1"
father = "A-F1"
disc = { rpm = 45, start_radius_mm = 84.0, end_radius_mm = 80.5 }

[[side.tune]]
title = "Gate"
character = "band"
seconds = 28
seed = 11

[[side]]
label = "B"
matrix = "FBP-001-B"
mother = "B-M1"
father = "B-F1"
disc = { rpm = 45, start_radius_mm = 84.0, end_radius_mm = 80.5 }

[[side.tune]]
title = "Hedge"
character = "ballad"
seconds = 28
seed = 12

[[stamper]]
id = "A-S1"
side = "A"
from_closure = 1
to_closure = 100
offset_um = 30
direction_deg = 20

[[stamper]]
id = "B-S1"
side = "B"
from_closure = 1
to_closure = 60
offset_um = 30
direction_deg = 200

[[stamper]]
id = "B-S2"
side = "B"
from_closure = 61
to_closure = 100
offset_um = 300
direction_deg = 120

[[mark]]
on = "A-S1"
from_closure = 31
what = "a scrap"
ticks = [{ programme_time_s = 21.3, peak_db = -12, axis = "left" }]

[[copy]]
id = "1"
closure = 10
compound = "K-1"
pile = 1
about = "as it should be"
disc = { surface = { level_db = -66 } }
plays = [{ label = "A", slack_um = 20, slack_direction_deg = 40 }]

[[copy]]
id = "2"
closure = 50
compound = "K-1"
pile = 2
about = "shows the scrap"
disc = { surface = { level_db = -66 } }
plays = [{ label = "A", slack_um = 30, slack_direction_deg = 140, turned_deg = 90 }]

[[copy]]
id = "3"
closure = 90
compound = "K-1"
pile = 3
about = "side B swings"
disc = { surface = { level_db = -66 } }
plays = [
  { label = "A", slack_um = 10, slack_direction_deg = 250 },
  { label = "B", slack_um = 25, slack_direction_deg = 300 },
]
"""


def begin(folder: Path, *more: str) -> "subprocess.Popen[str]":
    """Start the command in ``folder``; its temporary files lie in ``folder/temporary``."""
    (folder / "story.toml").write_text(STORY, encoding="utf-8")
    (folder / "temporary").mkdir()
    names = dict.fromkeys(("TMPDIR", "TEMP", "TMP"), str(folder / "temporary"))
    return subprocess.Popen(
        [sys.executable, "-m", "runtrue", "demo", "--scenario", "story.toml", "--out", "out", *more],
        cwd=folder, env={**os.environ, **names}, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
        encoding="utf-8", start_new_session=True,
    )  # fmt: skip


@pytest.fixture(scope="module")
def ran(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, int, str, str]:
    folder = tmp_path_factory.mktemp("demo")
    process = begin(folder, "--json")
    out, err = process.communicate(timeout=300)
    return folder, process.returncode, out, err


def test_it_ends_well_though_copies_fail(ran: tuple[Path, int, str, str]) -> None:
    folder, code, out, err = ran
    assert code == 0, err
    told = json.loads(out)
    assert [(row["copy"], row["side"], row["verdict"]) for row in told["copies"]] == [
        ("1", "A", "pass"), ("2", "A", "fail"), ("3", "A", "fail"), ("3", "B", "fail"),
    ]  # fmt: skip
    assert told["headline"] == "Copies 50 to 90 of stamper A-S1 share one tick at 0:21.3 of side A: hold them."
    assert "passes" in err or "fails" in err, "the first result is told before the end"
    assert sorted(told["files"]) == sorted(
        path.relative_to(folder / "out").as_posix() for path in (folder / "out").rglob("*") if path.is_file()
    )
    assert list((folder / "temporary").iterdir()) == []


def test_who_has_to_act_follows_from_the_truth(ran: tuple[Path, int, str, str]) -> None:
    found = json.loads(ran[2])["advice"]
    assert len(found) == 2
    swing, scrap = (next(one for one in found if name in one["found"]) for name in ("B-S2", "0:21.3"))
    assert (swing["hold_from"], swing["hold_to"]) == (61, 100)
    assert "Change B-S2" in swing["act"]
    assert "it begins between 11 and 50 and is still on the last copy played" in scrap["found"]
    assert (scrap["hold_from"], scrap["hold_to"]) == (11, 100)


def results(folder: Path) -> list[tuple[Any, Any]]:
    """Every result with the truth of its recording."""
    files = sorted((folder / "out" / "results").glob("*.json"))
    assert len(files) == 4
    return [
        (json.loads(path.read_text("utf-8")), json.loads((folder / "out" / "truth" / path.name).read_text("utf-8")))
        for path in files
    ]


def test_every_result_agrees_with_its_truth(ran: tuple[Path, int, str, str]) -> None:
    for result, truth in results(ran[0]):
        played = result["off_centre"]["played"]
        found = [played["offset_um"] * f(radians(played["direction_deg"])) for f in (cos, sin)]
        true = [truth["played_offset_um"] * f(radians(truth["played_direction_deg"])) for f in (cos, sin)]
        assert hypot(found[0] - true[0], found[1] - true[1]) <= 1.5 * played["u95_um"]
        assert [round(tick["programme_s"], 3) for tick in result["ticks"]] == pytest.approx(
            [tick["programme_s"] for tick in truth["ticks"]], abs=0.001
        )
        assert result["jumps"] == []
        assert result["programme"]["identity"] == "same"


def test_the_dossier_tells_it(ran: tuple[Path, int, str, str]) -> None:
    pages = pypdfium2.PdfDocument(ran[0] / "out" / "dossier.pdf")
    told = [" ".join(page.get_textpage().get_text_bounded().split()) for page in pages]
    assert "Fallow Bridge Pressings" in told[0]
    assert "2 of 3 copies fail" in told[0]
    assert "Copies 50 to 90 of stamper A-S1 share one tick at 0:21.3 of side A: hold them." in told[0]
    assert "Hold closures 11 to 100." in told[0]
    assert sum("What was judged" in one for one in told) == 4


def test_the_folder_says_how_to_judge_a_recording_and_that_works(
    ran: tuple[Path, int, str, str],
    runtrue: Callable[..., Outcome],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    shutil.copytree(ran[0] / "out", tmp_path, dirs_exist_ok=True)
    monkeypatch.chdir(tmp_path)
    guide = Path("README.md").read_text("utf-8")
    commands = [line.split()[1:] for line in guide.splitlines() if line.startswith("runtrue ")]
    assert [command[:2] for command in commands] == [["listen", "render"], ["listen", "check"]]
    assert runtrue(*commands[0]).code == 0
    judged = runtrue(*commands[1], "--json")
    assert judged.code == 3
    assert judged.json["off_centre"]["played"]["offset_um"] == pytest.approx(260.0, abs=5.0)


@pytest.mark.skipif(sys.platform == "win32", reason="Ctrl-C is sent to a process group in another way there")
def test_ctrl_c_leaves_nothing_behind(tmp_path: Path) -> None:
    process = begin(tmp_path)
    patience = monotonic() + 60.0
    while not list(tmp_path.glob("temporary/**/*.wav")) and monotonic() < patience:
        sleep(0.05)
    os.killpg(process.pid, signal.SIGINT)
    out, err = process.communicate(timeout=60)
    assert process.returncode == 130
    assert err.splitlines()[-1].endswith("stopped; nothing was kept")
    assert "Traceback" not in err
    assert out == ""
    assert not (tmp_path / "out").exists()
    assert list((tmp_path / "temporary").iterdir()) == []


def test_folders_within_folders_are_handed_over_and_sound_stays_behind(tmp_path: Path) -> None:
    made, out = tmp_path / "made", tmp_path / "out"
    for name in ("book-store/captures/15/15ab", "sound/c1.wav", "dossier.pdf"):
        (made / name).parent.mkdir(parents=True, exist_ok=True)
        (made / name).write_bytes(b"x")
    assert hand_over(made, out, keep=False) == ["book-store/captures/15/15ab", "dossier.pdf"]
    assert (out / "book-store/captures/15/15ab").is_file()
    assert not (out / "sound").exists()
