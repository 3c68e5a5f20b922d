"""Groove velocity, displacement and acceleration.

5 cm/s at 1 kHz as the usual zero of the LP (read). 70 mm/s at 1 kHz is 0.011 mm (turntable article quoting Boden 1981,
read). 8 cm/s: 5.66 per channel or rms; 5 cm/s: 7.96 um, 32.0 g; -4.082 dB re 8 cm/s (derived).
"""

import pytest

from runtrue.disc.equalisation import acceleration, displacement, peak_to_rms
from runtrue.units import amplitude_to_db


def test_printed_displacement() -> None:
    assert displacement(velocity=0.07, frequency=1000.0) == pytest.approx(0.011e-3, abs=0.0005e-3)


def test_derived_figures() -> None:
    assert displacement(velocity=0.05, frequency=1000.0) == pytest.approx(7.96e-6, abs=0.005e-6)
    assert acceleration(velocity=0.05, frequency=1000.0) / 9.80665 == pytest.approx(32.0, abs=0.05)
    assert peak_to_rms(0.08) == pytest.approx(0.0566, abs=0.00005)
    assert peak_to_rms(0.05) == pytest.approx(0.035355, abs=5e-7)
    assert amplitude_to_db(5.0 / 8.0) == pytest.approx(-4.082, abs=0.0005)
