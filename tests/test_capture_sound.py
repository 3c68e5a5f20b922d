"""One contract for every ``Sound``, and what only files have: formats, digests, the reader thread."""

import gc
import hashlib
import os
import threading
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import pytest
import soundfile

from runtrue.capture import Sound, open_sound, sound_from_array
from runtrue.errors import InputError, MissingFileError, RecordingError, SurroundingsError

pytestmark = pytest.mark.sound

RATE = 48_000
FRAMES = 100_003


def _samples(channels: int = 2, frames: int = FRAMES) -> npt.NDArray[np.float32]:
    """Samples that 16 bits hold exactly."""
    rng = np.random.default_rng(7)
    return (rng.integers(-20_000, 20_000, (frames, channels)) / 32_768.0).astype(np.float32)


def _readers() -> int:
    return sum(thread.name == "runtrue reader" for thread in threading.enumerate())


class SoundContract:
    """What holds for every sound; a subclass makes one from samples."""

    channels = 2

    @pytest.fixture
    def sound(self, tmp_path: Path) -> Sound:
        raise NotImplementedError

    @pytest.fixture
    def samples(self) -> npt.NDArray[np.float32]:
        return _samples(self.channels)

    def test_shape(self, sound: Sound) -> None:
        assert (sound.rate, sound.frames, sound.channels) == (RATE, FRAMES, self.channels)
        assert sound.duration == pytest.approx(FRAMES / RATE)
        assert sound.name
        assert sound.coding
        assert sound.cautions == ()

    @pytest.mark.parametrize("size", [997, 4096, 65_536, FRAMES - 1, FRAMES, 10 * FRAMES])
    def test_blocks_are_the_sound(self, sound: Sound, samples: npt.NDArray[np.float32], size: int) -> None:
        blocks = list(sound.blocks(size))
        assert {block.dtype for block in blocks} == {np.dtype(np.float32)}
        assert [len(block) for block in blocks[:-1]] == [size] * (len(blocks) - 1)
        np.testing.assert_array_equal(np.concatenate(blocks), samples)

    def test_tiny_blocks(self, sound: Sound, samples: npt.NDArray[np.float32]) -> None:
        blocks = list(sound.blocks(1, stop=50))
        assert [block.shape for block in blocks] == [(1, self.channels)] * 50
        np.testing.assert_array_equal(np.concatenate(blocks), samples[:50])

    @pytest.mark.parametrize(("start", "stop"), [(0, 10), (5, 70_000), (99_000, None), (FRAMES, None), (40, 40)])
    def test_a_stretch_of_blocks(
        self, sound: Sound, samples: npt.NDArray[np.float32], start: int, stop: int | None
    ) -> None:
        found = np.concatenate([np.zeros((0, self.channels), np.float32), *sound.blocks(3000, start=start, stop=stop)])
        np.testing.assert_array_equal(found, samples[start:stop])

    @pytest.mark.parametrize(("start", "n"), [(0, 1), (0, FRAMES), (12_345, 6789), (FRAMES - 5, 100), (FRAMES, 3)])
    def test_read(self, sound: Sound, samples: npt.NDArray[np.float32], start: int, n: int) -> None:
        np.testing.assert_array_equal(sound.read(start, n), samples[start : start + n])

    def test_read_beyond_the_end(self, sound: Sound) -> None:
        assert sound.read(2 * FRAMES, 10).shape == (0, self.channels)
        assert sound.read(10, 0).shape == (0, self.channels)

    def test_nothing_can_be_changed(self, sound: Sound) -> None:
        with pytest.raises((AttributeError, TypeError)):  # TypeError: a flaw of Python 3.11
            sound.rate = 96_000  # type: ignore[misc]
        for block in (next(iter(sound.blocks(100))), sound.read(0, 100)):
            with pytest.raises(ValueError, match="read-only"):
                block[0, 0] = 0.5

    @pytest.mark.parametrize("size", [0, -1])
    def test_refused_block_size(self, sound: Sound, size: int) -> None:
        with pytest.raises(InputError, match="block size must be 1 frame or more"):
            sound.blocks(size)

    def test_refused_stretch(self, sound: Sound) -> None:
        with pytest.raises(InputError, match="must lie in order within 0 to"):
            sound.blocks(100, start=5, stop=4)
        with pytest.raises(InputError, match="both must be 0 or more"):
            sound.read(-1, 10)

    def test_digest_is_stable(self, sound: Sound) -> None:
        first = sound.digest
        assert len(first) == 64
        list(sound.blocks(5000))
        assert sound.digest == first


