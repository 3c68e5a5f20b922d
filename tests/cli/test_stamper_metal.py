"""The commands ``stamper study``, ``inspect``, ``life`` and ``trend``: exits, schema, pages, bad input."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from runtrue.contract.schema import schema_of
from tests.cli.conftest import Outcome
from tests.metal import REGISTER

Run = Callable[..., Outcome]
COSTS = ("--change-cost", "60", "--bad-copy-cost", "6")

pytestmark = pytest.mark.usefixtures("folder")


def whole(outcome: Outcome, code: int, name: str) -> Any:
    """The JSON, held to its schema, every null with its reason."""
    assert outcome.code == code, outcome.err
    result = outcome.json
    jsonschema.validate(result, schema_of(f"runtrue/{name}"))
    reasons = {item["key"] for item in result["not_judged"]}
    assert {key for key, value in result.items() if value is None} <= reasons
    assert all(item["reason"] for item in result["not_judged"])
    assert any("Nickel dust" in line for line in result["safety"])
    return result


def swap(name: str, old: str, new: str) -> None:
    path = Path(name)
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8")


def test_a_study_parts_people_from_lens(runtrue: Run) -> None:
    result = whole(runtrue("stamper", "study", "study.csv", "--limit-offset-um", "65", "--json"), 0, "study-1")
    assert result["lens_noise_um"] == pytest.approx(5.0, rel=0.15)
    assert result["x"]["repeatability_um"] == pytest.approx(2.5, rel=0.5)  # 5 um and 8 readings: 5 sqrt(2 / 8)
    assert result["x"]["repeatability_low_um"] < result["x"]["repeatability_um"] < result["x"]["repeatability_high_um"]
    assert [one["operator"] for one in result["operators"]] == ["mb", "ro", "tk"]
    assert "one centring is right within" in " ".join(runtrue("stamper", "study", "study.csv").out.split())


def test_a_study_of_offsets(runtrue: Run) -> None:
    lines = ["operator,stamper,repeat,x_um,y_um"]
    lines += [f"{p},{s},{r},{10 * s + r},{-5 * s + 2 * r}" for p in "ab" for s in range(5) for r in (1, 2)]
    Path("study.csv").write_text("\n".join(lines), encoding="utf-8")
    result = whole(runtrue("stamper", "study", "study.csv", "--json"), 0, "study-1")
    assert result["lens_noise_um"] is None
    assert result["x"]["repeatability_um"] == pytest.approx((0.5 * 10 / 14) ** 0.5, rel=1e-3)  # no interaction: pooled


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("tk,S5,2,0,", "tk,S5,3,0,", "tk, stamper S5, repeat 3: 1 readings leave nothing|angles only"),
        ("operator,", "who,", "column 'operator' is missing"),
        ("mb,S1,1,0,", ",S1,1,0,", "line 2: operator is empty"),
        ("mb,S1,1,0,", "mb,S1,x,0,", "line 2: repeat 'x' must be a whole number"),
        ("mb,S1,1,0,", "mb,S1,1,zero,", "line 2: angle_deg 'zero' is no number"),
    ],
)
def test_a_study_that_is_not_whole(runtrue: Run, old: str, new: str, words: str) -> None:
    swap("study.csv", old, new)
    outcome = runtrue("stamper", "study", "study.csv")
    assert (outcome.code, outcome.out, len(outcome.lines)) == (2, "", 1)
    assert any(word in outcome.err for word in words.split("|"))


def test_a_study_names_what_is_missing(runtrue: Run) -> None:
    lines = Path("study.csv").read_text(encoding="utf-8").splitlines()
    kept = [line for line in lines if not line.startswith("ro,S3,2,")]
    Path("study.csv").write_text("\n".join(kept), encoding="utf-8")
    assert "operator ro, stamper S3, repeat 2 is missing" in runtrue("stamper", "study", "study.csv").err


def test_a_register_in_the_order_of_the_family(runtrue: Run) -> None:
    result = whole(runtrue("stamper", "inspect", "register.toml", "--json"), 0, "metal-1")
    assert [(p["id"], p["family"]) for p in result["pieces"]] == [("F1", []), ("M1", ["F1"]), ("S1", ["M1", "F1"])]
    assert {p["advice"] for p in result["pieces"]} == {"accept"}
    assert result["pieces"][2]["thickness"]["toward_hour"] in (11.0, 11.5, 12.0)
    assert "  mother M1" in runtrue("stamper", "inspect", "register.toml").out


@pytest.mark.parametrize(
    ("old", "new", "code", "words"),
    [
        ('kind = "stain"', 'kind = "scratch"', 3, "Refuse S1"),
        ("back_um = 0.5", "back_um = 1.5", 3, "Sand the back of S1"),
        ("back_um = 0.5\n", "", 4, "Measure before use: S1"),
        ("um = 204", "um = 140", 3, "thin, 140 μm at 12 o’clock, 130 mm"),
    ],
)
def test_what_to_do_with_a_stamper(runtrue: Run, old: str, new: str, code: int, words: str) -> None:
    swap("register.toml", old, new)
    outcome = runtrue("stamper", "inspect", "register.toml")
    assert outcome.code == code
    assert words in " ".join(outcome.out.split())


def test_the_rules_of_the_house(runtrue: Run) -> None:
    Path("rules.toml").write_text('owner = "M. Brandt"\ndate = 2026-01-05\nback_um = 0.4\n', encoding="utf-8")
    result = whole(runtrue("stamper", "inspect", "register.toml", "--rules", "rules.toml", "--json"), 3, "metal-1")
    assert result["rules"]["owner"] == "M. Brandt"
    assert result["pieces"][2]["advice"] == "sand"


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ('parent = "M1"', 'parent = "M9"', "its parent M9 is not in the register"),
        ('parent = "M1"', 'parent = "F1"', "a stamper is not grown from a father"),
        ('id = "S1"', 'id = "M1"', "piece M1 stands there twice"),
        ('generation = "stamper"', 'generation = "shell"', "key 'generation'"),
        ("hour = 4, radius_mm = 140", "hour = 14, radius_mm = 140", "key 'hour'"),
        ('format = "12in-33"\n', "", "whether it is 'recorded'"),
        ('format = "12in-33"', 'format = "13in"', "piece S1: format '13in' is unknown"),
        ("um = 204", 'um = "204"', "key 'um'"),
    ],
)
def test_a_register_that_cannot_be(runtrue: Run, old: str, new: str, words: str) -> None:
    swap("register.toml", old, new)
    outcome = runtrue("stamper", "inspect", "register.toml")
    assert (outcome.code, outcome.out, len(outcome.lines)) == (2, "", 1)
    assert words in outcome.err


def test_a_piece_nobody_entered(runtrue: Run) -> None:
    assert "known are F1, M1, S1" in runtrue("stamper", "inspect", "register.toml", "--piece", "S2").err
    assert REGISTER


def test_lives_with_the_stop_rule(runtrue: Run) -> None:
    result = whole(runtrue("stamper", "life", "retired.csv", "--now", "600", *COSTS, "--json"), 0, "life-1")
    assert result["law"]["shape_low"] < 3.0 < result["law"]["shape_high"]
    assert result["stop"]["change"] is False
    assert 600 < result["stop"]["change_at"] < 1500
    assert result["worn_out"] + result["taken_off_sound"] == result["stampers"] == 24
    outcome = runtrue("stamper", "life", "retired.csv", "--now", "1400", *COSTS)
    assert outcome.code == 3
    assert "Change the stamper now" in outcome.out


def test_too_few_lives_give_no_law(runtrue: Run) -> None:
    Path("retired.csv").write_text("stamper,impressions,worn\na,900,no\nb,1000,no\n", encoding="utf-8")
    result = whole(runtrue("stamper", "life", "retired.csv", "--json"), 4, "life-1")
    assert result["survival"] == []
    assert "No stamper was worn out" in runtrue("stamper", "life", "retired.csv").out


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("retired.csv", "--now", "600"), "give change_cost and bad_copy_cost"),
        (("retired.csv", "--now", "600", "--change-cost", "6"), "give bad_copy_cost too"),
        (("retired.csv", *COSTS), "give now"),
        (("retired.csv", "--check-every", "50"), "no stop rule without costs"),
        (("copies.csv",), "column 'worn' is missing"),
        (("none.csv",), "there is no such file"),
        (("twice.csv",), "stamper a is taken off twice"),
        (("odd.csv",), "line 2: worn 'maybe' is unknown; known are yes, no"),
        (("comma.csv",), "line 2: more values than columns; a decimal comma"),
    ],
)
def test_bad_retirements_are_one_line(runtrue: Run, arguments: tuple[str, ...], words: str) -> None:
    head = "stamper,impressions,worn\n"
    Path("twice.csv").write_text(head + "a,900,yes\na,950,yes\n", encoding="utf-8")
    Path("odd.csv").write_text(head + "a,900,maybe\n", encoding="utf-8")
    Path("comma.csv").write_text(head + "a,900,5,yes\n", encoding="utf-8")
    outcome = runtrue("stamper", "life", *arguments)
    assert (outcome.code, outcome.out, len(outcome.lines)) == (2, "", 1)
    assert words in outcome.err


def test_a_trend_names_the_impression(runtrue: Run) -> None:
    result = whole(runtrue("stamper", "trend", "copies.csv", "--limit-noise-db", "-54", *COSTS, "--json"), 0, "trend-1")
    noise = result["trends"][0]
    assert noise["crosses_low"] <= 1200 <= noise["crosses_high"]  # made: -60 dB and 0.5 dB in 100
    assert noise["safe_to"] < noise["crosses_at"]
    assert noise["stop"]["change_at"] > 800
    nulls = {item["key"] for item in result["not_judged"]}
    for row in result["trends"]:
        for key, value in row.items():
            assert value is not None or f"trends.{row['stamper']}.{row['quantity']}.{key}" in nulls
    assert (
        "surface noise meets its limit at" in runtrue("stamper", "trend", "copies.csv", "--limit-noise-db", "-54").out
    )


def test_no_sure_trend_is_no_verdict(runtrue: Run) -> None:
    assert runtrue("stamper", "trend", "copies.csv", "--limit-ticks", "20").code == 4
    Path("copies.csv").write_text("stamper,impressions,noise_db\nS1,0,-60\nS1,100,-59\n", encoding="utf-8")
    outcome = runtrue("stamper", "trend", "copies.csv", "--limit-noise-db", "-54")
    assert outcome.code == 4
    assert "measure copies at three counts or more" in outcome.out


def test_measured_copies_without_a_measurement(runtrue: Run) -> None:
    Path("copies.csv").write_text("stamper,impressions\nS1,0\n", encoding="utf-8")
    assert "holds none of noise_db, treble_db, ticks" in runtrue("stamper", "trend", "copies.csv").err


def test_beyond_the_limit_already_is_a_change_now(runtrue: Run) -> None:
    outcome = runtrue("stamper", "trend", "copies.csv", "--limit-treble-db", "5")
    assert outcome.code == 3
    assert "Change S1 now: beyond the limit in treble" in outcome.out
    result = whole(runtrue("stamper", "trend", "copies.csv", "--limit-noise-db", "-58", "--json"), 3, "trend-1")
    assert result["trends"][0]["beyond_already"]


def test_the_files_of_the_guides_load(runtrue: Run) -> None:
    guides = Path(__file__).parents[2] / "docs" / "how-to"
    page = (guides / "follow-the-metal.md").read_text(encoding="utf-8")
    block = page.partition("```toml\n")[2].partition("```")[0].replace('parent = "M1"\n', "")
    Path("register.toml").write_text(block, encoding="utf-8")
    assert runtrue("stamper", "inspect", "register.toml").code == 0
    page = (guides / "centre-a-stamper.md").read_text(encoding="utf-8")
    Path("punch.toml").write_text(page.partition("```toml\n")[2].partition("```")[0], encoding="utf-8")
    assert runtrue("stamper", "centre", "readings.csv", "--punch", "punch.toml").code == 0
    for name in ("centre-a-stamper", "follow-the-metal"):
        assert "Nickel dust" in (guides / f"{name}.md").read_text(encoding="utf-8")
