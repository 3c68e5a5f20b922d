"""The commands ``compound batch``, ``compound family`` and ``compound blend``: results, charts, bad input."""

from collections.abc import Callable
from pathlib import Path

import pypdfium2
import pytest

from tests.cli.conftest import BOUNDS, DUMP, Outcome, log_text
from tests.cli.test_compound_charge import whole

Run = Callable[..., Outcome]
pytestmark = pytest.mark.usefixtures("folder")
BATCH = ("compound", "batch", "mixer.csv")
KNOWN = ("--batch-kg", "104", "--idle-kw", "12", "--heat-capacity-kj-kg-k", "1.03")


def test_a_batch_by_its_dump_rule(runtrue: Run) -> None:
    result = whole(runtrue(*BATCH, *KNOWN, "--limits", "dump.toml", "--json"), 0, "runtrue/batch-1")
    assert result["verdict"] == "pass"
    told = {row["quantity"]: row for row in result["measured"]}
    assert told["mixing_loss_percent"]["value"] == pytest.approx(45, abs=1.0)
    assert len(result["peaks"]) == 2
    assert result["dump_known"] == "the power falls to idle"
    page = runtrue(*BATCH, *KNOWN, "--limits", "dump.toml")
    assert "keeps its dump rule" in page.out
    assert "Heat:" in page.out


def test_too_cold_fails_and_near_the_floor_cannot_be_judged(runtrue: Run) -> None:
    Path("cold.toml").write_text(DUMP.replace("105", "118"), encoding="utf-8")
    assert whole(runtrue(*BATCH, *KNOWN, "--limits", "cold.toml", "--json"), 3, "runtrue/batch-1")["verdict"] == "fail"
    Path("edge.toml").write_text(DUMP.replace("105", "106.5"), encoding="utf-8")
    near = whole(runtrue(*BATCH, *KNOWN, "--limits", "edge.toml", "--json"), 4, "runtrue/batch-1")
    assert near["verdict"] == "cannot_judge"


def test_an_unknown_mass_is_no_pass(runtrue: Run) -> None:
    result = whole(runtrue(*BATCH, "--limits", "dump.toml", "--json"), 4, "runtrue/batch-1")
    keys = {item["key"] for item in result["not_judged"]}
    assert "findings.specific_energy_kwh_per_kg" in keys


def test_a_batch_beside_its_family(runtrue: Run) -> None:
    beside = (*KNOWN, "--family", "logs.csv", "--json")
    result = whole(runtrue(*BATCH, *beside), 0, "runtrue/batch-1")
    assert result["family"]["verdict"] == "pass"
    Path("odd.csv").write_text(log_text(77, second=140.0), encoding="utf-8")
    odd = whole(runtrue("compound", "batch", "odd.csv", *beside), 3, "runtrue/batch-1")
    named = {one["quantity"] for one in odd["family"]["out"]}
    assert {"curve_distance_sd", "second_peak_energy_kwh_per_kg"} <= named
    assert 20 < odd["family"]["curve"]["from_s"] < odd["family"]["curve"]["to_s"] < 200


def test_a_family_with_its_chart(runtrue: Run) -> None:
    result = whole(runtrue("compound", "family", "family.csv", "--chart", "c.pdf", "--json"), 0, "runtrue/family-1")
    assert result["family"]["baseline"] == 30
    with pypdfium2.PdfDocument("c.pdf") as document:
        assert len(document) == 1
        words = document[0].get_textpage().get_text_bounded()
    assert "Sheet thickness" in words
    lines = Path("family.csv").read_text(encoding="utf-8").splitlines()
    cells = lines[-1].split(",")
    Path("off.csv").write_text("\n".join([*lines[:-1], ",".join([*cells[:3], "7.1"])]) + "\n", encoding="utf-8")
    outcome = runtrue("compound", "family", "off.csv")
    assert outcome.code == 3
    assert "B-431: sheet thickness 7.10 mm, above the family's 6.2" in " ".join(outcome.out.split())


def test_a_short_family_cannot_judge(runtrue: Run) -> None:
    lines = Path("family.csv").read_text(encoding="utf-8").splitlines()
    Path("few.csv").write_text("\n".join(lines[:15]) + "\n", encoding="utf-8")
    result = whole(runtrue("compound", "family", "few.csv", "--json"), 4, "runtrue/family-1")
    assert result["verdict"] == "cannot_judge"
    assert "15 are needed" in result["said"]


