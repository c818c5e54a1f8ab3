"""Other programs read the markers: ffprobe, mutagen and wavinfo, none of which wrote them."""

import errno
import os
import shutil
import struct
import subprocess
from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from tempfile import TemporaryDirectory

import mutagen
import numpy as np
import pytest
import soundfile
from fresh_python import printed_by
from hypothesis import given, settings
from hypothesis import strategies as st
from marked_files import FRAMES, KINDS, RATE, Told, told_by_ffprobe, write_marked
from mutagen.id3 import ID3
from mutagen.mp3 import MP3
from wavinfo import WavInfoReader

from throwcount.engine.scheduling.scheduler import Chapter
from throwcount.sounds.errors import FileError
from throwcount.sounds.files import chapters as marked
from throwcount.sounds.files.audio_files import file_format
from throwcount.sounds.files.chapters import (
    LARGEST,
    fitting,
    marker_bytes,
    marker_chunks,
    one_line,
    write_markers,
)

TITLE = "Evening act"
CHAPTERS = (
    Chapter(0.0, 0.125, "ready", "ready"),
    Chapter(0.125, 0.25, "531"),
    Chapter(0.25, 0.375, "531 to 51", "bridge"),
    Chapter(0.375, 0.5005, "Dusche — 三つ"),
    Chapter(0.5005, 0.625, "run-out", "run-out"),
)
MILLISECOND = 0.001
"""Comments and ID3 tags give times in thousandths of a second."""


def chapters_of(count: int, seconds: float = FRAMES / RATE) -> list[Chapter]:
    edges = [seconds * index / count for index in range(count + 1)]
    pairs = pairwise(edges)
    return [Chapter(start, end, f"part {number}") for number, (start, end) in enumerate(pairs, 1)]


def named(titles: list[str]) -> list[Chapter]:
    made = chapters_of(len(titles)) if titles else []
    return [replace(chapter, title=title) for chapter, title in zip(made, titles, strict=True)]


def told_by_libraries(path: Path, kind: str) -> tuple[str, list[Told]]:
    """Return the title and the chapters as mutagen or wavinfo read them."""
    if kind in {"wav", "rf64"}:
        return told_by_wavinfo(path)
    if kind == "mp3":
        # Frames without any text are left out by mutagen, and so is a tag without frames.
        tags = MP3(path).tags or ID3()
        return str(tags.get("TIT2", "")), [
            (chap.start_time / 1000, str(chap.sub_frames.get("TIT2", "")))
            for chap in tags.getall("CHAP")
        ]
    fields = mutagen.File(path).tags
    starts = [
        (name, value) for name, value in fields if name.startswith("CHAPTER") and "NAME" not in name
    ]
    assert [name for name, _ in starts] == [f"CHAPTER{n:03}" for n in range(1, len(starts) + 1)]
    return "".join(fields.get("TITLE", [])), [
        (seconds(value), fields[f"{name}NAME"][0]) for name, value in starts
    ]


def told_by_wavinfo(path: Path) -> tuple[str, list[Told]]:
    info = WavInfoReader(str(path), info_encoding="utf-8")
    title = info.info.title if info.info and info.info.title else ""
    labels = {label.name: label.text for label in info.cues.labels} if info.cues else {}
    points = info.cues.cues if info.cues else []
    assert all(point.position == point.sample_offset for point in points)
    return title, [(point.position / RATE, labels[point.name]) for point in points]


def seconds(text: str) -> float:
    hours, minutes, rest = text.split(":")
    return int(hours) * 3600 + int(minutes) * 60 + float(rest)


def agree(told: list[Told], chapters: list[Chapter]) -> None:
    assert [title for _, title in told] == [one_line(each.title) for each in chapters]
    starts = np.array([start for start, _ in told])
    assert np.all(np.abs(starts - [each.start for each in chapters]) <= MILLISECOND / 2 + 1e-9)


