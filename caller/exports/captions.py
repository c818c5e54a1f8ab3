"""What captions show, and from when to when: the part, its throws as they come, and what is next.

At quick tempos a cycle is over sooner than it can be read, so a caption holds as many whole cycles
as last for two seconds. What is too short for a caption of its own, such as the throws between two
patterns, opens the next one.

A timeline as captions: WebVTT for browsers and video players, LRC for players of music.

Captions as LRC, the usual format of lyrics beside a music file: a time and a text on each line.

It has no standard; its lines and tags are common practice. Times are in hundredths of a second.

Captions as WebVTT (W3C Candidate Recommendation, 2019).

A time within a caption parts the throws that were from those to come, which a browser shows dimmer:
so they light up one by one, at any tempo. Chapters stand as comments. There is no style block, as
some players show nothing of a file that has one.
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
from throwcount.engine.timing.timeline import COUNT_IN, RUN_OUT, Beat, Cue, Timeline, notation
from throwcount.sounds.errors import FileError
from throwcount.sounds.files.chapters import one_line
from throwcount.sounds.files.tags import clock_time, milliseconds
from throwcount.sounds.files.whole_files import write_text

READABLE: Final = 2.0
"""Seconds that a caption stays, where what it shows lasts as long."""

CLICK: Final = "•"
"""A beat without a throw that is heard."""

BESIDES: Final = {COUNT_IN: "count-in", RUN_OUT: "last catches"}
"""What is shown for the names of what is no part."""

AHEAD: Final = frozenset({"part", "rest"})
"""Kinds of chapters that are told ahead."""


@dataclass(frozen=True, slots=True)
class CaptionWord:
    """A word of a caption, on one line."""

    text: str
    """The word as it is to be read."""
    time: float | None = None
    """When it is the current one, in seconds; None where it is so all along."""


@dataclass(frozen=True, slots=True)
class CaptionLine:
    """A line of a caption."""

    words: tuple[CaptionWord, ...]
    """The words, read with a space between them."""
    said: bool = False
    """Whether it is what a voice says in place of the count."""


@dataclass(frozen=True, slots=True)
class Caption:
    """What is shown for some time."""

    start: float
    """When it appears, in seconds from the first sample."""
    end: float
    """When it goes, in seconds from the first sample: where the next caption starts."""
    lines: tuple[CaptionLine, ...]
    """At least one line, and none empty."""
    chapters: tuple[Chapter, ...] = ()
    """Those that begin while it is shown."""


def captions(timeline: Timeline, chapters: Sequence[Chapter], title: str) -> Iterator[Caption]:
    """Yield the captions of a timeline that ends, in order of time.

    The timeline is walked once and not kept. `chapters` are in order of time; they tell what is
    next, too. `title` is shown at the beginning.
    """
    coming = _Coming(timeline.cues, chapters)
    groups = _legible(bars(timeline))
    first = next(groups)
    during = (_during(group, coming) for group in chain([first], groups))
    shown = _joined(chain(_before(first[0].start, title, coming), during))
    yield from _with_chapters(shown, deque(chapters))


class _Coming:
    """What is said, and what comes next."""

    def __init__(self, cues: Sequence[Cue], chapters: Sequence[Chapter]) -> None:
        self._besides = [cue for cue in cues if cue.change is None]
        self._changes = [(cue.change, cue) for cue in cues if cue.change is not None]
        self._chapters = [chapter for chapter in chapters if chapter.kind in AHEAD]

    def besides(self, start: float, end: float) -> list[Cue]:
        """Return what is said from `start` until `end` that announces no change."""
        first = bisect_left(self._besides, start, key=lambda cue: cue.time)
        last = bisect_left(self._besides, end, key=lambda cue: cue.time)
        return self._besides[first:last]

    def next_part(self, time: float) -> Iterator[CaptionLine]:
        """Yield what begins after a moment, if something does."""
        index = bisect_right(self._chapters, time, key=lambda chapter: chapter.start)
        for chapter in self._chapters[index : index + 1]:
            yield _text_line(f"Next: {chapter.title}")

    def change(self, beat: Beat, end: float) -> Iterator[CaptionLine]:
        """Yield what announces the change after a beat, if that is said before `end`."""
        index = bisect_right(self._changes, beat.beat, key=itemgetter(0))
        for _, cue in self._changes[index : index + 1]:
            if cue.time < end:
                yield _text_line(cue.text, said=True)


def _legible(row: Iterable[Bar]) -> Iterator[list[Bar]]:
    """Gather bars for captions that can be read, each for one part if that is long enough."""
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
    """Gather the bars of a part; the last ones join those before them if they are over too soon."""
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
    """Yield the captions before the first beat: the title, then what is said."""
    lines: dict[float, list[CaptionLine]] = {0.0: [_text_line(title), *coming.next_part(0.0)]}
    for cue in coming.besides(0.0, until):
        lines.setdefault(cue.time, []).append(_text_line(cue.text, said=True))
    for start, end in pairwise([*lines, until]):
        yield Caption(start, end, tuple(lines[start]))


def _during(group: Sequence[Bar], coming: _Coming) -> Caption:
    """Return the caption for some bars."""
    start, end, last = group[0].start, group[-1].end, group[-1].beats[-1]
    beats = (beat for bar in group for beat in bar.beats)
    thrown = [_thrown(name, of_part) for name, of_part in groupby(beats, key=_name)]
    said = [_text_line(cue.text, said=True) for cue in coming.besides(start, end)]
    ahead = list(coming.change(last, end)) or list(coming.next_part(last.time))
    return Caption(start, end, (*thrown, *said, *ahead))


def _joined(row: Iterable[Caption]) -> Iterator[Caption]:
    """Make one caption of those in a row that show the same, and leave out what shows nothing."""
    for _, group in groupby(row, key=attrgetter("lines")):
        first, *others = group
        lines = tuple(line for line in first.lines if any(word.text for word in line.words))
        if lines:
            yield Caption(first.start, others[-1].end if others else first.end, lines)


def _with_chapters(row: Iterable[Caption], coming: deque[Chapter]) -> Iterator[Caption]:
    """Give each caption the chapters that begin in it."""
    for caption in row:
        begun = []
        while coming and coming[0].start < caption.end:
            begun.append(coming.popleft())
        yield replace(caption, chapters=tuple(begun))


def _name(beat: Beat) -> str:
    """Return what a beat belongs to, as it is shown."""
    if beat.cycle is None:
        return BESIDES.get(beat.part, beat.part)
    return f"{beat.part}, {beat.how}" if beat.how else beat.part


def _thrown(name: str, beats: Iterable[Beat]) -> CaptionLine:
    """Return the line for the beats of a part."""
    characters = [(notation(beat) or (CLICK if beat.click else ""), beat.time) for beat in beats]
    words = tuple(CaptionWord(character, time) for character, time in characters if character)
    label = one_line(name) + (":" if words else "")
    return CaptionLine((CaptionWord(label), *words))


def _text_line(text: str, *, said: bool = False) -> CaptionLine:
    return CaptionLine((CaptionWord(one_line(text)),), said)


TIME_TAG: Final = re.compile(r"\[(?=\d+:)")
"""What could be taken for the beginning of a time within a text."""

NO_BREAK_SPACE: Final = "\N{NO-BREAK SPACE}"
"""Put before a bracket that opens a text, such as that of ``[33]1``, so that it is no tag."""


def lrc(captions: Iterable[Caption], title: str) -> Iterator[str]:
    """Yield an LRC file in pieces.

    Parameters
    ----------
    captions
        In order of time; the lines of each stand side by side.
    title
        Of the whole.
    """
    named = one_line(title).replace("[", "(").replace("]", ")")
    yield f"[ti:{named}]\n"
    end = 0.0
    for caption in captions:
        lines = (" ".join(word.text for word in line.words) for line in caption.lines)
        yield f"[{_time(caption.start)}]{_plain(' | '.join(lines))}\n"
        end = caption.end
    yield f"[{_time(end)}]\n"


def _plain(text: str) -> str:
    """Return a text in which nothing is taken for a tag."""
    disarmed = TIME_TAG.sub("(", text)
    return NO_BREAK_SPACE + disarmed if disarmed.startswith("[") else disarmed


def _time(seconds: float) -> str:
    """Return a time in minutes, seconds and hundredths; there are no hours."""
    whole, hundredths = divmod(round(seconds * 100), 100)
    minutes, second = divmod(whole, 60)
    return f"{minutes:02}:{second:02}.{hundredths:02}"


ARROW: Final = "-->"
"""What stands between two times; it may stand in no comment."""


def webvtt(captions: Iterable[Caption], title: str) -> Iterator[str]:
    """Yield a WebVTT file in pieces.

    Parameters
    ----------
    captions
        In order of time.
    title
        Of the whole.
    """
    yield f"WEBVTT\n\nNOTE {_comment(title)}\n"
    for caption in captions:
        yield from map(_chapter, caption.chapters)
        # One that is over within the same millisecond cannot be written.
        if milliseconds(caption.start) < milliseconds(caption.end):
            yield _cue(caption)


def _chapter(chapter: Chapter) -> str:
    return f"\nNOTE {clock_time(chapter.start)} {_comment(chapter.title)}\n"


def _comment(text: str) -> str:
    return one_line(text).replace(ARROW, "→")


def _cue(caption: Caption) -> str:
    lines = "\n".join(_cue_line(line, caption) for line in caption.lines)
    return f"\n{clock_time(caption.start)} {ARROW} {clock_time(caption.end)}\n{lines}\n"


def _cue_line(line: CaptionLine, caption: Caption) -> str:
    text = " ".join(_word(word, caption) for word in line.words)
    return f"<b>{text}</b>" if line.said else text


def _word(word: CaptionWord, caption: Caption) -> str:
    """Return a word, after the time when it is the current one; not at the beginning or the end."""
    text = escape(word.text, quote=False)
    if word.time is None or not _within(word.time, caption):
        return text
    return f"<{clock_time(word.time)}><c>{text}</c>"


def _within(time: float, caption: Caption) -> bool:
    return milliseconds(caption.start) < milliseconds(time) < milliseconds(caption.end)


Writer: TypeAlias = Callable[[Iterable[Caption], str], Iterator[str]]

FORMATS: Final[dict[str, Writer]] = {".vtt": webvtt, ".lrc": lrc}
"""What writes the captions of a file, by the ending of its name."""


def write_captions(
    path: Path, timeline: Timeline, chapters: Sequence[Chapter], title: str, *, overwrite: bool
) -> None:
    """Write the captions of a timeline, in the format of the file's ending, as UTF-8.

    Parameters
    ----------
    path
        Where to; the ending is one of `FORMATS`.
    timeline
        One that ends. It is walked once and not kept.
    chapters
        In order of time.
    title
        Of the whole.
    overwrite
        Whether a file that is there already is replaced.

    Raises
    ------
    FileError
        If the file cannot be written, or is there already. Then nothing has changed.
    """
    writer = captions_format(path)
    write_text(path, writer(captions(timeline, chapters, title), title), overwrite=overwrite)


def captions_format(path: Path) -> Writer:
    """Return what writes the captions of a file.

    Raises
    ------
    FileError
        If the file's ending is none of `FORMATS`.
    """
    writer = FORMATS.get(path.suffix.lower())
    if writer is None:
        raise FileError(
            f"{path} is no name for captions; let it end in .vtt for WebVTT or .lrc for LRC."
        )
    return writer
