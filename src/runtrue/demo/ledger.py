"""The story as a plant's book: metal, run, piles, boxes, samples, and the recordings with their judgements.

The papers are those that people fill in. What the story leaves open (when, how many to a pile and a box) is said here.
"""

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from runtrue.demo.bench import name_of
from runtrue.demo.scenario import Copy, Playing, Scenario
from runtrue.types import silent
from runtrue.workflow.actions import Ports
from runtrue.workflow.analyses import keep_judged
from runtrue.workflow.book_requests import InitRequest, KeepRequest
from runtrue.workflow.bookkeeping import init, keep
from runtrue.workflow.listening import Checked
from runtrue.workflow.papers.catalogue import paper
from runtrue.workflow.papers.entering import enter

BOOK = "book.sqlite"
"""File of the book within the folder of the demonstration."""
JOB, RUN = "J-0417", "P2-0417"
PILE = 49
"""Closures to a pile; two boxes to a pile."""
DAY = "2026-10-05"


class Ledger:
    """Fills in the papers of the story's run, each at its hour."""

    def __init__(self, story: Scenario, book: str, ports: Ports) -> None:
        self.story, self.book, self.ports = story, book, ports
        self.who = {person.role: person.name for person in story.person}

    def write(self, verb: str, *, at: str, who: str = "quality", **values: Any) -> None:
        """Fill in one paper."""
        asked = paper(verb).request(book=self.book, at=f"{DAY}T{at}:00Z", who=self.who.get(who, "quality"), **values)
        enter(asked, self.ports, silent)

    def metal(self) -> None:
        """The job with its sides, the family of its metal, its labels and its compound."""
        story, title = self.story, self.story.title
        matrices = {f"matrix_{side.label.lower()}": side.matrix for side in story.side}
        self.write(
            "ticket", at="05:00", job=JOB, title=title.name, artist=title.artist, catalogue=title.catalogue,
            format=title.format, ordered=title.ordered, mass_g=42.0, **matrices,
        )  # fmt: skip
        for side in story.side:
            grown = (
                ("cut", f"{side.label}-L", None), ("father", side.father, f"{side.label}-L"),
                ("mother", side.mother, side.father),
                *(("stamper", one.id, side.mother) for one in story.stamper if one.side == side.label),
            )  # fmt: skip
            for generation, piece, parent in grown:
                self.write(
                    "metal", at="05:05", who="metal", metal=piece, matrix=side.matrix, generation=generation,
                    parent=parent,
                )  # fmt: skip
            self.write("labels", at="05:10", lot=f"L-{side.label}", job=JOB, side=side.label, received=1100)
        for batch in dict.fromkeys(copy.compound for copy in story.copy):
            self.write("batch", at="05:15", batch=batch, formula="Weir Black", mass_kg=120.0)

    def run(self) -> None:
        """The run with its changes, samples and piles in the order of closures."""
        story = self.story
        first = {one.side: one.id for one in story.stamper if one.from_closure == 1}
        by_side = {side.label: side.matrix for side in story.side}
        last = max(one.to_closure for one in story.stamper)
        self.write(
            "set-up", at="06:00", who="press", run=RUN, job=JOB, press=story.plant.press, cavity=story.plant.cavity,
            stamper_a=first["A"], stamper_b=first["B"], batch=story.copy[0].compound, label_a="L-A", label_b="L-B",
            operator=self.who.get("press"), scribing_a=by_side["A"], scribing_b=by_side["B"], clearance="pass",
            cleared_by=self.who.get("press"),
        )  # fmt: skip
        changes = [
            (one.from_closure, f"stamper_{one.side.lower()}", one.id) for one in story.stamper if one.from_closure > 1
        ]
        changes += self._batches()
        for pile in range(1, -(-last // PILE) + 1):
            upto = min(pile * PILE, last)
            at = f"{6 + pile // 3:02d}:{20 * (pile % 3):02d}"
            for closure, what, to in sorted(changes):
                if upto - PILE < closure <= upto:
                    self.write("read", at=at, who="press", run=RUN, counter=closure - 1)
                    scribing = by_side[what[-1].upper()] if what.startswith("stamper") else None
                    self.write(
                        "change", at=at, who="press", run=RUN, what=what, to=to, closure=closure, scribing=scribing
                    )
            self.write("read", at=at, who="press", run=RUN, counter=upto)
            taken = [copy for copy in story.copy if upto - PILE < copy.closure <= upto]
            for copy in taken:
                self.write("sample", at=at, run=RUN, sample=copy.id, closure=copy.closure)
            self.write("pile", at=at, who="press", run=RUN, pile=str(pile), counter=upto, rest_hours=3.0)
            self._boxes(pile, upto - (pile - 1) * PILE - len(taken))

    def _batches(self) -> list[tuple[int, str, str]]:
        """A batch is changed at the pile's end between the last copy of one and the first of the next."""
        found = []
        for before, after in zip(self.story.copy, self.story.copy[1:], strict=False):
            if after.compound != before.compound:
                found.append(((before.closure + after.closure) // 2 // PILE * PILE + 1, "batch", after.compound))
        return found

    def _boxes(self, pile: int, records: int) -> None:
        """A rested pile goes into two boxes."""
        self.write("release", at="20:00", run=RUN, pile=str(pile))
        half = records // 2
        for box, many in ((2 * pile - 1, half), (2 * pile, records - half)):
            if many:
                self.write("box", at="20:30", run=RUN, pile=str(pile), box=str(box), records=many, end="bottom")

    def played(self, copy: Copy, playing: Playing, checked: Checked) -> None:
        """A copy's placing with its judgement."""
        keep_judged(self.book, checked, self.ports)
        self.write(
            "play", at="21:00", sample=copy.id, side=playing.label, push=playing.push or None,
            player=self.story.rig.name, stylus=self.story.rig.stylus, capture=checked.listening.input.sha256,
            analysis=checked.analysis.id, washed={"washed": "yes", "dirty": "no"}.get(playing.state),
            placing=1 + (playing.state == "washed" or playing.push == "toward"),
        )  # fmt: skip


def write_book(story: Scenario, results: Mapping[str, Checked], folder: Path, ports: Ports) -> Path:
    """Write the book of the story into ``folder``; the recordings in its ``sound`` move into the book's store."""
    book = folder / BOOK
    init(InitRequest(book=str(book), plant=story.plant.name, who="runtrue demo"), ports, silent)
    opened = ports.open_book(str(book))
    ports = replace(ports, open_book=lambda _given: opened)
    ledger = Ledger(story, str(book), ports)
    ledger.metal()
    ledger.run()
    for copy, playing in story.playings():
        ledger.played(copy, playing, results[name_of(copy, playing)])
    quiet = replace(ports, tell=lambda _said: None)
    for recording in sorted((folder / "sound").glob("*.wav")):
        keep(KeepRequest(book=str(book), file=recording, keep="week", move=True), quiet, silent)
    opened.close()
    return book
