"""What phones and cameras record, as ffmpeg makes it and as ffmpeg itself decodes it."""

import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import soundfile

from throwcount.sounds.errors import TakeError
from throwcount.sounds.listening.take import open_take
from throwcount.sounds.samples import RATE, Mono

Require = Callable[[object, str], None]

SECONDS = 4.0
CLICKS = (0.5, 1.25, 3.5)
SOURCE_RATE = 48_000
PICTURES = ("-f", "lavfi", "-i", f"testsrc=d={SECONDS}:s=64x64:r=10")

PRIMING_SECONDS = 0.045
"""How far a coder may shift sound in time, as AAC does by one or two frames of 1024."""


@pytest.fixture
def ffmpeg(require: Require) -> Callable[..., None]:
    program = shutil.which("ffmpeg")
    require(program, "no ffmpeg on this machine")

    def run(*arguments: object) -> None:
        command = [str(program), "-loglevel", "error", "-y", *map(str, arguments)]
        subprocess.run(command, check=True, capture_output=True)

    return run


@pytest.fixture
def clicking(tmp_path: Path) -> Path:
    """Give soft low noise, the same on both sides, with a loud click now and then."""
    noise = np.random.default_rng(3).standard_normal(round(SECONDS * SOURCE_RATE))
    sound = 0.01 * np.convolve(noise, np.hanning(24) / 3, "same")
    for time in CLICKS:
        start = round(time * SOURCE_RATE)
        sound[start : start + 240] += 0.5 * np.sin(np.arange(240) / 5)
    path = tmp_path / "clicking.wav"
    soundfile.write(path, np.column_stack([sound, sound]), SOURCE_RATE)
    return path


def whole(path: Path) -> tuple[Mono, str | None]:
    with open_take(path) as take:
        return np.concatenate(list(take.blocks(4096))), take.warning


def first_loud(sound: Mono) -> list[float]:
    """Return when it gets loud, in seconds, each time after being soft for a quarter second."""
    loud = np.flatnonzero(np.abs(sound) > 0.2) / RATE
    return [
        float(time) for time, gap in zip(loud, np.diff(loud, prepend=-1), strict=True) if gap > 0.25
    ]


@pytest.mark.parametrize(
    ("name", "coding"),
    [
        ("take.m4a", ["-c:a", "aac"]),
        ("take.mp4", [*PICTURES, "-c:a", "aac", "-c:v", "mpeg4", "-shortest"]),
        ("take.3gp", ["-c:a", "aac", "-ac", "1", "-ar", "16000"]),
        ("take.mov", ["-c:a", "pcm_s16be"]),
        ("take.mkv", ["-c:a", "pcm_u8"]),
        ("take.avi", ["-c:a", "pcm_f32le"]),
        ("take.webm", ["-c:a", "libopus", "-b:a", "96k"]),
        ("named-wrongly.wav", ["-c:a", "aac", "-f", "mp4"]),
    ],
)
def test_what_phones_record_is_read_as_ffmpeg_reads_it(
    tmp_path: Path, clicking: Path, ffmpeg: Callable[..., None], name: str, coding: list[str]
) -> None:
    path = tmp_path / name
    ffmpeg("-i", clicking, *coding, path)
    sound, warning = whole(path)
    decoded = tmp_path / "decoded.wav"
    ffmpeg("-i", path, "-vn", "-ar", RATE, "-c:a", "pcm_f32le", decoded)
    reference = soundfile.read(decoded, always_2d=True)[0].mean(axis=1)
    assert warning is None
    assert len(sound) == pytest.approx(len(reference), abs=PRIMING_SECONDS * RATE)
    length = min(len(sound), len(reference))
    difference = sound[:length] - reference[:length]
    assert np.sqrt(np.mean(difference**2)) < 0.05 * np.sqrt(np.mean(reference**2))
    assert first_loud(sound) == pytest.approx(CLICKS, abs=PRIMING_SECONDS)


