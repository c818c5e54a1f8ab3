"""Near patterns with one object less; the expected ones follow by hand from the two changes."""

import pytest

from throwcount.engine.patterns.notation import parse
from throwcount.engine.patterns.pattern import Pattern
from throwcount.engine.patterns.rules import read
from throwcount.engine.search.drills import (
    changed_share,
    from_ground,
    one_object_less,
    shortest,
)

BY_HAND = [
    # The throw is lowered by 1, 2, 3 or 4 repetitions of one beat, or the fifth is left out.
    ("5", 5, {"53", "552", "5551", "55550"}),
    # 7 and 5 are lowered by the 5 beats; 9 - 5 would lose the 9.
    ("97531", 9, {"92531", "97031"}),
    ("744", 7, {"741", "714"}),
    ("(4,4)", 4, {"(4,2)", "(2,4)", "(4,4)(4,0)", "(4,4)(0,4)"}),
    ("[33]33", 3, {"333"}),
    ("20", 2, set()),
]


@pytest.mark.parametrize(("pattern", "kept", "expected"), BY_HAND, ids=[row[0] for row in BY_HAND])
def test_patterns_by_hand_are_among_them(pattern: str, kept: int, expected: set[str]) -> None:
    found = {one.text for one in one_object_less(read(pattern), kept)}
    assert {shortest(read(text)).text for text in expected} <= found


@pytest.mark.parametrize(
    "pattern", "5 531 97531 71 [33]33 [234] (4,2x)* ([44x],2)* (6x,4)*".split()
)
def test_each_can_be_thrown_with_one_object_less_and_the_throw(pattern: str) -> None:
    known = read(pattern)
    found = list(one_object_less(known, known.highest))
    assert found
    for one in found:
        assert read(one.text).turns == one.turns
        assert one.objects == known.objects - 1
        assert one.highest == known.highest


def test_a_longer_drill_is_found_where_no_short_one_is() -> None:
    # Both orbits of 7333 hold two objects or more, and no throw of another value is as high as 4.
    lengths = {one.period for one in one_object_less(read("7333"), 7)}
    assert min(lengths) > 4


@pytest.mark.parametrize(
    ("pattern", "begun"),
    [("315", "531"), ("531", "531"), ("252", "522"), ("51", "51"), ("15", "15")],
)
def test_it_begins_in_the_ground_state_if_it_can(pattern: str, begun: str) -> None:
    assert from_ground(read(pattern), read("3")).text == begun


def test_of_several_ground_rotations_the_likest_is_taken() -> None:
    # 342 is in the ground state before its 3 and before its 4.
    assert from_ground(read("342"), read("423")).text == "423"
    assert from_ground(read("423"), read("342")).text == "342"


@pytest.mark.parametrize(
    ("one", "other", "share"),
    [
        ("3", "3", 0),
        ("3", "33", 0),
        ("3", "531", 2 / 3),
        ("552", "5", 1 / 3),
        ("53", "552", 4 / 6),
        ("4", "(4,4)", 1),
        ("(4,4)", "(4,2x)*", 1),
    ],
)
def test_how_much_changes(one: str, other: str, share: float) -> None:
    assert changed_share(read(one), read(other)) == pytest.approx(share)
    assert changed_share(read(other), read(one)) == pytest.approx(share)


@pytest.mark.parametrize(
    "text", ["531", "0", "z", "[33]33", "(4,2x)*", "(4,4)", "([44x],2)(0,4)", "(4,2x)(2x,4)(4,4)*"]
)
def test_turns_are_written_as_they_are_read(text: str) -> None:
    known = parse(text)
    assert Pattern.of(known.kind, known.turns) == known
