"""The maker's sound: reading between samples, ticks, channels, noise, files; and that seed and block decide as said."""

from math import pi, radians
from pathlib import Path

import numpy as np
import pytest
import soundfile

from runtrue.errors import InputError, MissingFileError
from runtrue.forward import (
    Crackle,
    Crosstalk,
    Cut,
    Disc,
    Dropout,
    Hum,
    Jump,
    Mistracking,
    PivotedArm,
    Play,
    Player,
    Pulse,
    RandomWow,
    Recorder,
    Rendered,
    Response,
    Rumble,
    Stylus,
    Surface,
    Tearing,
    Thump,
    Tick,
    Train,
    TrebleLoss,
    Zone,
    render,
    render_to_file,
    tick_alone,
)

pytestmark = pytest.mark.sound

RATE = 48000
F33 = 100.0 / 180.0


def disc(**changes: object) -> Disc:
    return Disc(turn_frequency=F33, start_radius=0.146, **changes)  # type: ignore[arg-type]


def tones(seconds: float, rate: int, frequency: float, level: float = 0.3) -> np.ndarray:
    t = np.arange(round(seconds * rate)) / rate
    return np.stack([level * np.sin(2 * pi * frequency * t), level * np.cos(2 * pi * frequency * t)], axis=1)


def music(seconds: float, rate: int = RATE, level: float = 0.1) -> np.ndarray:
    """Noise that stands for a programme."""
    return np.asarray(np.random.default_rng(8).standard_normal((round(seconds * rate), 2)) * level)


def rms_db(x: np.ndarray) -> float:
    return float(10.0 * np.log10(np.mean(np.square(x, dtype=np.float64))))


@pytest.mark.parametrize("frequency", [100.0, 5000.0, 12000.0, 20000.0])
@pytest.mark.parametrize(("rate", "capture_rate"), [(44100, 44100), (48000, 96000), (96000, 44100), (44100, 192000)])
def test_reading_between_samples(frequency: float, rate: int, capture_rate: int) -> None:
    """Error below -100 dB up to 20 kHz, against the tone computed at the exact programme times."""
    play = Play(disc=disc(offset=2e-4, direction=1.0), player=Player(speed=0.003), recorder=Recorder(lead_in=0.2))
    made = render(tones(1.5, rate, frequency), rate, play, capture_rate=capture_rate)
    t = made.truth.line.programme_time(np.arange(len(made.capture)) / capture_rate)
    inside = (t > 0.3) & (t < 1.2)
    exact = 0.3 * np.sin(2.0 * pi * frequency * t[inside])
    assert rms_db(made.capture[inside, 0] - exact) - rms_db(exact) < -100.0


def everything() -> Play:
    side = disc(
        offset=2e-4,
        cuts=(Cut(start=4.0, end=4.5),),
        surface=Surface(level_db=-60.0, swish_db=3.0),
        ticks=(Tick(programme_time=2.0, peak_db=-20.0), Tick(programme_time=4.2, peak_db=-20.0)),
        trains=(Train(programme_time=1.0, count=3, peak_db=-25.0),),
        crackle=Crackle(per_second=5.0, peak_db=-40.0),
        zones=(Zone(start=1.0, end=5.0, from_angle=radians(300), to_angle=radians(40), level_db=-34.0),),
        tearing=(Tearing(start=3.0, end=5.0, relative_db=-25.0),),
        thumps=(Thump(programme_time=2.5, peak_db=-20.0),),
        treble_loss=TrebleLoss(wavelength=12e-6),
    )
    player = Player(
        arm=PivotedArm.from_overhang(0.23, 0.0165),
        wow=RandomWow(density=3e-4),
        jumps=(Jump(programme_time=5.0, turns=-1, click_db=-10.0),),
        stylus=Stylus(),
        mistracking=Mistracking(threshold_db=-20.0),
        crosstalk=Crosstalk(slope_db=3.0),
        response=Response(points=((1000.0, 0.0), (10000.0, -2.0))),
        channels="swapped",
        polarity=-1,
        rumble=Rumble(level_db=-50.0),
        hum=Hum(level_db=-60.0),
    )
    recorder = Recorder(silence=0.5, lead_in=0.5, clip_db=-1.0, bits=16, dropouts=(Dropout(start=3.0, end=3.01),))
    return Play(disc=side, player=player, recorder=recorder)


