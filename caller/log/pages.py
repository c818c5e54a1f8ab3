"""Reads the rows of a damaged SQLite file page by page, without SQLite, and never writes.

SQLite gives up where a header, an index or a page on the way to others is damaged. Here each page
is looked at by itself: a leaf of a table holds whole rows. The layout is that of
https://sqlite.org/fileformat2.html, whose numbers stand beside the code: big-endian, pages counted
from 1. Text is taken to be UTF-8, as the program writes it.
"""

import os
import struct
from bisect import bisect_left
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import BinaryIO, Final, TypeAlias

Value: TypeAlias = int | float | str | bytes | None
"""What a column holds; bytes also for a text that is not UTF-8."""

MAGIC: Final = b"SQLite format 3\0"
HEADER: Final = 100
"""Bytes before the first page's own header (1.3)."""

PAGE_SIZES: Final = tuple(2**power for power in range(9, 17))
USUAL_PAGE: Final = 4096
"""Bytes of a page where nothing else is asked for."""

LEAST_USABLE: Final = 480
"""Bytes of a page that are not spare, at least (1.3.4)."""

INTERIOR: Final = 5
LEAF: Final = 13
"""The first byte of a page of a table (1.6)."""

SMALLEST_ROW: Final = 4
"""Bytes of a page that a row takes at least: its place, its length and its number."""

REAL, FIRST_TEXT = 7, 12
CONSTANTS: Final = {0: None, 8: 0, 9: 1}
LENGTHS: Final = {0: 0, 1: 1, 2: 2, 3: 3, 4: 4, 5: 6, 6: 8, REAL: 8, 8: 0, 9: 0}
"""Serial types of numbers, and of what needs no bytes, with their bytes (2.1)."""

LONGEST_VARINT: Final = 9
GOES_ON: Final = 0x80
"""The bit of a byte of such a number that tells that another byte follows (1.6)."""


class PageError(ValueError):
    """Something in a page cannot be what it says."""


@dataclass(frozen=True, slots=True)
class StoredRow:
    """A row as a page holds it."""

    page: int
    """The number of the page."""
    number: int
    """The number of the row, which SQLite calls its rowid."""
    values: tuple[Value, ...]
    """Its columns; NULL in place of the column that is the number."""


