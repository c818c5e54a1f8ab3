"""Clips on disk: bit for bit, shared, bounded, and never in the way."""

import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from throwcount.sounds.samples import Clip
from throwcount.sounds.voices.speech_clips import SUFFIX, ClipCache, ClipKey

KEY = ClipKey("espeak", "gmw/en-us", "five", 200)
CLIP = Clip(np.array([[0.5], [-0.25], [1 / 3], [1e-30]], dtype=np.float32), 22050, 2)


def same(clip: Clip | None, other: Clip) -> bool:
    return (
        clip is not None
        and (clip.rate, clip.centre) == (other.rate, other.centre)
        and clip.samples.dtype == other.samples.dtype
        and np.array_equal(clip.samples, other.samples)
    )


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return tmp_path / "not" / "made" / "yet"


def test_a_clip_comes_back_bit_for_bit_in_another_process(folder: Path) -> None:
    ClipCache(folder).store(KEY, CLIP)
    assert same(ClipCache(folder).load(KEY), CLIP)
    assert [path.suffix for path in folder.iterdir()] == [SUFFIX]


def test_what_was_not_stored_is_absent(folder: Path) -> None:
    assert ClipCache(folder).load(KEY) is None


@pytest.mark.parametrize(
    "other",
    [
        ClipKey("nsss", "gmw/en-us", "five", 200),
        ClipKey("espeak", "gmw/en", "five", 200),
        ClipKey("espeak", "gmw/en-us", "Five", 200),
        ClipKey("espeak", "gmw/en-us", "five", 260),
        ClipKey("espeak", "gmw/en-usf", "ive", 200),
        ClipKey("espeak", "gmw/en-us", "fünf \udcff", 200),
    ],
)
def test_another_key_is_another_clip(folder: Path, other: ClipKey) -> None:
    cache = ClipCache(folder)
    cache.store(KEY, CLIP)
    assert cache.load(other) is None
    cache.store(other, Clip(CLIP.samples[::-1], 48000, 1))
    assert same(cache.load(KEY), CLIP)


def test_other_processing_is_another_clip(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    ClipCache(folder).store(KEY, CLIP)
    monkeypatch.setattr("throwcount.sounds.voices.speech_clips.PROCESSING", 999)
    assert ClipCache(folder).load(KEY) is None


def test_a_file_with_any_byte_missing_or_wrong_is_absent(folder: Path) -> None:
    cache = ClipCache(folder)
    cache.store(KEY, CLIP)
    path = folder / KEY.file_name
    whole = path.read_bytes()
    for length in range(len(whole)):
        path.write_bytes(whole[:length])
        assert cache.load(KEY) is None
    for at in range(len(whole)):
        path.write_bytes(whole[:at] + bytes([whole[at] ^ 1]) + whole[at + 1 :])
        assert cache.load(KEY) is None
    cache.store(KEY, CLIP)
    assert same(cache.load(KEY), CLIP)


def test_where_no_folder_can_be_made_memory_serves(tmp_path: Path) -> None:
    blocked = tmp_path / "file"
    blocked.write_text("in the way")
    cache = ClipCache(blocked / "folder")
    cache.store(KEY, CLIP)
    assert same(cache.load(KEY), CLIP)
    assert same(ClipCache(blocked / "folder").load(KEY), CLIP) is False


@pytest.mark.parametrize("error", [OSError(28, "No space left on device"), PermissionError()])
def test_where_the_disk_is_full_memory_serves_and_no_half_file_stays(
    folder: Path, monkeypatch: pytest.MonkeyPatch, error: OSError
) -> None:
    def fail(_path: Path, _target: Path) -> None:
        raise error

    monkeypatch.setattr(Path, "replace", fail)
    cache = ClipCache(folder)
    cache.store(KEY, CLIP)
    assert same(cache.load(KEY), CLIP)
    assert list(folder.iterdir()) == []


def test_a_folder_that_can_only_be_read_serves_what_it_holds(folder: Path) -> None:
    ClipCache(folder).store(KEY, CLIP)
    other = ClipKey("espeak", "gmw/en-us", "six", 200)
    folder.chmod(0o500)
    try:
        cache = ClipCache(folder)
        cache.store(other, CLIP)
        assert same(cache.load(KEY), CLIP)
        assert same(cache.load(other), CLIP)
    finally:
        folder.chmod(0o700)


def aged(folder: Path, name: str, age: int, size: int = 1000) -> Path:
    path = folder / name
    path.write_bytes(bytes(size))
    os.utime(path, (1e9 - age, 1e9 - age))
    return path


def test_the_oldest_files_make_room_and_no_file_of_others_does(tmp_path: Path) -> None:
    foreign = aged(tmp_path, "thesis.txt", 100, size=10**6)
    clips = [aged(tmp_path, f"{age}{SUFFIX}", age) for age in range(40)]
    cache = ClipCache(tmp_path, largest=20_000)
    cache.store(KEY, CLIP)
    assert foreign.exists()
    assert [path.exists() for path in clips] == [age < 15 for age in range(40)]
    assert same(cache.load(KEY), CLIP)


def test_a_folder_within_its_bounds_is_left_alone(tmp_path: Path) -> None:
    clips = [aged(tmp_path, f"{age}{SUFFIX}", age) for age in range(20)]
    ClipCache(tmp_path, largest=20_000).store(KEY, CLIP)
    assert all(path.exists() for path in clips)


WRITER = """
import sys
from pathlib import Path
import numpy as np
from throwcount.sounds.samples import Clip
from throwcount.sounds.voices.speech_clips import ClipCache, ClipKey
cache = ClipCache(Path(sys.argv[1]))
for turn in range(100):
    key = ClipKey("espeak", "", "five", 200)
    cache.store(key, Clip(np.full((20_000, 1), float(sys.argv[2]), np.float32), 22050, 7))
    clip = cache.load(key)
    assert clip is not None and len(set(clip.samples[:, 0].tolist())) == 1
"""


def test_processes_that_write_the_same_clip_never_meet_a_half_one(tmp_path: Path) -> None:
    root = Path(__file__).parents[3]
    writers = [
        subprocess.Popen([sys.executable, "-c", WRITER, tmp_path, number], cwd=root)
        for number in ("0.25", "0.5")
    ]
    assert [writer.wait(60) for writer in writers] == [0, 0]
    assert [path.suffix for path in tmp_path.iterdir()] == [SUFFIX]
