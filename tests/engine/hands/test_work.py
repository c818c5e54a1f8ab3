"""What hands do, counted by hand on the ladder of each pattern."""

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from throwcount.engine.hands.work import (
    TurnOfHand,
    Work,
    hand_turns,
    work_of_pattern,
    work_of_turns,
)
from throwcount.engine.patterns.flight import flight_seconds
from throwcount.engine.patterns.pattern import Throw
from throwcount.engine.patterns.rules import read


def work_of(text: str) -> Work:
    return work_of_pattern(read(text))


@pytest.mark.parametrize(
    ("text", "right", "left"),
    [
        # turns, throws, holds, empty, gap, at once, kept
        ("3", (1, 1, 0, 0, 2, 1, 0), (1, 1, 0, 0, 2, 1, 0)),
        ("531", (3, 3, 0, 0, 2, 1, 0), (3, 3, 0, 0, 2, 1, 0)),
        # Each hand throws, then throws again, then holds.
        ("423", (3, 2, 1, 0, 2, 1, 0), (3, 2, 1, 0, 2, 1, 0)),
        # One hand throws 4s, the other holds.
        ("42", (1, 1, 0, 0, 2, 1, 0), (1, 0, 1, 0, None, 0, 1)),
        ("40", (1, 1, 0, 0, 2, 1, 0), (1, 0, 0, 1, None, 0, 0)),
        # Each hand throws on every third of its turns.
        ("522", (3, 1, 2, 0, 6, 1, 0), (3, 1, 2, 0, 6, 1, 0)),
        # 5 5 5 0 0, by the hands in turn: three throws in five turns, two of them close.
        ("55500", (5, 3, 0, 2, 2, 1, 0), (5, 3, 0, 2, 2, 1, 0)),
        ("7131", (2, 2, 0, 0, 2, 1, 0), (2, 2, 0, 0, 2, 1, 0)),
        ("[32]", (1, 1, 0, 0, 2, 2, 1), (1, 1, 0, 0, 2, 2, 1)),
        ("[33]33", (3, 3, 0, 0, 2, 2, 0), (3, 3, 0, 0, 2, 2, 0)),
        # The second value of a pair is the right hand's.
        ("(4,2)", (1, 0, 1, 0, None, 0, 1), (1, 1, 0, 0, 2, 1, 0)),
        ("(4,2x)*", (2, 2, 0, 0, 2, 1, 0), (2, 2, 0, 0, 2, 1, 0)),
    ],
)
def test_each_hand(text: str, right: tuple[Any, ...], left: tuple[Any, ...]) -> None:
    names = ("turns", "throws", "holds", "empty", "gap", "at_once", "kept")
    for hand, expected in zip(work_of(text).hands, (right, left), strict=True):
        assert tuple(getattr(hand, name) for name in names) == expected


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        # high throws in a row, 1s in a row, entry
        ("3", (0, 0, 0)),
        ("1", (0, 1, 0)),
        ("441", (2, 1, 0)),
        ("531", (1, 1, 0)),
        ("5511", (2, 2, 0)),
        ("711", (1, 2, 1)),
        ("55550", (4, 0, 0)),
        ("97531", (2, 1, 0)),
        # Common practice: a 4 leads from the cascade into the shower; 71 and 91 take more.
        ("51", (1, 1, 1)),
        ("71", (1, 1, 2)),
        ("91", (1, 1, 3)),
        # With gaps, or several in a hand, the hands just throw what they hold.
        ("50505", (2, 0, 0)),
        ("40", (1, 0, 0)),
        ("[33]33", (0, 0, 0)),
        # A 9 every third beat leaves gaps that no hand can fill at the start.
        ("900", (1, 0, 2)),
        ("(4,4)", (0, 0, 0)),
        ("(8,0)*", (2, 0, 2)),
    ],
)
def test_rows_and_the_way_in(text: str, expected: tuple[int, int, int]) -> None:
    work = work_of(text)
    assert (work.high_in_a_row, work.ones_in_a_row, work.entry) == expected