@pytest.mark.parametrize("kind", KINDS)
def test_ffprobe_finds_title_and_chapters(
    tmp_path: Path, kind: str, require: Callable[[object, str], None]
) -> None:
    require(shutil.which("ffprobe"), "no ffprobe on this machine")
    title, told = told_by_ffprobe(write_marked(tmp_path, kind, TITLE, CHAPTERS))
    assert title == TITLE
    agree(told, list(CHAPTERS))


@pytest.mark.parametrize("kind", KINDS)
def test_other_libraries_find_title_and_chapters(tmp_path: Path, kind: str) -> None:
    title, told = told_by_libraries(write_marked(tmp_path, kind, TITLE, CHAPTERS), kind)
    assert title == TITLE
    agree(told, list(CHAPTERS))


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize(
    ("title", "chapters"), [("", CHAPTERS), (TITLE, ()), ("", CHAPTERS[:1])], ids=str
)
def test_either_may_be_missing(
    tmp_path: Path, kind: str, title: str, chapters: tuple[Chapter, ...]
) -> None:
    found, told = told_by_libraries(write_marked(tmp_path, kind, title, chapters), kind)
    assert found == title
    agree(told, list(chapters))


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("count", [1, 5, 300, 998, 999])
def test_the_sound_stays_as_it_is(tmp_path: Path, kind: str, count: int) -> None:
    plain = write_marked(tmp_path, kind, "", ())
    path = write_marked(tmp_path, kind, TITLE, chapters_of(count))
    sound, _ = soundfile.read(path, dtype="int16")
    assert np.array_equal(sound, soundfile.read(plain, dtype="int16")[0])
    assert len(sound) == FRAMES
    assert soundfile.info(path).format == soundfile.info(plain).format
    agree(told_by_libraries(path, kind)[1], chapters_of(count))


@pytest.mark.parametrize("kind", KINDS)
def test_another_decoder_hears_the_same(
    tmp_path: Path, kind: str, require: Callable[[object, str], None]
) -> None:
    require(shutil.which("ffmpeg"), "no ffmpeg on this machine")
    paths = [write_marked(tmp_path, kind, *with_) for with_ in (("", ()), (TITLE, CHAPTERS))]
    heard = [
        subprocess.run(
            ["ffmpeg", "-v", "error", "-err_detect", "explode", "-i", path, "-f", "md5", "-"],
            capture_output=True, text=True, check=True,
        )
        for path in paths
    ]  # fmt: skip
    assert [done.stderr for done in heard] == ["", ""]
    assert heard[0].stdout == heard[1].stdout


@pytest.mark.parametrize("kind", ["wav", "rf64", "mp3"])
def test_markers_stand_after_or_before_every_byte_of_a_plain_file(
    tmp_path: Path, kind: str
) -> None:
    plain = write_marked(tmp_path, kind, "", ()).read_bytes()
    found = write_marked(tmp_path, kind, TITLE, CHAPTERS).read_bytes()
    if kind == "mp3":
        assert found.endswith(plain)
    else:
        size = 8 if kind == "wav" else 28  # the size of the whole, which is larger now
        assert found[size : len(plain)] == plain[size:]


@pytest.mark.parametrize("kind", KINDS)
def test_without_markers_not_a_byte_changes(tmp_path: Path, kind: str) -> None:
    path = write_marked(tmp_path, kind, "", ())
    before = path.read_bytes()
    write_markers(path, soundfile.info(path).format, " \n", (), RATE)
    assert path.read_bytes() == before


# Every title there may be


TITLES = st.text(st.characters(), max_size=40)


@pytest.mark.parametrize("kind", KINDS)
@given(title=TITLES, names=st.lists(TITLES, max_size=6))
@settings(max_examples=40)
def test_any_title_comes_back_on_one_line(kind: str, title: str, names: list[str]) -> None:
    chapters = named(names)
    with TemporaryDirectory() as folder:
        path = write_marked(Path(folder), kind, title, chapters)
        assert soundfile.info(path).frames == FRAMES
        found, told = told_by_libraries(path, kind)
    assert found == one_line(title)
    agree(told, chapters)


