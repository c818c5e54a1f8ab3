"""A session suggested from the log keeps the rules that it states (common practice of coaches)."""

import tomllib
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import NamedTuple

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from throwcount.caller.log.database import open_database_to_read
from throwcount.caller.log.history import LogChoice
from throwcount.caller.log.log import PracticeLog
from throwcount.caller.log.page import LogView
from throwcount.caller.log.records import Plan, Thrown
from throwcount.caller.session_file.suggestion import Suggestion, suggest
from throwcount.engine.patterns.rules import read
from throwcount.engine.practice.tempo_rules import Mark

NOW = datetime(2026, 3, 31, 18, tzinfo=UTC)
VIEW = LogView(rows=10, lately=14, now=NOW, width=80)


class Practised(NamedTuple):
    """Sets that are alike, kept some days ago."""

    pattern: str
    days: int
    catches: int
    marks: tuple[Mark, ...] = ("drop",)
    props: str = "clubs"
    seconds: float = 10.0


EASY = Practised("3", 2, 120, ("clean",) * 5)
GOOD = Practised("423", 3, 20, ("clean",) * 8 + ("drop",))


def suggested(*practised: Practised, choice: LogChoice = LogChoice()) -> Suggestion:  # noqa: B008
    """Return what is suggested after these sets, kept in the order of their days."""
    now = NOW
    log = PracticeLog(
        open_database_to_read(Path("not-there.sqlite")),
        lambda: now.timestamp(),  # noqa: PLW0108 - `now` goes on
    )
    for each in sorted(practised, key=lambda one: -one.days):
        now = NOW - timedelta(days=each.days)
        session = log.begin_session(each.props)
        for mark in each.marks:
            number = log.begin_set(session, Plan(read(each.pattern), 180.0))
            log.mark(number, mark)
            log.end_set(number, Thrown(each.catches, each.seconds, 180.0, each.catches))
    with log:
        return suggest(log.history, choice, VIEW)


def roles(suggestion: Suggestion) -> list[tuple[str, str]]:
    return [(block.role, block.written.pattern) for block in suggestion.blocks]


@pytest.mark.parametrize(
    ("practised", "expected"),
    [
        ([], []),
        ([Practised("5", 1, 8)], [("warm-up", "5"), ("near its goal", "5"), ("end", "5")]),
        (  # the easiest begins, another that goes well ends
            [EASY, GOOD, Practised("5", 1, 8), Practised("744", 5, 4)],
            [
                *(("warm-up", "3"), ("near its goal", "5"), ("near its goal", "744")),
                ("end", "423"),
            ],
        ),
        (  # 60 % of the next goal is near, and no less
            [EASY, Practised("5", 1, 30), Practised("744", 5, 29)],
            [("warm-up", "3"), ("near its goal", "5"), ("work", "744"), ("end", "3")],
        ),
        (  # a run of long ago does not tell what is near now
            [EASY, Practised("5", 40, 9), Practised("744", 1, 11)],
            [("warm-up", "3"), ("waited long", "5"), ("work", "744"), ("end", "3")],
        ),
        (  # those that waited longest; one that was only tried comes after them
            [
                EASY,
                *(Practised("5", 80, 9), Practised("441", 20, 9, ("drop",) * 3)),
                *(Practised("744", 90, 9, ("drop",) * 3), Practised("51", 30, 9, ("drop",) * 3)),
            ],
            [
                *(("warm-up", "3"), ("waited long", "744"), ("waited long", "51")),
                *(("waited long", "441"), ("end", "3")),
            ],
        ),
        (  # no more than two near their goals, the nearest first, and three in all
            [
                *(EASY, Practised("5", 1, 7), Practised("744", 1, 9), Practised("441", 1, 5)),
                Practised("91", 20, 3, ("drop",) * 3),
            ],
            [
                *(("warm-up", "3"), ("near its goal", "744"), ("near its goal", "441")),
                *(("waited long", "91"), ("end", "3")),
            ],
        ),
    ],
)
def test_what_is_chosen(practised: list[Practised], expected: list[tuple[str, str]]) -> None:
    assert roles(suggested(*practised)) == expected


def test_goals_and_tempos() -> None:
    waited = Practised("744", 30, 12, ("clean", "drop", "drop"))
    blocks = suggested(EASY, GOOD, Practised("5", 1, 8), waited).blocks
    warm_up, near, long_ago, end = (block.written for block in blocks)
    assert (warm_up.attempts, warm_up.sets, warm_up.seconds, warm_up.tempo) == (None, 3, 60, 180)
    assert (near.goal, near.goal_times, near.staircase) == ("qualify", 3, None)
    assert (long_ago.goal, long_ago.tempo) == ("qualify", 180)
    assert (end.pattern, end.rest_after) == ("423", None)
    assert blocks[1].why == "8 catches in the last 4 weeks, 80% of 10 catches."
    assert blocks[2].why == "Last practised on 2026-03-01, 30 days ago; best run 12 catches."


def test_beyond_every_goal_the_tempo_rises() -> None:
    blocks = suggested(EASY, Practised("441", 1, 200)).blocks
    assert (blocks[1].written.staircase, blocks[1].written.goal) == (True, None)


@pytest.mark.parametrize(
    ("choice", "props", "pattern"),
    [
        (LogChoice(), "rings", "5"),
        (LogChoice(props="CLUBS"), "clubs", "3"),
        (LogChoice(props="balls"), "", ""),
        (LogChoice(since=NOW - timedelta(days=2)), "rings", "5"),
    ],
)
def test_the_props_are_those_practised_last(choice: LogChoice, props: str, pattern: str) -> None:
    kept = [Practised("3", 3, 20), Practised("5", 1, 4, props="rings")]
    suggestion = suggested(*kept, choice=choice)
    assert (suggestion.props, {block.written.pattern for block in suggestion.blocks}) == (
        *(props, {pattern} - {""}),
    )
    assert {block.written.props for block in suggestion.blocks} <= {props}


def test_props_of_which_nothing_is_caught_are_passed_over() -> None:
    suggestion = suggested(Practised("3", 3, 20), Practised("2", 1, 0, props="plates"))
    assert suggestion.props == "clubs"


@pytest.mark.parametrize("nothing", [Practised("2", 1, 0), Practised("0", 1, 0)])
def test_what_cannot_be_caught_is_not_suggested(nothing: Practised) -> None:
    assert suggested(nothing).blocks == ()


PRACTISED = st.builds(
    Practised,
    pattern=st.sampled_from("3 5 531 744 423 51 97531 (4,2x)* [33]33 2 91".split()),
    days=st.integers(0, 100),
    catches=st.integers(0, 300),
    marks=st.lists(st.sampled_from(["clean", "drop"]), min_size=1, max_size=5).map(tuple),
    seconds=st.floats(0, 1000),
)


@settings(max_examples=60)
@given(st.lists(PRACTISED, min_size=1, max_size=12))
def test_any_session_has_its_shape(practised: list[Practised]) -> None:
    suggestion = suggested(*practised)
    if {each.pattern for each in practised} == {"2"}:
        assert suggestion.blocks == ()
        return
    first, *work, last = suggestion.blocks
    assert (first.role, last.role) == ("warm-up", "end")
    assert 1 <= len(work) <= 3
    assert len({block.written.pattern for block in work}) == len(work)
    assert all(3 * 60 <= block.seconds < 10 * 60 for block in suggestion.blocks)
    assert 20 <= suggestion.minutes <= 40
    document = tomllib.loads(suggestion.text)
    assert [block["pattern"] for block in document["block"]] == [
        block.written.pattern for block in suggestion.blocks
    ]
