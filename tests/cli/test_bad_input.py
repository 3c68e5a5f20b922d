"""What is not usable: one line that says what, where, what is allowed and what to do; exit 2; nothing on stdout."""

import os
import signal
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from runtrue.cli import run
from tests.cli.conftest import Outcome
from tests.fakes import heard

Run = Callable[..., Outcome]
CHECK = ("listen", "check", "capture.flac", "--reference", "reference.flac", "--format", "12in-33")

pytestmark = pytest.mark.usefixtures("folder", "engine")


def refused(outcome: Outcome, *words: str) -> None:
    assert outcome.code == 2
    assert outcome.out == ""
    assert len(outcome.lines) == 1, outcome.err
    assert outcome.err.startswith("runtrue: ")
    for word in words:
        assert word in outcome.err


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("--rpm", "5"), ("rpm must be 10 to 120 rpm, got 5 rpm",)),
        (("--rpm", "78"), ("rpm must be 26.7 to 40.0 for format 12in-33, got 78",)),
        (("--rpm", "nan"), ("rpm must be 10 to 120 rpm, got nan",)),
        (("--rpm", "fast"), ("'fast' is not a valid float", "see 'runtrue listen check --help'")),
        (("--start-radius-mm", "60", "--end-radius-mm", "140"), ("end_radius_mm must be below start_radius_mm",)),
        (("--end-radius-mm", "146"), ("got 146 mm and 145.7 mm (the start of format 12in-33)",)),
        (("--start-radius-mm", "10"), ("start_radius_mm must be 20 to 200 mm, got 10 mm",)),
        (("--start-radius-mm", "160"), ("below 151.5 mm, the edge of a 12in-33 record, got 160 mm",)),
        (("--arm-length-mm", "230"), ("length and overhang go together",)),
        (("--arm-overhang-mm", "16"), ("length and overhang go together",)),
        (("--arm-offset-deg", "22", "--arm-length-mm", "230", "--arm-overhang-mm", "16"), ("not both",)),
        (("--arm-offset-deg", "90"), ("arm_offset_deg must be -45 to 45 deg, got 90 deg",)),
        (("--player-swing-percent", "-1"), ("player_swing_percent must be 0 to 5 %",)),
        (("--standard", "riaa"), ("standard 'riaa' is unknown; known are bs-1928, din-45547, iec",)),
        (("--standard", "house-example"), ("'house-example' is unknown",)),
        (("--limits", "nowhere.toml"), ("limits file nowhere.toml: there is no such file",)),
        (("--rig", "nowhere.toml"), ("rig file nowhere.toml: there is no such file",)),
        (("--rig", "."), ("rig file .: is a folder",)),
        (("--limits", "capture.flac"), ("limits file capture.flac: is no text in UTF-8",)),
        (("--colour", "black"), ("--colour",)),
        (("one_too_many",), ("one_too_many",)),
        (("--spindle-mm", "8.0", "--hole-mm", "7.3"), ("spindle", "7.3", "8")),
    ],
)
def test_arguments(runtrue: Run, arguments: tuple[str, ...], words: tuple[str, ...]) -> None:
    refused(runtrue(*CHECK, *arguments), *words)
    refused(runtrue(*CHECK, *arguments, "--json"), *words)


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ((), ("needs a command",)),
        (("listen",), ("needs a command",)),
        (("listen", "cook"), ("cook",)),
        (("listen", "check"), ("CAPTURE",)),
        (("listen", "check", "capture.flac"), ("--format",)),
        (
            ("listen", "check", "capture.flac", "--format", "13in-33"),
            ("format '13in-33' is unknown; known are 7in-33",),
        ),
        (("listen", "check", "nowhere.flac", "--format", "12in-33"), ("capture nowhere.flac: there is no such file",)),
        (
            ("listen", "check", "capture.flac", "--reference", "nowhere.wav", "--format", "12in-33"),
            ("reference nowhere.wav: there is no such file",),
        ),
    ],
)
def test_commands(runtrue: Run, arguments: tuple[str, ...], words: tuple[str, ...]) -> None:
    refused(runtrue(*arguments), *words)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("upper = = 3", ("is no TOML", "line 1")),
        ("", ("key 'file' is missing",)),
        ('[file]\nname = "x"\nowner = "y"\ndate = 2026-01-01\n', ("key 'limit' is missing",)),
        ("{head}[[limit]]\nquantity = 'surface_db_a'\nuper = -50\nsource = 's'", (
            "[limit] number 1: key 'uper' is unknown; allowed are quantity, lower, upper, meaning, level_reference",)),
        ("{head}[[limit]]\nquantity = 'hiss_db'\nupper = -50\nsource = 's'", (
            "[limit] number 1: quantity 'hiss_db' is unknown; known are off_centre_offset_um",)),
        ("{head}[[limit]]\nquantity = 'surface_db_a'\nsource = 's'", ("give lower, upper or both",)),
        ("{head}[[limit]]\nquantity = 'surface_db_a'\nupper = -50", ("key 'source' is missing",)),
        ("{head}[[limit]]\nquantity = 'surface_db_a'\nupper = '-50'\nsource = 's'", ("key 'upper'", "got '-50'")),
        ("{head}[[limit]]\nquantity = 'surface_db_a'\nupper = nan\nsource = 's'", ("key 'upper'", "finite")),
        ("{head}[[limit]]\nquantity = 'speed_deviation_percent'\nlower = 1\nupper = -1\nsource = 's'", (
            "lower 0.01 is above upper -0.01",)),
        ("{head}[[limit]]\nquantity = 'off_centre_offset_um'\nupper = 1\nmeaning = 'runout'\nsource = 's'", (
            "key 'meaning'", "'offset' or 'swing'", "got 'runout'")),
        ("{head}[[limit]]\nquantity = 'off_centre_offset_um'\nlower = 1\nsource = 's'", ("has no lower bound",)),
        ("{head}[[limit]]\nquantity = 'swish_db'\nupper = 1\nmeaning = 'swing'\nsource = 's'", (
            "meaning is for off-centre limits only",)),
        ("{head}[[limit]]\nquantity = 'swish_db'\nupper = 1\nlevel_reference = 'programme'\nsource = 's'", (
            "level_reference is for levels only",)),
        ("{head}[[limit]]\nquantity = 'swish_db'\nupper = 1\nsource = 's'\nrule = {pass = 0.1, fail = 0.5}", (
            "fail (0.5) must be below pass (0.1)",)),
        ("{head}[[limit]]\nquantity = 'swish_db'\nupper = 1\nsource = 's'\nrule = {pas = 0.1}", (
            "key 'pas' is unknown; allowed are pass, fail",)),
        ("{head}[[limit]]\nquantity = 'swish_db'\nupper = 1\nsource = 's'\n"
         "[[limit]]\nquantity = 'swish_db'\nupper = 2\nsource = 's'", ("number 2: swish_db is bounded twice",)),
        ("{head}[[limit]]\nquantity = 'tick_prominence_db'\nupper = 6\nsource = 's'", ("12 dB",)),
        ("{head}colour = 1", ("key 'colour' is unknown; allowed are name, owner, date",)),
    ],
)  # fmt: skip
def test_limits_files(runtrue: Run, text: str, words: tuple[str, ...]) -> None:
    head = '[file]\nname = "x"\nowner = "y"\ndate = 2026-01-01\n'
    Path("house.toml").write_text(text.replace("{head}", head), encoding="utf-8")
    refused(runtrue(*CHECK, "--limits", "house.toml"), "limits file house.toml", *words)


