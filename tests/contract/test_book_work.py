"""Work that waits, results and captures by digest, two writers, kills: on both databases."""

import multiprocessing
import threading
import time
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta
from hashlib import sha256
from pathlib import Path

import pytest
from sqlalchemy import select

from bench.book_kill import run as kill
from runtrue.errors import InputError, MissingFileError, SurroundingsError
from runtrue.records import Book, captures, open_book, queue
from runtrue.records.results import CONTENTS, Results, tidy
from runtrue.records.tables import Entry
from tests.booked import Clerk
from tests.contract.test_book import places, problems, small_run

AT = datetime(2026, 11, 25, 8, tzinfo=UTC)
KEY = sha256(b"key").hexdigest()


class TestQueue:
    def add(self, book: Book, name: str = "listen check") -> object:
        return queue.add(book, action=name, request={"a": 1}, who="x", at=AT)

    def state(self, book: Book) -> list[str]:
        with book.read() as connection:
            return [row.state for row in queue.tasks(connection)]

    def test_a_piece_is_one_workers_until_its_lease_is_over(self, empty: Book) -> None:
        task = self.add(empty)
        first = queue.take(empty, "w1", AT)
        assert first is not None
        assert (first.id, first.request) == (task, {"a": 1})
        assert queue.take(empty, "w2", AT + queue.LEASE / 2) is None
        assert queue.renew(empty, task, "w1", AT + queue.LEASE / 2, doing="half", share=0.5)
        assert queue.take(empty, "w2", AT + queue.LEASE) is None
        second = queue.take(empty, "w2", AT + 2 * queue.LEASE)
        assert second is not None
        assert second.attempts == 2
        assert not queue.renew(empty, task, "w1", AT + 2 * queue.LEASE, doing="late", share=0.9)
        assert not queue.finish(empty, task, "w1", AT, state="done", result=KEY)
        assert queue.finish(empty, task, "w2", AT, state="done", result=KEY)
        assert self.state(empty) == ["done"]

    def test_cancelled(self, empty: Book) -> None:
        waiting, running = self.add(empty), None
        assert queue.cancel(empty, waiting, AT) == "waiting"
        running = self.add(empty)
        assert queue.take(empty, "w1", AT) is not None
        assert queue.cancel(empty, running, AT) == "running"
        assert not queue.renew(empty, running, "w1", AT, doing="", share=0.1)
        assert queue.take(empty, "w2", AT + 2 * queue.LEASE) is None
        assert self.state(empty) == ["cancelled", "cancelled"]

    def test_what_kills_worker_after_worker_is_given_up(self, empty: Book) -> None:
        self.add(empty)
        for n in range(queue.MOST_ATTEMPTS):
            assert queue.take(empty, f"w{n}", AT + 2 * n * queue.LEASE) is not None
        assert queue.take(empty, "w", AT + 99 * queue.LEASE) is None
        assert self.state(empty) == ["failed"]

    def test_a_clock_that_was_set_back_holds_no_piece(self, empty: Book) -> None:
        self.add(empty)
        assert queue.take(empty, "w1", AT) is not None
        assert queue.take(empty, "w2", AT - timedelta(days=30)) is not None

    def test_workers_beside_each_other_never_have_the_same(self, empty: Book) -> None:
        for _ in range(12):
            self.add(empty)
        with ThreadPoolExecutor(4) as pool:
            taken = list(pool.map(lambda n: queue.take(empty, f"w{n}", AT), range(16)))
        ids = [one.id for one in taken if one is not None]
        assert len(ids) == len(set(ids)) == 12


