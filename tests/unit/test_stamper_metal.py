"""Metal register values, incoming inspection, life and the stop rule."""

from dataclasses import replace
from math import pi

import numpy as np
import pytest
from scipy.special import ndtr

from runtrue.errors import InputError
from runtrue.stamper.life import (
    Retirement,
    StopRule,
    beyond,
    crossing,
    expected_bad,
    lives,
    stop,
    stop_by_trend,
)
from runtrue.stamper.metal import (
    Advice,
    FaultKind,
    Generation,
    HouseMetal,
    Metal,
    Thickness,
    VisualFault,
    inspect,
    lineage,
    wedge,
)  # fmt: skip
from runtrue.stamper.study import centring_study
from runtrue.stats.reliability.trend import trend_to_limit


def piece(**changes: object) -> Metal:
    given: dict[str, object] = {
        "id": "S1", "matrix": "RT-7", "generation": Generation.STAMPER, "parent": "M1", "grown": "2026-02-01",
        "bath": "3", "back": 0.4e-6, "thickness": even(),
    }  # fmt: skip
    return Metal(**{**given, **changes})  # type: ignore[arg-type]


def even(tilt: float = 0.0, mean: float = 200e-6) -> tuple[Thickness, ...]:
    return tuple(
        Thickness(radius=0.13, angle=k * pi / 3, value=mean + tilt * 0.13 * float(np.cos(k * pi / 3))) for k in range(6)
    )


def fault(kind: FaultKind, *, recorded: bool) -> VisualFault:
    return VisualFault(kind=kind, hour=4.0, radius=0.1, recorded=recorded)


@pytest.mark.parametrize(
    ("metal", "advice", "words"),
    [
        (piece(), Advice.ACCEPT, ""),
        (piece(back=1.2e-6), Advice.SAND, "back is rough"),
        (piece(thickness=even(tilt=2e-4)), Advice.SAND, "wedge of 60 μm"),
        (piece(thickness=even(mean=140e-6)), Advice.REFUSE, "thin, 140 μm"),
        (piece(thickness=even(tilt=4e-4, mean=205e-6)), Advice.REFUSE, "wedge"),
        (piece(faults=(fault(FaultKind.SCRATCH, recorded=True),)), Advice.REFUSE, "scratch at 4 o'clock, 100 mm"),
        (piece(faults=(fault(FaultKind.BURR, recorded=False),)), Advice.SAND, "burr"),
        (piece(faults=(fault(FaultKind.CRACK, recorded=False),), back=2e-6), Advice.REFUSE, "crack"),
    ],
)
def test_incoming_metal(metal: Metal, advice: Advice, words: str) -> None:
    found = inspect(metal, HouseMetal())
    assert found.advice is advice
    assert words in " ".join(found.reasons[:1])


def test_what_nobody_measured_is_named() -> None:
    found = inspect(piece(back=None, thickness=()), HouseMetal())
    assert found.not_looked_at == ("back roughness", "thickness at three places")


def test_the_wedge_is_a_plane() -> None:
    found = wedge(even(tilt=2e-4))
    assert (found.slope, found.mean) == (pytest.approx(2e-4), pytest.approx(200e-6))
    with pytest.raises(InputError, match="three places"):
        wedge(even()[:2])
    line = tuple(Thickness(radius=r, angle=0.0, value=2e-4) for r in (0.05, 0.08, 0.12))
    with pytest.raises(InputError, match="on one line"):
        wedge(line)


def test_the_family_is_kept_in_order() -> None:
    father = piece(id="F1", generation=Generation.FATHER, parent=None)
    mother = piece(id="M1", generation=Generation.MOTHER, parent="F1")
    register = {"F1": father, "M1": mother}
    assert [one.id for one in lineage(piece(), register)] == ["S1", "M1", "F1"]
    with pytest.raises(InputError, match="not in the register"):
        lineage(piece(parent="M9"), register)
    with pytest.raises(InputError, match="is not grown from a father"):
        lineage(piece(parent="F1"), register)
    with pytest.raises(InputError, match="is of matrix X"):
        lineage(piece(), {"M1": piece(id="M1", matrix="X", generation=Generation.MOTHER, parent="F1")})
    with pytest.raises(InputError, match="has no parent"):
        piece(generation=Generation.FATHER)