def test_limits_and_standard_together(runtrue: Run) -> None:
    refused(runtrue(*CHECK, "--limits", "x.toml", "--standard", "iec"), "not both")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("[arm]\nlength_mm = 230", ("length and overhang go together",)),
        ("[arm]\ntangential = true\noffset_deg = 20", ("a tangential arm has no offset",)),
        ("[arm]\nlenght_mm = 230", ("[arm]: key 'lenght_mm' is unknown; allowed are length_mm",)),
        ("[channels]\nleft = 1\nright = 1", ("left and right are both channel 1",)),
        ("[channels]\nleft = 2", ("key 'left'",)),
        ("[platter]\nspindle_mm = -7", ("key 'spindle_mm'", "got -7")),
        ("[calibration]\nspeed_u95_percent = 0", ("key 'speed_u95_percent'",)),
        ("[calibration.level]\nvelocity_cm_s = 5", ("[calibration] [level]: key 'kind' is missing",)),
    ],
)
def test_rig_files(runtrue: Run, text: str, words: tuple[str, ...]) -> None:
    head = '[rig]\nname = "x"\nowner = "y"\ndate = 2026-01-01\n'
    Path("rig.toml").write_text(head + text, encoding="utf-8")
    refused(runtrue(*CHECK, "--rig", "rig.toml"), "rig file rig.toml", *words)


def test_recordings(runtrue: Run) -> None:
    Path("empty.wav").write_bytes(b"")
    Path("text.wav").write_text("Side A, take 2\n" * 50, encoding="utf-8")
    soundfile.write("slow.wav", np.zeros(8000), 8000)
    Path("cut.flac").write_bytes(Path("capture.flac").read_bytes()[:-40_000])
    soundfile.write("none.wav", np.zeros((0, 2)), 44_100)
    for name, words in (("empty.wav", "empty (0 bytes)"), ("text.wav", "none of the formats"), ("slow.wav", "8000 Hz"),
                        ("none.wav", "holds no sound"), (".", "is a folder")):  # fmt: skip
        refused(runtrue("listen", "check", name, "--format", "12in-33"), words)
        refused(runtrue("listen", "check", "capture.flac", "--reference", name, "--format", "12in-33"), words)


