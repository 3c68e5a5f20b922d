"""The press's commands: what they print, and one line for what is not usable."""

import json
from collections.abc import Callable
from pathlib import Path

import jsonschema
import numpy as np
import pytest

from runtrue.contract.schema import schema_of
from runtrue.workflow.press_log import KNOWN
from tests.cli.conftest import Outcome
from tests.press_files import CYCLE, PILE, RUNNING, changed, press_log_text, table, trial_text

Run = Callable[..., Outcome]
Columns = dict[str, list[str]]
pytestmark = pytest.mark.usefixtures("folder")


def refused(outcome: Outcome, *words: str) -> None:
    assert (outcome.code, outcome.out) == (2, "")
    assert len(outcome.lines) == 1, outcome.err
    for word in words:
        assert word in outcome.err


def test_cycle_prints_its_schema(runtrue: Run) -> None:
    outcome = runtrue("press", "cycle", "cycle.toml", "--json")
    assert outcome.code == 0
    result = outcome.json
    jsonschema.validate(result, schema_of("runtrue/press-cycle-1"))
    (one,) = result["cycles"]
    assert one["calibrated"] is False
    assert one["balance_relative"] < 1e-9
    assert one["mid_plane_at_opening_degc"]["low"] < one["mid_plane_at_opening_degc"]["value"]
    assert sum(row["share_percent"] for row in one["inputs"]) == pytest.approx(100.0, abs=0.6)
    assert any("safe setting" in said for said in result["safety"])
    assert {row["key"] for row in result["not_judged"]} >= {"difference"}


@pytest.mark.slow
def test_two_cycles_side_by_side(runtrue: Run) -> None:
    Path("short.toml").write_text(changed(CYCLE, "duration_s = 14.0", "duration_s = 12.0"), encoding="utf-8")
    result = runtrue("press", "cycle", "cycle.toml", "--compare", "short.toml", "--json").json
    less = result["difference"]
    assert less["cycle_s"] == -2.0
    assert less["mid_plane_at_opening_k"] > 1.0
    page = runtrue("press", "cycle", "cycle.toml", "--compare", "short.toml").out
    assert "Second less first" in page
    assert "safe setting" in page


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("thickness_mm = 10.0", "thickness_mm = -10.0", ("'steel'", "thickness_mm must be above 0", "-10 mm")),
        ("pressure_bar_g = 7.0", "pressure_bar_g = -1.0", ("pressure_bar_g must be above 0", "-1 bar")),
        ("temperature_degc = 18.0", "temperature_degc = 180.0", ("no hotter than the water", "180.0 degC")),
        ('name = "compound"', 'name = "vinyl"', ("'compound' is missing",)),
        ("duration_s = 14.0", "duration_s = 0.0", ("'water'", "duration_s must be above 0")),
        ("film_w_m2k = 7000", "", ("'water'", "'film_w_m2k' is missing")),
        ('material = "steel"', 'material = "stel"', ("material 'stel' is unknown; known are steel",)),
        ("contact_after_w_m2k = 4000", "", ("'steel'", "contact_after_w_m2k")),
        ("pressure_bar_g = 7.0", "pressure_bar_g = 7.0\ntemperature_degc = 150.0", ("7 bar gauge is steam of 170.5",)),
        ("thickness_mm = 10.0", "thicknes_mm = 10.0", ("key 'thicknes_mm' is unknown",)),
        ('fluid = "water"', 'fluid = "brine"', ("key 'fluid'", "'steam', 'water', 'air' or 'none'")),
    ],
)
def test_press_files(runtrue: Run, old: str, new: str, words: tuple[str, ...]) -> None:
    Path("bad.toml").write_text(changed(CYCLE, old, new), encoding="utf-8")
    refused(runtrue("press", "cycle", "bad.toml"), "press file bad.toml", *words)


def test_gauge_taken_for_absolute_is_said(runtrue: Run) -> None:
    """7 bar and 165 degC fit only when the 7 bar are absolute."""
    text = changed(CYCLE, "pressure_bar_g = 7.0", "pressure_bar_g = 7.0\ntemperature_degc = 165.0")
    Path("gauge.toml").write_text(text, encoding="utf-8")
    result = runtrue("press", "cycle", "gauge.toml", "--json").json
    assert any("only when it is absolute" in said for said in result["cautions"])


