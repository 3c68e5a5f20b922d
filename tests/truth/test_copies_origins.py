"""Each origin in a sample that is designed to tell it, and the same mark where the design cannot."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
import pytest

from runtrue.listen.copies.compare import Recurrence, recurrences
from runtrue.listen.copies.further import Trial, next_play
from runtrue.listen.copies.sample import Play, Sample

AT, LENGTH = 60.0, 120.0


@dataclass(frozen=True)
class One:
    """A play to be made: its copy, what is known of it, whether it was washed before."""

    copy: int
    factors: Mapping[str, str]
    washed: bool = False

    @property
    def closure(self) -> int:
        return 20 + 45 * self.copy


def disc(copy: int) -> dict[str, str]:
    """Copies 0 to 23: two mothers, two stampers each, two presses, batches and piles crossed with the stampers."""
    stamper = copy % 4
    return {
        "father": "F1", "mother": f"M{stamper // 2 + 1}", "stamper": f"S{stamper + 1}",
        "press": f"P{copy // 4 % 2 + 1}", "cavity": f"P{copy // 4 % 2 + 1}-{copy // 8 % 2 + 1}",
        "compound": f"K{copy // 2 % 3 + 1}",
        "pile": f"L{copy * 7 // 3 % 5 + 1}",
    }  # fmt: skip


def plays_of(ones: list[One], on: Callable[[One], bool], seed: int) -> Sample:
    """Every play lists ticks of its copy's own, and the mark where ``on`` says so."""
    plays = []
    for order, one in enumerate(ones):
        own = np.random.default_rng([seed, one.copy])
        heard = np.random.default_rng([seed, order, 7])
        time = own.uniform(0.0, LENGTH, 6)
        over = 14.0 + own.exponential(4.0, 6)
        if on(one):
            time, over = np.append(time, AT), np.append(over, 30.0 + heard.normal(0.0, 1.0))
        time = time + heard.normal(0.0, 2e-5, len(time))
        first = np.argsort(time)
        noise = np.full(int(LENGTH), -60.0)
        plays.append(
            Play(
                copy=f"c{one.copy}", closure=one.closure, factors=one.factors, order=order, washed=one.washed,
                reach=(0.0, LENGTH), time=time[first], u95=np.full(len(time), 4e-5), level=over[first] - 60.0,
                prominence=over[first], noise=noise,
            )
        )  # fmt: skip
    return Sample(plays, length=LENGTH)


def the_mark(sample: Sample) -> Recurrence:
    found = [one for one in recurrences(sample, turn=1.8) if abs(one.time - AT) < 1e-3]
    assert len(found) == 1
    return found[0]


CROSSED = [One(copy, disc(copy) | {"player": f"bench{copy % 3 % 2 + 1}"}) for copy in range(24)]
KINDS = {
    "cut": (None, lambda one: True),
    "mother": ("M2", lambda one: one.factors["mother"] == "M2"),
    "stamper": ("S3", lambda one: one.factors["stamper"] == "S3"),
    "press_event": ("S2", lambda one: one.factors["stamper"] == "S2" and 300 < one.closure < 900),
    "press": ("P2", lambda one: one.factors["press"] == "P2"),
    "cavity": ("P1-2", lambda one: one.factors["cavity"] == "P1-2"),
    "compound": ("K3", lambda one: one.factors["compound"] == "K3"),
    "pile": ("L4", lambda one: one.factors["pile"] == "L4"),
    "player": ("bench2", lambda one: one.factors["player"] == "bench2"),
}


@pytest.mark.parametrize("kind", KINDS)
def test_each_origin_is_named_where_the_design_tells_it(kind: str) -> None:
    which, on = KINDS[kind]
    for seed in range(3):
        one = the_mark(plays_of(CROSSED, on, seed))
        named = [(s.origin.value, s.which) for s in one.suspects[: one.named]]
        assert (kind, which) in named
        if kind != "cut":  # the only father shows the same
            assert named[0] == (kind, which)
            assert one.suspects[0].probability > 0.8


@pytest.mark.parametrize(
    ("kind", "after_wash", "named"), [("dirt", False, ("dirt", "c3")), ("copy", True, ("copy", "c3"))]
)
def test_a_wash_tells_dirt_from_the_disc(kind: str, after_wash: bool, named: tuple[str, str]) -> None:
    ones = [*CROSSED[:8], One(3, CROSSED[3].factors), One(3, CROSSED[3].factors, washed=True),
            One(3, CROSSED[3].factors, washed=True)]  # fmt: skip
    one = the_mark(plays_of(ones, lambda o: o.copy == 3 and (after_wash or not o.washed), 1))
    assert (one.suspects[0].origin.value, one.suspects[0].which) == named
    assert one.suspects[0].probability > 0.8


def test_unwashed_it_may_be_dirt_and_a_wash_comes_next() -> None:
    sample = plays_of([*CROSSED[:8], One(3, CROSSED[3].factors)], lambda o: o.copy == 3, 1)
    one = the_mark(sample)
    assert {s.origin.value for s in one.suspects[:2]} == {"copy", "dirt"}
    assert one.suspects[0].probability < 0.9
    after = next_play(one, sample)
    assert after is not None
    assert (after.trial, after.which) == (Trial.WASH, "c3")


def test_a_stamper_that_ran_on_one_press_only_is_tied_with_it() -> None:
    """Stamper S1 on press P1 alone, S2 on P2 alone: no copy tells the mould from the metal."""
    ones = [One(c, {"stamper": f"S{c % 2 + 1}", "press": f"P{c % 2 + 1}", "mother": "M1"}) for c in range(10)]
    sample = plays_of(ones, lambda o: o.factors["stamper"] == "S1", 2)
    one = the_mark(sample)
    tied = [{(one.suspects[k].origin.value, one.suspects[k].which) for k in group} for group in one.tied]
    assert any({("stamper", "S1"), ("press", "P1")} <= group for group in tied)


def test_one_player_for_all_is_tied_with_the_cut_and_a_second_rig_is_asked_for() -> None:
    ones = [One(c, {"stamper": f"S{c % 2 + 1}", "mother": "M1", "player": "bench1"}) for c in range(8)]
    sample = plays_of(ones, lambda o: True, 3)
    one = the_mark(sample)
    tied = [{one.suspects[k].origin.value for k in group} for group in one.tied]
    assert any({"cut", "mother", "player"} <= group for group in tied)
    after = next_play(one, sample)
    assert after is not None
    assert after.trial in (Trial.SECOND_RIG, Trial.OTHER_MOTHER, Trial.MOTHER)


def test_a_crack_that_grows_is_an_event_whose_level_rises() -> None:
    ones = [One(c, {"stamper": "S1", "mother": "M1"}) for c in range(20)]
    plain = plays_of(ones, lambda o: o.closure > 300, 4)
    grown = []
    for play in plain.plays:
        level = play.level.copy()
        here = np.abs(play.time - AT) < 1e-3
        level[here] += 0.012 * ((play.closure or 0) - 600)
        grown.append(
            Play(
                copy=play.copy, closure=play.closure, factors=play.factors, order=play.order, washed=play.washed,
                reach=play.reach, time=play.time, u95=play.u95, level=level, prominence=level + 60.0, noise=play.noise,
            )
        )  # fmt: skip
    one = the_mark(Sample(grown, length=LENGTH))
    assert one.suspects[0].origin.value == "press_event"
    assert one.rise is not None
    assert abs(one.rise.slope - 0.012) <= one.rise.slope_u95
    assert the_mark(plain).rise is None
