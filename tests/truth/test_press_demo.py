"""The press of the demonstration: what its log tells holds what the maker put in."""

import json
from pathlib import Path

import pytest

from runtrue.demo.press_room import PressJob, measure_and_ask


def test_the_story_of_the_press(tmp_path: Path) -> None:
    """The limits of films and contacts hold what the maker has; the picture and the answer are there."""
    told = measure_and_ask(PressJob(folder=tmp_path / "press", now="2026-11-25T06:00:00Z"))
    found = json.loads((tmp_path / "press" / "calibration.json").read_text("utf-8"))
    hidden = {"steam_film": 9100.0, "water_film": 6700.0, "back_contact": 4300.0, "face_contact": 5600.0}
    inputs = {row["input"]: row["fitted"] for row in found["inputs"]}
    for name, value in hidden.items():
        assert inputs[name]["low"] <= value <= inputs[name]["high"], name
    asked = json.loads((tmp_path / "press" / "shorten.json").read_text("utf-8"))
    assert asked["now"]["too_hot_odds"] < asked["shorter"]["too_hot_odds"]
    assert asked["verdict"] in {"pass", "fail", "cannot_judge"}
    # conductivity and specific heat cancel, since the log tells their ratio: together they share less than they would
    cycle = json.loads((tmp_path / "press" / "cycle.json").read_text("utf-8"))["cycles"][0]
    rows = {row["input"]: row for row in cycle["inputs"]}
    assert sum(row["share_percent"] for row in rows.values()) == pytest.approx(100.0, abs=0.6)
    matter, water = rows["compound_conductivity"], rows["water_temperature"]
    assert abs(matter["mid_plane_k"]) > abs(water["mid_plane_k"])
    assert matter["share_percent"] < water["share_percent"]
    assert told[-1].endswith("no figure here is a safe setting.")
    assert (tmp_path / "press" / "cycle.pdf").read_bytes().startswith(b"%PDF")
