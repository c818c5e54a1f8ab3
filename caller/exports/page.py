"""A page for a phone on the floor: one self-contained HTML file with the sound inside.

It is put together from the files in the folder ``page_assets``. Texts and beats from outside are
JSON in it and are shown as text; a content security policy (W3C, Content Security Policy Level 3)
lets only the page's own scripts run, and nothing be fetched.

The sound is FLAC or WAV. Measured in Chromium 156, these start within a millisecond of where they
are told to; MP3 of a varying bit rate, after a leap, started up to two seconds away, and not every
phone plays OGG.

The page gets the piece as one JSON document, written in pieces however long the piece is. A beat is
a list: its time, its tempo, the index of its chapter and its kind; a throw adds its cycle and its
beat in the cycle, both from zero, and what the left and the right hand throw. A chapter has the
facts that hold for all of it. A cue that announces a change has the times from and until which it
is shown. Times are seconds of the sound. The document is ASCII, and no character in it can end or
open an element of the page.
"""

import base64
import hashlib
import html
import json
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from importlib.resources import files
from pathlib import Path
from typing import Any, Final

from throwcount.caller.terminal.printing import CAUTION
from throwcount.engine.patterns.pattern import VALUE_DIGITS
from throwcount.engine.scheduling.scheduler import Chapter
from throwcount.engine.timing.timeline import COUNT_IN, RUN_OUT, Beat, Timeline, at_once
from throwcount.sounds.errors import FileError
from throwcount.sounds.files.whole_files import write_text

TIME_DIGITS: Final = 4
"""Decimals of a time in seconds: far finer than the eye can see."""

SAME_MOMENT: Final = 1e-3
"""Seconds by which rounding may put a beat before the chapter that it opens."""

HTML_ESCAPES: Final = {ord(character): f"\\u{ord(character):04x}" for character in "<>&"}
"""JSON escapes for characters that could be taken for HTML."""


@dataclass(slots=True)
class PageChapter:
    """Collects what the page is told of a chapter, beat by beat."""

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

        None if the chapter is too short for all of them to be thrown: over whole cycles their
        number is the mean of the throws.
        """
        if not self.throws or len(self.held) * self.throws != self.values:
            return None
        hands = list(self.held.values())
        return [hands.count("left"), hands.count("right")]


def _course(title: str, timeline: Timeline, chapters: Sequence[Chapter]) -> Iterator[str]:
    """Yield the document in pieces, one beat a line; the first chapter starts at 0."""
    told = [PageChapter(chapter) for chapter in chapters]
    cues = [cue for cue in timeline.cues if cue.change is not None]
    awaited = {cue.change for cue in cues}
    times: dict[int | None, float] = {}
    yield f'{{"title": {_json(title)}, "seconds": {timeline.seconds}, "beats": ['
    current, last = 0, len(told) - 1
    separator = "\n"
    for index, beat in enumerate(timeline):
        while current < last and beat.time >= chapters[current].end - SAME_MOMENT:
            current += 1
        told[current].add(index, beat)
        if beat.beat in awaited:
            times[beat.beat] = beat.time
        yield separator + _json(_row(beat, current))
        separator = ",\n"
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
    yield ",\n".join(_json(chapter.document()) for chapter in told)
    yield "\n]}\n"


def _row(beat: Beat, chapter: int) -> list[Any]:
    """Return a beat as the list that stands for it."""
    row = [round(beat.time, TIME_DIGITS), round(beat.tempo), chapter]
    if beat.cycle is None:
        return [*row, beat.part if beat.part in {COUNT_IN, RUN_OUT} else "rest"]
    hands = (at_once(beat.throws.left), at_once(beat.throws.right))
    return [*row, "throw", beat.cycle, beat.cycle_beat, *hands]


def _json(value: object) -> str:
    return json.dumps(value).translate(HTML_ESCAPES)


SOUND_KINDS: Final[Mapping[str, str]] = {".flac": "audio/flac", ".wav": "audio/wav"}
"""The media type of the sound by its file's ending."""

SCRIPTS: Final = "sound clock course session glance view awake controls cover".split()
"""Joined in this order, they are one script."""

CHUNK_BYTES: Final = 3 * 2**18
"""Bytes of sound in a piece; a multiple of three, so that the Base64 of each stands alone."""

TAKE: Final = "take()"
PLACEHOLDER: Final = re.compile(r"\[\[(\w+)\]\]")
"""Where a part of the page goes in ``page.html``."""


def write_page(  # noqa: PLR0913 - what it shows and plays, where it goes, and whether it may
    path: Path,
    title: str,
    timeline: Timeline,
    chapters: Sequence[Chapter],
    audio: Path,
    *,
    overwrite: bool,
) -> None:
    """Write a page that plays a piece and shows its throws in step with the sound.

    Neither the sound nor the page is ever in memory as a whole. `chapters` are in order of time,
    the first from 0. `audio` begins with the timeline's first sample; its ending is one of
    `SOUND_KINDS`.

    Raises
    ------
    FileError
        If the sound cannot be read or is of another kind, or the page cannot be written or is
        there already. Then nothing has changed.
    ValueError
        If the timeline never ends, or no chapter is a part.
    """
    kind = SOUND_KINDS.get(audio.suffix.lower())
    if kind is None:
        raise FileError(
            f"{audio} cannot be put into a page, which needs sound that keeps every moment: "
            f"{' or '.join(SOUND_KINDS)}."
        )
    if timeline.seconds is None:
        raise ValueError("A page needs a piece that ends.")
    if not any(chapter.kind == "part" for chapter in chapters):
        raise ValueError("A page needs a part to begin with; none of the chapters is one.")
    course = _course(title, timeline, chapters)
    write_text(path, _page(title, course, _sound(audio), kind), overwrite=overwrite)


def _page(title: str, course: Iterator[str], sound: Iterator[str], kind: str) -> Iterator[str]:
    """Yield the page in pieces, in ASCII."""
    style = _asset("page.css")
    # A function of its own keeps the script's names out of the window.
    scripts = "\n".join(_asset(f"{name}.js") for name in SCRIPTS)
    script = f'"use strict";\n(() => {{\n{scripts}}})();\n'
    begin = f'ready("{kind}")'
    parts: dict[str, Iterator[str]] = {
        "policy": iter([_policy([script, TAKE, begin], style)]),
        "title": iter([_as_text(title)]),
        "style": iter([style]),
        "caution": iter([_as_text(CAUTION)]),
        "course": course,
        "script": iter([script]),
        "sound": sound,
        "begin": iter([begin]),
    }
    for index, piece in enumerate(PLACEHOLDER.split(_asset("page.html"))):
        yield from parts[piece] if index % 2 else [piece]


def _sound(audio: Path) -> Iterator[str]:
    """Yield the sound in pieces, each followed by the call of the script that takes it in."""
    try:
        with audio.open("rb") as file:
            while piece := file.read(CHUNK_BYTES):
                yield f'<script type="text/plain">{base64.b64encode(piece).decode()}</script>'
                yield f"<script>{TAKE}</script>\n"
    except OSError as error:
        raise FileError(f"The sound {audio} cannot be read: {error.strerror}.") from error


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


def _as_text(text: str) -> str:
    """Return a text escaped for HTML, in ASCII."""
    return html.escape(text).encode("ascii", "xmlcharrefreplace").decode()


def _asset(name: str) -> str:
    return files("throwcount.caller.exports").joinpath("page_assets", name).read_text("utf-8")
