"""The way in and out of every file.

*Out*: a file is whole or not there. Each is written beside its place and renamed at the end, so
that an interruption or a full disk leaves no half file, and an earlier file stays untouched. An
output never takes the place of an input, or of another output, of the same command, nor of what is
no regular file. A link is followed, and stays a link.

*In*: an input is a regular file of a bounded size. A pipe would be waited for without end, and a
device may never end.

*Unfinished files* and temporary ones have names that no person gives. They are deleted at the end,
on signals that end the process too. Each is locked by the process that writes it, and the system
lets go of the lock when that ends, so the next process deletes what a killed one has left. Only
what cannot be made again has a plain name from the first, and stays.
"""

import atexit
import errno
import os
import re
import shutil
import stat
import sys
import threading
import time
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager, suppress
from contextvars import ContextVar
from itertools import count
from typing import TYPE_CHECKING, BinaryIO, Final, TypeAlias

from throwcount.sounds.errors import ClashError, FileError, InputError

if TYPE_CHECKING:
    from pathlib import Path
    from types import FrameType

if sys.platform != "win32":
    import fcntl

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

FileId: TypeAlias = tuple[int, int]
"""Device and inode: the same for every name of a file."""

_of_this_command: ContextVar[dict[FileId, str] | None] = ContextVar("files", default=None)
"""The files that the command has read, "an input", or written, "an output"."""


@contextmanager
def files_of_one_command() -> Iterator[None]:
    """Keep in mind which files are read and written in the context, so that none is both."""
    token = _of_this_command.set({})
    try:
        yield
    finally:
        _of_this_command.reset(token)


def _note(status: os.stat_result, what: str) -> None:
    files = _of_this_command.get()
    if files is not None:
        files[status.st_dev, status.st_ino] = what


KINDS: Final[tuple[tuple[Callable[[int], bool], str], ...]] = (
    (stat.S_ISDIR, "a folder"),
    (stat.S_ISFIFO, "a pipe"),
    (stat.S_ISSOCK, "a socket"),
)
"""What a path may name that is no regular file; all else is a device."""


def _kind(status: os.stat_result) -> str:
    """Return what a path names, such as "a pipe"; empty for a regular file."""
    if stat.S_ISREG(status.st_mode):
        return ""
    return next((name for is_so, name in KINDS if is_so(status.st_mode)), "a device")


def check_input(path: "Path") -> os.stat_result:
    """Check that `path` names a regular file, without opening it, and return its status.

    Raises
    ------
    InputError
        If it names something else.
    OSError
        If there is none.
    """
    status = path.stat()
    kind = _kind(status)
    if kind:
        raise InputError(f"{kind}, not a file")
    _note(status, "an input")
    return status


@contextmanager
def open_input(path: "Path") -> Iterator[BinaryIO]:
    """Open a regular file for reading; errors as those of `check_input`."""
    check_input(path)  # Opening a device can do something, such as rewind a tape.
    # Without blocking, in case a pipe has just taken its place.
    with os.fdopen(os.open(path, os.O_RDONLY | NO_WAITING), "rb") as file:
        if _kind(os.fstat(file.fileno())):
            raise InputError("a pipe or a device, not a file")
        yield file


NO_WAITING: Final[int] = getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)


def read_input(path: "Path", largest: int) -> bytes:
    """Return all of a regular file.

    Raises
    ------
    InputError
        If it is something else, or has more than `largest` bytes.
    OSError
        If it cannot be read.
    """
    with open_input(path) as file:
        content = file.read(largest + 1)
    if len(content) > largest:
        raise InputError(f"larger than {largest:,} bytes")
    return content


@contextmanager
def whole_file(path: "Path", *, overwrite: bool, lasting: bool = False) -> "Iterator[Path]":
    """Give the path of a new, empty file beside `path`, and rename it to `path` at the end.

    A link at `path` is followed. `overwrite` says whether an existing file is replaced. `lasting`
    is for what cannot be made again, such as a recording: the new file has a plain name, such as
    ``take-unfinished.wav``, and unless it is empty it stays where it cannot be finished.

    Raises
    ------
    FileError
        If the file cannot be written, or exists already. Then, and whenever an error is raised
        inside, nothing has changed but what is `lasting`.
    """
    place = type(path)(os.path.realpath(path))
    with plain_system_errors(path):
        check_free(path, overwrite=overwrite)
        _sweep(place.parent)
        unfinished = _plain_name(place) if lasting else place.with_name(_new_name())
        with _lasting(unfinished) if lasting else _owned(unfinished, _claim):
            yield unfinished
            check_free(path, overwrite=overwrite)
            for file in (place, unfinished):  # What is replaced may have another name.
                with suppress(FileNotFoundError):
                    _note(file.stat(), "an output")
            _put(unfinished, place, overwrite=overwrite)


