"""Saves what can be read of a damaged log into a new one.

Rows come out of the pages (`pages`), so that a damaged header, index or way to a page costs
nothing but what it holds. Impossible values are mended where the rest of the row tells them
(`checking`); what cannot be mended is left out and told. The program never deletes a row, so a
number that is missing below the highest is a row that is lost.
"""

from collections import Counter
from collections.abc import Iterable, Iterator
from contextlib import closing
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from sqlite3 import Connection
from typing import BinaryIO, Final

from throwcount.caller.log.checking import (
    RANGES,
    WrongValue,
    check_is_there,
    check_place,
    copied,
    impossible_columns,
    layout,
    mended,
    wrong_values,
)
from throwcount.caller.log.database import (
    APPLICATION_ID,
    MIGRATIONS,
    BusyLogError,
    Database,
    LogError,
    empty_database,
    foreign,
    log_errors,
    newer,
)
from throwcount.caller.log.pages import Pages, StoredRow, Value, read_journal
from throwcount.sounds.files.whole_files import open_input, whole_file

SCHEMA_COLUMNS: Final = 5
"""Columns of the table in which SQLite keeps the tables."""

VERSION_AT, APPLICATION_AT = 60, 68
"""Where the header has the version and the mark of the program."""

BELIEVABLE: Final = 100
"""How many versions the program may have come on; a higher number is damage."""


REFERRED: Final = {
    "sessions": "SELECT count(DISTINCT session_id) FROM sets WHERE session_id > ?",
    "sets": "SELECT count(DISTINCT set_id) FROM marks WHERE set_id > ?",
}
"""How many rows after the last that was read are told of by other rows."""

SESSIONS_FOR_SETS: Final = """
    INSERT INTO sessions (id, started, props, device)
    SELECT session_id, min(started), min(props), ''
    FROM sets WHERE session_id NOT IN (SELECT id FROM sessions) GROUP BY session_id
    RETURNING id
"""
MARKS_WITHOUT_SET: Final = "DELETE FROM marks WHERE set_id NOT IN (SELECT id FROM sets)"
RESUMES_NOTHING: Final = """
    UPDATE sessions SET resumes = NULL WHERE resumes NOT IN (SELECT id FROM sessions)
"""


@dataclass(slots=True)
class Repair:
    """What came over into the new log, and what did not."""

    rows: dict[str, int] = field(default_factory=dict)
    """How many rows of each table are in the new log."""
    pages: int = 0
    """How many pages the damaged log has."""
    bad_pages: int = 0
    """How many of those with rows had some that could not be read."""
    mended: list[WrongValue] = field(default_factory=list)
    """Impossible values that were replaced by what the rest of the row tells, or by "not known"."""
    impossible: list[WrongValue] = field(default_factory=list)
    """Impossible values of rows that were left out for them."""
    without_set: int = 0
    """Marks that were left out as their set is lost."""
    made_sessions: list[int] = field(default_factory=list)
    """Numbers of sessions that were made for sets whose own is lost."""
    lost: dict[str, int] = field(default_factory=dict)
    """Rows of each table whose numbers are missing: they could not be read anywhere."""

    @property
    def left_out(self) -> Counter[str]:
        """How many rows of each table were read and left out for an impossible value."""
        return Counter(table for table, _ in {(one.table, one.row) for one in self.impossible})

    @property
    def complete(self) -> bool:
        """Whether nothing had to be left out, mended or made."""
        wrong = (self.bad_pages, self.mended, self.impossible, self.without_set)
        return not any((*wrong, self.made_sessions, *self.lost.values()))