@pytest.mark.parametrize("kind", KINDS)
def test_a_title_of_no_end_is_cut(tmp_path: Path, kind: str) -> None:
    long = "five three one " * 100_000
    path = write_marked(tmp_path, kind, long, [Chapter(0, 0.5, long)])
    title, told = told_by_libraries(path, kind)
    assert title == told[0][1] == long[: marked.LONGEST_TITLE]


# Very many chapters, very long files


def test_where_not_all_fit_bridges_go_first() -> None:
    parts = [Chapter(2 * n, 2 * n + 1, f"part {n}") for n in range(1200)]
    bridges = [Chapter(2 * n + 1, 2 * n + 2, f"to {n + 1}", "bridge") for n in range(1200)]
    both = [each for pair in zip(parts, bridges, strict=True) for each in pair]
    assert fitting("FLAC", both[:999]) == both[:999]
    assert fitting("OGG", both[:1400]) == parts[:700]
    assert fitting("FLAC", both) == parts[:999]
    assert fitting("WAV", both) == fitting("RF64", both) == fitting("MP3", both) == both


def test_a_table_of_contents_has_tables_where_there_are_too_many_chapters(tmp_path: Path) -> None:
    # ID3v2 Chapter Frame Addendum: the entries of a table are counted in one byte, one table is at
    # the top level, and a table may be an entry of another.
    for count, sizes in [(255, [255]), (256, [2, 255, 1]), (600, [3, 255, 255, 90])]:
        path = write_marked(tmp_path, "mp3", "", chapters_of(count))
        tags = MP3(path).tags
        tables = tags.getall("CTOC")
        assert [len(table.child_element_ids) for table in tables] == sizes
        assert [int(table.flags) for table in tables] == [3] + [1] * (len(sizes) - 1)
        named = [name for table in tables for name in table.child_element_ids]
        assert sorted([*named, tables[0].element_id]) == sorted(
            [table.element_id for table in tables]
            + [chap.element_id for chap in tags.getall("CHAP")]
        )


def test_markers_count_where_a_file_becomes_too_long_for_wav() -> None:
    frames = 2**30 - 2000
    assert file_format(Path("a.wav"), frames)[0] == "WAV"
    longer = 2**32 - marker_bytes(TITLE, chapters_of(1000), RATE)
    assert file_format(Path("a.wav"), frames, longer)[0] == "RF64"


@pytest.mark.parametrize(("limit", "form"), [(-1, "RF64"), (0, "RF64"), (1, "WAV")])
def test_a_file_that_is_too_long_with_its_markers_is_rf64(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, limit: int, form: str
) -> None:
    needed = FRAMES * 4 + 4096 + marker_bytes(TITLE, CHAPTERS, RATE)
    monkeypatch.setattr("marked_files.WAV_LIMIT", needed + limit - 1)
    path = write_marked(tmp_path, "wav", TITLE, CHAPTERS)
    assert soundfile.info(path).format == form


# What goes wrong


def test_a_disk_that_is_full_before_the_markers_are_written_is_told(tmp_path: Path) -> None:
    # A limit on the size of files acts as a full disk does; this one is that of the bare sound.
    code = f"""
        import resource, signal, sys
        sys.path.insert(0, {str(Path(__file__).parents[2] / "helpers")!r})
        from pathlib import Path
        from marked_files import write_marked
        from throwcount.engine.scheduling.scheduler import Chapter
        from throwcount.sounds.errors import FileError

        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        folder = Path({str(tmp_path)!r})
        plain = write_marked(folder, "wav", "", ()).stat().st_size
        resource.setrlimit(resource.RLIMIT_FSIZE, (plain, plain))
        try:
            write_marked(folder, "wav", "title", [Chapter(0, 1, "part")])
        except FileError as error:
            print(error)
        """
    assert "cannot be written. The disk is full" in printed_by(code)
    assert [each.name for each in tmp_path.iterdir()] == ["wav-plain.wav"]


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize(
    "failure", [KeyboardInterrupt(), OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))], ids=repr
)
def test_what_breaks_off_leaves_the_old_file_as_it_was(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, kind: str, failure: BaseException
) -> None:
    def breaks_off(*arguments: object) -> None:
        write_markers(*arguments)
        raise failure

    path = write_marked(tmp_path, kind, TITLE, CHAPTERS[:1])
    before = path.read_bytes()
    monkeypatch.setattr("throwcount.sounds.files.audio_files.write_markers", breaks_off)
    told = FileError if isinstance(failure, OSError) else type(failure)
    with pytest.raises(told):
        write_marked(tmp_path, kind, TITLE, CHAPTERS)
    assert path.read_bytes() == before
    assert list(tmp_path.iterdir()) == [path]


