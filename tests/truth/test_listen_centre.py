"""Off-centre, speed and start of half a minute of hard material against the maker's truth."""

import pytest

from tests.truth.listened import listen, piece, record

pytestmark = pytest.mark.sound

SECONDS = 30.0
OFF_M = 5e-6
SPEED = 100e-6
"""Twice the goal for a minute: what the offset itself gives or takes at the two ends counts twice in half of it."""
START_S = 1e-3


@pytest.mark.parametrize(
    ("character", "turn_frequency", "offset", "capture_rate"),
    [("tonal", 0.75, 500e-6, 44_100), ("quiet", 78.26 / 60.0, 20e-6, 96_000)],
)
def test_vector_speed_and_start(character: str, turn_frequency: float, offset: float, capture_rate: int) -> None:
    reference = piece(character, SECONDS)
    disc = record(reference, turn_frequency=turn_frequency, seconds=SECONDS, offset=offset)
    got = listen(reference, disc, capture_rate=capture_rate)
    assert got.vector_error < OFF_M
    assert got.circle < OFF_M
    assert got.scalar("speed_deviation") == pytest.approx(got.made.truth.speed, abs=SPEED)
    assert got.heard.programme.start == pytest.approx(got.made.truth.start, abs=START_S)
