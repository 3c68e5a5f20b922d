"""``listen check`` with an engine that hears what it is told: verdicts, exit codes, what is printed."""

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from runtrue.contract.schema import schema_of
from runtrue.listen.heard import BurstKind, HeardBurst, HeardJump, HeardTrain, Identity
from runtrue.types import Channel
from tests.cli.conftest import Outcome
from tests.fakes import FakeEngine, centre, heard, tick

Run = Callable[..., Outcome]
CHECK = ("listen", "check", "capture.flac", "--reference", "reference.flac", "--format", "12in-33")

pytestmark = pytest.mark.usefixtures("folder")


def limits(*rows: str) -> str:
    head = '[file]\nname = "House"\nowner = "Quality, Tarn Hollow"\ndate = 2026-11-24\n'
    return head + "".join(f"[[limit]]\n{row}\n" for row in rows)


def house(*rows: str) -> tuple[str, ...]:
    Path("house.toml").write_text(limits(*rows), encoding="utf-8")
    return ("--limits", "house.toml")


def finding(result: Any, quantity: str) -> Any:
    return next(row for row in result["findings"] if row["quantity"] == quantity)


def reason(result: Any, key: str) -> str:
    return next(item["reason"] for item in result["not_judged"] if item["key"] == key)


def test_a_good_copy_passes(runtrue: Run, engine: FakeEngine) -> None:
    outcome = runtrue(*CHECK, "--json")
    result = outcome.json
    assert (outcome.code, outcome.err) == (0, "")
    assert result["verdict"] == "pass"
    assert result["schema"] == "runtrue/listening-1"
    assert result["settings"]["limits"] == "IEC 60098"
    assert finding(result, "off_centre_offset_um")["value"] == pytest.approx(80.0)
    assert result["off_centre"]["disc"]["swing_um"] == pytest.approx(160.0)
    assert engine.settings[0].turn_frequency == pytest.approx(5 / 9)


@pytest.mark.parametrize(
    ("told", "code", "verdict"),
    [
        ({}, 0, "pass"),
        ({"jumps": (HeardJump(programme_time=3.0, turns=1),)}, 3, "fail"),
        ({"disc": centre(500e-6)}, 3, "fail"),
        ({"disc": centre(199e-6)}, 4, "cannot_judge"),
        ({"disc": centre(199e-6), "jumps": (HeardJump(programme_time=3.0, turns=1),)}, 3, "fail"),
        ({"jumps": None}, 4, "cannot_judge"),
        ({"identity": Identity.OTHER}, 3, "fail"),
        ({"identity": Identity.UNCLEAR}, 4, "cannot_judge"),
        ({"speed": 0.02}, 0, "pass"),
    ],
)
def test_verdict_and_exit_code(runtrue: Run, engine: FakeEngine, told: Any, code: int, verdict: str) -> None:
    engine.result = heard(**told)
    outcome = runtrue(*CHECK, "--json")
    assert (outcome.code, outcome.json["verdict"]) == (code, verdict)
    page = runtrue(*CHECK)
    assert page.code == code


@pytest.mark.parametrize(
    "told",
    [
        {},
        {"identity": Identity.OTHER},
        {"identity": Identity.UNCLEAR},
        {"ticks": (tick(1.0), tick(2.8), tick(4.6)), "trains": (HeardTrain(members=(0, 1), period=1.8),)},
        {"ticks": None, "trains": None, "jumps": None, "speed": None, "surface": None, "level_reference": None},
        {"jumps": (HeardJump(programme_time=3.0, turns=-1),), "reach": (9.0, 12.0)},
    ],
)
def test_the_object_is_as_its_schema_says_and_every_null_has_a_reason(
    runtrue: Run, engine: FakeEngine, told: Any
) -> None:
    engine.result = heard(**told)
    result = runtrue(*CHECK, "--json").json
    jsonschema.validate(result, schema_of("runtrue/listening-1"))
    named = {item["key"]: item["reason"] for item in result["not_judged"]}
    assert all(named.values())
    for key in nulls(result):
        assert key in named


def nulls(value: Any, key: str = "") -> set[str]:
    """Dotted keys of every null that means "not judged"."""
    if key in ("findings", "ticks.train"):
        return set()
    if value is None:
        return {key}
    if isinstance(value, dict):
        return {found for name, part in value.items() for found in nulls(part, f"{key}.{name}".lstrip("."))}
    if isinstance(value, list):
        return {found for part in value for found in nulls(part, key)}
    return set()


