"""What captions show, and from when to when: the part, its throws as they come, and what is next.

At quick tempos a cycle is over sooner than it can be read, so a caption holds as many whole cycles
as last for two seconds. What is too short for a caption of its own, such as the throws between two
patterns, opens the next one.
"""

from bisect import bisect_left, bisect_right
from collections import deque
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import chain, groupby, pairwise
from operator import attrgetter, itemgetter
from typing import Final

from caller.display.glance import notation
from caller.exports.bars import Bar, bars
from engine.routines.chapters import Chapter
from engine.timing.timeline import COUNT_IN, RUN_OUT, Beat, Cue, Timeline
from sounds.files.one_line import one_line

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
