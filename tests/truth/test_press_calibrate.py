"""Calibration: hidden presses whose logs are rendered two ways, fitted, and compared with the truth."""

import numpy as np
import pytest

from bench.press_logs import U95, believed, coverage, hidden, one_log, other_log, own_log
from runtrue.press.calibrate import DRAWS, Log, calibrate, drawn_press
from runtrue.press.cycle import work
from runtrue.press.shorten import draws_of, spread_at


def test_both_renderers_make_one_log() -> None:
    """Without noise they agree far below what a thermocouple reads."""
    press = hidden(np.random.default_rng(5), ("die_face_a", "die_face_b", "mid_plane"))
    ours, other = (make(press, np.random.default_rng(1), 0.0) for make in (own_log, other_log))
    for place, values in ours.couples.items():
        inside = slice(2, min(values.size, other.couples[place].size) - 1)
        assert np.abs(values[inside] - other.couples[place][inside]).max() < 0.15


@pytest.mark.slow
def test_limits_hold_the_truth() -> None:
    """A small form of the bench: of 10 logs with 8 inputs each, 95 in 100 are meant to hold."""
    found = coverage(range(400, 410))
    assert found.all[1] == 80
    assert found.all[0] >= 70
    assert found.told[0] / found.told[1] > 0.85


def test_films_are_found_and_what_is_not_told_stays_wide() -> None:
    press, log = one_log(2)
    assert set(log.couples) == {"die_face_a", "die_face_b"}
    found = calibrate(believed(), log, U95)
    half = dict(zip(found.posterior.names, found.posterior.half_width(), strict=True))
    for name in ("steam_film_a", "steam_film_b", "water_film_a", "water_film_b"):
        k = found.posterior.names.index(name)
        assert found.told[k]
        assert half[name] < 0.15
        assert abs(found.posterior.mean[k] - press.inputs[name]) < 2.0 * half[name]
    face = found.posterior.names.index("face_contact")
    assert not found.told[face]
    assert half["face_contact"] > 0.9 * found.before[face]
    assert 0.3 < found.scatter < 0.8


def test_a_log_that_does_not_fit_widens_its_limits() -> None:
    """A slow valve that no press file knows: neighbours miss together, and the limits grow for it."""
    _, log = one_log(2)
    wave = 3.0 * np.sin(log.time / 3.0)
    bent = Log(time=log.time, couples={p: v + wave for p, v in log.couples.items()}, steam=log.steam, water=log.water)
    straight, found = (calibrate(believed(), one, U95, proposals=1) for one in (log, bent))
    assert found.hang > 0.3
    assert found.posterior.half_width()[0] > 1.5 * straight.posterior.half_width()[0]


def test_a_calibrated_press_is_known_better() -> None:
    """The mid-plane at opening: what the log leaves open is a fraction of what was open before."""
    press, log = one_log(0)
    found = calibrate(believed(), log, U95)
    rng = np.random.default_rng(3)
    (spread,) = spread_at(believed(), (14.0,), 1, draws_of(found.posterior, U95, 200, rng))
    true = float(work(press.recipe()).mid_plane[0])
    assert float(spread.mid_plane.std()) < 3.0
    assert abs(float(spread.mid_plane.mean()) - true) < 12.0


def test_draws_keep_to_the_log() -> None:
    """Sets drawn after the log predict it as the best fit does; sets of the plain Gaussian err more, off its ridge."""
    _, log = one_log(0)
    found = calibrate(believed(), log, U95)
    names, draws = found.posterior.names, found.posterior.draws
    half = found.posterior.half_width() / 1.96
    assert draws.shape == (DRAWS, len(names))
    assert np.all(np.abs(draws.mean(axis=0) - found.posterior.mean) < 0.6 * half)
    assert np.all(draws.std(axis=0) < 1.3 * half)
    assert np.all(draws.std(axis=0) > 0.5 * half)
    kept = drawn_press(found.posterior, 900)
    assert all(kept[name].shape == (900,) for name in names)
    normal = np.random.default_rng(1).multivariate_normal(found.posterior.mean, found.posterior.covariance, 300)

    def spread(sets: np.ndarray) -> float:
        return float(spread_at(believed(), (12.0,), 1, dict(zip(names, sets.T, strict=True)))[0].mid_plane.std())

    assert spread(draws[:300]) < spread(normal)
