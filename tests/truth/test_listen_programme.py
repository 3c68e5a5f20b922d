"""What a capture is against its reference: same or other, where it lies, how it is wired, where it breaks."""

import numpy as np
import pytest

from runtrue.forward import Cut, Jump, Recorder
from runtrue.listen.heard import ChannelOrder, Identity
from tests.truth.listened import F33, Listened, listen, piece, record, rig

pytestmark = pytest.mark.sound

SECONDS = 20.0
TURN = 1.0 / F33


def nothing_but(got: Listened, *, polarity: int = 1, channels: ChannelOrder = ChannelOrder.STRAIGHT) -> None:
    """No break, the stated polarity and order, the whole programme."""
    programme = got.heard.programme
    assert programme.identity is Identity.SAME, programme.reason
    assert programme.polarity == polarity
    assert programme.channels is channels
    assert programme.jumps == ()
    assert programme.edits == ()


def test_far_from_speed() -> None:
    reference = piece("loops", SECONDS)
    got = listen(reference, record(reference, seconds=SECONDS), rig(speed=-0.058))
    nothing_but(got)
    assert got.scalar("speed_deviation") == pytest.approx(got.made.truth.speed, abs=50e-6)


def test_swapped_and_inverted() -> None:
    reference = piece("applause", SECONDS)
    got = listen(reference, record(reference, seconds=SECONDS), rig(channels="swapped", polarity=-1))
    nothing_but(got, polarity=-1, channels=ChannelOrder.SWAPPED)


def test_late_needle_and_early_stop() -> None:
    reference = piece("band", SECONDS)
    got = listen(reference, record(reference, seconds=SECONDS), recorder=Recorder(late_needle=4.0, stop_at=15.0))
    nothing_but(got)
    assert got.heard.programme.reach == pytest.approx(got.made.truth.reach, abs=0.2)


def test_another_piece_of_the_same_kind_is_other() -> None:
    reference, pressed = piece("tonal", SECONDS), piece("tonal", SECONDS, 2)
    got = listen(reference, record(reference, seconds=SECONDS), pressed=pressed)
    assert got.heard.programme.identity is Identity.OTHER
    assert got.heard.ticks is None
    assert got.heard.centre.played is None


def test_jumps_between_the_hits_of_a_drum() -> None:
    """The second one lands where the sound just before and after is soft."""
    reference = piece("percussive", SECONDS)
    jumps = (Jump(programme_time=6.0, turns=-1), Jump(programme_time=14.0, turns=1, click_db=-20.0))
    got = listen(reference, record(reference, seconds=SECONDS), rig(jumps=jumps))
    found = got.heard.programme.jumps or ()
    assert [j.turns for j in found] == [-1, 1]
    for jump, true in zip(found, got.made.truth.jumps, strict=True):
        assert jump.programme_time == pytest.approx(true.programme_time, abs=0.1)


def test_an_edit_is_no_jump() -> None:
    reference = piece("band", SECONDS)
    cut = Cut(start=8.0, end=8.0 + 0.4 * TURN)
    got = listen(reference, record(reference, seconds=SECONDS, cuts=(cut,)))
    programme = got.heard.programme
    assert programme.identity is Identity.SAME
    assert programme.jumps == ()
    (edit,) = programme.edits or ()
    assert edit.skipped == pytest.approx(cut.end - cut.start, abs=0.01)
    assert edit.programme_time == pytest.approx(cut.start, abs=0.1)


def test_silence_between_two_tunes_is_bridged() -> None:
    reference = np.concatenate([piece("band", 9.0), np.zeros((48_000 * 4, 2), np.float32), piece("band", 9.0, 3)])
    got = listen(reference, record(reference, seconds=22.0))
    nothing_but(got)
    assert got.vector_error < 5e-6