def test_block_size_changes_nothing_and_seed_decides() -> None:
    rate = 24000
    reference = music(6.0, rate)
    made = render(reference, rate, everything(), seed=1)
    again = render(reference, rate, everything(), seed=1, block=10007, parts=False)
    other = render(reference, rate, everything(), seed=2)
    assert np.array_equal(made.capture, again.capture)
    assert not np.array_equal(made.capture[: len(other.capture)], other.capture[: len(made.capture)])
    assert made.ticks is not None
    assert made.programme is not None
    assert {t.kind for t in made.truth.ticks} == {"tick", "train", "crackle", "click"}
    assert [t.programme_time for t in made.truth.ticks if t.kind == "tick"] == [2.0], "a tick in a cut is not heard"
    whole = made.programme + made.noise + made.ticks
    away = np.abs(np.arange(len(whole)) / rate - 3.005) > 0.01
    assert np.abs(np.clip(whole, -0.8912, 0.8912) - made.capture)[away].max() < 2.0 / 32768
    assert not made.capture[int(3.001 * rate) : int(3.009 * rate)].any()
    assert made.truth.shown()["jumps"][0]["turns"] == -1


def test_whole_silence_gives_only_what_the_disc_adds() -> None:
    made = render(np.zeros((RATE, 1)), RATE, Play(disc=disc()))
    assert not made.capture.any()
    assert made.truth.programme_db == -200.0


@pytest.mark.parametrize(
    ("axis", "gains"), [("lateral", (1, 1)), ("vertical", (1, -1)), ("left", (1, 0)), ("right", (0, 1))]
)
def test_tick_stands_where_it_should(axis: str, gains: tuple[int, int]) -> None:
    """Within 1 us of the exact map's time, peak as asked, on its axis; fitted from the samples of the capture."""
    tick = Tick(programme_time=1.2345678, peak_db=-20.0, axis=axis)  # type: ignore[arg-type]
    play = Play(disc=disc(offset=2e-4, ticks=(tick,)), player=Player(speed=0.01))
    made = render(np.zeros((2 * RATE, 2)), RATE, play, capture_rate=96000)
    heard = made.truth.ticks[0]
    assert float(made.truth.line.programme_time(heard.capture_time)) == pytest.approx(1.2345678, abs=1e-9)
    first, alone = tick_alone(heard, 96000)
    piece = made.capture[first : first + alone.shape[1]].T
    assert np.abs(piece - alone).max() < 1e-7
    wave = made.capture[:, 0] if gains[0] else made.capture[:, 1]
    around = first - 500
    fine = np.fft.irfft(np.fft.rfft(wave[around : around + 2048]), 64 * 2048) * 64
    at = np.argmax(np.abs(fine)) / (64 * 96000) + around / 96000
    assert at == pytest.approx(heard.capture_time, abs=1e-6)
    assert np.abs(fine).max() == pytest.approx(0.1, rel=0.01)
    k = round(heard.capture_time * 96000)
    assert made.capture[k] == pytest.approx(np.array(gains) * made.capture[k].max(), abs=1e-7)


def test_pulse_peak_is_one_at_zero() -> None:
    from runtrue.forward.pulses import tick_waveform

    for pulse in (Pulse(), Pulse(width=40e-6, resonance=2500.0, decay=400e-6), Pulse(resonance=0.0)):
        t = np.arange(-100e-6, 500e-6, 0.05e-6)
        y = tick_waveform(pulse, t)
        assert np.abs(y).max() == pytest.approx(1.0, abs=1e-6)
        assert t[np.argmax(np.abs(y))] == pytest.approx(0.0, abs=0.06e-6)