class TestArray(SoundContract):
    @pytest.fixture
    def sound(self, tmp_path: Path) -> Sound:
        return sound_from_array(_samples(self.channels), RATE)

    def test_a_row_is_mono(self) -> None:
        assert sound_from_array(np.zeros(10), RATE).channels == 1

    def test_the_array_is_copied(self) -> None:
        array = np.zeros((10, 1), np.float32)
        sound = sound_from_array(array, RATE)
        array[:] = 1.0
        assert not sound.read(0, 10).any()

    def test_digest_depends_on_rate_and_shape(self) -> None:
        digests = {
            sound_from_array(np.zeros((4, 2)), RATE).digest,
            sound_from_array(np.zeros((4, 2)), 44_100).digest,
            sound_from_array(np.zeros((8, 1)), RATE).digest,
        }
        assert len(digests) == 3

    @pytest.mark.parametrize(
        ("array", "rate", "message"),
        [
            (np.zeros((0, 2)), RATE, "holds no sound"),
            (np.zeros((9, 3)), RATE, "has 3 channels; 1 .mono. or 2"),
            (np.zeros((9, 1)), 8000, "the sampling rate is 8000 Hz; 44100 to 192000 Hz"),
            (np.array([0.0, np.nan]), RATE, "sample 1 .0.000021 s. of channel 1 is no finite number"),
            (np.array([[0.0, -np.inf]]), RATE, "channel 2 is no finite number"),
        ],
    )
    def test_refused(self, array: npt.NDArray[np.float64], rate: int, message: str) -> None:
        with pytest.raises(RecordingError, match=message):
            sound_from_array(array, rate)

    def test_refused_dimensions(self) -> None:
        with pytest.raises(InputError, match="shape"):
            sound_from_array(np.zeros((2, 2, 2)), RATE)


class FileContract(SoundContract):
    suffix = "wav"
    container = "WAV"
    subtype = "PCM_24"
    words = "WAV, 24 bit"

    @pytest.fixture
    def path(self, tmp_path: Path) -> Path:
        path = tmp_path / f"side a.{self.suffix}"
        soundfile.write(path, _samples(self.channels), RATE, subtype=self.subtype, format=self.container)
        return path

    @pytest.fixture
    def sound(self, path: Path) -> Sound:  # type: ignore[override]
        return open_sound(path)

    def test_coding(self, sound: Sound) -> None:
        assert sound.coding == self.words

    def test_digest_is_that_of_the_file(self, path: Path) -> None:
        expected = hashlib.sha256(path.read_bytes()).hexdigest()
        assert open_sound(path).digest == expected
        passed = open_sound(path)
        list(passed.blocks(7001))
        assert passed._memo["digest"] == expected  # type: ignore[attr-defined]
        stretch = open_sound(path)
        list(stretch.blocks(7001, start=1))
        assert not stretch._memo  # type: ignore[attr-defined]


class TestWav24(FileContract):
    pass


class TestWav16Mono(FileContract):
    channels, subtype, words = 1, "PCM_16", "WAV, 16 bit"


class TestWavExtensible(FileContract):
    container, subtype, words = "WAVEX", "PCM_32", "WAV, 32 bit"


class TestWavFloat(FileContract):
    subtype, words = "FLOAT", "WAV, 32 bit float"


class TestRf64(FileContract):
    container, words = "RF64", "RF64, 24 bit"


class TestAiff(FileContract):
    suffix, container, words = "aiff", "AIFF", "AIFF, 24 bit"


