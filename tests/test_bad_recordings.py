"""Whatever is given as a recording: it is read, or one line says what, where, what is allowed and what to do."""

import os
from pathlib import Path

import numpy as np
import pytest
import soundfile
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from runtrue.capture import open_sound
from runtrue.errors import MissingFileError, RecordingError, RuntrueError

pytestmark = pytest.mark.sound

RATE = 44_100


def _write(path: Path, *, rate: int = RATE, channels: int = 2, frames: int = 9000, subtype: str = "PCM_16") -> Path:
    rng = np.random.default_rng(5)
    soundfile.write(path, 0.1 * rng.standard_normal((frames, channels)), rate, subtype=subtype)
    return path


def _use(path: Path | str) -> None:
    sound = open_sound(path)
    for _ in sound.blocks(4096):
        pass
    assert len(sound.digest) == 64


def _refused(path: Path | str, kind: type[RuntrueError] = RecordingError) -> str:
    """Message of the refusal, held to the form every message has."""
    with pytest.raises(kind) as caught:
        _use(path)
    message = str(caught.value)
    assert caught.value.exit_code == 2
    assert "\n" not in message
    assert message.startswith("capture ")
    assert len(message) < 320 + len(os.fspath(path))
    assert ": " in message.split("; ", 1)[1]  # what is allowed, then what to do
    return message


def test_empty_file(tmp_path: Path) -> None:
    path = tmp_path / "a.wav"
    path.touch()
    message = _refused(path)
    assert "the file is empty (0 bytes)" in message
    assert "a.wav" in message


@pytest.mark.parametrize("name", ["text.wav", "text.flac", "text.aiff"])
def test_text_named_as_sound(tmp_path: Path, name: str) -> None:
    path = tmp_path / name
    path.write_text("Side A, take 3\n" * 100)
    assert "none of the formats that are judged" in _refused(path)


@pytest.mark.parametrize("share", [0.3, 0.9, 0.999])
@pytest.mark.parametrize("suffix", ["wav", "aiff", "flac", "rf64"])
def test_cut_short(tmp_path: Path, suffix: str, share: float) -> None:
    path = _write(tmp_path / f"a.{suffix}")
    whole = path.read_bytes()
    path.write_bytes(whole[: int(len(whole) * share)])
    message = _refused(path)
    assert "cut short" in message or "the sound ends at" in message
    if suffix != "flac":
        assert "its header promises" in message


@pytest.mark.parametrize("value", [np.nan, np.inf, -np.inf, 1e30])
@pytest.mark.parametrize("channel", [0, 1])
def test_no_finite_sample(tmp_path: Path, value: float, channel: int) -> None:
    samples = np.zeros((80_000, 2), np.float32)
    samples[66_150, channel] = value
    path = tmp_path / "a.wav"
    soundfile.write(path, samples, RATE, subtype="FLOAT")
    message = _refused(path)
    assert f"sample 66150 (1.500000 s) of channel {channel + 1} is" in message


@pytest.mark.parametrize("suffix", ["wav", "aiff"])
def test_zero_length(tmp_path: Path, suffix: str) -> None:
    assert "holds no sound" in _refused(_write(tmp_path / f"a.{suffix}", frames=0))


@pytest.mark.parametrize("rate", [8000, 32_000, 352_800])
def test_rate(tmp_path: Path, rate: int) -> None:
    message = _refused(_write(tmp_path / "a.wav", rate=rate, channels=1))
    assert f"the sampling rate is {rate} Hz; 44100 to 192000 Hz is judged" in message


def test_channels(tmp_path: Path) -> None:
    assert "has 6 channels" in _refused(_write(tmp_path / "a.wav", channels=6))


@pytest.mark.parametrize("subtype", ["PCM_U8", "ULAW", "IMA_ADPCM"])
def test_coding(tmp_path: Path, subtype: str) -> None:
    assert f"coded as {subtype}; 16, 24 or 32 bit" in _refused(_write(tmp_path / "a.wav", subtype=subtype))


def test_a_recorder_that_was_stopped(tmp_path: Path) -> None:
    path = _write(tmp_path / "a.wav")
    data = bytearray(path.read_bytes())
    at = data.index(b"data")
    data[at + 4 : at + 8] = bytes(4)
    path.write_bytes(data)
    assert "holds no sound although 36000 bytes follow" in _refused(path)


