"""The disc's frame: every line of it that concerns turn, angle, radius and the mirrored face."""

from math import cos, floor, hypot, pi, radians, sin

import pytest
from hypothesis import given
from hypothesis import strategies as st

from runtrue.disc.frame import TURN_SPREAD_U95, Frame, Spiral, mirrored
from runtrue.errors import InputError

TURN = 5.0 / 9.0
SIDE = 1200.0

times = st.floats(min_value=-30.0, max_value=SIDE, allow_nan=False)
angles = st.floats(min_value=0.0, max_value=360.0, exclude_max=True, allow_nan=False)


def spiral() -> Spiral:
    return Spiral(start=0.1457, start_u95=0.001, end=0.06, end_u95=0.002, duration=SIDE)


def nominal() -> Frame:
    return Frame(turn_frequency=TURN, turn_frequency_u95=TURN * TURN_SPREAD_U95, spiral=spiral())


def apart(a: float, b: float) -> float:
    """Distance of two angles [deg]."""
    return abs((a - b + 180.0) % 360.0 - 180.0)


@given(times)
def test_turn_and_angle_make_up_the_time(time: float) -> None:
    place = nominal().locate(time)
    assert 0.0 <= place.angle < 360.0
    assert place.turn == floor(TURN * time)
    rebuilt = (place.turn + place.angle / 360.0) / TURN
    turn = 1.0 / TURN
    assert min(abs(rebuilt - time), abs(rebuilt + turn - time)) < 1e-9  # an angle of 360 - 1e-14 rounds to 0


@given(times, st.integers(min_value=-3, max_value=400))
def test_whole_turns_later_the_angle_is_the_same(time: float, turns: int) -> None:
    frame = nominal()
    later = frame.locate(time + turns * frame.turn_period)
    assert apart(later.angle, frame.locate(time).angle) < 1e-6


def test_angle_zero_is_the_groove_point_played_at_time_zero() -> None:
    place = nominal().locate(0.0)
    assert (place.turn, place.angle) == (0, 0.0)


@given(times)
def test_the_angle_grows_against_the_clock_on_the_playing_face_and_with_it_on_the_stamper(time: float) -> None:
    # on the playing face the disc turns clockwise under the stylus, so the point played next lies counter-clockwise
    step = 1e-3
    now, next_ = nominal().locate(time).angle, nominal().locate(time + step).angle
    ahead = (next_ - now) % 360.0
    assert ahead == pytest.approx(360.0 * TURN * step, abs=1e-6)
    assert (mirrored(now) - mirrored(next_)) % 360.0 == pytest.approx(ahead, abs=1e-6)


@given(angles)
def test_mirroring_twice_gives_the_angle_back(angle: float) -> None:
    assert 0.0 <= mirrored(angle) < 360.0
    assert apart(mirrored(mirrored(angle)), angle) < 1e-9


@given(angles)
def test_the_stamper_is_the_mirror_image(angle: float) -> None:
    """Seen from the stamper's side, x keeps and y changes its sign."""
    there = radians(mirrored(angle))
    assert cos(there) == pytest.approx(cos(radians(angle)), abs=1e-12)
    assert sin(there) == pytest.approx(-sin(radians(angle)), abs=1e-12)


@given(st.floats(min_value=0.0, max_value=SIDE), st.floats(min_value=0.0, max_value=0.01))
def test_the_angles_doubt_grows_with_time_and_with_the_doubt_of_the_time(time: float, time_u95: float) -> None:
    frame = nominal()
    place = frame.locate(time, time_u95=time_u95)
    expected = hypot(360.0 * TURN * TURN_SPREAD_U95 * time, 360.0 * TURN * time_u95)
    assert place.angle_u95 == pytest.approx(min(expected, 180.0))
    assert frame.locate(time).angle_u95 <= place.angle_u95


def test_a_hundred_parts_per_million_are_24_degrees_over_a_side() -> None:
    """Design section 3: 100 ppm is 24 deg over a side of 20 minutes."""
    assert nominal().locate(SIDE).angle_u95 == pytest.approx(24.0, abs=0.5)


def test_an_angle_that_could_be_anywhere_is_known_to_half_a_turn() -> None:
    loose = Frame(turn_frequency=TURN, turn_frequency_u95=0.005 * TURN, spiral=spiral())
    assert loose.locate(SIDE).angle_u95 == 180.0


@given(st.floats(min_value=0.0, max_value=SIDE))
def test_the_radius_falls_linearly_and_its_doubt_is_that_of_the_ends(time: float) -> None:
    place = nominal().locate(time)
    share = time / SIDE
    assert place.radius == pytest.approx(0.1457 + (0.06 - 0.1457) * share)
    assert place.radius_u95 == pytest.approx(hypot(0.001 * (1.0 - share), 0.002 * share))


def test_the_period_carries_the_doubt_of_the_frequency() -> None:
    frame = nominal()
    assert frame.turn_period == pytest.approx(1.8)
    assert frame.turn_period_u95 / frame.turn_period == pytest.approx(TURN_SPREAD_U95)


@given(angles, st.floats(min_value=1e-5, max_value=5e-4))
def test_direction_of_an_offset_on_the_playing_face(angle: float, offset: float) -> None:
    """An off-centre groove point lies nearest the spindle where the direction to the hole's centre points."""
    hole_x, hole_y = offset * cos(radians(angle)), offset * sin(radians(angle))
    radius = 0.1

    def distance(at: float) -> float:
        return hypot(radius * cos(at) - hole_x, radius * sin(at) - hole_y)

    nearest = min((distance(2.0 * pi * n / 3600.0), n) for n in range(3600))[1] / 10.0
    assert apart(nearest, angle) <= 0.11


@pytest.mark.parametrize(
    ("start", "end", "duration", "match"),
    [
        (0.06, 0.145, 1200.0, "must fall from start to end"),
        (0.25, 0.06, 1200.0, "within 20 to 200 mm"),
        (0.145, 0.01, 1200.0, "within 20 to 200 mm"),
        (0.145, 0.06, 0.0, "duration must be above 0 s"),
        (float("nan"), 0.06, 1200.0, "must fall"),
    ],
)
def test_a_side_that_cannot_be_is_refused(start: float, end: float, duration: float, match: str) -> None:
    with pytest.raises(InputError, match=match):
        Spiral(start=start, start_u95=0.001, end=end, end_u95=0.001, duration=duration)