def write_text(path: "Path", pieces: Iterable[str], *, overwrite: bool) -> None:
    """Write pieces of text as UTF-8; the other parameters and errors are those of `whole_file`."""
    with (
        whole_file(path, overwrite=overwrite) as unfinished,
        unfinished.open("w", encoding="utf-8", newline="\n") as file,
    ):
        file.writelines(pieces)


def check_free(path: "Path", *, overwrite: bool) -> None:
    """Check, before any work is done, that a file can be put at `path`.

    Raises
    ------
    ClashError
        If it is an input, or another output, of the same command.
    FileError
        If there is a folder, a pipe or a device, or a file that is not to be replaced, or no folder
        to put it in.
    """
    place = type(path)(os.path.realpath(path))
    with plain_system_errors(path):
        try:
            status = place.stat()
        except FileNotFoundError:
            place.parent.stat()
            return
        kind = _kind(status)
        if stat.S_ISDIR(status.st_mode):
            raise IsADirectoryError(errno.EISDIR, os.strerror(errno.EISDIR))
        if kind:
            raise FileError(f"{path} cannot be written. There is {kind} of that name, not a file.")
        what = (_of_this_command.get() or {}).get((status.st_dev, status.st_ino))
        if what:
            raise ClashError(
                f"{path} cannot be written. It is {what} of the same command; name another file."
            )
        if not overwrite:
            raise FileExistsError(errno.EEXIST, os.strerror(errno.EEXIST))


@contextmanager
def plain_system_errors(path: "Path") -> Iterator[None]:
    """Turn errors of the system into plain sentences about `path`."""
    try:
        yield
    except OSError as error:
        reason = REASONS.get(error.errno or 0, f"The system says: {error.strerror or error}.")
        raise FileError(f"{path} cannot be written. {reason}") from error


@contextmanager
def temporary_folder() -> "Iterator[Path]":
    """Give a new folder for temporary files, which is deleted with all in it.

    Raises
    ------
    OSError
        If there is no place for it.
    """
    folder = _temporary()
    with _owned(folder, lambda path: path.mkdir(0o700)):
        yield folder


@contextmanager
def temporary_file(folder: "Path | None" = None) -> "Iterator[Path]":
    """Give a new, empty file, which is deleted; in the system's temporary folder if None.

    Raises
    ------
    OSError
        If there is no place for it.
    """
    place = _temporary() if folder is None else folder / _new_name()
    place.parent.mkdir(parents=True, exist_ok=True)
    with _owned(place, lambda path: _claim(path, 0o600)):
        yield place


def _temporary() -> "Path":
    """Return a new place in the temporary folder, out of which leftovers are swept."""
    from pathlib import Path  # noqa: PLC0415 - slow
    from tempfile import gettempdir  # noqa: PLC0415 - likewise

    # `gettempdir` tries each folder with a file, which a kill would leave.
    named = (*filter(None, map(os.environ.get, ("TMPDIR", "TEMP", "TMP"))), "/tmp")  # noqa: S108
    # A place that cannot even be looked at is none; `Path.is_dir` would raise.
    usable = (each for each in named if os.path.isdir(each) and os.access(each, os.W_OK))  # noqa: PTH112
    folder = Path(next(usable, None) or gettempdir()).absolute()
    _sweep(folder)
    return folder / _new_name()


NAME: Final = re.compile(r"\.throwcount-[0-9a-f]{16}\.part")


def _new_name() -> str:
    return f".throwcount-{os.urandom(8).hex()}.part"


_owned_here: "dict[Path, int | None]" = {}
"""The unfinished and temporary files of this process, each with the descriptor of its lock."""


@contextmanager
def _owned(path: "Path", make: "Callable[[Path], None]") -> Iterator[None]:
    """Make a file or a folder, and delete it at the end, however that comes."""
    _delete_on_signals()
    _owned_here[path] = None
    try:
        make(path)
        _owned_here[path] = _lock(path)
        yield
    finally:
        _delete(path)


@contextmanager
def _lasting(path: "Path") -> Iterator[None]:
    """Make a file that stays where it cannot be finished, unless it is empty."""
    _claim(path)
    try:
        yield
    except BaseException:
        with suppress(OSError):
            if not path.stat().st_size:
                path.unlink()
        raise
    path.unlink(missing_ok=True)  # It may have its place as a second name.


def _plain_name(path: "Path") -> "Path":
    """Return a free name beside a file for what is not whole, such as ``take-unfinished.wav``."""
    names = (path.with_stem(f"{path.stem}-unfinished{number or ''}") for number in count())
    return next(name for name in names if not name.exists())


