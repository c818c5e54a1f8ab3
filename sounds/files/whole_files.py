"""Files that are whole or not there: each is written beside its place and renamed at the end.

An interruption or a full disk leaves no half file, and an earlier file stays untouched.
"""

import errno
import os
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final

from throwcount.sounds.errors import FileError

ROOM: Final = "The disk is full, or the file grew larger than is allowed there."
REASONS: Final = {
    errno.EEXIST: "There is a file of that name already; it was left as it is.",
    errno.EISDIR: "There is a folder of that name.",
    errno.ENOENT: "There is no such folder to put it in.",
    errno.ENOTDIR: "Part of the path to it is a file, not a folder.",
    errno.EACCES: "You have no permission to write there.",
    errno.EPERM: "You have no permission to write there.",
    errno.EROFS: "The disk is read-only.",
    errno.ENAMETOOLONG: "Its name is too long.",
    errno.ENOSPC: ROOM,
    errno.EDQUOT: ROOM,
    errno.EFBIG: ROOM,
}
"""What the system's error numbers mean for writing."""


@contextmanager
def whole_file(path: Path, *, overwrite: bool) -> Iterator[Path]:
    """Give the path of a new, empty file beside `path`, and rename it to `path` at the end.

    A link at `path` is followed. `overwrite` says whether an existing file is replaced.

    Raises
    ------
    FileError
        If the file cannot be written, or exists already. Then, and whenever an error is raised
        inside, nothing has changed.
    """
    place = Path(os.path.realpath(path))
    with system_errors_told(path):
        check_free(path, overwrite=overwrite)
        unfinished = place.with_name(f".throwcount-{os.urandom(8).hex()}.part")
        _claim(unfinished)
        try:
            yield unfinished
            _put(unfinished, place, overwrite=overwrite)
        finally:
            unfinished.unlink(missing_ok=True)


def write_text(path: Path, pieces: Iterable[str], *, overwrite: bool) -> None:
    """Write pieces of text as UTF-8; the other parameters and errors are those of `whole_file`."""
    with (
        whole_file(path, overwrite=overwrite) as unfinished,
        unfinished.open("w", encoding="utf-8", newline="\n") as file,
    ):
        file.writelines(pieces)


def check_free(path: Path, *, overwrite: bool) -> None:
    """Check, before any work is done, that a file can be put at `path`.

    Raises
    ------
    FileError
        If there is a folder, or a file that is not to be replaced, or no folder to put it in.
    """
    place = Path(os.path.realpath(path))
    with system_errors_told(path):
        if place.is_dir():
            raise IsADirectoryError(errno.EISDIR, os.strerror(errno.EISDIR))
        if place.exists() and not overwrite:
            raise FileExistsError(errno.EEXIST, os.strerror(errno.EEXIST))
        place.parent.stat()


@contextmanager
def system_errors_told(path: Path) -> Iterator[None]:
    """Turn errors of the system into plain sentences about `path`."""
    try:
        yield
    except OSError as error:
        reason = REASONS.get(error.errno or 0, f"The system says: {error.strerror or error}.")
        raise FileError(f"{path} cannot be written. {reason}") from error


def _claim(path: Path) -> None:
    """Make a new, empty file with the usual permissions."""
    os.close(os.open(path, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o666))


def _put(unfinished: Path, place: Path, *, overwrite: bool) -> None:
    """Move a whole file to its place, which is claimed first unless it may overwrite."""
    if overwrite:
        unfinished.replace(place)
        return
    _claim(place)
    try:
        unfinished.replace(place)
    except BaseException:
        place.unlink()
        raise
