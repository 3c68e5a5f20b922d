"""Wow from an off-centre groove.

An abstract on devices against wow of the late 1940s, read: 0.01 in of centring error gives 1 % peak to peak of
frequency modulation at the inner grooves; 2 e / r = 1 % needs r = 2.00 in. The table of percent per offset and radius
and the groove speeds are worked out from e / r and 2 pi f r to the digits shown. A pivoted arm of 230 mm with 16.5 mm
overhang: 1 / cos b from the exact intersection of arc and circle, which first order meets within 0.001.
"""

import pytest

from runtrue.disc.arm import Arm
from runtrue.disc.wow import groove_speed, offset_from_wow, peak_delay, wavelength, wow_from_offset
from runtrue.errors import InputError

TURN_33 = 100.0 / 180.0


def test_a_hundredth_of_an_inch_gives_one_percent_peak_to_peak_at_two_inches() -> None:
    peak = wow_from_offset(offset=0.01 * 0.0254, radius=2.0 * 0.0254)
    assert 2.0 * peak == pytest.approx(0.01, abs=1e-9)


@pytest.mark.parametrize(
    ("radius_mm", "row"),
    [
        (146.3, (0.0342, 0.0684, 0.0889, 0.1367, 0.1736, 0.3472, 0.8681)),
        (60.325, (0.0829, 0.1658, 0.2155, 0.3315, 0.4211, 0.8421, 2.1053)),
        (57.5, (0.0870, 0.1739, 0.2261, 0.3478, 0.4417, 0.8835, 2.2087)),
        (120.9, (0.0414, 0.0827, 0.1075, 0.1654, 0.2101, 0.4202, 1.0505)),
        (84.15, (0.0594, 0.1188, 0.1545, 0.2377, 0.3018, 0.6037, 1.5092)),
        (53.0, (0.0943, 0.1887, 0.2453, 0.3774, 0.4792, 0.9585, 2.3962)),
    ],
)
def test_percent_of_wow(radius_mm: float, row: tuple[float, ...]) -> None:
    offsets_mm = (0.05, 0.10, 0.13, 0.20, 0.254, 0.508, 1.27)
    for offset, printed in zip(offsets_mm, row, strict=True):
        percent = 100.0 * wow_from_offset(offset=offset * 1e-3, radius=radius_mm * 1e-3)
        assert percent == pytest.approx(printed, abs=0.5e-4)


@pytest.mark.parametrize(("radius_mm", "factor"), [(60.0, 1.089), (100.0, 1.080), (146.0, 1.106)])
def test_a_pivoted_arm_shows_more(radius_mm: float, factor: float) -> None:
    radius = radius_mm * 1e-3
    lean = float(Arm(length=0.230, overhang=0.0165).lean(radius))
    straight = wow_from_offset(offset=1e-4, radius=radius)
    leaning = wow_from_offset(offset=1e-4, radius=radius, lean=lean)
    assert leaning / straight == pytest.approx(factor, abs=1e-3)
    assert offset_from_wow(deviation=leaning, radius=radius, lean=lean) == pytest.approx(1e-4)


@pytest.mark.parametrize(
    ("rpm", "radius_mm", "speed_mm_s"),
    [(100 / 3, 146.3, 510.7), (100 / 3, 60.325, 210.6), (45.0, 84.15, 396.5), (45.0, 53.0, 249.8)],
)
def test_groove_speed(rpm: float, radius_mm: float, speed_mm_s: float) -> None:
    speed = groove_speed(radius=radius_mm * 1e-3, turn_frequency=rpm / 60.0)
    assert speed * 1e3 == pytest.approx(speed_mm_s, abs=0.05)


def test_groove_speed_of_a_78() -> None:
    assert groove_speed(radius=146.3e-3, turn_frequency=78.26 / 60.0) * 1e3 == pytest.approx(1199.0, abs=0.5)


def test_wavelength() -> None:
    length = wavelength(frequency=15e3, radius=60.325e-3, turn_frequency=TURN_33)
    assert length * 1e6 == pytest.approx(14.0, abs=0.05)


def test_peak_delay_is_offset_over_groove_speed() -> None:
    delay = peak_delay(offset=0.2e-3, radius=60e-3, turn_frequency=TURN_33)
    assert delay == pytest.approx(0.2e-3 / groove_speed(radius=60e-3, turn_frequency=TURN_33))


@pytest.mark.parametrize(("offset", "radius"), [(-1e-6, 0.1), (1e-4, 0.0), (1e-4, -0.1), (float("nan"), 0.1)])
def test_impossible_geometry_is_refused(offset: float, radius: float) -> None:
    with pytest.raises(InputError, match=r"must be (above )?0"):
        wow_from_offset(offset=offset, radius=radius)