def test_life_with_sound_stampers_and_the_stop_rule() -> None:
    rng = np.random.default_rng(1)
    ends = 1200.0 * rng.weibull(3.0, 60)
    seen = [
        Retirement(stamper=str(k), impressions=max(int(min(e, 1500)), 1), worn=bool(e < 1500))
        for k, e in enumerate(ends)
    ]
    found = lives(seen)
    assert found.law is not None
    assert found.law.scale == pytest.approx(1200.0, rel=0.12)
    assert found.law.shape == pytest.approx(3.0, rel=0.35)
    rule = StopRule(change_cost=60.0, bad_copy_cost=6.0, between_checks=100)
    young, old = stop(found.law, 100, rule), stop(found.law, 1400, rule)
    assert not young.change
    assert old.change
    assert young.change_at is not None
    assert 100 < young.change_at <= 1400
    assert expected_bad(found.law, 1400.0, 100) > expected_bad(found.law, 100.0, 100)


def test_few_retirements_give_no_law() -> None:
    found = lives([Retirement(stamper="a", impressions=900, worn=True)])
    assert found.law is None
    assert "no law yet" in found.reason
    with pytest.raises(InputError, match="none are known"):
        lives([])


def test_a_trend_that_may_be_nothing_names_no_end() -> None:
    found = crossing("surface", [0, 100, 200, 300], [-60.0, -60.5, -59.8, -60.2], -50.0)
    assert found.at is None
    assert found.trend.reason


def test_a_study_of_operators_and_lens() -> None:
    rng = np.random.default_rng(2)
    stampers, people = 60e-6 * rng.standard_normal((1, 8, 1, 2)), 5e-6 * rng.standard_normal((3, 1, 1, 2))
    found = centring_study(stampers + people + 3e-6 * rng.standard_normal((3, 8, 3, 2)))
    assert found.x.repeatability == pytest.approx(3e-6, rel=0.3)
    assert found.deviation >= found.x.repeatability
    with pytest.raises(InputError, match="two of each"):
        centring_study(np.zeros((1, 3, 2, 2)))


def test_the_probability_beyond_a_limit_agrees_with_simulation() -> None:
    """Share of next copies beyond the limit, over many trends: the prediction of one more value of a line."""
    rng = np.random.default_rng(3)
    counts, at, limit = np.arange(0.0, 900.0, 100.0), 1100.0, -54.5
    said, came = 0.0, 0.0
    for _ in range(400):
        found = trend_to_limit(counts, -60.0 + 0.005 * counts + 0.3 * rng.standard_normal(counts.size), limit)
        said += float(beyond(found, limit, np.array([at]))[0]) / 400
        came += float(ndtr((-60.0 + 0.005 * at - limit) / 0.3)) / 400
    assert said == pytest.approx(came, abs=0.04)


def test_a_trend_says_when_a_change_pays() -> None:
    counts = np.arange(0, 900, 100)
    found = trend_to_limit(counts, -60.0 + 0.005 * counts + 0.1 * np.cos(counts), -54.0)
    rule = StopRule(change_cost=60.0, bad_copy_cost=6.0, between_checks=100)
    early, late = stop_by_trend(found, -54.0, 800, rule), stop_by_trend(found, -54.0, 1250, rule)
    assert not early.change
    assert late.change
    assert early.change_at is not None
    assert 1000 < early.change_at < 1250


def test_a_wedge_in_doubt_is_measured_first() -> None:
    rng = np.random.default_rng(1)
    rough = tuple(replace(p, value=p.value + 8e-6 * float(rng.standard_normal())) for p in even(tilt=1e-4))
    found = inspect(piece(thickness=rough), HouseMetal())
    assert found.advice is Advice.MEASURE
    assert "gauge more places" in found.not_looked_at[0]
    slope = wedge(rough)
    assert slope.slope_u95 is not None
    assert abs(slope.slope - 1e-4) < slope.slope_u95
