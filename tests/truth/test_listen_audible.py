"""Audibility: the batched masked threshold against the textbook worked out band by band; its odds; marks refit it."""

import numpy as np
from numpy.typing import NDArray

from runtrue.listen.audible import fit_hearing, probability
from runtrue.listen.setting import Hearing
from runtrue.signal.masking import BANDS, CENTRES, masked_threshold, masking_offset, spreading


def textbook(power: NDArray[np.float64], tone: float) -> NDArray[np.float64]:
    """Masked threshold of one frame, masker by masker (Johnston 1988)."""
    out = np.zeros(BANDS)
    for maskee in range(BANDS):
        excited = 0.0
        for masker in range(BANDS):
            excited += power[masker] * 10.0 ** (float(spreading(maskee - masker)) / 10.0)
        offset = float(masking_offset(CENTRES[maskee], tone))
        out[maskee] = 10.0 ** (np.log10(excited) - offset / 10.0)
    return out


def test_batched_threshold_is_the_textbook_s() -> None:
    rng = np.random.default_rng(5)
    power = 10.0 ** rng.uniform(-6.0, 2.0, (3, 7, BANDS))
    tone = rng.uniform(0.0, 1.0, (3, 7))
    fast = masked_threshold(power.astype(np.float32), tone.astype(np.float32))
    slow = np.array([[textbook(p, t) for p, t in zip(a, b, strict=True)] for a, b in zip(power, tone, strict=True)])
    assert np.abs(10.0 * np.log10(fast / slow)).max() < 0.01


def test_odds_about_the_threshold() -> None:
    hearing = Hearing(shift=2.0)
    assert float(probability(12.0, hearing)) > 0.9
    assert float(probability(-8.0, hearing)) < 0.1
    assert float(probability(2.0, hearing)) == 0.5


def test_two_hundred_marks_recover_a_shifted_threshold() -> None:
    missed, covered = [], 0
    for seed in range(40):
        rng = np.random.default_rng(seed)
        true = Hearing(shift=float(rng.uniform(-8.0, 8.0)), spread=float(rng.uniform(2.0, 4.0)))
        margin = rng.normal(true.shift, 8.0, 200)
        heard = rng.random(200) < probability(margin, true)
        fit = fit_hearing(margin, heard, level=75.0)
        missed.append(fit.hearing.shift - true.shift)
        covered += abs(missed[-1]) <= fit.shift_u95
    assert np.quantile(np.abs(missed), 0.95) < 1.0
    # 95 of 100: 34 or fewer of 40 would come once in a hundred
    assert covered >= 35


def test_marks_all_heard_do_not_drive_the_threshold_away() -> None:
    fit = fit_hearing(np.linspace(0.0, 20.0, 12), np.ones(12), level=75.0)
    assert -30.0 < fit.hearing.shift < 0.0
