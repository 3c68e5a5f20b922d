"""Import, export, backup and restore, on both databases."""

import csv
import json
from collections.abc import Callable
from pathlib import Path

import jsonschema
import pytest
from sqlalchemy import func, select

from runtrue.errors import InputError, MissingFileError
from runtrue.records import Book, copying
from runtrue.records.tables import Entry
from runtrue.types import silent
from runtrue.workflow import book_requests as ask
from runtrue.workflow.balance import balance
from runtrue.workflow.bookkeeping import export
from runtrue.workflow.chain import chain
from runtrue.workflow.job_page import job
from runtrue.workflow.papers.importing import import_rows
from tests.booked import WEIGHINGS, Clerk, ports_of
from tests.contract.test_book import places, problems


def entries(book: Book) -> int:
    with book.read() as connection:
        return int(connection.execute(select(func.count()).select_from(Entry)).scalar_one())


def bring(book: Book, folder: Path, text: str | bytes, paper: str = "weighing") -> object:
    path = folder / "rows.csv"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return import_rows(ask.ImportRequest(paper=paper, file=path), ports_of(book), silent)


class TestImport:
    def test_rows_come_in_once(self, whole: Book, tmp_path: Path) -> None:
        first = bring(whole, tmp_path, WEIGHINGS)
        again = bring(whole, tmp_path, WEIGHINGS)
        longer = bring(whole, tmp_path, WEIGHINGS + "K-89,wax,WX-1,0.4,,,\nK-89,wax,WX-1,0.4,,,\n")
        assert [(one.rows, one.entered, one.known) for one in (first, again, longer)] == [
            (2, 2, 0),
            (2, 0, 2),
            (4, 2, 2),
        ]
        assert problems(whole) == []

    def test_what_happened_twice_needs_its_time(self, whole: Book, tmp_path: Path) -> None:
        bring(whole, tmp_path, "run,minutes,cause\nR1,5,water low\n", "stop")
        again = bring(whole, tmp_path, "run,minutes,cause\nR1,5,water low\n", "stop")
        assert (again.entered, again.known) == (0, 1)
        assert again.cautions[0].startswith("Line 2 is in the book already and did not come twice")
        timed = bring(whole, tmp_path, "run,minutes,cause,at\nR1,5,water low,2026-10-06T09:00Z\n", "stop")
        assert (timed.entered, timed.cautions) == (1, [])

    def test_all_rows_or_none(self, whole: Book, tmp_path: Path) -> None:
        before = entries(whole)
        with pytest.raises(InputError, match=r"line 4: batch 'K-99' is not in the book.*nothing was entered"):
            bring(whole, tmp_path, WEIGHINGS + "K-99,wax,WX-1,0.4,,,\n")
        assert entries(whole) == before

    def test_counts_are_held_over_the_whole_file(self, whole: Book, tmp_path: Path) -> None:
        """49 records lie at the press: 40 samples of them can be taken, 60 cannot."""
        head = "sample,run,closure\n"
        lines = [f"x{k},R1,{930 + k % 50}\n" for k in range(60)]
        with pytest.raises(InputError, match=r"line 51: run R1: 1 records are to leave 'pressed' and 0 are there"):
            bring(whole, tmp_path, head + "".join(lines), "sample")
        assert bring(whole, tmp_path, head + "".join(lines[:40]), "sample").entered == 40
        assert places(whole)["pressed"] == 9
        assert problems(whole) == []

    @pytest.mark.parametrize(
        ("text", "says"),
        [
            ("", "is empty"),
            ("batch;ingredient\n", "parted by ';'"),
            ("batch,ingredient,lot\nK-88,a,b\n", "column 'mass_kg' is missing"),
            ("batch,ingredient,lot,mass_kg,colour\n", "column 'colour' is unknown"),
            ("batch,batch,ingredient,lot,mass_kg\n", "stands there twice"),
            ("batch,ingredient,lot,mass_kg\nK-88,a,b,12,5\n", "line 2: more values than columns"),
            ('batch,ingredient,lot,mass_kg\nK-88,a,b,"12,5"\n', "line 2: mass_kg '12,5' is no number; write a decimal"),
            ("batch,ingredient,lot,mass_kg\nK-88,a,b,inf\n", "'inf' is no number"),
            ("batch,ingredient,lot,mass_kg\nK-88,a,b,\n", "mass_kg is empty"),
            ("batch,ingredient,lot,mass_kg\nK-88,a,b,-1\n", "mass_kg must be 0 to"),
            ('batch,ingredient,lot,mass_kg\nK-88,"a\nb",c,1\n', "ingredient: holds a line end"),
            ('batch,ingredient,lot,mass_kg\nK-88,"a,b,1\n', "is no table with commas"),
            ("batch,ingredient,lot,mass_kg\nK-88,a\0,b,1\n", "control character|is no table"),
            ("batch,ingredient,lot,mass_kg,at\nK-88,a,b,1,noon\n", "at 'noon' is no time"),
            ("batch,ingredient,lot,mass_kg\nK-88,a,b,1\n".encode("utf-16"), "is no text in UTF-8"),
            ("batch,ingredient,lot,mass_kg\nK-88,Ölruß,b,1\n".encode("latin-1"), "is no text in UTF-8"),
            ("batch,ingredient,lot,mass_kg\nK-88," + "a" * 10_485_760 + ",b,1\n", "a cell holds more than"),
            ("batch,ingredient,lot,mass_kg\nK-88," + "a" * 30_000 + ",b,1\n", "a name has at most 200"),
        ],
    )
    def test_what_a_hostile_clerk_brings(self, whole: Book, tmp_path: Path, text: str | bytes, says: str) -> None:
        before = entries(whole)
        with pytest.raises(InputError, match=says):
            bring(whole, tmp_path, text)
        assert entries(whole) == before

    def test_a_file_that_is_not_there(self, whole: Book, tmp_path: Path) -> None:
        with pytest.raises(MissingFileError, match="there is no such file"):
            import_rows(ask.ImportRequest(paper="weighing", file=tmp_path / "no.csv"), ports_of(whole), silent)

    def test_names_with_quotes_and_signs_come_back_as_they_went_in(self, whole: Book, tmp_path: Path) -> None:
        name = """O'Brien; DROP TABLE "entry" -- 中文 %s \\"""
        Clerk(whole)("sample", run="R1", sample=name, closure=950, faults='first line\nsecond, "quoted"')
        assert chain(ask.ChainRequest(name=name), ports_of(whole), silent).said.startswith(name)
        assert problems(whole) == []


