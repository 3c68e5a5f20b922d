"""The command on a list of copies: what is said, what is left out, and that one bad row stops nothing."""

import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile

from runtrue.listen.heard import Heard, Identity
from runtrue.stats.plane import plane_vector
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


def side_of_four(
    *, shared: tuple[str, ...], marks: float = 24.0, toward: dict[str, complex] | None = None
) -> dict[str, Heard]:
    """Small recordings a.wav to d.wav of one stamper at closures 100 to 400, and what each of them gave."""
    gave = {}
    for k, name in enumerate("abcd"):
        soundfile.write(f"{name}.wav", np.full((800, 2), 0.001 * (k + 1)), 44_100)
        at = 100e-6 * (toward or {}).get(name, 1.0 + 0.0j)
        one = heard(ticks=(tick(3.0, marks),) if name in shared else ())
        vector = plane_vector(at.real, at.imag, ((2e-6) ** 2, 0.0, (2e-6) ** 2))
        gave[f"{name}.wav"] = replace(one, centre=replace(one.centre, played=vector, disc=vector))
    return gave


FOUR = tuple(f"{name}.wav,{name},{100 * (k + 1)},S1" for k, name in enumerate("abcd"))


def test_a_set_that_is_held_does_not_pass(runtrue: Run, engine: FakeEngine) -> None:
    engine.by_name = side_of_four(shared=("c", "d"))
    outcome = runtrue("listen", "compare", listed(*FOUR), *ASKED, "--json")
    result = outcome.json
    assert {row["verdict"] for row in result["copies"]} == {"pass"}
    assert result["act"].startswith("Hold closures 201 to ")
    assert (outcome.code, result["verdict"]) == (4, "cannot_judge")


def test_a_set_that_shares_a_mark_of_the_metal_within_limits_passes(runtrue: Run, engine: FakeEngine) -> None:
    engine.by_name = side_of_four(shared=("a", "b", "c", "d"))
    outcome = runtrue("listen", "compare", listed(*FOUR), *ASKED, "--json")
    assert (outcome.code, outcome.json["verdict"]) == (0, "pass")
    assert "Hold" not in outcome.json["act"]


MOVES = {"a": 1.0 + 0.2j, "b": -0.4 + 0.9j, "c": 0.3 - 1.1j, "d": -0.8 - 0.3j}


@pytest.mark.parametrize(
    ("other", "bound", "said"),
    [
        ({name: 1j * value.conjugate() for name, value in MOVES.items()}, True, "the pin or the hole"),
        ({name: MOVES["adbc"["abcd".index(name)]] for name in MOVES}, False, "placing, not the pin"),
    ],
)
def test_what_moves_on_both_sides_is_the_hole(
    runtrue: Run, engine: FakeEngine, other: dict[str, complex], bound: bool, said: str
) -> None:
    engine.by_name = side_of_four(shared=(), toward=other)
    first = runtrue("listen", "compare", listed(*FOUR), *ASKED, "--json")
    assert first.json["together"] is None
    assert any(one["key"] == "together" for one in first.json["not_judged"])
    Path("b.json").write_text(first.out, encoding="utf-8")
    engine.by_name = side_of_four(shared=(), toward=MOVES)
    asked = ("listen", "compare", listed(*FOUR), *ASKED, "--other-side", "b.json")
    (row,) = runtrue(*asked, "--json").json["together"]
    assert row["bound"] is bound
    assert said in row["advice"]
    assert f"Both sides, a, b, c and d: {row['advice']}" in " ".join(runtrue(*asked).out.split())


@pytest.mark.parametrize("text", ["{", "[]", '{"schema": "runtrue/listening-1"}', '{"schema": "runtrue/copies-1"}'])
def test_an_other_side_that_is_no_result_is_refused(runtrue: Run, engine: FakeEngine, text: str) -> None:
    Path("b.json").write_text(text, encoding="utf-8")
    row = listed("capture.flac,c1,10,S1")
    outcome = runtrue("listen", "compare", row, *ASKED, "--other-side", "b.json", "--json")
    assert (outcome.code, outcome.out, len(outcome.lines)) == (2, "", 1)
    assert "other_side b.json: holds no runtrue/copies-1" in outcome.err
    assert engine.settings == []


def test_one_copy_of_other_music_is_left_out_and_the_rest_compared(runtrue: Run, engine: FakeEngine) -> None:
    engine.by_name = side_of_four(shared=("a", "b", "c")) | {"d.wav": heard(identity=Identity.OTHER)}
    outcome = runtrue("listen", "compare", listed(*FOUR), *ASKED, "--json")
    assert "copies list.csv, line 5: d.wav takes no part: it holds another programme" in outcome.err
    assert outcome.code == 3
    assert [row["plays"] for row in outcome.json["copies"]] == [1, 1, 1, 0]
    assert outcome.json["recurrences"][0]["copies"] == ["a", "b", "c"]


def test_a_copy_without_a_number_is_placed_on_its_stretches(runtrue: Run, engine: FakeEngine) -> None:
    engine.by_name = side_of_four(shared=("b", "d"), marks=30.0)
    rows = [*FOUR[:3], "d.wav,d,,S1"]
    outcome = runtrue("listen", "compare", listed(*rows), *ASKED, "--json")
    assert "d has no count; placed by the marks" in outcome.err
    (row,) = outcome.json["dated"]
    assert row["closure"] == [row["stretches"][0][0], row["stretches"][-1][1]]
    assert all(low <= high for low, high in row["stretches"])


def test_one_copy_alone_is_judged_and_nothing_is_said_of_others(runtrue: Run, engine: FakeEngine) -> None:
    engine.result = heard(ticks=(tick(3.0, 30.0),))
    outcome = runtrue("listen", "compare", listed("capture.flac,c1,10,S1"), *ASKED, "--json")
    assert outcome.code == 0
    assert outcome.json["headline"] == "One copy alone shares nothing."
    assert outcome.json["recurrences"] == []
    assert any("Fewer than two copies" in caution for caution in outcome.json["cautions"])


def test_without_a_reference_three_copies_are_needed(runtrue: Run, engine: FakeEngine) -> None:
    rows = listed("capture.flac,c1,10,S1", "reference.flac,c2,20,S1", "capture.flac,c3,30,S1")
    outcome = runtrue("listen", "compare", rows, "--format", "12in-33", "--json")
    assert (outcome.code, outcome.out, len(outcome.lines)) == (2, "", 1)
    assert "3 copies of one side are needed to serve each other; give --reference or more copies" in outcome.err
    assert engine.settings == []
