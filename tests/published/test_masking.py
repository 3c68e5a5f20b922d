"""Masking formulas against the values that facts of the trade print for them.

Bark: Traunmueller, JASA 88 (1990) 97-100. Spreading: Schroeder, Atal and Hall, JASA 66 (1979) 1647-1652. Threshold in
quiet: Terhardt 1979. Tonality and offset: Johnston, IEEE JSAC 6 (1988) 314-323. The formulas were read as they stand in
several public source files; the digits follow from them (derived), tolerance half the last digit.
"""

import pytest

from runtrue.signal.masking import bark, masking_offset, quiet_threshold, spreading, tonality


@pytest.mark.parametrize(("hz", "rate"), [(100.0, 0.771), (1000.0, 8.527), (10_000.0, 21.886)])
def test_bark(hz: float, rate: float) -> None:
    assert float(bark(hz)) == pytest.approx(rate, abs=0.0006)


@pytest.mark.parametrize(("distance", "db"), [(-2, -27.563), (-1, -7.908), (0, -0.001), (1, -4.306), (2, -12.333)])
def test_spreading(distance: float, db: float) -> None:
    assert float(spreading(distance)) == pytest.approx(db, abs=0.0006)


@pytest.mark.parametrize(("hz", "db"), [(100.0, 22.95), (1000.0, 3.37), (3300.0, -4.98), (10_000.0, 10.58)])
def test_threshold_in_quiet(hz: float, db: float) -> None:
    assert float(quiet_threshold(hz)) == pytest.approx(db, abs=0.006)


def test_tonality_offset() -> None:
    assert float(masking_offset(10.0, 1.0)) == 24.5
    assert float(masking_offset(10.0, 0.0)) == 5.5
    assert float(tonality(-60.0)) == 1.0
    assert float(tonality(-90.0)) == 1.0