VINYL = 'name = "compound"\nmaterial = "vinyl"\n'


def test_a_property_used_beyond_its_range_is_said(runtrue: Run) -> None:
    narrow = "specific_heat_j_kgk = [[40.0, 1000.0], [90.0, 1400.0]]"
    Path("range.toml").write_text(changed(CYCLE, "specific_heat_j_kgk = 1250", narrow), encoding="utf-8")
    result = runtrue("press", "cycle", "range.toml", "--json").json
    assert any("specific heat of compound is given from 40 to 90 °C" in said for said in result["cautions"])


@pytest.mark.slow
def test_placeholders_are_named(runtrue: Run) -> None:
    text = changed(CYCLE, 'name = "compound"\n', VINYL)
    for line in ("conductivity_w_mk = 0.17\n", "density_kg_m3 = 1380\n", "specific_heat_j_kgk = 1250\n"):
        text = changed(text, line, "")
    Path("vinyl.toml").write_text(text, encoding="utf-8")
    result = runtrue("press", "cycle", "vinyl.toml", "--json").json
    assert any("Properties of vinyl (conductivity, density, specific heat) are placeholders" in said
               for said in result["cautions"])  # fmt: skip


def test_a_missing_file(runtrue: Run) -> None:
    refused(runtrue("press", "cycle", "nowhere.toml"), "press file nowhere.toml: there is no such file")


def test_results_survive_json(runtrue: Run) -> None:
    assert json.loads(runtrue("press", "cycle", "cycle.toml", "--json").out)["schema"] == "runtrue/press-cycle-1"


@pytest.mark.slow
def test_a_running_press_and_its_picture(runtrue: Run) -> None:
    Path("running.toml").write_text(RUNNING, encoding="utf-8")
    cycle = ("press", "cycle", "running.toml")
    outcome = runtrue(*cycle, "--calibration", "calibration.json", "--picture", "t.svg", "--json")
    assert outcome.code == 0
    (one,) = outcome.json["cycles"]
    assert one["calibrated"]
    assert one["running"]
    assert [phase["open"] for phase in one["phases"]] == [False, False, True]
    assert "opens at 23" in Path("t.svg").read_text(encoding="utf-8")
    assert runtrue(*cycle, "--picture", "t.pdf").code == 0
    assert Path("t.pdf").read_bytes().startswith(b"%PDF")
    refused(runtrue(*cycle, "--picture", "t.png"), "must end in .svg")
    refused(runtrue(*cycle, "--picture", "t.svg"), "is there already")


@pytest.mark.slow
def test_calibrate_tells_what_it_can(runtrue: Run) -> None:
    outcome = runtrue("press", "calibrate", "cycle.toml", "press-log.csv", "--json")
    assert outcome.code == 0
    result = outcome.json
    jsonschema.validate(result, schema_of("runtrue/press-calibration-1"))
    fitted = {row["input"]: row for row in result["inputs"]}
    for name, true in (("steam_film", 9200.0), ("water_film", 6400.0), ("back_contact", 4600.0)):
        assert fitted[name]["told"]
        assert fitted[name]["fitted"]["low"] < true < fitted[name]["fitted"]["high"]
    assert fitted["steam_film"]["after_percent"] < 10.0
    assert not fitted["face_contact"]["told"]
    assert "contact of stamper and compound" in result["advice"]
    assert result["cannot_tell_apart"] == [["conductivity of the compound", "specific heat of the compound"]]
    page = runtrue("press", "calibrate", "cycle.toml", "press-log.csv").out
    assert "cannot tell apart" in " ".join(page.split())


def _columns() -> Columns:
    first, *rows = press_log_text().splitlines()
    cells = [row.split(",") for row in rows]
    return {name: [row[k] for row in cells] for k, name in enumerate(first.split(","))}


