"""A client on the pages of a small invented plant's book; a told story; a browser where the machine has one."""

import os
import re
import shutil
import sqlite3
import subprocess
import sys
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass, replace
from importlib.resources import files
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient

from runtrue.records import Book, open_book
from runtrue.web.app import make_app
from runtrue.workflow.actions import system_ports
from tests.booked import ports_of, quillmere
from tests.pages.story import told_once

ARGUMENTS = [
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync", "--autoplay-policy=no-user-gesture-required",
]  # fmt: skip


@pytest.fixture(scope="session")
def book(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Book]:
    found = quillmere(str(tmp_path_factory.mktemp("pages") / "book.sqlite"))
    yield found
    found.close()


@pytest.fixture(scope="session")
def client(book: Book) -> Iterator[TestClient]:
    with TestClient(make_app(ports_of(book)), base_url="http://127.0.0.1") as found:
        yield found


@pytest.fixture(scope="session")
def story(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """Folder of the told story, made once for all processes of a test run."""
    shared = tmp_path_factory.getbasetemp()
    with told_once(shared.parent if "PYTEST_XDIST_WORKER" in os.environ else shared) as folder:
        yield folder


def own_copy(story: Path, folder: Path) -> Path:
    """A book of its own out of the story's, with a press file beside it."""
    # by SQLite itself: what was written last may still lie in the file beside the book
    with (
        closing(sqlite3.connect(story / "book.sqlite")) as told,
        closing(sqlite3.connect(folder / "book.sqlite")) as own,
    ):
        told.backup(own)
    shutil.copytree(story / "book-store", folder / "book-store", copy_function=os.link)
    (folder / "press").mkdir()
    shutil.copy(str(files("runtrue.demo").joinpath("press.toml")), folder / "press" / "P2.toml")
    return folder / "book.sqlite"


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """A client on the story, and its book."""

    client: TestClient
    book: Book
    folder: Path

    def token(self) -> str:
        """The token of this client's forms."""
        found = re.search(r'name="token" content="([0-9a-f]+)"', self.client.get("/").text)
        assert found is not None
        return found[1]

    def recording(self, copy: str) -> str:
        """Path of a copy's recording."""
        lines = self.client.get("/recordings.json").json()["lines"]
        return str(next(line["href"] for line in lines if line["copy"] == copy))


@pytest.fixture
def told(story: Path, tmp_path: Path) -> Iterator[Told]:
    """The story to change at will."""
    book = open_book(str(own_copy(story, tmp_path)))
    ports = replace(system_ports(), who="Tamsin Vey", open_book=lambda _given: book)
    with TestClient(make_app(ports), base_url="http://127.0.0.1") as client:
        yield Told(client=client, book=book, folder=story)
    book.close()


@pytest.fixture(scope="session")
def browser() -> Iterator[Any]:
    """Debian's chromium; without it the browser's tests are told as not run, under CI they fail."""
    path = shutil.which("chromium")
    if path is None:
        if os.environ.get("CI"):
            pytest.fail("chromium is not installed: .ci/run installs it")
        pytest.skip("not run: there is no chromium on this machine")
    from playwright.sync_api import sync_playwright

    with sync_playwright() as tool:
        found = tool.chromium.launch(executable_path=path, args=ARGUMENTS)
        yield found
        found.close()


@contextmanager
def serving(book: Path) -> Iterator[tuple["subprocess.Popen[str]", int]]:
    """`runtrue serve` on a book in a process of its own, and its port."""
    command = [sys.executable, "-m", "runtrue", "serve", "--book", str(book), "--port", "0"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        said = process.stdout.readline()
        found = re.search(r"http://127\.0\.0\.1:(\d+)", said)
        assert found is not None, said
        try:
            yield process, int(found[1])
        finally:  # a test that failed must not wait for a server that goes on
            process.terminate()
            try:
                process.wait(20)
            except subprocess.TimeoutExpired:
                process.kill()


@pytest.fixture(scope="session")
def served(story: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Address of the story's pages as `runtrue serve` serves them, with its worker."""
    with serving(own_copy(story, tmp_path_factory.mktemp("served"))) as (_, port):
        yield f"http://127.0.0.1:{port}"
