"""Printed digits change only together with a ``numbers`` fragment."""

import json
import re
from typing import Any

import pytest

from tools import golden

_TELL = "a printed value changed: write changes/NNN.numbers.md, then python -m tools.golden"


@pytest.fixture(scope="module")
def table() -> Any:
    return json.loads(golden.TABLE.read_text(encoding="utf-8"))


def test_worked_out_digits(table: Any) -> None:
    assert golden.worked_out() == table["results"]["worked out"], _TELL


@pytest.mark.sound
def test_heard_digits(table: Any) -> None:
    assert golden.heard() == table["results"]["heard"], _TELL


def test_the_table_and_its_fragment_belong_together(table: Any) -> None:
    newest = golden.newest_fragment()
    assert newest is not None
    assert newest.name == table["fragment"], f"{newest.name} is newer than the table: python -m tools.golden"
    assert golden.stated_digest(newest) == golden.digest(table["results"]), "one of them was changed alone"


def test_there_are_a_dozen() -> None:
    results = json.loads(golden.TABLE.read_text(encoding="utf-8"))["results"]
    assert sum(len(rows) for rows in results.values()) >= 12


def test_fragments_have_a_number_and_a_kind() -> None:
    for path in golden.FRAGMENTS.glob("*.md"):
        if path.name != "README.md":
            assert re.fullmatch(r"\d{3}\.(added|changed|fixed|numbers)\.md", path.name), path.name
            assert path.read_text(encoding="utf-8").strip(), path.name
