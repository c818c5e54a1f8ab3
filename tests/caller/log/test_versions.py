"""Logs of older versions become logs of this one, and keep everything.

`versions` holds a dump of a small log for each version there has been, made by ``.dump`` of the
sqlite3 program when that version was current; `dump` of this file makes one.
"""

import sqlite3
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

import pytest
from kept_takes import TAKE

from throwcount.caller.log.database import (
    APPLICATION_ID,
    MIGRATIONS,
    LogError,
    NewerLogError,
    open_database,
    open_database_to_read,
)
from throwcount.caller.log.history import History, LogChoice
from throwcount.caller.log.log import PracticeLog
from throwcount.caller.log.records import Plan, Thrown
from throwcount.engine.patterns.rules import read

VERSIONS = Path(__file__).parent / "versions"
FURTHER = (("ALTER TABLE sets ADD COLUMN weather TEXT",), ("CREATE TABLE places (name TEXT)",))


TAKES_SINCE = 2
"""The version from which on takes are kept."""


def from_dump(version: int, path: Path) -> None:
    """Make a log as a program of an older version left it."""
    path.parent.mkdir(parents=True, exist_ok=True)
    connection = sqlite3.connect(path)
    connection.executescript((VERSIONS / f"{version}.sql").read_text("utf-8"))
    connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
    connection.execute(f"PRAGMA user_version = {version}")
    connection.close()


def layout(path: Path) -> list[tuple[str, ...]]:
    """Return the tables with their columns, and the indexes."""
    connection = sqlite3.connect(path)
    names = connection.execute("SELECT type, name FROM sqlite_master ORDER BY name").fetchall()
    found = [
        (
            kind,
            name,
            str(connection.execute("SELECT * FROM pragma_table_xinfo(?)", (name,)).fetchall()),
        )
        for kind, name in names
    ]
    connection.close()
    return found


def version_of(path: Path) -> int:
    connection = sqlite3.connect(path)
    (version,) = connection.execute("PRAGMA user_version").fetchone()
    connection.close()
    return int(version)


def test_every_version_has_its_dump() -> None:
    dumps = sorted(int(path.stem) for path in VERSIONS.glob("*.sql"))
    assert dumps == list(range(1, len(MIGRATIONS) + 1))


@pytest.mark.parametrize("version", range(1, len(MIGRATIONS) + 1))
def test_an_older_log_is_brought_up_to_date(version: int, path: Path) -> None:
    from_dump(version, path)
    with PracticeLog.open(path) as log:
        (first, second) = log.history.sets()
        assert (first.pattern, first.written, first.outcome, first.beats_thrown) == (
            *("531", "153", "clean", 48),
        )
        assert [(mark.mark, mark.beat, mark.given_by) for mark in first.marks] == [
            ("clean", 10, "pedal")
        ]
        assert (second.pattern, second.status, second.marks) == ("(4,2x)*", "interrupted", ())
        held = log.history.last_held(read("531"), "clubs")
        assert held is not None
        assert held.tempo == 165.0
        number = log.begin_set(first.session, Plan(read("744"), 200.0))
        log.end_set(number, Thrown(3, 1.0, 200.0))
        assert log.history.totals().sets == 3
        kept = [TAKE] if version >= TAKES_SINCE else []
        assert [take.summary for take in log.history.takes()] == kept
        assert log.keep_take(TAKE) == len(kept) + 1
    assert version_of(path) == len(MIGRATIONS)
    fresh = path.with_name("fresh.sqlite")
    open_database(fresh).close()
    assert layout(path) == layout(fresh)


@pytest.mark.parametrize("version", [1, 2, 3])
@pytest.mark.parametrize(
    ("outcome", "catches", "not_known"), [("'clean'", 48, 0), ("NULL", 48, 0), ("'drop'", None, 1)]
)
def test_catches_of_an_older_log(
    version: int, outcome: str, catches: int | None, not_known: int, path: Path
) -> None:
    from_dump(version, path)
    with closing(sqlite3.connect(path)) as older:
        older.execute(f"UPDATE sets SET outcome = {outcome} WHERE id = 1")
        if version == 3:
            older.execute("UPDATE sets SET catches = NULL")
        older.commit()
    with History.open(path) as history:
        (run,) = history.runs(datetime(2026, 3, 31, tzinfo=UTC), LogChoice(pattern="531"))
        (first, _) = history.sets()
        assert history.totals().sets == 2
    assert (first.catches, first.beats_thrown, run.not_known) == (catches, 48, not_known)
    assert (None if run.best is None else run.best.catches) == catches


@pytest.mark.parametrize("opening", [open_database, open_database_to_read])
def test_further_steps_are_taken_one_after_another(path: Path, opening: type) -> None:
    from_dump(1, path)
    migrations = MIGRATIONS[:1] + FURTHER
    database = opening(path, migrations=migrations)
    with database.change() as connection:
        connection.execute("UPDATE sets SET weather = 'dry'")
        connection.execute("INSERT INTO places VALUES ('barn')")
    assert History(database).totals(LogChoice(pattern="531")).sets == 1
    database.close()
    assert version_of(path) == 3
    with pytest.raises(NewerLogError, match="version 3, and this one knows versions up to 1"):
        opening(path, migrations=migrations[:1])


def test_a_step_that_fails_leaves_the_log_as_it_was(path: Path) -> None:
    from_dump(1, path)
    before = layout(path)
    migrations = (
        *MIGRATIONS[:1],
        FURTHER[0],
        ("CREATE TABLE places (name TEXT)", "this is no SQL"),
    )
    with pytest.raises(LogError):
        open_database(path, migrations=migrations)
    assert (layout(path), version_of(path)) == (before, 1)


def dump(path: Path) -> str:
    """Return a log as a script; to be kept in `versions` before the schema changes."""
    with PracticeLog.open(path, lambda: 1_774_972_800.0) as log:
        session = log.begin_session("clubs", "speakers")
        number = log.begin_set(session, Plan(read("153"), 150.0, 48, "left"))
        log.mark(number, "clean", 10, "pedal")
        log.end_set(number, Thrown(48, 18.5, 165.0))
        log.begin_set(session, Plan(read("(4,2x)*"), 180.0))
        log.keep_take(TAKE)
    connection = sqlite3.connect(path)
    script = "\n".join(connection.iterdump())
    connection.close()
    return script
