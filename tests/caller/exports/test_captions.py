"""Captions, as webvtt-py and ffmpeg read them, against the timeline they were made from."""

import json
import re
import shutil
import subprocess
from collections.abc import Callable, Iterator
from dataclasses import replace
from html import unescape
from itertools import pairwise
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
import webvtt
from acts import Act, act, one_pattern
from hypothesis import given, settings
from hypothesis import strategies as st

from throwcount.caller.exports.captions import Caption, captions, captions_format, write_captions
from throwcount.engine.scheduling.scheduler import Chapter
from throwcount.engine.timing.tempo import steady
from throwcount.engine.timing.timeline import Beat, Cue, Timeline, notation
from throwcount.sounds.errors import FileError
from throwcount.sounds.files.chapters import one_line

READABLE = 2.0
"""Seconds: a caption of a few words is read in less."""


MILLISECOND = 0.001
HUNDREDTH = 0.01
"""What WebVTT and LRC can tell apart, in seconds."""


def exported(folder: Path, ending: str, shown: Act) -> Path:
    path = folder / f"act{ending}"
    write_captions(path, shown.timeline, shown.chapters, shown.title, overwrite=True)
    return path


def made(shown: Act) -> list[Caption]:
    return list(captions(shown.timeline, shown.chapters, shown.title))


def texts(caption: Caption) -> list[str]:
    return [" ".join(word.text for word in line.words) for line in caption.lines]


def plain(timeline: Timeline, title: str = "") -> Act:
    return Act(timeline, (), title)


# What is shown


def test_a_caption_shows_part_throws_and_what_is_next() -> None:
    shown = [texts(caption) for caption in made(act())]
    assert shown[:3] == [
        ["Evening act", "Next: 531"],
        ["five three one"],
        ["count-in: • • • •", "531, under the leg: 5 3 1 5 3 1 5 3 1", "Next: bow"],
    ]
    assert ["531, under the leg: 5 3 1 5 3 1 5 3 1", "Next: bow"] in shown
    # The cue call stands in place of what is next, from the caption in which it is said.
    assert shown.count(["531, under the leg: 5 3 1 5 3 1 5 3 1 5 3 1", "next bow"]) == 1
    # What is too short to be read alone opens the next caption.
    assert ["531 to 51: 3", "last catches: • •", "bow", "Next: pairs"] in shown
    assert ["bow", "ten seconds", "Next: pairs"] in shown
    assert ["count-in: • • • •", "pairs: (4,2x) (2x,4) (4,2x) (2x,4)", "Next: pause"] in shown
    assert shown[-1] == ["last catches: • •"]
    assert not any("Next" in line for caption in shown[-3:] for line in caption)


def test_what_a_voice_says_is_told_apart() -> None:
    said = [
        texts(replace(caption, lines=(line,)))[0]
        for caption in made(act())
        for line in caption.lines
        if line.said
    ]
    assert said == ["five three one", "next bow", "ten seconds", "next pairs"]


def test_captions_follow_each_other_without_gaps_to_the_end() -> None:
    shown = act()
    row = made(shown)
    assert row[0].start == 0.0
    assert all(before.end == after.start for before, after in pairwise(row))
    assert row[-1].end == shown.timeline.seconds


@pytest.mark.parametrize("pattern", ["3", "531", "(4,2x)*", "[33]33", "7441", "97531"])
@pytest.mark.parametrize("tempo", [60, 150, 260, 600])
def test_captions_can_be_read_and_begin_with_a_cycle(pattern: str, tempo: float) -> None:
    timeline = one_pattern(pattern, 180, steady(tempo))
    opening = {beat.time for beat in timeline if beat.cycle is None or beat.cycle_beat == 0}
    row = made(plain(timeline))
    assert all(caption.end - caption.start >= READABLE for caption in row[:-1])
    assert all(caption.start in opening for caption in row)
    longest = max(16 * 60 / tempo, 60 / tempo * 5 + 2 * READABLE)
    assert all(caption.end - caption.start <= longest + 4 * 60 / tempo for caption in row)


