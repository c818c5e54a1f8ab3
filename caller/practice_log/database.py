"""The connection to a practice log: opened, brought up to date, and safe to share.

The journal is a write-ahead log, so that readers and one writer at a time do not disturb each
other, whichever program they are in; with ``synchronous=FULL`` every commit waits for the disk
(https://sqlite.org/wal.html, https://sqlite.org/pragma.html#pragma_synchronous).
"""

import sqlite3
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Final

from caller.practice_log.errors import (
    ForeignFileError,
    NewerLogError,
    UnwritableLogError,
    failures_told,
)
from caller.practice_log.schema import APPLICATION_ID, STEPS, Step

PATIENCE: Final = 2.0
"""Seconds to wait for another program that writes."""

IN_MEMORY: Final = ":memory:"
"""What SQLite calls a file that is none."""

PAUSE: Final = 0.02
"""Seconds between two tries, where SQLite itself does not wait."""


class Database:
    """A practice log that is open, and of this version.

    `path` is the file of the log; errors tell it. The connection is owned from now on.
    """

    def __init__(self, path: Path, connection: sqlite3.Connection) -> None:
        self.path = path
        self._connection = connection

    def rows(self, query: str, values: Mapping[str, Any]) -> Iterator[sqlite3.Row]:
        """Yield the rows of a query one by one; none is kept.

        Raises
        ------
        LogError
            If the file cannot be read.
        """
        with failures_told(self.path):
            rows = self._connection.execute(query, values)
            for row in rows:  # noqa: UP028 - `yield from` may close it after the connection
                yield row

    def row(self, query: str, values: Mapping[str, Any]) -> sqlite3.Row | None:
        """Return the first row of a query, or None; errors as those of `rows`."""
        with failures_told(self.path):
            found: sqlite3.Row | None = self._connection.execute(query, values).fetchone()
            return found

    @contextmanager
    def change(self) -> Iterator[sqlite3.Connection]:
        """Hand out the connection for changes that are all made, and on the disk, or none is.

        Raises
        ------
        LogError
            If the file cannot be written.
        """
        with failures_told(self.path), _transaction(self._connection, "BEGIN IMMEDIATE"):
            yield self._connection

    @contextmanager
    def unchanging(self) -> Iterator[None]:
        """Show the log as it is now for as long as this lasts, whatever others write meanwhile."""
        with failures_told(self.path), _transaction(self._connection, "BEGIN"):
            yield

    def close(self) -> None:
        """Let go of the file."""
        self._connection.close()


def open_database(
    path: Path, patience: float = PATIENCE, steps: tuple[Step, ...] = STEPS
) -> Database:
    """Open the log at `path` for reading and writing; without a file, begin an empty one.

    Parameters
    ----------
    path
        Folders that are missing on the way to it are made.
    patience
        Seconds to wait for another program that writes.
    steps
        To bring an older log up to date.

    Raises
    ------
    LogError
        If it cannot be used.
    """
    with failures_told(path):
        path.parent.mkdir(parents=True, exist_ok=True)
    return _opened(path, _address(path, "mode=rwc"), patience, steps)


def open_database_to_read(
    path: Path, patience: float = PATIENCE, steps: tuple[Step, ...] = STEPS
) -> Database:
    """Open the log at `path` for reading; without a file, an empty one that is none either.

    Parameters and errors are those of `open_database`. An older log is brought up to date where it
    can be written. On a disk that can only be read, a log of this version is read as it stands in
    the file.
    """
    with failures_told(path):
        if not path.exists():
            return _opened(path, IN_MEMORY, patience, steps)
    try:
        return _opened(path, _address(path, "mode=rw"), patience, steps)
    except UnwritableLogError:
        journal = path.with_name(f"{path.name}-wal")
        if journal.exists() and journal.stat().st_size:
            raise
        return _opened(path, _address(path, "mode=ro&immutable=1"), patience, steps)


def _opened(path: Path, address: str, patience: float, steps: tuple[Step, ...]) -> Database:
    with failures_told(path):
        connection = sqlite3.connect(address, timeout=patience, isolation_level=None, uri=True)
        connection.row_factory = sqlite3.Row
        try:
            if _version(path, connection, len(steps)) < len(steps):
                _bring_up_to_date(path, connection, patience, steps)
            connection.execute("PRAGMA synchronous = FULL")
            connection.execute("PRAGMA foreign_keys = ON")
        except BaseException:
            connection.close()
            raise
    return Database(path, connection)


def _address(path: Path, how: str) -> str:
    """Return a file as SQLite's kind of URI (https://sqlite.org/uri.html)."""
    return f"{path.absolute().as_uri()}?{how}"


def _version(path: Path, connection: sqlite3.Connection, newest: int) -> int:
    """Return how many steps a file has behind it, 0 if it is empty."""
    tables = _number(connection, "SELECT count(*) FROM sqlite_master")
    version = _number(connection, "PRAGMA user_version")
    application = _number(connection, "PRAGMA application_id")
    if application != APPLICATION_ID and (application or version or tables):
        raise ForeignFileError(f"{path} is a file of another program and no practice log.")
    if version > newest:
        raise NewerLogError(
            f"The practice log {path} was written by a newer throwcount: it has version "
            f"{version}, and this one knows versions up to {newest}. Update throwcount to use it."
        )
    return version


def _bring_up_to_date(
    path: Path, connection: sqlite3.Connection, patience: float, steps: tuple[Step, ...]
) -> None:
    _write_ahead(connection, patience)
    with _transaction(connection, "BEGIN IMMEDIATE"):
        # Another program may have done it while this one waited for its turn.
        for step in steps[_version(path, connection, len(steps)) :]:
            for statement in step:
                connection.execute(statement)
        connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
        connection.execute(f"PRAGMA user_version = {len(steps)}")


def _write_ahead(connection: sqlite3.Connection, patience: float) -> None:
    """Set the kind of journal, which stays with the file; several programs may try at once."""
    deadline = time.monotonic() + patience
    while True:
        try:
            connection.execute("PRAGMA journal_mode = WAL")
        except sqlite3.OperationalError as error:
            if error.sqlite_errorcode != sqlite3.SQLITE_BUSY or time.monotonic() > deadline:
                raise
            time.sleep(PAUSE)
        else:
            return


@contextmanager
def _transaction(connection: sqlite3.Connection, begin: str) -> Iterator[None]:
    connection.execute(begin)
    try:
        yield
        connection.execute("COMMIT")
    except BaseException:
        if connection.in_transaction:
            connection.execute("ROLLBACK")
        raise


def _number(connection: sqlite3.Connection, query: str) -> int:
    (number,) = connection.execute(query).fetchone()
    return int(number)