def repaired(log: Path, path: Path, *, overwrite: bool) -> Repair:
    """Write what can be read of the log to a new one at `path`; the log itself is only read.

    Raises
    ------
    LogError
        If there is no log, nothing of one in it, or it is a file of another program or of a newer
        version of this one; or if another program wrote it meanwhile.
    FileError
        As `check_place` does, and if `path` cannot be written.
    """
    check_is_there(log)
    check_place(log, path, overwrite=overwrite)
    with log_errors(log):
        place = log.resolve()  # Beside it lies its journal, also where `log` is a link.
        before = _state(place)
        # The journal comes first: if another program moves it into the file meanwhile, nothing is
        # missed.
        journal = read_journal(place)
        with open_input(log) as file, whole_file(path, overwrite=overwrite) as unfinished:
            repair, database = _rescued(log, file, journal)
            with closing(database):
                if _state(place) != before:
                    raise BusyLogError(
                        f"The practice log {log} was written by another program meanwhile. End "
                        "that, and repair it again."
                    )
                repair.rows = copied(database, unfinished, path)
    return repair


def _state(log: Path) -> list[tuple[int, int]]:
    """Return what tells whether a log was written: size and time of its files."""
    found = []
    for place in (log, log.with_name(f"{log.name}-wal")):
        if place.exists():
            status = place.stat()
            found.append((status.st_size, status.st_mtime_ns))
    return found


def _rescued(log: Path, file: BinaryIO, journal: bytes) -> tuple[Repair, Database]:
    """Return a log of this version in memory with what can be read, and what became of it."""
    pages = Pages(file, journal)
    schema = _schema(pages)
    versions = dict.fromkeys((_version(log, pages, schema), _newest_layout()))
    found = [_filled(log, pages, schema, versions)]
    if not pages.is_usual:  # The header may be wrong about the size of the pages.
        found.append(_filled(log, Pages(file, journal, usual=True), schema, versions))
    *others, (repair, database) = sorted(found, key=lambda each: sum(each[0].rows.values()))
    for _, other in others:
        other.close()
    if not any(repair.rows.values()):
        database.close()
        raise LogError(f"{log} has nothing of a practice log that could be read.")
    return repair, database


def _filled(
    log: Path, pages: Pages, schema: list[tuple[Value, ...]], versions: Iterable[int]
) -> tuple[Repair, Database]:
    """Return a log with what can be read in the pages, by the first version that all rows fit."""
    for version in versions:
        found = _Finds(pages, version)
        database = empty_database(log, version)
        try:
            found.put_into(database, schema)
            database.bring_up_to_date()
        except _LongerRowError:  # The header is of an older version, where a journal was lost.
            database.close()
        except BaseException:
            database.close()
            raise
        else:
            return found.repair, database
    raise AssertionError("no row is longer than those of the newest version")


class _LongerRowError(Exception):
    """A row has more columns than its table has in the version that is tried."""


def _schema(pages: Pages) -> list[tuple[Value, ...]]:
    """Return what the file says of its tables and indexes: kind, name, table, root, statement."""
    rows = (row for leaf in pages.leaves_below([1], set()) for row in pages.rows(leaf))
    stored = [row.values for row in rows if row is not None]
    return [row for row in stored if len(row) == SCHEMA_COLUMNS and isinstance(row[0], str)]


def _version(log: Path, pages: Pages, schema: list[tuple[Value, ...]]) -> int:
    """Return the version that a damaged log has; that with the newest tables if nothing tells.

    Raises
    ------
    ForeignFileError
        If another program wrote it.
    NewerLogError
        If a newer version of this one did.
    """
    names = {row[1] for row in schema}
    if names and not names >= {"sessions", "sets", "marks"}:
        marked = pages.number_at(APPLICATION_AT) == APPLICATION_ID
        if pages.has_header and not marked:
            raise foreign(log)
    told, newest = pages.number_at(VERSION_AT), len(MIGRATIONS)
    if newest < told <= newest + BELIEVABLE:
        raise newer(log, told, newest)
    statements = {row[4] for row in schema if isinstance(row[4], str)}
    fitting = [each for each in range(1, newest + 1) if _statements(each) == statements]
    if not fitting:
        return _newest_layout()
    return told if told in fitting else fitting[0]


@cache
def _statements(version: int) -> set[str]:
    """Return the statements that made the tables and indexes of a version."""
    with closing(empty_database(Path(), version)) as database:
        rows = database.rows("SELECT sql FROM sqlite_master WHERE sql IS NOT NULL", {})
        return {row["sql"] for row in rows}