def test_every_beat_that_is_thrown_or_heard_is_shown_once_when_it_is() -> None:
    shown = act()
    words = [
        (word.text, word.time)
        for caption in made(shown)
        for line in caption.lines
        for word in line.words
        if word.time is not None
    ]
    wanted = [(notation(beat) or ("•" if beat.click else ""), beat.time) for beat in shown.timeline]
    assert words == [(text, time) for text, time in wanted if text]


def test_a_rest_is_one_caption_until_something_is_said() -> None:
    rests = [caption for caption in made(act()) if texts(caption)[0] == "bow"]
    assert [texts(caption)[1:] for caption in rests] == [
        ["ten seconds", "Next: pairs"],
        ["Next: pairs"],
        ["next pairs"],
    ]


def test_without_title_and_cues_captions_begin_with_the_beats() -> None:
    timeline = one_pattern("531", 9, steady(200), ready=3.0)
    row = made(plain(timeline))
    assert row[0].start == next(iter(timeline)).time
    titled = made(plain(timeline, "Morning"))
    assert [texts(titled[0]), titled[0].start, titled[0].end] == [["Morning"], 0.0, row[0].start]


# WebVTT


def test_webvtt_passes_another_parser(tmp_path: Path) -> None:
    shown = act()
    found = webvtt.read(str(exported(tmp_path, ".vtt", shown)))
    row = made(shown)
    assert [unescape(each.text).split("\n") for each in found] == [texts(each) for each in row]
    starts = [each.start_in_seconds for each in found]
    assert [seconds(each.start) for each in found] == pytest.approx(
        [each.start for each in row], abs=MILLISECOND
    )
    assert starts == sorted(starts)
    assert all(seconds(each.start) < seconds(each.end) for each in found)


def test_chapters_are_comments_before_the_caption_they_begin_in(tmp_path: Path) -> None:
    shown = act()
    found = webvtt.read(str(exported(tmp_path, ".vtt", shown)))
    title, *before = found.header_comments
    every = [*before, *(comment for each in found for comment in each.comments)]
    comments = [comment.split(" ", 1) for comment in every]
    assert title == "Evening act"
    assert [title for _, title in comments] == [chapter.title for chapter in shown.chapters]
    assert [seconds(time) for time, _ in comments] == pytest.approx(
        [chapter.start for chapter in shown.chapters], abs=MILLISECOND
    )


def test_throws_light_up_on_their_beat(tmp_path: Path) -> None:
    # WebVTT: times within a caption rise, after its beginning and before its end.
    shown = act()
    text = exported(tmp_path, ".vtt", shown).read_text("utf-8")
    lit = []
    for caption in text.split("\n\n"):
        edges = re.search(r"^(\S+) --> (\S+)$", caption, re.MULTILINE)
        if edges is None:
            continue
        times = [seconds(time) for time in re.findall(r"<([\d:.]+)>", caption)]
        row = [seconds(edges[1]), *times, seconds(edges[2])]
        assert row == sorted(set(row))
        lit += times
    beats = [beat for beat in shown.timeline if beat.click]
    first = {caption.start for caption in made(shown)}
    wanted = [beat.time for beat in beats if beat.time not in first]
    assert lit == pytest.approx(wanted, abs=MILLISECOND / 2 + 1e-9)


@pytest.mark.parametrize("ending", [".vtt", ".lrc"])
def test_ffmpeg_reads_times_and_texts(
    tmp_path: Path, ending: str, require: Callable[[object, str], None]
) -> None:
    require(shutil.which("ffprobe") and shutil.which("ffmpeg"), "no ffmpeg on this machine")
    shown = act()
    path = exported(tmp_path, ending, shown)
    asked = ("ffprobe", "-v", "warning", "-of", "json", "-show_packets", path)
    told = subprocess.run(asked, capture_output=True, check=True)
    assert told.stderr == b""
    packets = json.loads(told.stdout)["packets"]
    row = made(shown)
    step = MILLISECOND if ending == ".vtt" else HUNDREDTH
    assert [float(each["pts_time"]) for each in packets][: len(row)] == pytest.approx(
        [each.start for each in row], abs=step
    )
    made_srt = ("ffmpeg", "-v", "warning", "-i", path, tmp_path / "act.srt")
    done = subprocess.run(made_srt, capture_output=True, check=True)
    assert done.stderr == b""
    blocks = (tmp_path / "act.srt").read_text("utf-8").strip().split("\n\n")
    found = [re.sub("</?b>", "", block).split("\n")[2:] for block in blocks]
    if ending == ".vtt":
        assert found[: len(row)] == [texts(each) for each in row]
    else:
        bare = ["".join(lines).removeprefix("\N{NO-BREAK SPACE}") for lines in found]
        assert bare[: len(row)] == [" | ".join(texts(each)) for each in row]


