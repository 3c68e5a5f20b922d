"""Playback curves of the 78s at 50 Hz and 10 kHz.

Coarse standard: curve points printed +14 and -10 dB (a page on equalising 78s by computer, read; it agrees within
half a dB). The families without a shelf: turnovers from handbooks (memory), levels derived from them.
"""

import pytest

from runtrue.disc.equalisation import equalisation

DERIVED = (
    ("coarse_groove", 13.971, -10.449, 0.0006),
    ("aes_1951", 18.1, -12.3, 0.05),
    ("mid_turnover_250", 13.9, -0.3, 0.05),
    ("mid_turnover_300", 15.3, -0.35, 0.06),
    ("constant_velocity", 0.0, 0.0, 0.0),
)


@pytest.mark.parametrize(("name", "bass", "treble", "half"), DERIVED)
def test_bass_and_treble(name: str, bass: float, treble: float, half: float) -> None:
    curve = equalisation(name)
    assert float(curve.playback_db(50.0)) == pytest.approx(bass, abs=half)
    assert float(curve.playback_db(10000.0)) == pytest.approx(treble, abs=half)


def test_printed_curve_points() -> None:
    assert float(equalisation("coarse_groove").playback_db(50.0)) == pytest.approx(14.0, abs=0.5)
    assert float(equalisation("coarse_groove").playback_db(10000.0)) == pytest.approx(-10.0, abs=0.5)
