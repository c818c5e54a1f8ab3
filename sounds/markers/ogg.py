"""Markers in Ogg Vorbis files: fields in the comment, which is the second packet of the stream.

RFC 3533 has the pages: a longer comment moves the pages that follow, and where it takes more of
them, these are counted anew, each with a new checksum. Vorbis I specification (Xiph.Org), section 4
and appendix A: identification on a page of its own, then comment and setup, after which the sound
begins on a new page.
"""

import struct
import zlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import BinaryIO, Final

from sounds.markers.front import replace_front
from sounds.markers.vorbis_comment import with_fields

HEAD: Final = struct.Struct("<4sBBqIIIB")
"""Of a page: a mark, version, flags, position, stream, number of the page, checksum, segments."""

CHECKSUM_AT: Final = 22
"""Where a page has its checksum, in 4 bytes."""

MOST_SEGMENTS: Final = 255
LONGEST_SEGMENT: Final = 255
"""A packet is cut in segments of this length; a shorter one ends it."""

CONTINUED: Final = 1
"""The flag of a page that begins within a packet."""

NO_PACKET_ENDS: Final = -1
"""The position of a page on which none does."""

COMMENT_HEAD: Final = b"\x03vorbis"
FRAMING: Final = b"\x01"
"""What stands before and after the comment in its packet."""

MIRRORED: Final = bytes(int(f"{byte:08b}"[::-1], 2) for byte in range(256))
"""Every byte with its bits in reverse."""


@dataclass(frozen=True, slots=True)
class Page:
    """A page."""

    flags: int
    position: int
    stream: int
    number: int
    """All four are as the page's head has them."""
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

    It has the polynomial of zlib's CRC-32 with the bits the other way round, and begins with 0.
    """
    mirrored = ~zlib.crc32(page.translate(MIRRORED), 0xFFFFFFFF) & 0xFFFFFFFF
    return int(f"{mirrored:032b}"[::-1], 2)


def add_ogg_fields(path: Path, fields: Sequence[str]) -> None:
    """Add fields to the comment of an Ogg Vorbis file with one stream; its sound stays as it is.

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
    """Read the pages of the comment and the setup."""
    ended = 0
    while ended < 2:  # noqa: PLR2004 - comment and setup
        page = _read(file)
        ended += sum(length < LONGEST_SEGMENT for length in page.segments)
        yield page


def _packets(pages: Sequence[Page]) -> list[bytes]:
    """Return the packets that pages hold."""
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
    """Lay packets out on pages, numbered from that of `like` on, as full as they can be."""
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
    """Return the lengths of the segments of a packet."""
    whole, rest = divmod(length, LONGEST_SEGMENT)
    return bytes([LONGEST_SEGMENT] * whole + [rest])


def _renumber(path: Path, start: int, by: int) -> None:
    """Count the pages from a place in a file on as `by` later."""
    with path.open("r+b") as file:
        end = file.seek(0, 2)
        file.seek(start)
        while file.tell() < end:
            at = file.tell()
            page = _read(file)
            file.seek(at)
            file.write(bytes(replace(page, number=page.number + by)))
