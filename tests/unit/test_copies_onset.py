"""Beginning and end of a mark against the sum over all of them, one by one."""

import numpy as np
import pytest

from runtrue.listen.copies.onset import CLEARED, first_closure, last_closure, onset

CLOSURES = np.array([40.0, 120.0, 260.0, 400.0, 610.0])


def one_by_one(gain: np.ndarray, closure: np.ndarray) -> tuple[float, np.ndarray, np.ndarray]:
    """Total likelihood, weights of each beginning and of each end (last: still there)."""
    n, last = len(closure), closure[-1]
    gaps = np.diff(np.concatenate([[0.0], closure]))
    begins, ends = np.zeros(n), np.zeros(n + 1)
    for a in range(n):
        came = gaps[a] / last
        stays = came * (1.0 - CLEARED) * np.exp(gain[a:].sum())
        begins[a] += stays
        ends[n] += stays
        for b in range(a + 1, n):
            goes = came * CLEARED * gaps[b] / (last - closure[a]) * np.exp(gain[a:b].sum())
            begins[a] += goes
            ends[b] += goes
    return float(begins.sum()), begins / begins.sum(), ends / ends.sum()


@pytest.mark.parametrize("seed", range(6))
def test_sums_once_forward_and_back_are_the_sums_over_all(seed: int) -> None:
    gain = np.random.default_rng(seed).normal(0.0, 3.0, len(CLOSURES))
    total, begins, ends = one_by_one(gain, CLOSURES)
    found = onset(gain[:, None], CLOSURES, np.zeros(1))
    assert found.evidence == pytest.approx(np.log(total), abs=1e-9)
    assert found.begins == pytest.approx(begins, abs=1e-9)
    assert found.ends == pytest.approx(ends, abs=1e-9)


def test_between_the_last_good_and_the_first_bad() -> None:
    found = onset(np.array([-6.0, -6.0, 8.0, 8.0, -6.0])[:, None], CLOSURES, np.zeros(1))
    assert first_closure(found, CLOSURES) == (121, 260)
    assert last_closure(found, CLOSURES) == (400, 609)
    assert 121 <= found.middle(CLOSURES) <= 260


def test_still_there_has_no_upper_end() -> None:
    found = onset(np.array([-6.0, -6.0, 8.0, 8.0, 8.0])[:, None], CLOSURES, np.zeros(1))
    assert last_closure(found, CLOSURES) == (610, None)


def test_a_copy_that_cannot_say_widens_the_interval() -> None:
    found = onset(np.array([-6.0, 0.0, 8.0, 8.0, 8.0])[:, None], CLOSURES, np.zeros(1))
    low, high = first_closure(found, CLOSURES)
    assert low <= 60
    assert 250 <= high <= 260
