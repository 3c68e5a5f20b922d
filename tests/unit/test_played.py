"""A recording on its one way through: wired as the rig says, audited without a pass of its own."""

from collections.abc import Iterator

import numpy as np
import pytest

from runtrue.capture.sound import Block, Sound, sound_from_array
from runtrue.workflow.played import Played

RATE = 44_100


class Counting(Played):
    """Counts complete passes over the recording underneath."""

    passes = 0

    def blocks(self, size: int, *, start: int = 0, stop: int | None = None) -> Iterator[Block]:
        self.passes += 1
        return super().blocks(size, start=start, stop=stop)


@pytest.fixture
def sound() -> Sound:
    rng = np.random.default_rng(3)
    return sound_from_array(0.1 * rng.standard_normal((2 * RATE, 2)), RATE)


def test_the_audit_rides_on_the_first_complete_pass(sound: Sound) -> None:
    played = Counting(sound)
    for _ in played.blocks(4096):
        pass
    audit = played.audit()
    assert played.passes == 1
    assert audit.duration == pytest.approx(2.0)
    assert played.audit() is audit


def test_half_a_pass_is_no_audit(sound: Sound) -> None:
    played = Counting(sound)
    next(iter(played.blocks(4096)))
    for _ in played.blocks(4096, stop=RATE):
        pass
    assert played.audit().duration == pytest.approx(2.0)
    assert played.passes == 3


def test_exchanged_channels_are_exchanged_everywhere(sound: Sound) -> None:
    plain, other = Played(sound), Played(sound, exchanged=True)
    assert (plain.read(5, 100)[:, ::-1] == other.read(5, 100)).all()
    pairs = zip(plain.blocks(9000), other.blocks(9000), strict=True)
    assert all((a[:, ::-1] == b).all() for a, b in pairs)
    assert plain.audit().level == other.audit().level[::-1]
    assert (plain.digest, plain.name, plain.rate) == (other.digest, other.name, other.rate)


def test_a_mono_recording_has_nothing_to_exchange() -> None:
    mono = sound_from_array(np.linspace(-0.5, 0.5, RATE), RATE)
    assert Played(mono, exchanged=True).read(0, 10).shape == (10, 1)
