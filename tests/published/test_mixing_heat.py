"""Heat balance of mixing. The form is that of myengineeringtools.com (read); the numbers are worked out from it."""

import pytest

from runtrue.compound.mixing import temperature_step


def test_tenth_of_a_kilowatt_hour_a_kilogram():
    """0.10 kWh/kg = 360 kJ/kg, half of it lost, c 1.03 kJ/(kg K): +175 K."""
    assert temperature_step(specific_energy=360e3, loss=0.5, heat_capacity=1030.0) == pytest.approx(175, abs=0.5)
