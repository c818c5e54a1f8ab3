"""Comments as FLAC and Ogg Vorbis files have them: a vendor, then fields of a name and a value.

Vorbis I specification (Xiph.Org), section 5: lengths are little-endian, in 32 bits, and texts in
UTF-8. Chapters are the fields of Xiph.Org's Chapter Extension, numbered with three digits.
"""

import struct
from collections.abc import Iterator, Sequence
from typing import Final

from engine.routines.chapters import Chapter
from sounds.files.clock_time import clock_time

MOST_COMMENT_CHAPTERS: Final = 999
"""From 001 on."""


def marker_fields(title: str, chapters: Sequence[Chapter]) -> Iterator[str]:
    """Yield the fields for a title and chapters.

    `title` is on one line; not written if empty. `chapters` are at most `MOST_COMMENT_CHAPTERS`,
    their titles on one line.
    """
    if title:
        yield f"TITLE={title}"
    for number, chapter in enumerate(chapters, 1):
        yield f"CHAPTER{number:03}={clock_time(chapter.start)}"
        yield f"CHAPTER{number:03}NAME={chapter.title}"


def with_fields(comment: bytes, fields: Sequence[str]) -> bytes:
    """Return a comment with more fields; what may follow its fields is left out."""
    at = 4 + _length(comment, 0)
    count = _length(comment, at)
    end = at + 4
    for _ in range(count):
        end += 4 + _length(comment, end)
    added = [field.encode() for field in fields]
    pieces = [struct.pack("<I", len(field)) + field for field in added]
    counted = struct.pack("<I", count + len(added))
    return comment[:at] + counted + comment[at + 4 : end] + b"".join(pieces)


def _length(comment: bytes, at: int) -> int:
    (length,) = struct.unpack_from("<I", comment, at)
    return int(length)
