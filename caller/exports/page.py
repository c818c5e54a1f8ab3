"""A page for a phone on the floor: one self-contained HTML file with the sound inside.

It is put together from the files in the folder ``page_assets``. Texts and beats from outside are
JSON in it and are shown as text; a content security policy (W3C, Content Security Policy Level 3)
lets only the page's own scripts run, and nothing be fetched.

The sound stands in it in pieces that the page joins (`throwcount.sounds.files.sound_pieces`): MP3,
which every phone's browser decodes, or FLAC. Not every phone decodes Opus.

The page gets the piece as one JSON document, written in pieces however long the piece is. A beat is
a list: its time, its tempo, the index of its chapter and its kind; a throw adds its cycle and its
beat in the cycle, both from zero, what the left and the right hand throw, and if one of them does
so in a manner of its own, a list of that of the left and of the right. A chapter has the
facts that hold for all of it. A cue that announces a change has the times from and until which it
is shown. An action is what a hand does besides throwing, by the index of its beat: pick up, put
down, wait or hurry. A catch is its time and the index of the beat on which it was thrown. Times are
seconds of the sound. The document is ASCII, and no character in it can end or open an element of
the page.
"""

import base64
import hashlib
import html
import json
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from importlib.resources import files
from pathlib import Path
from typing import Any, Final

from throwcount.caller.terminal.printing import CAUTION
from throwcount.engine.patterns.pattern import VALUE_DIGITS, Hand
from throwcount.engine.scheduling.scheduler import Chapter
from throwcount.engine.takes.catches import expected_catches
from throwcount.engine.timing.timeline import COUNT_IN, RUN_OUT, Beat, Timeline, at_once, own_manner
from throwcount.sounds.files.sound_pieces import SoundPieces
from throwcount.sounds.files.whole_files import write_text

TIME_DIGITS: Final = 4
"""Decimals of a time in seconds: far finer than the eye can see."""

SAME_MOMENT: Final = 1e-3
"""Seconds by which rounding may put a beat before the chapter that it opens."""

HTML_ESCAPES: Final = {ord(character): f"\\u{ord(character):04x}" for character in "<>&"}
"""JSON escapes for characters that could be taken for HTML."""