def test_the_length_told_is_that_of_the_sound(
    tmp_path: Path, clicking: Path, ffmpeg: Callable[..., None]
) -> None:
    path = tmp_path / "take.m4a"
    ffmpeg("-i", clicking, "-c:a", "aac", path)
    with open_take(path) as take:
        assert take.seconds == pytest.approx(SECONDS, abs=0.05)


def test_a_video_without_sound_is_told(
    tmp_path: Path, ffmpeg: Callable[..., None], capfd: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "take.mp4"
    ffmpeg(*PICTURES, "-c:v", "mpeg4", path)
    with pytest.raises(TakeError, match=r"has no sound: it is a silent video"):
        whole(path)
    assert capfd.readouterr() == ("", "")


def test_a_recording_cut_before_its_index_is_told(
    tmp_path: Path, clicking: Path, ffmpeg: Callable[..., None]
) -> None:
    """Phones write the index of an MP4 last; without it nothing can be found in it."""
    path = tmp_path / "take.m4a"
    ffmpeg("-i", clicking, "-c:a", "aac", path)
    path.write_bytes(path.read_bytes()[: path.stat().st_size // 2])
    with pytest.raises(TakeError, match="damaged, or it is not a recording"):
        whole(path)


def test_a_recording_that_ends_early_is_read_as_far_as_it_goes(
    tmp_path: Path, clicking: Path, ffmpeg: Callable[..., None]
) -> None:
    path = tmp_path / "take.m4a"
    ffmpeg("-i", clicking, "-c:a", "aac", "-movflags", "+faststart", path)
    path.write_bytes(path.read_bytes()[: path.stat().st_size // 2])
    sound, warning = whole(path)
    assert 1.5 < len(sound) / RATE < 2.5
    assert first_loud(sound) == pytest.approx(CLICKS[:2], abs=PRIMING_SECONDS)
    assert f"breaks off after {len(sound) / RATE:.1f} of 4.0 s" in str(warning)


def test_what_is_damaged_in_the_middle_leaves_the_rest_in_its_place(
    tmp_path: Path, clicking: Path, ffmpeg: Callable[..., None]
) -> None:
    path = tmp_path / "take.m4a"
    ffmpeg("-i", clicking, "-c:a", "aac", "-movflags", "+faststart", path)
    content = bytearray(path.read_bytes())
    half = round(0.6 * len(content))
    content[half : half + len(content) // 4] = b"\xff" * (len(content) // 4)
    path.write_bytes(content)
    sound, warning = whole(path)
    assert len(sound) / RATE == pytest.approx(SECONDS, abs=PRIMING_SECONDS)
    assert first_loud(sound) == pytest.approx(CLICKS, abs=PRIMING_SECONDS)
    assert "s of the take" in str(warning)
    assert "count as silence" in str(warning)


def test_sound_missing_between_two_frames_is_silence(
    tmp_path: Path, clicking: Path, ffmpeg: Callable[..., None]
) -> None:
    path = tmp_path / "take.mkv"
    hole = "aselect='not(between(t,1.5,2.9))'"
    ffmpeg("-i", clicking, "-af", hole, "-c:a", "pcm_s16le", path)
    sound, warning = whole(path)
    assert first_loud(sound) == pytest.approx(CLICKS, abs=0.001)
    assert not sound[round(1.6 * RATE) : round(2.8 * RATE)].any()
    assert "1.4 s of the take" in str(warning)


def test_without_pyav_a_sentence_says_how_to_get_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "take.m4a"
    path.write_bytes(b"\0\0\0\x18ftypM4A " + bytes(100))
    monkeypatch.setitem(sys.modules, "av", None)
    with pytest.raises(TakeError, match=r"pip install '\.\[phone\]'") as problem:
        whole(path)
    assert str(path) in str(problem.value)


def test_without_pyav_what_libsndfile_knows_is_read(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    soundfile.write(tmp_path / "take.wav", np.zeros(100), RATE)
    monkeypatch.setitem(sys.modules, "av", None)
    sound, _ = whole(tmp_path / "take.wav")
    assert len(sound) == 100
