"""The book from the command line: what is printed, the exit codes, and a question that was asked before."""

import json
import shlex
from collections.abc import Callable
from hashlib import sha256
from pathlib import Path

import pytest

from runtrue.records import asking, open_book, tables
from runtrue.records.results import Results
from runtrue.workflow.actions import Action, Kind, actions, asks
from tests.cli.conftest import Outcome
from tests.fakes import FakeEngine

Run = Callable[..., Outcome]
CHECK = ("listen", "check", "capture.flac", "--reference", "reference.flac", "--format", "12in-33")
WRITTEN = 1
"""Analyses in the book of Quillmere."""
pytestmark = pytest.mark.usefixtures("folder", "book")


def test_a_new_book(runtrue: Run, tmp_path: Path) -> None:
    first = runtrue("book", "init", "--plant", "Weir", "--book", str(tmp_path / "new.sqlite"), "--json")
    assert (first.code, first.json["plant"], first.json["entries"]) == (0, "Weir", 1)
    assert runtrue("book", "init", "--book", str(tmp_path / "new.sqlite")).code == 0
    assert runtrue("book", "check", "--book", str(tmp_path / "new.sqlite"), "--json").json["verdict"] == "pass"


def test_no_book(runtrue: Run) -> None:
    outcome = runtrue("book", "log", "--book", "nowhere.sqlite")
    assert (outcome.code, outcome.out) == (2, "")
    assert "there is no book; begin one with `runtrue book init`" in outcome.lines[0]


def test_the_answer_comes_first(runtrue: Run) -> None:
    outcome = runtrue("book", "recall", "--run", "R1", "--first", "181", "--last", "352")
    lines = outcome.out.splitlines()
    assert lines[0] == "8 boxes surely hold some: 7, 9 to 14, 16."
    assert lines[1].startswith("Recall boxes 7, 9 to 14, 16 of consignment C-1.")


@pytest.mark.parametrize(
    ("words", "says"),
    [
        ("pile --run R1 --pile 30 --first 900 --last 940", "overlap a pile (19), closures 883 to 931"),
        ("pile --run R1 --pile 30 --first 960 --last 950", "run backward"),
        ("pile --run R1 --pile 30 --last 2000", "closure 2000 is beyond the counter: run R1 has counted 980"),
        ("box --run R1 --box 99 --records 90", "90 records are to leave 'good' and 84 are there"),
        ("box --run R1 --pile 18 --box 99 --records 9", "9 more are not there"),
        ("box --run R1 --box 9 --records 1", "box 9 of job J-11 was shipped"),
        ("sample --run R1 --sample x --closure 981", "closure 981 is beyond the counter: run R1 has counted 980"),
        ("sample --run R1 --sample c1 --closure 950", "sample 'c1' is in the book already"),
        ("blank --run R1 --first 3 --last 2", "run backward"),
        ("read --run R1 --counter 5", "below the reading before it, 980"),
        ("change --run R1 --what stamper_a --to A-M1", "is a mother; a stamper goes on the press"),
        ("metal --metal X --matrix Q --generation stamper --parent A-M1", "is of matrix QRW-0417-A, not Q"),
        ("consign --consignment C-9 --pallet PL-1", "was shipped already"),
        ("withdraw 1", "cannot be taken back"),
        ("withdraw 99999", "there is no entry of this number"),
        ("ticket --job J-11 --title T --format 12in-33 --ordered 1 --matrix-a M", "is in the book already"),
        ("gauge --gauge G --quantity mass --unit g --reference nan --reading 1 --tolerance 1", "nan"),
    ],
)
def test_what_cannot_be_is_refused_in_one_line(runtrue: Run, words: str, says: str) -> None:
    before = runtrue("book", "check", "--json").json
    outcome = runtrue("book", *words.split())
    assert (outcome.code, outcome.out) == (2, "")
    assert len(outcome.lines) == 1
    assert says in outcome.lines[0]
    after = runtrue("book", "check", "--json").json
    assert (after["entries"], after["verdict"]) == (before["entries"], "pass")


@pytest.mark.parametrize("action", [one for one in actions() if one.station == "book"], ids=lambda one: one.name)
def test_what_is_no_value_is_told_in_one_line(runtrue: Run, action: Action) -> None:
    """Bytes that are no text, nothing, more than is ever counted, a folder: in every field of every paper."""
    program, *example = shlex.split(action.example)
    assert program == "runtrue"
    places = [item.name for item, how in asks(action.request) if how.positional]
    for item, how in asks(action.request):
        tried = {Kind.TEXT: ["\udcff", ""], Kind.WHOLE: ["9" * 20], Kind.PATH: ["/"], Kind.NUMBER: ["nan", "1e999"]}
        for value in ["/"] if item.name == "book" else tried.get(how.kind, []):
            option, words = f"--{item.name.replace('_', '-')}", list(example)
            if how.positional:
                words[2 + places.index(item.name)] = value
            elif option in words:
                words[words.index(option) + 1] = value
            else:
                words += [option, value]
            outcome = runtrue(*words)
            assert outcome.code in (0, 2, 3, 4), (words, outcome)
            if outcome.code == 2:
                assert (outcome.out, len(outcome.lines)) == ("", 1), (words, outcome)
    assert runtrue("book", "check").code == 0