@pytest.mark.parametrize(
    ("spoil", "words"),
    [
        (lambda c: {**c, "die_face_a_degc": [str(1.8 * float(v) + 32.0) for v in c["die_face_a_degc"]]},
         ("die_face_a_degc reaches", "looks like degF")),
        (lambda c: {**c, "die_face_a_degc": [str(float(v) + 273.15) for v in c["die_face_a_degc"]]},
         ("looks like kelvin",)),
        (lambda c: {("die_face_a_degf" if k == "die_face_a_degc" else k): v for k, v in c.items()},
         ("column 'die_face_a_degf' is unknown", "temperatures are in degC")),
        (lambda c: {k: v[:8] + v[14:] for k, v in c.items()}, ("line 10: 7 s are missing", "log it again")),
        (lambda c: {**c, "time_s": [str(60.0 * float(v)) for v in c["time_s"]]}, ("60 s apart", "check the unit")),
        (lambda c: {**c, "steam_bar_g": [str(14.5 * float(v)) for v in c["steam_bar_g"]]},
         ("steam_bar_g reaches", "looks like psi")),
        (lambda c: {**c, "steam_bar_g": [str(100.0 * float(v)) for v in c["steam_bar_g"]]}, ("looks like kPa",)),
        (lambda c: {**c, "time_s": c["time_s"][::-1]}, ("time_s does not rise",)),
        (lambda c: {**c, "die_face_a_degc": ["", *c["die_face_a_degc"][1:]]}, ("line 2", "die_face_a_degc is empty")),
        (lambda c: {k: v[:5] for k, v in c.items()}, ("holds 5 readings", "at least 10")),
        (lambda c: {k: v for k, v in c.items() if k != "time_s"}, ("column 'time_s' is missing",)),
        (lambda c: {**c, "die_face_b_degc": c["die_face_a_degc"]}, ("holds half b",)),
        (lambda c: {k: v for k, v in c.items() if not k.endswith("_degc") or k == "water_degc"},
         ("holds no thermocouple",)),
    ],
)  # fmt: skip
def test_logs(
    runtrue: Run, spoil: Callable[[dict[str, list[str]]], dict[str, list[str]]], words: tuple[str, ...]
) -> None:
    columns = spoil(_columns())
    rows = zip(*columns.values(), strict=True)
    Path("bad.csv").write_text(
        "\n".join([",".join(columns), *(",".join(row) for row in rows)]) + "\n", encoding="utf-8"
    )
    refused(runtrue("press", "calibrate", "cycle.toml", "bad.csv"), "press log bad.csv", *words)


def test_an_absolute_gauge_in_the_log_is_said(runtrue: Run) -> None:
    columns = {name: np.array(values, dtype=float) for name, values in _columns().items()}
    columns["steam_bar_g"] += 1.013
    Path("absolute.csv").write_text(table(columns), encoding="utf-8")
    result = runtrue("press", "calibrate", "cycle.toml", "absolute.csv", "--json").json
    assert any("as an absolute gauge would" in said for said in result["cautions"])


def test_shorten_needs_a_log(runtrue: Run) -> None:
    outcome = runtrue("press", "shorten", "cycle.toml", "--by-s", "2", "--json")
    assert outcome.code == 4
    result = outcome.json
    jsonschema.validate(result, schema_of("runtrue/press-shorten-1"))
    assert result["verdict"] == "cannot_judge"
    assert "die_face_a_degc" in result["log_needed"]
    assert result["shorter"] is None
    assert {row["key"]: row["reason"] for row in result["not_judged"]}["shorter"].startswith(
        "the press is not calibrated"
    )
    assert result["trial"]["records_by_height"] == 64
    assert "Cannot judge what it costs" in runtrue("press", "shorten", "cycle.toml", "--by-s", "2").out


@pytest.mark.slow
def test_shorten_weighs(runtrue: Run) -> None:
    given = ("press", "shorten", "cycle.toml", "--calibration", "calibration.json", "--json")
    outcome = runtrue(*given, "--by-s", "2")
    assert outcome.code == 0
    result = outcome.json
    jsonschema.validate(result, schema_of("runtrue/press-shorten-1"))
    now, shorter = result["now"], result["shorter"]
    assert result["gain_per_hour"] == pytest.approx(3600 / 21 - 3600 / 23, abs=0.01)
    assert shorter["mid_plane_degc"]["value"] > now["mid_plane_degc"]["value"] + 3.0
    assert 0.0 <= now["too_hot_odds"] <= shorter["too_hot_odds"] < 0.05
    assert result["warp_24h"]["shorter_percent"]["value"] > result["warp_24h"]["now_percent"]["value"]
    assert result["non_fill"] is not None
    assert sum(row["share_percent"] for row in result["matters"]) == pytest.approx(100.0, abs=0.6)
    much = runtrue(*given, "--by-s", "9")
    assert much.code == 3
    most = much.json["passes_up_to_s"]
    assert 2.0 < most < 9.0
    assert runtrue(*given, "--by-s", f"{most:.1f}").json["passes_up_to_s"] == pytest.approx(most, abs=0.1)


