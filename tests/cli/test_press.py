"""The press's commands: what they print, and one line for what is not usable."""

import json
from collections.abc import Callable
from pathlib import Path

import jsonschema
import pytest

from runtrue.contract.schema import schema_of
from tests.cli.conftest import Outcome
from tests.press_files import CYCLE, changed

Run = Callable[..., Outcome]
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
    assert any("placeholders" in said for said in result["cautions"])
    assert {row["key"] for row in result["not_judged"]} >= {"difference"}


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
        ("thickness_mm = 12.0", "thickness_mm = -12.0", ("'steel'", "thickness_mm must be above 0", "-12 mm")),
        ("pressure_bar_g = 7.0", "pressure_bar_g = -1.0", ("pressure_bar_g must be above 0", "-1 bar")),
        ("temperature_degc = 18.0", "temperature_degc = 180.0", ("no hotter than the water", "180.0 degC")),
        ('name = "compound"', 'name = "vinyl"', ("'compound' is missing",)),
        ("duration_s = 14.0", "duration_s = 0.0", ("'water'", "duration_s must be above 0")),
        ("film_w_m2k = 7000", "", ("'water'", "'film_w_m2k' is missing")),
        ('material = "steel"', 'material = "stel"', ("material 'stel' is unknown; known are steel",)),
        ("contact_after_w_m2k = 4000", "", ("'steel'", "contact_after_w_m2k")),
        ("pressure_bar_g = 7.0", "pressure_bar_g = 7.0\ntemperature_degc = 150.0", ("7 bar gauge is steam of 170.5",)),
        ("thickness_mm = 12.0", "thicknes_mm = 12.0", ("key 'thicknes_mm' is unknown",)),
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


def test_a_property_used_beyond_its_range_is_said(runtrue: Run) -> None:
    text = changed(
        CYCLE, 'material = "vinyl"', 'material = "vinyl"\nspecific_heat_j_kgk = [[40.0, 1000.0], [90.0, 1400.0]]'
    )
    Path("range.toml").write_text(text, encoding="utf-8")
    result = runtrue("press", "cycle", "range.toml", "--json").json
    assert any("specific heat of compound is given from 40 to 90 degC" in said for said in result["cautions"])


def test_a_missing_file(runtrue: Run) -> None:
    refused(runtrue("press", "cycle", "nowhere.toml"), "press file nowhere.toml: there is no such file")


def test_results_survive_json(runtrue: Run) -> None:
    assert json.loads(runtrue("press", "cycle", "cycle.toml", "--json").out)["schema"] == "runtrue/press-cycle-1"
