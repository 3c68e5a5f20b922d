"""The banded smoother against a dense solve, and its choice of stiffness against a known walk."""

import numpy as np
import pytest

from runtrue.signal.smoothing import Points, likeliest_stiffness, smooth


def dense(points: Points, stiffness: float, pull: float, toward: np.ndarray, hold: float) -> np.ndarray:
    n = len(points.value)
    second, first = np.diff(np.eye(n), 2, axis=0), np.diff(np.eye(n), 1, axis=0)
    at = np.arange(n) + points.late
    reading = np.stack([np.interp(at, np.arange(n), row) for row in np.eye(n)], axis=1)
    matrix = reading.T @ np.diag(points.weight) @ reading
    matrix += stiffness * second.T @ second + pull * first.T @ first + hold * np.eye(n)
    return np.asarray(np.linalg.solve(matrix, reading.T @ (points.weight * points.value) + hold * toward))


@pytest.mark.parametrize("pull", [0.0, 0.3])
@pytest.mark.parametrize("hold", [0.0, 0.2])
@pytest.mark.parametrize("beside", [0.0, 0.5])
def test_the_slow_way_gives_the_same(pull: float, hold: float, beside: float) -> None:
    rng = np.random.default_rng(2)
    value, weight, toward = rng.standard_normal(40), rng.uniform(0.0, 2.0, 40), rng.standard_normal(40)
    weight[10:18] = 0.0
    points = Points(value=value, weight=weight, late=rng.uniform(-beside, beside, 40))
    fitted = smooth(points, 5.0, pull, toward=toward, hold=hold)
    assert fitted == pytest.approx(dense(points, 5.0, pull, toward, hold), abs=1e-8)


def test_a_point_beside_its_knot_holds_there() -> None:
    knots = np.arange(60.0)
    late = np.where(knots % 2 == 0, 0.45, -0.45)
    points = Points(value=np.sin(0.2 * (knots + late)), weight=np.full(60, 1e6), late=late)
    apart = np.abs(smooth(points, 1.0)[2:-2] - np.sin(0.2 * knots)[2:-2]).max()
    on_knots = Points.at_knots(points.value, points.weight)
    assert apart < 0.01 < np.abs(smooth(on_knots, 1.0)[2:-2] - np.sin(0.2 * knots)[2:-2]).max()


def test_a_gap_is_bridged_straight_and_the_pull_levels_it() -> None:
    value = np.concatenate([np.arange(30.0), np.zeros(200), np.full(30, 29.0)])
    weight = np.concatenate([np.ones(30), np.zeros(200), np.ones(30)])
    points = Points.at_knots(value, weight)
    loose, pulled = smooth(points, 1e3), smooth(points, 1e3, 1.0)
    assert loose[100] > 40.0  # runs on with the slope it had
    assert 29.0 < pulled[100] < 0.9 * loose[100]


def test_the_stiffness_of_a_known_walk_is_found() -> None:
    rng = np.random.default_rng(3)
    walk = np.cumsum(np.cumsum(rng.standard_normal(4000) * 0.01))
    seen = walk + rng.standard_normal(4000)
    grid = np.geomspace(1e0, 1e8, 9)
    assert likeliest_stiffness(Points.at_knots(seen, np.ones(4000)), grid) == pytest.approx(1e4)
