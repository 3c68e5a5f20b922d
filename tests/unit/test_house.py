"""Limits and rigs as loaded: the shipped files hold the standards' figures; what is stated becomes SI."""

from pathlib import Path

import pytest

from runtrue.disc.formats import Standard, eccentricity_limit
from runtrue.errors import InputError
from runtrue.limits import HOUSE_EXAMPLE, shipped, text
from runtrue.types import Limit
from runtrue.workflow.house import load_house
from runtrue.workflow.limits import LimitSet, parse_limits, standard_limits
from runtrue.workflow.rig import load_rig

UM = 1e-6
HEAD = '[file]\nname = "House"\nowner = "Quality"\ndate = 2026-11-24\n'


def limit_on(limits: LimitSet, quantity: str) -> Limit:
    return next(one.limit for one in limits.limits if one.limit.quantity == quantity)


@pytest.mark.parametrize("name", shipped())
def test_a_shipped_file_holds_the_figure_of_its_standard(name: str) -> None:
    limits = standard_limits(name)
    printed = eccentricity_limit(Standard(name))
    limit = limit_on(limits, "off_centre_offset")
    assert limit.upper == pytest.approx(printed.value)
    assert limit.meaning == "offset"
    for one in limits.limits:
        assert one.limit.source
        assert one.limit.owner
        assert one.limit.date


def test_the_default_is_iec() -> None:
    house = load_house()
    assert (house.limits.label, house.rig) == ("iec", None)
    speed = limit_on(house.limits, "speed_deviation")
    assert (speed.lower, speed.upper) == pytest.approx((-0.005, 0.005))
    assert limit_on(house.limits, "jumps_per_side").source.startswith("common practice, no source")


def test_the_pattern_for_a_house_file_loads_and_is_nobodys_standard() -> None:
    limits = parse_limits(text(HOUSE_EXAMPLE), "house-example.toml")
    assert limit_on(limits, "off_centre_offset").upper == pytest.approx(150 * UM)
    assert HOUSE_EXAMPLE not in shipped()


@pytest.mark.parametrize(
    ("key", "meaning", "upper", "offset_um", "shown_meaning"),
    [
        ("off_centre_offset_um", "", 200, 200, "offset"),
        ("off_centre_offset_um", "offset", 200, 200, "offset"),
        ("off_centre_offset_um", "swing", 400, 200, "swing"),
        ("off_centre_swing_um", "", 400, 200, "swing"),
        ("off_centre_swing_um", "swing", 400, 200, "swing"),
        ("off_centre_swing_um", "offset", 200, 200, "offset"),
    ],
)
def test_offset_and_swing(key: str, meaning: str, upper: float, offset_um: float, shown_meaning: str) -> None:
    said = f'meaning = "{meaning}"\n' if meaning else ""
    limits = parse_limits(f'{HEAD}[[limit]]\nquantity = "{key}"\nupper = {upper}\nsource = "s"\n{said}', "x.toml")
    limit = limit_on(limits, "off_centre_offset")
    assert limit.upper == pytest.approx(offset_um * UM)
    assert limit.meaning == shown_meaning


def test_what_zero_is() -> None:
    level = '[[limit]]\nquantity = "rumble_db"\nupper = -30\nsource = "s"\n'
    ratio = '[[limit]]\nquantity = "swish_db"\nupper = 3\nsource = "s"\n'
    limits = parse_limits(HEAD + level + ratio, "x.toml")
    assert [one.level_reference for one in limits.limits] == ["programme", None]


def test_owner_date_and_rule_of_a_limit_of_its_own() -> None:
    row = (
        '[[limit]]\nquantity = "swish_db"\nupper = 3\nsource = "s"\nowner = "Customer"\ndate = 2026-01-02\n'
        "rule = { pass = 0.8, fail = 0.2 }\n"
    )
    limit = limit_on(parse_limits(HEAD + row, "x.toml"), "swish")
    assert (limit.owner, limit.date, limit.rule.pass_at_least, limit.rule.fail_at_most) == (
        "Customer",
        "2026-01-02",
        0.8,
        0.2,
    )


RIG = """
[rig]
name = "Bench 2"
owner = "Quality"
date = 2026-11-20
[arm]
length_mm = 230.0
overhang_mm = 16.5
pivot_elevation_deg = 3.0
[platter]
player_swing_percent = 0.02
spindle_mm = 7.10
spindle_u95_mm = 0.01
spindle_runout_um = 5
[channels]
left = 1
right = 0
[calibration]
level = { velocity_cm_s = 5.0, kind = "peak", axis = "lateral", hz = 1000, dbfs = -18.3, date = 2026-11-20 }
speed_u95_percent = 0.001
[stylus]
id = "st-14"
hours = 212
"""


def test_a_whole_rig_file(tmp_path: Path) -> None:
    path = tmp_path / "rig.toml"
    path.write_text(RIG, encoding="utf-8")
    rig = load_rig(path)
    assert (rig.name, rig.date, rig.left, rig.right, rig.stylus) == ("Bench 2", "2026-11-20", 1, 0, "st-14")
    assert (rig.arm.length, rig.arm.overhang) == pytest.approx((0.230, 0.0165))
    assert rig.spindle == pytest.approx((7.09e-3, 7.11e-3))
    assert rig.player_swing == pytest.approx(2e-4)
    assert rig.speed_u95 == pytest.approx(1e-5)
    assert rig.level is not None
    assert rig.level.velocity == pytest.approx(0.05)
    assert rig.calibrated == {"speed_deviation"}


def test_a_rig_of_which_only_the_name_is_known(tmp_path: Path) -> None:
    path = tmp_path / "rig.toml"
    path.write_text('[rig]\nname = "x"\nowner = "y"\ndate = "2026"\n', encoding="utf-8")
    rig = load_rig(path)
    assert not rig.arm.known
    assert rig.calibrated == frozenset()


def test_a_tangential_arm(tmp_path: Path) -> None:
    path = tmp_path / "rig.toml"
    path.write_text('[rig]\nname = "x"\nowner = "y"\ndate = "2026"\n[arm]\ntangential = true\n', encoding="utf-8")
    assert load_rig(path).arm.offset == 0.0


def test_a_file_or_a_standard() -> None:
    with pytest.raises(InputError, match="not both"):
        load_house(limits=Path("x.toml"), standard="iec")
