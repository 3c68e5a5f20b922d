"""Short renders with one fault each: it is named and nothing else is. Ticks, off-centre, speed and start as well."""

import pytest

from bench.judged import judge
from bench.scenes import FAULTS, draw

pytestmark = [pytest.mark.sound, pytest.mark.slow]


@pytest.mark.parametrize("kind", FAULTS)
def test_fault_is_named_and_no_other(kind: str) -> None:
    outcome = judge(draw(kind, "band", 7, seconds=20.0))
    assert outcome.recognised, outcome.said


@pytest.mark.parametrize("character", ["brushes", "speech"])
def test_what_is_measured_is_true(character: str) -> None:
    outcome = judge(draw("measure", character, 8, seconds=30.0))
    assert outcome.recognised, outcome.said
    assert outcome.vector_error is not None
    assert outcome.vector_error < 5e-6
    assert abs(outcome.speed_error or 1.0) < 100e-6  # half the length to which the goal of 50 ppm belongs
    assert abs(outcome.start_error or 1.0) < 1e-3
    assert outcome.prominent > 3
    assert not outcome.missed
    assert not outcome.false
    assert outcome.raised is not None
    assert outcome.raised < 0.1
