"""The practice log as a database: its tables and their versions, its connection, its errors.

The journal is a write-ahead log, so that readers and one writer at a time do not disturb each
other, even in different programs. With ``synchronous=FULL`` every commit waits for the disk
(https://sqlite.org/wal.html, https://sqlite.org/pragma.html#pragma_synchronous).

A file's version is the number of migrations that made it (``PRAGMA user_version``). A released
migration is never changed: changes come as a further migration, and a dump of a log as it was
before is added to the tests.
"""

import sqlite3
import time
from collections.abc import Iterator, Mapping
from contextlib import ExitStack, closing, contextmanager
from functools import cache
from pathlib import Path
from typing import Any, Final, TypeAlias

from throwcount.caller.terminal.text import OutsideError
from throwcount.engine.errors import EngineError
from throwcount.engine.patterns.pattern import Pattern
from throwcount.engine.patterns.rules import read
from throwcount.sounds.errors import InputError
from throwcount.sounds.files.whole_files import check_input


class LogError(OutsideError):
    """The practice log cannot be used; the text is one or two plain sentences."""


class NewerLogError(LogError):
    """A later version of the program wrote the log."""


class ForeignFileError(LogError):
    """The file is not a practice log."""


class DamagedLogError(LogError):
    """The file is damaged."""


class BusyLogError(LogError):
    """Another program holds the log, and did not let go of it in time."""


class UnwritableLogError(LogError):
    """The log cannot be written there."""


WAY_OUT: Final = (
    "`throwcount log --repair FILE` saves what can be read of it. Move it away, and a new one is "
    "begun."
)
DAMAGED: Final = f"is damaged. {WAY_OUT}"
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
    sqlite3.SQLITE_CORRUPT: (DamagedLogError, DAMAGED),
    sqlite3.SQLITE_NOTADB: (
        DamagedLogError,
        f"is damaged, or is not a practice log. {WAY_OUT}",
    ),
}
"""What SQLite's result codes mean here (https://sqlite.org/rescode.html)."""

PRIMARY_CODE: Final = 0xFF
"""The lowest byte of an extended result code is its primary code."""


