"""From what a person states to what the listening test is told: defaults, rig file, options, in rising rank."""

from math import degrees
from pathlib import Path
from typing import Any

import pytest

from runtrue.disc.arm import Arm
from runtrue.workflow.requests import ListenCheckRequest
from runtrue.workflow.rig import Rig
from runtrue.workflow.setting import GIVEN_RADIUS_U95, cautions_of, format_of, setting_of


def request(**stated: Any) -> ListenCheckRequest:
    return ListenCheckRequest(capture=Path("capture.flac"), **{"format": "12in-33", **stated})


RIG = Rig(
    name="Bench", owner="Quality", date="2026", arm=Arm(length=0.230, overhang=0.0165), player_swing=1e-4,
    spindle=(7.09e-3, 7.11e-3), spindle_runout=5e-6,
)  # fmt: skip


@pytest.mark.parametrize(
    ("name", "rpm", "start_mm", "pitch_mm"),
    [("12in-33", 100 / 3, 145.7, 0.125), ("7in-45", 45.0, 83.55, 0.16), ("10in-78", 78.26, 120.65, 0.26)],
)
def test_what_nobody_states(name: str, rpm: float, start_mm: float, pitch_mm: float) -> None:
    setting = setting_of(request(format=name), None)
    assert setting.turn_frequency * 60.0 == pytest.approx(rpm)
    assert setting.start_radius == pytest.approx(start_mm * 1e-3)
    assert setting.start_radius_u95 == pytest.approx(1e-3)
    assert setting.end_radius is None
    assert (setting.pitch, setting.pitch_spread) == pytest.approx((pitch_mm * 1e-3, 0.3))
    assert not setting.arm.known
    assert setting.player_swing == pytest.approx(0.02e-2)
    assert setting.hole == pytest.approx((7.24e-3, 7.33e-3))
    assert setting.spindle == pytest.approx((7.05e-3, 7.15e-3))


def test_slack_of_a_loose_placing_is_45_to_140_um() -> None:
    """Design section 3: hole 7.24 to 7.33 mm on a spindle of 7.05 to 7.15 mm leaves 45 to 140 um."""
    assert setting_of(request(), None).slack == pytest.approx((45e-6, 140e-6))


def test_options_override_the_rig_and_the_rig_the_defaults() -> None:
    by_rig = setting_of(request(), RIG)
    assert (by_rig.arm, by_rig.player_swing, by_rig.spindle) == (RIG.arm, 1e-4, (7.09e-3, 7.11e-3))
    stated = setting_of(request(arm_offset_deg=20.0, player_swing_percent=0.0, spindle_mm=7.0, hole_mm=7.25), RIG)
    assert degrees(stated.arm.offset or 0.0) == pytest.approx(20.0)
    assert stated.player_swing == 0.0
    assert stated.slack == pytest.approx((0.125e-3, 0.125e-3))


def test_given_radii() -> None:
    setting = setting_of(request(start_radius_mm=146.0, end_radius_mm=60.0), None)
    assert (setting.start_radius, setting.end_radius) == pytest.approx((0.146, 0.06))
    assert (setting.start_radius_u95, setting.end_radius_u95) == (GIVEN_RADIUS_U95, GIVEN_RADIUS_U95)


def test_a_standard_brings_its_dimensions() -> None:
    assert format_of(request(standard="bs-1928")).outermost_groove.source == "BS 1928:1965"
    assert setting_of(request(rpm=77.92, format="10in-78"), None).turn_frequency == pytest.approx(77.92 / 60.0)


def test_what_is_assumed_is_said() -> None:
    def said(**stated: Any) -> str:
        rig = stated.pop("rig", None)
        asked = request(**stated)
        return " ".join(cautions_of(asked, rig, setting_of(asked, rig)))

    assert "arm's angle was not given" in said()
    assert said(arm_offset_deg=0.0) == ""
    assert "large hole on an adaptor" in said(format="7in-45", arm_offset_deg=0.0)
    assert "spindle run-out of 5 μm" in said(rig=RIG)