def test_the_chunks_of_a_file_add_up(tmp_path: Path) -> None:
    # Titles of odd and even lengths: a chunk of odd length is padded with a byte not counted in it.
    names = ["", "a", "ab", "abc", "ü", "abcde"]
    data = write_marked(tmp_path, "wav", "odd", named(names)).read_bytes()
    assert struct.unpack_from("<4sI4s", data) == (b"RIFF", len(data) - 8, b"WAVE")
    names_found, at = [], 12
    while at < len(data):
        name, size = struct.unpack_from("<4sI", data, at)
        names_found.append(name)
        at += 8 + size + size % 2
    assert at == len(data)
    assert names_found == [b"fmt ", b"data", b"LIST", b"cue ", b"LIST"]


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ("531", "531"),
        ("", ""),
        ("  under   the leg ", "under the leg"),
        ("two\nlines", "two lines"),
        ("a\r\nb\tc\vd\fe", "a b c d e"),
        ("ends\0here", "ends here"),
        ("a\u2028b\u2029c\x85d", "a b c d"),
        ("half \ud800", "half"),
        ("Überwurf — 三つ", "Überwurf — 三つ"),
        # One sign of several, held together by a character of no width.
        ("🤹\u200d♀️", "🤹\u200d♀️"),
    ],
)
def test_a_text_becomes_one_line(text: str, line: str) -> None:
    assert one_line(text) == line


@given(st.text(st.characters()))
def test_whatever_it_is_it_is_one_line_that_can_be_written(text: str) -> None:
    line = one_line(text)
    assert line.splitlines() in ([line], [])
    assert line == line.strip()
    assert "\0" not in line
    assert line.encode().decode() == line
    assert one_line(line) == line


DAY = LARGEST / RATE
"""Seconds to the last frame that a cue point can name: 24.9 hours at 48 kHz."""


@pytest.mark.parametrize("kind", ["wav", "rf64"])
def test_every_label_has_the_length_of_its_chapter(tmp_path: Path, kind: str) -> None:
    chapters = [Chapter(0, 0.25, "531"), Chapter(0.25, 0.26, "a bridge"), Chapter(0.26, 0.5, "51")]
    cues = WavInfoReader(str(write_marked(tmp_path, kind, "", chapters))).cues
    assert [point.position for point in cues.cues] == [0, 12_000, 12_480]
    assert [each.length for each in cues.ranges] == [12_000, 480, 11_520]
    assert {(each.purpose, each.codepage) for each in cues.ranges} == {("rgn ", 65_001)}
    assert [each.name for each in cues.ranges] == [point.name for point in cues.cues] == [1, 2, 3]


def test_what_begins_beyond_the_last_frame_that_has_a_number_is_left_out() -> None:
    last = Chapter(DAY, DAY + 10, "last")
    beyond = Chapter(DAY + 1, DAY + 10, "beyond")
    assert b"last\0" in marker_chunks("", [last], RATE)
    assert marker_chunks("", [last, beyond], RATE) == marker_chunks("", [last], RATE)
    assert marker_chunks("", [beyond], RATE) == b""
    whole = Chapter(0, 2 * DAY, "whole")
    assert LARGEST.to_bytes(4, "little") in marker_chunks("", [whole], RATE)