@contextmanager
def log_errors(path: Path) -> Iterator[None]:
    """Turn the errors of SQLite and the system into a `LogError` about the log at `path`.

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
    """Return the error for a log at `path` with impossible values in it."""
    return DamagedLogError(f"The practice log {path} {DAMAGED}")


def foreign(path: Path) -> ForeignFileError:
    """Return the error for a file of another program."""
    return ForeignFileError(f"{path} is a file of another program and not a practice log.")


def newer(path: Path, version: int, newest: int) -> NewerLogError:
    """Return the error for a log of a later version than the newest that is known."""
    return NewerLogError(
        f"The practice log {path} was written by a newer throwcount: it has version "
        f"{version}, and this one knows versions up to {newest}. Update throwcount to use it."
    )


Migration: TypeAlias = tuple[str, ...]
"""Statements that turn one version into the next, in one transaction."""

APPLICATION_ID: Final = 0x54_43_4C_31
"""Marks a SQLite file as a practice log (``PRAGMA application_id``)."""

FIRST_TABLES: Final[Migration] = (
    """
    CREATE TABLE sessions (
        id INTEGER PRIMARY KEY,
        started INTEGER NOT NULL,
        ended INTEGER,                  -- NULL while it goes on, and where it was interrupted
        props TEXT NOT NULL,            -- empty where it was not told
        device TEXT NOT NULL
    )
    """,
    """
    CREATE TABLE sets (
        id INTEGER PRIMARY KEY,
        session_id INTEGER NOT NULL REFERENCES sessions,
        pattern TEXT NOT NULL,          -- in its canonical form
        written TEXT NOT NULL,          -- as it was asked for
        objects INTEGER NOT NULL,
        cycle_beats INTEGER NOT NULL,   -- of one cycle as written
        props TEXT NOT NULL,
        first_hand TEXT NOT NULL CHECK (first_hand IN ('right', 'left')),
        tempo_start REAL NOT NULL,
        tempo_end REAL NOT NULL,        -- so far, while it goes on
        tempo_fastest REAL NOT NULL,    -- likewise
        beats_planned INTEGER,          -- NULL where it has no end
        beats_thrown INTEGER NOT NULL,
        seconds REAL NOT NULL,          -- of throwing, without pauses
        started INTEGER NOT NULL,
        seen INTEGER NOT NULL,          -- when something was last known of it
        ended INTEGER,                  -- NULL while it goes on, and where it was interrupted
        status TEXT NOT NULL CHECK (status IN ('open', 'finished', 'stopped')),
        outcome TEXT CHECK (outcome IN ('clean', 'drop'))
    )
    """,
    """
    CREATE TABLE marks (
        id INTEGER PRIMARY KEY,
        set_id INTEGER NOT NULL REFERENCES sets,
        mark TEXT NOT NULL CHECK (mark IN ('clean', 'drop')),
        moment INTEGER NOT NULL,
        beat INTEGER,                   -- NULL outside the set
        given_by TEXT NOT NULL
    )
    """,
    "CREATE INDEX sets_by_session ON sets (session_id)",
    "CREATE INDEX sets_by_start ON sets (started)",
    "CREATE INDEX sets_by_pattern ON sets (pattern, props)",
    "CREATE INDEX clean_sets ON sets (pattern, props) WHERE outcome = 'clean'",
    "CREATE INDEX marks_by_set ON marks (set_id)",
)

TAKES_TABLE: Final[Migration] = (
    """
    CREATE TABLE takes (
        id INTEGER PRIMARY KEY,
        kept INTEGER NOT NULL,          -- when it was listened to
        file TEXT NOT NULL,             -- the recording's name, without its folder
        title TEXT NOT NULL,            -- what it was held against; empty for nothing
        pattern TEXT NOT NULL,          -- in its canonical form; empty where it is none, or several
        props TEXT NOT NULL,
        seconds REAL NOT NULL,          -- of the recording
        heard INTEGER NOT NULL,         -- catches
        expected INTEGER NOT NULL,
        tempo_asked REAL,               -- beats a minute; NULL where it is not known
        tempo REAL,                     -- as it was kept; NULL where nothing tells
        asynchrony_sd REAL,             -- in seconds, as all that follow; NULL where nothing tells
        interval_sd REAL,
        right_later REAL,               -- than the left
        drops INTEGER NOT NULL,
        sureness REAL NOT NULL,
        report TEXT NOT NULL            -- the rest, as JSON
    )
    """,
    "CREATE INDEX takes_by_moment ON takes (kept)",
    "CREATE INDEX takes_by_pattern ON takes (pattern, props)",
)

CATCHES_AND_PLANS: Final[Migration] = (
    # Catches until the drop; NULL in sets of before, of which only the beats are known.
    "ALTER TABLE sets ADD COLUMN catches INTEGER",
    "ALTER TABLE sets ADD COLUMN goal INTEGER",
    "ALTER TABLE sets ADD COLUMN block INTEGER",
    "ALTER TABLE sets ADD COLUMN part TEXT NOT NULL DEFAULT ''",
    "ALTER TABLE sets ADD COLUMN after_part TEXT NOT NULL DEFAULT ''",
    # The session file, or the routine file; empty for a single pattern.
    "ALTER TABLE sessions ADD COLUMN file TEXT NOT NULL DEFAULT ''",
    # The session that this one goes on from.
    "ALTER TABLE sessions ADD COLUMN resumes INTEGER REFERENCES sessions",
    "CREATE INDEX best_runs ON sets (pattern, props, catches)",
    "CREATE INDEX sessions_by_file ON sessions (file)",
)

CATCHES_WORKED_OUT: Final[Migration] = (
    # Without a drop, everything that was thrown was caught; with one, NULL stays: not known.
    """
    UPDATE sets SET catches = caught(written, beats_thrown)
    WHERE catches IS NULL AND outcome IS NOT 'drop'
    """,
)

MIGRATIONS: Final[tuple[Migration, ...]] = (
    *(FIRST_TABLES, TAKES_TABLE, CATCHES_AND_PLANS, CATCHES_WORKED_OUT),
)
"""From an empty file to the tables of this version of the program."""


MOST_BEATS: Final = 10**9
"""More than anybody throws in a lifetime."""


def caught(written: object, beats: object) -> int | None:
    """Return the catches of a pattern that was thrown for so many beats without a drop.

    Everything thrown is caught but what a hand holds, a 2 that does not cross. The result is None
    where that cannot be told.
    """
    if not isinstance(written, str) or not isinstance(beats, int) or not 0 <= beats <= MOST_BEATS:
        return None
    try:
        return _pattern(written).caught_in(beats)
    except EngineError:
        return None


@cache
def _pattern(written: str) -> Pattern:
    return read(written)


PATIENCE: Final = 2.0
"""Seconds to wait for another program that writes."""

BETWEEN_ATTEMPTS: Final = 0.02
"""Seconds between two attempts, where SQLite itself does not wait."""


UNWRITTEN: Final = "mode=ro&immutable=1"
"""How to open a log that nobody writes meanwhile."""


class Database:
    """An open practice log of this version; it owns the connection.

    `path` is its file, which errors name.
    """

    def __init__(self, path: Path, connection: sqlite3.Connection) -> None:
        self.path = path
        self._connection = connection

    def rows(self, query: str, values: Mapping[str, Any]) -> Iterator[sqlite3.Row]:
        """Yield the rows of a query one by one; raise `LogError` if the file cannot be read."""
        with log_errors(self.path):
            rows = self._connection.execute(query, values)
            for row in rows:  # noqa: UP028 - `yield from` may close it after the connection
                yield row

    def row(self, query: str, values: Mapping[str, Any]) -> sqlite3.Row | None:
        """Return the first row of a query, or None; raise `LogError` as `rows` does."""
        return next(self.rows(query, values), None)

    @contextmanager
    def change(self) -> Iterator[sqlite3.Connection]:
        """Hand out the connection for changes, of which either all or none reach the disk.

        A change within another one is part of that.

        Raises
        ------
        LogError
            If the file cannot be written.
        """
        with log_errors(self.path), ExitStack() as whole:
            if not self._connection.in_transaction:
                whole.enter_context(_transaction(self._connection, "BEGIN IMMEDIATE"))
            yield self._connection

    @contextmanager
    def unchanging(self) -> Iterator[None]:
        """Show the log as it is now while the context lasts, whatever others write meanwhile."""
        with log_errors(self.path):
            self._connection.execute("BEGIN")
        try:
            yield
        finally:
            with log_errors(self.path):
                if self._connection.in_transaction:
                    self._connection.execute("ROLLBACK")

    def bring_up_to_date(self) -> None:
        """Make an older log one of this version; raise `LogError` if it cannot be written."""
        with log_errors(self.path):
            _bring_up_to_date(self.path, self._connection, PATIENCE, MIGRATIONS)

    def copy_to(self, path: Path) -> None:
        """Copy the log as it is now into an empty file, whatever others write meanwhile.

        Raises
        ------
        LogError
            If the log cannot be read, or the file not written.
        """
        with log_errors(self.path), closing(sqlite3.connect(path, isolation_level=None)) as copy:
            copy.execute("PRAGMA locking_mode = EXCLUSIVE")  # so that no file comes beside it
            copy.execute("PRAGMA journal_mode = OFF")
            self._connection.backup(copy)
            copy.execute("PRAGMA journal_mode = WAL")

    def close(self) -> None:
        """Let go of the file."""
        self._connection.close()


def open_database(
    path: Path, patience: float = PATIENCE, migrations: tuple[Migration, ...] = MIGRATIONS
) -> Database:
    """Open the log at `path` for reading and writing; without a file, begin an empty one.

    Missing folders are made. `patience` is how many seconds to wait for another program that
    writes. `migrations` bring an older log up to date.

    Raises
    ------
    LogError
        If it cannot be used.
    """
    with log_errors(path):
        path.parent.mkdir(parents=True, exist_ok=True)
        is_there(path)
    return _opened(path, _address(path, "mode=rwc"), patience, migrations)


def open_database_to_read(
    path: Path,
    patience: float = PATIENCE,
    migrations: tuple[Migration, ...] = MIGRATIONS,
    *,
    as_it_is: bool = False,
) -> Database:
    """Open the log at `path` for reading; without a file, an empty one in memory.

    Parameters and errors are those of `open_database`. An older log is brought up to date where it
    can be written, unless it is to stay `as_it_is`. On a read-only disk, a log of this version is
    read as it stands in the file.
    """
    with log_errors(path):
        if not is_there(path):
            return _opened(path, ":memory:", patience, migrations, as_it_is=as_it_is)
    try:
        return _opened(path, _address(path, "mode=rw"), patience, migrations, as_it_is=as_it_is)
    except UnwritableLogError:
        journal = path.with_name(f"{path.name}-wal")
        if journal.exists() and journal.stat().st_size:
            raise
        address = _address(path, UNWRITTEN)
        return _opened(path, address, patience, migrations, as_it_is=as_it_is)


def open_copy(path: Path) -> Database:
    """Open a log that nobody writes, as it is; no file comes beside it. Errors as above."""
    return _opened(path, _address(path, UNWRITTEN), PATIENCE, MIGRATIONS, as_it_is=True)


def empty_database(path: Path, version: int = len(MIGRATIONS)) -> Database:
    """Return an empty log of a version, in memory; errors name the log at `path`."""
    return _opened(path, ":memory:", PATIENCE, MIGRATIONS[:version])


def is_there(path: Path) -> bool:
    """Return whether there is a file; raise `LogError` if it is a folder, a pipe or a device."""
    try:
        check_input(path)
    except (FileNotFoundError, NotADirectoryError):
        return False
    except InputError as error:
        raise UnwritableLogError(f"The practice log {path} cannot be opened. {error}") from error
    return True


def _opened(
    path: Path,
    address: str,
    patience: float,
    migrations: tuple[Migration, ...],
    *,
    as_it_is: bool = False,
) -> Database:
    with log_errors(path):
        connection = sqlite3.connect(address, timeout=patience, isolation_level=None, uri=True)
        connection.row_factory = sqlite3.Row
        connection.create_function("caught", 2, caught, deterministic=True)
        try:
            version = _version(path, connection, len(migrations))
            if version < len(migrations) and not as_it_is:
                _bring_up_to_date(path, connection, patience, migrations)
            connection.execute("PRAGMA synchronous = FULL")
            connection.execute("PRAGMA foreign_keys = ON")
        except BaseException:
            connection.close()
            raise
    return Database(path, connection)


def _address(path: Path, how: str) -> str:
    """Return a file as a URI of SQLite (https://sqlite.org/uri.html)."""
    return f"{path.absolute().as_uri()}?{how}"


def _version(path: Path, connection: sqlite3.Connection, newest: int) -> int:
    """Return how many migrations made a file, 0 if it is empty."""
    tables = _number(connection, "SELECT count(*) FROM sqlite_master")
    version = _number(connection, "PRAGMA user_version")
    application = _number(connection, "PRAGMA application_id")
    if application != APPLICATION_ID and (application or version or tables):
        raise foreign(path)
    if version > newest:
        raise newer(path, version, newest)
    return version


def _bring_up_to_date(
    path: Path, connection: sqlite3.Connection, patience: float, migrations: tuple[Migration, ...]
) -> None:
    _write_ahead(connection, patience)
    with _transaction(connection, "BEGIN IMMEDIATE"):
        # Another program may have done it while this one waited.
        for migration in migrations[_version(path, connection, len(migrations)) :]:
            for statement in migration:
                connection.execute(statement)
        connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
        connection.execute(f"PRAGMA user_version = {len(migrations)}")


def _write_ahead(connection: sqlite3.Connection, patience: float) -> None:
    """Set the file's kind of journal, which lasts; several programs may try at once."""
    deadline = time.monotonic() + patience
    while True:
        try:
            connection.execute("PRAGMA journal_mode = WAL")
        except sqlite3.OperationalError as error:
            if error.sqlite_errorcode != sqlite3.SQLITE_BUSY or time.monotonic() > deadline:
                raise
            time.sleep(BETWEEN_ATTEMPTS)
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
