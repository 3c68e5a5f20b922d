"""Off-centre from delay tracks of the maker: the circle holds the truth as often as it says, and is no wider."""

import numpy as np
import pytest

from bench.acceptance import at_least, between, ratio_below
from bench.tracks import TrackClass, run


def test_circle_covers_delay_tracks() -> None:
    results = [run(TrackClass(seed=seed, count=20, swing=False)) for seed in range(6)]
    covered, n = sum(r.covered for r in results), sum(len(r.errors) for r in results)
    good, rule = between(covered, n, 0.95)
    assert good, f"{covered}, {rule}"
    scaled = np.concatenate([np.array(r.errors) / np.median(r.circles) for r in results])
    good, rule = ratio_below(float(1.0 / np.sqrt(np.mean(scaled**2) / 2.0)), 2 * n, 2.6)
    assert good, rule


def test_unknown_swing_of_the_player_is_carried_and_not_parted() -> None:
    results = [run(TrackClass(seed=500 + seed, count=15, swing=True)) for seed in range(4)]
    covered, n = sum(r.covered for r in results), sum(len(r.errors) for r in results)
    good, rule = at_least(covered, n, 0.95)
    assert good, f"{covered}, {rule}"
    assert sum(r.separated for r in results) == 0
    assert max(float(np.median(r.circles)) / r.implied for r in results) < 1.3


def test_full_side_parts_the_swing() -> None:
    """A whole side of quiet wow tells offset and swing apart; the circle is then narrower than the prior."""
    from runtrue.disc.arm import Arm
    from runtrue.forward import Disc, Play, Player, RandomWow, Recorder, delay_tracks
    from runtrue.listen.centre import BINS_PER_TURN, Track, fit_centre
    from runtrue.listen.setting import Setting

    frequency, duration = 100.0 / 180.0, 1200.0
    setting = Setting(
        turn_frequency=frequency, start_radius=0.146, start_radius_u95=1e-4, end_radius=0.065, end_radius_u95=1e-4,
        pitch=1.25e-4, pitch_spread=0.3, arm=Arm(offset=0.0), player_swing=2e-4, hole=(7.24e-3, 7.33e-3),
        spindle=(7.05e-3, 7.15e-3),
    )  # fmt: skip
    play = Play(
        disc=Disc(turn_frequency=frequency, start_radius=0.146, end_radius=0.065),
        player=Player(wow=RandomWow(density=5e-6, slope=0.0)),
        recorder=Recorder(),
    )
    axis, step = 8e-5 * np.exp(2.1j), 1.0 / (frequency * BINS_PER_TURN)
    made = delay_tracks(play, duration, 1, axis=[axis], swing=[1e-4j], step=step, sigma=1e-6, seed=4)
    programme = made.delay[0] + made.capture_time
    track = Track(
        step=step, capture=made.capture_time, programme=programme, run=np.zeros(len(programme), dtype=np.int64),
        turned=programme,
    )  # fmt: skip
    centre = fit_centre(track, setting, duration=duration).centre
    assert centre.separated == ("player_swing",)
    assert centre.played is not None
    assert abs(complex(centre.played.x, centre.played.y) - axis) < centre.played.u95 < 10e-6
    assert centre.player_swing == pytest.approx(1e-4, rel=0.1)
