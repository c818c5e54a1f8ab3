"""What can be wrong with a practice log; each error's text is one or two plain sentences."""

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final

from caller.errors import OutsideError


class LogError(OutsideError):
    """The practice log cannot be used."""


class NewerLogError(LogError):
    """It was written by a later version of the program."""


class ForeignFileError(LogError):
    """The file is something else."""


class DamagedLogError(LogError):
    """The file is not whole."""


class BusyLogError(LogError):
    """Another program holds it, and did not let go in time."""


class UnwritableLogError(LogError):
    """It cannot be written there."""


DAMAGED: Final = "is damaged. Move it away, and a new one is begun."
FULL: Final = "The disk is full, or failed."
NO_PLACE: Final = (
    "It is on a disk that can only be read, or in a folder that does not exist or is closed to you."
)
REASONS: Final[dict[int, tuple[type[LogError], str]]] = {
    sqlite3.SQLITE_BUSY: (
        BusyLogError,
        "is held by another program, which did not let go of it in time.",
    ),
    sqlite3.SQLITE_LOCKED: (BusyLogError, "is held by another part of this program."),
    sqlite3.SQLITE_READONLY: (UnwritableLogError, f"cannot be written. {NO_PLACE}"),
    sqlite3.SQLITE_CANTOPEN: (UnwritableLogError, f"cannot be opened. {NO_PLACE}"),
    sqlite3.SQLITE_PERM: (UnwritableLogError, f"cannot be written. {NO_PLACE}"),
    sqlite3.SQLITE_FULL: (UnwritableLogError, f"cannot be written. {FULL}"),
    sqlite3.SQLITE_IOERR: (UnwritableLogError, f"cannot be read or written. {FULL}"),
    sqlite3.SQLITE_CORRUPT: (
        DamagedLogError,
        DAMAGED,
    ),
    sqlite3.SQLITE_NOTADB: (
        DamagedLogError,
        "is damaged, or is no practice log. Move it away, and a new one is begun.",
    ),
}
"""What SQLite's result codes mean here (https://sqlite.org/rescode.html)."""

PRIMARY_CODE: Final = 0xFF
"""The lowest byte of an extended code is its primary one."""


@contextmanager
def failures_told(path: Path) -> Iterator[None]:
    """Turn what SQLite and the system report into a plain sentence about the log at `path`.

    Faults of the program itself, such as a wrong query, are let through.
    """
    try:
        yield
    except (sqlite3.IntegrityError, sqlite3.ProgrammingError):
        raise
    except sqlite3.Error as error:
        code = getattr(error, "sqlite_errorcode", sqlite3.SQLITE_ERROR) & PRIMARY_CODE
        kind, reason = REASONS.get(code, (LogError, f"cannot be used: {error}."))
        raise kind(f"The practice log {path} {reason}") from error
    except UnicodeDecodeError as error:
        raise damaged(path) from error
    except OSError as error:
        reason = error.strerror or str(error)
        raise UnwritableLogError(
            f"The practice log {path} cannot be put there: {reason}."
        ) from error


def damaged(path: Path) -> DamagedLogError:
    """Return the error for a log at `path` with values in it that cannot be."""
    return DamagedLogError(f"The practice log {path} {DAMAGED}")
