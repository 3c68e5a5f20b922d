"""Noise and off-centre over copies against simulated runs: intervals hold the truth, and each cause gets its name."""

import numpy as np
import pytest

from runtrue.listen.copies.sample import Float64, Play, Sample
from runtrue.listen.copies.trends import Vector, offsets, together, wear

NONE = np.zeros(0)


def played(closure: int, *, copy: str = "", stamper: str = "S1", order: int | None = None) -> Play:
    return Play(
        copy=copy or f"c{closure}", closure=closure, factors={"stamper": stamper}, order=order, reach=(0.0, 60.0),
        time=NONE, u95=NONE, level=NONE, prominence=NONE, noise=np.zeros(60),
    )  # fmt: skip


def counted(count: int = 8, stamper: str = "S1") -> Sample:
    return Sample([played(10 * k, stamper=stamper) for k in range(1, count + 1)], length=60.0)


def with_reference_between() -> Sample:
    """Six copies in the order of the count, the first played again after each: order and count are parted."""
    rows, order = [], 0
    for closure in (50, 200, 400, 600, 800, 1000):
        rows += [played(closure, order=(order := order + 1)), played(50, copy="c50", order=(order := order + 1))]
    return Sample(rows, length=60.0)


def runs(
    rng: np.random.Generator, sample: Sample, *, per_closure: float, per_play: float, spread: float = 0.15
) -> Float64:
    closure = sample.closure[sample.copy_of]
    order = np.array([play.order or 0 for play in sample.plays])
    return np.asarray(-60.0 + per_closure * closure + per_play * order + rng.normal(0.0, spread, len(closure)))


def test_wear_rate_and_crossing_hold_the_truth_where_a_copy_is_played_between() -> None:
    rng, sample = np.random.default_rng(1), with_reference_between()
    slopes = crossings = bounded = 0
    for _ in range(400):
        (one,) = wear(runs(rng, sample, per_closure=0.002, per_play=0.05), sample, limit=-57.0)
        assert one.parted
        assert one.by_play is not None
        slopes += abs(one.slope - 0.002) <= one.slope_u95
        if one.interval is not None:
            bounded += 1
            # at the middle of the playing order
            middle = float(np.mean([play.order or 0 for play in sample.plays]))
            crossings += one.interval[0] <= (3.0 - 0.05 * middle) / 0.002 <= one.interval[1]
    assert slopes >= 0.93 * 400
    assert bounded > 350
    assert crossings >= 0.93 * bounded


def test_stylus_wear_is_not_taken_for_stamper_wear() -> None:
    """A stylus that wears by the play, a stamper that does not: only a copy between tells them apart."""
    rng = np.random.default_rng(2)
    between = with_reference_between()
    rising = [wear(runs(rng, between, per_closure=0.0, per_play=0.2), between)[0].rises for _ in range(200)]
    assert sum(rising) <= 20
    plain = Sample([played(100 * k, order=k) for k in range(1, 11)], length=60.0)
    (one,) = wear(runs(rng, plain, per_closure=0.0, per_play=0.2), plain, limit=-55.0)
    assert not one.parted
    assert one.by_play is None
    assert one.crossing is None


@pytest.mark.parametrize("order", [None, 3])
def test_without_a_playing_order_wear_cannot_be_told(order: int | None) -> None:
    sample = Sample([played(50 * k, order=order) for k in range(1, 9)], length=60.0)
    (one,) = wear(np.linspace(-60.0, -50.0, 8), sample, limit=-55.0)
    assert not one.parted
    assert one.interval is None


def test_each_stamper_has_its_own_line() -> None:
    rows = [played(100 * k, stamper=s, copy=f"{s}{k}", order=7 * k % 11) for s in ("S1", "S2") for k in range(1, 9)]
    sample = Sample(rows, length=60.0)
    value = [-60.0 + (0.004 * p.closure if p.factors["stamper"] == "S2" and p.closure else 0.0) for p in rows]
    first, second = wear(np.array(value) + np.random.default_rng(3).normal(0.0, 0.05, 16), sample)
    assert not first.rises
    assert second.rises
    assert second.slope == pytest.approx(0.004, abs=2.0 * second.slope_u95)