class TestTwoWriters:
    def test_the_second_waits_and_nothing_is_overwritten(self, empty: Book) -> None:
        small_run(empty)

        def write(number: int) -> None:
            Clerk(empty)("sample", run="R1", sample=f"s{number}", closure=number + 1)

        with ThreadPoolExecutor(4) as pool:
            list(pool.map(write, range(20)))
        assert places(empty)["sample"] == 20
        assert problems(empty) == []

    def test_or_is_told(self, empty: Book, monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.setattr("runtrue.records.engine.WAIT", 0.2)
        empty.close()
        book = open_book(str(empty.place.file or empty.place.url))
        free, held = threading.Event(), threading.Event()

        def hold() -> None:
            with empty.change():
                held.set()
                free.wait(20)

        holder = threading.Thread(target=hold)
        holder.start()
        held.wait(20)
        try:
            with pytest.raises(SurroundingsError, match="is being written by another program"):
                Clerk(book)("ticket", job="J", title="T", format="12in-33", ordered=1, matrix_a="M")
        finally:
            free.set()
            holder.join()
            book.close()
        assert problems(empty) == []


def put_many(store: Path, number: int) -> None:
    results = Results(store)
    for n in range(20):
        content = f"content {n} ".encode() * 5000
        results.put(sha256(content).hexdigest(), {"a.json": content, "b.npz": content[::-1]})
        assert results.get(sha256(content).hexdigest()) is not None


class TestResults:
    def test_whole_or_not_there(self, tmp_path: Path) -> None:
        results = Results(tmp_path)
        assert results.get(KEY) is None
        results.put(KEY, {"report.json": b"{}"})
        results.put(KEY, {"report.json": b"another"})
        assert results.get(KEY) == {"report.json": b"{}"}
        torn = tmp_path / "results" / KEY[:2] / KEY / "report.json"
        torn.write_bytes(b"")
        assert results.get(KEY) is None
        results.put(KEY, {"report.json": b"{}"})
        assert results.get(KEY) == {"report.json": b"{}"}
        (torn.parent / CONTENTS).unlink()
        assert results.get(KEY) is None
        with pytest.raises(InputError, match="is no key"):
            results.get("../../etc/passwd")

    def test_processes_beside_each_other(self, tmp_path: Path) -> None:
        context = multiprocessing.get_context("fork")
        children = [context.Process(target=put_many, args=(tmp_path, n)) for n in range(3)]
        for child in children:
            child.start()
        for child in children:
            child.join()
        assert [child.exitcode for child in children] == [0, 0, 0]
        assert list((tmp_path / "results" / ".part").glob("*")) == []

    def test_what_a_killed_process_left_is_cleared_away(self, tmp_path: Path) -> None:
        left = tmp_path / "results" / ".part" / "x"
        left.mkdir(parents=True)
        assert tidy(tmp_path, 3600.0, time.time()) == 0
        assert tidy(tmp_path, 3600.0, time.time() + 7200.0) == 1
        assert not left.exists()


class TestCaptures:
    def test_kept_gone_and_kept_again(self, empty: Book, tmp_path: Path) -> None:
        path = tmp_path / "side a.flac"
        path.write_bytes(b"sound")
        one = captures.keep(empty, path, keep_as="week", who="x", at=AT)
        assert (one.state, one.digest) == ("kept", sha256(b"sound").hexdigest())
        assert captures.expire(empty, who="x", at=AT + timedelta(days=6)) == []
        assert captures.find(empty, one.digest).read_bytes() == b"sound"
        assert [gone.name for gone in captures.expire(empty, who="x", at=AT + timedelta(days=8))] == ["side a.flac"]
        with pytest.raises(MissingFileError, match="gone, digest kept"):
            captures.find(empty, one.digest)
        assert captures.listed(empty)[0].state == "gone"
        again = captures.keep(empty, path, keep_as="always", who="x", at=AT + timedelta(days=9))
        assert (again.state, again.until) == ("kept", None)
        assert captures.expire(empty, who="x", at=AT + timedelta(days=9999)) == []
        assert problems(empty) == []

    def test_a_clock_that_was_set_back_loses_no_file(
        self, empty: Book, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        path = tmp_path / "a.flac"
        path.write_bytes(b"sound")
        captures.keep(empty, path, keep_as="week", who="x", at=AT)
        captures.expire(empty, who="x", at=AT + timedelta(days=8))
        monkeypatch.setattr("runtrue.records.ids._last", 0)
        monkeypatch.setattr("runtrue.records.ids.time.time_ns", lambda: 10**18)  # the year 2001
        one = captures.keep(empty, path, keep_as="week", who="x", at=AT - timedelta(days=9000))
        captures.expire(empty, who="x", at=AT - timedelta(days=8999))
        assert captures.find(empty, one.digest).read_bytes() == b"sound"
        with empty.read() as connection:
            ids = list(connection.execute(select(Entry.id).order_by(Entry.seq)).scalars())
        assert ids == sorted(ids)

    def test_a_torn_file_is_kept_anew(self, empty: Book, tmp_path: Path) -> None:
        path = tmp_path / "a.flac"
        path.write_bytes(b"sound")
        one = captures.keep(empty, path, keep_as="week", who="x", at=AT)
        captures.place_of(empty.place.store, one.digest).write_bytes(b"so")
        assert captures.listed(empty)[0].state == "missing"
        assert captures.keep(empty, path, keep_as="week", who="x", at=AT).state == "kept"

    def test_what_became_of_a_file_is_not_taken_back(self, empty: Book, tmp_path: Path) -> None:
        path = tmp_path / "a.flac"
        path.write_bytes(b"sound")
        captures.keep(empty, path, keep_as="week", who="x", at=AT)
        captures.expire(empty, who="x", at=AT + timedelta(days=8))
        for entry, kind in (("2", "keep"), ("3", "expire")):
            with pytest.raises(InputError, match=f"a {kind} cannot be taken back"):
                Clerk(empty)("withdraw", entry=entry)

    def test_the_longer_class_counts(self, empty: Book, tmp_path: Path) -> None:
        path = tmp_path / "a.flac"
        path.write_bytes(b"sound")
        captures.keep(empty, path, keep_as="year", who="x", at=AT)
        assert captures.keep(empty, path, keep_as="week", who="x", at=AT).keep == "year"


@pytest.mark.slow
def test_killed_writers_lose_nothing(place: str) -> None:
    """A dozen here; ``python -m bench.book_kill`` kills 200 times."""
    assert kill(place, 12, seed=7) == []