@dataclass(slots=True)
class PageChapter:
    """Collects what the page needs to know of a chapter, beat by beat."""

    chapter: Chapter
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
    """The number of beats on which something is thrown."""
    held: dict[str, str] = field(default_factory=dict)
    """The hand that throws each object first, and so holds it before the chapter."""

    def add(self, index: int, beat: Beat) -> None:
        """Take in a beat of this chapter; `index` is its place among all beats."""
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
        """Return what the page needs to know of the chapter."""
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

        None if the chapter is too short for all of them to be thrown: over whole cycles their
        number is the mean of the throws.
        """
        if not self.throws or len(self.held) * self.throws != self.values:
            return None
        hands = list(self.held.values())
        return [hands.count("left"), hands.count("right")]


def _course(
    title: str, timeline: Timeline, chapters: Sequence[Chapter], sound: SoundPieces
) -> Iterator[str]:
    """Yield the document in pieces, one beat a line; the first chapter starts at 0."""
    page_chapters = [PageChapter(chapter) for chapter in chapters]
    cues = [cue for cue in timeline.cues if cue.change is not None]
    awaited = {cue.change for cue in cues}
    times: dict[int | None, float] = {}
    actions: list[list[Any]] = []
    yield f'{{"title": {_json(title)}, "seconds": {timeline.seconds},\n'
    yield f'"sound": {_json(_sound_facts(sound))}, "beats": ['
    current, last = 0, len(page_chapters) - 1
    separator = "\n"
    before: Beat | None = None
    for index, beat in enumerate(timeline):
        while current < last and beat.time >= chapters[current].end - SAME_MOMENT:
            current += 1
        page_chapters[current].add(index, beat)
        actions += _actions(index, beat, before)
        before = beat
        if beat.beat in awaited:
            times[beat.beat] = beat.time
        yield separator + _json(_row(beat, current))
        separator = ",\n"
    yield f'\n], "actions": {_json(actions)}, "catches": ['
    yield from _catches(timeline)
    yield '\n], "cues": ['
    yield ",\n".join(
        _json(
            {
                "time": round(cue.time, TIME_DIGITS),
                "until": round(times.get(cue.change, cue.time + cue.seconds), TIME_DIGITS),
                "text": cue.text,
            }
        )
        for cue in cues
    )
    yield '], "chapters": [\n'
    yield ",\n".join(_json(chapter.document()) for chapter in page_chapters)
    yield "\n]}\n"


def _row(beat: Beat, chapter: int) -> list[Any]:
    """Return a beat as the list that stands for it."""
    row = [round(beat.time, TIME_DIGITS), round(beat.tempo), chapter]
    if beat.cycle is None:
        return [*row, beat.part if beat.part in {COUNT_IN, RUN_OUT} else "rest"]
    hands = (at_once(beat.throws.left), at_once(beat.throws.right))
    manners = [own_manner(beat, "left"), own_manner(beat, "right")]
    own = [manners] if any(manners) else []
    return [*row, "throw", beat.cycle, beat.cycle_beat, *hands, *own]


def _sound_facts(sound: SoundPieces) -> dict[str, Any]:
    """Return what the page has to know to join the pieces of its sound."""
    return {
        "rate": sound.rate,
        "frames": sound.frames,
        "pieceFrames": sound.piece_frames,
        "margin": sound.margin,
        "quiet": sound.quiet,
        "lead": sound.lead,
    }


def _actions(index: int, beat: Beat, before: Beat | None) -> Iterator[list[Any]]:
    """Yield the index of a beat, a hand and what that does besides throwing, for each of these."""
    hands: tuple[Hand, ...] = ("left", "right")
    for hand in hands:
        for names, what in ((beat.pick_up, "pick up"), (beat.put_down, "put down")):
            count = len(getattr(names, hand))
            if count:
                yield [index, hand, f"{what} {count}" if count > 1 else what]
        if hand in beat.hurried:
            waits = before is not None and _keeps(hand, before, beat)
            yield [index - 1, hand, "wait"] if waits else [index, hand, "hurry"]


def _keeps(hand: Hand, before: Beat, beat: Beat) -> bool:
    """Return whether a hand keeps on one beat what it throws on the next, if anything."""
    thrown = getattr(before.throws, hand)
    kept = {*getattr(before.objects, hand)} & {*getattr(beat.objects, hand)}
    return bool(kept) or set(thrown) == {"0"}


def _catches(timeline: Timeline) -> Iterator[str]:
    """Yield each catch as its time and the index of the beat on which it was thrown."""
    first = next(iter(timeline)).beat
    separator = "\n"
    for catch in expected_catches(timeline):
        yield separator + _json([round(catch.time, TIME_DIGITS), catch.beat - first])
        separator = ","


def _json(value: object) -> str:
    return json.dumps(value).translate(HTML_ESCAPES)


SCRIPTS: Final = (
    "course pieces stretch player session pedals glance view awake controls cover".split()
)
"""Joined in this order, they are one script."""

TAKE: Final = "take()"
BEGIN: Final = "ready()"
PLACEHOLDER: Final = re.compile(r"\[\[(\w+)\]\]")
"""Where a part of the page goes in ``page.html``."""


def write_page(  # noqa: PLR0913 - what it shows and plays, where it goes, and whether it may
    path: Path,
    title: str,
    timeline: Timeline,
    chapters: Sequence[Chapter],
    sound: SoundPieces,
    *,
    overwrite: bool,
) -> None:
    """Write a page that plays a piece and shows its throws in step with the sound.

    Neither the sound nor the page is ever in memory as a whole. `chapters` are in order of time,
    the first from 0. `sound` begins with the timeline's first sample.

    Raises
    ------
    FileError
        If the sound cannot be read, or the page cannot be written or is there already. Then nothing
        has changed.
    ValueError
        If the timeline never ends, or no chapter is a part.
    """
    if timeline.seconds is None:
        raise ValueError("A page needs a piece that ends.")
    if not any(chapter.kind == "part" for chapter in chapters):
        raise ValueError("A page needs a part to begin with; none of the chapters is one.")
    course = _course(title, timeline, chapters, sound)
    write_text(path, _page(title, course, sound), overwrite=overwrite)


def _page(title: str, course: Iterator[str], sound: SoundPieces) -> Iterator[str]:
    """Yield the page in pieces, in ASCII."""
    style = _asset("page.css")
    # A function of its own keeps the script's names out of the window.
    scripts = "\n".join(_asset(f"{name}.js") for name in SCRIPTS)
    script = f'"use strict";\n(() => {{\n{scripts}}})();\n'
    parts: dict[str, Iterator[str]] = {
        "policy": iter([_policy([script, TAKE, BEGIN], style)]),
        "title": iter([as_html(title)]),
        "style": iter([style]),
        "caution": iter([as_html(CAUTION)]),
        "course": course,
        "script": iter([script]),
        "sound": _sound(sound),
        "begin": iter([BEGIN]),
    }
    for index, piece in enumerate(PLACEHOLDER.split(_asset("page.html"))):
        yield from parts[piece] if index % 2 else [piece]


def _sound(sound: SoundPieces) -> Iterator[str]:
    """Yield the pieces, each followed by the call of the script that takes it in."""
    for piece in sound:
        yield f'<script type="text/plain">{base64.b64encode(piece).decode()}</script>'
        yield f"<script>{TAKE}</script>\n"


def _policy(scripts: Sequence[str], style: str) -> str:
    """Return the policy that allows these scripts and this style, and no fetching."""
    allowed = " ".join(map(_hash, scripts))
    return (
        f"default-src 'none'; script-src {allowed}; style-src {_hash(style)}; media-src blob:; "
        "img-src data:; base-uri 'none'; form-action 'none'"
    )


def _hash(source: str) -> str:
    digest = hashlib.sha256(source.encode()).digest()
    return f"'sha256-{base64.b64encode(digest).decode()}'"


def as_html(text: str) -> str:
    """Return a text escaped for HTML, in ASCII."""
    return html.escape(text).encode("ascii", "xmlcharrefreplace").decode()


def _asset(name: str) -> str:
    return files("throwcount.caller.exports").joinpath("page_assets", name).read_text("utf-8")
