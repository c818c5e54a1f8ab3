import os
import sys
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import soundfile

from throwcount.sounds.errors import SoundError, TakeError
from throwcount.sounds.files.decoders import regrouped, resampled
from throwcount.sounds.listening.take import Overload, open_take
from throwcount.sounds.samples import RATE, Mono

HIGHEST_RATE = 1_000_000
"""Samples a second: no recorder for sound has more, so the header is wrong."""

LOWEST_RATE = 4_000
"""Samples a second: phones use 8,000 and more, and with less a catch sounds like any thump."""


POSIX = pytest.mark.skipif(sys.platform == "win32", reason="permissions and pipes are POSIX's")
FORMATS = ("wav", "flac", "ogg", "mp3")
TONE = 1000.0
SECONDS = 2.0

LOSSY_DELAY_SECONDS = 0.06
"""How far MP3 may shift what it holds: a coder and a decoder delay, in frames of 1152."""


def tone(rate: int, seconds: float = SECONDS, amplitude: float = 0.25) -> Mono:
    return (amplitude * np.sin(2 * np.pi * TONE * np.arange(round(seconds * rate)) / rate)).astype(
        np.float32
    )


def whole(path: Path, size: int = 1000) -> Mono:
    with open_take(path) as take:
        return np.concatenate(list(take.blocks(size)))


def noisy_tone(rate: int) -> Mono:
    """Return what fills several pages of every format."""
    noise = np.random.default_rng(0).normal(0.0, 0.1, round(SECONDS * rate))
    return tone(rate) + noise.astype(np.float32)


def open_files() -> int:
    return len(list(Path("/dev/fd").iterdir()))