class TestExport:
    def test_a_formula_stays_text(self, whole: Book, tmp_path: Path) -> None:
        Clerk(whole)("sample", run="R1", sample="=HYPERLINK(1)", closure=950, faults="+cmd|' /C calc'!A0\nand more")
        out = export(ask.ExportRequest(out=tmp_path / "out"), ports_of(whole), silent)
        assert out.neutralised == 2
        with (tmp_path / "out" / "sample.csv").open(encoding="utf-8", newline="") as file:
            rows = list(csv.DictReader(file))
        assert rows[-1]["sample"] == "'=HYPERLINK(1)"
        assert rows[-1]["faults"] == "'+cmd|' /C calc'!A0\nand more"
        for path in (tmp_path / "out").glob("*.csv"):
            with path.open(encoding="utf-8", newline="") as file:
                cells = [cell for row in csv.reader(file) for cell in row]
            assert not [cell for cell in cells if cell[:1] in "=@\t\r" and cell]

    def test_rows_follow_the_schema_and_none_is_missing(self, whole: Book, tmp_path: Path) -> None:
        out = export(ask.ExportRequest(out=tmp_path / "out", form="jsonl"), ports_of(whole), silent)
        schema = json.loads((tmp_path / "out" / "schema.json").read_text(encoding="utf-8"))
        for one in out.files:
            lines = (tmp_path / "out" / one.file).read_text(encoding="utf-8").splitlines()
            assert len(lines) == one.rows
            check = jsonschema.Draft202012Validator({**schema, "$ref": f"#/$defs/{one.table}"})
            for line in lines:
                check.validate(json.loads(line))
        assert next(one.rows for one in out.files if one.table == "entry") == entries(whole)
        with pytest.raises(InputError, match="not an empty folder"):
            export(ask.ExportRequest(out=tmp_path / "out"), ports_of(whole), silent)


