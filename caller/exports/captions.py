"""A timeline as captions: WebVTT for browsers and video players, LRC for music players.

Captions show the part, its throws as they come, and what is next. At quick tempos a cycle is over
before it can be read, so a caption holds as many whole cycles as last for two seconds. What is too
short for a caption of its own, such as the throws between two patterns, opens the next one.

In WebVTT (W3C Candidate Recommendation, 2019) each throw carries its time, and browsers dim what is
still to come, so throws light up one by one at any tempo. Chapters are comments. There is no style
block, as some players show nothing of a file that has one. LRC has no standard; by common practice
each line is a time, in hundredths of a second, and a text.
"""

import re
from bisect import bisect_left, bisect_right
from collections import deque
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from html import escape
from itertools import chain, groupby, pairwise
from operator import attrgetter, itemgetter
from pathlib import Path
from typing import Final, TypeAlias

from throwcount.caller.exports.events import Bar, bars
from throwcount.engine.scheduling.scheduler import Chapter
from throwcount.engine.timing.timeline import (
    COUNT_IN,
    RUN_OUT,
    Beat,
    Cue,
    Timeline,
    notation,
    own_manner,
)
from throwcount.sounds.errors import FileError
from throwcount.sounds.files.chapters import one_line
from throwcount.sounds.files.tags import clock_time, milliseconds
from throwcount.sounds.files.whole_files import write_text

READABLE: Final = 2.0
"""Seconds that a caption stays at least, if what it shows lasts as long."""

CLICK: Final = "•"
"""Stands for a click without a throw."""

OUTSIDE_PARTS: Final = {COUNT_IN: "count-in", RUN_OUT: "last catches"}
"""What is shown for beats that belong to no part."""

ANNOUNCED: Final = frozenset({"part", "rest"})
"""Kinds of chapters that are announced as next."""


@dataclass(frozen=True, slots=True)
class CaptionWord:
    """A word of a caption, on one line."""

    text: str
    time: float | None = None
    """When it becomes the current one, in seconds; None if it is current from the start."""


@dataclass(frozen=True, slots=True)
class CaptionLine:
    """A line of a caption."""

    words: tuple[CaptionWord, ...]
    said: bool = False
    """Whether a voice says it in place of the count."""


@dataclass(frozen=True, slots=True)
class Caption:
    """What is shown for some time. Times are in seconds from the first sample."""

    start: float
    end: float
    """When the next caption starts."""
    lines: tuple[CaptionLine, ...]
    """At least one line, and none empty."""
    chapters: tuple[Chapter, ...] = ()
    """Those that begin while it is shown."""


def captions(timeline: Timeline, chapters: Sequence[Chapter], title: str) -> Iterator[Caption]:
    """Yield the captions of a timeline that ends; the timeline is walked once and not kept.

    `chapters` are in order of time, and also tell what is next. `title` is shown at the beginning.
    """
    coming = _Coming(timeline.cues, chapters)
    groups = _legible(bars(timeline))
    first = next(groups)
    during = (_during(group, coming) for group in chain([first], groups))
    waiting = deque(chapters)
    for caption in _joined(chain(_before(first[0].start, title, coming), during)):
        begun = []
        while waiting and waiting[0].start < caption.end:
            begun.append(waiting.popleft())
        yield replace(caption, chapters=tuple(begun))


