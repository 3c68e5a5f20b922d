"""A followed path that is shorter than the stretch its quality is taken over."""

import numpy as np
import pytest

from runtrue.listen.lattice import Path


@pytest.mark.parametrize("count", [0, 1, 7, 19, 20, 40])
def test_quality_has_one_value_a_window(count: int) -> None:
    ones = np.ones(count)
    path = Path(capture=ones, programme=ones, correlation=0.8 * ones, capture_energy=ones, reference_energy=ones)
    quality = path.quality()
    assert quality.shape == (count,)
    assert quality == pytest.approx(0.8 * ones)