def _claim(path: "Path", mode: int = 0o666) -> None:
    """Make a new, empty file, with the usual permissions unless told otherwise."""
    os.close(os.open(path, os.O_CREAT | os.O_EXCL | os.O_WRONLY, mode))


def _put(unfinished: "Path", place: "Path", *, overwrite: bool) -> None:
    """Move a whole file to its place; where it must not overwrite, as a second name at first."""
    if overwrite:
        unfinished.replace(place)
        return
    try:
        os.link(unfinished, place)
    except FileExistsError:
        raise
    except OSError:  # Some disks know only one name for a file: then the place is claimed first.
        _claim(place)
        try:
            unfinished.replace(place)
        except BaseException:
            place.unlink()
            raise


def _lock(path: "Path") -> int | None:
    """Lock a file or folder, and return a descriptor that holds the lock; None without locks."""
    if sys.platform == "win32":  # What is open there cannot be deleted anyway.
        return None
    descriptor = os.open(path, os.O_RDONLY | os.O_NONBLOCK | os.O_NOFOLLOW)
    try:
        fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        os.close(descriptor)
        raise
    except OSError:  # Disks over a network may have no locks.
        os.close(descriptor)
        return None
    return descriptor


def _delete(path: "Path") -> None:
    """Delete what may still be there, and let go of its lock."""
    with suppress(OSError):  # On Windows it stays while another process has it open.
        try:
            path.unlink()
        except (IsADirectoryError, PermissionError):
            shutil.rmtree(path, ignore_errors=True)
    descriptor = _owned_here.pop(path, None)
    if descriptor is not None:
        os.close(descriptor)


def _delete_all() -> None:
    for path in list(_owned_here):
        _delete(path)


atexit.register(_delete_all)  # Ctrl-C may come just before a file is taken care of.

ENDING: Final = ("SIGTERM", "SIGHUP", "SIGQUIT")
"""Signals that end a process at once unless they are handled."""


def _delete_on_signals() -> None:
    """Let signals that end this process delete its unfinished files first.

    Those that are ignored or handled elsewhere are left alone; only the main thread can do this.
    """
    import signal  # noqa: PLC0415 - helps do without

    if threading.current_thread() is threading.main_thread():
        for number in (getattr(signal, name, None) for name in ENDING):
            if number is not None and signal.getsignal(number) is signal.SIG_DFL:
                signal.signal(number, _end)


def _end(number: int, _frame: "FrameType | None") -> None:
    import signal  # noqa: PLC0415 - loaded already

    _delete_all()
    signal.signal(number, signal.SIG_DFL)
    signal.raise_signal(number)


@contextmanager
def undisturbed() -> Iterator[None]:
    """Hold back signals that are handled and end this process while the context lasts.

    An exception out of a handler may come between two things that belong together, such as writing
    something and knowing that it is written. It comes at the end instead.
    """
    import signal  # noqa: PLC0415 - helps do without

    came: list[int] = []

    def hold(number: int, _frame: "FrameType | None") -> None:
        came.append(number)

    numbers = [getattr(signal, name) for name in ("SIGINT", *ENDING) if hasattr(signal, name)]
    here = threading.current_thread() is threading.main_thread()
    before = {number: signal.getsignal(number) for number in numbers if here}
    handlers = {number: handler for number, handler in before.items() if callable(handler)}
    try:
        for number in handlers:
            signal.signal(number, hold)
        yield
    finally:
        # SIGINT last, as from then on another one may come out of this loop.
        for number, handler in reversed(handlers.items()):
            signal.signal(number, handler)
        for number in came[-1:]:
            signal.raise_signal(number)


SETTLED: Final = 2.0
"""Seconds from the making of a file after which it has its lock for certain."""

FORGOTTEN: Final = 7 * 86_400.0
"""Seconds after which an unfinished file is given up where locks do not tell."""

_swept: set[str] = set()


def _sweep(folder: "Path") -> None:
    """Delete what killed processes of this person left in a folder; looks once a process."""
    if str(folder) in _swept:
        return
    _swept.add(str(folder))
    with suppress(OSError), os.scandir(folder) as entries:
        for entry in entries:
            if NAME.fullmatch(entry.name):
                with suppress(OSError):
                    _delete_if_left(folder / entry.name)


def _delete_if_left(path: "Path") -> None:
    """Delete an unfinished file or folder if it is this person's, and its process has ended."""
    status = path.lstat()
    age = time.time() - status.st_mtime
    foreign = hasattr(os, "getuid") and status.st_uid != os.getuid()
    if foreign or age < SETTLED or path in _owned_here:
        return
    held = _lock(path)
    if held is not None or age > FORGOTTEN:
        _owned_here[path] = held
        _delete(path)