def test_looked_and_none_there_is_no_null(runtrue: Run, engine: FakeEngine) -> None:
    engine.result = heard(ticks=(), trains=(), jumps=())
    result = runtrue(*CHECK, "--json").json
    assert (result["ticks"], result["trains"], result["jumps"]) == ([], [], [])
    assert "No tick and no jump found from 0:00 to 0:12." in runtrue(*CHECK).out


def test_other_music_fails_by_a_finding_of_its_own(runtrue: Run, engine: FakeEngine) -> None:
    engine.result = heard(identity=Identity.OTHER)
    outcome = runtrue(*CHECK, "--json")
    row = finding(outcome.json, "programme_identity")
    assert (row["verdict"], row["value"], row["in_verdict"]) == ("fail", 0.0, True)
    assert outcome.json["programme"]["matched"] is False
    assert runtrue(*CHECK).out.splitlines()[0] == (
        "capture fails: it holds another programme than the reference. Check title, side and version."
    )


def test_without_a_reference_nothing_passes(runtrue: Run, engine: FakeEngine) -> None:
    engine.result = heard(identity=Identity.UNCLEAR, reason="no reference was given")
    outcome = runtrue("listen", "check", "capture.flac", "--format", "12in-33", "--json")
    assert outcome.code == 4
    assert outcome.json["reference"] is None
    assert reason(outcome.json, "reference") == "no reference was given"
    assert reason(outcome.json, "findings.programme_identity") == "no reference was given"


@pytest.mark.parametrize(
    "told", [{"jumps": (HeardJump(programme_time=3.0, turns=-1),)}, {"jumps": ()}, {"ticks": (tick(1.0),)}]
)
def test_what_one_recording_alone_shows_is_never_judged(runtrue: Run, engine: FakeEngine, told: Any) -> None:
    full = heard(**told)
    engine.result = replace(full, programme=replace(full.programme, identity=Identity.UNCLEAR))
    outcome = runtrue("listen", "check", "capture.flac", "--format", "12in-33", "--json")
    assert (outcome.code, outcome.json["verdict"]) == (4, "cannot_judge")
    assert {row["verdict"] for row in outcome.json["findings"]} == {"cannot_judge"}
    for name, found in told.items():
        assert len(outcome.json[name]) == len(found)


def test_speed_judges_the_rig_first(runtrue: Run, engine: FakeEngine) -> None:
    engine.result = heard(speed=0.02)
    result = runtrue(*CHECK, "--json").json
    row = finding(result, "speed_deviation_percent")
    assert (row["verdict"], row["about"], row["in_verdict"]) == ("fail", "rig", False)
    assert any(caution.startswith("Speed is 2 %, out of -0.5 to 0.5 %") for caution in result["cautions"])


def test_speed_judges_the_disc_on_a_calibrated_rig(runtrue: Run, engine: FakeEngine) -> None:
    engine.result = heard(speed=0.02)
    Path("rig.toml").write_text(
        '[rig]\nname = "Bench 2"\nowner = "Quality"\ndate = 2026-11-20\n[calibration]\nspeed_u95_percent = 0.1\n',
        encoding="utf-8",
    )
    outcome = runtrue(*CHECK, "--rig", "rig.toml", "--json")
    row = finding(outcome.json, "speed_deviation_percent")
    assert (outcome.code, row["in_verdict"]) == (3, True)
    assert row["u95"] == pytest.approx(0.1, rel=1e-3)


def test_the_owner_says_offset_or_swing(runtrue: Run, engine: FakeEngine) -> None:
    engine.result = heard(disc=centre(150e-6))
    row = 'quantity = "{}"\nupper = 200\nmeaning = "{}"\nsource = "house"'
    as_offset = runtrue(*CHECK, *house(row.format("off_centre_offset_um", "offset")), "--json")
    assert (as_offset.code, as_offset.json["findings"][1]["quantity"]) == (0, "off_centre_offset_um")
    as_swing = runtrue(*CHECK, *house(row.format("off_centre_offset_um", "swing")), "--json")
    shown = as_swing.json["findings"][1]
    assert (as_swing.code, shown["quantity"], shown["value"], shown["upper"]) == (
        3,
        "off_centre_swing_um",
        pytest.approx(300.0),
        pytest.approx(200.0),
    )


