"""What can be read of a damaged log comes over, the log stays as it is, and the rest is told."""

import os
import random
import shutil
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest
from click.testing import Result
from damaged_logs import (
    PAGE,
    SETS,
    TABLES,
    Rows,
    changed,
    overwritten,
    pages_of,
    rows_of,
    with_noise,
)
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from throwcount.caller.log.checking import check_log
from throwcount.caller.log.database import (
    APPLICATION_ID,
    MIGRATIONS,
    BusyLogError,
    ForeignFileError,
    LogError,
    NewerLogError,
)
from throwcount.caller.log.history import History
from throwcount.caller.log.log import PracticeLog
from throwcount.caller.log.repair import Repair, repaired
from throwcount.sounds.errors import FileError

Run = Callable[..., Result]
DAMAGED_LOGS = int(os.environ.get("THROWCOUNT_DAMAGED_LOGS", "30"))
"""Logs that are damaged at random."""


def save(log: Path, path: Path) -> Repair:
    """Repair a log; what is made must be whole, and the log stay as it was."""
    before = log.read_bytes()
    done = repaired(log, path, overwrite=True)
    assert log.read_bytes() == before
    assert check_log(path).whole
    with History.open(path) as history:
        assert sum(1 for _ in history.sets()) == done.rows["sets"]
    assert done.rows == {table: sum(key[0] == table for key in rows_of(path)) for table in TABLES}
    return done


def test_a_whole_log_comes_over_row_by_row(whole: Path, new: Path) -> None:
    done = save(whole, new)
    assert done.complete
    assert rows_of(new) == rows_of(whole)


# ---- Damage to pages


def zeroed(start: int, length: int) -> Callable[[bytes], bytes]:
    return lambda content: content[:start] + bytes(length) + content[start + length :]


NO_ROWS_HIT = [
    overwritten(0, 16),  # what says that it is a file of SQLite
    zeroed(0, 100),
    overwritten(0, 100),
    overwritten(16, 2),  # how large pages are
    overwritten(20, 1),  # how much of a page is spare
    overwritten(32, 8),  # where free pages are
    overwritten(61, 3),  # the version
    overwritten(68, 4),  # whose file it is
    overwritten(100, 8),  # where the statements of the tables are
    overwritten(0, PAGE),
    zeroed(0, PAGE),
]


@pytest.mark.parametrize("damage", NO_ROWS_HIT)
def test_without_the_first_page_everything_comes_over(
    whole: Path, damaged: Path, new: Path, damage: Callable[[bytes], bytes]
) -> None:
    damaged.write_bytes(damage(damaged.read_bytes()))
    assert not any(save(damaged, new).lost.values())
    assert rows_of(new) == rows_of(whole)


def test_indexes_and_ways_to_pages_are_not_needed(whole: Path, damaged: Path, new: Path) -> None:
    content = damaged.read_bytes()
    without_rows = [start for start in range(0, len(content), PAGE) if content[start] in {2, 5, 10}]
    assert len(without_rows) > 10
    damaged.write_bytes(with_noise(content, without_rows, random.Random(1), PAGE))
    assert not check_log(damaged).whole
    save(damaged, new)
    assert rows_of(new) == rows_of(whole)


LONG = b"x" * 100
"""A part of a report of a take that is longer than a page."""


def expected(whole: Path, hit: set[int]) -> Rows:
    """Return the rows of which no page is hit, by their words, and what they belong to is there."""
    rows = rows_of(whole)
    where = pages_of(whole, rows)
    content = whole.read_bytes()
    long_hit = any(LONG in content[page * PAGE : (page + 1) * PAGE] for page in hit)
    there = {
        key: row
        for key, row in rows.items()
        if not where[key] & hit
        and not (key[0] == "takes" and long_hit and LONG.decode() in row[-1])
    }
    return {
        key: row for key, row in there.items() if key[0] != "marks" or ("sets", row[1]) in there
    }


