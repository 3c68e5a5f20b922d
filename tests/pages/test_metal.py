"""Metal: the family of a side, and a stamper's centre from readings typed into an ordinary form."""

from math import cos, radians
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from runtrue.records import asking, tables
from runtrue.web.app import make_app
from tests.booked import Clerk, ports_of, quillmere


def readings(offset: float, toward: float) -> list[str]:
    """Readings of a groove whose centre lies ``offset`` um off toward an angle, 4 um of scatter in a fixed pattern."""
    wobble = (2.0, -3.0, 4.0, -2.0, -4.0, 3.0, -1.0, 1.0)
    return [f"{offset * cos(radians(45.0 * k - toward)) + wobble[k]:.1f}" for k in range(8)]


def test_a_family_stands_under_its_cut_with_lives(client: TestClient) -> None:
    page = client.get("/metal/side/QRW-0417-A.json").json()
    assert [(one["name"], one["depth"]) for one in page["family"]] == [
        ("A-L", 0), ("A-F1", 1), ("A-M1", 2), ("A-M1-S1", 3), ("A-M1-S2", 3),
    ]  # fmt: skip
    lives = {one["name"]: (one["state"], one["life"], one["share"]) for one in page["family"]}
    assert lives["A-M1-S1"] == ("off the press", "599 pressed", 100.0)
    assert lives["A-M1-S2"][0] == "on press P2"
    assert lives["A-M1"] == ("", "", None)


def test_readings_give_the_swing_the_move_and_the_decision(client: TestClient) -> None:
    asked = {"reading": readings(100.0, 0.0), "limit_swing_um": "130"}
    page = client.get("/metal/piece/A-M1-S2.json", params=asked).json()
    assert page["head"]["verdict"] == "fail"
    assert "swings 0.2" in page["head"]["said"]
    assert page["head"]["act"].startswith("Move it 0.1")
    assert "toward 6" in page["head"]["act"]
    steps = next(one["value"] for one in page["answer"]["numbers"] if one["name"] == "In two steps")
    assert "mm toward 6" in steps
    assert [row["fitted"] != "" for row in page["rows"]] == [True] * 8
    html = client.get("/metal/piece/A-M1-S2", params=asked).text
    assert "Keep it" in html
    assert html.count("<svg") > 4


def test_a_centred_stamper_passes(client: TestClient) -> None:
    asked = {"reading": readings(3.0, 90.0), "limit_swing_um": "130"}
    page = client.get("/metal/piece/A-M1-S2.json", params=asked).json()
    assert page["head"]["verdict"] == "pass"
    assert page["head"]["act"] == "Punch it."


def test_too_few_readings_cannot_be_judged_and_say_what_to_add(client: TestClient) -> None:
    page = client.get("/metal/piece/A-M1-S2.json", params={"reading": ["10", "", "", "", "-10"]}).json()
    assert page["head"]["verdict"] is None or page["head"]["verdict"] == "cannot_judge"
    assert "is not read far enough" in page["head"]["said"]
    assert "read at 90 and 270 deg too" in page["head"]["detail"]


@pytest.mark.parametrize("typed", ["12,5", "nan", "1e999", "x", "1_0", "\u00b2"])
def test_what_is_no_number_is_said_with_its_angle(client: TestClient, typed: str) -> None:
    page = client.get("/metal/piece/A-M1-S2.json", params={"reading": ["1", typed, "3", "4"]}).json()
    assert page["answer"] is None
    assert page["error"].startswith("45°: ")


@pytest.mark.parametrize(
    ("path", "status"),
    [
        ("/metal/piece/NOBODY", 404), ("/metal/side/NOBODY", 404), ("/metal/piece/A-M1-S2?places=7", 422),
        ("/metal/piece/A-M1-S2?limit_swing_um=-3", 422), ("/metal/piece/A-M1-S2?groove=oval", 422), ("/metal", 200),
        ("/metal/piece/A-L", 200),
    ],
)  # fmt: skip
def test_every_address_answers_in_one_line(client: TestClient, path: str, status: int) -> None:
    assert client.get(path).status_code == status


def test_a_centre_is_kept_only_by_a_form_of_ours_and_then_stands_in_the_book(tmp_path: Path) -> None:
    book = quillmere(str(tmp_path / "book.sqlite"))
    Clerk(book).at("14:00")("card", metal="A-M1", state="repaired", programme_s=250.2, note="tick polished")
    with TestClient(make_app(ports_of(book)), base_url="http://127.0.0.1") as client:
        form = {"reading": readings(100.0, 0.0), "limit_swing_um": "130"}
        refused = client.post("/metal/piece/A-M1-S2", data=form)
        assert refused.status_code == 403
        page = client.get("/metal/piece/A-M1-S2").text
        assert "4:10.2" in page
        assert "tick polished" in page
        token = page.partition('name="token" content="')[2].partition('"')[0]
        without = client.post("/metal/piece/A-M1-S2", data={**form, "limit_swing_um": "", "token": token})
        assert without.status_code == 422
        kept = client.post("/metal/piece/A-M1-S2", data={**form, "token": token})
        assert kept.status_code == 200
        assert "Last kept 5 Oct 06:00 UTC: fail." in kept.text
    with book.read() as connection:
        rows = asking.rows_where(connection, tables.Analysed, action="stamper centre")
    assert [row.verdict for row in rows] == ["fail"]
    book.close()