@pytest.mark.parametrize(
    ("text", "together", "unlike", "meeting"),
    [
        ("4", False, False, 0),
        ("(4,4)", True, False, 0),
        ("(4x,4x)", True, False, 1),
        ("(6x,6x)(2x,2x)", True, False, 2),
        ("(4,2x)*", True, True, 0),
        ("(4x,2x)", True, True, 0),
        # One hand throws while the other holds, or is empty.
        ("(4,2)", False, False, 0),
        ("(8,0)*", False, False, 0),
        ("([44x],2)*", False, False, 0),
    ],
)
def test_hands_together(text: str, together: bool, unlike: bool, meeting: int) -> None:
    work = work_of(text)
    assert (work.together, work.unlike, work.meeting) == (together, unlike, meeting)


def test_flights_follow_shannons_theorem() -> None:
    # F = (n - 2r) tau with r = 2/3, for 5, 3 and 1 (Shannon's theorem; Kalvan 1997 for r).
    assert work_of("531").flights == pytest.approx((11 / 3, 5 / 3, 0))
    assert work_of("531").highest == Throw(5)
    # A 2 that crosses is thrown; one that does not is held.
    assert work_of("(4,2x)*").flights == pytest.approx((8 / 3, 2 / 3, 2 / 3, 8 / 3))
    assert work_of("42").flights == pytest.approx((8 / 3, 0))
    assert work_of("11").highest is None


@given(st.integers(3, 20), st.integers(60, 400))
def test_flights_agree_with_the_heights_of_throws(value: int, tempo: int) -> None:
    (flight,) = work_of_pattern(read("0123456789abcdefghijk"[value])).flights
    assert flight * 60 / tempo == pytest.approx(flight_seconds(value, tempo))


@pytest.mark.parametrize(
    ("text", "closest", "overall"),
    [
        # At 240 beats a minute a hand has two turns a second.
        ("3", 2, 2),
        ("423", 2, 4 / 3),
        ("522", 2 / 3, 2 / 3),
        ("55500", 2, 6 / 5),
        ("42", 2, 2),
        ("(4,4)", 2, 2),
        ("2", 0, 0),
    ],
)
def test_throws_a_second(text: str, closest: float, overall: float) -> None:
    work = work_of(text)
    assert work.closest_rate(240) == pytest.approx(closest)
    assert work.mean_rate(240) == pytest.approx(overall)


@given(
    st.sampled_from("3 423 441 531 51 55500 744 97531 [33]33 (4,2x)*".split()),
    st.floats(40, 400),
    st.floats(1, 3),
)
def test_a_faster_tempo_never_slows_a_hand(text: str, tempo: float, faster: float) -> None:
    work = work_of(text)
    assert work.closest_rate(tempo * faster) >= work.closest_rate(tempo)
    assert work.mean_rate(tempo * faster) >= work.mean_rate(tempo)


def test_a_row_of_throws_is_counted_once() -> None:
    # Three 5s and then a pause: no hand comes round again.
    made = hand_turns("async", read("55500").turns)
    work = work_of_turns(made, 3)
    assert [turn.hand for turn in made] == "right left right left right".split()
    assert (work.right.throws, work.right.gap, work.right.turns) == (2, 2, 3)
    assert (work.left.throws, work.left.gap, work.left.turns) == (1, None, 2)
    assert (work.high_in_a_row, work.entry) == (3, 0)


def test_a_hand_that_hurries_throws_on_the_next_beat() -> None:
    made = [TurnOfHand(0, "right", (Throw(3),)), TurnOfHand(1, "right", (Throw(3),))]
    work = work_of_turns(made, 3)
    assert work.right.gap == 1
    assert work.closest_rate(240) == 4
    assert (work.left.turns, work.left.acts) == (0, frozenset())


def test_an_object_held_once_is_not_kept() -> None:
    assert work_of_turns(hand_turns("async", read("2").turns), 3).kept == 0
    assert work_of("2").kept == 2


def test_no_throws_at_all() -> None:
    work = work_of_turns([], 3)
    assert (work.turns, work.highest, work.flights) == (0, None, ())
    assert (work.closest_rate(200), work.mean_rate(200)) == (0, 0)


def test_pairs_and_turns_hand_by_hand() -> None:
    made = hand_turns("sync", read("(4x,2x)").turns, beat=10)
    assert made == [
        TurnOfHand(10, "left", (Throw(4, True),)),
        TurnOfHand(10, "right", (Throw(2, True),)),
    ]
    assert [turn.hand for turn in hand_turns("async", read("51").turns, "left")] == [
        "left",
        "right",
    ]
