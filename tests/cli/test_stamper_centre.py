"""The command ``stamper centre``: verdicts, exits, schema, the punch file, bad input."""

from collections.abc import Callable
from pathlib import Path

import jsonschema
import numpy as np
import pytest

from runtrue.contract.schema import schema_of
from tests.cli.conftest import Outcome

Run = Callable[..., Outcome]
CENTRE = ("stamper", "centre", "lens.csv")

pytestmark = pytest.mark.usefixtures("folder")


def write(
    offset: tuple[float, float] = (12.0, 5.0), *, count: int = 12, noise: float = 2.0, slip: int | None = None,
    pitch: float = 0.0, turns: int = 1,
) -> None:  # fmt: skip
    """Write lens.csv with a groove centre at ``offset`` [um] from the axis."""
    rng = np.random.default_rng(6)
    lines = ["angle_deg,reading_um,operator,turn"]
    for k in range(count):
        degrees = 360.0 * turns * k / count
        theta = np.radians(degrees)
        value = 1000.0 + offset[0] * np.cos(theta) + offset[1] * np.sin(theta) + pitch * degrees / 360.0
        value += noise * rng.standard_normal() + (200.0 if k == slip else 0.0)
        lines.append(f"{degrees % 360.0:g},{value:.2f},mb,{int(degrees // 360) + 1}")
    Path("lens.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")


def whole(outcome: Outcome, code: int) -> dict[str, object]:
    """The JSON, held to its schema, every null with its reason."""
    assert outcome.code == code, outcome.err
    result = outcome.json
    jsonschema.validate(result, schema_of("runtrue/centre-1"))
    reasons = {item["key"] for item in result["not_judged"]}
    assert all(item["reason"] for item in result["not_judged"])
    for key, value in result.items():
        if value is None:
            assert key in reasons
    assert {f"axis.{k}" for k, v in result["axis"].items() if v is None} <= reasons
    assert result["safety"]
    return result


def test_pass(runtrue: Run) -> None:
    write()
    result = whole(runtrue(*CENTRE, "--limit-offset-um", "65", "--format", "12in-33", "--json"), 0)
    assert result["verdict"] == "pass"
    assert result["direction_deg"] == pytest.approx(180 + np.degrees(np.arctan2(5, 12)), abs=8)
    assert result["direction_playing_deg"] == pytest.approx(-result["direction_deg"] % 360)
    assert result["more_readings"] == 0
    assert result["swing_um"] == pytest.approx(2 * result["offset_um"], abs=1e-3)
    assert [end["end"] for end in result["consequence"]] == ["outer", "inner"]


def test_fail_says_how_to_move(runtrue: Run) -> None:
    write((-88.0, 0.0))
    outcome = runtrue(*CENTRE, "--limit-swing-um", "130", "--limit-owner", "M. Brandt")
    assert outcome.code == 3
    assert "toward 12 o’clock, read again" in " ".join(outcome.out.split())
    assert "Metal edges cut" in outcome.out
    assert "Nickel dust" in outcome.out
    result = whole(runtrue(*CENTRE, "--limit-swing-um", "130", "--limit-owner", "M. Brandt", "--json"), 3)
    assert result["findings"][0]["meaning"] == "swing"
    assert result["findings"][0]["owner"] == "M. Brandt"
    assert result["move"]["x_um"] == pytest.approx(88.0, abs=3.0)


def test_cannot_judge_says_how_many_more(runtrue: Run) -> None:
    write((64.0, 0.0), noise=6.0)
    result = whole(runtrue(*CENTRE, "--limit-offset-um", "65", "--json"), 4)
    assert result["verdict"] == "cannot_judge"
    assert result["more_readings"] > 0
    page = " ".join(runtrue(*CENTRE, "--limit-offset-um", "65").out.split())
    assert f"Read {result['more_readings']} more angle" in page


def test_without_a_limit_it_measures(runtrue: Run) -> None:
    write(slip=7)
    result = whole(runtrue(*CENTRE, "--json"), 0)
    assert result["verdict"] is None
    assert [(o["row"], o["angle_deg"]) for o in result["outliers"]] == [(8, 210.0)]
    assert result["outliers"][0]["off_um"] == pytest.approx(200.0, abs=15.0)
    assert "Left out" in runtrue(*CENTRE).out


def test_a_spiral_over_two_turns(runtrue: Run) -> None:
    write(count=24, turns=2, pitch=110.0)
    result = whole(runtrue(*CENTRE, "--groove", "spiral", "--json"), 0)
    assert result["pitch_um"] == pytest.approx(110.0, abs=10.0)
    stated = whole(runtrue(*CENTRE, "--groove", "spiral", "--pitch-um", "110", "--json"), 0)
    assert stated["u95_um"] < result["u95_um"]
    record = whole(runtrue(*CENTRE, "--groove", "spiral", "--face", "record", "--json"), 0)
    assert record["pitch_um"] == pytest.approx(-result["pitch_um"])
    assert record["direction_playing_deg"] == record["direction_deg"]


