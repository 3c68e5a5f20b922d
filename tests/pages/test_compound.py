"""Compound: a charge judged as it is weighed, and batches beside their family."""

from collections.abc import Iterator

import pytest
from fastapi.testclient import TestClient

from runtrue.web.app import make_app
from tests.booked import empty_book, ports_of

CHARGE = "/compound/charge/invented-78-kiln-black.json"


@pytest.fixture(scope="module")
def plant(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    folder = tmp_path_factory.mktemp("compound")
    book = empty_book(str(folder / "book.sqlite"))
    (folder / "compound").mkdir()
    moisture = [*(0.31 + 0.004 * (7 * k % 5 - 2) for k in range(30)), 0.55]
    rows = [f"B-{k},{value:.3f}" for k, value in enumerate(moisture, 1)]
    table = "\n".join(["batch,moisture_percent", *rows, ""])
    (folder / "compound" / "family.csv").write_text(table, encoding="utf-8")
    (folder / "compound" / "weighings.csv").write_text("time\n", encoding="utf-8")
    with TestClient(make_app(ports_of(book)), base_url="http://127.0.0.1") as client:
        yield client
    book.close()


def right(client: TestClient) -> list[str]:
    return [row["set_kg"] for row in client.get(CHARGE).json()["rows"]]


def test_formulas_and_families_are_offered(plant: TestClient) -> None:
    page = plant.get("/compound.json").json()
    assert "invented-78-kiln-black" in [one["name"] for one in page["formulas"]]
    assert [one["name"] for one in page["families"]] == ["family"]


def test_the_next_line_is_named_and_its_code_leads_to_it(plant: TestClient) -> None:
    page = plant.get(CHARGE).json()
    assert page["head"]["verdict"] is None
    assert page["head"]["act"].startswith(f"Next: {page['rows'][0]['ingredient']}, ")
    scanned = plant.get(CHARGE, params={"scan": page["rows"][4]["code"].lower()}).json()
    assert [row["next"] for row in scanned["rows"]].index(True) == 4
    unknown = plant.get(CHARGE, params={"scan": "nonsense"}).json()
    assert "is no line of charge" in unknown["head"]["detail"]


def test_what_is_weighed_right_goes_on_and_a_whole_charge_passes(plant: TestClient) -> None:
    masses = right(plant)
    some = plant.get(CHARGE, params={"mass": masses[:3]}).json()
    assert some["head"]["said"] == f"3 of {len(masses)} lines weighed, none wrong."
    assert some["head"]["verdict"] is None
    assert [row["verdict"] for row in some["rows"][:4]] == ["pass", "pass", "pass", None]
    whole = plant.get(CHARGE, params={"mass": masses}).json()
    assert whole["head"]["verdict"] == "pass"
    assert whole["faults"] == []


def test_a_line_weighed_twice_over_stops_at_once(plant: TestClient) -> None:
    masses = right(plant)
    masses[1] = f"{2.0 * float(masses[1]):.4f}"
    page = plant.get(CHARGE, params={"mass": masses[:2]}).json()
    assert page["head"]["verdict"] == "fail"
    assert page["rows"][1]["ingredient"] in page["head"]["said"].casefold()
    assert page["rows"][1]["verdict"] == "fail"
    assert page["head"]["act"].startswith("Stop")
    assert page["remedy"] == ""
    whole = plant.get(CHARGE, params={"mass": masses}).json()
    assert whole["head"]["verdict"] == "fail"
    assert whole["remedy"]


def test_a_line_left_out_is_told_when_the_rest_is_there(plant: TestClient) -> None:
    masses = right(plant)
    page = plant.get(CHARGE, params={"mass": [*masses[:-1], ""]}).json()
    assert page["head"]["act"].startswith("Next: ")


@pytest.mark.parametrize("typed", ["12,5", "-1", "0", "nan", "x", "1e9", "1_0"])
def test_what_is_no_mass_is_refused_in_one_line(plant: TestClient, typed: str) -> None:
    answer = plant.get(CHARGE, params={"mass": [typed]})
    assert answer.status_code == 422
    assert "is no mass above 0 kg" in answer.json()["error"]


@pytest.mark.parametrize(
    "path", ["/compound/charge/nobody", "/compound/family/weighings", "/compound/family/..%2Fbook"]
)
def test_no_other_file_is_read(plant: TestClient, path: str) -> None:
    assert plant.get(f"/compound/{path}").status_code == 404


def test_a_batch_outside_its_family_is_held(plant: TestClient) -> None:
    page = plant.get("/compound/family/family.json").json()
    assert page["head"]["verdict"] == "fail"
    assert "B-31" in page["head"]["said"]
    assert [row["verdict"] for row in page["rows"]] == ["fail"]
    assert plant.get("/compound/family/family?baseline=0").status_code == 422
    text = plant.get("/compound/family/family").text
    assert "0.55" in text
    assert "guards and trip bars" in text
