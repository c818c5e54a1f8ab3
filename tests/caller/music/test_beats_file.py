from pathlib import Path

import pytest

from caller.music.beats_file import beats_lines, write_beats
from sounds.errors import FileError


def test_a_beats_file_is_text_that_says_what_it_is(tmp_path: Path) -> None:
    write_beats(tmp_path / "beats.txt", [0.5, 1.00004, 61.25], "song.flac", overwrite=False)
    assert (tmp_path / "beats.txt").read_text("utf-8") == (
        "# song.flac\n# 3 beats, in seconds of the music\n0.5000\n1.0000\n61.2500\n"
    )
    with pytest.raises(FileError, match="already"):
        write_beats(tmp_path / "beats.txt", [1.0], "song.flac", overwrite=False)


def test_no_title_gets_out_of_its_comment() -> None:
    lines = list(beats_lines([1.0], "one\n2.0\r3.0"))
    assert [line for line in lines if not line.startswith("#")] == ["1.0000\n"]
