"""Rows read out of pages are those that SQLite reads, whatever they hold."""

import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from throwcount.caller.log.pages import PAGE_SIZES, Pages, Value, read_journal

TEXTS = st.text(st.characters(exclude_categories=["Cs"]))
VALUES = st.one_of(
    st.none(),
    st.integers(-(2**63), 2**63 - 1),
    st.sampled_from([0, 1, 127, 128, -128, 2**15, -(2**23), 2**31, 2**47, -(2**47) - 1]),
    st.floats(allow_nan=False),
    TEXTS,
    st.binary(),
    st.integers(1, 9000).map(lambda length: "x" * length),
)
ROWS = st.lists(st.tuples(VALUES, VALUES, VALUES), max_size=40)


def written(path: Path, rows: list[tuple[Value, ...]], size: int = 4096) -> None:
    path.unlink(missing_ok=True)
    with closing(sqlite3.connect(path)) as connection:
        connection.execute(f"PRAGMA page_size = {size}")
        connection.execute("CREATE TABLE things (id INTEGER PRIMARY KEY, one, two, three)")
        connection.executemany("INSERT INTO things (one, two, three) VALUES (?, ?, ?)", rows)
        connection.commit()


def stored(path: Path) -> list[tuple[Value, ...]]:
    """Return all rows of three columns and a number."""
    with path.open("rb") as file:
        pages = Pages(file, read_journal(path))
        rows = [row for leaf in pages.leaves([2]) for row in pages.rows(leaf)]
    assert None not in rows
    return sorted(
        (row.number, *row.values[1:]) for row in rows if row is not None and len(row.values) == 4
    )


def by_sqlite(path: Path) -> list[tuple[Value, ...]]:
    with closing(sqlite3.connect(path)) as connection:
        return connection.execute("SELECT * FROM things ORDER BY id").fetchall()


@settings(
    max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(rows=ROWS, size=st.sampled_from(PAGE_SIZES))
def test_rows_of_any_values_and_pages_of_any_size(
    tmp_path: Path, rows: list[tuple[Value, ...]], size: int
) -> None:
    path = tmp_path / "things.sqlite"
    written(path, rows, size)
    assert stored(path) == by_sqlite(path)


@pytest.mark.parametrize("kept", [0, 1, 2, 3])
def test_the_journal_is_taken_as_far_as_it_was_committed(tmp_path: Path, kept: int) -> None:
    """Of three commits in a write-ahead log so many are whole; SQLite reads the same."""
    live, path = tmp_path / "live.sqlite", tmp_path / "things.sqlite"
    written(live, [("first", 2.5, 3)] * 10)
    journal = live.with_name("live.sqlite-wal")
    ends = [0]
    with closing(sqlite3.connect(live, isolation_level=None)) as connection:
        connection.execute("PRAGMA journal_mode = WAL")
        for turn in range(3):
            connection.execute("UPDATE things SET three = ? WHERE id <= ?", (turn, 3 * turn + 1))
            connection.execute("BEGIN")
            connection.executemany(
                "INSERT INTO things (one, two, three) VALUES ('later', ?, 'x')",
                [(number,) for number in range(300)],
            )
            connection.execute("COMMIT")
            ends.append(journal.stat().st_size)
        shutil.copy(live, path)
        path.with_name("things.sqlite-wal").write_bytes(journal.read_bytes()[: ends[kept] + 100])
    ours = stored(path)
    assert ours == by_sqlite(path)
    assert len(ours) == 10 + 300 * kept


def test_a_row_out_of_order_has_a_wrong_number(tmp_path: Path) -> None:
    path = tmp_path / "things.sqlite"
    written(path, [("abcdefgh", 2.5, number) for number in range(20)])
    content = bytearray(path.read_bytes())
    place = content.index(b"abcdefgh") - 5  # the number, the length of the header, four types
    while content[place - 1] != 10:  # the row of this number
        place = content.index(b"abcdefgh", place + 14) - 5
    content[place - 1] = 99
    path.write_bytes(content)
    with path.open("rb") as file:
        rows = list(Pages(file).rows(2))
    numbers = [row and row.number for row in rows]
    assert numbers == [None if number == 10 else number for number in range(1, 21)]
