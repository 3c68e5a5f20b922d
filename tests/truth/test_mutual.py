"""What copies have in common when they serve each other: aligned arrays, and rendered copies as sound."""

from pathlib import Path

import numpy as np
import pytest
import soundfile

from runtrue.contract.copies import Base
from runtrue.demo.composer import compose
from runtrue.forward import Disc, LeaningArm, Play, Player, RandomWow, Recorder, Surface, Tick, render
from runtrue.listen.mutual import robust_mean
from runtrue.types import silent
from runtrue.workflow.copies import compared
from runtrue.workflow.copies_common import COMMON, common_of
from runtrue.workflow.copies_file import Listed
from runtrue.workflow.copies_judged import Job, judge_one
from runtrue.workflow.copies_request import ListenCompareRequest
from runtrue.workflow.requests import ListenCheckRequest

RATE = 48_000
PULSE = 0.2 * np.exp(-np.arange(60) / 12.0) * np.cos(np.arange(60) * 0.9)


def copies(count: int, rng: np.random.Generator, *, astray: float = 0.0) -> tuple[np.ndarray, np.ndarray]:
    """The music (n, 2) and ``count`` noisy copies of it, each ``astray`` samples off."""
    t = np.arange(24_000) / RATE
    f = rng.uniform(100.0, 4000.0, 12)
    phase = rng.uniform(0.0, 6.3, 12)

    def at(late: float) -> np.ndarray:
        one = 0.03 * np.cos(2.0 * np.pi * f * (t - late / RATE)[:, None] + phase).sum(axis=1)
        return np.stack([one, 0.7 * one], axis=1)

    music = at(0.0)
    laid = [at(astray * (k - (count - 1) / 2)) for k in range(count)]
    return music, np.stack(laid) + rng.normal(0.0, 3e-4, (count, *music.shape))


@pytest.mark.parametrize("count", [3, 5, 8])
def test_the_mean_of_copies_alike_is_quieter_than_one(count: int) -> None:
    music, heard = copies(count, np.random.default_rng(count))
    mean = robust_mean(heard.astype(np.float32))
    left = float(np.std(mean - music))
    assert left < 1.25 * 3e-4 / count**0.5


@pytest.mark.parametrize("marked", [(0,), (1, 4), (0, 1, 2), (1, 2, 3, 4)])
def test_a_mark_on_some_copies_is_not_in_the_mean_be_they_many(marked: tuple[int, ...]) -> None:
    for seed in range(5):
        music, heard = copies(5, np.random.default_rng([seed, 9]), astray=0.05)
        for k in marked:
            heard[k, 10_000:10_060] += PULSE[:, None]
        mean = robust_mean(heard.astype(np.float32))
        left = np.abs(mean - music)[9_990:10_060].max()
        assert left < 0.08 * np.abs(PULSE).max(), f"{marked}, seed {seed}"


def test_a_mark_on_all_copies_stays_in_the_mean() -> None:
    music, heard = copies(5, np.random.default_rng(3))
    heard[:, 10_000:10_060] += PULSE[:, None]
    mean = robust_mean(heard.astype(np.float32))
    assert np.abs(mean - music)[10_000:10_060].max() > 0.9 * np.abs(PULSE).max()


@pytest.mark.slow
@pytest.mark.sound
def test_rendered_copies_serve_each_other(tmp_path: Path) -> None:
    """Four copies of 10 s, one tick from the third on, one on all: the first is found, the second is not seen."""
    music = compose("band", 10.0, 5, RATE)
    level = 10.0 * np.log10(np.mean(np.square(music, dtype=np.float64))) - 50.0
    since, always = Tick(programme_time=5.0, peak_db=level + 38.0), Tick(programme_time=7.5, peak_db=level + 36.0)
    rows, lines = [], {}
    for k in range(4):
        disc = Disc(
            turn_frequency=100.0 / 180.0, start_radius=0.14, offset=30e-6, surface=Surface(level_db=level),
            ticks=(always, since) if k > 1 else (always,),
        )  # fmt: skip
        player = Player(arm=LeaningArm(angle=0.35), speed=0.001 * k, wow=RandomWow(density=1e-5), gain_db=-6.0)
        play = Play(disc=disc, player=player, recorder=Recorder(lead_in=1.0 + 0.2 * k, lead_out=0.5))
        made = render(music, RATE, play, seed=k)
        file = tmp_path / f"c{k}.flac"
        soundfile.write(file, made.capture, RATE, subtype="PCM_24")
        lines[file.name] = made.truth.line
        rows.append(Listed(where="", file=file, copy=f"c{k}", closure=100 * k + 50, factors={"stamper": "S1"}))
    asked = {"format": "12in-33", "arm_offset_deg": 20.0, "player_swing_percent": 0.0}
    common = common_of(
        ListenCompareRequest(copies=tmp_path / "list.csv", **asked), rows, None, tmp_path, silent  # type: ignore[arg-type]
    )  # fmt: skip
    assert common.copies == ["c0", "c1", "c2", "c3"]
    jobs = [
        Job(
            request=ListenCheckRequest(capture=row.file, reference=tmp_path / COMMON, **asked),  # type: ignore[arg-type]
            common=common.reach,
        )
        for row in rows
    ]
    result = compared(
        rows, [judge_one(job) for job in jobs], format="12in-33", cautions=common.cautions,
        reference=Base(file=None, sha256=None, copies=common.copies),
    )  # fmt: skip
    (found,) = [row for row in result.recurrences if len(row.copies) > 1]
    at = float(lines[common.base].captures(5.0)[0][0])
    assert found.programme_s == pytest.approx(at, abs=1e-3)
    assert (found.copies, found.without) == (["c2", "c3"], ["c0", "c1"])
    assert found.from_closure == (151, 250)
    assert {row.verdict for row in result.copies} <= {"cannot_judge", "fail"}
    assert all(row.off_centre is None for row in result.copies)
    assert any("cannot be called music or fault" in caution for caution in result.cautions)
