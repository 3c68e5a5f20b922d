"""Anything printed is found, however it was typed; what is not there is said with what was looked through."""

import pytest
from fastapi.testclient import TestClient


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("QRW 0417", "QRW 0417 is a job."),
        ("QRW-0417-A", "QRW-0417-A is a matrix"),
        ("A-M1-S1", "A-M1-S1 is a piece of metal."),
        ("  a-m1-s1 ", "A-M1-S1 is a piece of metal."),
        ("aM1S1", "A-M1-S1 is a piece of metal."),
        ("K-88", "K-88 is a batch."),
        ("VC-204", "VC-204 is a supplier's lot."),
        ("c3", "c3 is a sample."),
        ("PL-1", "PL-1 is a pallet."),
        ("J-11/8", "Box 8 of job J-11."),
        ("J-11 8", "Box 8 of job J-11."),
        ("R1/312", "Closure 312 of run R1."),
    ],
)
def test_it_is_found(client: TestClient, typed: str, said: str) -> None:
    page = client.get("/find.json", params={"q": typed}).json()
    assert page["head"]["said"].startswith(said.rstrip("."))
    assert page["found"]


def test_a_closure_leads_to_its_stamper_and_batch(client: TestClient) -> None:
    page = client.get("/find.json", params={"q": "R1/700"}).json()
    kinds = {kind["kind"]: [one["name"] for one in kind["things"]] for kind in page["found"]}
    assert kinds["stamper"] == ["A-M1-S2", "B-M1-S1"]
    assert kinds["batch"] == ["K-89"]


def test_a_closure_that_was_never_counted_is_refused(client: TestClient) -> None:
    page = client.get("/find.json", params={"q": "R1/5000"}).json()
    assert "beyond the counter" in page["head"]["said"]
    assert page["found"] == []


def test_how_a_name_begins_is_offered(client: TestClient) -> None:
    page = client.get("/find.json", params={"q": "a-m1-s"}).json()
    assert [one["name"] for one in page["near"]] == ["A-M1-S1", "A-M1-S2"]


def test_nothing_found_says_what_was_looked_through(client: TestClient) -> None:
    text = client.get("/find", params={"q": "ZZ-9 <b>"}).text
    assert "names nothing in the book" in text
    assert "Matrix number as scribed" in text
    assert "<b>”" not in text


@pytest.mark.parametrize(
    "typed", ["%", "_", "(", "()", "/", "R1/", "R1/x", "\u00b2/\u00b2", "\x00", "R1/99999999999999999999"]
)
def test_nothing_typed_breaks_it(client: TestClient, typed: str) -> None:
    assert client.get("/find", params={"q": typed}).status_code == 200


def test_the_field_takes_the_focus_and_stands_on_every_page(client: TestClient) -> None:
    text = client.get("/find").text
    assert "autofocus" in text
    assert 'name="q"' in client.get("/floor").text