class _Coming:
    """The words and parts that are still to come."""

    def __init__(self, cues: Sequence[Cue], chapters: Sequence[Chapter]) -> None:
        self._other_cues = [cue for cue in cues if cue.change is None]
        self._changes = [(cue.change, cue) for cue in cues if cue.change is not None]
        self._chapters = [chapter for chapter in chapters if chapter.kind in ANNOUNCED]

    def other_cues(self, start: float, end: float) -> list[Cue]:
        """Return what is said from `start` until `end` that announces no change."""
        first = bisect_left(self._other_cues, start, key=lambda cue: cue.time)
        last = bisect_left(self._other_cues, end, key=lambda cue: cue.time)
        return self._other_cues[first:last]

    def next_part(self, time: float) -> Iterator[CaptionLine]:
        """Yield a line for the part or rest that begins next after `time`, if one does."""
        index = bisect_right(self._chapters, time, key=lambda chapter: chapter.start)
        for chapter in self._chapters[index : index + 1]:
            yield _text_line(f"Next: {chapter.title}")

    def change(self, beat: Beat, end: float) -> Iterator[CaptionLine]:
        """Yield what announces the next change after `beat`, if that is said before `end`."""
        index = bisect_right(self._changes, beat.beat, key=itemgetter(0))
        for _, cue in self._changes[index : index + 1]:
            if cue.time < end:
                yield _text_line(cue.text, said=True)


def _legible(row: Iterable[Bar]) -> Iterator[list[Bar]]:
    """Gather bars into groups that last long enough to be read, each of one part if possible."""
    waiting: list[Bar] = []
    for _, of_part in groupby(row, key=lambda bar: _name(bar.beats[0])):
        for group in _of_part(of_part):
            waiting += group
            if _stays(waiting):
                yield waiting
                waiting = []
    if waiting:
        yield waiting


def _of_part(row: Iterable[Bar]) -> Iterator[list[Bar]]:
    """Gather the bars of a part; a last group that is too short joins the one before."""
    before: list[Bar] = []
    held: list[Bar] = []
    for bar in row:
        if _stays(held):
            if before:
                yield before
            before, held = held, []
        held.append(bar)
    if before and _stays(held):
        yield before
        before = []
    yield before + held


def _stays(row: Sequence[Bar]) -> bool:
    """Return whether bars last long enough to be read."""
    return bool(row) and row[-1].end - row[0].start >= READABLE


def _before(until: float, title: str, coming: _Coming) -> Iterator[Caption]:
    """Yield the captions up to the first beat at `until`: the title, then what is said."""
    lines: dict[float, list[CaptionLine]] = {0.0: [_text_line(title), *coming.next_part(0.0)]}
    for cue in coming.other_cues(0.0, until):
        lines.setdefault(cue.time, []).append(_text_line(cue.text, said=True))
    for start, end in pairwise([*lines, until]):
        yield Caption(start, end, tuple(lines[start]))


def _during(group: Sequence[Bar], coming: _Coming) -> Caption:
    """Return the caption for some bars."""
    start, end, last = group[0].start, group[-1].end, group[-1].beats[-1]
    beats = (beat for bar in group for beat in bar.beats)
    thrown = [_thrown(name, of_part) for name, of_part in groupby(beats, key=_name)]
    said = [_text_line(cue.text, said=True) for cue in coming.other_cues(start, end)]
    ahead = list(coming.change(last, end)) or list(coming.next_part(last.time))
    return Caption(start, end, (*thrown, *said, *ahead))


def _joined(row: Iterable[Caption]) -> Iterator[Caption]:
    """Merge neighbouring captions that show the same, and leave out what shows nothing."""
    for _, group in groupby(row, key=attrgetter("lines")):
        first, *others = group
        lines = tuple(line for line in first.lines if any(word.text for word in line.words))
        if lines:
            yield Caption(first.start, others[-1].end if others else first.end, lines)


def _name(beat: Beat) -> str:
    """Return the name of the part that a beat belongs to, as it is shown."""
    if beat.cycle is None:
        return OUTSIDE_PARTS.get(beat.part, beat.part)
    return f"{beat.part}, {beat.how}" if beat.how else beat.part


def _thrown(name: str, beats: Iterable[Beat]) -> CaptionLine:
    """Return the line for the beats of a part."""
    texts = [(_sign(beat), beat.time) for beat in beats]
    words = tuple(CaptionWord(text, time) for text, time in texts if text)
    label = one_line(name) + (":" if words else "")
    return CaptionLine((CaptionWord(label), *words))


def _sign(beat: Beat) -> str:
    """Return what is shown for a beat: its throws, and how they are made if that is their own."""
    how = one_line(own_manner(beat, "left", "right"))
    sign = notation(beat) or (CLICK if beat.click else "")
    return f"{sign} ({how})" if how else sign


