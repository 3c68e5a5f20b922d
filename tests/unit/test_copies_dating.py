"""An unnumbered copy on the count: the run's length against its formula, and stretches that hold the truth."""

from dataclasses import replace

import numpy as np
import pytest

from bench.copies import TURN, sample_of
from runtrue.forward.copies import Design, make_copies
from runtrue.listen.copies.compare import recurrences
from runtrue.listen.copies.dating import dated, run_of


@pytest.mark.parametrize("count", [3, 6, 20])
def test_one_more_copy_lies_beyond_the_largest_of_n_as_often_as_stated(count: int) -> None:
    """Draw runs of unknown length (1/N), n copies and one more: it is the largest 1 time in n + 1 (exchangeability)."""
    rng = np.random.default_rng(count)
    stated, found = [], 0
    for _ in range(400):
        drawn = np.ceil(rng.uniform(0.0, np.exp(rng.uniform(np.log(500.0), np.log(5000.0))), count + 1))
        mass = np.exp(run_of(drawn[:count]))
        assert mass.sum() == pytest.approx(1.0)
        stated.append(float(mass[int(drawn[:count].max()) :].sum()))
        found += drawn[count] > drawn[:count].max()
    assert np.mean(stated) == pytest.approx(1.0 / (count + 1), abs=0.02)
    assert found / 400 == pytest.approx(1.0 / (count + 1), abs=3.0 * (1.0 / (count + 1) / 400) ** 0.5)


@pytest.mark.slow
def test_stretches_hold_the_closure() -> None:
    design = Design(copies=14, mothers=1, stampers=1, minutes=4.0, closures=600, ticks_per_minute=2.0, unnumbered=3)
    inside = count = 0
    for seed in range(40):
        made = make_copies(replace(design, confounded=seed % 2 == 1), seed)
        sample = sample_of(made)
        for one in dated(sample, recurrences(sample, turn=TURN)):
            true = made.closure[sample.copies[one.copy]]
            count += 1
            inside += any(first <= true <= last for first, last in one.stretches)
            assert all(a[1] < b[0] - 1 for a, b in zip(one.stretches, one.stretches[1:], strict=False))
    assert count > 100
    assert inside >= 0.95 * count