def test_too_few_is_no_error_but_no_verdict(runtrue: Run) -> None:
    Path("lens.csv").write_text("angle_deg,reading_um\n0,1\n180,2\n0,1\n180,3\n", encoding="utf-8")
    result = whole(runtrue(*CENTRE, "--limit-offset-um", "65", "--json"), 4)
    assert result["verdict"] == "cannot_judge"
    assert result["read_at_deg"] == [90.0, 270.0]
    outcome = runtrue(*CENTRE)
    assert outcome.code == 4
    assert "read at 90 and 270 deg too" in outcome.out


PUNCH = """
name = "Punch 1"
owner = "M. Brandt"
date = 2026-11-20
x_axis_deg = 90.0
mirrored = true
lens_division_um = 2.0
check = [{ x_um = 18.0, y_um = 1.0 }, { x_um = 20.0, y_um = -1.0 }, { x_um = 16.0, y_um = 0.0 }]
"""


def test_the_punch_file_aims(runtrue: Run) -> None:
    write()
    Path("punch.toml").write_text(PUNCH, encoding="utf-8")
    result = whole(runtrue(*CENTRE, "--punch", "punch.toml", "--json"), 0)
    assert result["axis"]["source"] == "3 checks after punching"
    assert "18 μm to −x" in result["axis"]["aim"]
    plain = whole(runtrue(*CENTRE, "--json"), 0)
    assert result["move"]["y_um"] == pytest.approx(plain["move"]["y_um"] + 18.0)
    assert result["move"]["machine_x_um"] == pytest.approx(result["move"]["y_um"])
    assert result["move"]["machine_y_um"] == pytest.approx(result["move"]["x_um"])
    assert result["u95_um"] > plain["u95_um"]


def test_after_the_punch_the_check_goes_into_the_punch_file(runtrue: Run) -> None:
    write((-18.0, 0.0))
    result = whole(runtrue(*CENTRE, "--held", "pinned", "--json"), 0)
    assert result["after_punch"]["x_um"] == pytest.approx(18.0, abs=3.0)
    assert "[[check]]" in runtrue(*CENTRE, "--held", "pinned").out


def test_two_sets_only_where_it_is_pinned(runtrue: Run) -> None:
    lines = ["angle_deg,reading_um,set"]
    rng = np.random.default_rng(1)
    for turned in (0, 180):
        for degrees in range(0, 360, 30):
            sign = 1.0 if turned == 0 else -1.0
            theta = np.radians(degrees)
            value = 500.0 + 30.0 * np.cos(theta) + sign * 40.0 * np.sin(theta) + rng.standard_normal()
            lines.append(f"{degrees},{value:.2f},{turned}")
    Path("lens.csv").write_text("\n".join(lines), encoding="utf-8")
    refused = runtrue(*CENTRE)
    assert refused.code == 2
    assert "--held pinned" in refused.err
    result = whole(runtrue(*CENTRE, "--held", "pinned", "--json"), 0)
    assert result["offset_um"] == pytest.approx(30.0, abs=2.0)
    assert result["axis"]["table_runout_um"] == pytest.approx(40.0, abs=2.0)


TABLES = PUNCH.replace(
    "check = [{ x_um = 18.0, y_um = 1.0 }, { x_um = 20.0, y_um = -1.0 }, { x_um = 16.0, y_um = 0.0 }]",
    "# since the bush was changed\n[[check]]\nx_um = 18.0\ny_um = 1.0",
)


def test_the_check_is_kept_in_the_punch_file(runtrue: Run) -> None:
    write((-18.0, 0.0))
    Path("punch.toml").write_text(TABLES, encoding="utf-8")
    pinned = (*CENTRE, "--held", "pinned", "--punch", "punch.toml", "--keep", "--stamper", 'S"1', "--json")
    result = whole(runtrue(*pinned), 0)
    assert result["kept_in"] == "punch.toml"
    text = Path("punch.toml").read_text(encoding="utf-8")
    assert text.startswith(TABLES.rstrip())
    assert "# since the bush was changed" in text
    aimed = whole(runtrue(*CENTRE, "--punch", "punch.toml", "--json"), 0)
    assert aimed["axis"]["source"] == "2 checks after punching"
    assert not Path("punch.toml.new").exists()


