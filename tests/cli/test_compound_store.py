"""The commands ``compound lot``, ``sheet``, ``balance`` and ``trace``: results and bad input."""

import json
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.cli.conftest import LINKS, LOT, LOT_LIMITS, MASSES, Outcome, biscuits_text
from tests.cli.test_compound_charge import whole

Run = Callable[..., Outcome]
pytestmark = pytest.mark.usefixtures("folder")
ASKED = ("compound", "lot", "lot.toml", "--limits", "lot-limits.toml", "--on", "2026-11-25")


def test_a_lot_is_accepted(runtrue: Run) -> None:
    result = whole(runtrue(*ASKED, "--json"), 0, "runtrue/lot-1")
    assert result["decision"] == "accept"
    assert result["shelf"]["left_days"] == 365 - 177
    assert {row["quantity"]: row["apart"] for row in result["certificate"]} == {
        "moisture_percent": pytest.approx(0.1 / 0.02**0.5, abs=1e-3), "sieve_residue_percent": None,
    }  # fmt: skip
    assert "supplier's word: sieve residue" in result["cautions"][0]
    assert "accept it" in runtrue(*ASKED).out


@pytest.mark.parametrize(
    ("old", "new", "code", "decision"),
    [
        ("value = 1.5", "value = 1.95", 4, "use_with_care"),
        ("value = 1.5", "value = 2.4", 3, "refuse"),
        ("value = 1.4", "value = 1.1", 4, "use_with_care"),
        ("shelf_life_days = 365", "shelf_life_days = 160", 3, "refuse"),
        ('quantity = "sieve_residue_percent"', 'quantity = "volatiles_percent"', 4, None),
    ],
)
def test_the_other_decisions(runtrue: Run, old: str, new: str, code: int, decision: str | None) -> None:
    Path("lot.toml").write_text(LOT.replace(old, new, 1), encoding="utf-8")
    assert whole(runtrue(*ASKED, "--json"), code, "runtrue/lot-1")["decision"] == decision


def test_earlier_lots_are_the_family(runtrue: Run) -> None:
    rows = [f"L{k},{1.5 + 0.05 * ((k * 7) % 5 - 2):.2f}" for k in range(20)]
    Path("earlier.csv").write_text("\n".join(["batch,moisture_percent", *rows]) + "\n", encoding="utf-8")
    result = whole(runtrue(*ASKED, "--family", "earlier.csv", "--json"), 0, "runtrue/lot-1")
    assert result["family"]["verdict"] == "pass"
    Path("lot.toml").write_text(LOT.replace("value = 1.5", "value = 1.0").replace("value = 1.4", "value = 1.0"))
    odd = whole(runtrue(*ASKED, "--family", "earlier.csv", "--json"), 4, "runtrue/lot-1")
    assert odd["decision"] == "use_with_care"
    assert "unlike the lots before" in odd["said"]


def trial(folder: Path, name: str, surface: float, ticks: int, identity: str = "same") -> None:
    """As much of a listening result as a trial is compared by."""
    made = {
        "schema": "runtrue/listening-1", "programme": {"identity": identity}, "noise": {"surface_db_a": surface},
        "ticks": [{}] * ticks, "findings": [{"quantity": "surface_db_a", "u95": 0.4}],
    }  # fmt: skip
    (folder / name).write_text(json.dumps(made), encoding="utf-8")


TRIAL = '[trial]\nstamper = "A-M2-S3"\ntrial = "t.json"\nproved = "p.json"\n'
TRIAL_LIMIT = '[[limit]]\nquantity = "trial_surface_difference_db"\nupper = 2\nsource = "house"\n'


@pytest.mark.parametrize(
    ("level", "code", "decision"), [(-50.5, 0, "accept"), (-46.0, 3, "refuse"), (-49.0, 4, "use_with_care")]
)
def test_a_trial_pressing_counts(runtrue: Run, level: float, code: int, decision: str) -> None:
    trial(Path(), "t.json", level, 3)
    trial(Path(), "p.json", -51.0, 2)
    Path("lot.toml").write_text(LOT + TRIAL, encoding="utf-8")
    Path("lot-limits.toml").write_text(LOT_LIMITS + TRIAL_LIMIT, encoding="utf-8")
    result = whole(runtrue(*ASKED, "--json"), code, "runtrue/lot-1")
    assert result["decision"] == decision
    assert result["trial"]["surface_difference_db"] == pytest.approx(level + 51.0)


def test_a_trial_of_other_music_is_not_judged(runtrue: Run) -> None:
    trial(Path(), "t.json", -50.0, 3, identity="other")
    trial(Path(), "p.json", -51.0, 2)
    Path("lot.toml").write_text(LOT + TRIAL, encoding="utf-8")
    Path("lot-limits.toml").write_text(LOT_LIMITS + TRIAL_LIMIT, encoding="utf-8")
    assert whole(runtrue(*ASKED, "--json"), 4, "runtrue/lot-1")["decision"] is None


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("value = 1.5", "value = -1.5", "[measured] number 1: moisture_percent must be 0 or more, got -1.5"),
        ("value = 1.5", "value = nan", "[measured] number 1: key 'value'"),
        ('"moisture_percent"', '"moisture"', "quantity 'moisture' is unknown"),
        ("received = 2026-11-02", "received = 2027-11-02", "received 2027-11-02 lies after 2026-11-25"),
        ("made = 2026-06-01", "made = 2026-11-20", "made 2026-11-20 lies after received"),
        ("[[certificate]]", f"{TRIAL}[[certificate]]", "trial t.json: there is no such file"),
    ],
)  # fmt: skip
def test_bad_lots_are_one_line(runtrue: Run, old: str, new: str, words: str) -> None:
    Path("lot.toml").write_text(LOT.replace(old, new, 1), encoding="utf-8")
    refused(runtrue(*ASKED), words)


