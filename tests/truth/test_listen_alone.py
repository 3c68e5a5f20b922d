"""One recording without a reference against the maker's truth; and the fast residual against the textbook's."""

import json
from dataclasses import replace
from math import radians
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import pytest
from numpy.typing import NDArray

from runtrue.capture import open_sound, sound_from_array
from runtrue.disc.arm import Arm
from runtrue.forward import Disc, Hum, Jump, Play, Player, Recorder, Tick
from runtrue.forward.sound import Rendered, render
from runtrue.listen import hear
from runtrue.listen.heard import Heard, Identity
from runtrue.listen.residual import ORDER
from runtrue.listen.setting import Setting
from runtrue.signal.prediction import predictor
from runtrue.signal.weighting import a_weighting, weigh
from runtrue.types import silent
from tests.truth.listened import RATE, level_db, piece, record, rig, setting

SECONDS = 30.0
LEAD_IN = 4.0
PRACTICE = Path(__file__).parents[3] / "shared" / "practice"


def alone(
    character: str, disc: Disc, player: Player | None = None, *, seconds: float = SECONDS, seed: int = 7
) -> tuple[Rendered, Heard]:
    """Render and judge without a reference."""
    play = Play(disc=disc, player=player or rig(), recorder=Recorder(lead_in=LEAD_IN, lead_out=2.0))
    made = render(piece(character, seconds), RATE, play, seed=seed)
    with TemporaryDirectory() as folder:
        heard = hear(
            sound_from_array(made.capture, made.rate), None, setting(disc), workspace=Path(folder), progress=silent
        )
    return made, heard


def scalar(heard: Heard, name: str) -> float:
    """Value of one measurement."""
    found = next(m for m in heard.scalars if m.quantity == name)
    assert isinstance(found.value, float), found.reason
    return found.value


@pytest.mark.sound
def test_levels_and_the_start_are_told_and_the_programme_is_not() -> None:
    reference = piece("ballad", SECONDS)
    hum = level_db(reference) - 45.0
    made, heard = alone("ballad", record(reference, seconds=SECONDS), rig(hum=Hum(level_db=hum, frequency=50.0)))
    assert heard.programme.identity is Identity.UNCLEAR
    assert heard.centre.disc is None
    assert heard.level_reference == "full scale"
    assert scalar(heard, "hum") == pytest.approx(hum, abs=1.0)
    assert made.background is not None
    noise = weigh(made.background[RATE : 3 * RATE], a_weighting, rate=RATE)
    assert scalar(heard, "surface") == pytest.approx(10.0 * np.log10(np.mean(noise**2)), abs=1.0)
    assert heard.programme.start is not None
    assert made.truth.start is not None
    assert heard.programme.start == pytest.approx(made.truth.start, abs=0.5)
    assert heard.cautions


@pytest.mark.sound
def test_noise_is_not_told_where_music_never_rests() -> None:
    reference = piece("band", SECONDS)
    disc = record(reference, seconds=SECONDS)
    play = Play(disc=disc, player=rig(), recorder=Recorder(lead_in=0.0, late_needle=2.0, lead_out=0.0, stop_at=28.0))
    made = render(reference, RATE, play, seed=3)
    with TemporaryDirectory() as folder:
        heard = hear(sound_from_array(made.capture, RATE), None, setting(disc), workspace=Path(folder), progress=silent)
    surface = next(m for m in heard.scalars if m.quantity == "surface")
    assert surface.value is None
    assert "every turn" in surface.reason
    assert heard.programme.start is None
    assert all(heard.frame.locate(t.programme_time, time_u95=t.time_u95).angle_u95 == 180.0 for t in heard.ticks or ())


@pytest.mark.slow
@pytest.mark.sound
def test_the_swing_of_pitch_lies_within_its_circle() -> None:
    inside, told = 0, 0
    for number, character in enumerate(("tonal", "ballad", "percussive", "sibilants")):
        disc = record(piece(character, SECONDS), seconds=SECONDS, offset=(60e-6, 150e-6)[number % 2])
        made, heard = alone(character, disc, seed=number)
        played = heard.centre.played
        if played is None:
            assert heard.centre.reason
            continue
        told += 1
        # the start is known to a fraction of a second: the direction turns with it, the length does not
        off = abs(abs(complex(played.x, played.y)) - abs(made.truth.played_axis))
        inside += off <= played.u95
        assert played.u95 < 1.5 * disc.offset
    assert told >= 3
    assert inside >= told - 1


@pytest.mark.sound
def test_a_centred_record_shows_no_swing_it_has_not() -> None:
    disc = replace(record(piece("ballad", SECONDS), seconds=SECONDS), offset=0.0)
    _, heard = alone("ballad", disc)
    assert heard.centre.played is None or heard.centre.played.length <= heard.centre.played.u95


