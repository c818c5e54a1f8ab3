"""What is kept is what comes back, and how a set counts."""

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Protocol

import pytest
from hypothesis import given
from hypothesis import strategies as st
from kept_takes import TAKE

from throwcount.caller.log.database import LogError, open_database
from throwcount.caller.log.history import History, LogChoice
from throwcount.caller.log.log import PracticeLog
from throwcount.caller.log.records import (
    Ending,
    LastHeld,
    MarkGiven,
    Plan,
    SetRecord,
    Thrown,
    tidied,
)
from throwcount.engine.patterns.pattern import Pattern
from throwcount.engine.patterns.rules import read
from throwcount.engine.practice.tempo_rules import Mark

SILENCE = 60.0
"""Seconds: a program that runs gives several signs of itself in a minute."""

LONGEST_NAME = 60
"""Characters: more do not fit a column of a table."""


FULL = 2
"""What SQLite calls FULL (https://sqlite.org/pragma.html#pragma_synchronous)."""


class Clock(Protocol):
    """What the fixture gives."""

    def __call__(self) -> float: ...

    def on(self, *, days: float = 0, seconds: float = 0) -> None: ...


BEGAN = datetime(2026, 3, 31, 16, 0, tzinfo=UTC)


def test_a_set_comes_back_as_it_was_kept(log: PracticeLog, clock: Clock) -> None:
    session = log.begin_session("  Clubs ", "Speakers")
    number = log.begin_set(session, Plan(read("153"), 150.0, 48, "left"))
    clock.on(seconds=4)
    assert log.mark(number, "clean", 10, "pedal") == "clean"
    clock.on(seconds=16)
    assert log.end_set(number, Thrown(48, 18.5, 165.0, 47)) == "clean"
    clock.on(seconds=5)
    log.end_session(session)
    assert list(log.history.sets()) == [
        SetRecord(
            number=1,
            session=1,
            started=BEGAN,
            ended=BEGAN + timedelta(seconds=20),
            status="finished",
            outcome="clean",
            pattern="531",
            written="153",
            objects=3,
            cycle_beats=3,
            props="clubs",
            first="left",
            tempo_start=150.0,
            tempo_end=165.0,
            tempo_fastest=165.0,
            beats_planned=48,
            beats_thrown=48,
            seconds=18.5,
            catches=47,
            goal=None,
            part="",
            after_part="",
            marks=(MarkGiven("clean", BEGAN + timedelta(seconds=4), 10, "pedal"),),
        )
    ]
    (kept,) = log.history.sessions()
    assert (kept.started, kept.ended, kept.whole) == (BEGAN, BEGAN + timedelta(seconds=25), True)
    assert (kept.props, kept.device, kept.sets, kept.seconds) == ("clubs", "speakers", 1, 18.5)


@pytest.mark.parametrize(
    ("marks", "status", "unmarked", "counts"),
    [
        ([], "finished", None, None),
        ([], "finished", "clean", "clean"),
        ([], "finished", "drop", "drop"),
        ([], "stopped", "clean", None),
        (["clean"], "stopped", None, "clean"),
        (["clean"], "finished", "drop", "clean"),
        (["drop"], "finished", "clean", "drop"),
        (["clean", "drop"], "finished", None, "drop"),
        (["drop", "clean"], "finished", None, "drop"),
    ],
)
def test_how_a_set_counts(
    log: PracticeLog, marks: list[Mark], status: Ending, unmarked: Mark | None, counts: Mark | None
) -> None:
    number = log.begin_set(log.begin_session(), Plan(read("3"), 200.0))
    for mark in marks:
        log.mark(number, mark)
    assert log.end_set(number, Thrown(30, 9.0, 200.0), status, unmarked) == counts
    (kept,) = log.history.sets()
    assert (kept.outcome, kept.status) == (counts, status)


