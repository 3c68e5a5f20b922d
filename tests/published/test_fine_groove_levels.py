"""Fine-groove playback levels.

Time constants 3180, 318 and 75 us: BS 1928:1955 fine-groove label (read). Levels at eight low frequencies: GOST
11157-87, change sheet, table 2 to 100 Hz (read; one decimal). Six levels from 20 Hz to 20 kHz as usually printed with
three decimals, and three with the IEC amendment (7950 us): derived from the time constants.
"""

import pytest

from runtrue.disc.equalisation import corner_frequency, equalisation, time_constant

PRINTED = ((20, 19.3), (25, 19.0), (31.5, 18.5), (40, 17.8), (50, 16.9), (63, 15.9), (80, 14.5), (100, 13.1))
USUAL = ((20, 19.274), (100, 13.088), (500, 2.648), (1000, 0.0), (2000, -2.589), (10000, -13.734), (20000, -19.620))
AMENDED = ((20, 16.261), (31.5, 17.006), (100, 12.920), (1000, 0.0), (20000, -19.619))
CORNERS = ((3180e-6, 50.05, 0.005), (318e-6, 500.5, 0.05), (75e-6, 2122.1, 0.05), (7950e-6, 20.02, 0.005))


@pytest.mark.parametrize(("frequency", "level"), PRINTED)
def test_printed_low_frequencies(frequency: float, level: float) -> None:
    assert float(equalisation("fine_groove").playback_db(frequency)) == pytest.approx(level, abs=0.05)


@pytest.mark.parametrize(("frequency", "level"), USUAL)
def test_usual_levels(frequency: float, level: float) -> None:
    curve = equalisation("fine_groove")
    assert float(curve.playback_db(frequency)) == pytest.approx(level, abs=0.0006)
    assert float(curve.recording_db(frequency)) == pytest.approx(-level, abs=0.0006)


@pytest.mark.parametrize(("frequency", "level"), AMENDED)
def test_levels_with_the_amendment(frequency: float, level: float) -> None:
    assert float(equalisation("fine_groove_amended").playback_db(frequency)) == pytest.approx(level, abs=0.0006)


@pytest.mark.parametrize(("time", "frequency", "half"), CORNERS)
def test_corners(time: float, frequency: float, half: float) -> None:
    assert corner_frequency(time) == pytest.approx(frequency, abs=half)
    assert time_constant(corner_frequency(time)) == pytest.approx(time, rel=1e-12)
