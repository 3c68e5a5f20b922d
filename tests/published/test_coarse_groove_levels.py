"""Coarse-groove recording levels and the calibration tone.

AES-S001-064 content sheet of the coarse-groove calibration disc (read; levels rounded to 0.25 dB, the four highest
tones printed after a further 6 dB cut). The sheet prints "ms" for microseconds. 3180, 450 and 50 us.
"""

from math import sqrt

import pytest

from runtrue.disc.equalisation import equalisation, light_band_velocity, peak_to_rms

PRINTED = (
    (10000, 10.5), (8000, 8.75), (6000, 6.75), (5000, 5.5), (4000, 4.25), (3000, 2.75), (2000, 1.5),
    (700, -0.75), (400, -2.25), (200, -5.75), (110, -9.75), (60, -13.25),
)  # fmt: skip
PRINTED_CUT = ((18000, 9.25), (16000, 8.25), (14000, 7.25), (12000, 6.0))


@pytest.mark.parametrize(("frequency", "level"), PRINTED)
def test_printed_recording_levels(frequency: float, level: float) -> None:
    assert float(equalisation("coarse_groove").recording_db(frequency)) == pytest.approx(level, abs=0.125)


@pytest.mark.parametrize(("frequency", "level"), PRINTED_CUT)
def test_printed_levels_after_the_further_cut(frequency: float, level: float) -> None:
    assert float(equalisation("coarse_groove").recording_db(frequency)) - 6.0 == pytest.approx(level, abs=0.125)


def test_calibration_tone() -> None:
    peak = light_band_velocity(band=20e-3, turn_frequency=77.92 / 60.0)
    assert peak == pytest.approx(0.08, abs=0.005)  # printed "about 8 cm/s peak"
    assert peak_to_rms(peak) == pytest.approx(0.057, abs=0.001)  # printed "5.7", the peak having been rounded
    assert peak_to_rms(peak) * sqrt(2.0) == pytest.approx(peak)