@pytest.mark.slow
def test_without_counts_warp_and_fill_are_not_judged(runtrue: Run) -> None:
    Path("plain.toml").write_text(CYCLE.partition("[[counts]]")[0], encoding="utf-8")
    result = runtrue(
        "press", "shorten", "plain.toml", "--by-s", "2", "--calibration", "calibration.json", "--json"
    ).json
    assert result["warp_24h"] is None
    assert result["non_fill"] is None
    reasons = {row["key"]: row["reason"] for row in result["not_judged"]}
    assert "plant's own counts" in reasons["warp_24h"]


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("--by-s", "20"), ("by_s must be below the 14 s of phase 'water'",)),
        (("--by-s", "2", "--phase", "cook"), ("phase 'cook' is unknown; known are steam, water",)),
        (("--by-s", "2", "--calibration", "nowhere.json"), ("there is no such file",)),
        (("--by-s", "2", "--calibration", "cycle.toml"), ("is not what `runtrue press calibrate --json` prints",)),
        (("--by-s", "0"), ("by_s must be 0.1 to 60 s",)),
    ],
)
def test_shorten_refuses(runtrue: Run, arguments: tuple[str, ...], words: tuple[str, ...]) -> None:
    refused(runtrue("press", "shorten", "cycle.toml", *arguments), *words)


def test_a_calibration_of_another_press_is_refused(runtrue: Run) -> None:
    Path("other.toml").write_text(changed(CYCLE, "thickness_mm = 10.0", "thickness_mm = 12.0"), encoding="utf-8")
    refused(runtrue("press", "shorten", "other.toml", "--by-s", "2", "--calibration", "calibration.json"),
            "was made for other layers", "calibrate this press again")  # fmt: skip


def test_trial_shows_warp(runtrue: Run) -> None:
    outcome = runtrue("press", "trial", "trial.csv", "--warp-limit-mm", "1.5", "--json")
    assert outcome.code == 0
    result = outcome.json
    jsonschema.validate(result, schema_of("runtrue/press-trial-1"))
    rows = {row["quantity"]: row for row in result["values"]}
    assert (result["first"], result["second"]) == ("14 s", "12 s")
    assert rows["warp_24h_mm"]["differs"]
    assert rows["warp_24h_mm"]["low"] < 0.25 < rows["warp_24h_mm"]["high"]
    assert not rows["mass_g"]["differs"]
    assert {row["quantity"] for row in result["shares"]} == {"non_fill", "warped_24h"}
    turned = runtrue("press", "trial", "trial.csv", "--first", "12 s", "--json").json
    assert {r["quantity"]: r for r in turned["values"]}["warp_24h_mm"]["shift"] < 0.0


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("setting,warp_24h_mm\n14 s,0.5\n", ("hold 1 settings",)),
        ("copy,warp_24h_mm\n1,0.5\n", ("column 'setting' is missing",)),
        ("setting,copy\n14 s,1\n12 s,2\n", ("holds nothing to compare",)),
        ("setting,warp_mm\n14 s,0.5\n", ("column 'warp_mm' is unknown; known are setting",)),
        ("setting,non_fill\n14 s,yes\n12 s,0\n", ("line 2", "must be 1 or 0")),
        ("setting,mass_g\n14 s,heavy\n12 s,140\n", ("line 2", "is no number")),
        ("setting;mass_g\n14 s;140\n", ("parted by ';'",)),
    ],
)
def test_trials(runtrue: Run, text: str, words: tuple[str, ...]) -> None:
    Path("bad.csv").write_text(text, encoding="utf-8")
    refused(runtrue("press", "trial", "bad.csv"), *words)


def test_a_small_trial_cannot_judge(runtrue: Run) -> None:
    Path("small.csv").write_text("setting,warp_24h_mm\n14 s,0.5\n12 s,0.7\n", encoding="utf-8")
    outcome = runtrue("press", "trial", "small.csv", "--json")
    assert outcome.code == 4
    assert outcome.json["values"][0]["differs"] is None
    assert trial_text(3) != trial_text(4)


