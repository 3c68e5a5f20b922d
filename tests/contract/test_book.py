"""What the book promises, on both databases."""

from datetime import UTC, datetime

import pytest
from sqlalchemy import select
from sqlalchemy.exc import DBAPIError

from runtrue.errors import InputError
from runtrue.records import Book, asking, make_book, open_book, tables
from runtrue.records.check import check, repair
from runtrue.records.tables import Entry, Holding, Sample, grown, table_of
from runtrue.types import silent
from runtrue.workflow import book_requests as ask
from runtrue.workflow.made import age, made
from runtrue.workflow.recall import recall
from tests.booked import Clerk, ports_of


def problems(book: Book) -> list[str]:
    with book.read() as connection:
        return [f"{one.what} {one.where}: {one.found}" for one in check(connection, silent)]


def places(book: Book, run: str = "R1") -> dict[str, int]:
    with book.read() as connection:
        rows = connection.execute(select(table_of(Holding)).where(Holding.run == run)).all()
    return {row.place: row.records for row in rows}


def given(book: Book) -> str:
    """What a person types to name a book."""
    return str(book.place.file or book.place.url)


class TestSpine:
    def test_entries_are_numbered_without_a_gap_and_ordered_in_time(self, whole: Book) -> None:
        with whole.read() as connection:
            rows = connection.execute(select(Entry.seq, Entry.id, Entry.plant).order_by(Entry.seq)).all()
        assert [row.seq for row in rows] == list(range(1, len(rows) + 1))
        assert [row.id for row in rows] == sorted(row.id for row in rows)
        assert {row.plant for row in rows} == {"Quillmere Record Works"}

    def test_what_is_written_is_there_when_the_book_is_opened_again(self, whole: Book) -> None:
        before = places(whole)
        whole.close()
        again = open_book(given(whole))
        assert places(again) == before
        assert problems(again) == []
        again.close()

    def test_nothing_can_be_altered(self, whole: Book) -> None:
        for table in grown():
            column = next(iter(table.columns)).name
            for sql in (f'UPDATE "{table.name}" SET "{column}" = "{column}"', f'DELETE FROM "{table.name}"'):
                with whole.read() as connection:
                    if connection.exec_driver_sql(f'SELECT 1 FROM "{table.name}"').first() is None:
                        continue  # SQLite asks its triggers row by row
                with pytest.raises(DBAPIError, match="the book only grows"), whole.change() as connection:
                    connection.exec_driver_sql(sql)

    def test_a_transaction_is_whole_or_nothing(self, empty: Book) -> None:
        def half() -> None:
            with empty.write(who="x", at=datetime.now(UTC)) as pen:
                pen.add(Sample, pen.enter("sample"), sample="s", run="R1", closure=1, slack=0, purpose="x")
                pen.flush()
                raise ZeroDivisionError

        with pytest.raises(ZeroDivisionError):
            half()
        with empty.read() as connection:
            assert connection.execute(select(table_of(Sample))).all() == []
        assert problems(empty) == []

    def test_who_when_and_why_stand_with_it(self, empty: Book) -> None:
        Clerk(empty)("ticket", job="J", title="T", format="12in-33", ordered=10, matrix_a="M", who="Nerys Calder",
                     at="2026-10-05T08:00+02:00", reason="by telephone")  # fmt: skip
        with empty.read() as connection:
            row = connection.execute(select(table_of(Entry)).where(Entry.kind == "ticket")).one()
        assert (row.who, row.reason, row.at) == ("Nerys Calder", "by telephone", datetime(2026, 10, 5, 6, tzinfo=UTC))

    def test_beginning_a_book_twice_changes_nothing(self, whole: Book) -> None:
        before = places(whole)
        again, made_new = make_book(given(whole), plant="Another", who="x")
        assert (again.plant, made_new, places(again)) == ("Quillmere Record Works", False, before)
        again.close()


