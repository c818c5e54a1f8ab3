"""Title and chapters as tags of MP3, FLAC and Ogg Vorbis files, and times as those tags write them.

*MP3*: an ID3 tag in front of the sound. ID3 tag version 2.3.0 (Nilsson, 1999), which most players
read, has the header and the title; ID3v2 Chapter Frame Addendum 1.0 (Newell, 2005) has a frame for
each chapter, and those for the table of contents.

*FLAC and Ogg Vorbis*: fields of a Vorbis comment (Vorbis I specification, Xiph.Org, section 5): a
vendor, then fields of a name and a value; lengths are little-endian in 32 bits, texts in UTF-8.
Chapters are the fields of Xiph.Org's Chapter Extension, numbered with three digits. In FLAC the
comment is a metadata block before the sound (RFC 9639, section 8). In Ogg it is the second packet
of the stream. RFC 3533 has the pages: a longer comment moves the pages that follow, and if it takes
more of them, these are renumbered, each with a new checksum. The identification is on a page of its
own, then come comment and setup, and the sound begins on a new page (Vorbis I, section 4 and
appendix A).
"""

import struct
import zlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import BinaryIO, Final

from throwcount.engine.scheduling.scheduler import Chapter


def milliseconds(seconds: float) -> int:
    """Return seconds in milliseconds, rounded to the nearest."""
    return round(seconds * 1000)


def clock_time(seconds: float) -> str:
    """Return a time of 0 or more as ``hh:mm:ss.ttt``, with more digits from 100 hours on."""
    whole, thousandths = divmod(milliseconds(seconds), 1000)
    minutes, second = divmod(whole, 60)
    hours, minute = divmod(minutes, 60)
    return f"{hours:02}:{minute:02}:{second:02}.{thousandths:03}"


MOST_ENTRIES: Final = 255
"""Most entries of a table of contents, which counts them in one byte."""

MOST_ID3_CHAPTERS: Final = MOST_ENTRIES**2
"""Most chapters in a table of tables."""

TOP_LEVEL: Final = 2
ORDERED: Final = 1
"""Flags of a table of contents."""

NO_OFFSET: Final = 0xFFFFFFFF
"""Given as a chapter's byte offset, so that its times are used."""


def id3_tag(title: str, chapters: Sequence[Chapter]) -> bytes:
    """Return the tag for a title, unless it is empty, and at most `MOST_ID3_CHAPTERS` chapters.

    All titles are on one line.
    """
    frames = _title(title) if title else b""
    if chapters:
        names = [f"chapter{number}" for number in range(1, len(chapters) + 1)]
        frames += b"".join(_tables(names)) + b"".join(map(_chapter, names, chapters))
    return b"ID3" + bytes([3, 0, 0]) + _seven_bits(len(frames)) + frames


def _tables(names: Sequence[str]) -> Iterator[bytes]:
    """Yield the table of contents, with tables within it if there are too many chapters for one."""
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
    """Return the frame of a title in ASCII or UTF-16; version 2.3 knows Latin-1 and UTF-16 only."""
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


MOST_COMMENT_CHAPTERS: Final = 999
"""Most chapters, numbered from 001."""


def marker_fields(title: str, chapters: Sequence[Chapter]) -> Iterator[str]:
    """Yield the fields for a title, unless it is empty, and chapters.

    There are at most `MOST_COMMENT_CHAPTERS`; all titles are on one line.
    """
    if title:
        yield f"TITLE={title}"
    for number, chapter in enumerate(chapters, 1):
        yield f"CHAPTER{number:03}={clock_time(chapter.start)}"
        yield f"CHAPTER{number:03}NAME={chapter.title}"


def with_fields(comment: bytes, fields: Sequence[str]) -> bytes:
    """Return a comment with more fields, without what may follow its own."""
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


BLOCK: Final = 2**20
"""Bytes moved at a time."""


def replace_front(path: Path, length: int, front: bytes) -> None:
    """Replace the first `length` bytes of a file by `front`, which is at least as long.

    What follows moves back. Memory does not grow with the file. If this is interrupted, the file is
    useless.

    Raises
    ------
    OSError
        If the file cannot be read or written.
    """
    by = len(front) - length
    with path.open("r+b") as file:
        end = file.seek(0, 2)
        while by and end > length:
            start = max(length, end - BLOCK)
            file.seek(start)
            block = file.read(end - start)
            file.seek(start + by)
            file.write(block)
            end = start
        file.seek(0)
        file.write(front)


MARK: Final = b"fLaC"
COMMENT: Final = 4
"""The type of a metadata block that holds a comment."""

LAST: Final = 0x80
"""A bit set in the type of the last metadata block."""


def add_flac_fields(path: Path, fields: Sequence[str]) -> None:
    """Add fields to the comment of a FLAC file, whose sound stays as it is.

    Raises
    ------
    OSError
        If the file cannot be read or written.
    """
    with path.open("rb") as file:
        blocks = _metadata(file)
        length = file.tell()
    changed = [
        (kind, with_fields(body, fields) if kind == COMMENT else body) for kind, body in blocks
    ]
    replace_front(path, length, MARK + _written(changed))


def _metadata(file: BinaryIO) -> list[tuple[int, bytes]]:
    """Return the type and body of every metadata block; stop where the sound begins."""
    file.seek(len(MARK))
    blocks: list[tuple[int, bytes]] = []
    last = 0
    while not last:
        head = file.read(4)
        last = head[0] & LAST
        blocks.append((head[0] & ~LAST, file.read(int.from_bytes(head[1:]))))
    return blocks


