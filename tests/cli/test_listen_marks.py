"""``listen cues`` and ``listen marks`` on results that the command printed."""

import json
import struct
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import jsonschema
import numpy as np
import pytest
import soundfile

from runtrue.contract.schema import schema_of
from runtrue.listen.heard import HeardJump
from tests.cli.conftest import Outcome
from tests.fakes import FakeEngine, heard, tick

Run = Callable[..., Outcome]
CHECK = ("listen", "check", "capture.flac", "--reference", "reference.flac", "--format", "12in-33", "--json")

pytestmark = pytest.mark.usefixtures("folder")


def chunks(data: bytes) -> dict[bytes, bytes]:
    """Chunks of a RIFF file, walked byte by byte."""
    assert data[:4] == b"RIFF"
    assert struct.unpack("<I", data[4:8])[0] == len(data) - 8
    found, at = {}, 12
    while at < len(data):
        (size,) = struct.unpack("<I", data[at + 4 : at + 8])
        found[data[at : at + 4]] = data[at + 8 : at + 8 + size]
        at += 8 + size + size % 2
    return found


def test_cue_points_stand_where_the_faults_are_and_the_sound_is_the_same(runtrue: Run, engine: FakeEngine) -> None:
    engine.result = heard(ticks=(tick(1.0), tick(1.8)), jumps=(HeardJump(programme_time=1.2, turns=1),))
    Path("r.json").write_text(runtrue(*CHECK).out, encoding="utf-8")
    outcome = runtrue("listen", "cues", "r.json", "capture.flac", "marked.wav", "--json")
    assert outcome.code == 0, outcome.err
    jsonschema.validate(outcome.json, schema_of("runtrue/cues-1"))
    before, rate = soundfile.read("capture.flac", dtype="int32")
    after, _ = soundfile.read("marked.wav", dtype="int32")
    assert np.array_equal(before, after)
    parts = chunks(Path("marked.wav").read_bytes())
    (count,) = struct.unpack("<I", parts[b"cue "][:4])
    assert count == len(outcome.json["cues"]) == 3
    at = [struct.unpack("<II4sIII", parts[b"cue "][4 + 24 * n : 28 + 24 * n])[5] for n in range(count)]
    assert at == [round(cue["capture_s"] * rate) for cue in outcome.json["cues"]]
    assert b"tick" in parts[b"LIST"]
    assert b"jump of +1 turn" in parts[b"LIST"]
    again = runtrue("listen", "cues", "r.json", "capture.flac", "marked.wav")
    assert (again.code, again.out) == (2, "")
    other = runtrue("listen", "cues", "r.json", "reference.flac", "other.wav")
    assert other.code == 2
    assert "is not the recording" in other.err


def test_marks_move_the_threshold_and_ears_are_laid_beside_the_program(runtrue: Run, engine: FakeEngine) -> None:
    rng = np.random.default_rng(5)
    margins = rng.normal(6.0, 8.0, 200)
    ticks = tuple(
        replace(tick(float(t)), margin=float(m), audible=0.5)
        for t, m in zip(np.arange(200) + 0.5, margins, strict=True)
    )
    engine.result = heard(ticks=ticks, reach=(0.0, 210.0))
    Path("r.json").write_text(runtrue(*CHECK).out, encoding="utf-8")
    rows = ["result,programme_s,mark,listener"]
    for t, m in zip(np.arange(200) + 0.5, margins, strict=True):
        heard_it = rng.random() < 1.0 / (1.0 + np.exp(-(m - 6.0) / 2.0))
        word = ("objectionable" if m > 15.0 else "heard") if heard_it else "not_heard"
        rows.append(f"r.json,{t + 0.1:.2f},{word},A")
    rows += [row.replace(",A", ",B") for row in rows[1:41]]
    Path("marks.csv").write_text("\n".join([*rows, "r.json,900,heard,A"]), encoding="utf-8")
    outcome = runtrue("listen", "marks", "marks.csv", "--json")
    assert outcome.code == 0, outcome.err
    result = outcome.json
    jsonschema.validate(result, schema_of("runtrue/hearing-1"))
    assert result["shift_db"] == pytest.approx(6.0, abs=1.0)
    assert result["left_out"] == 1
    assert result["after"]["alike_percent"] > result["before"]["alike_percent"]
    assert result["between"] == [
        {"listener": "A, B", "marks": 40, "heard": result["between"][0]["heard"], "alike_percent": 100.0, "kappa": 1.0}
    ]
    page = runtrue("listen", "marks", "marks.csv")
    assert page.out.startswith("The threshold lies +")
    shift = json.dumps(result["shift_db"])
    settings = runtrue(*CHECK, "--hearing-shift-db", shift).json["settings"]
    assert settings["hearing_shift_db"] == result["shift_db"]


def test_too_few_marks_are_refused(runtrue: Run, engine: FakeEngine) -> None:
    engine.result = heard(ticks=(tick(1.0),))
    Path("r.json").write_text(runtrue(*CHECK).out, encoding="utf-8")
    Path("marks.csv").write_text("result,programme_s,mark\nr.json,1.0,heard\n", encoding="utf-8")
    outcome = runtrue("listen", "marks", "marks.csv")
    assert (outcome.code, outcome.out) == (2, "")
    assert "10 or more" in outcome.err
    Path("marks.csv").write_text("result,programme_s,mark\nr.json,1.0,loud\n", encoding="utf-8")
    assert "objectionable" in runtrue("listen", "marks", "marks.csv").err