class TestCounts:
    def test_every_closure_is_somewhere(self, whole: Book) -> None:
        found = places(whole)
        assert sum(found.values()) == 0
        assert found["closure"] == -980
        assert found["warm_up"] == 3
        assert found["sample"] == 3
        assert found["pressed"] == 980 - 19 * 49
        assert found["shipped"] == 440

    def test_a_correction_takes_the_place_of_what_was_wrong(self, empty: Book) -> None:
        clerk = small_run(empty)
        wrong = clerk("reject", run="R1", records=5, cause="non-fill")
        clerk("reject", run="R1", records=3, cause="non-fill", replaces=str(wrong.seq), reason="counted again")
        assert places(empty)["scrapped"] == 3
        assert places(empty)["pressed"] == 97
        with pytest.raises(InputError, match="was replaced already"):
            clerk("reject", run="R1", records=4, cause="non-fill", replaces=str(wrong.seq))
        assert problems(empty) == []

    def test_a_reading_is_corrected_only_while_it_is_the_newest(self, empty: Book) -> None:
        clerk = small_run(empty)
        second = clerk("read", run="R1", counter=150)
        third = clerk("read", run="R1", counter=200)
        with pytest.raises(InputError, match="correct the newest reading first"):
            clerk("read", run="R1", counter=140, replaces=second.entry)
        clerk("read", run="R1", counter=190, replaces=third.entry)
        assert places(empty)["closure"] == -190
        assert problems(empty) == []

    def test_what_is_taken_back_counts_no_more(self, empty: Book) -> None:
        clerk = small_run(empty)
        before = places(empty)
        entry = clerk("blank", run="R1", first=5)
        assert places(empty)["blank"] == 1
        clerk("withdraw", entry=str(entry.seq))
        assert places(empty) == before
        clerk("blank", run="R1", first=5)
        assert problems(empty) == []

    def test_a_counter_that_is_set_back_counts_on(self, empty: Book) -> None:
        clerk = small_run(empty)
        with pytest.raises(InputError, match="below the reading before"):
            clerk("read", run="R1", counter=7)
        clerk("read", run="R1", counter=120, set_to=0)
        clerk("read", run="R1", counter=30)
        assert places(empty)["closure"] == -150
        assert problems(empty) == []

    def test_a_run_that_has_ended_counts_no_further(self, empty: Book) -> None:
        clerk = small_run(empty)
        clerk("set-up", run="R2", job="J", press="P1", cavity="2", stamper_a="S2", counter=100)
        end = clerk("end", run="R2", counter=110)
        clerk("read", press="P1", counter=120)  # one cavity goes on
        with pytest.raises(InputError, match="run R2 has ended"):
            clerk("read", run="R2", counter=120)
        assert (places(empty)["closure"], places(empty, "R2")["closure"]) == (-120, -10)
        assert not age(ask.AgeRequest(stamper="S2"), ports_of(empty), silent).sessions[0].on_press
        assert age(ask.AgeRequest(stamper="S1"), ports_of(empty), silent).sessions[0].on_press
        clerk("withdraw", entry=end.entry)
        clerk("read", press="P1", counter=125)
        assert (places(empty)["closure"], places(empty, "R2")["closure"]) == (-125, -25)
        assert problems(empty) == []

    def test_a_cavity_set_up_anew_ends_the_run_before(self, empty: Book) -> None:
        clerk = small_run(empty)
        old = {"run": "R1", "job": "J", "press": "P1", "stamper_a": "S1"}
        told = clerk("set-up", run="R2", job="J", press="P2", stamper_a="S1")
        assert any("S1 is on the press in run R1 too" in caution for caution in told.cautions)
        clerk("set-up", run="R3", job="J", press="P1", stamper_a="S2", counter=100)
        with empty.read() as connection:
            first = next(row for row in asking.rows_where(connection, tables.Run) if row.run == "R1")
        clerk("set-up", **old, operator="jt", replaces=str(first.entry))  # a correction makes it no newer
        clerk("read", press="P1", counter=110)
        assert (places(empty)["closure"], places(empty, "R3")["closure"]) == (-100, -10)
        assert [one.on_press for one in age(ask.AgeRequest(stamper="S1"), ports_of(empty), silent).sessions] == [
            False, True,
        ]  # fmt: skip
        assert problems(empty) == []

    def test_a_press_with_two_cavities_counts_for_both(self, empty: Book) -> None:
        clerk = small_run(empty)
        clerk("set-up", run="R2", job="J", press="P1", cavity="2", stamper_a="S2", counter=100)
        clerk("read", press="P1", counter=160)
        assert places(empty, "R1")["closure"] == -160
        assert places(empty, "R2")["closure"] == -60
        assert problems(empty) == []


