"""What a page knows of a piece, as one JSON document in pieces, however long the piece.

A beat is a list: its time, its tempo, the index of its chapter and its kind, and on a throw the
cycle and the beat in it, from zero, and what the left and the right hand throw. A chapter tells
what is to be known of it as a whole, a cue that announces a change from when until when it is of
use. Times are seconds of the sound. The document is ASCII, and no sign in it can end or open an
element of the page.
"""

import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any, Final

from caller.display.glance import at_once
from engine.patterns.pattern import VALUE_DIGITS
from engine.routines.chapters import Chapter
from engine.timing.timeline import COUNT_IN, RUN_OUT, Beat, Timeline

TIME_DIGITS: Final = 4
"""Decimal digits of a second: far finer than what is seen."""

SAME_MOMENT: Final = 1e-3
"""Seconds by which a beat may come before the chapter that it opens, for rounding."""

UNUSUAL: Final = {ord(character): f"\\u{ord(character):04x}" for character in "<>&"}
"""What could be taken for a part of the page, and how JSON writes it too."""


@dataclass(slots=True)
class PageBlock:
    """A chapter while its beats go by."""

    chapter: Chapter
    """The chapter that goes by."""
    first: int | None = None
    """The index of its first beat; None before that."""
    cycles: int = 0
    """How many cycles have begun in it."""
    widest: int = 0
    """The most characters that one hand throws at once."""
    how: str = ""
    """How its throws are made, in words."""
    values: int = 0
    """The sum of the values thrown."""
    throws: int = 0
    """On how many beats something is thrown."""
    held: dict[str, str] = field(default_factory=dict)
    """The hand that first throws each object, so that holds it before the chapter."""

    def take(self, index: int, beat: Beat) -> None:
        """Take up a beat of this chapter."""
        if self.first is None:
            self.first = index
        if beat.cycle is None:
            return
        self.cycles = beat.cycle + 1
        self.how = self.how or beat.how
        self.throws += 1
        for hand, thrown, objects in (
            ("left", beat.throws.left, beat.objects.left),
            ("right", beat.throws.right, beat.objects.right),
        ):
            self.widest = max(self.widest, len("".join(thrown)))
            self.values += sum(VALUE_DIGITS.index(throw[0]) for throw in thrown)
            for name in objects:
                self.held.setdefault(name, hand)

    def document(self) -> dict[str, Any]:
        """Return what the page is told of the chapter."""
        return {
            "start": round(self.chapter.start, TIME_DIGITS),
            "end": round(self.chapter.end, TIME_DIGITS),
            "title": self.chapter.title,
            "kind": self.chapter.kind,
            "first": self.first,
            "cycles": self.cycles,
            "widest": self.widest,
            "how": self.how,
            "held": self._held(),
        }

    def _held(self) -> list[int] | None:
        """Return how many objects the left and the right hand begin with.

        None where the chapter is too short to see all of them thrown: over whole cycles their
        number is the mean of the throws.
        """
        if not self.throws or len(self.held) * self.throws != self.values:
            return None
        hands = list(self.held.values())
        return [hands.count("left"), hands.count("right")]


def course_pieces(title: str, timeline: Timeline, chapters: Sequence[Chapter]) -> Iterator[str]:
    """Yield the document in pieces, a beat a line.

    Parameters
    ----------
    title
        Of the piece.
    timeline
        One that ends.
    chapters
        In order of time, the first from 0; at least one.
    """
    stretches = [PageBlock(chapter) for chapter in chapters]
    cues = [cue for cue in timeline.cues if cue.change is not None]
    awaited = {cue.change for cue in cues}
    moments: dict[int | None, float] = {}
    yield f'{{"title": {_json(title)}, "seconds": {timeline.seconds}, "beats": ['
    current = 0
    separator = "\n"
    for index, beat in enumerate(timeline):
        while (
            current + 1 < len(stretches)
            and beat.time >= stretches[current].chapter.end - SAME_MOMENT
        ):
            current += 1
        stretches[current].take(index, beat)
        if beat.beat in awaited:
            moments[beat.beat] = beat.time
        yield separator + _json(_row(beat, current))
        separator = ",\n"
    yield '\n], "cues": ['
    yield ",\n".join(
        _json(
            {
                "time": round(cue.time, TIME_DIGITS),
                "until": round(moments.get(cue.change, cue.time + cue.seconds), TIME_DIGITS),
                "text": cue.text,
            }
        )
        for cue in cues
    )
    yield '], "chapters": [\n'
    yield ",\n".join(_json(stretch.document()) for stretch in stretches)
    yield "\n]}\n"


def _row(beat: Beat, chapter: int) -> list[Any]:
    """Return a beat as the list that stands for it."""
    row = [round(beat.time, TIME_DIGITS), round(beat.tempo), chapter]
    if beat.cycle is None:
        return [*row, beat.part if beat.part in {COUNT_IN, RUN_OUT} else "rest"]
    hands = (at_once(beat.throws.left), at_once(beat.throws.right))
    return [*row, "throw", beat.cycle, beat.cycle_beat, *hands]


def _json(value: object) -> str:
    return json.dumps(value).translate(UNUSUAL)
