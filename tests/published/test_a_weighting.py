"""A-weighting.

IEC 61672-1, table of weightings at nominal frequencies, read in GOST 17187-2010 (= IEC 61672-1), table 2, page 10. The
table holds at the exact frequencies 1000 * 10**(0.1 (n - 30)), n = 10 to 43.
"""

import pytest

from runtrue.signal.weighting import a_weighting

PRINTED = (
    -70.4, -63.4, -56.7, -50.5, -44.7, -39.4, -34.6, -30.2, -26.2, -22.5, -19.1, -16.1, -13.4, -10.9, -8.6, -6.6, -4.8,
    -3.2, -1.9, -0.8, 0.0, 0.6, 1.0, 1.2, 1.3, 1.2, 1.0, 0.5, -0.1, -1.1, -2.5, -4.3, -6.6, -9.3,
)  # fmt: skip


def test_the_table_is_whole() -> None:
    assert len(PRINTED) == 34


@pytest.mark.parametrize(("number", "level"), tuple(enumerate(PRINTED, 10)))
def test_printed_weightings(number: int, level: float) -> None:
    exact = 1000.0 * 10.0 ** (0.1 * (number - 30))
    assert float(a_weighting(exact)) == pytest.approx(level, abs=0.05)


def test_zero_at_1_khz() -> None:
    assert float(a_weighting(1000.0)) == pytest.approx(0.0, abs=0.001)


def test_nominal_frequencies_differ() -> None:
    assert float(a_weighting(12.5)) == pytest.approx(-63.58, abs=0.005)  # derived: the trap of a rounded frequency
    assert float(a_weighting(16.0)) == pytest.approx(-56.42, abs=0.005)