@pytest.mark.parametrize(
    ("unmarked", "late", "counts"),
    [("drop", "clean", "clean"), ("clean", "drop", "drop"), (None, "clean", "clean")],
)
def test_a_mark_in_the_rest_decides_over_silence(
    log: PracticeLog, unmarked: Mark | None, late: Mark, counts: Mark
) -> None:
    number = log.begin_set(log.begin_session(), Plan(read("3"), 200.0))
    log.end_set(number, Thrown(30, 9.0, 200.0), unmarked=unmarked)
    assert log.mark(number, late) == counts
    (kept,) = log.history.sets()
    assert (kept.outcome, kept.status, kept.marks[0].beat) == (counts, "finished", None)


@pytest.mark.parametrize(
    ("given", "counts"),
    [
        ([("drop", "microphone")], "drop"),
        ([("drop", "microphone"), ("clean", "key")], "clean"),
        ([("clean", "pedal"), ("drop", "microphone")], "drop"),
        ([("drop", "key"), ("drop", "microphone"), ("clean", "key")], "drop"),
    ],
)
def test_a_drop_that_was_heard_is_taken_back_by_a_clean_mark(
    log: PracticeLog, given: list[tuple[Mark, str]], counts: Mark
) -> None:
    number = log.begin_set(log.begin_session(), Plan(read("3"), 200.0))
    marks = [log.mark(number, mark, None, given_by) for mark, given_by in given]
    assert marks[-1] == counts
    assert log.end_set(number, Thrown(30, 9.0, 200.0)) == counts
    (kept,) = log.history.sets()
    assert [(each.mark, each.given_by) for each in kept.marks] == given


def test_progress_is_what_is_left_of_an_interrupted_set(
    log: PracticeLog, clock: Clock, path: Path
) -> None:
    number = log.begin_set(log.begin_session(), Plan(read("3"), 150.0))
    clock.on(seconds=30)
    log.progress(number, Thrown(70, 28.0, 180.0))
    clock.on(seconds=5)
    log.progress(number, Thrown(85, 33.0, 170.0))
    with History.open(path, clock) as history:
        (kept,) = history.sets()
        assert (kept.status, kept.ended) == ("open", None)
        clock.on(seconds=SILENCE + 1)
        (kept,) = history.sets()
        assert (kept.status, kept.beats_thrown, kept.seconds) == ("interrupted", 85, 33.0)
        assert (kept.tempo_start, kept.tempo_end, kept.tempo_fastest) == (150.0, 170.0, 180.0)
        (session,) = history.sessions()
        assert (session.whole, session.ended - session.started) == (False, timedelta(seconds=35))


def tempo_held(log: PracticeLog, pattern: Pattern, props: str | None = None) -> float | None:
    held = log.history.last_held(pattern, props)
    return None if held is None else held.tempo


def test_the_last_tempo_is_the_one_held_at_the_end_of_the_last_clean_set(log: PracticeLog) -> None:
    balls, clubs = log.begin_session("balls"), log.begin_session("clubs")

    def keep(session: int, pattern: str, mark: Mark | None, tempo: float) -> None:
        number = log.begin_set(session, Plan(read(pattern), 100.0))
        if mark is not None:
            log.mark(number, mark)
        log.end_set(number, Thrown(30, 10.0, tempo, 30))

    assert tempo_held(log, read("531")) is None
    keep(balls, "531", "clean", 150.0)
    keep(balls, "315", "clean", 160.0)
    keep(balls, "153153", "drop", 170.0)
    keep(balls, "531", None, 180.0)
    keep(clubs, "531", "clean", 120.0)
    keep(clubs, "51", "clean", 110.0)
    assert tempo_held(log, read("153"), "Balls") == 160.0
    assert tempo_held(log, read("531"), "clubs") == 120.0
    assert tempo_held(log, read("531")) == 120.0
    assert tempo_held(log, read("531"), "rings") is None
    assert tempo_held(log, read("15"), "clubs") == 110.0
    assert tempo_held(log, read("(4x,2x)"), "clubs") is None
    assert log.history.last_held(read("153"), "Balls") == LastHeld(160.0, BEGAN, 30)
    assert log.history.last_held(read("531"), "rings") is None


