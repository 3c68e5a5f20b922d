"""Plane vectors: quadrature against simulation, and coverage of circle, ellipse, direction and length. Seeds fixed."""

from time import perf_counter

import numpy as np
import pytest
from scipy.stats import f, ncx2

from runtrue.errors import InputError
from runtrue.stats import plane
from runtrue.stats.planemass import axes_of, disc_mass

CASES = [
    ((1.0, 0.0, 1.0), (0.0, 0.0)),
    ((1.0, 0.5, 2.0), (0.0, 0.0)),
    ((1.0, 0.0, 1e-6), (0.0, 0.0)),
    ((1.0, 0.0, 1.0), (2.0, 6.0)),
    ((1e-4, 0.0, 1e-4), (2.0, 6.0)),
    ((1.0, 0.0, 1e-4), (1.0, 3.0)),
    ((4.0, 1.0, 1.0), (0.0, 3.0)),
    ((1.0, 0.3, 2.0), (0.1, 0.2)),
    ((100.0, 0.0, 1e-2), (2.0, 6.0)),
    ((9.0, 0.0, 0.0), (0.5, 1.5)),
    ((0.0, 0.0, 0.0), (1.0, 1.0)),
    ((1e-10, 2e-11, 3e-10), (22e-6, 70e-6)),
]


def draw(rng, covariance, slack, n):
    xx, xy, yy = covariance
    first = np.sqrt(xx)
    lean = xy / first if first > 0.0 else 0.0
    rest = np.sqrt(max(yy - lean * lean, 0.0))
    a, b = rng.standard_normal((2, n))
    r = rng.uniform(*slack, n) * np.sqrt(rng.random(n))
    t = 2 * np.pi * rng.random(n)
    return first * a + r * np.cos(t), lean * a + rest * b + r * np.sin(t)


@pytest.mark.parametrize(("covariance", "slack"), CASES)
def test_against_simulation(covariance, slack):
    """400,000 draws: three standard errors are 0.001."""
    x, y = draw(np.random.default_rng(11), covariance, slack, 400_000)
    for probability in (0.5, 0.95):
        radius = plane.covering_radius(covariance, slack, probability=probability)
        assert np.mean(np.hypot(x, y) <= radius) == pytest.approx(probability, abs=0.0025)
    long, short, direction = plane.covering_ellipse(covariance, slack)
    c, s = np.cos(direction), np.sin(direction)
    inside = ((c * x + s * y) / long) ** 2 + ((c * y - s * x) / max(short, 1e-9 * long)) ** 2 <= 1.0 + 1e-9
    assert inside.mean() == pytest.approx(0.95, abs=0.0012)
    length = 1.3 * plane.covering_radius(covariance, slack)
    vector = plane.plane_vector(0.8 * length, 0.6 * length, covariance, slack)
    turned = np.abs(np.angle((vector.x + x + 1j * (vector.y + y)) / (vector.x + 1j * vector.y)))
    assert np.mean(turned <= plane.direction_half_width(vector)) == pytest.approx(0.95, abs=0.0012)
    true = np.hypot(vector.x + x, vector.y + y)
    for limit in (0.8 * length, length, 1.2 * length):
        found = plane.length_probability(vector, upper=limit)
        assert found == pytest.approx(np.mean(true <= limit), abs=0.0025)
        assert plane.length_probability(vector, lower=limit) == pytest.approx(1.0 - found, abs=1e-12)


def test_round_gaussian_equals_the_rice_distribution():
    for away in (0.0, 0.5, 2.0, 6.0):
        for radius in (0.3, 1.0, 2.5, 7.0):
            found = disc_mass((away, 0.0), axes_of((1.0, 0.0, 1.0), (0.0, 0.0)), radius)
            exact = float(ncx2.cdf(radius**2, 2, away**2)) if away else 1.0 - np.exp(-(radius**2) / 2)
            assert found == pytest.approx(exact, abs=1e-7)


