import os
import shutil
import struct
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import numpy as np
import pytest
import soundfile
from fresh_python import printed_by

from throwcount.engine.timing.timeline import Click
from throwcount.sounds.errors import FileError
from throwcount.sounds.files.audio_files import (
    EXACT_ENDINGS,
    WAV_LIMIT,
    as_int16,
    file_format,
    write_audio,
)
from throwcount.sounds.mixing.clicks import click_clip
from throwcount.sounds.mixing.mixer import Mixer, Placement
from throwcount.sounds.samples import Samples

RATE = 48_000
ONSETS = (12_345, 54_321)
FRAMES = 70_001
ENDINGS = (".wav", ".flac", ".ogg", ".mp3")
POSIX = pytest.mark.skipif(sys.platform == "win32", reason="permissions and limits are POSIX's")


def mixer() -> Mixer:
    click = click_clip(Click("throw", "right", value=5), RATE)
    return Mixer([Placement(onset, click.samples) for onset in ONSETS], FRAMES)


def write(path: Path, **options: object) -> None:
    write_audio(path, mixer(), RATE, FRAMES, **options)


@pytest.mark.parametrize(
    ("value", "expected"),
    [(0.0, 0), (0.5, 16_384), (-0.5, -16_384), (-1.0, -32_768), (1.0, 32_767), (2.0, 32_767),
     (-2.0, -32_768), (0.4 / 32_768, 0), (0.6 / 32_768, 1), (-0.6 / 32_768, -1)],
)  # fmt: skip
def test_samples_are_rounded_to_the_nearest_and_held(value: float, expected: int) -> None:
    assert as_int16(np.full((1, 2), value, np.float32)).tolist() == [[expected, expected]]


@pytest.mark.parametrize("ending", [*ENDINGS, ".WAV", ".Flac"])
def test_a_file_has_the_format_of_its_ending(tmp_path: Path, ending: str) -> None:
    path = tmp_path / f"sound{ending}"
    write(path)
    info = soundfile.info(path)
    assert info.format == ending[1:].upper()
    assert (info.samplerate, info.channels, info.frames) == (RATE, 2, FRAMES)
    assert list(tmp_path.iterdir()) == [path]


@pytest.mark.parametrize("ending", sorted(EXACT_ENDINGS))
def test_exact_formats_keep_every_sample(tmp_path: Path, ending: str) -> None:
    path = tmp_path / f"sound{ending}"
    write(path)
    read, _ = soundfile.read(path, dtype="int16")
    assert np.array_equal(read, as_int16(mixer().read(FRAMES)))


@pytest.mark.parametrize("ending", ENDINGS)
def test_a_click_stands_where_it_was_put(tmp_path: Path, ending: str) -> None:
    path = tmp_path / f"sound{ending}"
    write(path)
    read, _ = soundfile.read(path)
    written = mixer().read(FRAMES)[:, 1]
    for onset in ONSETS:
        lags = range(-100, 101)
        click = written[onset : onset + 2000]
        alike = [click @ read[onset + lag : onset + lag + 2000, 1] for lag in lags]
        assert lags[int(np.argmax(alike))] == 0


def test_progress_is_told_in_frames(tmp_path: Path) -> None:
    told: list[int] = []
    write(tmp_path / "sound.wav", on_frames=told.append)
    assert sum(told) == FRAMES
    assert max(told) <= 16_384


def test_a_file_has_the_usual_permissions(tmp_path: Path) -> None:
    plain = tmp_path / "plain"
    plain.touch()
    write(tmp_path / "sound.wav")
    assert (tmp_path / "sound.wav").stat().st_mode == plain.stat().st_mode


# Long files


def chunks(path: Path) -> dict[bytes, tuple[int, bytes]]:
    """Return the chunks of a RIFF or RF64 file with their sizes; of `data` only the size."""
    found = {}
    with path.open("rb") as file:
        outer, size, kind = struct.unpack("<4sI4s", file.read(12))
        assert kind == b"WAVE"
        found[outer] = (size, b"")
        while head := file.read(8):
            name, size = struct.unpack("<4sI", head)
            if name == b"data":
                found[name] = (size, b"")
                break
            found[name] = (size, file.read(size + size % 2))
    return found