@pytest.mark.parametrize(
    ("title", "written"),
    [
        ("a < b & c > d", "a &lt; b &amp; c &gt; d"),
        ("00:00:01.000 --> 00:00:02.000", "00:00:01.000 --&gt; 00:00:02.000"),
        ("<00:00:01.000>", "&lt;00:00:01.000&gt;"),
        ("&lt;", "&amp;lt;"),
        ("two\n\nlines\r\nor three", "two lines or three"),
        ("WEBVTT", "WEBVTT"),
        ("NOTE not a comment", "NOTE not a comment"),
    ],
)
def test_texts_are_taken_for_nothing_else(tmp_path: Path, title: str, written: str) -> None:
    shown = Act(one_pattern("531", 9, steady(200)), (Chapter(0.0, 9.0, title),), title)
    path = exported(tmp_path, ".vtt", shown)
    found = webvtt.read(str(path))
    assert found[0].raw_text == written
    assert unescape(found[0].text) == one_line(title)
    assert len(found) == len(made(shown))
    comments = path.read_text("utf-8").split("\n\n")[1:3]
    assert [comment.count("-->") for comment in comments] == [0, 0]


def test_what_is_over_at_once_is_not_written(tmp_path: Path) -> None:
    timeline = one_pattern("531", 9, steady(200))
    at_once = replace(timeline, cues=(Cue(0.0001, "now"), Cue(0.0002, "then")))
    found = webvtt.read(str(exported(tmp_path, ".vtt", plain(at_once, "title"))))
    assert next(each.text for each in found) == "then"
    both = replace(timeline, cues=(Cue(0.0, "now"), Cue(0.0, "then")))
    assert texts(made(plain(both, "title"))[0]) == ["title", "now", "then"]


# LRC


LINE = re.compile(r"\[(\d{2,}):(\d\d)\.(\d\d)\](.*)")


def lrc_lines(path: Path) -> tuple[str, list[tuple[float, str]]]:
    named, *lines = path.read_text("utf-8").split("\n")[:-1]
    parsed = [LINE.fullmatch(line) for line in lines]
    assert all(parsed)
    return named, [(int(m[1]) * 60 + int(m[2]) + int(m[3]) / 100, m[4]) for m in parsed if m]


def test_lrc_has_a_line_for_each_caption_and_one_at_the_end(tmp_path: Path) -> None:
    shown = act()
    named, lines = lrc_lines(exported(tmp_path, ".lrc", shown))
    row = made(shown)
    assert named == "[ti:Evening act]"
    assert [text.lstrip("\N{NO-BREAK SPACE}") for _, text in lines] == [
        *(" | ".join(texts(caption)) for caption in row),
        "",
    ]
    ends = [caption.start for caption in row] + [row[-1].end]
    assert [time for time, _ in lines] == pytest.approx(ends, abs=HUNDREDTH / 2 + 1e-9)


def test_lrc_counts_minutes_beyond_the_hour(tmp_path: Path) -> None:
    timeline = one_pattern("3", 3, steady(100), ready=7000.0)
    _, lines = lrc_lines(exported(tmp_path, ".lrc", plain(timeline)))
    assert exported(tmp_path, ".lrc", plain(timeline)).read_text().splitlines()[1][:7] == "[116:40"
    assert lines[0][0] == pytest.approx(7000.0)


