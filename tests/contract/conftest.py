"""A fresh book on each of the two databases. The server is started once, books are copies of two that are made once."""

import shutil
from collections.abc import Callable, Iterator
from itertools import count
from pathlib import Path

import pytest

from runtrue.records import Book, open_book
from tests.booked import empty_book, quillmere
from tests.postgres import database, server, wanted

_NUMBERS = count()
_MAKERS: dict[str, Callable[[str], Book]] = {"empty": empty_book, "whole": quillmere}


@pytest.fixture(scope="session")
def postgres() -> Iterator[str]:
    """Address of a PostgreSQL server; without one the test is not run, under CI it fails."""
    try:
        with server() as address:
            yield address
    except LookupError as missing:
        if wanted():
            pytest.fail(str(missing))
        pytest.skip(f"not run: {missing}")


@pytest.fixture(scope="session", params=["sqlite", "postgresql"])
def fresh(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Callable[..., str]]:
    """Gives the place of a new book: ``fresh(folder, "empty")``; without a name nothing is there yet."""
    folder = tmp_path_factory.mktemp(str(request.param))
    if request.param == "sqlite":
        for name, make in _MAKERS.items():
            make(str(folder / f"{name}.sqlite")).close()

        def copy(where: Path, name: str = "") -> str:
            place = where / f"book{next(_NUMBERS)}.sqlite"
            if name:
                shutil.copy(folder / f"{name}.sqlite", place)
            return str(place)

        yield copy
        return
    address = request.getfixturevalue("postgres")
    for name, make in _MAKERS.items():
        make(database(address, name)).close()
    yield lambda _where, name="": database(address, f"book{next(_NUMBERS)}", template=name or "template1")


@pytest.fixture
def place(fresh: Callable[..., str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> str:
    """Where a book may be begun."""
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    return fresh(tmp_path)


@pytest.fixture
def empty(fresh: Callable[..., str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Book]:
    """A book without a job."""
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    book = open_book(fresh(tmp_path, "empty"))
    yield book
    book.close()


@pytest.fixture
def whole(fresh: Callable[..., str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Book]:
    """The book of Quillmere."""
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    book = open_book(fresh(tmp_path, "whole"))
    yield book
    book.close()
