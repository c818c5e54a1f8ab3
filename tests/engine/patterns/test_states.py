"""States, worked out by hand from the definition; the words for them are the trade's."""

import pytest

from engine.patterns.jugglable import read
from engine.patterns.states import (
    State,
    due_by_beat,
    ground,
    is_ground,
    is_prime,
    state,
    states,
    visits_ground,
)


@pytest.mark.parametrize(
    ("text", "before"),
    [
        ("0", ((),)),
        ("3", ((1, 1, 1),)),
        ("531", ((1, 1, 1),)),
        ("51", ((1, 1, 0, 1),)),
        ("15", ((1, 0, 1, 0, 1),)),
        ("300", ((1,),)),
        ("030", ((0, 1),)),
        ("[33]", ((2, 2, 2),)),
        ("[54]24", ((2, 1, 1, 1),)),
        ("(4,4)", ((1, 1), (1, 1))),
        ("(4x,2x)", ((1,), (1, 1))),
        ("(4,2x)*", ((1,), (1, 1))),
        ("([44],0)(4,4)", ((2, 1), (0, 1))),
    ],
)
def test_state_before_the_first_throw(text: str, before: State) -> None:
    assert state(read(text)) == before


def test_state_before_each_turn() -> None:
    assert list(states(read("441"))) == [((1, 1, 1),), ((1, 1, 0, 1),), ((1, 0, 1, 1),)]
    assert list(states(read("(4,2x)*"))) == [((1,), (1, 1)), ((1, 1), (1,))]


@pytest.mark.parametrize(
    ("one", "expected"),
    [
        (((),), True),
        (((1, 1, 1),), True),
        (((1, 0, 1),), False),
        (((2, 1),), False),
        (((1, 1), (1, 1)), True),
        (((1, 1), (1,)), True),
        (((1,), (1, 1)), True),
        (((1, 1), ()), False),
        (((0, 1), (1, 1)), False),
    ],
)
def test_ground_state(one: State, expected: bool) -> None:
    assert is_ground(one) is expected


@pytest.mark.parametrize(
    ("text", "begins", "visits", "prime"),
    [
        ("3", True, True, True),
        ("33", True, True, False),
        ("441", True, True, True),
        ("414", False, True, True),
        ("51", False, False, True),
        # Two different patterns from the ground state, one after the other.
        ("5313", True, True, False),
        ("(4x,2x)", True, True, True),
        ("(4,0)(0,4)", False, False, True),
    ],
)
def test_ground_and_prime(text: str, begins: bool, visits: bool, prime: bool) -> None:
    pattern = read(text)
    assert (ground(pattern), visits_ground(pattern), is_prime(pattern)) == (begins, visits, prime)


@pytest.mark.parametrize(
    ("text", "due"),
    [
        ("51", [1, 1, 0, 1]),
        ("[33]", [2, 2, 2]),
        ("0", []),
        ("(4,4)", [[1, 0, 1], [1, 0, 1]]),
        ("(6x,4)*", [[1, 0, 1, 0, 1], [1, 0, 1]]),
        ("(4,0)", [[1, 0, 1], []]),
    ],
)
def test_due_by_beat(text: str, due: list[object]) -> None:
    assert due_by_beat(read(text)) == due


def test_a_hand_delayed_by_a_beat_makes_a_synchronous_pattern_alternating() -> None:
    """(4x,2x) with its second hand a beat later is 51 (common practice)."""
    left, right = due_by_beat(read("(4x,2x)"))
    together = [0] * (len(right) + 1)
    for beat, due in enumerate(left):
        together[beat] += due
    for beat, due in enumerate(right):
        together[beat + 1] += due
    assert together == due_by_beat(read("51"))
