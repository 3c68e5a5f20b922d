"""The press of the demonstration: what its log tells holds what the maker put in."""

import json
from pathlib import Path

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
    assert told[-1].endswith("no figure here is a safe setting.")
    assert (tmp_path / "press" / "cycle.pdf").read_bytes().startswith(b"%PDF")
