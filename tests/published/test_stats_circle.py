"""Circle fits, run-out, coincidences against print and against closed forms."""

import numpy as np
import pytest

from runtrue.stats import circle, coincidence

SIX = ([1, 2, 5, 7, 9, 3], [7, 6, 8, 7, 5, 7])
EIGHT = ([1, 2, 5, 7, 9, 3, 6, 8], [7, 6, 8, 7, 5, 7, 2, 4])
"""Gander, Golub and Strebel, BIT 34 (1994) 558: the six points from memory, the eight read in a public copy."""


@pytest.mark.parametrize(
    ("points", "method", "expected"),
    [
        (SIX, "geometric", (4.7398, 2.9835, 4.7142)),  # G01, printed (memory)
        (SIX, "unit_norm", (5.3794, 7.2532, 3.0370)),  # G02, printed (memory)
        (SIX, "kasa", (4.7423, 3.8351, 4.1088)),  # G03, computed with the definitions
        (SIX, "pratt", (4.6155, 2.8074, 4.9113)),
        (SIX, "taubin", (4.6139, 2.7952, 4.8792)),
        (EIGHT, "geometric", (4.8401, 4.7971, 3.3907)),  # G04, computed
        (EIGHT, "kasa", (4.8219, 4.8987, 3.4079)),
        (EIGHT, "pratt", (4.7684, 4.7729, 3.5384)),
        (EIGHT, "taubin", (4.7668, 4.7690, 3.4478)),
    ],
)
def test_g01_to_g04_fits(points, method, expected):
    found = circle.fit_circle(*points, method=method)
    assert (found.x, found.y, found.radius) == pytest.approx(expected, abs=5.1e-5)


def test_g01_sum_of_squares():
    assert circle.fit_circle(*SIX).sum_of_squares == pytest.approx(1.2276, abs=5e-5)


def test_an_unsuitable_norm_moves_the_centre_by_more_than_four_units():
    geometric, unit = circle.fit_circle(*SIX), circle.fit_circle(*SIX, method="unit_norm")
    assert np.hypot(geometric.x - unit.x, geometric.y - unit.y) > 4.0


@pytest.mark.parametrize(
    ("degrees", "along", "across", "radius"),
    [
        (360, 2.0000, 2.0000, 1.0000),
        (270, 3.2913, 1.6499, 1.2964),
        (180, 10.5580, 2.0000, 5.2790),
        (120, 43.8014, 3.4100, 30.9565),
        (90, 129.1920, 5.5039, 105.7191),
        (60, 622.6577, 11.5602, 568.7958),
        (45, 1934.4061, 20.0635, 1837.9918),
        (30, 9673.6794, 44.3751, 9455.6814),
    ],
)
def test_g05_arcs(degrees, along, across, radius):
    """Fisher information (computed)."""
    assert circle.arc_precision(np.radians(degrees)) == pytest.approx((along, across, radius), rel=1e-3, abs=6e-5)


@pytest.mark.parametrize(
    ("turns", "b", "pitch"),
    [(1, 5.101092, 30.606553), (2, 2.358440, 3.537660), (3, 2.144881, 1.429921), (5, 2.049846, 0.491963),
     (10, 2.012233, 0.120734)],
)  # fmt: skip
def test_g06_runout(turns, b, pitch):
    """Closed form (derived); and the fit's own covariance comes to it with many readings."""
    assert circle.runout_precision(turns) == pytest.approx((2.0, b, pitch), rel=1e-6)
    n = 3600 * turns
    theta = 2 * np.pi * turns * np.arange(n) / n
    found = circle.runout(theta, np.zeros(n), spiral=True, deviation=1.0)
    scaled = (n * found.covariance[0, 0], n * found.covariance[1, 1], n * found.pitch_u**2)
    assert scaled == pytest.approx((2.0, b, pitch), rel=2e-3)


def test_g07_pitch_ignored():
    """100 um of pitch left out over one turn: 31.83 um (p / pi) on the sine axis."""
    theta = 2 * np.pi * np.arange(3600) / 3600
    found = circle.runout(theta, 100.0 * theta / (2 * np.pi))
    assert found.offset == pytest.approx(31.83, abs=5e-3)
    assert found.a == pytest.approx(0.0, abs=0.05)
    fitted = circle.runout(theta, 100.0 * theta / (2 * np.pi), spiral=True)
    assert (fitted.offset, fitted.pitch) == pytest.approx((0.0, 100.0), abs=1e-9)


def test_g08_small_sample():
    """n 24, s 2, e 5 (derived, simulated): mean of e 5.033, variance .333, of the phase .01333; within 2 %."""
    rng = np.random.default_rng(71)
    theta = 2 * np.pi * np.arange(24) / 24
    readings = 5.0 * np.cos(theta) + 2.0 * rng.standard_normal((20_000, 24))
    found = [circle.runout(theta, row) for row in readings[:50]]
    a = 2 * readings @ np.cos(theta) / 24
    b = 2 * readings @ np.sin(theta) / 24
    assert [f.a for f in found] == pytest.approx(a[:50], abs=1e-9)
    offset, phase = np.hypot(a, b), np.arctan2(b, a)
    assert offset.mean() == pytest.approx(5.033, abs=0.01)
    assert offset.var() == pytest.approx(0.333, rel=0.03)
    assert phase.var() == pytest.approx(0.01333, rel=0.05)
    one = circle.runout(theta, readings[0], deviation=2.0)
    assert one.covariance == pytest.approx(np.eye(2) * 0.3333, abs=1e-4)


@pytest.mark.parametrize(
    ("count", "psi", "windows", "formula", "simulated"),
    [
        (4, 0.5, 10, 0.0507, 0.0511),
        (5, 1.0, 10, 0.1100, 0.1111),
        (6, 2.0, 5, 0.2037, 0.2050),
        (3, 0.1, 33, 0.0141, 0.0144),
    ],
)
def test_g11_scan(count, psi, windows, formula, simulated):
    """Naus 1982 (memory, checked by simulation)."""
    found = coincidence.crowding_probability(count, psi, windows)
    assert found == pytest.approx(formula, abs=5.1e-5)
    assert found == pytest.approx(simulated, rel=0.04)
