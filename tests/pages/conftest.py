"""A client on the pages of a small invented plant's book, and a browser where the machine has one."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from runtrue.records import Book
from runtrue.web.app import make_app
from tests.booked import ports_of, quillmere


@pytest.fixture(scope="session")
def book(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Book]:
    found = quillmere(str(tmp_path_factory.mktemp("pages") / "book.sqlite"))
    yield found
    found.close()


@pytest.fixture(scope="session")
def store(book: Book) -> Path:
    return book.place.store


@pytest.fixture(scope="session")
def client(book: Book) -> Iterator[TestClient]:
    with TestClient(make_app(ports_of(book)), base_url="http://127.0.0.1") as found:
        yield found
