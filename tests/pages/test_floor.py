"""The floor says first what needs a decision, and of each press what is on it."""

from pathlib import Path

from fastapi.testclient import TestClient

from runtrue.paper.drawing import texts
from runtrue.paper.layout import SCREEN
from runtrue.paper.run_strip import RunStrip, SampleDot, StamperStretch, run_strip
from runtrue.web.app import make_app
from tests.booked import Clerk, empty_book, ports_of


def test_what_failed_stands_first_and_leads_on(client: TestClient) -> None:
    page = client.get("/floor.json").json()
    assert page["head"]["said"] == "Press P2, run R1: 1 of 3 samples failed, the last at closure 312."
    assert page["head"]["verdict"] == "fail"
    assert [one["verdict"] for one in page["waiting"]] == sorted(
        (one["verdict"] for one in page["waiting"]), key=lambda word: word != "fail"
    )
    for one in page["waiting"]:
        assert client.get(one["href"]).status_code == 200, one["href"]
    assert any("Q-1" in one["words"] for one in page["waiting"])


def test_a_press_shows_its_stampers_with_their_age_its_samples_and_what_is_due(client: TestClient) -> None:
    (press,) = client.get("/floor.json?every=400").json()["presses"]
    assert [(one["stamper"], one["impressions"]) for one in press["stampers"]] == [
        ("A-M1-S2", "381"), ("B-M1-S1", "980"),
    ]  # fmt: skip
    assert press["last_good"] == "closure 620, 360 closures ago"
    assert press["next_due"] == "closure 1020"
    assert not press["overdue"]
    assert press["verdict"] == "pass"
    (late,) = client.get("/floor.json").json()["presses"]
    assert late["verdict"] == "cannot_judge"
    assert late["next_due"] == "overdue since closure 720"
    assert "1 pile may not be sleeved yet" in " ".join(late["places"])


def test_the_page_says_the_same_and_a_wrong_spacing_is_refused_in_one_line(client: TestClient) -> None:
    text = client.get("/floor").text
    assert "1 of 3 samples failed" in text
    assert "A-M1-S2" in text
    answer = client.get("/floor?every=0")
    assert answer.status_code == 422
    assert "Every: " in answer.text


def test_records_on_hold_wait(tmp_path: Path) -> None:
    book = empty_book(str(tmp_path / "book.sqlite"))
    with TestClient(make_app(ports_of(book)), base_url="http://127.0.0.1") as client:
        empty = client.get("/floor.json").json()
        assert empty["head"]["said"] == "No press is set up yet."
        assert empty["head"]["verdict"] is None
        clerk = Clerk(book).at("06:00")
        clerk("ticket", job="J-1", title="A", format="7in-45", ordered=50, matrix_a="M-A")
        clerk("metal", metal="S1", matrix="M-A", generation="stamper")
        clerk("set-up", run="R9", job="J-1", press="P1", stamper_a="S1", scribing_a="M-A", clearance="pass")
        clerk("read", run="R9", counter=40)
        clerk("reject", run="R9", records=3, cause="stain", to="held")
        page = client.get("/floor.json").json()
        clerk("end", run="R9", counter=40)
        ended = client.get("/floor.json").json()
    words = [one["words"] for one in page["waiting"]]
    assert words[0] == "Press P1, run R9: 3 records held."
    assert "Press P1, run R9: no first-off is signed." in words
    assert page["presses"][0]["last_good"] == "none yet"
    assert page["presses"][0]["verdict"] == "cannot_judge"
    assert not page["presses"][0]["ended"]
    assert ended["presses"][0]["next_due"] == "none, the run has ended"
    book.close()


def test_the_strip_tells_its_samples_in_words_and_keeps_labels_apart() -> None:
    strip = RunStrip(
        run="R1", closures=980, ordered=900, due=1030,
        stampers=(StamperStretch(side="A", name="A-M1-S1", first=1, last=980),),
        samples=(SampleDot(closure=180, verdict="pass"), SampleDot(closure=312, verdict="fail"),
                 SampleDot(closure=930, verdict=None)),
    )  # fmt: skip
    made = run_strip(strip, pen=SCREEN, wide=940.0)
    assert "pass at closure 180; fail at closure 312; not judged yet at closure 930" in made.description
    said = list(texts(made.items))
    assert {"900 ordered", "sample due at 1030"} <= {one.text for one in said}
    for place, one in enumerate(said):
        assert one.box.within(made.frame, slack=0.5), one.text
        assert not any(one.box.touches(other.box) for other in said[place + 1 :]), one.text
