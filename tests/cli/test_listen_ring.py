"""The finder ring: what it marks, at 1:1, and what it refuses."""

import json
from collections.abc import Callable
from pathlib import Path

import pypdfium2
import pytest

from runtrue.paper.drawing import Circle, Text, polar, texts
from runtrue.paper.page import Sheet
from runtrue.paper.ring import HOLE, RingSheet, ring_page
from tests.cli.conftest import Outcome
from tests.fakes import FakeEngine, heard, tick

Run = Callable[..., Outcome]

pytestmark = pytest.mark.usefixtures("folder")


def test_it_marks_the_faults_of_a_recording_on_both_faces(runtrue: Run) -> None:
    outcome = runtrue("listen", "ring", "result.json", "ring.pdf", "--side", "A", "--json")
    assert outcome.code == 0
    made = outcome.json
    ticks = sorted(json.loads(Path("result.json").read_text())["ticks"], key=lambda t: -t["prominence_db"])[:8]
    assert {mark["programme_s"] for mark in made["marks"]} == {t["programme_s"] for t in ticks}
    assert [m["letter"] for m in made["marks"]] == list("ABCDEFGH")[: len(ticks)]
    for mark in made["marks"]:
        assert (mark["angle_deg"] + mark["stamper_angle_deg"]) % 360.0 == pytest.approx(0.0, abs=1e-3)
    page = pypdfium2.PdfDocument("ring.pdf")[0]
    assert page.get_size() == pytest.approx((595.28, 841.89), abs=0.05)
    told = " ".join(page.get_textpage().get_text_bounded().split())
    assert "stamper's face" in told
    assert "Print at 100 %" in told
    assert "side A" in told


def test_zero_moves_to_a_stated_mark(runtrue: Run) -> None:
    turn = json.loads(Path("result.json").read_text())["turn"]["period_s"]
    plain = runtrue("listen", "ring", "result.json", "a.pdf", "--json").json["marks"]
    moved = runtrue("listen", "ring", "result.json", "b.pdf", "--zero-at-s", str(turn / 4.0), "--json").json["marks"]
    for before, after in zip(plain, moved, strict=True):
        assert (before["angle_deg"] - after["angle_deg"]) % 360.0 == pytest.approx(90.0, abs=0.01)


def test_it_is_drawn_to_scale_and_mirrored(runtrue: Run) -> None:
    from runtrue.contract.ring import RingMark

    mark = RingMark(
        letter="A", programme_s=83.4, turn=46, angle_deg=120.0, angle_u95_deg=2.0, stamper_angle_deg=240.0,
        radius_mm=138.8, radius_u95_mm=1.1, prominence_db=31.2, copies=["c1"],
    )  # fmt: skip
    sheet = Sheet(plant="", name="Finder ring", key="0" * 64, version="0")
    drawn = ring_page(
        RingSheet(said="One.", below="", marks=(mark,), ring_mm=84.0, zero="a mark", side="side A", sheet=sheet)
    )
    rings = [c for c in drawn.items if isinstance(c, Circle) and c.radius == 42.0]
    assert len(rings) == 2
    assert sum(isinstance(c, Circle) and c.radius == HOLE / 2.0 for c in drawn.items) == 3
    letters = [t for t in texts(drawn.items) if isinstance(t, Text) and t.text == "A"]
    for ring, angle in zip(rings, (120.0, -120.0), strict=True):
        x, _ = polar(ring.cx, ring.cy, 44.8, angle)
        assert any(abs(t.x - x) < 1e-6 for t in letters)


def test_it_takes_what_copies_share(runtrue: Run, engine: FakeEngine) -> None:
    engine.result = heard(ticks=(tick(3.0, 30.0),))
    told = runtrue("listen", "compare", "played.csv", "--reference", "reference.flac", "--format", "12in-33", "--json")
    Path("copies.json").write_text(told.out, encoding="utf-8")
    made = runtrue("listen", "ring", "copies.json", "ring.pdf", "--json").json
    assert [mark["copies"] for mark in made["marks"]] == [["c1", "c2"]]


@pytest.mark.parametrize(
    ("text", "out", "said"),
    [
        ("{", "ring.pdf", "is no JSON"),
        ('{"schema": "runtrue/demo-1"}', "ring.pdf", "a ring is made of"),
        ('{"schema": "runtrue/listening-1"}', "ring.pdf", "is not as in runtrue/listening-1"),
        ("[]", "ring.pdf", "a ring is made of"),
        ("{}", "ring.svg", "must end in .pdf"),
    ],
)
def test_what_is_no_result_is_one_line(runtrue: Run, text: str, out: str, said: str) -> None:
    Path("wrong.json").write_text(text, encoding="utf-8")
    outcome = runtrue("listen", "ring", "wrong.json", out)
    assert (outcome.code, outcome.out) == (2, "")
    assert said in outcome.err
    assert len(outcome.lines) == 1
    assert not Path(out).exists()
