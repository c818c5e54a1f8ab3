"""Takes that are recorded: whole and exact, or not there."""

from pathlib import Path

import numpy as np
import pytest
import soundfile

from throwcount.sounds.errors import FileError
from throwcount.sounds.listening.take import TakeDestination, TakeFile, check_take

RATE = 44_100
SOUND = np.linspace(-1, 1, 1000, dtype=np.float32)
STEP = 1 / 32768


@pytest.mark.parametrize("ending", ["wav", "flac", "WAV"])
def test_every_sample_is_kept(ending: str, tmp_path: Path) -> None:
    path = tmp_path / f"take.{ending}"
    take = TakeFile(TakeDestination(path), RATE)
    take.write(SOUND[:300])
    take.write(SOUND[300:])
    assert not path.exists()
    take.close()
    samples, rate = soundfile.read(path, dtype="float32")
    assert rate == RATE
    assert samples.shape == (1000,)
    assert np.abs(samples - SOUND).max() <= STEP
    assert list(tmp_path.iterdir()) == [path]


@pytest.mark.parametrize("ending", ["ogg", "mp3"])
def test_other_formats_hold_as_much(ending: str, tmp_path: Path) -> None:
    path = tmp_path / f"take.{ending}"
    take = TakeFile(TakeDestination(path), RATE)
    for _ in range(100):
        take.write(SOUND)
    take.close()
    assert soundfile.info(path).frames == pytest.approx(100_000, abs=2500)


@pytest.mark.parametrize("ending", ["wav", "flac"])
def test_what_cannot_be_finished_stays_under_another_plain_name(
    ending: str, tmp_path: Path
) -> None:
    path = tmp_path / f"take.{ending}"
    (tmp_path / f"take-unfinished.{ending}").write_text("of another time")
    take = TakeFile(TakeDestination(path), RATE)
    take.write(SOUND)
    path.write_text("came meanwhile")
    with pytest.raises(FileError, match="already"):
        take.close()
    assert path.read_text() == "came meanwhile"
    assert soundfile.info(tmp_path / f"take-unfinished1.{ending}").frames == 1000


def test_a_temporary_take_that_cannot_be_finished_leaves_nothing(tmp_path: Path) -> None:
    take = TakeFile(TakeDestination(tmp_path / "take.wav", temporary=True), RATE)
    with pytest.raises(ValueError, match="dimension"):
        take.write(np.zeros((2, 2, 2), np.float32))
    assert list(tmp_path.iterdir()) == []


def test_a_wav_file_that_is_full_is_kept_and_told(tmp_path: Path) -> None:
    path = tmp_path / "take.wav"
    take = TakeFile(TakeDestination(path), RATE, wav_limit=4096 + 2 * 2500)
    take.write(SOUND)
    take.write(SOUND)
    with pytest.raises(FileError, match="FLAC"):
        take.write(SOUND)
    assert soundfile.info(path).frames == 2000


@pytest.mark.parametrize(
    ("name", "fragment"),
    [("take.xyz", "no sound format"), ("take", "no ending"), ("there.wav", "already"),
     ("nowhere/take.wav", "no such folder")],
)  # fmt: skip
def test_what_cannot_be_kept_is_told_first(name: str, fragment: str, tmp_path: Path) -> None:
    (tmp_path / "there.wav").write_text("older")
    with pytest.raises(FileError, match=fragment):
        check_take(TakeDestination(tmp_path / name))
    with pytest.raises(FileError, match=fragment):
        TakeFile(TakeDestination(tmp_path / name), RATE)
    assert (tmp_path / "there.wav").read_text() == "older"


def test_an_older_file_is_replaced_where_that_is_wished(tmp_path: Path) -> None:
    path = tmp_path / "take.wav"
    path.write_text("older")
    take = TakeFile(TakeDestination(path, overwrite=True), RATE)
    take.write(SOUND)
    take.close()
    assert soundfile.info(path).frames == 1000