class TestBackup:
    def test_a_backup_is_the_book(self, whole: Book, tmp_path: Path) -> None:
        copied = copying.backup(whole, tmp_path / "copy.sqlite", silent)
        assert copied.entries == entries(whole)
        with pytest.raises(InputError, match="overwrites nothing"):
            copying.backup(whole, tmp_path / "copy.sqlite", silent)
        assert sorted(path.name for path in tmp_path.glob("*copy*")) == ["copy.sqlite"]

    def test_it_comes_back(self, whole: Book, tmp_path: Path, fresh: Callable[..., str]) -> None:
        copied = copying.backup(whole, tmp_path / "copy.sqlite", silent)
        book, restored = copying.restore(tmp_path / "copy.sqlite", fresh(tmp_path), silent)
        assert restored == copied
        assert problems(book) == []
        assert places(book) == places(whole)
        Clerk(book)("read", run="R1", counter=1000)  # and it goes on
        assert problems(book) == []
        book.close()

    def test_a_restore_overwrites_nothing(self, whole: Book, tmp_path: Path) -> None:
        copying.backup(whole, tmp_path / "copy.sqlite", silent)
        with pytest.raises(InputError, match="is there already"):
            copying.restore(tmp_path / "copy.sqlite", str(whole.place.file or whole.place.url), silent)

    def test_a_log_that_an_older_book_left_is_not_taken_for_the_new_ones(self, whole: Book, tmp_path: Path) -> None:
        copying.backup(whole, tmp_path / "copy.sqlite", silent)
        (tmp_path / "new.sqlite-wal").write_bytes(b"old")
        with pytest.raises(InputError, match="sqlite-wal: is there already"):
            copying.restore(tmp_path / "copy.sqlite", str(tmp_path / "new.sqlite"), silent)
        assert not (tmp_path / "new.sqlite").exists()

    def test_a_spoiled_backup_is_not_restored(self, whole: Book, tmp_path: Path) -> None:
        path = tmp_path / "copy.sqlite"
        copying.backup(whole, path, silent)
        content = path.read_bytes()
        path.write_bytes(content.replace(b"Weir Records", b"Weir Regrind", 1)[: len(content) // 2])
        with pytest.raises(Exception, match=r"damaged|not sound|cannot be copied"):
            copying.restore(path, str(tmp_path / "new.sqlite"), silent)
        assert not (tmp_path / "new.sqlite").exists()


class TestSums:
    def test_every_sum_closes(self, whole: Book) -> None:
        found = balance(ask.BalanceRequest(job="J-11"), ports_of(whole), silent)
        assert found.verdict == "pass"
        assert {line.id: line.gap for line in found.balances}["labels_a_used"] == 0

    def test_a_blank_that_was_not_entered_shows_in_the_labels(self, whole: Book) -> None:
        Clerk(whole)("blank", run="R1", first=940)
        found = balance(ask.BalanceRequest(job="J-11"), ports_of(whole), silent)
        line = next(one for one in found.balances if one.id == "labels_a_used")
        assert (line.left, line.right, line.gap, line.closes) == (980, 979, 1, False)
        assert "picked up together" in line.look
        assert found.verdict == "fail"

    def test_a_hand_count_that_differs_is_an_entry_and_a_gap(self, whole: Book) -> None:
        Clerk(whole)("count", run="R1", place="good", records=80)
        assert places(whole)["difference"] == 4
        found = balance(ask.BalanceRequest(job="J-11"), ports_of(whole), silent)
        assert {one.id: one.gap for one in found.balances if one.closes is False} == {"closures": 4, "good": 4}
        assert problems(whole) == []

    def test_what_was_not_counted_is_not_judged(self, empty: Book) -> None:
        Clerk(empty)("ticket", job="J", title="T", format="12in-33", ordered=10, matrix_a="M")
        found = balance(ask.BalanceRequest(job="J"), ports_of(empty), silent)
        assert found.verdict == "cannot_judge"
        assert {one.key for one in found.not_judged} >= {
            "balances.labels_a_used",
            "balances.compound",
            "balances.invoice",
        }

    def test_a_page_of_the_job(self, whole: Book) -> None:
        found = job(ask.JobRequest(job="J-11"), ports_of(whole), silent)
        assert (found.runs[0].stamper_a, found.runs[0].last_good_sample, found.samples) == ("A-M1-S2", 620, 3)
        assert [one.sample for one in found.failed_samples] == ["c3"]

    @pytest.mark.parametrize("name", ["QRW 0417", "A-L", "VC-204", "L-A", "c3", "9", "PL-1", "C-1", "Q-1"])
    def test_from_any_name_to_job_and_complaint(self, whole: Book, name: str) -> None:
        found = chain(ask.ChainRequest(name=name), ports_of(whole), silent)
        kinds = {link.kind for link in found.links}
        assert kinds >= {"job", "side", "mother", "stamper", "run", "pile", "sample", "box"}
        assert ("Q-1" in {link.name for link in found.links}) == (name != "C-0")