class TestAiffFloatMono(FileContract):
    suffix, container, channels, subtype, words = "aif", "AIFF", 1, "DOUBLE", "AIFF, 64 bit float"


class TestFlac24(FileContract):
    suffix, container, words = "flac", "FLAC", "FLAC, 24 bit"


class TestFlac16Mono(FileContract):
    suffix, container, channels, subtype, words = "flac", "FLAC", 1, "PCM_16", "FLAC, 16 bit"


@pytest.fixture
def flac(tmp_path: Path) -> Path:
    path = tmp_path / "long.flac"
    soundfile.write(path, _samples(2, 600_000), RATE, subtype="PCM_16")
    return path


def test_rates_from_44_to_192_khz(tmp_path: Path) -> None:
    for rate in (44_100, 88_200, 96_000, 176_400, 192_000):
        path = tmp_path / f"{rate}.flac"
        soundfile.write(path, _samples(2, 50), rate)
        assert open_sound(path).rate == rate


def test_the_thread_ends_when_the_consumer_stops(flac: Path) -> None:
    blocks = open_sound(flac).blocks(1000)
    assert _readers() == 0
    next(blocks)
    assert _readers() == 1
    blocks.close()  # type: ignore[attr-defined]
    assert _readers() == 0


def test_the_thread_ends_when_the_consumer_raises(flac: Path) -> None:
    def work() -> None:
        for _ in open_sound(flac).blocks(1000):
            raise KeyError("on purpose")

    with pytest.raises(KeyError, match="on purpose"):
        work()
    gc.collect()
    assert _readers() == 0


def test_the_thread_ends_with_a_forgotten_generator(flac: Path) -> None:
    blocks: Any = open_sound(flac).blocks(1000)
    next(blocks)
    del blocks
    gc.collect()
    assert _readers() == 0


def test_two_passes_at_once(flac: Path) -> None:
    sound = open_sound(flac)
    for left, right in zip(sound.blocks(9000), sound.blocks(9000), strict=True):
        np.testing.assert_array_equal(left, right)
    assert _readers() == 0


def test_an_error_in_the_thread_reaches_the_consumer(flac: Path) -> None:
    whole = flac.read_bytes()
    flac.write_bytes(whole[: len(whole) // 2])
    sound = open_sound(flac)
    with pytest.raises(RecordingError, match=r"cannot be decoded after \d+\.\d+ s"):
        list(sound.blocks(4096))
    assert _readers() == 0


def test_a_file_that_changes_is_refused(flac: Path) -> None:
    sound = open_sound(flac)
    with flac.open("ab") as file:
        file.write(b"more")
    for use in (lambda: list(sound.blocks(4096)), lambda: sound.read(0, 10), lambda: sound.digest):
        with pytest.raises(SurroundingsError, match="changed while it was in use"):
            use()


def test_a_file_that_is_taken_away(flac: Path) -> None:
    sound = open_sound(flac)
    flac.unlink()
    with pytest.raises(MissingFileError, match="there is no such file any more"):
        list(sound.blocks(4096))
    assert _readers() == 0


def test_no_permission(flac: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: object, **__: object) -> None:
        raise PermissionError(13, "Permission denied", os.fspath(flac))

    monkeypatch.setattr(Path, "open", refuse)
    with pytest.raises(SurroundingsError, match=r"cannot be read \(Permission denied\)") as caught:
        open_sound(flac)
    assert caught.value.exit_code == 5


def test_a_length_never_filled_in_is_a_caution(tmp_path: Path) -> None:
    path = tmp_path / "streamed.wav"
    soundfile.write(path, _samples(2, 1000), RATE, subtype="PCM_16")
    data = bytearray(path.read_bytes())
    at = data.index(b"data")
    data[at + 4 : at + 8] = b"\xff\xff\xff\xff"
    path.write_bytes(data)
    sound = open_sound(path)
    assert sound.frames == 1000
    assert "does not state its length" in sound.cautions[0]