def strength_at(frequency: float, sound: Mono) -> float:
    """Return the amplitude of a tone in the middle of a sound at `RATE`."""
    middle = sound[len(sound) // 4 : len(sound) // 4 + RATE // 2]
    turns = np.exp(-2j * np.pi * frequency * np.arange(len(middle)) / RATE)
    return float(2 * abs(np.mean(middle * turns)))


def test_a_take_whose_header_tells_no_length(tmp_path: Path) -> None:
    """As a recorder leaves it that was cut off: 0 samples in all, RFC 9639, section 8.2."""
    path = tmp_path / "take.flac"
    soundfile.write(path, tone(RATE), RATE)
    coded = bytearray(path.read_bytes())
    coded[21] &= 0xF0
    coded[22:26] = bytes(4)
    path.write_bytes(coded)
    with open_take(path) as take:
        assert take.seconds is None
        assert sum(len(block) for block in take.blocks(1000)) == SECONDS * RATE
        assert take.warning is None


@pytest.mark.parametrize("size", [1, 7, 1000, 100_000])
def test_a_take_at_the_listening_rate_is_handed_out_sample_for_sample(
    tmp_path: Path, size: int
) -> None:
    samples = np.arange(-2000, 2000, dtype=np.float32) / 32_768
    soundfile.write(tmp_path / "take.wav", samples, RATE)
    with open_take(tmp_path / "take.wav") as take:
        blocks = list(take.blocks(size))
        assert take.seconds == len(samples) / RATE
    assert all(len(block) == size for block in blocks[:-1])
    assert 0 < len(blocks[-1]) <= size
    assert all(block.dtype == np.float32 and block.ndim == 1 for block in blocks)
    assert np.concatenate(blocks).tolist() == samples.tolist()


def test_channels_are_averaged(tmp_path: Path) -> None:
    samples = np.array([[0.5, 0.25, -0.25, 0.0], [1.0, -1.0, 0.0, 0.5]]) / 2
    soundfile.write(tmp_path / "take.wav", samples, RATE, subtype="FLOAT")
    assert whole(tmp_path / "take.wav").tolist() == [0.0625, 0.0625]


@pytest.mark.parametrize("ending", FORMATS)
@pytest.mark.parametrize("rate", [8_000, 44_100, 48_000])
def test_every_format_and_rate_comes_out_as_the_same_sound(
    tmp_path: Path, ending: str, rate: int
) -> None:
    path = tmp_path / f"take.{ending}"
    soundfile.write(path, np.column_stack([tone(rate)] * 2), rate)
    sound = whole(path)
    assert len(sound) / RATE == pytest.approx(SECONDS, abs=LOSSY_DELAY_SECONDS)
    assert strength_at(TONE, sound) == pytest.approx(0.25, abs=0.01)
    assert np.sqrt(np.mean(sound**2)) == pytest.approx(0.25 / np.sqrt(2), rel=0.04)


@pytest.mark.parametrize("rate", [LOWEST_RATE, 11_025, 44_100, 48_000, 96_000])
def test_resampling_keeps_every_moment_in_its_place(rate: int) -> None:
    """Against soxr's answer for the whole at once, and the tone itself."""
    pieces = np.array_split(tone(rate), 37)
    sound = np.concatenate(list(resampled(pieces, rate)))
    middle = slice(RATE // 2, RATE)
    assert np.abs(sound[middle] - tone(RATE)[middle]).max() < 1e-3


@pytest.mark.parametrize("bad", [np.nan, np.inf, -np.inf])
def test_values_that_are_no_numbers_are_silence(tmp_path: Path, bad: float) -> None:
    samples = tone(RATE)
    samples[100:200] = bad
    soundfile.write(tmp_path / "take.wav", samples, RATE, subtype="FLOAT")
    sound = whole(tmp_path / "take.wav")
    assert sound[100:200].tolist() == [0.0] * 100
    assert np.isfinite(sound).all()


def test_a_take_can_be_read_again_and_twice_at_once(tmp_path: Path) -> None:
    soundfile.write(tmp_path / "take.flac", tone(RATE), RATE)
    with open_take(tmp_path / "take.flac") as take:
        first, second = take.blocks(500), take.blocks(500)
        pairs = list(zip(first, second, strict=True))
        again = list(take.blocks(500))
    assert all(np.array_equal(one, other) for one, other in pairs)
    assert np.array_equal(np.concatenate(again), np.concatenate([one for one, _ in pairs]))


@POSIX
def test_no_file_stays_open_after_the_context(tmp_path: Path) -> None:
    soundfile.write(tmp_path / "take.wav", tone(RATE), RATE)
    before = open_files()
    with open_take(tmp_path / "take.wav") as take:
        reading = take.blocks(10)
        next(reading)
        assert open_files() > before
    assert open_files() == before
    assert list(reading) == []


@pytest.mark.parametrize("ending", FORMATS)
def test_a_take_of_one_sample_is_read(tmp_path: Path, ending: str) -> None:
    path = tmp_path / f"take.{ending}"
    soundfile.write(path, np.array([0.5]), 48_000)
    assert 1 <= len(whole(path)) <= LOSSY_DELAY_SECONDS * RATE


def test_a_silent_and_a_clipped_take_are_read_as_they_are(tmp_path: Path) -> None:
    soundfile.write(tmp_path / "silent.wav", np.zeros(500), RATE)
    soundfile.write(tmp_path / "clipped.wav", 20 * tone(RATE), RATE)
    assert whole(tmp_path / "silent.wav").tolist() == [0.0] * 500
    clipped = whole(tmp_path / "clipped.wav")
    assert 0.99 < np.abs(clipped).max() <= 1.0
    assert np.mean(np.abs(clipped) > 0.99) > 0.5


def test_a_warning_tells_where_a_take_breaks_off(tmp_path: Path) -> None:
    path = tmp_path / "take.flac"
    noise = 0.1 * np.random.default_rng(0).standard_normal(4 * RATE)
    soundfile.write(path, noise, RATE)
    path.write_bytes(path.read_bytes()[: path.stat().st_size // 2])
    with open_take(path) as take:
        assert take.seconds == 4.0
        sound = np.concatenate(list(take.blocks(1000)))
        assert "breaks off after 1.7 of 4.0 s" in str(take.warning)
    assert len(sound) / RATE == pytest.approx(2.0, abs=0.5)
    assert np.abs(sound - noise[: len(sound)]).max() < 1e-4


@pytest.mark.parametrize("ending", FORMATS)
@pytest.mark.parametrize("damage", ["half", "overwritten"])
def test_what_comes_before_damage_is_read(tmp_path: Path, ending: str, damage: str) -> None:
    path = tmp_path / f"take.{ending}"
    soundfile.write(path, np.column_stack([noisy_tone(48_000)] * 2), 48_000)
    content = bytearray(path.read_bytes())
    half = len(content) // 2
    if damage == "half":
        del content[half:]
    else:
        content[half : half + 300] = np.random.default_rng(1).bytes(300)
    path.write_bytes(content)
    sound = whole(path)
    assert SECONDS / 3 < len(sound) / RATE < SECONDS + LOSSY_DELAY_SECONDS
    assert strength_at(TONE, sound[: len(sound) // 2 + RATE // 4]) == pytest.approx(0.25, abs=0.02)


@pytest.mark.parametrize("ending", FORMATS)
def test_damage_is_not_reported_on_the_screen_by_libraries(
    tmp_path: Path, ending: str, capfd: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / f"take.{ending}"
    soundfile.write(path, noisy_tone(48_000), 48_000)
    content = path.read_bytes()
    path.write_bytes(content[: len(content) // 2] + bytes(500))
    whole(path)
    assert capfd.readouterr() == ("", "")


def nothing(path: Path) -> None:
    path.write_bytes(b"")


def words(path: Path) -> None:
    path.write_text("no sound at all, only words\n" * 50, "utf-8")


def noise_bytes(path: Path) -> None:
    path.write_bytes(np.random.default_rng(2).bytes(20_000))


def no_frames(path: Path) -> None:
    soundfile.write(path, np.zeros(0), RATE, format="WAV")


def cut_header(path: Path) -> None:
    soundfile.write(path, tone(RATE), RATE, format="OGG")
    path.write_bytes(path.read_bytes()[:60])


def slow(path: Path) -> None:
    soundfile.write(path, np.zeros(100), LOWEST_RATE - 1, format="WAV")


def fast(path: Path) -> None:
    soundfile.write(path, np.zeros(100), HIGHEST_RATE + 1, format="WAV")


@pytest.mark.parametrize("name", ["take.wav", "take.mp3", "take.m4a", "take"])
@pytest.mark.parametrize(
    ("write", "told"),
    [
        (Path.mkdir, "it is a folder"),
        (nothing, "the file is empty"),
        (words, "damaged, or it is not a recording"),
        (noise_bytes, "damaged, or it is not a recording"),
        (cut_header, "damaged, or it is not a recording"),
        (lambda _: None, "there is no such file"),
    ],
)
def test_what_is_no_take_is_told_in_a_sentence(
    tmp_path: Path, name: str, write: Callable[[Path], object], told: str
) -> None:
    write(tmp_path / name)
    with pytest.raises(TakeError, match=told) as problem:
        whole(tmp_path / name)
    assert str(tmp_path / name) in str(problem.value)
    assert isinstance(problem.value, SoundError)


@pytest.mark.parametrize(
    ("write", "told"),
    [
        (no_frames, "holds no sound"),
        (slow, f"has {LOWEST_RATE - 1} samples a second; catches are found in"),
        (fast, f"has {HIGHEST_RATE + 1} samples a second; catches are found in"),
    ],
)
def test_a_file_without_usable_sound_is_told_in_a_sentence(
    tmp_path: Path, write: Callable[[Path], object], told: str
) -> None:
    write(tmp_path / "take.wav")
    with pytest.raises(TakeError, match=told):
        whole(tmp_path / "take.wav")


@POSIX
def test_a_pipe_is_not_waited_for(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "take.wav")
    with pytest.raises(TakeError, match="it is a pipe, not a file"):
        whole(tmp_path / "take.wav")


@POSIX
@pytest.mark.skipif(os.geteuid() == 0, reason="root may read everything")
def test_a_take_that_may_not_be_read_is_told(tmp_path: Path) -> None:
    soundfile.write(tmp_path / "take.wav", tone(RATE), RATE)
    (tmp_path / "take.wav").chmod(0)
    with pytest.raises(TakeError, match="no permission to read it"):
        whole(tmp_path / "take.wav")


def test_a_take_that_has_gone_is_told(tmp_path: Path) -> None:
    path = tmp_path / "take.wav"
    soundfile.write(path, tone(RATE), RATE)
    with open_take(path) as take:
        path.unlink()
        with pytest.raises(TakeError, match="has gone or changed"):
            list(take.blocks(100))


def test_an_error_of_whoever_reads_is_left_as_it_is(tmp_path: Path) -> None:
    soundfile.write(tmp_path / "take.wav", tone(RATE), RATE)
    with pytest.raises(OSError, match="elsewhere"), open_take(tmp_path / "take.wav"):
        raise OSError("elsewhere")


@pytest.mark.parametrize(
    ("lengths", "size", "expected"),
    [
        ([], 3, []),
        ([0, 0], 3, []),
        ([3], 3, [3]),
        ([1, 1, 1, 1], 3, [3, 1]),
        ([7, 0, 2], 3, [3, 3, 3]),
        ([2], 3, [2]),
    ],
)
def test_pieces_are_regrouped(lengths: list[int], size: int, expected: list[int]) -> None:
    whole_sound = np.arange(sum(lengths), dtype=np.float32)
    pieces = np.split(whole_sound, np.cumsum(lengths)[:-1]) if lengths else []
    blocks = list(regrouped(pieces, size))
    assert [len(block) for block in blocks] == expected
    assert np.concatenate([*blocks, whole_sound[:0]]).tolist() == whole_sound.tolist()


def suppressed(seconds: float, highest: int, between: float) -> Mono:
    """Return bursts every half a second, up to so many Hz, and noise so many dB lower between."""
    random = np.random.default_rng(4)
    noise = np.fft.rfft(random.normal(size=round(seconds * RATE)))
    noise[np.fft.rfftfreq(round(seconds * RATE), 1 / RATE) > highest] = 0.0
    level = np.where(np.arange(round(seconds * RATE)) % (RATE // 2) < RATE // 20, 1.0, 0.0)
    sound = np.fft.irfft(noise) * (level + 10 ** (between / 20))
    return (sound / np.abs(sound).max() / 2).astype(np.float32)


@pytest.mark.parametrize(
    ("highest", "between", "is_suppressed"),
    [(7_000, -60, True), (12_000, -60, False), (7_000, -30, False), (7_000, -200, False)],
)
def test_suppressed_noise_is_known_by_its_depth_and_by_missing_treble(
    highest: int, between: float, is_suppressed: bool
) -> None:
    overload = Overload()
    for seconds in (10.0, 1.0):
        sound = suppressed(seconds, highest, between)
        blocks = (sound[start : start + 4_800] for start in range(0, len(sound), 4_800))
        assert sum(map(len, overload.watched(blocks))) == len(sound)
        assert overload.is_suppressed == is_suppressed
        assert not Overload().is_suppressed
