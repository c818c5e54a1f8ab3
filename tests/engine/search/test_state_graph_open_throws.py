"""Throws from a state, open or not, against the graph of states."""

import pytest

from throwcount.engine.patterns.pattern import written_turn
from throwcount.engine.patterns.rows import HandLimits
from throwcount.engine.search.state_graph import (
    all_states,
    open_throws,
    states_of,
    transitions,
    turns_from,
)

OTHERS = [
    HandLimits("sync", 6),
    HandLimits("async", 4, 2),
    HandLimits("sync", 4, 2),
    HandLimits("async", 3, 3),
]


@pytest.mark.parametrize("highest", range(1, 8))
def test_open_throws_are_the_arrows_of_the_graph(highest: int) -> None:
    hands = HandLimits(highest=highest)
    for objects in range(1, highest + 1):
        for number, state in zip(
            all_states(objects, highest), states_of(hands, objects), strict=True
        ):
            throws = open_throws(hands, state)
            assert [throw.value for throw in throws] == list(range(highest + 1))
            leading = [(one.value, bits(one.leads_to[0])) for one in throws if one.leads_to]
            assert leading == transitions(number, highest)
            assert all((one.leads_to is None) == (one.obstacle is not None) for one in throws)


def bits(due: tuple[int, ...]) -> int:
    return sum(1 << ahead for ahead, count in enumerate(due) if count)


def test_why_not() -> None:
    from_1101 = [throw.obstacle for throw in open_throws(HandLimits(highest=6), ((1, 1, 0, 1),))]
    assert from_1101 == ["object due", "beat taken", None, "beat taken", None, None, None]
    from_0111 = [throw.obstacle for throw in open_throws(HandLimits(highest=4), ((0, 1, 1, 1),))]
    assert from_0111 == [None, *["nothing due"] * 4]


@pytest.mark.parametrize("hands", OTHERS, ids=repr)
def test_turns_come_first_and_then_the_throws_that_none_of_them_holds(hands: HandLimits) -> None:
    for state in states_of(hands, 4):
        throws = open_throws(hands, state)
        turns = list(turns_from(hands, state))
        is_open = throws[: len(turns)]
        assert [one.written for one in is_open] == [
            written_turn(hands.kind, turn) for turn, _ in turns
        ]
        assert [one.leads_to for one in is_open] == [following for _, following in turns]
        closed = throws[len(turns) :]
        assert all(one.obstacle and one.leads_to is None for one in closed)
        for place in range(hands.places):
            hand = None if hands.kind == "async" else ("left", "right")[place]
            held = {str(throw) for turn, _ in turns for throw in turn[place]}
            held |= {"0" for turn, _ in turns if not turn[place]}
            shut = {one.written for one in closed if one.hand == hand}
            assert not held & shut
            crossed = [""] if hands.kind == "async" else ["", "x"]
            step = hands.places
            every = {
                f"{value}{x}" for value in range(step, hands.highest + 1, step) for x in crossed
            }
            assert held | shut == every | {"0"}


def test_why_not_in_pairs() -> None:
    throws = open_throws(HandLimits("sync", 4), ((1, 1), (0, 1)))
    told = [(one.hand, one.written, one.obstacle) for one in throws]
    assert told == [
        (None, "(4,0)", None),
        (None, "(4x,0)", None),
        ("left", "0", "object due"),
        ("left", "2", "beat taken"),
        ("left", "2x", "beat taken"),
        *[("right", throw, "nothing due") for throw in ("2", "2x", "4", "4x")],
    ]
