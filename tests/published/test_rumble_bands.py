"""Rumble bands of IEC 60098.

Slopes and corners FROM MEMORY, Butterworth corner shape assumed; the levels are derived from them and no surer.
"""

import pytest

from runtrue.signal.weighting import RUMBLE_BANDS, rumble_before_1987, rumble_since_1987, rumble_weighted

BEFORE = (
    (2, -14.1), (10, -3.0), (20, -1.0), (100, -0.1), (200, -0.7), (315, -3.0), (500, -8.7), (1000, -20.1),
)  # fmt: skip
SINCE = ((10, -18.1), (20, -3.0), (31.5, -0.3), (315, -3.0), (1000, -20.1))
WEIGHTED = ((31.5, -40.0), (100, -19.9), (315, 0.0), (1000, -20.1))


@pytest.mark.parametrize(("frequency", "level"), BEFORE)
def test_unweighted_before_1987(frequency: float, level: float) -> None:
    assert float(rumble_before_1987(frequency)) == pytest.approx(level, abs=0.05)


@pytest.mark.parametrize(("frequency", "level"), SINCE)
def test_unweighted_since_1987(frequency: float, level: float) -> None:
    assert float(rumble_since_1987(frequency)) == pytest.approx(level, abs=0.05)


@pytest.mark.parametrize(("frequency", "level"), WEIGHTED)
def test_weighted(frequency: float, level: float) -> None:
    assert float(rumble_weighted(frequency)) == pytest.approx(level, abs=0.05)


def test_every_band_is_named_with_its_edition() -> None:
    assert all(name.startswith("IEC 60098") for name in RUMBLE_BANDS)