def _newest_layout() -> int:
    """Return the first version that has the tables of the newest."""
    newest = len(MIGRATIONS)
    return next(each for each in range(1, newest + 1) if layout(each) == layout(newest))


class _Finds:
    """The rows of a damaged log, on their way into a log of a version."""

    def __init__(self, pages: Pages, version: int) -> None:
        self.repair = Repair(pages=pages.count)
        self._pages = pages
        self._columns = layout(version)
        self._table_of = {
            len(columns): table
            for each in range(1, len(MIGRATIONS) + 1)
            for table, columns in layout(each).items()
        }
        self._numbers: dict[str, set[int]] = {table: set() for table in RANGES}

    def put_into(self, database: Database, schema: list[tuple[Value, ...]]) -> None:
        """Put what can be read into an empty log.

        Raises
        ------
        _LongerRowError
            If a row does not fit into the tables.
        """
        with database.change() as connection:
            connection.execute("PRAGMA defer_foreign_keys = ON")
            for table, row in self._stored(schema):
                self._put(connection, table, row)
            self._mend_references(connection)
            self.repair.rows = {
                table: connection.execute(f"SELECT count(*) FROM {table}").fetchone()[0]  # noqa: S608
                for table in self._columns
            }
        self.repair.impossible = [
            one for one in self.repair.impossible if one.row not in self._numbers[one.table]
        ]

    def _stored(self, schema: list[tuple[Value, ...]]) -> Iterator[tuple[str, StoredRow]]:
        """Yield the rows of all tables; a table is known by how many columns its rows have.

        Rows of pages in which something is wrong come last, since their numbers may be wrong.
        """
        roots = [row[3] for row in schema if row[0] == "table" and isinstance(row[3], int)]
        doubtful: list[tuple[str, StoredRow]] = []
        for leaf in self._pages.leaves(roots):
            stored = list(self._pages.rows(leaf))
            rows = [
                (self._table_of[len(row.values)], row)
                for row in stored
                if row is not None and row.values[0] is None and len(row.values) in self._table_of
            ]
            if not rows:
                continue
            wrong = len(rows) < len(stored)
            self.repair.bad_pages += wrong
            if wrong or rows[-1][1].number - rows[0][1].number >= len(rows):
                doubtful += rows
            else:
                yield from rows
        yield from doubtful

    def _put(self, connection: Connection, table: str, row: StoredRow) -> None:
        """Put a row in, mended if it needs that; note it if it cannot be."""
        if row.number in self._numbers[table]:
            return  # as it was before
        names = self._columns.get(table, [])[: len(row.values)]
        if len(names) < len(row.values):
            raise _LongerRowError
        read = dict(zip(names, (row.number, *row.values[1:]), strict=True))
        kept = read
        if impossible_columns(table, read):
            kept = mended(table, read)
            wrong = list(wrong_values(table, row.number, read))
            if impossible_columns(table, kept):
                self.repair.impossible += wrong
                return
            self.repair.mended += wrong
        self._numbers[table].add(row.number)
        places = ", ".join("?" * len(names))
        statement = f"INSERT INTO {table} ({', '.join(names)}) VALUES ({places})"  # noqa: S608
        connection.execute(statement, tuple(kept.values()))

    def _mend_references(self, connection: Connection) -> None:
        """Count what is lost, make the sessions that sets lack, leave out marks without a set."""
        repair = self.repair
        left_out = repair.left_out
        for table in self._columns:
            numbers = self._numbers[table]
            last = max(numbers, default=0)
            later = REFERRED.get(table)
            told = connection.execute(later, (last,)).fetchone()[0] if later else 0
            repair.lost[table] = max(last + told - len(numbers) - left_out[table], 0)
        made = connection.execute(SESSIONS_FOR_SETS).fetchall()
        repair.made_sessions = sorted(number for (number,) in made)
        repair.without_set = connection.execute(MARKS_WITHOUT_SET).rowcount
        if "resumes" in self._columns["sessions"]:
            connection.execute(RESUMES_NOTHING)