class Pages:
    """The pages of an SQLite file, as the last commit left them.

    `file` is open for reading. Pages of the write-ahead log `journal` take the place of those in
    the file, as far as they were committed. `usual` tells whether pages have the usual size,
    whatever the header says of them.
    """

    def __init__(self, file: BinaryIO, journal: bytes = b"", *, usual: bool = False) -> None:
        self._file = file
        bytes_of_file = file.seek(0, os.SEEK_END)
        self.header = self._bytes(0, HEADER)
        self.has_header = self.header.startswith(MAGIC)
        self.size, spare = (USUAL_PAGE, 0) if usual else self._told()
        self.is_usual = (self.size, spare) == (USUAL_PAGE, 0)
        self._usable = self.size - spare
        self._newer = committed_pages(journal, self.size)
        self.count = max([-(-bytes_of_file // self.size), *self._newer])
        if 1 in self._newer:
            self.header = self._newer[1][:HEADER]
            self.has_header = self.header.startswith(MAGIC)

    def number_at(self, offset: int) -> int:
        """Return the number of four bytes at an offset of the header (1.3); 0 without a header."""
        return int.from_bytes(self.header[offset : offset + 4]) if self.has_header else 0

    def page(self, number: int) -> bytes:
        """Return a page; empty if there is none, or the disk cannot read it."""
        if not 1 <= number <= self.count:
            return b""
        return self._newer.get(number) or self._bytes((number - 1) * self.size, self.size)

    def leaves(self, roots: Iterable[int]) -> Iterator[int]:
        """Yield the leaves of tables once each: first those that trees with these roots lead to.

        Then come the leaves that any page leads to, all others, and free pages, which may hold
        rows as they were before.
        """
        seen: set[int] = set()
        yield from self.leaves_below(roots, seen)
        free = set(self._free())
        leaves, below = [], set()
        for number in range(1, self.count + 1):
            kind = self._kind(page := self.page(number), number)
            if kind == INTERIOR:
                below |= set(self._children(page, number))
            elif kind == LEAF and number not in seen:
                leaves.append(number)
        yield from sorted(leaves, key=lambda number: (number in free, number not in below, number))

    def leaves_below(self, roots: Iterable[int], seen: set[int]) -> Iterator[int]:
        """Yield the leaves that trees with these roots lead to; pages in `seen` are passed over."""
        waiting = list(roots)
        while waiting:
            number = waiting.pop()
            if number in seen:
                continue
            seen.add(number)
            kind = self._kind(page := self.page(number), number)
            if kind == LEAF:
                yield number
            elif kind == INTERIOR:
                waiting += reversed(list(self._children(page, number)))

    def rows(self, number: int) -> Iterator[StoredRow | None]:
        """Yield the rows of a leaf, and None in the place of each that cannot be read."""
        page = self.page(number)
        numbers: list[int] = []
        rows: list[StoredRow | None] = []
        for place in self._places(page, number, 8):
            try:
                row = self._row(page, number, place)
            except (PageError, LookupError, struct.error):
                rows.append(None)
            else:
                rows.append(row)
                numbers.append(row.number)
        ascending = set(_ascending(numbers))
        for found in rows:
            # A page has its rows in order, so one out of order has a wrong number.
            yield found if found is None or found.number in ascending else None

    def _bytes(self, offset: int, length: int) -> bytes:
        try:
            self._file.seek(offset)
            return self._file.read(length)
        except OSError:
            return b""

    def _told(self) -> tuple[int, int]:
        """Return the size of a page, and how much of it is spare, as the header has them (1.3)."""
        size = int.from_bytes(self.header[16:18])
        size = PAGE_SIZES[-1] if size == 1 else size
        if not self.has_header or size not in PAGE_SIZES:
            return USUAL_PAGE, 0
        return size, self.header[20] if size - self.header[20] >= LEAST_USABLE else 0

    def _kind(self, page: bytes, number: int) -> int:
        start = HEADER if number == 1 else 0
        return page[start] if len(page) > start else 0

    def _children(self, page: bytes, number: int) -> Iterator[int]:
        """Yield the pages that an interior page leads to."""
        start = HEADER if number == 1 else 0
        for place in self._places(page, number, 12):
            yield int.from_bytes(page[place : place + 4])
        yield int.from_bytes(page[start + 8 : start + 12])

    def _places(self, page: bytes, number: int, header: int) -> Iterator[int]:
        """Yield where the cells of a page stand; its own header has so many bytes."""
        start = HEADER if number == 1 else 0
        first = start + header
        cells = int.from_bytes(page[start + 3 : start + 5])
        for at in range(first, min(first + 2 * cells, len(page) - 1), 2):
            place = int.from_bytes(page[at : at + 2])
            if first <= place < self.size:
                yield place

    def _free(self) -> Iterator[int]:
        """Yield the pages of the list of free pages (1.5)."""
        trunk, trunks = self.number_at(32), set[int]()
        while trunk and trunk not in trunks:
            trunks.add(trunk)
            yield trunk
            page = self.page(trunk)
            entries = min(int.from_bytes(page[4:8]), self.size // 4 - 2)
            yield from (int.from_bytes(page[at : at + 4]) for at in range(8, 8 + 4 * entries, 4))
            trunk = int.from_bytes(page[:4])

    def _row(self, page: bytes, number: int, place: int) -> StoredRow:
        length, place = _varint(page, place)
        row, place = _varint(page, place)
        if not 1 <= row <= self.count * self.size // SMALLEST_ROW:
            raise PageError(f"there are not {row} rows")
        return StoredRow(number, row, _record(self._payload(page, place, length)))

    def _payload(self, page: bytes, place: int, length: int) -> bytes:
        """Return the content of a cell, with the overflow pages that it goes on in (1.6)."""
        room = self._usable - 35
        if length > self.count * self.size:
            raise PageError("longer than the file")
        if length <= room:
            return page[place : place + length]
        least = (self._usable - 12) * 32 // 255 - 23
        here = least + (length - least) % (self._usable - 4)
        here = here if here <= room else least
        parts = [page[place : place + here]]
        further = int.from_bytes(page[place + here : place + here + 4])
        missing = length - here
        while missing > 0:
            if not (page := self.page(further)):
                raise PageError("the rest is missing")
            parts.append(page[4 : 4 + min(missing, self._usable - 4)])
            missing -= self._usable - 4
            further = int.from_bytes(page[:4])
        return b"".join(parts)


def _varint(data: bytes, at: int) -> tuple[int, int]:
    """Return a number of 1 to 9 bytes, and where it ends (1.6)."""
    value = 0
    for index in range(at, at + LONGEST_VARINT - 1):
        byte = data[index]
        value = value << 7 | byte & 0x7F
        if byte < GOES_ON:
            return value, index + 1
    value = value << 8 | data[at + LONGEST_VARINT - 1]
    return (value - 2**64 if value >= 2**63 else value), at + LONGEST_VARINT


def _record(payload: bytes) -> tuple[Value, ...]:
    """Return the columns of a row (2.1); raise `PageError` unless it fits its length exactly."""
    header, at = _varint(payload, 0)
    kinds: Sequence[int] = payload[at:header]
    if max(kinds, default=0) >= GOES_ON:
        kinds = list(_varints(payload, at, header))
    at = header
    values: list[Value] = []
    for kind in kinds:
        length = (kind - FIRST_TEXT) // 2 if kind >= FIRST_TEXT else LENGTHS[kind]
        content = payload[at : at + length]
        at += length
        if kind >= FIRST_TEXT:
            values.append(_text(content) if kind % 2 else content)
        elif kind == REAL:
            values.append(struct.unpack(">d", content)[0])
        else:
            values.append(int.from_bytes(content, signed=True) if length else CONSTANTS[kind])
    if at != len(payload) or not values:
        raise PageError("the columns do not fit into the row")
    return tuple(values)


def _varints(payload: bytes, at: int, end: int) -> Iterator[int]:
    while at < end:
        number, at = _varint(payload, at)
        yield number


def _text(content: bytes) -> str | bytes:
    try:
        return content.decode()
    except UnicodeDecodeError:
        return content


def _ascending(numbers: list[int]) -> list[int]:
    """Return the longest ascending choice of the numbers (Fredman, Discrete Math. 11, 1975)."""
    if all(one < other for one, other in pairwise(numbers)):
        return numbers
    lowest: list[int] = []
    ends: list[int] = []
    before: list[int] = []
    for index, number in enumerate(numbers):
        length = bisect_left(lowest, number)
        lowest[length : length + 1] = [number]
        ends[length : length + 1] = [index]
        before.append(ends[length - 1] if length else -1)
    chosen = []
    index = ends[-1]
    while index >= 0:
        chosen.append(numbers[index])
        index = before[index]
    return chosen


WAL_MAGIC: Final = 0x377F0682
"""Of a write-ahead log; one more where its checksums are of big-endian numbers (4.1)."""

WAL_HEADER: Final = 32
FRAME_HEADER: Final = 24


def committed_pages(journal: bytes, size: int) -> dict[int, bytes]:
    """Return the last committed state of each page in a write-ahead log (4.1 to 4.3).

    A frame counts if its checksum goes on from the frame before it, so that one damaged frame
    does not take those after it along, as it would in SQLite.
    """
    order = ">" if int.from_bytes(journal[:4]) == WAL_MAGIC + 1 else "<"
    pages: dict[int, bytes] = {}
    waiting: dict[int, bytes] = {}
    salts, before = journal[16:24], journal[24:32]
    for start in range(WAL_HEADER, len(journal) - FRAME_HEADER - size + 1, FRAME_HEADER + size):
        header = journal[start : start + FRAME_HEADER]
        page = journal[start + FRAME_HEADER : start + FRAME_HEADER + size]
        number, pages_after = struct.unpack(">II", header[:8])
        sums = struct.unpack(">II", before)
        whole = header[8:16] == salts and header[16:24] == struct.pack(
            ">II", *_checksum(page, _checksum(header[:8], sums, order), order)
        )
        before = header[16:24]
        if whole:
            waiting[number] = page
            if pages_after:
                pages |= waiting
                waiting = {}
    return pages


def _checksum(data: bytes, sums: tuple[int, int], order: str) -> tuple[int, int]:
    """Return the checksum of a frame, going on from `sums`."""
    one, two = sums
    words = struct.unpack(f"{order}{len(data) // 4}I", data)
    for even, odd in zip(words[::2], words[1::2], strict=True):
        one = (one + even + two) & 0xFFFFFFFF
        two = (two + odd + one) & 0xFFFFFFFF
    return one, two


def read_journal(path: Path) -> bytes:
    """Return the write-ahead log beside a file; empty if there is none."""
    try:
        return path.with_name(f"{path.name}-wal").read_bytes()
    except OSError:
        return b""
