"""The banded smoother against a dense solve, and its choice of stiffness against a known walk."""

import numpy as np
import pytest

from runtrue.signal.smoothing import likeliest_stiffness, smooth


def dense(value: np.ndarray, weight: np.ndarray, stiffness: float, pull: float) -> np.ndarray:
    n = len(value)
    second, first = np.diff(np.eye(n), 2, axis=0), np.diff(np.eye(n), 1, axis=0)
    matrix = np.diag(weight) + stiffness * second.T @ second + pull * first.T @ first
    return np.asarray(np.linalg.solve(matrix, weight * value))


@pytest.mark.parametrize("pull", [0.0, 0.3])
def test_the_slow_way_gives_the_same(pull: float) -> None:
    rng = np.random.default_rng(2)
    value, weight = rng.standard_normal(40), rng.uniform(0.0, 2.0, 40)
    weight[10:18] = 0.0
    assert smooth(value, weight, 5.0, pull) == pytest.approx(dense(value, weight, 5.0, pull), abs=1e-8)


def test_a_gap_is_bridged_straight_and_the_pull_levels_it() -> None:
    value = np.concatenate([np.arange(30.0), np.zeros(200), np.full(30, 29.0)])
    weight = np.concatenate([np.ones(30), np.zeros(200), np.ones(30)])
    loose, pulled = smooth(value, weight, 1e3), smooth(value, weight, 1e3, 1.0)
    assert loose[100] > 40.0  # runs on with the slope it had
    assert 29.0 < pulled[100] < 0.9 * loose[100]


def test_the_stiffness_of_a_known_walk_is_found() -> None:
    rng = np.random.default_rng(3)
    walk = np.cumsum(np.cumsum(rng.standard_normal(4000) * 0.01))
    seen = walk + rng.standard_normal(4000)
    grid = np.geomspace(1e0, 1e8, 9)
    assert likeliest_stiffness(seen, np.ones(4000), grid) == pytest.approx(1e4)
