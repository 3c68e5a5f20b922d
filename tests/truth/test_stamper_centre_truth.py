"""Readings of known centres, spoiled, and what the station makes of them; the full counts stand in bench/stamper.py."""

from math import pi

import numpy as np
import pytest

from bench.stamper import SCENES, Scene, risks, run
from runtrue.forward.lens import GrooveShape, lens_readings, spoiled
from runtrue.stamper.axis import PunchAxis
from runtrue.stamper.centre import Centre, locate
from runtrue.stamper.readings import Face, Groove, Readings

SETS = 1500
_SPREAD = 3.0 * (0.05 * 0.95 / SETS) ** 0.5
"""Three deviations of a share of 95 in 100 among so many sets."""


@pytest.mark.parametrize("scene", SCENES, ids=lambda s: s.name)
def test_bias_coverage_and_outliers(scene: Scene) -> None:
    found = run(scene, SETS)
    assert max(abs(b) for b in found.bias) < 0.5e-6
    assert 0.94 - _SPREAD < found.covered < 0.96 + _SPREAD
    assert found.named > 0.98


def test_decisions_are_wrong_as_often_as_stated() -> None:
    said = risks(400)
    assert said.wrongly_passed < 0.05
    assert said.wrongly_failed < 0.05
    assert said.decided > 0.7


def _readings(theta: np.ndarray, radius: np.ndarray, second: np.ndarray | None = None) -> Readings:
    return Readings(angle=theta, radius=radius, second_set=np.zeros(theta.size, bool) if second is None else second)


def test_a_pitch_left_out_is_a_false_offset_and_the_model_holds_it() -> None:
    theta = np.arange(24) * pi / 6.0
    radius = lens_readings(theta, GrooveShape(radius=60e-3, growth=100e-6), (0.0, 0.0))
    spiral = locate(_readings(theta, radius), groove=Groove.SPIRAL)
    assert isinstance(spiral, Centre)
    assert spiral.offset.length < 0.05e-6
    assert spiral.pitch == pytest.approx(100e-6, rel=1e-3)
    one = theta[:12]
    closed = locate(_readings(one, radius[:12]), groove=Groove.LOCKED, harmonics=1)
    assert isinstance(closed, Centre)
    assert closed.offset.length == pytest.approx(100e-6 / pi, rel=0.05)


@pytest.mark.parametrize(("face", "growth"), [(Face.STAMPER, 120e-6), (Face.RECORD, -120e-6)])
@pytest.mark.parametrize("known", [None, 120e-6])
def test_a_groove_that_runs_inward_as_played_has_a_positive_pitch(
    face: Face, growth: float, known: float | None
) -> None:
    theta = np.arange(24) * pi / 6.0
    radius = lens_readings(theta, GrooveShape(radius=60e-3, growth=growth), (50e-6, -20e-6))
    found = locate(_readings(theta, radius), groove=Groove.SPIRAL, face=face, pitch=known)
    assert isinstance(found, Centre)
    assert found.pitch == pytest.approx(120e-6, abs=0.2e-6)
    assert (found.offset.x, found.offset.y) == pytest.approx((-50e-6, 20e-6), abs=0.1e-6)


def test_reading_backward_or_in_any_order_gives_the_same() -> None:
    theta = np.arange(24) * pi / 6.0
    rng = np.random.default_rng(3)
    radius = spoiled(lens_readings(theta, GrooveShape(radius=60e-3, growth=1e-4), (8e-5, 3e-5)), rng)
    order = rng.permutation(24)
    one = locate(_readings(theta, radius), groove=Groove.SPIRAL)
    two = locate(_readings(theta[order], radius[order]), groove=Groove.SPIRAL)
    assert isinstance(one, Centre)
    assert isinstance(two, Centre)
    assert (one.offset.x, one.offset.y, one.offset.u95) == pytest.approx((two.offset.x, two.offset.y, two.offset.u95))


def test_two_outliers_do_not_hide_each_other() -> None:
    rng = np.random.default_rng(4)
    theta = np.arange(24) * pi / 12.0
    named = 0
    for _ in range(60):
        places = sorted(int(p) for p in rng.choice(24, 2, replace=False))
        exact = lens_readings(theta, GrooveShape(radius=53e-3), (6e-5, 1e-5))
        radius = spoiled(exact, rng, outliers=dict.fromkeys(places, 200e-6))
        found = locate(_readings(theta, radius), groove=Groove.LOCKED)
        assert isinstance(found, Centre)
        named += list(found.outliers) == places
    assert named >= 55


def test_two_sets_half_a_turn_apart_part_the_hole_from_the_table() -> None:
    """Pinned by its hole, on a table whose pin stands 40 um from the axis it turns about."""
    rng = np.random.default_rng(5)
    theta = np.tile(np.arange(12) * pi / 6.0, 2)
    second = np.repeat([False, True], 12)
    centre, pin = np.array([30e-6, 10e-6]), np.array([0.0, 40e-6])
    shape = GrooveShape(radius=53e-3)
    radius = np.concatenate([
        lens_readings(theta[:12], shape, tuple(centre + pin)), lens_readings(theta[12:], shape, tuple(centre - pin)),
    ])  # fmt: skip
    found = locate(_readings(theta, spoiled(radius, rng, noise=2e-6), second), groove=Groove.LOCKED)
    assert isinstance(found, Centre)
    assert found.table is not None
    assert np.hypot(found.offset.x + centre[0], found.offset.y + centre[1]) < found.offset.u95
    assert np.hypot(found.table.x - pin[0], found.table.y - pin[1]) < found.table.u95


def test_the_lens_division_is_the_least_scatter() -> None:
    theta = np.arange(12) * pi / 6.0
    exact = lens_readings(theta, GrooveShape(radius=53e-3), (4e-6, 0.0))
    radius = spoiled(exact, np.random.default_rng(1), noise=0.0, division=20e-6)
    found = locate(_readings(theta, radius), groove=Groove.LOCKED, division=20e-6)
    assert isinstance(found, Centre)
    assert found.deviation >= 20e-6 / 12**0.5 * 0.999
    assert np.hypot(found.offset.x + 4e-6, found.offset.y) < found.offset.u95


def test_the_punch_axis_moves_the_offset_and_widens_its_circle() -> None:
    theta = np.arange(12) * pi / 6.0
    radius = spoiled(lens_readings(theta, GrooveShape(radius=53e-3), (5e-5, 0.0)), np.random.default_rng(2))
    axis = PunchAxis(x=18e-6, y=0.0, covariance=(25e-12, 0.0, 25e-12), dof=8.0, source="5 checks")
    plain = locate(_readings(theta, radius), groove=Groove.LOCKED)
    aimed = locate(_readings(theta, radius), groove=Groove.LOCKED, axis=axis)
    assert isinstance(plain, Centre)
    assert isinstance(aimed, Centre)
    assert aimed.offset.x == pytest.approx(plain.offset.x + 18e-6)
    assert aimed.offset.u95 > plain.offset.u95