def test_repeat_is_heard_twice_and_tick_with_it() -> None:
    side = disc(ticks=(Tick(programme_time=3.0, peak_db=-10.0),))
    play = Play(disc=side, player=Player(jumps=(Jump(programme_time=4.0, turns=-1),)))
    made = render(music(6.0), RATE, play)
    assert [t.programme_time for t in made.truth.ticks] == [3.0, 3.0]
    a, b = (t.capture_time for t in made.truth.ticks)
    assert b - a == pytest.approx(1.8, abs=1e-5)


@pytest.mark.parametrize(
    ("player", "matrix"),
    [
        (Player(), [[1, 0], [0, 1]]),
        (Player(polarity=-1), [[-1, 0], [0, -1]]),
        (Player(channels="swapped"), [[0, 1], [1, 0]]),
        (Player(channels="mono"), [[0.5, 0.5], [0.5, 0.5]]),
        (Player(channels="left_only"), [[1, 0], [0, 0]]),
        (Player(channels="right_only"), [[0, 0], [0, 1]]),
        (Player(crosstalk=Crosstalk(left_into_right_db=-20.0, right_into_left_db=-40.0)), [[1, 0.01], [0.1, 1]]),
        (Player(gain_db=6.0206, balance_db=12.0412), [[4, 0], [0, 1]]),
    ],
)
def test_channels(player: Player, matrix: list[list[float]]) -> None:
    reference = music(1.0)
    plain = render(reference, RATE, Play(disc=disc())).capture
    made = render(reference, RATE, Play(disc=disc(), player=player)).capture
    assert np.abs(made - plain @ np.array(matrix).T).max() < 1e-4


def band_db(x: np.ndarray, low: float, high: float, rate: int = RATE) -> float:
    f = np.fft.rfftfreq(len(x), 1.0 / rate)
    power = np.abs(np.fft.rfft(x)) ** 2
    return float(10.0 * np.log10(2.0 * power[(f >= low) & (f <= high)].sum() / len(x) ** 2))


@pytest.mark.parametrize("shape", ["vinyl", "shellac", "white"])
@pytest.mark.parametrize("rate", [44100, 96000])
def test_surface_has_the_level_asked(shape: str, rate: int) -> None:
    side = disc(surface=Surface(level_db=-50.0, shape=shape))  # type: ignore[arg-type]
    made = render(np.zeros((4 * rate, 2)), rate, Play(disc=side), seed=4)
    for channel in made.noise.T:
        assert band_db(channel, 200.0, rate / 2, rate) == pytest.approx(-50.0, abs=0.15)
    assert abs(np.corrcoef(made.noise.T)[0, 1]) < 0.02


def test_surface_re_programme_and_swish() -> None:
    side = disc(surface=Surface(level_db=-40.0, re="programme", swish_db=6.0, swish_direction=radians(90)))
    made = render(music(18.0), RATE, Play(disc=side))
    assert made.truth.surface_db == pytest.approx(-60.0, abs=0.1)
    angle = np.degrees(made.truth.line.angle(np.arange(len(made.noise)) / RATE))
    loud, soft = (rms_db(made.noise[np.abs(angle - centre) < 20.0]) for centre in (90.0, 270.0))
    assert loud - soft == pytest.approx(6.0, abs=0.5)


def test_zone_is_in_its_arc_on_its_wall() -> None:
    zone = Zone(start=2.0, end=9.0, from_angle=radians(350), to_angle=radians(20), level_db=-30.0)
    made = render(np.zeros((12 * RATE, 2)), RATE, Play(disc=disc(zones=(zone,))))
    assert made.events is not None
    t = made.truth.line.programme_time(np.arange(len(made.events)) / RATE)
    angle = np.degrees(made.truth.line.angle(np.arange(len(made.events)) / RATE))
    inside = (t > 2.0) & (t < 9.0) & ((angle > 352.0) | (angle < 18.0))
    outside = (t < 2.0) | (t > 9.0) | ((angle > 20.0) & (angle < 350.0))
    assert not made.events[:, 0].any()
    assert not made.events[outside].any()
    assert rms_db(made.events[inside, 1]) == pytest.approx(-30.0, abs=0.5)
    assert len(made.truth.bursts) == 4
    assert made.truth.bursts[0].start == pytest.approx(2 * 1.8 - 10 / 360 * 1.8)