@pytest.mark.slow
def test_rest(runtrue: Run) -> None:
    outcome = runtrue("press", "rest", "pile.toml", "--laid-at", "14:05", "--json")
    assert outcome.code == 0
    result = outcome.json
    jsonschema.validate(result, schema_of("runtrue/press-rest-1"))
    rest = result["rest_h"]
    assert 1.0 < rest["low"] < rest["value"] < rest["high"] < 12.0
    assert ":" in result["ready_at"]
    assert result["traces"]["hottest_degc"][0] == pytest.approx(50.0, abs=0.1)
    Path("bare.toml").write_text(
        changed(changed(PILE, "plate_every = 5\n", ""), "records = 30", "records = 40"), "utf-8"
    )
    assert runtrue("press", "rest", "bare.toml", "--json").json["rest_h"]["value"] > rest["value"]
    refused(runtrue("press", "rest", "pile.toml", "--below-degc", "20"), "below_degc must be above the room's 22 degC")
    refused(runtrue("press", "rest", "pile.toml", "--laid-at", "noon"), "laid_at 'noon' must be a clock time")


@pytest.mark.slow
def test_biscuit(runtrue: Run) -> None:
    outcome = runtrue(
        "press", "biscuit", "--format", "12in-33", "--mass-g", "140", "--force-kn", "1471", "--table-degc", "150",
        "--core-degc", "110", "--both-sides", "--puck-degc", "150", "--waits-s", "10", "--die-degc", "60", "--json",
    )  # fmt: skip
    assert outcome.code == 0
    result = outcome.json
    jsonschema.validate(result, schema_of("runtrue/press-biscuit-1"))
    assert result["pressing"]["pressure_mpa"] == pytest.approx(20.67, abs=0.02)
    assert result["biscuit"]["mass_g"] == pytest.approx(161.0)
    assert result["preheat"]["ready_s"]["low"] < result["preheat"]["ready_s"]["high"]
    assert result["waiting"]["skin_degc"] < result["waiting"]["mean_degc"] < 150.0
    assert result["pressing"]["skin_um"] > 10.0
    refused(runtrue("press", "biscuit", "--format", "12in-33"), "give one of them")
    refused(runtrue("press", "biscuit", "--format", "12in-33", "--mass-g", "140", "--table-degc", "150"), "go together")


def test_the_files_of_the_guide_load(runtrue: Run) -> None:
    page = (Path(__file__).parents[2] / "docs" / "how-to" / "shorten-a-cycle.md").read_text(encoding="utf-8")
    Path("guide.toml").write_text(page.partition("```toml\n")[2].partition("```")[0], encoding="utf-8")
    asked = runtrue("press", "shorten", "guide.toml", "--by-s", "2", "--json")
    assert asked.code == 4
    assert not [said for said in asked.json["cautions"] if "placeholder" in said]
    log, trial = (block.partition("```")[0] for block in page.split("```csv\n")[1:])
    assert set(log.splitlines()[0].split(",")) <= set(KNOWN)
    Path("guide.csv").write_text(trial, encoding="utf-8")
    assert runtrue("press", "trial", "guide.csv", "--warp-limit-mm", "1.5").code == 4
    for word in ("scald", "crushes", "burns", "hydrogen chloride", "no figure here is a safe setting"):
        assert word in page


@pytest.mark.slow
@pytest.mark.parametrize(
    "command",
    [
        ("cycle", "cycle.toml"), ("calibrate", "cycle.toml", "press-log.csv"),
        ("shorten", "cycle.toml", "--by-s", "2"), ("trial", "trial.csv"), ("rest", "pile.toml"),
        ("biscuit", "--format", "12in-33", "--mass-g", "140"),
    ],
)  # fmt: skip
def test_every_page_and_report_tells_what_hurts(runtrue: Run, command: tuple[str, ...]) -> None:
    """Steam, press, hot compound, hydrogen chloride, and that no figure is a safe setting: table and JSON."""
    for page in (runtrue("press", *command).out, " ".join(runtrue("press", *command, "--json").json["safety"])):
        words = " ".join(page.split())
        for word in ("scald", "locked out", "Hot compound", "hydrogen chloride", "no figure here is a safe setting"):
            assert word in words, word