def test_a_short_file_is_plain_wav(tmp_path: Path) -> None:
    path = tmp_path / "sound.wav"
    write(path)
    found = chunks(path)
    assert found[b"RIFF"][0] == path.stat().st_size - 8
    assert found[b"data"][0] == FRAMES * 4


def test_a_long_file_is_rf64(tmp_path: Path) -> None:
    # Recommendation ITU-R BS.2088: the 32-bit sizes are FFFFFFFF, and the chunk 'ds64', first of
    # all, holds those of the file and of the data, and the number of frames, in 64 bits.
    path = tmp_path / "sound.wav"
    write(path, wav_limit=100_000)
    found = chunks(path)
    assert list(found)[:2] == [b"RF64", b"ds64"]
    assert found[b"RF64"][0] == found[b"data"][0] == 0xFFFFFFFF
    sizes = struct.unpack_from("<QQQ", found[b"ds64"][1])
    assert sizes == (path.stat().st_size - 8, FRAMES * 4, FRAMES)
    read, _ = soundfile.read(path, dtype="int16")
    assert np.array_equal(read, as_int16(mixer().read(FRAMES)))


def test_an_independent_reader_takes_rf64(
    tmp_path: Path, require: Callable[[object, str], None]
) -> None:
    require(shutil.which("ffprobe"), "no ffprobe on this machine")
    path = tmp_path / "sound.wav"
    write(path, wav_limit=100_000)
    asked = ("ffprobe", "-v", "error", "-show_entries", "stream=duration_ts", "-of", "csv=p=0")
    told = subprocess.run((*asked, path), capture_output=True, text=True, check=True)
    assert (told.stdout.strip(), told.stderr) == (str(FRAMES), "")


@pytest.mark.parametrize(
    ("name", "frames", "form"),
    [
        ("a.wav", 2**30 - 2_000, "WAV"),
        # With its header this would be more than 4 GiB: 6.2 hours at 48 kHz.
        ("a.wav", 2**30 - 1_000, "RF64"),
        ("a.wav", 2**33, "RF64"),
        ("a.flac", 2**33, "FLAC"),
    ],
)
def test_the_length_decides_beforehand(name: str, frames: int, form: str) -> None:
    assert file_format(Path(name), frames, WAV_LIMIT)[0] == form


# What goes wrong


class Interrupted:
    """Hands out some sound, then fails; does something before if asked to."""

    def __init__(self, failure: BaseException | None, before: Callable[[], object] = int) -> None:
        self._mixer = mixer()
        self._failure = failure
        self._before = before

    def read(self, count: int) -> Samples:
        if self._mixer.position > FRAMES // 2:
            self._before()
            if self._failure is not None:
                raise self._failure
        return self._mixer.read(count)


@pytest.mark.parametrize("ending", ENDINGS)
@pytest.mark.parametrize("failure", [KeyboardInterrupt(), MemoryError(), SystemExit(143)], ids=repr)
def test_an_interruption_leaves_nothing_behind(
    tmp_path: Path, failure: BaseException, ending: str
) -> None:
    with pytest.raises(type(failure)):
        write_audio(tmp_path / f"sound{ending}", Interrupted(failure), RATE, FRAMES)
    assert list(tmp_path.iterdir()) == []


def test_an_interruption_leaves_the_old_file_as_it_was(tmp_path: Path) -> None:
    path = tmp_path / "sound.wav"
    path.write_bytes(b"mine")
    with pytest.raises(KeyboardInterrupt):
        write_audio(path, Interrupted(KeyboardInterrupt()), RATE, FRAMES, overwrite=True)
    assert path.read_bytes() == b"mine"
    assert list(tmp_path.iterdir()) == [path]


def test_a_file_is_replaced_only_if_asked(tmp_path: Path) -> None:
    path = tmp_path / "sound.wav"
    path.write_bytes(b"mine")
    with pytest.raises(FileError, match="file of that name already; it was left as it is"):
        write(path)
    assert path.read_bytes() == b"mine"
    write(path, overwrite=True)
    assert soundfile.info(path).frames == FRAMES