@pytest.mark.slow
@given(text=st.text(max_size=200))
@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_any_text_as_a_limits_file(text: str, capsys: pytest.CaptureFixture[str]) -> None:
    Path("any.toml").write_text(text, encoding="utf-8", errors="ignore")
    assert run([*CHECK, "--limits", "any.toml"]) == 2
    captured = capsys.readouterr()
    assert captured.out == ""
    assert len(captured.err.splitlines()) == 1


_VALUES = st.one_of(
    st.floats(), st.integers(), st.text(max_size=5), st.booleans(), st.lists(st.integers(), max_size=2), st.none()
)


@given(
    limits=st.lists(
        st.dictionaries(
            st.sampled_from(["quantity", "lower", "upper", "meaning", "source", "rule", "owner", "date", "spare"]),
            st.one_of(_VALUES, st.sampled_from(["surface_db_a", "off_centre_offset_um", "swing"])),
        ),
        max_size=3,
    )
)
@settings(max_examples=100, deadline=None)
def test_any_table_of_limits_is_taken_or_refused_in_one_line(limits: list[dict[str, object]]) -> None:
    import json

    from runtrue.errors import InputError
    from runtrue.workflow.limits import parse_limits

    def toml(value: object) -> str:
        if isinstance(value, float):
            return repr(value).replace("e+", "e")
        return "1979-05-27" if value is None else json.dumps(value)

    text = '[file]\nname = "x"\nowner = "y"\ndate = 2026-01-01\n'
    for table in limits:
        text += "[[limit]]\n" + "".join(f"{key} = {toml(value)}\n" for key, value in table.items())
    try:
        parse_limits(text, "any.toml")
    except InputError as error:
        assert "\n" not in str(error)  # noqa: PT017


@pytest.mark.slow
@given(data=st.data())
@settings(max_examples=80, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_a_damaged_file_is_refused_in_one_line_or_judged(
    data: st.DataObject, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    def listen(capture: Any, *_arguments: Any, **_words: Any) -> Any:
        for _ in capture.blocks(4096):
            pass
        return heard()

    monkeypatch.setattr("runtrue.listen.hear", listen)
    kind, subtype = data.draw(st.sampled_from([("wav", "PCM_16"), ("wav", "FLOAT"), ("flac", "PCM_16"),
                                               ("aiff", "PCM_24")]))  # fmt: skip
    soundfile.write(f"small.{kind}", np.zeros((600, 2)) + 0.01, 44_100, subtype=subtype)
    content = bytearray(Path(f"small.{kind}").read_bytes())
    for _ in range(data.draw(st.integers(0, 4))):
        content[data.draw(st.integers(0, min(len(content), 120) - 1))] = data.draw(st.integers(0, 255))
    Path("damaged").write_bytes(bytes(content[: data.draw(st.just(len(content)) | st.integers(0, len(content)))]))
    code = run(["listen", "check", "damaged", "--reference", "reference.flac", "--format", "12in-33", "--json"])
    captured = capsys.readouterr()
    assert code in (0, 2, 3, 4)
    if code == 2:
        assert captured.out == ""
        assert len(captured.err.splitlines()) == 1


@pytest.mark.slow
@pytest.mark.parametrize("stop", [signal.SIGINT, signal.SIGTERM])
def test_stopping_leaves_nothing_behind(stop: signal.Signals, tmp_path: Path) -> None:
    code = (
        "import runtrue.listen, time\n"
        "def hear(*arguments, workspace, **words):\n"
        "    (workspace / 'copy').write_bytes(b'0')\n"
        "    print('begun', flush=True)\n"
        "    time.sleep(60)\n"
        "runtrue.listen.hear = hear\n"
        "from runtrue.cli import main\n"
        "main('listen check capture.flac --format 12in-33'.split())\n"
    )
    working = tmp_path / "working"
    working.mkdir()
    with subprocess.Popen(
        [sys.executable, "-c", code], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
        env={**os.environ, "TMPDIR": str(working), "TEMP": str(working)},
    ) as process:  # fmt: skip
        assert process.stdout is not None
        assert process.stderr is not None
        assert process.stdout.readline() == "begun\n"
        assert len(list(working.iterdir())) == 1
        process.send_signal(stop)
        assert process.wait(20) == 130
        assert process.stderr.read() == "runtrue: stopped; nothing was kept\n"
    assert list(working.iterdir()) == []
