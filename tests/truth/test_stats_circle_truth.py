"""Circle and run-out: make, spoil, recover; coverage by simulation. Seeds fixed."""

import numpy as np
import pytest

from runtrue.errors import InputError
from runtrue.stats import circle, coincidence


def ring(rng, n, noise, arc=2 * np.pi, radius=10.0):
    angle = arc * (np.arange(n) + 0.5) / n
    r = radius + noise * rng.standard_normal(n)
    # noise across the ring and along it alike
    t = noise * rng.standard_normal(n)
    return 3.0 + r * np.cos(angle) - t * np.sin(angle), -2.0 + r * np.sin(angle) + t * np.cos(angle)


@pytest.mark.parametrize("method", ["geometric", "taubin", "pratt", "kasa", "unit_norm"])
def test_exact_points_give_the_circle_back(method):
    found = circle.fit_circle(*ring(np.random.default_rng(1), 12, 0.0, arc=2.0), method=method)
    assert (found.x, found.y, found.radius) == pytest.approx((3.0, -2.0, 10.0), abs=1e-8)


def test_three_points_fix_a_circle_without_uncertainty():
    found = circle.fit_circle([1.0, 0.0, -1.0], [0.0, 1.0, 0.0])
    assert (found.x, found.y, found.radius) == pytest.approx((0.0, 0.0, 1.0), abs=1e-12)
    assert "say nothing about its uncertainty" in found.cautions[0]
    with pytest.raises(InputError, match="dof must be above 0"):
        _ = found.centre


def test_radius_bias_of_the_fits():
    """Full circle: geometric s^2/2R, Taubin and Kasa s^2/R, Pratt 2s^2/R (Al-Sharadqah and Chernov 2009, memory)."""
    rng = np.random.default_rng(72)
    biases = {"geometric": 0.5, "taubin": 1.0, "kasa": 1.0, "pratt": 2.0}
    runs, n, s = 600, 40, 1.0
    excess = dict.fromkeys(biases, 0.0)
    for _ in range(runs):
        points = ring(rng, n, s)
        for method in biases:
            excess[method] += (circle.fit_circle(*points, method=method).radius - 10.0) / runs
    for method, factor in biases.items():
        assert excess[method] == pytest.approx(factor * s * s / 10.0, abs=0.035), method


def test_kasa_collapses_on_a_short_arc():
    """R 10, s .2, 90 degrees: -0.39 with many points (computed); the geometric fit does not."""
    rng = np.random.default_rng(73)
    angle = np.pi / 2 * (np.arange(100) + 0.5) / 100
    radii = {"kasa": [], "geometric": []}
    for _ in range(300):
        r = 10.0 + 0.2 * rng.standard_normal(100)
        for method, found in radii.items():
            found.append(circle.fit_circle(r * np.cos(angle), r * np.sin(angle), method=method).radius)
    assert np.mean(radii["kasa"]) - 10 == pytest.approx(-0.39, abs=0.03)
    assert abs(np.median(radii["geometric"]) - 10) < 0.05


@pytest.mark.parametrize("n", [8])
def test_circle_of_the_centre_covers(n):
    rng = np.random.default_rng(74)
    held = 0
    runs = 1500
    for _ in range(runs):
        centre = circle.fit_circle(*ring(rng, n, 0.05)).centre
        held += np.hypot(centre.x - 3.0, centre.y + 2.0) <= centre.u95
    assert held / runs == pytest.approx(0.95, abs=0.012)


@pytest.mark.parametrize("spiral", [False, True])
def test_circle_of_the_runout_covers(spiral):
    rng = np.random.default_rng(75)
    theta = np.radians(np.arange(0, 720, 45) + 0.0)
    held = 0
    runs = 2000
    for _ in range(runs):
        reading = 1.0 + 4.0 * np.cos(theta) - 3.0 * np.sin(theta) + rng.standard_normal(theta.size)
        if spiral:
            reading += 7.0 * theta / (2 * np.pi)
        vector = circle.runout(theta, reading, spiral=spiral).vector
        held += np.hypot(vector.x - 4.0, vector.y + 3.0) <= vector.u95
    assert held / runs == pytest.approx(0.95, abs=0.01)