HEAD = "time_s,power_kw,temperature_degc\n"


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (HEAD + "0,10,20\n2,11,21\n1,12,22\n", "line 4: time_s 1 does not come after 2"),
        (HEAD + "0,10,20\n1,nan,21\n", "line 3: power_kw 'nan' is no finite number"),
        (HEAD + "0,10,20\n1,11,900\n", "line 3: temperature_degc must be -100 to 600"),
        (HEAD + "0,10,20\n", "two readings at least"),
        ("time,power_kw,temperature_degc\n0,1,2\n", "column 'time_s' is missing"),
    ],
)
def test_bad_logs_are_one_line(runtrue: Run, content: str, words: str) -> None:
    Path("l.csv").write_text(content, encoding="utf-8")
    outcome = runtrue("compound", "batch", "l.csv")
    assert (outcome.code, outcome.out) == (2, "")
    assert len(outcome.lines) == 1
    assert words in outcome.err


@pytest.mark.parametrize(
    ("content", "words"),
    [
        ("batch,sheet_thickness_mm\nB1,6\nB1,6\n", "line 3: batch 'B1' stands there twice"),
        ("batch,sheet_thickness\nB1,6\n", "column 'sheet_thickness' is unknown"),
        ("batch\nB1\n", "no column holds a number"),
        ("batch,log\nB1,mixer.csv\nB2,\n", "line 3: log is empty"),
        ("batch,sheet_thickness_mm\nB1,six\n", "line 2: sheet_thickness_mm 'six' is no number"),
    ],
)
def test_bad_families_are_one_line(runtrue: Run, content: str, words: str) -> None:
    Path("t.csv").write_text(content, encoding="utf-8")
    outcome = runtrue("compound", "family", "t.csv", "--chart", "c.pdf")
    assert (outcome.code, outcome.out) == (2, "")
    assert len(outcome.lines) == 1
    assert words in outcome.err
    assert not Path("c.pdf").exists()


BLEND = ("compound", "blend", "invented-78-kiln-black", "--batch-kg", "100", "--bounds", "bounds.toml")


def test_a_blend_can_be_charged(runtrue: Run) -> None:
    arguments = (*BLEND, "--without", "SH-0415", "--out", "new.toml")
    result = whole(runtrue(*arguments, "--json"), 0, "runtrue/blend-1")
    now = {line["ingredient"]: line for line in result["lines"]}
    assert now["shellac, flake"]["mass_kg"] == pytest.approx(9.0, abs=1e-4)
    assert now["slate, ground"]["mass_kg"] == pytest.approx(25.0 * now["slate, ground"]["bags"], abs=1e-4)
    assert any("shellac, flake in the store" in row["limit"] for row in result["binding"])
    assert result["regrind"][0]["mean_passes"] == pytest.approx(0.03 / 0.97, abs=0.005)
    batch = str(result["batch_kg"])
    made = whole(runtrue("compound", "charge", "new.toml", "--batch-kg", batch, "--json"), 0, "runtrue/charge-1")
    assert [draw["lot"] for draw in made["lines"][0]["draws"]] == ["SH-0411"]


def test_a_clash_is_named_and_writes_nothing(runtrue: Run) -> None:
    arguments = (*BLEND, "--without", "SH-0415", "--without", "SB-102", "--out", "new.toml", "--json")
    result = whole(runtrue(*arguments), 3, "runtrue/blend-1")
    assert not result["found"]
    assert "binder at least 14 %" in result["clash"]
    assert not Path("new.toml").exists()


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ('colour = "black"', 'colour = "red"', "colours are never mixed"),
        ("lower_percent = 14.0", "lower_percent = 14.0\nupper_percent = 12.0", "14 is above upper_percent 12"),
        ('name = "slate, ground"', 'name = "slate"', "ingredient 'slate': the formula has none"),
        ("lower_g_cm3 = 1.9", "lower_g_cm3 = -1.9", "[density]: key 'lower_g_cm3'"),
        ('class = "binder"', 'class = "glue"', "number 1: key 'class'"),
        ("label_mm = 90\n", "", "what their labels bring is not stated"),
    ],
)  # fmt: skip
def test_bad_bounds_are_one_line(runtrue: Run, old: str, new: str, words: str) -> None:
    assert old in BOUNDS
    Path("bounds.toml").write_text(BOUNDS.replace(old, new, 1), encoding="utf-8")
    outcome = runtrue(*BLEND)
    assert (outcome.code, outcome.out) == (2, "")
    assert len(outcome.lines) == 1
    assert words in outcome.err