def test_train_comes_once_a_turn() -> None:
    side = disc(trains=(Train(programme_time=2.0, count=5, peak_db=-20.0, drift=radians(2)),), lathe_error=1e-4)
    made = render(np.zeros((12 * RATE, 2)), RATE, Play(disc=side))
    times = [t.programme_time for t in made.truth.ticks]
    assert np.diff(times) == pytest.approx(1.8 / 1.0001 * (1.0 + 2.0 / 360.0), abs=1e-9)
    assert made.truth.trains[0].count == 5


def harmonics(made: Rendered, frequency: float) -> np.ndarray:
    assert made.programme is not None
    start = round((made.truth.play.recorder.lead_in + 1.0) * made.rate)
    y = made.programme[start : start + made.rate, 0].astype(np.float64)
    lines = np.abs(np.fft.rfft(y * np.hanning(len(y))))
    orders = [k for k in range(1, 5) if frequency * k < made.rate / 2]
    return np.asarray(20.0 * np.log10([lines[round(frequency * k)] for k in orders]))


def test_tracing_by_a_ball_is_exact() -> None:
    """Second and third harmonic against the parallel curve of the same wall, computed point by point."""
    from runtrue.forward.groove import playback_curve

    stylus, frequency = Stylus(radius=18e-6, full_scale_velocity=0.1), 3000.0
    side = Disc(turn_frequency=F33, start_radius=0.07, end_radius=0.07)
    recorder = Recorder(lead_in=0.0, lead_out=0.0)
    made = render(tones(3.0, 44100, frequency), 44100, Play(disc=side, player=Player(stylus=stylus), recorder=recorder))
    v = 2.0 * pi * F33 * 0.07
    touch = np.arange(100_000) / 100_000 / frequency
    gain = playback_curve(np.array([frequency]), stylus.time_constants)[0]
    wall = 0.3 / abs(gain) * np.sin(2.0 * pi * frequency * touch)
    slope = wall * stylus.full_scale_velocity / v
    centre = touch - stylus.radius / v * slope / np.sqrt(1.0 + slope**2)
    grid = np.arange(1024) / 1024 / frequency
    period = 1.0 / frequency
    traced = np.interp(grid, np.concatenate([centre - period, centre, centre + period]), np.tile(wall, 3))
    orders = np.arange(1, 5)
    exact = np.abs(np.fft.rfft(traced)[orders] * playback_curve(orders * frequency, stylus.time_constants))
    exact_db = 20.0 * np.log10(exact)
    assert harmonics(made, frequency) - harmonics(made, frequency)[0] == pytest.approx(exact_db - exact_db[0], abs=0.02)


def test_tracing_and_treble_loss_grow_toward_the_centre() -> None:
    second, treble = [], []
    for r in (0.14, 0.06):
        side = Disc(turn_frequency=F33, start_radius=r, end_radius=r)
        traced = render(tones(2.5, RATE, 3000.0, 0.05), RATE, Play(disc=side, player=Player(stylus=Stylus())))
        second.append(harmonics(traced, 3000.0)[1])
        worn = Disc(turn_frequency=F33, start_radius=r, end_radius=r, treble_loss=TrebleLoss(wavelength=15e-6))
        treble.append(harmonics(render(tones(3.0, RATE, 12000.0), RATE, Play(disc=worn)), 12000.0)[0])
    assert second[1] - second[0] == pytest.approx(40.0 * np.log10(0.14 / 0.06), abs=0.05)
    v = 2.0 * pi * F33 * np.array([0.14, 0.06])
    expected = 20.0 * np.log10(2.0) * 0.5 * (15e-6 * 12000.0 / v) ** 2
    assert treble[0] - treble[1] == pytest.approx(expected[1] - expected[0], abs=0.01)