def test_flac_without_a_length(tmp_path: Path) -> None:
    path = _write(tmp_path / "a.flac")
    data = bytearray(path.read_bytes())
    data[21] &= 0xF0
    data[22:26] = bytes(4)
    path.write_bytes(data)
    assert "its header states no length" in _refused(path)


@pytest.mark.parametrize("name", ["none.wav", "no\nsuch\tside.wav", "\0", "folder/none.wav"])
def test_missing(tmp_path: Path, name: str) -> None:
    assert "there is no such file" in _refused(f"{tmp_path}/{name}", MissingFileError)


def test_a_file_as_a_folder(tmp_path: Path) -> None:
    assert "no such file" in _refused(_write(tmp_path / "a.wav") / "b.wav", MissingFileError)


def test_a_folder(tmp_path: Path) -> None:
    assert "is a folder" in _refused(tmp_path, MissingFileError)


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes on this system")
def test_a_pipe_does_not_hang(tmp_path: Path) -> None:
    path = tmp_path / "pipe.wav"
    os.mkfifo(path)
    assert "not a file on a disk" in _refused(path, MissingFileError)


def test_the_part_is_named(tmp_path: Path) -> None:
    with pytest.raises(MissingFileError, match=r"^reference .*none\.wav"):
        open_sound(tmp_path / "none.wav", what="reference")


# Fuzz: damaged headers and chance bytes are read or refused in one line; never another error, nothing on stderr.

SEEDS = (("a.wav", "PCM_16"), ("f.wav", "FLOAT"), ("a.aiff", "PCM_24"), ("a.flac", "PCM_16"), ("a.rf64", "PCM_24"))


@pytest.fixture(scope="module")
def files(tmp_path_factory: pytest.TempPathFactory) -> dict[str, bytes]:
    folder = tmp_path_factory.mktemp("seeds")
    return {n: _write(folder / n, frames=300, subtype=s).read_bytes() for n, s in SEEDS}


def _survives(path: Path, data: bytes) -> bool:
    path.write_bytes(data)
    refusal: RuntrueError | None = None
    try:
        _use(path)
    except RuntrueError as error:
        refusal = error
    if refusal is None:
        return True
    assert refusal.exit_code == 2
    assert "\n" not in str(refusal)
    assert str(refusal).startswith("capture ")
    return False


def test_every_header_byte(files: dict[str, bytes], tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    rng = np.random.default_rng(11)
    read = 0
    for name, whole in files.items():
        for at in range(90):
            data = bytearray(whole)
            data[at] = int(rng.choice([0, 255, data[at] ^ 1, data[at] ^ 128, rng.integers(256)]))
            read += _survives(tmp_path / name, bytes(data))
    assert 50 < read < 440
    assert capfd.readouterr().err == ""


def test_every_cut(files: dict[str, bytes], tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    for name, whole in files.items():
        for size in (*range(0, 120, 3), len(whole) - 1):
            assert not _survives(tmp_path / name, whole[:size])
    assert capfd.readouterr().err == ""


@st.composite
def _damage(draw: st.DrawFn) -> tuple[str, list[tuple[int, int]], int | None, bytes]:
    """A seed file, bytes to change in its head, where to cut it, what to add."""
    return (
        draw(st.sampled_from([name for name, _ in SEEDS])),
        draw(st.lists(st.tuples(st.integers(0, 159), st.integers(0, 255)), max_size=6)),
        draw(st.none() | st.integers(0, 2000)),
        draw(st.binary(max_size=20)),
    )


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(damage=_damage())
def test_any_damage(
    files: dict[str, bytes], tmp_path: Path, damage: tuple[str, list[tuple[int, int]], int | None, bytes]
) -> None:
    name, changes, cut, added = damage
    data = bytearray(files[name])
    for at, value in changes:
        data[at] = value
    _survives(tmp_path / name, bytes(data[:cut]) + added)


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    magic=st.sampled_from([b"", b"RIFF\xff\0\0\0WAVE", b"FORM\0\0\0\xffAIFF", b"FORM\0\0\0\xffAIFC", b"fLaC", b"ID3"]),
    rest=st.binary(max_size=200),
)
def test_chance_bytes(tmp_path: Path, magic: bytes, rest: bytes) -> None:
    _survives(tmp_path / "a.wav", magic + rest)
