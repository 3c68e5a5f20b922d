"""The composer: the same seed gives the same music, and each character is what it says."""

import time
from itertools import pairwise

import numpy as np
import pytest
from scipy.signal import get_window, stft

from runtrue.demo.characters import random_style
from runtrue.demo.composer import CHARACTERS, Stereo, Tune, compose, compose_blocks, compose_side, passages
from runtrue.demo.instruments import vowel_table
from runtrue.demo.loops import loop_bar
from runtrue.demo.mixer import CEILING, bend
from runtrue.demo.perform import fit_tempo, perform, whole_bars
from runtrue.demo.synthesis import dying_sines, frequency
from runtrue.demo.theory import SCALES, harmony, melody, voicing
from runtrue.errors import InputError, UnknownNameError

pytestmark = pytest.mark.sound
RATE = 48_000


@pytest.fixture(scope="module")
def pieces() -> dict[str, Stereo]:
    """Six seconds of every character, made once."""
    return {name: compose(name, 6.0, 5, RATE) for name in CHARACTERS}


def db(ratio: float) -> float:
    return 20.0 * float(np.log10(max(ratio, 1e-12)))


def rms(x: np.ndarray) -> float:
    return float(np.sqrt(np.mean(np.asarray(x, float) ** 2)))


def levels(x: Stereo, seconds: float = 0.05) -> np.ndarray:
    """Level [dB] of each piece of ``seconds``, both channels together."""
    n = int(seconds * RATE)
    power = (x[: len(x) // n * n].astype(float) ** 2).reshape(-1, n * 2).mean(axis=1)
    return 10.0 * np.log10(power + 1e-20)


def share(x: Stereo, low: float, high: float) -> float:
    """Share of the power of the middle that lies between two frequencies [Hz]."""
    mid = x.mean(axis=1).astype(float) * get_window("hann", len(x))
    power = np.abs(np.fft.rfft(mid)) ** 2
    f = np.fft.rfftfreq(len(mid), 1.0 / RATE)
    return float(power[(f >= low) & (f < high)].sum() / power.sum())


def onsets(x: Stereo) -> float:
    """Mean rise of the spectrum from one 10 ms step to the next, in the log domain [dB]."""
    _, _, z = stft(x.mean(axis=1), RATE, nperseg=1024, noverlap=1024 - 480)
    level = 20.0 * np.log10(np.abs(z[8:300]) + 1e-5)
    return float(np.mean(np.clip(np.diff(level, axis=1), 0.0, None).mean(axis=0) ** 2))


# --- every character -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", CHARACTERS)
def test_every_piece_is_finite_and_fits(pieces: dict[str, Stereo], name: str) -> None:
    x = pieces[name]
    assert x.shape == (6 * RATE, 2)
    assert x.dtype == np.float32
    assert np.isfinite(x).all()
    assert 0.001 < np.abs(x).max() <= CEILING + 1e-6


@pytest.mark.parametrize("name", ["band", "brushes", "applause", "speech", "loops", "steady_tone"])
def test_same_seed_same_samples_also_in_blocks(pieces: dict[str, Stereo], name: str) -> None:
    assert np.array_equal(np.concatenate(list(compose_blocks(name, 6.0, 5, RATE))), pieces[name])
    if name != "steady_tone":  # its twelve keys may meet
        assert not np.array_equal(compose(name, 1.0, 6, RATE), pieces[name][:RATE])


def test_a_longer_piece_is_made_of_seamless_blocks() -> None:
    """What rings over a block's end goes on in the next: no step at the seams of the textures and the room."""
    for name in ("applause", "noise", "tonal"):
        blocks = list(compose_blocks(name, 17.0, 3, RATE))
        assert len(blocks) == 3
        for before, after in pairwise(blocks):
            seam = np.concatenate([before[-2400:], after[:2400]]).astype(float)
            steps = np.abs(np.diff(seam, axis=0)).max(axis=1)
            assert steps[2399] <= np.percentile(steps, 99.9)
            assert abs(db(rms(before[-2400:]) / rms(after[:2400]))) < 4.0


@pytest.mark.parametrize("rate", [44_100, 96_000])
def test_another_rate_is_the_same_music(pieces: dict[str, Stereo], rate: int) -> None:
    other = compose("band", 6.0, 5, rate)
    assert other.shape == (6 * rate, 2)
    steps = [
        np.log(np.add.reduceat(x.astype(float).mean(axis=1) ** 2, np.arange(120) * r // 20) + 1e-9)
        for x, r in ((pieces["band"], RATE), (other, rate))
    ]
    assert np.corrcoef(steps)[0, 1] > 0.9


def test_mono_is_a_cut_of_any_character(pieces: dict[str, Stereo]) -> None:
    assert np.array_equal(pieces["mono"][:, 0], pieces["mono"][:, 1])
    for name in ("tonal", "loops"):
        x = compose(name, 2.0, 5, RATE, mono=True)
        assert np.array_equal(x[:, 0], x[:, 1])


# --- what each claims ------------------------------------------------------------------------------------------------


def test_band_fills_the_spectrum_loudly_with_bass_in_the_middle(pieces: dict[str, Stereo]) -> None:
    x = compose("band", 12.0, 2, RATE)
    assert db(np.abs(x).max()) > -2.0
    assert -20.0 < db(rms(x)) < -12.0
    for low, high in ((40, 150), (150, 600), (600, 2400), (2400, 8000), (8000, 16000)):
        assert share(x, low, high) > 1e-4
    mid, side = x.mean(axis=1), 0.5 * (x[:, 0] - x[:, 1])
    assert -16.0 < db(rms(side) / rms(mid)) < -5.0
    spectra = [np.abs(np.fft.rfft(c.astype(float))) ** 2 for c in (mid, side)]
    f = np.fft.rfftfreq(len(mid), 1.0 / RATE)
    low = f < 100.0
    assert 10.0 * np.log10(spectra[1][low].sum() / spectra[0][low].sum()) < -25.0


def test_band_keeps_a_beat() -> None:
    """The strength of onsets repeats at the beat that was written."""
    seconds, seed = 16.0, 3
    style = fit_tempo(random_style(np.random.default_rng([seed, 1])), seconds)
    level = levels(compose("band", seconds, seed, RATE), 0.01)
    rise = np.clip(np.diff(level), 0.0, None)
    rise -= rise.mean()
    lags = np.correlate(rise, rise, "full")[rise.size :]
    bar = round(style.beats * 60.0 / style.tempo * 100)
    assert lags[bar - 3 : bar + 3].max() > 3.0 * np.std(lags[50:600])


def test_sibilants_have_loud_bursts_between_5_and_10_khz(pieces: dict[str, Stereo]) -> None:
    x = compose("sibilants", 12.0, 4, RATE)
    _, _, z = stft(x.mean(axis=1), RATE, nperseg=1024)
    power = np.abs(z) ** 2
    f = np.arange(513) * RATE / 1024
    part = power[(f > 5000) & (f < 10000)].sum(axis=0) / (power.sum(axis=0) + 1e-12)
    assert 0.03 < np.mean(part > 0.5) < 0.6
    assert db(np.abs(x).max()) > -2.0
    loud = power.sum(axis=0)
    assert loud[part > 0.5].max() > 0.2 * np.percentile(loud, 95)


def test_brushes_are_soft_noise_without_a_gap(pieces: dict[str, Stereo]) -> None:
    x = pieces["brushes"]
    assert -36.0 < db(rms(x)) < -22.0
    _, _, z = stft(x.sum(axis=1), RATE, nperseg=2048)
    f = np.arange(1025) * RATE / 2048
    high = 10.0 * np.log10((np.abs(z[(f > 2000) & (f < 9000), 2:-26]) ** 2).sum(axis=0))
    assert np.median(high) - high.min() < 14.0


def test_applause_is_dense_and_wide(pieces: dict[str, Stereo]) -> None:
    x = pieces["applause"][:-RATE]
    level = levels(x)
    assert level.max() - level.min() < 14.0
    assert np.corrcoef(x.T)[0, 1] < 0.6
    assert share(x, 500, 6000) > 0.7


def test_tonal_has_few_onsets_and_percussive_has_many(pieces: dict[str, Stereo]) -> None:
    few, many = onsets(pieces["tonal"][2400:-RATE]), onsets(pieces["percussive"])
    assert many > 8.0 * few
    level = levels(pieces["tonal"][RATE // 2 : -RATE])
    assert level.max() - level.min() < 9.0


def test_percussive_hits_hard_and_dies_away(pieces: dict[str, Stereo]) -> None:
    x = pieces["percussive"]
    assert np.abs(x).max() / rms(x) > 6.0
    level = levels(x, 0.01)
    assert np.diff(level).max() > 30.0


def test_quiet_is_far_down_with_silences_between() -> None:
    x = compose("quiet", 40.0, 1, RATE)
    level = levels(x)
    assert -36.0 < db(np.abs(x).max()) < -24.0
    assert -48.0 < np.percentile(level, 90) < -36.0
    assert 0.1 < np.mean(level < -90.0) < 0.7


def test_loops_repeat_to_the_sample() -> None:
    bar = loop_bar(9, RATE)[0].shape[-1]
    x = compose("loops_exact", 24.0, 9, RATE)
    whole = x[: len(x) // bar * bar].reshape(-1, bar, 2)
    assert len(whole) > 8
    assert all(np.array_equal(whole[0], other) for other in whole)
    varied = compose("loops", 24.0, 9, RATE)[: len(x) // bar * bar].reshape(-1, bar, 2)
    same = [np.array_equal(varied[0], other) for other in varied]
    assert same[:7] == [True] * 7
    assert not same[7]
    assert rms(varied[7] - varied[0]) < rms(varied[0])


def test_noise_has_no_tones_and_bass_nothing_above_300_hz(pieces: dict[str, Stereo]) -> None:
    _, _, z = stft(pieces["noise"].mean(axis=1), RATE, nperseg=4096)
    power = (np.abs(z) ** 2).mean(axis=1)[20:1600]
    smooth = np.convolve(power, np.ones(15) / 15, "same")
    assert (power[15:-15] / smooth[15:-15]).max() < 4.0
    assert 10.0 * np.log10(share(pieces["bass"], 300, 24000)) < -40.0


def test_fade_ends_in_digital_silence(pieces: dict[str, Stereo]) -> None:
    x = compose("fade", 12.0, 3, RATE)
    assert not x[-RATE:].any()
    assert x[: -2 * RATE].any()
    thirds = [rms(x[k : k + RATE]) for k in (4 * RATE, 7 * RATE, 9 * RATE)]
    assert thirds[0] > thirds[1] > thirds[2] > 0.0


def test_hard_clipped_stands_at_the_ceiling(pieces: dict[str, Stereo]) -> None:
    x = pieces["hard_clipped"]
    assert np.mean(np.abs(x) >= CEILING - 1e-6) > 0.03
    assert db(rms(x)) > -10.0


def test_steady_tone_never_changes(pieces: dict[str, Stereo]) -> None:
    x = pieces["steady_tone"]
    assert np.array_equal(x[:, 0], x[:, 1])
    level = levels(x, 0.5)
    assert level.max() - level.min() < 0.1
    power = np.abs(np.fft.rfft(x[:, 0].astype(float) * np.hanning(len(x)))) ** 2
    top = np.argsort(power)[::-1]
    lines = sorted({round(float(k) / 6.0 / 5.0) for k in top[:9]})
    assert len(lines) == 3


def test_speech_pauses_and_stays_in_the_middle(pieces: dict[str, Stereo]) -> None:
    x = compose("speech", 16.0, 2, RATE)
    level = levels(x)
    assert 0.05 < np.mean(level < np.percentile(level, 95) - 25.0) < 0.5
    assert np.corrcoef(x.T)[0, 1] > 0.9


def test_rising_grows() -> None:
    x = compose("rising", 24.0, 3, RATE)
    assert db(rms(x[16 * RATE : 21 * RATE]) / rms(x[: 4 * RATE])) > 10.0


# --- sides -----------------------------------------------------------------------------------------------------------


def test_a_side_is_tunes_with_silence_between() -> None:
    tunes = [
        Tune(title="One", character="band", seconds=4.0, seed=1),
        Tune(title="Two", character="tonal", seconds=3.0, seed=2),
    ]
    one, two = passages(tunes, gap=1.5)
    assert (one.start, one.end, two.start, two.end) == (0.0, 4.0, 5.5, 8.5)
    x = compose_side(tunes, RATE, gap=1.5)
    assert x.shape == (round(8.5 * RATE), 2)
    assert np.array_equal(x[: 4 * RATE], compose("band", 4.0, 1, RATE))
    assert not x[4 * RATE : round(5.5 * RATE)].any()


# --- rules -----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("mode", sorted(SCALES))
@pytest.mark.parametrize("seed", range(6))
def test_harmony_comes_home_and_melody_keeps_to_it(mode: str, seed: int) -> None:
    rng = np.random.default_rng(seed)
    chords = harmony(rng, mode, "TTSDTSDT")
    assert chords[0].root == 0
    assert chords[-1].root == 0
    tune = melody(rng, chords, tonic=50, mode=mode, beats=4)
    for onset, length, pitch in tune:
        chord = chords[int(onset // 8)]
        assert 58 <= pitch <= 86
        assert length > 0.0
        if onset % 4 == 0:
            assert (pitch - 50) % 12 in {t % 12 for t in chord.tones[:3]}
    assert (tune[-1][2] - 50) % 12 == 0
    assert max(abs(b[2] - a[2]) for a, b in pairwise(tune)) <= 12


def test_voices_move_little_from_chord_to_chord() -> None:
    rng = np.random.default_rng(1)
    voiced: tuple[int, ...] = (55, 59, 62, 65)
    for chord in harmony(rng, "major", "TTSDTSDT"):
        moved = voicing(chord, 50, voiced)
        assert len(moved) == 4
        assert sum(abs(a - b) for a, b in zip(voiced, moved, strict=True)) <= 16
        voiced = moved


@pytest.mark.parametrize("seconds", [0.5, 3.0, 17.3, 65.0])
def test_a_performance_fits_its_time(seconds: float) -> None:
    notes = perform(np.random.default_rng(3), random_style(np.random.default_rng(3)), seconds)
    starts = [n.start for n in notes]
    assert starts == sorted(starts)
    assert 0.0 <= starts[0] < 0.2
    assert starts[-1] < seconds
    assert all(n.length > 0.0 and n.level >= 0.0 for n in notes)


def test_bars_come_in_fours_where_the_tempo_bends_that_far() -> None:
    assert whole_bars(60.0, 2.0) in {28, 32}
    assert whole_bars(3.0, 2.0) == 2


def test_dying_sines_are_what_the_formula_says() -> None:
    f, a, d, p = np.array([440.0, 3000.0]), np.array([1.0, 0.3]), np.array([2.0, 9.0]), np.array([0.2, 1.0])
    t = np.arange(3000)[:, None] / RATE
    exact = (a * np.exp(-d * t) * np.sin(2 * np.pi * f * t + p)).sum(axis=1)
    assert np.abs(dying_sines(f, a, d, p, frames=3000, rate=RATE) - exact).max() < 2e-5
    assert frequency(69) == 440.0
    assert vowel_table("a", 110.0, RATE, np.random.default_rng(0)).shape == (2049,)


def test_bending_leaves_what_is_low_and_holds_what_is_high() -> None:
    x = np.linspace(-3.0, 3.0, 601, dtype=np.float32)
    y = bend(x.copy())
    low = np.abs(x) < 0.6
    assert np.array_equal(y[low], x[low])
    assert np.abs(y).max() <= CEILING + 1e-6
    assert (np.diff(y) >= 0.0).all()


# --- slips -----------------------------------------------------------------------------------------------------------


def test_slips_are_named() -> None:
    with pytest.raises(UnknownNameError, match="character 'polka' is unknown; known are band, "):
        compose("polka", 3.0, 1, RATE)
    with pytest.raises(InputError, match=r"must be 0.5 to 7200 s, got 0.1 s"):
        compose("band", 0.1, 1, RATE)
    with pytest.raises(InputError, match="rate must be 8000 to 192000 Hz"):
        compose("band", 3.0, 1, 4000)
    with pytest.raises(InputError, match="at least one tune"):
        compose_side([])


def test_speed_is_printed(capsys: pytest.CaptureFixture[str]) -> None:
    """A benchmark that also runs as a test: it says how fast, and asks for nothing."""
    begin = time.process_time()
    compose("band", 10.0, 1, RATE)
    spent = time.process_time() - begin
    with capsys.disabled():
        print(f"\n10 s of band at 48 kHz: {spent:.2f} s of processor time, {10.0 / max(spent, 1e-9):.0f} x real time")