@pytest.mark.parametrize(
    ("asked", "fragment"),
    [
        (lambda log: log.begin_set(7, Plan(read("3"), 150.0)), "no session 7"),
        (lambda log: log.end_session(7), "no session 7"),
        (lambda log: log.mark(7, "clean"), "no set 7"),
        (lambda log: log.progress(7, Thrown(1, 1.0, 150.0)), "no set 7"),
        (lambda log: log.end_set(7, Thrown(1, 1.0, 150.0)), "no set 7"),
    ],
)
def test_what_was_never_begun(
    log: PracticeLog, asked: Callable[[PracticeLog], object], fragment: str
) -> None:
    with pytest.raises(LogError, match=fragment):
        asked(log)
    assert list(log.history.sets()) == []


def test_a_commit_waits_for_the_disk(path: Path) -> None:
    database = open_database(path)
    assert [tuple(row) for row in database.rows("PRAGMA synchronous", {})] == [(FULL,)]
    assert [tuple(row) for row in database.rows("PRAGMA journal_mode", {})] == [("wal",)]
    database.close()


@pytest.mark.parametrize(
    ("given", "kept"),
    [
        ("Clubs", "clubs"),
        ("  big \t RINGS\n", "big rings"),
        ("", ""),
        ("\x00\x1b[31m", "[31m"),
        ("\udcff", ""),
        ("b" * 100, "b" * LONGEST_NAME),
    ],
)
def test_names(given: str, kept: str) -> None:
    assert tidied(given) == kept


@given(st.text())
def test_any_name_is_kept_in_one_form(name: str) -> None:
    kept = tidied(name)
    assert kept == tidied(kept)
    assert len(kept) <= LONGEST_NAME
    assert kept.isprintable()
    assert kept.encode("utf-8").decode("utf-8") == kept


def test_odd_paths(tmp_path: Path) -> None:
    for name in ("a?b#c%20.db", "mode=ro", ":memory:", "a b&c", "\u00e9\u4e2d.db"):
        path = tmp_path / name / name
        with PracticeLog.open(path) as log:
            log.begin_set(log.begin_session(), Plan(read("3"), 150.0))
        assert path.is_file()
        with History.open(path) as history:
            assert history.totals().sets == 1


def test_a_take_comes_back_as_it_was_kept(log: PracticeLog, clock: Clock) -> None:
    first = log.keep_take(TAKE)
    clock.on(days=1)
    other = replace(TAKE, props="  Rings ", pattern="", asynchrony_sd=None, tempo_asked=None)
    second = log.keep_take(other)
    assert (first, second) == (1, 2)
    latest, earlier = log.history.takes()
    assert (earlier.number, earlier.summary) == (1, TAKE)
    assert latest.summary == replace(other, props="rings")
    assert latest.kept - earlier.kept == timedelta(days=1)


@pytest.mark.parametrize(
    ("choice", "numbers"),
    [
        (LogChoice(), [2, 1]),
        (LogChoice(pattern="531"), [1]),
        (LogChoice(props="RINGS"), [2]),
        (LogChoice(pattern="531", props="rings"), []),
        (LogChoice(since=datetime(2026, 4, 1, tzinfo=UTC)), [2]),
    ],
)
def test_takes_are_chosen_as_sets_are(
    log: PracticeLog, clock: Clock, choice: LogChoice, numbers: list[int]
) -> None:
    log.keep_take(TAKE)
    clock.on(days=1)
    log.keep_take(replace(TAKE, pattern="744", props="rings"))
    assert [take.number for take in log.history.takes(choice)] == numbers
    assert [take.number for take in log.history.takes(choice, 1)] == numbers[:1]