class TestSpans:
    def test_stampers_of_the_two_sides_change_separately(self, empty: Book) -> None:
        clerk = small_run(empty)
        clerk("change", run="R1", what="stamper_a", to="S2", closure=61, slack=2)
        found = made(ask.MadeRequest(run="R1", closure=60), ports_of(empty), silent)
        assert [(one.kind, one.ref, one.answer) for one in found.held] == [
            ("stamper_a", "S1", "maybe"), ("stamper_a", "S2", "maybe"), ("stamper_b", "T1", "surely"),
        ]  # fmt: skip

    def test_a_change_entered_late_takes_its_place_in_between(self, empty: Book) -> None:
        clerk = small_run(empty)
        clerk("change", run="R1", what="settings", to="late", closure=80)
        clerk("change", run="R1", what="settings", to="early", closure=40)
        clerk("change", run="R1", what="settings", to="first", closure=1)
        for closure, ref in ((39, "first"), (40, "early"), (79, "early"), (80, "late")):
            found = made(ask.MadeRequest(run="R1", closure=closure), ports_of(empty), silent)
            assert [one.ref for one in found.held if one.kind == "settings"] == [ref]
        assert problems(empty) == []

    def test_a_stamper_ages_over_its_sessions(self, whole: Book) -> None:
        clerk = Clerk(whole)
        first = age(ask.AgeRequest(stamper="A-M1-S1"), ports_of(whole), silent)
        assert (first.impressions, first.sessions[0].on_press) == ((599, 599), False)
        clerk("set-up", run="R2", job="J-11", press="P3", stamper_a="A-M1-S1", counter=4000)
        clerk("read", run="R2", counter=4050)
        again = age(ask.AgeRequest(stamper="A-M1-S1"), ports_of(whole), silent)
        assert (again.impressions, len(again.sessions), again.sessions[1].on_press) == ((649, 649), 2, True)


class TestRecall:
    def test_boxes_of_closures(self, whole: Book) -> None:
        found = recall(ask.RecallRequest(run="R1", first=181, last=352), ports_of(whole), silent)
        # piles of 49 are boxed from the top, 24 then 20: by hand, box 7 is pile 4 (148 to 196, c1 taken out)
        assert [box.box for box in found.boxes] == ["7", "9", "10", "11", "12", "13", "14", "16"]
        assert all(box.answer == "surely" for box in found.boxes)
        assert {box.box: (box.least, box.most) for box in found.boxes}["16"] == (4, 4)
        assert found.consignments == ["C-1"]
        assert found.complaints == ["Q-1"]
        assert "15" in found.clear_boxes

    def test_the_bracket_of_a_failed_sample(self, whole: Book) -> None:
        found = recall(ask.RecallRequest(sample="c3"), ports_of(whole), silent)
        assert (found.closures[0].first, found.closures[0].last) == ((181, 312), (312, 619))
        assert {box.answer for box in found.boxes} == {"maybe"}

    def test_what_a_stamper_pressed(self, whole: Book) -> None:
        found = recall(ask.RecallRequest(stamper="A-M1-S2"), ports_of(whole), silent)
        assert (found.closures[0].first, found.closures[0].last) == ((600, 600), (980, 980))
        assert found.boxes[0].box == "25"

    def test_a_name_that_is_nowhere(self, whole: Book) -> None:
        with pytest.raises(InputError, match="stamper 'X' pressed nothing"):
            recall(ask.RecallRequest(stamper="X"), ports_of(whole), silent)
        with pytest.raises(InputError, match="name one thing"):
            recall(ask.RecallRequest(), ports_of(whole), silent)


class TestCheck:
    def test_a_count_that_was_tampered_with_is_found_and_made_good(self, whole: Book) -> None:
        with whole.change() as connection:
            connection.exec_driver_sql("UPDATE holding SET records = records + 1 WHERE place = 'good'")
            connection.exec_driver_sql("DELETE FROM standing WHERE kind = 'box' AND ref = 'J-11/7'")
            connection.exec_driver_sql("UPDATE counted SET closures = 981")
        found = problems(whole)
        assert len(found) == 3
        assert any("J-11/7" in one or "standing" in one for one in found)
        with whole.change() as connection:
            assert sorted(repair(connection)) == ["counted", "holding", "standing"]
        assert problems(whole) == []

    def test_a_missing_guard_is_found(self, whole: Book) -> None:
        with whole.change() as connection:
            sqlite = connection.dialect.name == "sqlite"
            connection.exec_driver_sql(
                "DROP TRIGGER move_no_update" if sqlite else "DROP TRIGGER move_only_grows ON move"
            )
        assert [one.split()[0] for one in problems(whole)] == ["guard"]


def small_run(book: Book) -> Clerk:
    """Run R1 of job J on press P1 with 100 closures."""
    clerk = Clerk(book)
    clerk("ticket", job="J", title="T", format="12in-33", ordered=100, matrix_a="MA", matrix_b="MB")
    for name, matrix in (("S1", "MA"), ("S2", "MA"), ("T1", "MB")):
        clerk("metal", metal=name, matrix=matrix, generation="stamper")
    clerk("set-up", run="R1", job="J", press="P1", stamper_a="S1", stamper_b="T1")
    clerk("read", run="R1", counter=100)
    return clerk