def test_a_level_against_another_zero_cannot_be_judged(runtrue: Run, engine: FakeEngine) -> None:
    row = 'quantity = "surface_db_a"\nupper = -40\nlevel_reference = "{}"\nsource = "house"'
    assert runtrue(*CHECK, *house(row.format("programme")), "--json").code == 0
    outcome = runtrue(*CHECK, *house(row.format("5 cm/s peak lateral")), "--json")
    assert outcome.code == 4
    assert reason(outcome.json, "findings.surface_db_a") == (
        "the limit is re 5 cm/s peak lateral, the level was measured re programme"
    )


def test_a_limit_on_what_was_not_measured_cannot_be_judged(runtrue: Run, engine: FakeEngine) -> None:
    outcome = runtrue(*CHECK, *house('quantity = "swish_db"\nupper = 3\nsource = "house"'), "--json")
    assert outcome.code == 4
    assert finding(outcome.json, "swish_db")["conformance_probability"] is None


def test_half_a_side_cannot_pass_on_what_was_not_found(runtrue: Run, engine: FakeEngine) -> None:
    engine.result = heard(reach=(0.0, 5.0))
    outcome = runtrue(*CHECK, "--json")
    assert outcome.code == 4
    assert finding(outcome.json, "jumps_per_side")["verdict"] == "cannot_judge"
    assert reason(outcome.json, "findings.jumps_per_side") == "heard from 0:00 to 0:05 of 0:12 only"
    engine.result = heard(reach=(0.0, 5.0), jumps=(HeardJump(programme_time=3.0, turns=1),))
    assert runtrue(*CHECK, "--json").code == 3


def test_counts_are_judged(runtrue: Run, engine: FakeEngine) -> None:
    rows = [f'quantity = "{name}"\nupper = {most}\nsource = "house"' for name, most in (("ticks_per_side", 3),
            ("loud_ticks_per_side", 1), ("tick_prominence_db", 30))]  # fmt: skip
    engine.result = heard(ticks=(tick(1.0, 25.0), tick(2.0, 14.0), tick(3.0, 13.0)))
    assert runtrue(*CHECK, *house(*rows), "--json").code == 0
    engine.result = heard(ticks=(tick(1.0, 25.0), tick(2.0, 31.0), tick(3.0, 13.0)))
    result = runtrue(*CHECK, *house(*rows), "--json").json
    verdicts = {row["quantity"]: row["verdict"] for row in result["findings"]}
    assert verdicts["ticks_per_side"] == "pass"
    assert verdicts["loud_ticks_per_side"] == "fail"
    assert verdicts["tick_prominence_db"] == "fail"


def test_ticks_have_their_address(runtrue: Run, engine: FakeEngine) -> None:
    engine.result = heard(ticks=(tick(2.7),), trains=())
    found = runtrue(*CHECK, "--json").json["ticks"][0]
    assert (found["turn"], found["angle_deg"], found["channel"]) == (1, pytest.approx(180.0), "lateral")
    assert found["radius_mm"] < 145.7
    assert found["angle_u95_deg"] > 0.0
    assert "0:02.700     1  180.00" in runtrue(*CHECK).out


def test_the_page_opens_with_the_sentence(runtrue: Run, engine: FakeEngine) -> None:
    engine.result = heard(disc=centre(199e-6), jumps=(HeardJump(programme_time=31.2, turns=-1),))
    lines = runtrue(*CHECK).out.splitlines()
    assert lines[0] == "capture fails: 1 jump, none allowed. Place it again and record it again to judge its centre."
    assert lines[1] == "■ fail"
    text = "\n".join(lines)
    assert "0:31.2  goes back and repeats 1 turn" in text
    assert "199.0 ± " in text.replace("\N{NO-BREAK SPACE}", " ")


def test_many_ticks_show_the_most_prominent(runtrue: Run, engine: FakeEngine) -> None:
    engine.result = heard(ticks=tuple(tick(float(n), 12.0 + n) for n in range(40)))
    assert "Ticks (the 20 most prominent of 40)" in runtrue(*CHECK).out


