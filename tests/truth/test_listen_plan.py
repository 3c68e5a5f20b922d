"""Bars that repeat to the sample: which of them is heard follows from all the evidence together."""

import numpy as np
import pytest

from runtrue.listen.plan import Stretch, best_plan
from runtrue.listen.store import TRACK_RATE

BAR_S, BARS, TURN_S = 1.7, 9, 1.8


def bars(seed: int) -> np.ndarray:
    """Nine bars that are the same to the sample: beats of noise at four pitches, 12 kHz."""
    rng = np.random.default_rng(seed)
    bar = np.zeros(int(BAR_S * TRACK_RATE), dtype=np.float32)
    for beat in range(8):
        first = beat * len(bar) // 8
        length = len(bar) // 8
        noise = rng.standard_normal(length) * np.exp(-np.arange(length) / (0.05 * TRACK_RATE))
        pitch = 1200.0 * 1.5 ** float(rng.integers(0, 4))
        tone = np.cos(2.0 * np.pi * pitch * np.arange(length) / TRACK_RATE)
        bar[first : first + length] += 0.1 * (0.3 * noise + noise * tone)
    return np.tile(bar, BARS)


def capture_of(reference: np.ndarray, parts: list[tuple[float, float]], seed: int) -> np.ndarray:
    """A lead-in of 1 s, the parts of the reference named [s], a lead-out, and some noise."""
    silence = np.zeros(TRACK_RATE, dtype=np.float32)
    cut = [reference[int(a * TRACK_RATE) : int(b * TRACK_RATE)] for a, b in parts]
    whole = np.concatenate([silence, *cut, silence])
    noise = np.random.default_rng(seed).standard_normal(len(whole)) * 3e-4
    return np.asarray(whole + noise, dtype=np.float32)


def in_order(stretches: tuple[Stretch, ...]) -> list[Stretch]:
    return sorted(stretches, key=lambda s: s.start)


def test_a_clean_capture_is_one_stretch_at_its_place() -> None:
    reference = bars(1)
    capture = capture_of(reference, [(0.0, BARS * BAR_S)], 1)
    plan = best_plan(capture, reference, deviations=[0.0], turn_period=TURN_S)
    assert len(plan.stretches) == 1
    assert plan.place(6.0) == pytest.approx(5.0, abs=0.03)


@pytest.mark.parametrize("turns", [1, -1])
def test_a_jump_is_placed_and_not_taken_for_another_bar(turns: int) -> None:
    reference = bars(2)
    after = 6.3 + turns * TURN_S
    capture = capture_of(reference, [(0.0, 6.3), (after, BARS * BAR_S)], 2)
    before, behind = in_order(best_plan(capture, reference, deviations=[0.0], turn_period=TURN_S).stretches)
    assert before.end == pytest.approx(7.3, abs=0.15)
    assert before.at(4.0) == pytest.approx(3.0, abs=0.03)
    assert behind.at(9.0) == pytest.approx(after + 9.0 - 7.3, abs=0.03)


def test_an_edit_is_placed_from_both_ends() -> None:
    reference = bars(3)
    capture = capture_of(reference, [(0.0, 5.1), (9.05, BARS * BAR_S)], 3)
    before, behind = in_order(best_plan(capture, reference, deviations=[0.0], turn_period=TURN_S).stretches)
    assert before.at(4.0) == pytest.approx(3.0, abs=0.03)
    assert behind.at(8.0) == pytest.approx(9.05 + 8.0 - 6.1, abs=0.03)


def test_backward_it_is_the_same_plan() -> None:
    reference = bars(4)
    capture = capture_of(reference, [(0.0, 5.1), (9.05, BARS * BAR_S)], 4)
    plan = best_plan(capture, reference, deviations=[0.0], turn_period=TURN_S)
    ends = len(capture) / TRACK_RATE, len(reference) / TRACK_RATE
    back = plan.reversed(capture_end=ends[0], reference_end=ends[1])
    place, turned = plan.place(8.0), back.place(ends[0] - 8.0)
    assert place is not None
    assert turned is not None
    assert turned == pytest.approx(ends[1] - place, abs=1e-9)