def _text_line(text: str, *, said: bool = False) -> CaptionLine:
    return CaptionLine((CaptionWord(one_line(text)),), said)


TIME_TAG: Final = re.compile(r"\[(?=\d+:)")
"""What a player could take for the beginning of a time within a text."""

NO_BREAK_SPACE: Final = "\N{NO-BREAK SPACE}"
"""Put before a bracket that opens a text, as in ``[33]1``, so that it is not read as a tag."""


def lrc(captions: Iterable[Caption], title: str) -> Iterator[str]:
    """Yield an LRC file in pieces; the lines of a caption stand side by side."""
    named = one_line(title).replace("[", "(").replace("]", ")")
    yield f"[ti:{named}]\n"
    end = 0.0
    for caption in captions:
        lines = (" ".join(word.text for word in line.words) for line in caption.lines)
        text = TIME_TAG.sub("(", " | ".join(lines))
        guard = NO_BREAK_SPACE if text.startswith("[") else ""
        yield f"[{_time(caption.start)}]{guard}{text}\n"
        end = caption.end
    yield f"[{_time(end)}]\n"


def _time(seconds: float) -> str:
    """Return a time in minutes, seconds and hundredths; LRC has no hours."""
    whole, hundredths = divmod(round(seconds * 100), 100)
    minutes, second = divmod(whole, 60)
    return f"{minutes:02}:{second:02}.{hundredths:02}"


ARROW: Final = "-->"
"""Stands between two times, and must not stand in a comment."""


def webvtt(captions: Iterable[Caption], title: str) -> Iterator[str]:
    """Yield a WebVTT file in pieces."""
    yield f"WEBVTT\n\nNOTE {_comment(title)}\n"
    for caption in captions:
        for chapter in caption.chapters:
            yield f"\nNOTE {clock_time(chapter.start)} {_comment(chapter.title)}\n"
        # A caption that is over within the same millisecond cannot be written.
        if milliseconds(caption.start) < milliseconds(caption.end):
            yield f"\n{clock_time(caption.start)} {ARROW} {clock_time(caption.end)}\n"
            for line in caption.lines:
                text = " ".join(_word(word, caption) for word in line.words)
                yield f"<b>{text}</b>\n" if line.said else f"{text}\n"


def _comment(text: str) -> str:
    return one_line(text).replace(ARROW, "→")


def _word(word: CaptionWord, caption: Caption) -> str:
    """Return a word after its time, which has to lie strictly within the caption to be written."""
    text = escape(word.text, quote=False)
    start, end = milliseconds(caption.start), milliseconds(caption.end)
    if word.time is None or not start < milliseconds(word.time) < end:
        return text
    return f"<{clock_time(word.time)}><c>{text}</c>"


Writer: TypeAlias = Callable[[Iterable[Caption], str], Iterator[str]]

FORMATS: Final[dict[str, Writer]] = {".vtt": webvtt, ".lrc": lrc}
"""The writer for each ending of a file; it takes captions in order of time, and their title."""


def write_captions(
    path: Path, timeline: Timeline, chapters: Sequence[Chapter], title: str, *, overwrite: bool
) -> None:
    """Write the captions of a timeline that ends, in the format of the file's ending, as UTF-8.

    `chapters` are in order of time.

    Raises
    ------
    FileError
        If the ending is none of `FORMATS`, or the file cannot be written or is there already.
        Then nothing has changed.
    """
    writer = captions_format(path)
    write_text(path, writer(captions(timeline, chapters, title), title), overwrite=overwrite)


def captions_format(path: Path) -> Writer:
    """Return the writer for a file's ending; raise `FileError` if it is none of `FORMATS`."""
    writer = FORMATS.get(path.suffix.lower())
    if writer is None:
        raise FileError(
            f"{path} is no name for captions; let it end in .vtt for WebVTT or .lrc for LRC."
        )
    return writer
