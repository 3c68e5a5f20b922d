"""The story of the demonstration: what it says holds together, and a slip in the file is named."""

import json
from importlib.resources import files
from pathlib import Path

import pytest

from runtrue.demo.scenario import Scenario, load_scenario, parse_scenario
from runtrue.disc.formats import FORMATS
from runtrue.errors import InputError, MissingFileError, UnknownNameError
from runtrue.workflow.limits import load_limits


@pytest.fixture(scope="module")
def story() -> Scenario:
    return load_scenario()


def text() -> str:
    return files("runtrue.demo").joinpath("scenario.toml").read_text("utf-8")


def test_the_shape_of_the_demonstration(story: Scenario) -> None:
    assert [s.label for s in story.side] == ["A", "B"]
    assert all(s.seconds >= 180.0 for s in story.side)
    assert len(story.copy) == 8
    assert len(story.stamper) == 4
    assert [c.closure for c in story.copy] == sorted(c.closure for c in story.copy)
    assert story.title.format in FORMATS
    assert {t.character for s in story.side for t in s.tune} >= {"rising", "tonal", "drums_first", "fade", "quiet"}


def test_one_stamper_is_off_centre_beyond_the_limit_and_placing_cannot_hide_it(story: Scenario) -> None:
    offsets = {s.id: s.offset_um for s in story.stamper}
    assert offsets.pop("B-M1-S2") - story.rig.slack_um > 200.0
    assert all(20.0 <= o <= 60.0 and o + story.rig.slack_um < 200.0 for o in offsets.values())
    copy = story.copy_of("c7")
    played = [story.play(copy, p) for p in copy.plays]
    assert [round(p.disc.offset * 1e6) for p in played] == [24, 260, 260]
    mean = (played[1].played_axis + played[2].played_axis) / 2
    assert abs(mean - played[1].disc.axis) < 1e-9  # opposite pushes cancel


def ticks(story: Scenario, name: str, playing: int = 0) -> list[float]:
    copy = story.copy_of(name)
    return [t.programme_time for t in story.play(copy, copy.plays[playing]).disc.ticks]


def test_each_fault_stands_where_its_station_put_it(story: Scenario) -> None:
    for name in ("c1", "c2", "c3", "c4", "c5", "c6", "c7"):
        assert 71.4 in ticks(story, name)  # the mother's, under both stampers
    every = ("c1", "c2", "c3", "c4", "c5", "c6", "c7", "c8")
    assert [n for n in every if 125.3 in ticks(story, n)] == ["c2", "c3"]  # the scrap, until it was wiped off
    assert [n for n in every if 47.2 in ticks(story, n)] == ["c1", "c2", "c3", "c4"]  # the first stamper's own
    assert 9.4 in ticks(story, "c1")
    assert 9.4 not in ticks(story, "c1", 1)  # dirt that a wash took off
    assert 71.4 not in ticks(story, "c7", 1)  # side B
    assert {c.id for c in story.copy if story.play(c, c.plays[0]).disc.trains} == {"c4"}
    assert {c.id for c in story.copy if story.play(c, c.plays[0]).player.jumps} == {"c6"}
    noise = {c.id: story.play(c, c.plays[0]).disc.surface for c in story.copy}
    assert [name for name, s in noise.items() if s is not None and s.level_db > -50.0] == ["c5"]


def test_one_copy_carries_the_other_side(story: Scenario) -> None:
    assert [(c.id, p.label, p.music) for c, p in story.playings() if p.label != p.music] == [("c8", "A", "B")]
    assert story.stamper_of(story.copy_of("c8"), "B").id == "B-M1-S2"


def test_seeds_differ(story: Scenario) -> None:
    seeds = [story.seed(c, p) for c, p in story.playings()]
    assert len(set(seeds)) == len(seeds)


def test_its_limits_are_a_limits_file(story: Scenario, tmp_path: Path) -> None:
    path = tmp_path / "limits.toml"
    lines = ["[file]", *(f"{k} = {json.dumps(v)}" for k, v in story.limits["file"].items())]
    for limit in story.limits["limit"]:
        lines += ["[[limit]]", *(f"{k} = {json.dumps(v)}" for k, v in limit.items())]
    path.write_text("\n".join(lines), encoding="utf-8")
    assert len(load_limits(path).limits) == 4


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("offset_um = 38", "ofset_um = 38", "s.toml: key 'stamper.1.ofset_um' is unknown: correct or remove it"),
        ("closure = 168\n", "", "s.toml: key 'copy.1.closure' is missing: add it"),
        ("pile = 1\n", 'pile = "1"\n', "s.toml: copy.1.pile: input should be a valid integer, got '1'"),
        ("seconds = 58", "seconds = 0.1", "side.1.tune.1: seconds must be 0.5 to 7200 s, got 0.1 s"),
        ('character = "tonal"', 'character = "tonl"', "character 'tonl' is unknown; known are band"),
        ("slack_um = 21", "slack_um = 60", "copy c1: slack_um must be at most 45 um"),
        ("programme_time_s = 33.1", "programme_time = 33.1", "copy c1, label A.disc.ticks.* lacks programme_time_s"),
        ("to_closure = 520", "to_closure = 530", "at closure 521 stamper A-M1-S1 still presses side A"),
        (
            "from_closure = 521",
            "from_closure = 600",
            "copy c5: closure 575 must lie within exactly one stamper of side A",
        ),
        ('on = "A-M1"', 'on = "A-M9"', "mark on 'A-M9' is unknown"),
        ('id = "c2"', 'id = "c1"', "copy 'c1' stands there twice"),
        ("offset_um = 38", "offset_um = nan", "stamper.1.offset_um: input should be a finite number"),
        ("[plant]", "[plant", "s.toml: is no TOML"),
        ('side = "A"', 'side = "C"', "side 'C' is unknown; known are A, B"),
        ('town = "Quillmere"', "town = 12:00:00", "has no meaning here: write it as text"),
    ],
)
def test_a_slip_is_named(old: str, new: str, message: str) -> None:
    assert old in text()
    with pytest.raises(InputError, match=message):
        parse_scenario(text().replace(old, new, 1), "s.toml")


def test_a_file_of_ones_own(tmp_path: Path, story: Scenario) -> None:
    path = tmp_path / "mine.toml"
    path.write_text(text(), encoding="utf-8")
    assert load_scenario(path) == story
    with pytest.raises(MissingFileError, match="there is no such file"):
        load_scenario(tmp_path / "none.toml")
    path.write_bytes(b"\xff\xfe\x00")
    with pytest.raises(InputError, match="no text in UTF-8"):
        load_scenario(path)
    with pytest.raises(UnknownNameError, match="copy 'c9' is unknown"):
        story.copy_of("c9")