def _written(blocks: Sequence[tuple[int, bytes]]) -> bytes:
    pieces = []
    for left, (kind, body) in zip(reversed(range(len(blocks))), blocks, strict=True):
        pieces.append(bytes([kind if left else kind | LAST]) + len(body).to_bytes(3) + body)
    return b"".join(pieces)


HEAD: Final = struct.Struct("<4sBBqIIIB")
"""Head of a page: capture pattern, version, flags, position, stream, page number, checksum, number
of segments."""

CHECKSUM_AT: Final = 22
"""Offset of a page's checksum, which has 4 bytes."""

MOST_SEGMENTS: Final = 255
LONGEST_SEGMENT: Final = 255
"""A packet is cut into segments of this length; a shorter one ends it."""

CONTINUED: Final = 1
"""Flag of a page that begins within a packet."""

NO_PACKET_ENDS: Final = -1
"""Position of a page on which no packet ends."""

COMMENT_HEAD: Final = b"\x03vorbis"
FRAMING: Final = b"\x01"
"""The bytes before and after the comment in its packet."""

MIRRORED: Final = bytes(int(f"{byte:08b}"[::-1], 2) for byte in range(256))
"""Every byte with its bits in reverse."""


@dataclass(frozen=True, slots=True)
class Page:
    """An Ogg page; numbers are as in its head."""

    flags: int
    position: int
    stream: int
    number: int
    segments: bytes
    """The lengths of the segments."""
    body: bytes
    """All segments, one after another."""

    def __bytes__(self) -> bytes:
        head = HEAD.pack(
            b"OggS", 0, self.flags, self.position, self.stream, self.number, 0, len(self.segments)
        )
        page = head + self.segments + self.body
        return page[:CHECKSUM_AT] + struct.pack("<I", checksum(page)) + page[CHECKSUM_AT + 4 :]


def checksum(page: bytes) -> int:
    """Return the checksum of a page that has zeros in its place (RFC 3533, section 6).

    It is a CRC-32 with zlib's polynomial, but with the bits in reverse order and an initial value
    of 0.
    """
    mirrored = ~zlib.crc32(page.translate(MIRRORED), 0xFFFFFFFF) & 0xFFFFFFFF
    return int(f"{mirrored:032b}"[::-1], 2)


def add_ogg_fields(path: Path, fields: Sequence[str]) -> None:
    """Add fields to the comment of an Ogg Vorbis file of one stream, whose sound stays as it is.

    Raises
    ------
    OSError
        If the file cannot be read or written.
    """
    with path.open("rb") as file:
        first = _read(file)
        old = list(_header_pages(file))
        length = file.tell()
    comment, setup = _packets(old)
    bare = comment.removeprefix(COMMENT_HEAD)
    changed = COMMENT_HEAD + with_fields(bare, fields) + FRAMING
    new = list(_paged([changed, setup], old[0]))
    replace_front(path, length, b"".join(map(bytes, [first, *new])))
    added = len(new) - len(old)
    if added:
        _renumber(path, sum(len(bytes(page)) for page in [first, *new]), added)


def _read(file: BinaryIO) -> Page:
    _, _, flags, position, stream, number, _, count = HEAD.unpack(file.read(HEAD.size))
    segments = file.read(count)
    return Page(flags, position, stream, number, segments, file.read(sum(segments)))


def _header_pages(file: BinaryIO) -> Iterator[Page]:
    """Yield the pages of the comment and the setup."""
    ended = 0
    while ended < 2:  # noqa: PLR2004 - comment and setup
        page = _read(file)
        ended += sum(length < LONGEST_SEGMENT for length in page.segments)
        yield page


def _packets(pages: Sequence[Page]) -> list[bytes]:
    """Return the packets on pages."""
    packets, packet = [], b""
    for page in pages:
        at = 0
        for length in page.segments:
            packet += page.body[at : at + length]
            at += length
            if length < LONGEST_SEGMENT:
                packets.append(packet)
                packet = b""
    return packets


def _paged(packets: Sequence[bytes], like: Page) -> Iterator[Page]:
    """Yield full pages with these packets, numbered from that of `like` on."""
    lengths = b"".join(_segments(len(packet)) for packet in packets)
    body = b"".join(packets)
    within = False
    for number, at in enumerate(range(0, len(lengths), MOST_SEGMENTS), like.number):
        segments = lengths[at : at + MOST_SEGMENTS]
        size = sum(segments)
        ends = min(segments) < LONGEST_SEGMENT
        page = replace(like, number=number, segments=segments, body=body[:size])
        yield replace(
            page, flags=CONTINUED if within else 0, position=0 if ends else NO_PACKET_ENDS
        )
        within = segments[-1] == LONGEST_SEGMENT
        body = body[size:]


def _segments(length: int) -> bytes:
    """Return the lengths of the segments of a packet of `length` bytes."""
    whole, rest = divmod(length, LONGEST_SEGMENT)
    return bytes([LONGEST_SEGMENT] * whole + [rest])


def _renumber(path: Path, start: int, by: int) -> None:
    """Add `by` to the numbers of the pages from a place in a file on."""
    with path.open("r+b") as file:
        end = file.seek(0, 2)
        file.seek(start)
        while file.tell() < end:
            at = file.tell()
            page = _read(file)
            file.seek(at)
            file.write(bytes(replace(page, number=page.number + by)))
