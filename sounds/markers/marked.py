"""A title and chapters are written into a sound file, in the way of its format."""

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Final

from engine.routines.chapters import Chapter
from sounds.files.one_line import one_line
from sounds.markers.flac import add_flac_fields
from sounds.markers.front import replace_front
from sounds.markers.id3 import MOST_ID3_CHAPTERS, id3_tag
from sounds.markers.ogg import add_ogg_fields
from sounds.markers.riff import append_chunks, marker_chunks
from sounds.markers.vorbis_comment import MOST_COMMENT_CHAPTERS, marker_fields

LONGEST_TITLE: Final = 500
"""Characters of a title that are written; no player shows as many."""

MOST_CHAPTERS: Final = {
    "FLAC": MOST_COMMENT_CHAPTERS,
    "OGG": MOST_COMMENT_CHAPTERS,
    "MP3": MOST_ID3_CHAPTERS,
}
"""How many chapters a format can hold, by libsndfile's name of it; the others any number."""


def fitting(form: str, chapters: Sequence[Chapter]) -> Sequence[Chapter]:
    """Return the chapters that a format has room for.

    Where not all of them fit, the bridges are left out first, then those at the end.

    `form` is the format, as libsndfile names it. `chapters` are in order of time.
    """
    most = MOST_CHAPTERS.get(form, len(chapters))
    if len(chapters) <= most:
        return chapters
    return [chapter for chapter in chapters if chapter.kind != "bridge"][:most]


def marker_bytes(title: str, chapters: Sequence[Chapter], rate: int) -> int:
    """Return how many bytes longer a WAV file becomes; parameters as in `write_markers`."""
    return len(marker_chunks(_shown(title), _named(chapters), rate))


def write_markers(
    path: Path, form: str, title: str, chapters: Sequence[Chapter], rate: int
) -> None:
    """Write a title and chapters into a whole sound file; its samples stay as they are.

    Nothing is changed where there is neither. Memory does not grow with the file.

    Parameters
    ----------
    path
        The file, without markers so far; if this is interrupted, it is of no use any more.
    form
        Its format, as libsndfile names it: WAV, RF64, FLAC, OGG or MP3.
    title
        Of the whole; none if empty.
    chapters
        In order of time; see `fitting`.
    rate
        Frames a second.

    Raises
    ------
    OSError
        If the file cannot be read or written.
    """
    title, chapters = _shown(title), _named(fitting(form, chapters))
    if not (title or chapters):
        return
    if form == "MP3":
        replace_front(path, 0, id3_tag(title, chapters))
    elif form in {"FLAC", "OGG"}:
        add_fields = add_flac_fields if form == "FLAC" else add_ogg_fields
        add_fields(path, list(marker_fields(title, chapters)))
    else:
        append_chunks(path, marker_chunks(title, chapters, rate))


def _named(chapters: Sequence[Chapter]) -> list[Chapter]:
    return [replace(chapter, title=_shown(chapter.title)) for chapter in chapters]


def _shown(title: str) -> str:
    return one_line(title)[:LONGEST_TITLE]
