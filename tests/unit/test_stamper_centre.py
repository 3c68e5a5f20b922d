"""The stamper's centre: what is refused, what is chosen, the move, the machine, the consequence."""

from math import inf, pi

import numpy as np
import pytest

from runtrue.errors import InputError
from runtrue.stamper.axis import Machine, axis_from_checks, stated_axis
from runtrue.stamper.centre import Centre, NoCentre, level_at, locate, pitch_at
from runtrue.stamper.consequence import pitch_swing
from runtrue.stamper.more import readings_to_decide
from runtrue.stamper.move import move_of
from runtrue.stamper.readings import Groove, Readings
from runtrue.stats.circle import runout


def of(degrees: list[float], radius: list[float] | np.ndarray, second: list[bool] | None = None) -> Readings:
    angle = np.radians(np.array(degrees, dtype=float))
    return Readings(
        angle=angle, radius=np.array(radius, dtype=float), second_set=np.array(second or [False] * angle.size)
    )


def good(count: int = 12, seed: int = 1, centre: tuple[float, float] = (3e-5, 4e-5)) -> Readings:
    degrees = [360.0 * k / count for k in range(count)]
    theta = np.radians(degrees)
    noise = 5e-6 * np.random.default_rng(seed).standard_normal(count)
    return of(degrees, centre[0] * np.cos(theta) + centre[1] * np.sin(theta) + noise)


@pytest.mark.parametrize(
    ("readings", "words"),
    [
        (of([0, 180, 0, 180], [1, 2, 1, 2]), "2 angles only (0 and 180 deg): read at 90 and 270 deg too"),
        (of([0, 120, 240], [1e-4, 2e-4, 3e-4]), "3 readings leave nothing to judge the scatter by"),
        (of([0, 90, 180, 270], [5e-4] * 4), "all readings are equal"),
        (of([0, 20, 40, 60, 80], [1e-4, 2e-4, 3e-4, 4e-4, 5e-4]), "nothing was read over 280 deg"),
    ],
)
def test_what_cannot_give_a_centre_says_why_and_what_to_add(readings: Readings, words: str) -> None:
    found = locate(readings, groove=Groove.LOCKED)
    assert isinstance(found, NoCentre)
    assert words in found.reason


def test_too_few_for_a_spiral_says_how_many_to_add() -> None:
    found = locate(of([0, 90, 180, 270], [1e-4, 2e-4, 3e-4, 1e-4]), groove=Groove.SPIRAL)
    assert isinstance(found, NoCentre)
    assert "4 readings do not fix 4 unknowns (mean, centre and pitch) and their scatter: add 1" in found.reason
    assert found.add


def test_a_stopping_groove_is_refused() -> None:
    found = locate(good(centre=(3e-3, 0.0)), groove=Groove.LOCKED)
    assert isinstance(found, NoCentre)
    assert "stopping groove" in found.reason


def test_a_pitch_on_a_closed_groove_is_refused() -> None:
    with pytest.raises(InputError, match="a locked groove has none"):
        locate(good(), groove=Groove.LOCKED, pitch=1e-4)


@pytest.mark.parametrize(("count", "highest"), [(4, 1), (6, 1), (8, 1), (9, 2), (11, 3), (24, 3)])
def test_harmonics_are_fitted_as_the_readings_afford(count: int, highest: int) -> None:
    found = locate(good(count), groove=Groove.LOCKED)
    assert isinstance(found, Centre)
    assert 1 + len(found.harmonics) == highest
    assert any("out-of-round" in caution for caution in found.cautions) is (highest < 3)


def test_four_readings_repeated_do_not_tell_harmonics_they_cannot_see() -> None:
    degrees = [0.0, 90.0, 180.0, 270.0] * 4
    noise = 1e-6 * np.random.default_rng(1).standard_normal(16)
    found = locate(of(degrees, 1e-5 * np.cos(np.radians(degrees)) + noise), groove=Groove.LOCKED)
    assert isinstance(found, Centre)
    assert found.harmonics == ()


