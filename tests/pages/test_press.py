"""The press: its file's cycle, and what other seconds would do; nothing here is a safe setting."""

from collections.abc import Iterator
from importlib.resources import files
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from runtrue.errors import InputError
from runtrue.web.app import make_app
from runtrue.workflow.press_spec import WhatIf, load_spec, phase_names, what_if
from tests.booked import empty_book, ports_of

SPEC = files("runtrue.demo").joinpath("press.toml").read_text("utf-8")


@pytest.fixture(scope="module")
def plant(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    folder = tmp_path_factory.mktemp("press")
    book = empty_book(str(folder / "book.sqlite"))
    with TestClient(make_app(ports_of(book)), base_url="http://127.0.0.1") as client:
        assert client.get("/press.json").json()["head"]["said"] == "No press file lies beside the book."
        (folder / "press").mkdir()
        (folder / "press" / "P2.toml").write_text(SPEC, encoding="utf-8")
        yield client
    book.close()


def test_the_file_s_cycle_stands_with_its_bands_and_its_cautions(plant: TestClient) -> None:
    page = plant.get("/press.json").json()
    assert "opens at 18 s" in page["head"]["said"]
    assert page["head"]["act"].startswith("It is below the plant's")
    assert not page["asked"]
    text = plant.get("/press/P2").text
    assert "No output here is a safe setting" in text
    for word in ("scald", "locked out", "Hot compound", "hydrogen chloride"):
        assert word in text


def test_more_water_opens_later_and_cooler(plant: TestClient) -> None:
    page = plant.get("/press/P2.json", params={"s": ["", "14"]}).json()
    rows = {row["name"]: row for row in page["rows"]}
    assert page["asked"]
    assert rows["cycle"]["change"].startswith("+2.0")
    assert rows["mid-plane at opening"]["change"].startswith("\N{MINUS SIGN}")
    held = plant.get("/press/P2.json", params={"hold_s": "1"}).json()
    assert "opens at 19 s" in held["head"]["said"]


@pytest.mark.parametrize("typed", ["0", "-1", "nan", "x", "601", "1_0", "1e9"])
def test_seconds_out_of_range_are_said_and_the_file_s_cycle_still_stands(plant: TestClient, typed: str) -> None:
    page = plant.get("/press/P2.json", params={"s": [typed, ""]}).json()
    assert page["error"].startswith("steam must be 0.1 to 600 s")
    assert "opens at 18 s" in page["head"]["said"]
    assert page["picture"] is not None


@pytest.mark.parametrize("name", ["P3", "..%2Fbook", "P2.toml"])
def test_no_other_file_is_read(plant: TestClient, name: str) -> None:
    assert plant.get(f"/press/{name}").status_code == 404


def test_other_seconds_change_only_the_seconds(tmp_path: Path) -> None:
    path = tmp_path / "P2.toml"
    path.write_text(SPEC, encoding="utf-8")
    assert phase_names(path) == [("steam", 6.0), ("water", 12.0), ("open", 5.0)]
    same = what_if(path, WhatIf(seconds=(6.0, 12.0, 5.0)))
    assert same.recipe == load_spec(path).recipe
    other = what_if(path, WhatIf(seconds=(5.0, 13.0, 5.0), hold=2.0))
    seconds = [(one.name, one.duration) for one in other.recipe.phases]
    assert seconds == [("steam", 5.0), ("hold", 2.0), ("water", 13.0), ("open", 5.0)]
    with pytest.raises(InputError, match="3 phases, 2 durations"):
        what_if(path, WhatIf(seconds=(1.0, 2.0)))
    with pytest.raises(InputError, match="up to 600 s"):
        what_if(path, WhatIf(seconds=(601.0, 2.0, 5.0)))