def test_a_list_of_checks_is_left_alone(runtrue: Run) -> None:
    write((-18.0, 0.0))
    Path("punch.toml").write_text(PUNCH, encoding="utf-8")
    outcome = runtrue(*CENTRE, "--held", "pinned", "--punch", "punch.toml", "--keep")
    assert (outcome.code, outcome.out) == (2, "")
    assert "write each as a table [[check]]" in outcome.err
    assert Path("punch.toml").read_text(encoding="utf-8") == PUNCH


def test_the_sheet_is_written_once(runtrue: Run) -> None:
    write(slip=7)
    sheet = (*CENTRE, "--limit-offset-um", "65", "--sheet", "centre.pdf", "--json")
    assert whole(runtrue(*sheet), 0)["sheet"] == "centre.pdf"
    data = Path("centre.pdf").read_bytes()
    assert data.startswith(b"%PDF")
    outcome = runtrue(*sheet)
    assert (outcome.code, outcome.out) == (2, "")
    assert "sheet centre.pdf: is there already" in outcome.err


HEAD = "angle_deg,reading_um\n"


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (HEAD + "0,1\n1.571,2\n3.142,3\n4.712,4\n", "looks like radians"),
        (HEAD + "0,1\n90,abc\n180,3\n270,4\n", "line 3: reading_um 'abc' is no number"),
        (HEAD + "0,1\n90,1,5\n180,3\n", "line 3: more values than columns; a decimal comma"),
        (HEAD + '0,1\n90,"1,5"\n', "a decimal point, not a comma"),
        ("angle_deg;reading_um\n0;1,5\n", "parted by ';'"),
        ("angle_deg,value\n0,1\n", "column 'reading_um' is missing"),
        (HEAD.replace("\n", ",note\n") + "0,1,x\n", "column 'note' is unknown"),
        (HEAD, "holds no readings"),
        ("", "column 'angle_deg' is missing"),
        (HEAD + "0,nan\n", "no finite number"),
        (HEAD + "0,1e9\n", "check the unit"),
        (HEAD + "0,\n", "reading_um is empty"),
        (HEAD.replace("\n", ",turn\n") + "0,1,0.5\n", "turn '0.5' must be a whole number"),
        (HEAD.replace("\n", ",set\n") + "0,1,90\n", "set '90' must be 0 or 180"),
        ("angle_deg,angle_deg,reading_um\n0,0,1\n", "stands there twice"),
    ],
)
def test_bad_readings_are_one_line(runtrue: Run, text: str, words: str) -> None:
    Path("lens.csv").write_text(text, encoding="utf-8")
    outcome = runtrue(*CENTRE)
    assert (outcome.code, outcome.out) == (2, "")
    assert len(outcome.lines) == 1
    assert words in outcome.err


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("--limit-offset-um", "65", "--limit-swing-um", "130"), "both bound the same thing"),
        (("--limit-owner", "me"), "no limit to own"),
        (("--format", "12in-78"), "off centre on purpose"),
        (("--pitch-um", "100"), "a locked groove has no pitch"),
        (("--punch", "none.toml"), "there is no such file"),
        (("--groove", "round"), "known are locked, spiral"),
        (("--limit-offset-um", "-1"), "limit_offset_um must be 0 to 5000"),
        (("--keep",), "keep: only a check of a pinned stamper"),
        (("--sheet", "centre.png"), "must end in .pdf"),
    ],
)
def test_bad_options_are_one_line(runtrue: Run, arguments: tuple[str, ...], words: str) -> None:
    write()
    outcome = runtrue(*CENTRE, *arguments)
    assert (outcome.code, outcome.out) == (2, "")
    assert len(outcome.lines) == 1
    assert words in outcome.err


def test_a_spiral_read_twice_without_turns_is_refused(runtrue: Run) -> None:
    Path("lens.csv").write_text(HEAD + "0,1\n90,2\n180,3\n270,4\n0,101\n", encoding="utf-8")
    assert "no column 'turn'" in runtrue(*CENTRE, "--groove", "spiral").err


def test_equal_readings_cannot_be_judged(runtrue: Run) -> None:
    Path("lens.csv").write_text(HEAD + "0,5\n90,5\n180,5\n270,5\n", encoding="utf-8")
    outcome = runtrue(*CENTRE)
    assert outcome.code == 4
    assert "all readings are equal" in outcome.out


def test_limits_of_the_house(runtrue: Run) -> None:
    write()
    Path("limits.toml").write_text(
        '[file]\nname = "House"\nowner = "M. Brandt"\ndate = 2026-01-01\n[[limit]]\n'
        'quantity = "off_centre_swing_um"\nupper = 130\nsource = "house"\n', encoding="utf-8",
    )  # fmt: skip
    result = whole(runtrue(*CENTRE, "--limits", "limits.toml", "--json"), 0)
    assert result["findings"][0]["owner"] == "M. Brandt"
