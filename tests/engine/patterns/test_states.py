"""States, worked out by hand from the definition; the words for them are the trade's.

Orbits, worked out by hand.
"""

import pytest

from throwcount.engine.patterns.pattern import Hand, Kind
from throwcount.engine.patterns.rules import read
from throwcount.engine.patterns.states import (
    Orbit,
    State,
    begins_at_once,
    due_by_beat,
    ground,
    ground_states,
    is_ground,
    is_prime,
    orbits,
    start,
    state,
    states,
    swaps_hands,
    true_period,
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
    ("text", "expected"),
    [
        ("3", True),
        ("744", True),
        ("51", False),  # the other hand has two
        ("315", False),
        ("414", False),
        # All in one hand: 50505 and 55500 are begun so (common practice).
        ("40", True),
        ("04", True),
        ("15", True),
        ("50505", True),
        ("(4,0)", True),
        ("(0,4)", True),
        ("300", True),
        # Several at once, thrown first.
        ("[33]33", True),
        ("[33]", True),
        ("[54]24", True),
        ("([44],2)", True),
        ("3[33]3", False),
        ("33[33]", False),
        ("(4,2x)*", True),
        ("(2,[44x])*", True),
    ],
)
def test_a_start_without_ado(text: str, expected: bool) -> None:
    assert begins_at_once(state(read(text))) is expected


@pytest.mark.parametrize("kind", ["async", "sync"])
@pytest.mark.parametrize("objects", range(9))
def test_a_ground_state_is_a_start_without_ado(kind: Kind, objects: int) -> None:
    assert all(begins_at_once(one) for one in ground_states(kind, objects))


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


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("0", ()),
        ("3", (Orbit(3, (0,), ("3",), ("right",)),)),
        (
            "531",
            (
                Orbit(2, (0, 2), ("5", "1"), ("right", "right")),
                Orbit(1, (1,), ("3",), ("left",)),
            ),
        ),
        ("51", (Orbit(3, (0, 1), ("5", "1"), ("right", "left")),)),
        ("330", (Orbit(1, (0,), ("3",), ("right",)), Orbit(1, (1,), ("3",), ("left",)))),
        (
            "(4,2x)*",
            (
                Orbit(1, (0,), ("4",), ("left",)),
                Orbit(1, (0, 2), ("2x", "2x"), ("right", "left")),
                Orbit(1, (2,), ("4",), ("right",)),
            ),
        ),
        ("[33]", (Orbit(3, (0,), ("3",), ("right",)), Orbit(3, (0,), ("3",), ("right",)))),
        # Back on beat 0 come a 4 and a 1; the 4 was thrown earlier and takes the first throw.
        (
            "[43]1",
            (
                Orbit(2, (0,), ("4",), ("right",)),
                Orbit(2, (0, 1), ("3", "1"), ("right", "left")),
            ),
        ),
        ("[34]1", (Orbit(4, (0, 0, 1), ("3", "4", "1"), ("right", "right", "left")),)),
    ],
)
def test_orbits(text: str, expected: tuple[Orbit, ...]) -> None:
    assert orbits(read(text)) == expected


def test_first_hand() -> None:
    (orbit,) = orbits(read("51"), first="left")
    assert orbit.hands == ("left", "right")


@pytest.mark.parametrize(
    ("text", "first", "held"),
    [
        ("0", "right", {"right": 0, "left": 0}),
        ("3", "right", {"right": 2, "left": 1}),
        ("3", "left", {"right": 1, "left": 2}),
        ("4", "right", {"right": 2, "left": 2}),
        ("51", "right", {"right": 1, "left": 2}),
        ("15", "right", {"right": 3, "left": 0}),
        ("[33]", "right", {"right": 4, "left": 2}),
        ("(4x,2x)", "right", {"right": 2, "left": 1}),
        ("(4x,2x)", "left", {"right": 2, "left": 1}),
        ("(6x,4)*", "right", {"right": 2, "left": 3}),
    ],
)
def test_start(text: str, first: Hand, held: dict[Hand, int]) -> None:
    assert start(read(text), first) == held


@pytest.mark.parametrize(
    ("text", "swaps", "beats"),
    [
        ("3", True, 1),
        ("33", False, 1),
        ("333", True, 1),
        ("51", False, 2),
        ("5151", False, 2),
        ("441", True, 3),
        ("441441", False, 3),
        ("[33]", True, 1),
        ("(4,4)", False, 2),
        ("(4,4)*", False, 2),
        ("(4,2x)*", False, 4),
        ("(4,2x)(2x,4)(4,2x)(2x,4)", False, 4),
    ],
)
def test_what_repeats(text: str, swaps: bool, beats: int) -> None:
    pattern = read(text)
    assert (swaps_hands(pattern), true_period(pattern)) == (swaps, beats)