def test_a_file_that_appears_meanwhile_is_not_replaced(tmp_path: Path) -> None:
    path = tmp_path / "sound.wav"
    source = Interrupted(None, before=lambda: path.write_bytes(b"mine"))
    with pytest.raises(FileError, match="file of that name already"):
        write_audio(path, source, RATE, FRAMES)
    assert path.read_bytes() == b"mine"
    assert list(tmp_path.iterdir()) == [path]


@POSIX
def test_a_link_is_followed(tmp_path: Path) -> None:
    (tmp_path / "elsewhere").mkdir()
    (tmp_path / "sound.wav").symlink_to(tmp_path / "elsewhere" / "real.wav")
    write(tmp_path / "sound.wav")
    assert (tmp_path / "sound.wav").is_symlink()
    assert soundfile.info(tmp_path / "elsewhere" / "real.wav").frames == FRAMES


@pytest.mark.parametrize(
    ("name", "sentence"),
    [
        ("sound.xyz", "has the ending '.xyz', which stands for no sound format known here; use"),
        ("sound", "has no ending, which stands for no sound format"),
        ("sound.", "stands for no sound format"),
        ("missing/sound.wav", "no such folder to put it in"),
        ("file/sound.wav", "is a file, not a folder"),
        ("folder.wav", "a folder of that name"),
        ("x" * 300 + ".wav", "name is too long"),
    ],
)
def test_what_cannot_be_written_is_told(tmp_path: Path, name: str, sentence: str) -> None:
    (tmp_path / "file").touch()
    (tmp_path / "folder.wav").mkdir()
    there = set(tmp_path.iterdir())
    with pytest.raises(FileError, match=sentence) as caught:
        write(tmp_path / name, overwrite=True)
    assert name in str(caught.value)
    assert set(tmp_path.iterdir()) == there


@POSIX
def test_a_folder_without_permission_is_told(tmp_path: Path) -> None:
    folder = tmp_path / "folder"
    folder.mkdir(mode=0o555)
    with as_nobody(), pytest.raises(FileError, match="no permission to write there"):
        write(folder / "sound.wav")
    assert list(folder.iterdir()) == []


@contextmanager
def as_nobody() -> Iterator[None]:
    """Give up the rights of an administrator for a while, who may write everywhere."""
    me = os.geteuid()
    if me == 0:
        os.seteuid(65_534)
    try:
        yield
    finally:
        os.seteuid(me)


def test_a_rate_that_the_format_does_not_know_is_told(tmp_path: Path) -> None:
    with pytest.raises(FileError, match="only supports sample rates of 8000"):
        write_audio(tmp_path / "sound.mp3", mixer(), 96_000, FRAMES)
    assert list(tmp_path.iterdir()) == []


def test_no_sound_at_all_is_told(tmp_path: Path) -> None:
    with pytest.raises(FileError, match="no sound to write"):
        write_audio(tmp_path / "sound.flac", Mixer([], 0), RATE, 0)
    assert list(tmp_path.iterdir()) == []


@POSIX
@pytest.mark.parametrize("ending", ENDINGS)
def test_a_full_disk_is_told_and_leaves_nothing(tmp_path: Path, ending: str) -> None:
    # A limit on the size of files acts as a full disk does: a write is cut short and then fails.
    path = tmp_path / f"sound{ending}"
    code = f"""
        import resource, signal
        from pathlib import Path
        import numpy as np
        from throwcount.sounds.files.audio_files import write_audio
        from throwcount.sounds.errors import FileError
        from throwcount.sounds.mixing.mixer import Mixer, Placement

        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (100_000, 100_000))
        noise = np.random.default_rng(1).uniform(-0.5, 0.5, (400_000, 2)).astype(np.float32)
        try:
            write_audio(Path({str(path)!r}), Mixer([Placement(0, noise)]), 48_000, len(noise))
        except FileError as error:
            print(error)
        """
    told = printed_by(code)
    assert told.startswith(f"{path} c")
    assert "The disk is full" in told
    assert list(tmp_path.iterdir()) == []
