"""A page for a phone on the floor: one HTML file with the sound in it, that asks for nothing else.

It is put together from the files in the folder ``page``. What comes from outside, texts and
beats, is JSON in it and is shown as text; a content security policy (W3C, Content Security Policy
Level 3) lets nothing run but the scripts that belong to it, and nothing be fetched.

The sound is FLAC or WAV. Measured in Chromium 156, these begin where they are told to, to the
millisecond; MP3 of a varying bit rate, after a leap, began up to two seconds beside it, and not
every phone plays OGG.
"""

import base64
import hashlib
import html
import re
from collections.abc import Iterator, Mapping, Sequence
from importlib.resources import files
from pathlib import Path
from typing import Final

from caller.exports.page_course import course_pieces
from caller.rehearsals.telling import CAUTION
from engine.routines.chapters import Chapter
from engine.timing.timeline import Timeline
from sounds.errors import FileError
from sounds.files.whole_file import write_text

SOUND_KINDS: Final[Mapping[str, str]] = {".flac": "audio/flac", ".wav": "audio/wav"}
"""The media type of the sound by its file's ending."""

SCRIPTS: Final = "sound clock course session glance view awake controls cover".split()
"""In this order they are one script."""

PIECE: Final = 3 * 2**18
"""Bytes of sound in a piece; a multiple of three, so that the text of each stands on its own."""

TAKE: Final = "take()"
PLACE: Final = re.compile(r"\[\[(\w+)\]\]")


def write_page(  # noqa: PLR0913 - what the page is of, where it goes, and whether it may
    path: Path,
    title: str,
    timeline: Timeline,
    chapters: Sequence[Chapter],
    audio: Path,
    *,
    overwrite: bool,
) -> None:
    """Write a page that plays a piece and shows its throws in step with the sound.

    Neither the sound nor the page is ever in memory as a whole.

    Parameters
    ----------
    path
        Where to. A link is followed.
    title
        Of the piece.
    timeline
        One that ends.
    chapters
        In order of time, the first from 0; at least one is a part.
    audio
        A file with the sound, that begins with the timeline's first sample. Its ending is one of
        `SOUND_KINDS`.
    overwrite
        Whether a file that is there already is replaced.

    Raises
    ------
    FileError
        If the sound cannot be read or is of another kind, or the page cannot be written, or is
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
    course = course_pieces(title, timeline, chapters)
    write_text(path, _page(title, course, _sound(audio), kind), overwrite=overwrite)


def _page(title: str, course: Iterator[str], sound: Iterator[str], kind: str) -> Iterator[str]:
    """Yield the page in pieces, in ASCII."""
    style = _read("page.css")
    script = _own("\n".join(_read(f"{name}.js") for name in SCRIPTS))
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
    skeleton = PLACE.split(_read("page.html"))
    for index, piece in enumerate(skeleton):
        if index % 2:
            yield from parts[piece]
        else:
            yield piece


def _sound(audio: Path) -> Iterator[str]:
    """Yield the sound in pieces, each followed by the script that takes it up."""
    for piece in _pieces_of(audio):
        yield f'<script type="text/plain">{base64.b64encode(piece).decode()}</script>'
        yield f"<script>{TAKE}</script>\n"


def _pieces_of(audio: Path) -> Iterator[bytes]:
    try:
        with audio.open("rb") as file:
            while piece := file.read(PIECE):
                yield piece
    except OSError as error:
        raise FileError(f"The sound {audio} cannot be read: {error.strerror}.") from error


def _policy(scripts: Sequence[str], style: str) -> str:
    """Return the policy that lets these scripts run, this style apply, and nothing be fetched."""
    allowed = " ".join(map(_hash, scripts))
    return (
        f"default-src 'none'; script-src {allowed}; style-src {_hash(style)}; media-src blob:; "
        "img-src data:; base-uri 'none'; form-action 'none'"
    )


def _own(script: str) -> str:
    """Return a script whose names are its own, in the strict form of the language."""
    return f'"use strict";\n(() => {{\n{script}}})();\n'


def _hash(source: str) -> str:
    digest = hashlib.sha256(source.encode()).digest()
    return f"'sha256-{base64.b64encode(digest).decode()}'"


def _as_text(text: str) -> str:
    """Return a text as it stands in HTML, in ASCII."""
    return html.escape(text).encode("ascii", "xmlcharrefreplace").decode()


def _read(name: str) -> str:
    return files("caller.exports").joinpath("page", name).read_text("utf-8")