@settings(
    max_examples=DAMAGED_LOGS,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(
    seed=st.integers(0, 2**32),
    size=st.tuples(st.sampled_from([1, 2, 16, 100, 512, PAGE]), st.sampled_from([0.02, 0.1, 0.5])),
)
def test_every_row_whose_page_is_intact_comes_over(
    whole: Path, damaged: Path, new: Path, seed: int, size: tuple[int, float]
) -> None:
    chance = random.Random(seed)
    content = whole.read_bytes()
    pages = len(content) // PAGE
    length, share = size
    hit = set(chance.sample(range(pages), max(1, round(share * pages))))
    places = [page * PAGE + chance.randrange(PAGE - length + 1) for page in hit]
    damaged.write_bytes(with_noise(content, places, chance, length))
    try:
        save(damaged, new)
    except NewerLogError:  # A byte of the version may be hit.
        assert 0 in hit
        return
    there, kept = expected(whole, hit), rows_of(new)
    assert {key: kept.get(key) for key in there} == there


@pytest.mark.parametrize("share", [0.9, 0.5, 0.2])
def test_of_a_log_cut_short_all_that_stands_before_comes_over(
    whole: Path, damaged: Path, new: Path, share: float
) -> None:
    content = damaged.read_bytes()
    kept_bytes = int(share * len(content))
    os.truncate(damaged, kept_bytes)
    done = save(damaged, new)
    gone = set(range(kept_bytes // PAGE, len(content) // PAGE))
    there, kept = expected(whole, gone), rows_of(new)
    assert {key: kept.get(key) for key in there} == there
    assert len(kept) < len(rows_of(whole))
    assert done.rows["sets"] + done.lost["sets"] <= SETS


def test_what_is_lost_is_counted(whole: Path, damaged: Path, new: Path) -> None:
    rows = rows_of(whole)
    (page,) = pages_of(whole, rows)["sets", 100]
    damaged.write_bytes(zeroed(page * PAGE, PAGE)(damaged.read_bytes()))
    done = save(damaged, new)
    gone = {key[1] for key in rows if key[0] == "sets"} - {
        key[1] for key in rows_of(new) if key[0] == "sets"
    }
    assert done.lost == {"sessions": 0, "sets": len(gone), "marks": 0, "takes": 0}
    assert 5 < len(gone) < SETS
    assert done.without_set == sum(
        key[0] == "marks" and row[1] in gone for key, row in rows.items()
    )
    assert not done.complete


# ---- The journal of what was kept last


@pytest.fixture
def killed(whole: Path, tmp_path: Path) -> Path:
    """A log of which the last session is only in the journal, as a killed program leaves it."""
    path = tmp_path / "killed" / "practice.sqlite"
    path.parent.mkdir()
    live = Path(shutil.copy(whole, tmp_path / "live.sqlite"))
    with closing(sqlite3.connect(live)) as connection:
        connection.execute("UPDATE sessions SET device = 'later' WHERE id = 3")
        connection.commit()
        for file in (live, live.with_name("live.sqlite-wal")):
            shutil.copy(file, path.with_name(file.name.replace("live", "practice")))
    return path


def device(path: Path) -> str:
    return str(rows_of(path)["sessions", 3][4])


def test_what_is_only_in_the_journal_comes_over(killed: Path, new: Path) -> None:
    journal = killed.with_name("practice.sqlite-wal")
    assert journal.stat().st_size > PAGE
    link = new.with_name("link.sqlite")
    link.symlink_to(killed)
    for log in (killed, link):
        save(log, new)
        assert device(new) == "later"
    assert journal.exists()


def test_a_damaged_or_lost_journal_costs_what_it_held(killed: Path, new: Path) -> None:
    journal = killed.with_name("practice.sqlite-wal")
    content = journal.read_bytes()
    for torn in (content[:-100], content[:1000], with_noise(content, [200], random.Random(1), 50)):
        journal.write_bytes(torn)
        save(killed, new)
        assert device(new) == "word-session-000012"
    journal.unlink()
    save(killed, new)
    assert device(new) == "word-session-000012"


# ---- Values


MENDED = [
    ("sets.pattern", "x'ff'", "531"),
    ("sets.pattern", "'54'", "531"),
    ("sets.written", "'5 3'", "531"),
    ("sets.objects", "900", 3),
    ("sets.cycle_beats", "0", 3),
    ("sets.tempo_fastest", "'quick'", 155.0),
    ("sets.seen", "8e15", 1_775_000_024_000),
    ("sets.ended", "'late'", None),
    ("sets.beats_planned", "-1", None),
    ("sets.catches", "1.5", None),
    ("sets.goal", "x'00'", None),
    ("sets.part", "x'ff'", ""),
    ("sets.props", "7e300", "7.0e+300"),
    ("sessions.ended", "9e17", None),
    ("sessions.device", "x'ff'", ""),
    ("sessions.resumes", "-5", None),
    ("sessions.resumes", "77", None),
    ("marks.beat", "'first'", None),
    ("marks.given_by", "x'ff'", "key"),
    ("takes.tempo", "9e999", None),
    ("takes.pattern", "'54'", ""),
    ("takes.report", "'{'", "{}"),
    ("takes.report", "'[]'", "{}"),
]


@pytest.mark.parametrize(("place", "value", "known"), MENDED)
def test_a_value_is_mended_by_what_is_known(
    small: Path, new: Path, place: str, value: str, known: object
) -> None:
    table, column = place.split(".")
    changed(small, f"UPDATE {table} SET {column} = {value}")
    done = save(small, new)
    assert done.rows == dict.fromkeys(TABLES, 1)
    with closing(sqlite3.connect(new)) as connection:
        assert connection.execute(f"SELECT {column} FROM {table}").fetchone() == (known,)


LEFT_OUT = [
    ("sets", "tempo_start", "'quick'"),
    ("sets", "tempo_end", "-3"),
    ("sets", "beats_thrown", "1e300"),
    ("sets", "seconds", "9e999"),
    ("sets", "started", "8e15"),
    ("marks", "moment", "'noon'"),
    ("takes", "sureness", "1.5"),
    ("takes", "heard", "x''"),
]


@pytest.mark.parametrize(("table", "column", "value"), LEFT_OUT)
def test_a_row_is_left_out_and_told_where_nothing_tells_a_value(
    small: Path, new: Path, table: str, column: str, value: str
) -> None:
    changed(small, f"UPDATE {table} SET {column} = {value}")
    (wrong,) = check_log(small).values
    assert (wrong.table, wrong.row, wrong.column) == (table, 1, column)
    done = save(small, new)
    assert done.impossible == [wrong]
    assert done.left_out == {table: 1}
    assert done.rows[table] == 0
    assert done.without_set == (table == "sets")


@pytest.mark.parametrize(
    ("statement", "fragment"),
    [
        ("DROP TABLE marks", "The table marks is missing."),
        ("DROP TABLE sessions", "The table sessions is missing."),
        ("PRAGMA user_version = 0", "It says that it has version 0, which no log has."),
        ("PRAGMA user_version = -7", "It says that it has version -7, which no log has."),
        ("ALTER TABLE takes DROP COLUMN title", "Columns of takes are missing: title."),
    ],
)
def test_what_is_missing_is_told_and_the_rest_comes_over(
    small: Path, new: Path, statement: str, fragment: str
) -> None:
    changed(small, statement)
    assert fragment in check_log(small).damage
    done = save(small, new)
    assert done.rows["sets"] == done.rows["sessions"] == 1


def test_sets_without_a_session_get_one(damaged: Path, new: Path, whole: Path) -> None:
    changed(damaged, "DELETE FROM sessions WHERE id IN (4, 9)")
    assert any("refers to a row of sessions" in said for said in check_log(damaged).damage)
    done = save(damaged, new)
    assert (done.made_sessions, done.lost["sessions"]) == ([4, 9], 2)
    rows, before = rows_of(new), rows_of(whole)
    started = before["sessions", 4][1]
    assert rows["sessions", 4] == (4, started, None, "clubs", "", "", None)
    assert {key: rows[key] for key in before if key[0] == "sets"} == {
        key: row for key, row in before.items() if key[0] == "sets"
    }


# ---- Versions, and what is no log


@pytest.mark.parametrize("version", range(1, len(MIGRATIONS)))
@pytest.mark.parametrize("headless", [False, True])
def test_an_older_log_is_brought_up_to_date_in_the_copy(
    path: Path, new: Path, version: int, headless: bool
) -> None:
    path.parent.mkdir(parents=True)
    connection = sqlite3.connect(path)
    connection.executescript((VERSIONS / f"{version}.sql").read_text("utf-8"))
    connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
    connection.execute(f"PRAGMA user_version = {version}")
    connection.close()
    assert check_log(path).whole
    assert check_log(path).version == version
    usual = Path(shutil.copy(path, path.with_name("usual.sqlite")))
    PracticeLog.open(usual).close()
    if headless:
        path.write_bytes(zeroed(0, 100)(path.read_bytes()))
    repaired(path, new, overwrite=False)
    assert rows_of(new) == rows_of(usual)
    assert check_log(new).version == len(MIGRATIONS)


VERSIONS = Path(__file__).parent / "versions"


def a_newer_one(path: Path) -> None:
    changed(path, f"PRAGMA user_version = {len(MIGRATIONS) + 1}")


def another_program(path: Path) -> None:
    path.unlink()
    changed(path, "CREATE TABLE sessions (id INTEGER PRIMARY KEY, name TEXT)")


def a_text(path: Path) -> None:
    path.write_text("Tuesday: 531, went well.\n" * 1000, "utf-8")


def an_empty_file(path: Path) -> None:
    path.write_bytes(b"")


@pytest.mark.parametrize(
    ("made", "kind", "fragment"),
    [
        (a_newer_one, NewerLogError, "was written by a newer throwcount"),
        (another_program, ForeignFileError, "a file of another program"),
        (a_text, LogError, "has nothing of a practice log"),
        (an_empty_file, LogError, "has nothing of a practice log"),
        (Path.unlink, LogError, "There is no practice log"),
    ],
)
def test_what_is_no_log_is_refused(
    damaged: Path, new: Path, made: Callable[[Path], None], kind: type[LogError], fragment: str
) -> None:
    made(damaged)
    with pytest.raises(kind, match=fragment):
        repaired(damaged, new, overwrite=False)
    assert not new.exists()


def test_a_log_that_is_written_meanwhile_is_not_repaired(
    small: Path, new: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    sizes = iter(([(1, 1)], [(2, 2)]))
    monkeypatch.setattr("throwcount.caller.log.repair._state", lambda _log: next(sizes))
    with pytest.raises(BusyLogError, match="written by another program meanwhile"):
        repaired(small, new, overwrite=False)
    assert not new.exists()


def test_a_place_that_is_none_is_told(small: Path, tmp_path: Path) -> None:
    with pytest.raises(FileError, match="no such folder"):
        repaired(small, tmp_path / "nowhere" / "new.sqlite", overwrite=False)