@pytest.mark.parametrize(
    ("title", "line"),
    [
        ("[33]33", "\N{NO-BREAK SPACE}[33]33"),
        ("[01:02.03]now", "(01:02.03]now"),
        ("at [1:2] of [ab]", "at (1:2] of [ab]"),
        ("plain [x]", "plain [x]"),
    ],
)
def test_a_text_is_not_taken_for_a_tag(tmp_path: Path, title: str, line: str) -> None:
    shown = plain(one_pattern("531", 9, steady(200)), title)
    named, lines = lrc_lines(exported(tmp_path, ".lrc", shown))
    assert lines[0] == (0.0, line)
    assert (named.count("["), named.count("]")) == (1, 1)


# Any text whatever


TEXTS = st.text(st.characters(), max_size=30)
TRICKY = st.lists(
    st.sampled_from(["-->", "<", ">", "&", "&amp;", "\n", "\r", "[", "]", "1:2", "x"])
)
ANY = TEXTS | TRICKY.map("".join)


@given(titles=st.tuples(*[ANY] * 5), cues=st.tuples(*[ANY] * 3), title=ANY)
@settings(max_examples=60)
def test_any_text_stays_a_text(titles: tuple[str, ...], cues: tuple[str, ...], title: str) -> None:
    shown = act(titles, cues, title)
    row = made(shown)
    assert all(line for caption in row for line in texts(caption))
    with TemporaryDirectory() as folder:
        found = webvtt.read(str(exported(Path(folder), ".vtt", shown)))
        _, lines = lrc_lines(exported(Path(folder), ".lrc", shown))
    assert [unescape(each.text).split("\n") for each in found] == [texts(each) for each in row]
    assert [seconds(each.start) for each in found] == pytest.approx(
        [each.start for each in row], abs=MILLISECOND / 2 + 1e-9
    )
    assert len(lines) == len(row) + 1
    for (_, text), caption in zip(lines, row, strict=False):
        assert not text.startswith("[")
        assert not LINE.search(text)
        assert text.replace("(", "[").lstrip("\N{NO-BREAK SPACE}") == " | ".join(
            texts(caption)
        ).replace("(", "[").lstrip("\N{NO-BREAK SPACE}")


# Files


@pytest.mark.parametrize("name", ["act", "act.srt", "act.vtt.txt", ".vtt"])
def test_a_name_that_is_not_of_captions_is_told(tmp_path: Path, name: str) -> None:
    with pytest.raises(FileError, match=r"no name for captions; let it end in \.vtt for WebVTT or"):
        write_captions(tmp_path / name, act().timeline, (), "", overwrite=True)
    assert list(tmp_path.iterdir()) == []


def test_endings_may_be_in_capital_letters() -> None:
    assert captions_format(Path("A.VTT")) is captions_format(Path("a.vtt"))
    assert captions_format(Path("A.Lrc")) is captions_format(Path("a.lrc"))


@pytest.mark.parametrize("ending", [".vtt", ".lrc"])
def test_a_file_is_replaced_only_if_asked(tmp_path: Path, ending: str) -> None:
    path = tmp_path / f"act{ending}"
    path.write_bytes(b"mine")
    with pytest.raises(FileError, match="file of that name already"):
        write_captions(path, act().timeline, (), "", overwrite=False)
    assert path.read_bytes() == b"mine"
    write_captions(path, act().timeline, (), "", overwrite=True)
    assert path.read_bytes() != b"mine"


def test_beats_are_walked_and_not_kept(tmp_path: Path) -> None:
    # A caption is written when its bars are over, and so long before the last beat is asked for.
    path = tmp_path / "act.vtt"
    sizes = []

    def beats() -> Iterator[Beat]:
        for beat in one_pattern("531", 3000, steady(240)):
            unfinished = next(tmp_path.glob(".throwcount-*"))
            sizes.append(unfinished.stat().st_size)
            yield beat

    write_captions(path, Timeline(beats, seconds=800.0), (), "", overwrite=False)
    assert sizes[1500] > path.stat().st_size / 3


def seconds(text: str) -> float:
    hours, minutes, rest = text.split(":")
    return int(hours) * 3600 + int(minutes) * 60 + float(rest)
