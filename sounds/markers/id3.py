"""Markers in MP3 files: an ID3 tag, version 2.3, in front of the sound.

ID3 tag version 2.3.0 (Nilsson, 1999) has the header and the title; ID3v2 Chapter Frame Addendum 1.0
(Newell, 2005) has a frame for each chapter, and those for the table of contents. Version 2.3 is
what most players read.
"""

import struct
from collections.abc import Iterator, Sequence
from typing import Final

from engine.routines.chapters import Chapter
from sounds.files.clock_time import milliseconds

MOST_ENTRIES: Final = 255
"""In one table of contents: they are counted in one byte."""

MOST_ID3_CHAPTERS: Final = MOST_ENTRIES**2
"""In a table of tables."""

TOP_LEVEL: Final = 2
ORDERED: Final = 1
"""Flags of a table of contents."""

NO_OFFSET: Final = 0xFFFFFFFF
"""In place of where in the file a chapter is: its times are to be used."""


def id3_tag(title: str, chapters: Sequence[Chapter]) -> bytes:
    """Return the tag for a title and chapters.

    `title` is on one line; not written if empty. `chapters` are at most `MOST_ID3_CHAPTERS`, their
    titles on one line.
    """
    frames = _title(title) if title else b""
    if chapters:
        names = [f"chapter{number}" for number in range(1, len(chapters) + 1)]
        frames += b"".join(_tables(names)) + b"".join(map(_chapter, names, chapters))
    return b"ID3" + bytes([3, 0, 0]) + _seven_bits(len(frames)) + frames


def _tables(names: Sequence[str]) -> Iterator[bytes]:
    """Yield the table of contents: of the chapters, or of tables where there are too many."""
    if len(names) <= MOST_ENTRIES:
        yield _table("contents", TOP_LEVEL, names)
        return
    groups = [names[at : at + MOST_ENTRIES] for at in range(0, len(names), MOST_ENTRIES)]
    tables = {f"contents{number}": group for number, group in enumerate(groups, 1)}
    yield _table("contents", TOP_LEVEL, list(tables))
    for name, group in tables.items():
        yield _table(name, 0, group)


def _table(name: str, flags: int, entries: Sequence[str]) -> bytes:
    counted = bytes([flags | ORDERED, len(entries)])
    return _frame(b"CTOC", _name(name) + counted + b"".join(map(_name, entries)))


def _chapter(name: str, chapter: Chapter) -> bytes:
    start, end = milliseconds(chapter.start), milliseconds(chapter.end)
    times = struct.pack(">IIII", start, end, NO_OFFSET, NO_OFFSET)
    return _frame(b"CHAP", _name(name) + times + _title(chapter.title))


def _title(title: str) -> bytes:
    """Return the frame of a title: in Latin-1, or else in UTF-16; version 2.3 has no others."""
    if title.isascii():
        return _frame(b"TIT2", b"\0" + title.encode())
    return _frame(b"TIT2", b"\1\xff\xfe" + title.encode("utf-16-le"))


def _name(name: str) -> bytes:
    return name.encode() + b"\0"


def _frame(kind: bytes, body: bytes) -> bytes:
    return kind + struct.pack(">IH", len(body), 0) + body


def _seven_bits(size: int) -> bytes:
    """Return a size in four bytes of seven bits each."""
    return bytes(size >> shift & 0x7F for shift in (21, 14, 7, 0))