def test_a_wrong_title_on_the_press_is_kept_and_fails(runtrue: Run) -> None:
    """The root of the famous wrong-music pressings: a stamper of the other side, found by its scribing."""
    outcome = runtrue(
        "book", "set-up", "--run", "R9", "--job", "J-11", "--press", "P1", "--stamper-a", "B-M1-S1", "--stamper-b",
        "B-M1-S2", "--scribing-a", "QRW-0417-B", "--scribing-b", "QRW-0417-B", "--clearance", "pass", "--json",
    )  # fmt: skip
    assert (outcome.code, outcome.json["verdict"]) == (3, "fail")
    assert "B-M1-S1 is of QRW-0417-B in the register" in outcome.json["cautions"][0]


def test_a_question_asked_before_is_a_look_up(runtrue: Run, engine: FakeEngine, folder: Path) -> None:
    first = runtrue(*CHECK, "--json")
    (folder / "capture.flac").rename(folder / "renamed.flac")
    again = runtrue(*(word.replace("capture", "renamed") for word in CHECK), "--json")
    assert len(engine.settings) == 1
    assert again.code == first.code
    assert again.json == {**first.json, "input": {**first.json["input"], "file": "renamed.flac"}}
    runtrue(*(word.replace("capture", "renamed") for word in CHECK), "--rpm", "33.4")
    assert len(engine.settings) == 2
    log = runtrue("book", "log", "--kind", "analysis", "--json").json
    assert len(log["entries"]) == WRITTEN + 2
    assert runtrue("book", "check").code == 0


def test_a_placing_of_a_sample(runtrue: Run, engine: FakeEngine) -> None:
    assert runtrue(*CHECK, "--sample", "c1").code == 0
    chain = runtrue("book", "chain", "c1", "--json").json
    assert {"play", "analysis"} <= {link["kind"] for link in chain["links"]}
    assert runtrue("book", "job", "J-11", "--json").json["analyses"] == 1
    unknown = runtrue(*CHECK, "--sample", "nobody")
    assert (unknown.code, unknown.out) == (2, "")
    assert len(engine.settings) == 1


def test_without_a_book_nothing_is_kept(
    runtrue: Run, engine: FakeEngine, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    kept = runtrue(*CHECK, "--json")
    monkeypatch.setenv("RUNTRUE_BOOK", str(folder / "none.sqlite"))
    before = sorted(folder.iterdir())
    assert runtrue(*CHECK, "--json").json == kept.json
    assert len(engine.settings) == 2
    assert sorted(folder.iterdir()) == before


def test_a_default_book_that_cannot_be_opened_costs_no_result(
    runtrue: Run, engine: FakeEngine, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (folder / "spoiled.sqlite").write_bytes(b"no book" * 999)
    monkeypatch.setenv("RUNTRUE_BOOK", str(folder / "spoiled.sqlite"))
    outcome = runtrue(*CHECK, "--json")
    assert outcome.code == 0
    assert any("was not entered in the book" in caution for caution in outcome.json["cautions"])
    named = runtrue(*CHECK, "--book", str(folder / "spoiled.sqlite"))
    assert (named.code, named.out) == (5, "")
    assert len(engine.settings) == 1


def test_findings_of_a_station_stand_in_the_book(runtrue: Run, folder: Path) -> None:
    asked = ("stamper", "centre", "readings.csv", "--limit-offset-um", "65", "--json")
    printed = runtrue(*asked).json
    assert runtrue(*asked).code == 0  # the same again is there
    assert len(runtrue("book", "log", "--kind", "analysis", "--json").json["entries"]) == WRITTEN + 1
    opened = open_book(str(folder / "book.sqlite"))
    with opened.read() as connection:
        kept = asking.newest(connection, tables.Analysed)
        read = asking.rows_of(connection, tables.AnalysedInput, [kept.entry])
        found = asking.rows_of(connection, tables.Found, [kept.entry])
    assert (kept.action, kept.method, kept.verdict) == ("stamper centre", printed["schema"], printed["verdict"])
    assert [(one.role, one.name, one.digest) for one in read] == [
        ("readings", "readings.csv", sha256((folder / "readings.csv").read_bytes()).hexdigest())
    ]
    assert [(one.quantity, one.value, one.upper, one.verdict) for one in found] == [
        (one["quantity"], one["value"], one["upper"], one["verdict"]) for one in printed["findings"]
    ]
    files = Results(opened.place.store).get(kept.key)
    assert files is not None
    assert json.loads(files["report.json"]) == printed


def test_work_waits_and_is_done(runtrue: Run, engine: FakeEngine) -> None:
    assert runtrue("book", "later", *CHECK[2:]).code == 0
    assert engine.settings == []
    done = runtrue("work", "--json").json
    assert {task["state"] for task in done["tasks"]} == {"done", "failed"}  # one of the book's tasks has no file
    assert runtrue(*CHECK).code == 0
    assert len(engine.settings) == 1
