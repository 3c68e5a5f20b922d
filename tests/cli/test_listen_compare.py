"""The command on a list of copies: what is said, what is left out, and that one bad row stops nothing."""

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from runtrue.listen.heard import Identity
from tests.cli.conftest import Outcome
from tests.fakes import FakeEngine, heard, tick

Run = Callable[..., Outcome]
ASKED = ("--reference", "reference.flac", "--format", "12in-33")

pytestmark = pytest.mark.usefixtures("folder")


def listed(*rows: str, columns: str = "file,copy,closure,stamper") -> str:
    Path("list.csv").write_text("\n".join([columns, *rows]) + "\n", encoding="utf-8")
    return "list.csv"


def compared(runtrue: Run, name: str) -> Any:
    outcome = runtrue("listen", "compare", name, *ASKED, "--json")
    assert outcome.code in (0, 3, 4), outcome.err
    return json.loads(outcome.out)


def test_a_tick_on_both_copies_is_a_recurrence_with_odds_that_add_up(runtrue: Run, engine: FakeEngine) -> None:
    engine.result = heard(ticks=(tick(3.0, 30.0), tick(8.0, 14.0)))
    result = compared(runtrue, listed("capture.flac,c1,10,S1", "reference.flac,c2,20,S1"))
    assert result["schema"] == "runtrue/copies-1"
    (loud, *_) = [row for row in result["recurrences"] if abs(row["programme_s"] - 3.0) < 1e-3]
    assert loud["copies"] == ["c1", "c2"]
    total = sum(one["probability"] for one in loud["origins"]) + loud["chance_probability"] + loud["none_of_these"]
    assert total == pytest.approx(1.0, abs=0.02)
    assert {"cut", "father", "mother", "stamper"} <= {one["origin"] for one in loud["origins"]}
    assert any({"cut", "mother"} <= {one["origin"] for one in tie["origins"]} for tie in loud["cannot_tell_apart"])
    assert loud["next"]["to_s"] > loud["next"]["from_s"]


def test_the_page_says_who_and_what_next(runtrue: Run, engine: FakeEngine) -> None:
    engine.result = heard(ticks=(tick(3.0, 30.0),))
    outcome = runtrue("listen", "compare", listed("capture.flac,c1,10,S1", "reference.flac,c2,20,S1"), *ASKED)
    assert outcome.out.startswith("Every copy that could show it has one tick at 0:03.0.")
    assert "Cannot tell apart" in outcome.out
    assert "Next: play " in outcome.out


def test_a_copy_of_other_music_takes_no_part_and_fails(runtrue: Run, engine: FakeEngine) -> None:
    engine.result = heard(identity=Identity.OTHER)
    result = compared(runtrue, listed("capture.flac,c1,10,S1", "reference.flac,c2,20,S1"))
    assert result["verdict"] == "fail"
    assert all("another programme" in row["reason"] for row in result["copies"])
    assert result["recurrences"] == []


@pytest.mark.parametrize(
    ("row", "said"),
    [
        ("capture.flac,c2,20,S1", "it is the same recording as capture.flac"),
        ("nowhere.flac,c2,20,S1", "nowhere.flac"),
        ("played.csv,c2,20,S1", "played.csv takes no part"),
    ],
)
def test_a_bad_row_is_named_and_the_rest_judged(runtrue: Run, engine: FakeEngine, row: str, said: str) -> None:
    engine.result = heard(ticks=(tick(3.0, 30.0),))
    outcome = runtrue("listen", "compare", listed("capture.flac,c1,10,S1", row), *ASKED, "--json")
    result = outcome.json
    assert said in (outcome.err + json.dumps(result))
    assert result["copies"][0]["plays"] == 1
    assert result["copies"][1]["plays"] == 0
    assert result["copies"][1]["reason"]
    assert any("Fewer than two copies" in caution for caution in result["cautions"])


@pytest.mark.parametrize(
    ("columns", "rows", "said"),
    [
        ("file,copy,colour", ("capture.flac,c1,red", "reference.flac,c2,red"), "column 'colour' is unknown"),
        ("file,copy,closure", ("capture.flac,c1,20", "reference.flac,c2,10"), "the counts do not rise"),
        ("file,copy,closure", ("capture.flac,c1,20", "reference.flac,c2,"), "c2 has no count"),
        ("file,copy,closure", ("capture.flac,c1,20", "reference.flac,c2,ten"), "'ten' is no whole number"),
        ("file,copy,closure", ("capture.flac,c1,20", "reference.flac,c1,30"), "has the closures 20 and 30"),
        ("file,copy,washed", ("capture.flac,c1,yes", "reference.flac,c2,perhaps"), "neither yes nor no"),
        ("file,copy", ("capture.flac,c1", "reference.flac,c2"), "no stamper is stated"),
    ],
)
def test_what_is_odd_in_the_list_is_said_and_the_rest_judged(
    runtrue: Run, engine: FakeEngine, columns: str, rows: tuple[str, ...], said: str
) -> None:
    engine.result = heard(ticks=(tick(3.0, 30.0),))
    outcome = runtrue("listen", "compare", listed(*rows, columns=columns), *ASKED, "--json")
    assert outcome.code == 0
    assert said in outcome.err
    assert any(said in caution for caution in outcome.json["cautions"])
    assert sum(row["plays"] for row in outcome.json["copies"]) == 2


@pytest.mark.parametrize(
    ("columns", "row", "said"),
    [
        ("copy,closure", "c1,10", "column 'file' is missing"),
        ("file;copy", "capture.flac;c1", "parted by ';'"),
        ("file,copy", "none.flac,c1", "nor any other file of the list"),
        ("file,copy", ",c1", "file is empty"),
    ],
)
def test_a_list_that_is_no_use_is_one_line_and_no_result(
    runtrue: Run, engine: FakeEngine, columns: str, row: str, said: str
) -> None:
    outcome = runtrue("listen", "compare", listed(row, columns=columns), *ASKED, "--json")
    assert (outcome.code, outcome.out) == (2, "")
    assert said in outcome.err
    assert len(outcome.lines) == 1
    assert engine.settings == []