@pytest.mark.parametrize("spiral", [False, True])
def test_without_outliers_it_is_the_runout_of_stats(spiral: bool) -> None:
    readings = good(24)
    ours = locate(readings, groove=Groove.SPIRAL if spiral else Groove.LOCKED)
    plain = runout(readings.angle, readings.radius, spiral=spiral, harmonics=3)
    assert isinstance(ours, Centre)
    assert (ours.offset.x, ours.offset.y) == pytest.approx((-plain.a, -plain.b))
    assert ours.offset.u95 == pytest.approx(plain.vector.u95)
    assert [h.amplitude for h in ours.harmonics] == pytest.approx(plain.harmonics)
    assert abs(ours.pitch) == pytest.approx(abs(plain.pitch))


def test_a_known_lens_needs_no_spare_reading() -> None:
    found = locate(good(4), groove=Groove.SPIRAL, noise=5e-6, harmonics=1)
    assert isinstance(found, Centre)
    assert found.fitted.dof == inf


def test_the_curve_goes_through_the_fitted_values() -> None:
    readings = good(24)
    for groove, pitch in ((Groove.LOCKED, None), (Groove.SPIRAL, None), (Groove.SPIRAL, 1e-5)):
        found = locate(readings, groove=groove, pitch=pitch)
        assert isinstance(found, Centre)
        curve = level_at(found, readings.angle) + pitch_at(found, readings.angle)
        assert curve == pytest.approx(readings.radius - found.fitted.residual, abs=1e-12)


@pytest.mark.parametrize("mirrored", [False, True])
def test_machine_axes_and_back(mirrored: bool) -> None:
    machine = Machine(x_axis=pi / 6, mirrored=mirrored)
    assert machine.to_face(*machine.to_machine(3.0, -2.0)) == pytest.approx((3.0, -2.0))
    x, y = machine.to_machine(np.cos(pi / 6), np.sin(pi / 6))
    assert (x, y) == pytest.approx((1.0, 0.0))
    assert Machine(mirrored=True).to_machine(0.0, 1.0)[1] == -1.0


def test_the_axis_is_learnt_from_checks() -> None:
    axis = axis_from_checks([(18e-6, 1e-6), (20e-6, -1e-6), (16e-6, 0.0)])
    assert (axis.x, axis.y) == pytest.approx((18e-6, 0.0))
    assert axis.covariance[0] == pytest.approx(10e-12 / 4 * (1 + 1 / 3))
    assert axis_from_checks([(1e-5, 0.0)]).dof == inf
    assert stated_axis(0.0, 0.0, 24.477e-6).covariance[0] == pytest.approx(1e-10, rel=1e-4)
    with pytest.raises(InputError, match="one check"):
        axis_from_checks([])


def test_the_move_in_words() -> None:
    move = move_of(0.0, 74e-6, Machine(x_axis=pi / 2))
    assert move.words == "0.074 mm toward 9 o’clock"
    assert move.screws == "x screw 0.074 mm to +"
    assert move_of(0.0, 0.0).screws == "both screws stay"


def test_the_pitch_swing_by_published_thresholds() -> None:
    swing = pitch_swing(0.09e-3, 60.3e-3)
    assert swing.peak == pytest.approx(0.00149, abs=1e-5)
    assert [h.heard for h in swing.heard] == [True, False, False]
    assert pitch_swing(0.0905e-3, 60.3e-3).heard[1].heard
    with pytest.raises(InputError, match="below the radius"):
        pitch_swing(1.0, 0.5)


def test_how_many_more_readings_would_decide() -> None:
    found = locate(good(), groove=Groove.LOCKED)
    assert isinstance(found, Centre)
    more = readings_to_decide(found, lambda vector: vector.u95 < 0.5 * found.offset.u95)
    assert more is not None
    assert more > 10
    assert readings_to_decide(found, lambda vector: vector.u95 < 0.5 * found.offset.u95 and False) is None