def refused(outcome: Outcome, words: str) -> None:
    assert (outcome.code, outcome.out) == (2, ""), outcome.out
    assert len(outcome.lines) == 1
    assert words in outcome.err


SHEET = ("compound", "sheet", "biscuits.csv", "--limits", "biscuit-limits.toml")


def test_sheet(runtrue: Run) -> None:
    row = whole(runtrue(*SHEET, "--json"), 0, "runtrue/sheet-1")["rows"][0]
    assert row["cpk_interval"][0] > 1.33
    Path("biscuits.csv").write_text(biscuits_text(step=4.0), encoding="utf-8")
    stepped = whole(runtrue(*SHEET, "--json"), 3, "runtrue/sheet-1")["rows"][0]
    assert stepped["changed"][0] <= 41 <= stepped["changed"][1]
    assert "the mean changed" in runtrue(*SHEET).out
    Path("biscuits.csv").write_text(biscuits_text(sigma=1.9), encoding="utf-8")
    assert whole(runtrue(*SHEET, "--json"), 4, "runtrue/sheet-1")["verdict"] == "cannot_judge"


@pytest.mark.parametrize(
    ("content", "words"),
    [
        ("biscuit_mass\n208\n", "column 'biscuit_mass' is unknown"),
        ("time,batch\n1,2\n", "no column holds a reading"),
        ("biscuit_mass_g\n208\n207\n", "biscuit_mass_g has 2 readings; at least 5"),
        ("biscuit_mass_g\n208\n-207\n", "line 3: biscuit_mass_g must be 0 or more"),
    ],
)
def test_bad_readings_are_one_line(runtrue: Run, content: str, words: str) -> None:
    Path("biscuits.csv").write_text(content, encoding="utf-8")
    refused(runtrue(*SHEET), words)


BALANCE = ("compound", "balance", "masses.csv")


def test_balance(runtrue: Run) -> None:
    result = whole(runtrue(*BALANCE, "--gap-limit-percent", "2", "--json"), 0, "runtrue/compound-balance-1")
    assert result["gap_kg"] == pytest.approx(110 - 600 * 0.1402 - 18.4 - 2.1 - 5.2)
    assert result["closes"]
    assert result["to_grind_kg"] == pytest.approx(23.6)
    Path("masses.csv").write_text(MASSES.replace("18.4", "8.4"), encoding="utf-8")
    lost = whole(runtrue(*BALANCE, "--gap-limit-percent", "2", "--json"), 3, "runtrue/compound-balance-1")
    assert "does not close" in lost["said"]
    assert whole(runtrue(*BALANCE, "--json"), 0, "runtrue/compound-balance-1")["verdict"] is None


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("compound_in", "pellets_in", "line 2: post 'pellets_in' is unknown"),
        ("pellets,100,", "pellets,,", "line 2: give kg, or count and each_g"),
        ("pellets,100,", "pellets,-100,", "line 2: kg must be 0 kg or more"),
        ("each_g,", "each,", "column 'each' is unknown"),
    ],
)
def test_bad_masses_are_one_line(runtrue: Run, old: str, new: str, words: str) -> None:
    Path("masses.csv").write_text(MASSES.replace(old, new, 1), encoding="utf-8")
    refused(runtrue(*BALANCE), words)


TRACE = ("compound", "trace", "links.csv")


def test_trace_both_ways(runtrue: Run) -> None:
    lot = whole(runtrue(*TRACE, "--lot", "SH-0411", "--json"), 0, "runtrue/trace-1")
    assert [(h["press"], h["batch"]) for h in lot["hours"]] == [("P1", "B-401"), ("P2", "B-401"), ("P2", "B-402")]
    assert lot["hours"][0]["from_time"] == "2026-11-25T06:06:00Z"
    back = whole(
        runtrue(*TRACE, "--press", "P2", "--from-time", "2026-11-25T11:00:00Z", "--json"), 0, "runtrue/trace-1"
    )
    assert [(b["batch"], b["how"]) for b in back["batches"]] == [("B-402", "surely")]
    assert back["batches"][0]["lots"] == ["SH-0411 (shellac, flake)", "SL-77 (slate, ground)"]
    assert "maybe B-402" in runtrue(*TRACE, "--press", "P2", "--to-time", "2026-11-25T07:00:00Z").out
    assert "B-402" in runtrue(*TRACE, "--batch", "B-402").out


@pytest.mark.parametrize(
    ("old", "new", "more", "words"),
    [
        ("made,,,B-401", "baked,,,B-401", ("--lot", "SH-0411"), "line 5: kind 'baked' is unknown"),
        (",1,500,10", ",500,1,10", ("--lot", "SH-0411"), "line 5: biscuits 500 to 1: first must be"),
        ("T10:00:00Z", "T05:00:00Z", ("--lot", "SH-0411"), "line 7: press P1: its hours end before they begin"),
        ("2026-11-25T06:00:00Z", "six", ("--lot", "SH-0411"), "line 7: from_time 'six' is no time"),
        ("", "", ("--lot", "X"), "lot 'X': no batch was weighed from it"),
        ("", "", ("--press", "P9"), "press 'P9': no link knows it"),
        ("", "", (), "one of lot, batch and press"),
    ],
)
def test_bad_links_are_one_line(runtrue: Run, old: str, new: str, more: tuple[str, ...], words: str) -> None:
    Path("links.csv").write_text(LINKS.replace(old, new, 1) if old else LINKS, encoding="utf-8")
    refused(runtrue(*TRACE, *more), words)