def test_p_value_of_no_eccentricity_is_even():
    rng = np.random.default_rng(76)
    theta = np.radians(np.arange(0, 360, 30))
    p = np.array([circle.runout(theta, rng.standard_normal(12)).p_zero for _ in range(2000)])
    assert (p <= 0.05).mean() == pytest.approx(0.05, abs=0.01)
    assert (p <= 0.5).mean() == pytest.approx(0.5, abs=0.025)


def test_harmonics_are_named_and_kept_out():
    theta = np.radians(np.arange(0, 360, 15))
    reading = 2.0 * np.cos(theta - 0.5) + 5.0 * np.cos(2 * theta) + 0.7 * np.sin(3 * theta)
    found = circle.runout(theta, reading, harmonics=3)
    assert (found.offset, found.direction) == pytest.approx((2.0, 0.5))
    assert found.harmonics == pytest.approx((5.0, 0.7))


def test_uneven_angles_with_an_oval_need_the_second_harmonic():
    theta = np.radians([0, 30, 60, 90, 180, 200, 240, 300])
    reading = 2.0 * np.cos(theta) + 5.0 * np.cos(2 * theta)
    assert circle.runout(theta, reading, harmonics=2).offset == pytest.approx(2.0)
    assert abs(circle.runout(theta, reading).offset - 2.0) > 0.3


def test_one_wild_reading_stands_out():
    theta = np.radians(np.arange(0, 360, 20))
    reading = 3.0 * np.cos(theta) + 0.1 * np.random.default_rng(77).standard_normal(18)
    reading[7] += 2.0
    assert int(np.argmax(np.abs(circle.runout(theta, reading).residuals))) == 7


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: circle.fit_circle([1, 2], [1, 2]), "x must be a list of at least 3 numbers, got 2"),
        (lambda: circle.fit_circle([1, 2, 3], [1, 2]), "y must be a list of at least 3"),
        (lambda: circle.fit_circle([1, 2, 3], [1, 2, 3]), "on one line"),
        (lambda: circle.fit_circle([1, 1, 1], [2, 2, 2]), "must differ"),
        (lambda: circle.fit_circle([1, 0, -1], [0, 1, 0], method="best"), "method must be geometric"),
        (lambda: circle.arc_precision(0.0), "arc must be above 0"),
        (lambda: circle.runout([0.0, 1.0, 2.0], [1.0, 2.0, 3.0]), "3 readings do not fix 3 unknowns"),
        (lambda: circle.runout([0.0] * 9, [1.0] * 9), "spread round the turn"),
        (lambda: circle.runout([0, 1, 2, 3], [1, 2, 3, 4], harmonics=0), "harmonics must be a whole number, 1 or more"),
        (lambda: circle.runout_precision(0), "turns must be a whole number, 1 or more, got 0"),
        (lambda: coincidence.crowding_probability(1, 0.5, 10), "count must be a whole number, 2 or more, got 1"),
        (lambda: coincidence.crowding_probability(3, 0.5, 1.0), "windows must be 2 or more, got 1"),
        (lambda: coincidence.same_spot_probability(3, 0), "cells must be a whole number, 1 or more, got 0"),
    ],
)
def test_bad_input_is_named(call, message):
    with pytest.raises(InputError, match=message):
        call()


def test_same_spot():
    assert coincidence.same_spot_probability(2, 20_000) == pytest.approx(1 / 20_000)
    assert coincidence.same_spot_probability(5, 4) == 1.0
    for cells, p in ((365, 0.5), (20_000, 0.05), (1, 0.5)):
        n = coincidence.records_for_repeat(cells, p)
        assert coincidence.same_spot_probability(n, cells) >= p > coincidence.same_spot_probability(n - 1, cells)
