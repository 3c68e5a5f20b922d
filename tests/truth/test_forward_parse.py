"""Faults from a table: units in the keys, and an error that says what is wrong, where, and what is allowed."""

import tomllib
from math import radians
from typing import Any

import pytest

from runtrue.errors import InputError
from runtrue.forward import LeaningArm, PivotedArm, play_from_table

SCENARIO = """
[disc]
rpm = 33.333333
start_radius_mm = 146
end_radius_mm = 120
offset_um = 104
direction_deg = 131
lathe_error_ppm = 120
surface = { level_db = -58, shape = "vinyl", swish_db = 2 }
landmarks_s_mm = [[0, 146], [600, 120]]

[[disc.ticks]]
programme_time_s = 9.25
peak_db = -20
axis = "right"

[[disc.zones]]
start_s = 8
end_s = 26
from_angle_deg = 200
to_angle_deg = 290
level_db = -34

[player]
speed_percent = 0.07
arm = { length_mm = 230, overhang_mm = 16.5 }
stylus = { radius_um = 18, time_constants_us = [3180, 318, 75] }
response = { points_hz_db = [[1000, 0], [10000, -2]] }
polarity = -1
channels = "swapped"
wow = { density_percent = 0.02, upper_hz = 10 }

[[player.jumps]]
programme_time_s = 42
turns = -1

[placing]
slack_um = 40

[recorder]
lead_in_s = 4
bits = 16
"""


def test_a_whole_scenario() -> None:
    play = play_from_table(tomllib.loads(SCENARIO))
    assert play.disc.offset == pytest.approx(104e-6)
    assert play.disc.direction == pytest.approx(radians(131))
    assert play.disc.lathe_error == pytest.approx(120e-6)
    assert play.disc.landmarks == ((0.0, 0.146), (600.0, pytest.approx(0.12)))
    assert play.disc.ticks[0].axis == "right"
    assert play.disc.surface is not None
    assert play.disc.surface.level_db == -58.0
    assert play.player.arm == PivotedArm.from_overhang(0.23, 0.0165)
    assert play.player.stylus is not None
    assert play.player.stylus.time_constants == pytest.approx((3180e-6, 318e-6, 75e-6))
    assert play.player.wow is not None
    assert play.player.wow.density == pytest.approx(2e-4)
    assert play.player.jumps[0].turns == -1
    assert play.recorder.bits == 16


DISC: dict[str, Any] = {"rpm": 45, "start_radius_mm": 84}


@pytest.mark.parametrize(
    ("table", "message"),
    [
        ({}, r"faults lacks disc: give it a value"),
        ({"disc": {"rpm": 45}}, r"faults\.disc lacks start_radius_mm or start_radius_um or start_radius_m"),
        ({"disc": {**DISC, "offset": 3}}, r"faults\.disc has the unknown key 'offset'; known are .*offset_um"),
        ({"disc": {**DISC, "offset_um": 3, "offset_mm": 1}}, r"faults\.disc gives offset twice"),
        ({"disc": {**DISC, "offset_um": "3"}}, r"faults\.disc\.offset_um must be a number, got '3'"),
        ({"disc": {**DISC, "offset_mm": 30}}, r"faults\.disc: Disc\.offset must be from 0 to 0\.005 m, got 0\.03 m"),
        ({"disc": {**DISC, "offset_mm": True}}, r"must be a number"),
        ({"disc": {**DISC, "offset_mm": float("nan")}}, r"must be a finite number m, got nan"),
        ({"disc": {**DISC, "ticks": {}}}, r"faults\.disc\.ticks must be a list of tables"),
        ({"disc": {**DISC, "ticks": [{"programme_time_s": 1}]}}, r"faults\.disc\.ticks\[1\] lacks peak_db"),
        (
            {"disc": {**DISC, "ticks": [{"programme_time_s": 1, "peak_db": -9, "axis": "up"}]}},
            r"ticks\[1\]\.axis must be one of lateral, vertical, left, right, got 'up'",
        ),
        ({"disc": DISC, "player": {"jumps": [{"programme_time_s": 1, "turns": 0.5}]}}, r"turns must be a whole number"),
        ({"disc": DISC, "player": {"jumps": [{"programme_time_s": 1, "turns": 0}]}}, r"turns must not be 0"),
        ({"disc": DISC, "player": {"arm": {"length_mm": 230}}}, r"needs angle_deg alone, or length_mm with"),
        ({"disc": DISC, "player": {"arm": 3}}, r"faults\.player\.arm must be a table"),
        ({"disc": DISC, "player": {"stylus": {"time_constants_us": [1, 2]}}}, r"time_constants must be three times"),
        ({"disc": {**DISC, "landmarks_s_mm": [[1, 2, 3]]}}, r"must be a list of 2 numbers each"),
        ({"disc": DISC, "player": 3}, r"faults\.player must be a table of keys and values"),
    ],
)
def test_slips_are_named(table: dict[str, Any], message: str) -> None:
    with pytest.raises(InputError, match=message):
        play_from_table(table)


def test_an_angle_alone_is_a_leaning_arm() -> None:
    play = play_from_table({"disc": DISC, "player": {"arm": {"angle_deg": 23}}})
    assert play.player.arm == LeaningArm(angle=radians(23))
