"""Speeds of records.

Stroboscope discs: 60 * 2 f / bars turns a minute under lamps of f Hz (counting of bars). The 77.92 rpm of 50 Hz
countries: content sheet of a coarse-groove calibration disc, read. One turn and its frequency: worked out.
IEC 60098:2020, clause 5.6: 0.5 % of the rated speed, read in a preview.
"""

import pytest

from runtrue.disc.formats import FORMATS, disc_format
from runtrue.units import hz_to_rpm, rpm_to_hz


def strobe(flashes: int, bars: int) -> float:
    return 60.0 * flashes / bars


@pytest.mark.parametrize(
    ("flashes", "bars", "printed", "digit"),
    [(120, 92, 78.2609, 1e-4), (100, 77, 77.9221, 1e-4), (120, 216, 33.3333, 1e-4), (100, 180, 33.3333, 1e-4),
     (120, 160, 45.0, 1e-4), (100, 133, 45.1128, 1e-4)],
)  # fmt: skip
def test_strobe_identities(flashes: int, bars: int, printed: float, digit: float) -> None:
    assert strobe(flashes, bars) == pytest.approx(printed, abs=digit / 2)


def test_speeds_are_those_of_the_strobes() -> None:
    coarse = disc_format("10in-78")
    assert coarse.rpm == 78.26
    assert [speed.value for speed in coarse.speeds] == pytest.approx([strobe(120, 92), strobe(100, 77)], abs=0.005)
    assert disc_format("12in-33").rpm == pytest.approx(strobe(120, 216))
    assert disc_format("7in-45").rpm == pytest.approx(strobe(120, 160))


@pytest.mark.parametrize(
    ("name", "period", "frequency"),
    [("12in-33", 1.8000, 0.55556), ("7in-45", 1.3333, 0.75), ("10in-78", 0.76667, 1.30435)],
)
def test_one_turn(name: str, period: float, frequency: float) -> None:
    turn = disc_format(name).turn_frequency
    assert turn == pytest.approx(frequency, abs=2e-5)
    assert 1.0 / turn == pytest.approx(period, abs=5e-5)
    assert hz_to_rpm(rpm_to_hz(77.92)) == pytest.approx(77.92)


@pytest.mark.parametrize("name", FORMATS)
def test_tolerance_of_half_a_percent(name: str) -> None:
    for speed in disc_format(name).speeds:
        assert speed.holds(1.005 * speed.value)
        assert speed.holds(0.995 * speed.value)
        assert not speed.holds(1.0051 * speed.value)
