"""Markers in FLAC files: fields in the comment before the sound (RFC 9639, section 8)."""

from collections.abc import Sequence
from pathlib import Path
from typing import BinaryIO, Final

from sounds.markers.front import replace_front
from sounds.markers.vorbis_comment import with_fields

MARK: Final = b"fLaC"
COMMENT: Final = 4
"""The type of a metadata block that holds a comment."""

LAST: Final = 0x80
"""Set beside the type of the last metadata block."""


def add_flac_fields(path: Path, fields: Sequence[str]) -> None:
    """Add fields to the comment of a FLAC file; its sound stays as it is.

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
    """Read the type and body of every metadata block; leave the file where the sound begins."""
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