def test_response_points_and_wrong_equalisation() -> None:
    response = Response(
        points=((1000.0, 0.0), (10000.0, -3.0)),
        cut_with=(3180e-6, 450e-6, 50e-6),
        played_with=(3180e-6, 318e-6, 75e-6),
    )
    plain = render(tones(3.0, RATE, 10000.0), RATE, Play(disc=disc()))
    wrong = render(tones(3.0, RATE, 10000.0), RATE, Play(disc=disc(), player=Player(response=response)))
    # facts/disc.md section 2: -13.733 against -10.449 dB at 10 kHz
    assert harmonics(wrong, 10000.0)[0] - harmonics(plain, 10000.0)[0] == pytest.approx(
        -3.0 - 13.733 + 10.449, abs=0.01
    )


def test_rumble_and_hum_have_their_levels() -> None:
    player = Player(rumble=Rumble(level_db=-40.0), hum=Hum(level_db=-60.0, frequency=60.0))
    made = render(np.zeros((60 * 8000, 2)), 8000, Play(disc=disc(), player=Player(rumble=player.rumble)))
    assert rms_db(made.noise) == pytest.approx(-40.0, abs=0.6)
    lateral, vertical = made.noise.sum(axis=1) / 2, (made.noise[:, 0] - made.noise[:, 1]) / 2
    assert rms_db(vertical) - rms_db(lateral) == pytest.approx(10 * np.log10(0.7 / 0.3), abs=1.2)
    made = render(np.zeros((10 * 8000, 2)), 8000, Play(disc=disc(), player=Player(hum=player.hum)))
    assert rms_db(made.noise) == pytest.approx(-60.0, abs=0.05)


def test_spit_and_tearing_follow_the_programme() -> None:
    reference = tones(4.0, RATE, 8000.0, 0.5)
    reference[: 2 * RATE] *= 0.01
    player = Player(mistracking=Mistracking(threshold_db=-10.0))
    for play in (
        Play(disc=disc(), player=player),
        Play(disc=disc(tearing=(Tearing(start=0.0, end=4.0, relative_db=-20.0),))),
    ):
        made = render(reference, RATE, play)
        assert made.events is not None
        t = made.truth.line.programme_time(np.arange(len(made.events)) / RATE)
        soft, loud = made.events[(t > 0.2) & (t < 1.8)], made.events[(t > 2.2) & (t < 3.8)]
        assert rms_db(loud) > rms_db(soft + 1e-9) + 30.0


def test_files_in_and_out(tmp_path: Path) -> None:
    """From a FLAC to a WAV block by block: the same capture as in memory, within the file's rounding."""
    reference = music(3.0, 44100)
    soundfile.write(tmp_path / "side.flac", reference, 44100, subtype="PCM_24")
    held, _ = soundfile.read(tmp_path / "side.flac")
    play = Play(disc=disc(offset=1e-4, surface=Surface(level_db=-55.0)))
    truth = render_to_file(tmp_path / "side.flac", tmp_path / "capture.wav", play, 9, capture_rate=96000)
    capture, rate = soundfile.read(tmp_path / "capture.wav")
    made = render(held, 44100, play, 9, capture_rate=96000)
    assert rate == 96000
    assert len(capture) == truth.frames
    assert np.abs(capture - made.capture).max() < 2.0**-22
    render_to_file(tmp_path / "side.flac", tmp_path / "mono.flac", play, 9, mono=True, subtype="PCM_16")
    assert soundfile.info(tmp_path / "mono.flac").channels == 1
    with pytest.raises(MissingFileError, match="give the path"):
        render_to_file(tmp_path / "none.wav", tmp_path / "out.wav", play)


def test_unusable_references_are_refused() -> None:
    with pytest.raises(InputError, match="not empty"):
        render(np.zeros((0, 2)), RATE, Play(disc=disc()))
    with pytest.raises(InputError, match="floating point"):
        render(np.zeros((100, 2), dtype=np.int16), RATE, Play(disc=disc()))
