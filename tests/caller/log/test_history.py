"""What is added up, against adding it up by hand; and that a long log takes no more memory."""

import tracemalloc
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from itertools import groupby
from pathlib import Path
from typing import NamedTuple

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from throwcount.caller.log import queries
from throwcount.caller.log.database import Database, open_database, open_database_to_read
from throwcount.caller.log.history import History, LogChoice
from throwcount.caller.log.log import PracticeLog
from throwcount.caller.log.queries import BEST_RUN, LAST_HELD, LAST_HELD_WITH_ANY_PROPS, LogQuery
from throwcount.caller.log.records import PatternRecord, Plan, Thrown
from throwcount.engine.patterns.rows import canonical
from throwcount.engine.patterns.rules import read
from throwcount.engine.practice.tempo_rules import Mark

BEGAN = datetime(2026, 3, 1, 12, tzinfo=UTC)
NAMES = {text: canonical(read(text)).text for text in ("531", "315", "3", "(4,2x)*")}


class Made(NamedTuple):
    """A set as it is going to be kept; `day` counts from `BEGAN`."""

    day: int
    props: str
    pattern: str
    mark: Mark | None
    beats: int
    tempo: float


MADE = st.builds(
    Made,
    day=st.just(0),
    props=st.sampled_from(["", "clubs"]),
    pattern=st.sampled_from(sorted(NAMES)),
    mark=st.sampled_from(["clean", "clean", "drop", None]),
    beats=st.integers(0, 200),
    tempo=st.integers(100, 300).map(float),
)
PRACTICE = st.lists(MADE, max_size=25).map(
    lambda sets: [made._replace(day=day // 3) for day, made in enumerate(sets)]
)


def practised(sets: list[Made]) -> History:
    """Keep sets, one session for all with the same props."""
    now = BEGAN
    database = open_database_to_read(Path("not-there.sqlite"))
    log = PracticeLog(database, lambda: now.timestamp())  # noqa: PLW0108 - `now` goes on
    sessions: dict[str, int] = {}
    for made in sets:
        now = BEGAN + timedelta(days=made.day)
        if made.props not in sessions:
            sessions[made.props] = log.begin_session(made.props)
        number = log.begin_set(sessions[made.props], Plan(read(made.pattern), made.tempo))
        if made.mark:
            log.mark(number, made.mark)
        log.end_set(number, Thrown(made.beats, made.beats / 2, made.tempo - 1, made.beats))
    return log.history


def by_hand(sets: list[Made], pattern: str, props: str) -> PatternRecord:
    """Add up the sets of one pattern the plain way."""
    clean = [made for made in sets if made.mark == "clean"]
    rows = groupby(made.mark for made in sets if made.mark)
    return PatternRecord(
        pattern=pattern,
        objects=3,
        props=props,
        sets=len(sets),
        clean=len(clean),
        drops=sum(made.mark == "drop" for made in sets),
        seconds=sum(made.beats / 2 for made in sets),
        best_tempo=max((made.tempo for made in clean), default=None),
        last_tempo=clean[-1].tempo - 1 if clean else None,
        longest_run=max((made.beats for made in clean), default=0),
        longest_row=max((len(list(row)) for mark, row in rows if mark == "clean"), default=0),
        last=BEGAN + timedelta(days=sets[-1].day),
        best_run=max(made.beats for made in sets),
    )


def chosen(sets: list[Made], choice: LogChoice) -> list[Made]:
    since = choice.since or BEGAN
    return [
        made
        for made in sets
        if choice.pattern in {None, NAMES[made.pattern]}
        and choice.props in {None, made.props}
        and BEGAN + timedelta(days=made.day) >= since
    ]


CHOICE = st.builds(
    LogChoice,
    pattern=st.sampled_from([None, "531", "3"]),
    props=st.sampled_from([None, "", "clubs"]),
    since=st.none() | st.integers(0, 9).map(lambda day: BEGAN + timedelta(days=day)),
)


@settings(max_examples=150)
@given(PRACTICE, CHOICE)
def test_patterns_added_up(sets: list[Made], choice: LogChoice) -> None:
    wanted = chosen(sets, choice)
    by_name: dict[tuple[str, str], list[Made]] = {}
    for made in wanted:
        by_name.setdefault((NAMES[made.pattern], made.props), []).append(made)
    expected = {name: by_hand(of_one, *name) for name, of_one in by_name.items()}
    day = BEGAN + timedelta(days=2)
    with practised(sets) as history:
        found = list(history.patterns(choice))
        waiting = list(history.patterns_not_since(day, choice))
        assert list(history.patterns(choice, most=1)) == found[:1]
    assert {(one.pattern, one.props): one for one in found} == expected
    assert [one.last for one in found] == sorted((one.last for one in found), reverse=True)
    assert [one.last for one in waiting] == sorted(
        one.last for one in expected.values() if one.last < day
    )


@settings(max_examples=100)
@given(PRACTICE, CHOICE)
def test_totals_sessions_sets_and_days(sets: list[Made], choice: LogChoice) -> None:
    wanted = chosen(sets, choice)
    with practised(sets) as history:
        totals = history.totals(choice)
        sessions = list(history.sessions(choice))
        kept = list(history.sets(choice))
        days = list(history.days(choice))
        assert (totals.sets, totals.patterns, totals.sessions) == (
            len(wanted),
            len({NAMES[made.pattern] for made in wanted}),
            len({made.props for made in wanted}),
        )
    assert totals.seconds == sum(made.beats / 2 for made in wanted)
    assert (totals.first is None) == (totals.last is None) == (not wanted)
    assert {one.props: one.sets for one in sessions} == {
        props: sum(made.props == props for made in wanted)
        for props in {made.props for made in wanted}
    }
    assert [(one.written, one.outcome, one.beats_thrown) for one in kept] == [
        (made.pattern, made.mark, made.beats) for made in wanted
    ]
    assert [[mark.mark for mark in one.marks] for one in kept] == [
        [made.mark] if made.mark else [] for made in wanted
    ]
    assert sum(one.seconds for one in days) == totals.seconds
    assert {(one.day, one.pattern, one.props) for one in days} == {
        ((BEGAN + timedelta(days=made.day)).date(), NAMES[made.pattern], made.props)
        for made in wanted
    }
    assert len(days) == len({(one.day, one.pattern, one.props) for one in days})


def test_a_view_does_not_change_while_others_write(log: PracticeLog, path: Path) -> None:
    session = log.begin_session()
    log.begin_set(session, Plan(read("3"), 150.0))
    with History.open(path) as history:
        with history.unchanging():
            assert history.totals().sets == 1
            log.begin_set(session, Plan(read("3"), 150.0))
            assert history.totals().sets == 1
        assert history.totals().sets == 2


FILL = """
    WITH RECURSIVE numbers (n) AS (SELECT 1 UNION ALL SELECT n + 1 FROM numbers WHERE n < :sets)
    INSERT INTO sets (
        id, session_id, pattern, written, objects, cycle_beats, props, first_hand,
        tempo_start, tempo_end, tempo_fastest, beats_planned, beats_thrown, seconds,
        started, seen, ended, status, outcome
    )
    SELECT
        NULL, 1, '531', '531', 3, 3, '', 'right', 150.0, 150.0, 150.0, 30, 30, 12.0,
        n * 60000, n * 60000, n * 60000 + 12000, 'finished',
        CASE n % 5 WHEN 0 THEN 'drop' WHEN 1 THEN NULL ELSE 'clean' END
    FROM numbers
"""
FILL_MARKS = (
    "INSERT INTO marks SELECT NULL, id, outcome, started, 9, 'key' FROM sets WHERE outcome NOT NULL"
)
SETS = 40_000
FLAT = 200_000
"""Bytes; the sets alone would take twenty million."""


@pytest.fixture(scope="module")
def long_log(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Database]:
    database = open_database(tmp_path_factory.mktemp("long") / "practice.sqlite")
    PracticeLog(database).begin_session()
    with database.change() as connection:
        connection.execute(FILL, {"sets": SETS})
        connection.execute(FILL_MARKS)
    yield database
    database.close()


def test_a_long_log_is_read_one_by_one(long_log: Database) -> None:
    history = History(long_log)
    history.totals()
    tracemalloc.start()
    assert sum(len(one.marks) for one in history.sets()) == SETS * 4 // 5
    assert [one.longest_row for one in history.patterns()] == [3]
    assert sum(1 for _ in history.days()) > 20
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert peak < FLAT


VALUES = "pattern props since most before silent today tomorrow catches".split()


@pytest.mark.parametrize("text", [LAST_HELD, LAST_HELD_WITH_ANY_PROPS, BEST_RUN])
def test_what_a_practice_asks_for_is_found_by_an_index(long_log: Database, text: str) -> None:
    values = {"pattern": "531", "props": "", "besides": None}
    plan = [row["detail"] for row in long_log.rows(f"EXPLAIN QUERY PLAN {text}", values)]
    assert any(step.startswith("SEARCH sets USING") for step in plan), plan
    assert not any(step.startswith("SCAN sets") for step in plan), plan


@pytest.mark.parametrize(
    "name", [name for name, value in vars(queries).items() if isinstance(value, LogQuery)]
)
def test_what_is_kept_of_a_pattern_is_found_by_an_index(long_log: Database, name: str) -> None:
    query: LogQuery = getattr(queries, name)
    values = dict.fromkeys(VALUES, 0)
    text = f"EXPLAIN QUERY PLAN {query(pattern=True, props=True)}"
    plan = [row["detail"] for row in long_log.rows(text, values)]
    assert any(f"SEARCH {query.about} USING" in step for step in plan), plan
    scans = tuple(f"SCAN {table}" for table in ("sets", "marks", "takes"))
    assert not any(step.startswith(scans) for step in plan), plan