@pytest.mark.parametrize("away", [10.0, 100.0, 1e4])
@pytest.mark.parametrize("angle", [0.0, 0.6, np.pi / 2, 2.5, -2.0])
@pytest.mark.parametrize(
    ("covariance", "slack"),
    [((1.0, 0.0, 1.0), (0.0, 0.0)), ((1.0, 0.0, 0.04), (0.0, 0.0)), ((0.5, 0.3, 1.0), (0.0, 0.0)),
     ((1.0, 0.9999, 1.0), (0.0, 0.0)), ((0.04, 0.0, 0.04), (1.0, 2.0)), ((1.0, 0.2, 0.3), (1.0, 2.0))],
)  # fmt: skip
def test_far_from_zero_direction_and_length_are_those_of_one_line(away, angle, covariance, slack):
    """Far away only the part across (direction) and along (length) counts: 1.96 of its deviation, or its quantile."""
    long = away * (2.0 if slack[1] else 1.0) * 5.0
    vector = plane.plane_vector(long * np.cos(angle), long * np.sin(angle), covariance, slack)
    x, y = draw(np.random.default_rng(15), covariance, slack, 200_000)
    across = np.abs(np.cos(angle) * y - np.sin(angle) * x)
    along = np.abs(np.cos(angle) * x + np.sin(angle) * y)
    half = plane.direction_half_width(vector)
    if not slack[1]:
        c, s = np.cos(angle), np.sin(angle)
        deviation = np.sqrt(s * s * covariance[0] - 2 * s * c * covariance[1] + c * c * covariance[2])
        assert half * long == pytest.approx(1.96 * deviation, rel=0.02 if away == 10.0 else 1e-3)
    assert np.mean(across <= half * long) == pytest.approx(0.95, abs=0.005 if away == 10.0 else 0.0025)
    assert np.mean(along <= plane.length_half_width(vector)) == pytest.approx(
        0.95, abs=0.005 if away == 10.0 else 0.0025
    )
    found = plane.length_probability(vector, upper=long)
    assert found == pytest.approx(0.5, abs=0.03 if away == 10.0 else 0.004)


def test_small_slack_goes_over_into_none():
    tight = plane.covering_radius((1.0, 0.2, 2.0))
    assert plane.covering_radius((1.0, 0.2, 2.0), (0.0, 1e-6)) == pytest.approx(tight, rel=1e-6)
    below, above = (plane.covering_radius((1.0, 0.0, 1.0), (0.0, r)) for r in (0.4898, 0.4900))
    assert above - below == pytest.approx(0.0, abs=1e-3)  # from the Gaussian to the exact form


@pytest.mark.parametrize("dof", [3, 10])
def test_freedom_is_carried(dof):
    """Covariance from residuals: r = s sqrt(2 F), and the circle holds the truth 95 times in 100."""
    assert plane.covering_radius((1.0, 0.0, 1.0), dof=dof) == pytest.approx(np.sqrt(2 * f.ppf(0.95, 2, dof)), rel=1e-9)
    rng = np.random.default_rng(12)
    held = 0
    for _ in range(4000):
        variance = rng.chisquare(dof) / dof
        x, y = rng.standard_normal(2)
        held += np.hypot(x, y) <= plane.plane_vector(x, y, (variance, 0.0, variance), dof=dof).u95
    assert held / 4000 == pytest.approx(0.95, abs=0.01)
    assert plane.covering_radius((1.0, 0.0, 1.0), dof=1e12) == pytest.approx(plane.covering_radius((1.0, 0.0, 1.0)))


@pytest.mark.parametrize(
    ("covariance", "slack"),
    [((1e-10, 0.0, 1e-10), (0.0, 0.0)), ((1e-10, 5e-11, 4e-10), (0.0, 0.0)), ((2e-11, 0.0, 2e-11), (2e-5, 7e-5))],
)
def test_circle_and_direction_cover(covariance, slack):
    """True 100 um. The circle is exact; the direction is near it (its width follows the estimated length)."""
    rng = np.random.default_rng(13)
    x, y = draw(rng, covariance, slack, 1500)
    circle = direction = 0
    for dx, dy in zip(x, y, strict=True):
        vector = plane.plane_vector(60e-6 + dx, 80e-6 + dy, covariance, slack)
        circle += np.hypot(dx, dy) <= vector.u95
        off = abs(np.angle((vector.x + 1j * vector.y) / (0.6 + 0.8j)))
        direction += off <= plane.direction_half_width(vector)
    assert circle / 1500 == pytest.approx(0.95, abs=0.015)
    assert direction / 1500 == pytest.approx(0.955, abs=0.02)


