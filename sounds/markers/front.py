"""The front of a file is replaced by a longer one, and what follows it moves back."""

from pathlib import Path
from typing import Final

BLOCK: Final = 2**20
"""Bytes moved at a time."""


def replace_front(path: Path, length: int, front: bytes) -> None:
    """Write `front` in place of the first bytes of a file; memory does not grow with the file.

    If this is interrupted, the file is of no use any more. `length` is how many bytes are replaced.
    `front` is what takes their place, at least as long.

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
