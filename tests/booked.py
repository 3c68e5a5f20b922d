"""A small invented plant's book, written by its own commands' functions: stampers, piles, boxes, samples."""

from dataclasses import replace
from datetime import UTC, datetime
from typing import Any
from uuid import UUID

from runtrue.contract.book import Entered
from runtrue.records import Book, make_book, queue, tables
from runtrue.types import silent
from runtrue.workflow.actions import Ports
from runtrue.workflow.papers.catalogue import EXAMPLE_KEY, paper
from runtrue.workflow.papers.entering import enter

DAY = "2026-10-05"
PLANT = "Quillmere Record Works"
WEIGHINGS = """batch,ingredient,lot,mass_kg,operator,checked_by,at
K-89,copolymer,VC-204,110.1,jt,mb,2026-10-05T05:12:10Z
K-89,"carbon black, beads",CB-31,1.9,jt,mb,2026-10-05T05:15:02Z
"""


def ports_of(book: Book, at: str = f"{DAY}T06:00:00Z", who: str = "Tamsin Vey") -> Ports:
    """Ports that lead to this book whatever is named."""
    return Ports(clock=lambda: at, who=who, open_book=lambda _given: book)


class Clerk:
    """Fills in papers: ``clerk("sample", run="R1", ...)``."""

    def __init__(self, book: Book) -> None:
        self.book = book
        self.ports = ports_of(book)

    def __call__(self, verb: str, **values: Any) -> Entered:
        return enter(paper(verb).request(**values), self.ports, silent)

    def at(self, clock: str) -> "Clerk":
        """The same clerk at another hour of the day, "HH:MM"."""
        found = Clerk(self.book)
        found.ports = replace(self.ports, clock=lambda: f"{DAY}T{clock}:00Z")
        return found


def empty_book(given: str) -> Book:
    """A book without a job."""
    return make_book(given, plant=PLANT, who="Tamsin Vey")[0]


def write_metal(clerk: Clerk) -> None:
    """Job J-11 with its metal, compound and labels."""
    clerk(
        "ticket", job="J-11", title="Lanterns on the Weir", artist="The Marrowfield Nine", customer="Weir Records",
        catalogue="QRW 0417", format="7in-45", ordered=900, matrix_a="QRW-0417-A", matrix_b="QRW-0417-B", mass_g=42.0,
        overs_percent=10.0,
    )  # fmt: skip
    for side in "AB":
        matrix = f"QRW-0417-{side}"
        clerk("metal", metal=f"{side}-L", matrix=matrix, generation="cut")
        clerk("metal", metal=f"{side}-F1", matrix=matrix, generation="father", parent=f"{side}-L")
        clerk("metal", metal=f"{side}-M1", matrix=matrix, generation="mother", parent=f"{side}-F1", bath="2")
        for number in (1, 2):
            clerk("metal", metal=f"{side}-M1-S{number}", matrix=matrix, generation="stamper", parent=f"{side}-M1")
        clerk("labels", lot=f"L-{side}", job="J-11", side=side, received=1100)
        clerk("drying", lot=f"L-{side}", before_g=212.4, after_g=212.2, scale_u95_g=0.1, limit_percent=0.5)
    for batch in ("K-88", "K-89"):
        clerk("batch", batch=batch, formula="Weir Black", mass_kg=120.0)
    clerk("weighing", batch="K-88", ingredient="copolymer", lot="VC-204", mass_kg=110.2, operator="jt", checked_by="mb")


def write_run(clerk: Clerk) -> None:
    """Run R1: 980 closures, 980 records less what was taken out, 49 a pile, two boxes to a pile."""
    clerk(
        "set-up", run="R1", job="J-11", press="P2", cavity="P2-1", stamper_a="A-M1-S1", stamper_b="B-M1-S1",
        batch="K-88", label_a="L-A", label_b="L-B", operator="Joost Amberley", settings="steam 9 s, water 14 s",
        scribing_a="QRW-0417-A", scribing_b="QRW-0417-B", clearance="pass", cleared_by="Joost Amberley",
    )  # fmt: skip
    clerk("issue", batch="K-88", run="R1", mass_kg=25.0)
    clerk("issue", batch="K-89", run="R1", mass_kg=20.0)
    clerk("read", press="P2", counter=3)
    clerk("warm-up", run="R1", first=1, last=3)
    clerk("read", press="P2", counter=4)
    clerk(
        "first-off", run="R1", closure=4, identity="pass", centre="pass", fill="pass", flatness="pass", edge="pass",
        labels="pass", heard="pass",
    )  # fmt: skip
    for pile in range(1, 20):
        at = clerk.at(f"{6 + pile // 3:02d}:{20 * (pile % 3):02d}")
        counter = 49 * pile
        if pile == 10:
            at("change", run="R1", what="batch", to="K-89", slack=3)
        at("read", run="R1", counter=counter - 1)
        if pile == 4:
            at("sample", run="R1", sample="c1", closure=180, verdict="pass")
        if pile == 7:
            at("sample", run="R1", sample="c3", closure=312, verdict="fail", faults="loud tick, side A, 2:05")
        if pile == 13:
            at("sample", run="R1", sample="c5", closure=620, verdict="pass")
            at("change", run="R1", what="stamper_a", to="A-M1-S2", closure=600, scribing="QRW-0417-A")
        at("pile", run="R1", pile=str(pile), counter=counter, rest_hours=3.0)
    clerk.at("12:40")("read", run="R1", counter=980)


def write_boxes(clerk: Clerk) -> None:
    """Piles 1 to 18 released and boxed two boxes to a pile, boxes 1 to 20 sent away."""
    for pile in range(1, 19):
        clerk("release", run="R1", pile=str(pile))
        for box in (2 * pile - 1, 2 * pile):
            clerk("box", run="R1", pile=str(pile), box=str(box), records=24 if box % 2 else 20)
    for box in range(1, 21):
        clerk("pallet", pallet="PL-1", job="J-11", box=str(box))
    clerk("consign", consignment="C-1", pallet="PL-1", customer="Weir Records", invoiced=440)
    clerk("complaint", complaint="Q-1", job="J-11", fault="click once a turn", side="A", programme_s=125.3, box="9")
    for side in "AB":
        clerk("reconcile", lot=f"L-{side}", run="R1", issued=1000, used=980, spoiled=4, returned=16)
    clerk("scrap", material="flash", mass_kg=3.5, run="R1")
    clerk("stop", run="R1", minutes=5.0, cause="entered by mistake")


TASK = UUID("01a210d3-dcb0-7000-bbd2-f3527d638295")


def write_task(book: Book) -> None:
    """A piece of work that can be cancelled."""
    queue.add(book, action="listen check", request={"capture": "nowhere.flac", "format": "12in-33"}, who="Tamsin Vey",
              at=datetime(2026, 10, 5, tzinfo=UTC), task=TASK)  # fmt: skip


def write_analysis(book: Book) -> None:
    """An analysis whose listeners can be asked; its result lies nowhere."""
    with book.write(who="Tamsin Vey", at=datetime(2026, 10, 5, tzinfo=UTC)) as pen:
        pen.add(
            tables.Analysed, pen.enter("analysis"), key=EXAMPLE_KEY, action="listen check", method="listening-1",
            version="0", settings_digest="0" * 64, house_digest="0" * 64, verdict="fail",
        )  # fmt: skip


def quillmere(given: str) -> Book:
    """The whole book."""
    book = empty_book(given)
    clerk = Clerk(book).at("06:00")
    write_metal(clerk)
    write_run(clerk)
    write_boxes(clerk.at("13:30"))
    write_task(book)
    write_analysis(book)
    return book
