"""The maker's time line against captures of another maker, where they are present (they are not ours to commit)."""

import json
from math import atan2, degrees, hypot, pi, radians
from pathlib import Path

import numpy as np
import pytest

from runtrue.forward import Disc, LeaningArm, Play, Player, Recorder, time_map

PRACTICE = Path(__file__).parents[3] / "shared" / "practice"


@pytest.mark.practice
@pytest.mark.parametrize("name", ["plain", "arm_quiet", "shellac_mono"])
def test_signs_agree_with_another_maker(name: str) -> None:
    """Offset, direction, lean and speed sign: what their ticks still show over our map is small against the offset.

    Their pairs carry random wow (some 10 us) and times rounded to samples (11 us), so the remaining vector is not 0.
    """
    path = PRACTICE / name / "truth.json"
    if not path.is_file():
        pytest.skip("the practice captures are not here; they are kept beside the repository")
    truth = json.loads(path.read_text())
    t = np.array([tick["t_programme"] for tick in truth["ticks"]])
    tc = np.array([tick["t_capture"] for tick in truth["ticks"]])
    disc = Disc(
        turn_frequency=truth["rpm"] / 60.0,
        start_radius=truth["r_start_mm"] * 1e-3,
        end_radius=truth["end_radius_mm"] * 1e-3,
        lathe_error=truth["lathe_ppm"] * 1e-6,
        offset=truth["ecc_um"] * 1e-6,
        direction=radians(truth["ecc_deg"]),
    )
    lean = radians(truth["arm_offset_deg"])
    player = Player(arm=LeaningArm(angle=lean), speed=truth["speed_ppm"] * 1e-6)
    line = time_map(Play(disc=disc, player=player, recorder=Recorder(lead_in=truth["lead_in_s"])), truth["duration_s"])
    left = t - line.programme_time(tc)
    w = 2.0 * pi * disc.groove_frequency
    slowness = 1.0 / (w * line.spiral.radius(t) * np.cos(lean))
    columns = [np.ones_like(tc), tc, slowness * np.cos(w * t + lean), -slowness * np.sin(w * t + lean)]
    fit, *_ = np.linalg.lstsq(np.stack(columns, axis=1), left, rcond=None)
    y, x = fit[2], fit[3]  # sin(alpha - b - theta) = sin(alpha) cos(theta + b) - cos(alpha) sin(theta + b)
    assert hypot(x, y) < 0.25 * disc.offset, f"{hypot(x, y) * 1e6:.1f} um toward {degrees(atan2(y, x)):.0f} deg remain"
    assert abs(fit[1]) < 20e-6