@pytest.mark.sound
@pytest.mark.parametrize(("character", "share", "most"), [("tonal", 0.8, 2.0), ("ballad", 0.6, 4.0)])
def test_clear_ticks_are_found_and_few_are_made_up(character: str, share: float, most: float) -> None:
    reference = piece(character, SECONDS)
    top = level_db(reference) - 6.0
    axes = ("lateral", "vertical", "left", "right")
    ticks = tuple(
        Tick(programme_time=float(at), peak_db=top, axis=axes[i % 4])  # type: ignore[arg-type]
        for i, at in enumerate(np.arange(3.13, SECONDS - 2.0, 2.27))
    )
    made, heard = alone(character, record(reference, seconds=SECONDS, ticks=ticks))
    found = np.array([t.capture_time for t in heard.ticks or ()] or [-9.0])
    true = np.array([t.capture_time for t in made.truth.ticks])
    hit = sum(float(np.abs(found - t).min()) < 1e-3 for t in true)
    false = [t for t in found if np.abs(true - t).min() > 3e-3]
    assert heard.programme.jumps == ()
    assert hit >= share * len(true)
    assert len(false) / (SECONDS / 60.0) <= most


@pytest.mark.sound
def test_a_groove_that_repeats_is_seen_where_it_does() -> None:
    character = "band"
    disc = record(piece(character, SECONDS), seconds=SECONDS)
    _, heard = alone(character, disc, rig(jumps=(Jump(programme_time=14.0, turns=-1),)))
    (jump,) = heard.programme.jumps or ()
    assert jump.turns == -1
    assert jump.programme_time == pytest.approx(14.0, abs=0.5)


def textbook(x: NDArray[np.float64], order: int) -> NDArray[np.float64]:
    """Prediction error of a block: normal equations solved outright, the filter run sample by sample."""
    r = np.array([float(x[: len(x) - k] @ x[k:]) for k in range(order + 1)])
    r[0] *= 1.0 + 1e-9
    matrix = np.array([[r[abs(i - j)] for j in range(order)] for i in range(order)])
    a = np.linalg.solve(matrix, r[1:])
    error = np.zeros(len(x))
    for n in range(len(x)):
        foretold = sum(a[k] * x[n - 1 - k] for k in range(order) if n - 1 - k >= 0)
        error[n] = x[n] - foretold
    return error


def test_batched_prediction_is_the_textbook_s() -> None:
    rng = np.random.default_rng(2)
    blocks = np.cumsum(rng.standard_normal((3, 400)), axis=1) * np.hanning(400)
    lags = np.array([[float(x[: 400 - k] @ x[k:]) for k in range(ORDER + 1)] for x in blocks])
    fast = [np.convolve(x, a)[:400] for x, a in zip(blocks, predictor(lags), strict=True)]
    slow = [textbook(x, ORDER) for x in blocks]
    assert np.abs(np.array(fast) - np.array(slow)).max() < 1e-6 * np.abs(blocks).max()


@pytest.mark.practice
@pytest.mark.slow
@pytest.mark.sound
@pytest.mark.parametrize("name", ["plain", "seven_inch"])
def test_a_capture_of_another_maker_is_measured_alone(name: str, tmp_path: Path) -> None:
    path = PRACTICE / name
    if not (path / "truth.json").is_file():
        pytest.skip("the practice captures are not here; they are kept beside the repository")
    truth = json.loads((path / "truth.json").read_text())
    told = Setting(
        turn_frequency=truth["rpm"] / 60.0, start_radius=truth["r_start_mm"] * 1e-3, start_radius_u95=1e-4,
        end_radius=truth["end_radius_mm"] * 1e-3, end_radius_u95=1e-4, pitch=truth["pitch_mm"] * 1e-3,
        pitch_spread=0.3, arm=Arm(offset=radians(truth["arm_offset_deg"])), player_swing=0.0,
        hole=(7.24e-3, 7.33e-3), spindle=(7.05e-3, 7.15e-3),
    )  # fmt: skip
    heard = hear(open_sound(path / "capture.flac"), None, told, workspace=tmp_path, progress=silent)
    assert heard.programme.identity is Identity.UNCLEAR
    assert heard.programme.start == pytest.approx(truth["lead_in_s"], abs=0.5)
    played = heard.centre.played
    assert played is None or abs(played.length - truth["ecc_um"] * 1e-6) <= played.u95
    # the truth is flat, the reading A-weighted: what lies low in the spectrum is taken off
    assert -10.0 < scalar(heard, "surface") - truth["noise_db_re_full_scale"] < 4.0