def scattered(
    rng: np.random.Generator, sample: Sample, *, mean: complex, sd: float, u95: float, slack: float
) -> list[Vector]:
    """Vectors about a mean with a spread of ``sd`` an axis, measured to ``u95``."""
    measured = u95 / 2.4477
    shape = (len(sample.copies), 2)
    xy = rng.normal(0.0, sd, shape) + rng.normal(0.0, measured, shape)
    return [
        Vector(copy=i, x=mean.real + float(x), y=mean.imag + float(y), u95=u95, slack=slack)
        for i, (x, y) in enumerate(xy)
    ]


def test_one_vector_on_all_copies_is_the_stampers_and_slack_does_not_average_out() -> None:
    rng, sample = np.random.default_rng(4), counted()
    found = [offsets(scattered(rng, sample, mean=90j, sd=0.0, u95=3.0, slack=60.0), sample)[0] for _ in range(200)]
    assert sum(one.agrees is True for one in found) >= 195
    for one in found:
        assert one.u95 >= 60.0
        assert one.u95_played < 2.5
    inside = [abs(complex(one.x, one.y) - 90j) <= one.u95_played for one in found]
    assert sum(inside) >= 184


def test_scatter_is_placing_up_to_the_slack_and_the_hole_beyond() -> None:
    rng, sample = np.random.default_rng(5), counted()
    slack = 60.0
    placed = [
        offsets(scattered(rng, sample, mean=90j, sd=slack / 2.4477, u95=3.0, slack=slack), sample)[0]
        for _ in range(200)
    ]
    assert all(one.agrees is False for one in placed)
    assert sum(one.placing is True for one in placed) >= 190
    assert sum(abs(complex(one.x, one.y) - 90j) <= one.u95 for one in placed) >= 184
    assert np.median([one.u95 for one in placed]) < 0.6 * slack
    (moved,) = offsets(scattered(rng, sample, mean=90j, sd=80.0, u95=3.0, slack=slack), sample)
    assert moved.placing is False


def test_one_copy_alone_neither_agrees_nor_scatters() -> None:
    sample = counted(1)
    (one,) = offsets([Vector(copy=0, x=30.0, y=0.0, u95=2.0, slack=50.0)], sample)
    assert one.agrees is None
    assert one.placing is None
    assert one.u95 == pytest.approx(np.hypot(2.0, 50.0))


def test_both_sides_share_a_hole_that_moves_whatever_the_turn_between_them() -> None:
    """Seen from the other side the hole moves as in a mirror, turned by the angle between the grooves' starts."""
    rng = np.random.default_rng(6)
    hole = rng.normal(0.0, 40.0, 8) + 1j * rng.normal(0.0, 40.0, 8)
    for turned in (0.0, 1.0, 2.5, 4.0):
        noise = rng.normal(0.0, 2.0, (2, 8)) + 1j * rng.normal(0.0, 2.0, (2, 8))
        one = 30.0 + 5j + hole + noise[0]
        other = -12j + np.exp(1j * turned) * np.conj(hole) + noise[1]
        found = together(one, other)
        assert found is not None
        assert found.bound
        assert found.likeness > 0.95


def test_sides_that_move_each_for_itself_are_bound_as_often_as_stated() -> None:
    rng = np.random.default_rng(7)
    drawn = rng.normal(size=(2000, 2, 6)) + 1j * rng.normal(size=(2000, 2, 6))
    stated = np.array([found.probability for a, b in drawn if (found := together(a, b)) is not None])
    assert len(stated) == 2000
    assert np.mean(stated < 0.05) == pytest.approx(0.05, abs=0.012)
    assert np.mean(stated < 0.5) == pytest.approx(0.5, abs=0.03)


def test_fewer_than_four_copies_tell_nothing_of_both_sides() -> None:
    assert together(np.ones(3, dtype=complex), np.ones(3, dtype=complex)) is None
    assert together(np.ones(5, dtype=complex), np.arange(5) + 0j) is None