def test_what_was_assumed_is_said(runtrue: Run, engine: FakeEngine) -> None:
    result = runtrue(*CHECK, "--json").json
    assert any("arm's angle was not given" in caution for caution in result["cautions"])
    assert result["settings"]["arm"] == "unknown, 0 to 25 deg"
    known = runtrue(*CHECK, "--arm-length-mm", "230", "--arm-overhang-mm", "16.5", "--json").json
    assert not any("arm's angle" in caution for caution in known["cautions"])
    assert known["settings"]["arm"] == "pivoted, 230 mm, overhang 16.5 mm"


def test_the_recording_itself_is_audited(runtrue: Run, engine: FakeEngine, folder: Path) -> None:
    import numpy as np
    import soundfile

    loud = np.clip(3.0 * np.sin(np.arange(44_100 * 6) * 0.05), -1.0, 1.0)
    soundfile.write("capture.flac", np.column_stack([loud, loud]), 44_100)
    assert any("clipped" in caution for caution in runtrue(*CHECK, "--json").json["cautions"])


def test_the_same_question_gives_the_same_digits(runtrue: Run, engine: FakeEngine) -> None:
    engine.result = heard(ticks=(tick(1.0),))
    assert runtrue(*CHECK, "--json").out == runtrue(*CHECK, "--json").out


@pytest.mark.parametrize("trouble", [None, KeyboardInterrupt(), OSError(28, "No space left on device"), MemoryError()])
def test_working_files_are_always_removed(runtrue: Run, engine: FakeEngine, trouble: BaseException | None) -> None:
    engine.raises = trouble
    outcome = runtrue(*CHECK, "--json")
    assert engine.workspaces
    assert not engine.workspaces[0].exists()
    expected = {type(None): 0, KeyboardInterrupt: 130, OSError: 5, MemoryError: 5}[type(trouble)]
    assert outcome.code == expected
    if trouble is not None:
        assert outcome.out == ""
        assert len(outcome.lines) == 1


def test_a_fault_of_ours_is_not_hidden(runtrue: Run, engine: FakeEngine) -> None:
    engine.raises = ZeroDivisionError("ours")
    with pytest.raises(ZeroDivisionError):
        runtrue(*CHECK)


def test_channels_as_the_rig_file_wires_them(runtrue: Run, engine: FakeEngine, monkeypatch: pytest.MonkeyPatch) -> None:
    Path("rig.toml").write_text(
        '[rig]\nname = "Bench 2"\nowner = "Quality"\ndate = 2026-11-20\n[channels]\nleft = 1\nright = 0\n',
        encoding="utf-8",
    )
    seen: list[Any] = []

    def listen(capture: Any, *arguments: Any, **words: Any) -> Any:
        seen.append((capture.read(0, 8), next(capture.blocks(8))))
        return heard()

    monkeypatch.setattr("runtrue.listen.hear", listen, raising=False)
    runtrue(*CHECK, "--json")
    runtrue(*CHECK, "--rig", "rig.toml", "--json")
    (straight, first), (exchanged, second) = seen
    assert (straight[:, ::-1] == exchanged).all()
    assert (first[:, ::-1] == second).all()


def test_ticks_that_are_heard_lead_and_the_rest_is_one_line(runtrue: Run, engine: FakeEngine) -> None:
    loud = replace(tick(10.0, 30.0), margin=8.0, audible=0.93)
    soft = [replace(tick(20.0 + n, 15.0), margin=-12.0, audible=0.02) for n in range(3)]
    engine.result = heard(ticks=(loud, *soft))
    out = runtrue(*CHECK).out
    assert "Ticks that are heard, and trains (1)" in out
    assert "93 in 100" in out
    assert "3 more ticks that the music hides" in out


def test_zones_are_shown_with_arc_and_wall(runtrue: Run, engine: FakeEngine) -> None:
    zone = HeardBurst(
        start=8.2, end=24.8, from_angle=330.0, to_angle=40.0, channel=Channel.RIGHT, level=-13.0, prominence=32.0,
        kind=BurstKind.NON_FILL_LIKE, turns=10,
    )  # fmt: skip
    engine.result = replace(heard(ticks=()), bursts=(zone,))
    out = runtrue(*CHECK).out
    assert "Zones and thumps (1)" in out
    assert "330° to 40°" in out
    assert "like a non-fill" in out
