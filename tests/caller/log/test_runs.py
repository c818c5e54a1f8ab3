"""Best runs, goals and changes against counting by hand."""

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from throwcount.caller.log.database import caught, open_database_to_read
from throwcount.caller.log.history import History
from throwcount.caller.log.log import PracticeLog
from throwcount.caller.log.records import ChangeRecord, PartRecord, Plan, Thrown
from throwcount.engine.patterns.rules import read
from throwcount.engine.practice.tempo_rules import Mark

TODAY = datetime(2026, 3, 31, tzinfo=UTC)
Attempt = tuple[int, int | None, float]
"""Catches, goal and hours since `TODAY` began, of one set."""

ATTEMPTS = st.lists(
    st.tuples(
        st.integers(0, 120), st.sampled_from([None, None, 10, 75]), st.integers(-48, 30).map(float)
    ),
    min_size=1,
    max_size=30,
)


def kept(attempts: list[Attempt]) -> History:
    now = TODAY
    log = PracticeLog(
        open_database_to_read(Path("not-there.sqlite")),
        lambda: now.timestamp(),  # noqa: PLW0108 - `now` goes on
    )
    session = log.begin_session("balls")
    for catches, goal, hours in attempts:
        now = TODAY + timedelta(hours=hours)
        number = log.begin_set(session, Plan(read("744"), 200.0, goal=goal))
        log.end_set(number, Thrown(catches + 1, catches / 4, 200.0 + catches, catches), "stopped")
    return log.history


@settings(max_examples=60)
@given(ATTEMPTS)
def test_runs_are_counted(attempts: list[Attempt]) -> None:
    with kept(attempts) as history:
        (found,) = history.runs(TODAY)
    today = [each for each in attempts if 0 <= each[2] < 24]
    longest = max(catches for catches, _, _ in attempts)
    first = next(each for each in attempts if each[0] == longest)
    assert found.best is not None
    assert (found.best.catches, found.best.seconds, found.best.tempo, found.best.when) == (
        *(longest, longest / 4, 200.0 + longest),
        TODAY + timedelta(hours=first[2]),
    )
    assert (found.attempts, found.not_known, found.attempts_today) == (
        *(len(attempts), 0, len(today)),
    )
    assert found.best_today == max((catches for catches, _, _ in today), default=None)
    assert found.best_before == max(
        (catches for catches, _, hours in attempts if hours < 0), default=None
    )
    asked = [(catches, goal) for catches, goal, _ in attempts if goal]
    assert (found.asked, found.reached) == (
        *(len(asked), sum(catches >= goal for catches, goal in asked)),
    )
    expected = {5: "flash", 10: "qualify", 50: "50", 100: "100"}
    expected |= {goal: str(goal) for _, goal in asked if goal not in expected}
    assert [(goal.goal, goal.catches, goal.met, goal.met_today) for goal in found.goals] == [
        (
            expected[goal],
            goal,
            sum(catches >= goal for catches, _, _ in attempts),
            sum(catches >= goal for catches, _, _ in today),
        )
        for goal in sorted(expected)
    ]


@pytest.mark.parametrize(
    ("written", "beats", "catches"),
    [
        ("531", 7, 7),
        ("51", 3, 3),
        ("423", 6, 4),  # a held 2 is not caught
        ("420", 6, 2),
        ("(4,2x)*", 6, 6),  # a crossing 2 is
        ("(4,2)", 3, 2),
        ("[32]3", 4, 6 - 2),
        ("531", 0, 0),
        ("531", -1, None),
        ("531", 10**12, None),
        ("531", "many", None),
        ("543", 6, None),
        ("", 6, None),
        (b"531", 6, None),
    ],
)
def test_catches_without_a_drop(written: object, beats: object, catches: int | None) -> None:
    """Common practice: each throw is a catch but the 2 that stays in the hand."""
    assert caught(written, beats) == catches


def rehearsed(log: PracticeLog, parts: list[tuple[str, str, int, Mark | None]]) -> None:
    session = log.begin_session(file="walk.toml")
    for after, part, catches, mark in parts:
        number = log.begin_set(session, Plan(read("531"), 180.0, part=part, after_part=after))
        if mark:
            log.mark(number, mark)
        log.end_set(number, Thrown(catches and catches + 1, 1.0, 180.0, catches))


def test_changes_and_parts_by_drops(log: PracticeLog) -> None:
    """A change is over with six catches of three objects; what is not thrown does not count."""
    rehearsed(
        log,
        [
            *(("", "a", 30, "clean"), ("a", "b", 5, "drop"), ("b", "c", 1, "drop")),
            *(("", "a", 9, "drop"), ("a", "b", 6, "drop"), ("a", "b", 4, "drop")),
            *(("b", "c", 40, None), ("b", "c", 0, "drop"), ("c", "a", 2, "clean")),
        ],
    )
    assert list(log.history.changes()) == [
        ChangeRecord("walk.toml", "a", "b", 3, 2),
        ChangeRecord("walk.toml", "b", "c", 2, 1),
        ChangeRecord("walk.toml", "c", "a", 1, 0),
    ]
    assert list(log.history.parts()) == [
        PartRecord("walk.toml", "b", 3, 3),
        PartRecord("walk.toml", "c", 2, 1),
        PartRecord("walk.toml", "a", 3, 1),
    ]
    assert len(list(log.history.changes(most=1))) == 1