@pytest.mark.parametrize("true", [0.0, 0.5, 1.0, 1.5, 2.0, 3.0, 5.0, 20.0])
def test_length_covers_at_least(true):
    """Near zero the interval is more than 95 % sure, far away exactly 95 %; nowhere less than 94 %."""
    rng = np.random.default_rng(14)
    held, runs = 0, 800
    for dx, dy in rng.standard_normal((runs, 2)):
        vector = plane.plane_vector(true + dx, dy, (1.0, 0.0, 1.0))
        held += abs(vector.length - true) <= plane.length_half_width(vector)
    assert held / runs >= 0.935
    if true == 20.0:
        assert held / runs == pytest.approx(0.95, abs=0.015)


def test_the_same_input_gives_the_same_digits():
    first = plane.plane_vector(1e-4, 2e-5, (1e-10, 0.0, 2e-10), (2e-5, 7e-5))
    assert plane.plane_vector(1e-4, 2e-5, (1e-10, 0.0, 2e-10), (2e-5, 7e-5)) == first


def test_the_frame_does_not_matter():
    c, s = np.cos(0.7), np.sin(0.7)
    turned = (c * c * 4 + s * s, c * s * 3, s * s * 4 + c * c)
    for slack in ((0.0, 0.0), (1.0, 2.0)):
        straight = plane.plane_vector(9.0, 0.0, (4.0, 0.0, 1.0), slack)
        other = plane.plane_vector(9.0 * c, 9.0 * s, turned, slack)
        assert other.u95 == pytest.approx(straight.u95, rel=1e-4)
        assert plane.direction_half_width(other) == pytest.approx(plane.direction_half_width(straight), rel=1e-3)
        assert plane.length_half_width(other) == pytest.approx(plane.length_half_width(straight), rel=1e-3)


def test_nothing_uncertain():
    vector = plane.plane_vector(3.0, 4.0, (0.0, 0.0, 0.0))
    assert (vector.u95, plane.direction_half_width(vector), plane.length_half_width(vector)) == (0.0, 0.0, 0.0)
    assert plane.length_probability(vector, upper=5.0) == 1.0
    assert plane.length_probability(vector, upper=4.9) == 0.0
    assert plane.length_probability(vector, lower=5.0) == 1.0
    assert plane.length_probability(vector) == 1.0


def test_direction_is_unknown_where_the_circle_reaches_zero():
    assert plane.direction_half_width(plane.plane_vector(1.0, 0.0, (1.0, 0.0, 1.0))) == np.pi
    near = plane.plane_vector(2.45, 0.0, (1.0, 0.0, 1.0))
    assert 0.9 < plane.direction_half_width(near) < np.pi / 2


def test_speed_is_printed():
    spread = ((1e-10, 2e-11, 3e-10), (22e-6, 70e-6))
    plane.covering_radius(*spread)
    began = perf_counter()
    for i in range(20):
        vector = plane.plane_vector(1e-4, 1e-6 * i, *spread)
        plane.direction_half_width(vector)
        plane.length_half_width(vector)
        plane.length_probability(vector, upper=1.3e-4)
    print(
        f"circle, direction, length and probability with slack: {(perf_counter() - began) / 20 * 1e3:.2f} ms together"
    )


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: plane.covering_radius((1.0, 2.0, 1.0)), "positive semidefinite"),
        (lambda: plane.covering_radius((-1.0, 0.0, 1.0)), "positive semidefinite"),
        (lambda: plane.covering_radius((np.nan, 0.0, 1.0)), "covariance must be finite"),
        (lambda: plane.covering_radius((1.0, 0.0, 1.0), (2.0, 1.0)), "slack must be 0 or more and rise"),
        (lambda: plane.covering_radius((1.0, 0.0, 1.0), probability=1.0), "probability must be above 0 and below 1"),
        (lambda: plane.covering_radius((1.0, 0.0, 1.0), dof=0), "dof must be above 0, got 0"),
        (lambda: plane.plane_vector(np.inf, 0.0, (1.0, 0.0, 1.0)), "x and y must be finite"),
        (
            lambda: plane.length_probability(plane.plane_vector(1.0, 0.0, (1.0, 0.0, 1.0)), upper=np.nan),
            "upper limit on a length must be a number",
        ),
    ],
)
def test_bad_input_is_named(call, message):
    with pytest.raises(InputError, match=message):
        call()
