"""Writes a title and chapters into a sound file, in the way of its format.

WAV files get cue points, their labels and lengths, and the title as RIFF chunks after the samples,
which stay as they are: Multimedia Programming Interface and Data Specifications 1.0 (IBM and
Microsoft, 1991) has the chunks ``cue ``, ``LIST`` of ``adtl`` with ``labl`` and ``ltxt``, and
``LIST`` of ``INFO``; Recommendation ITU-R BS.2088 has the sizes of RF64. Texts are in UTF-8. The
tags of other formats are in `tags`.
"""

import struct
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Final
from unicodedata import category

from throwcount.engine.scheduling.scheduler import Chapter
from throwcount.sounds.files.tags import (
    MOST_COMMENT_CHAPTERS,
    MOST_ID3_CHAPTERS,
    add_flac_fields,
    add_ogg_fields,
    id3_tag,
    marker_fields,
    replace_front,
)
from throwcount.sounds.samples import frame_at

NOT_SHOWN: Final = frozenset({"Cc", "Cs", "Zl", "Zp"})
"""Unicode's categories of control characters, surrogates, and line and paragraph separators."""


def one_line(text: str) -> str:
    """Return `text` on one line, with spaces for line ends and characters that cannot be shown."""
    shown = (" " if category(character) in NOT_SHOWN else character for character in text)
    return " ".join("".join(shown).split())


LARGEST: Final = 2**32 - 1
"""The largest frame number and length that a chunk can hold: a day of sound at 48 kHz."""

UTF_8: Final = 65_001
"""Number of the code page."""

RIFF_SIZE_AT: Final = 4
RF64_SIZE_AT: Final = 20
"""Offsets of the file's size less 8: in a RIFF file in 32 bits, in RF64 in 64 within ``ds64``."""


def marker_chunks(title: str, chapters: Sequence[Chapter], rate: int) -> bytes:
    """Return the chunks for a title, unless it is empty, and chapters, to stand after the samples.

    Titles are on one line. Chapters that begin beyond `LARGEST` are left out. `rate` is in Hz.
    """
    placed = [(frame_at(each.start, rate), each) for each in chapters]
    placed = [(frame, each) for frame, each in placed if frame <= LARGEST]
    named = _list(b"INFO", [_chunk(b"INAM", _text(title))]) if title else b""
    return named + _cues(placed) + _labels(placed, rate) if placed else named


def append_chunks(path: Path, chunks: bytes) -> None:
    """Append chunks to a WAV or RF64 file, and add them to its size.

    Raises
    ------
    OSError
        If the file cannot be read or written.
    """
    with path.open("r+b") as file:
        long = file.read(4) == b"RF64"
        file.seek(0, 2)
        file.write(chunks)
        size = file.tell() - 8
        file.seek(RF64_SIZE_AT if long else RIFF_SIZE_AT)
        file.write(struct.pack("<Q" if long else "<I", size))


def _cues(placed: Sequence[tuple[int, Chapter]]) -> bytes:
    records = [
        struct.pack("<II4sIII", number, frame, b"data", 0, 0, frame)
        for number, (frame, _) in enumerate(placed, 1)
    ]
    return _chunk(b"cue ", struct.pack("<I", len(records)) + b"".join(records))


def _labels(placed: Sequence[tuple[int, Chapter]], rate: int) -> bytes:
    # All labels come first: some readers stop at the first chunk of another kind.
    labels, regions = [], []
    for number, (frame, chapter) in enumerate(placed, 1):
        frames = min(frame_at(chapter.end, rate) - frame, LARGEST)
        region = struct.pack("<II4sHHHH", number, frames, b"rgn ", 0, 0, 0, UTF_8)
        labels.append(_chunk(b"labl", struct.pack("<I", number) + _text(chapter.title)))
        regions.append(_chunk(b"ltxt", region))
    return _list(b"adtl", labels + regions)


def _text(text: str) -> bytes:
    return text.encode() + b"\0"


def _list(kind: bytes, chunks: Sequence[bytes]) -> bytes:
    return _chunk(b"LIST", kind + b"".join(chunks))


def _chunk(name: bytes, body: bytes) -> bytes:
    """Return a chunk; an odd length is padded, which its size does not count."""
    return name + struct.pack("<I", len(body)) + body + b"\0" * (len(body) % 2)


LONGEST_TITLE: Final = 500
"""Longest title that is written, in characters; no player shows as many."""

MOST_CHAPTERS: Final = {
    "FLAC": MOST_COMMENT_CHAPTERS,
    "OGG": MOST_COMMENT_CHAPTERS,
    "MP3": MOST_ID3_CHAPTERS,
}
"""Most chapters of a format, by libsndfile's name of it; others hold any number."""


def fitting(form: str, chapters: Sequence[Chapter]) -> Sequence[Chapter]:
    """Return the chapters that a format has room for, leaving out bridges first, then the last.

    `form` is the format, as libsndfile names it. `chapters` are in order of time.
    """
    most = MOST_CHAPTERS.get(form, len(chapters))
    if len(chapters) <= most:
        return chapters
    return [chapter for chapter in chapters if chapter.kind != "bridge"][:most]


def marker_bytes(title: str, chapters: Sequence[Chapter], rate: int) -> int:
    """Return by how many bytes a WAV file grows; parameters as those of `write_markers`."""
    return len(marker_chunks(_shown(title), _named(chapters), rate))


def write_markers(
    path: Path, form: str, title: str, chapters: Sequence[Chapter], rate: int
) -> None:
    """Write a title, unless it is empty, and chapters into a sound file without markers.

    The samples stay as they are. Memory does not grow with the file. If this is interrupted, the
    file is useless. `form` is WAV, RF64, FLAC, OGG or MP3, as libsndfile names it. `chapters` are
    in order of time; `fitting` chooses some if there are too many. `rate` is in Hz.

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
