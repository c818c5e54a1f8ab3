"""Drills: those that coaches give are found, and each can be thrown.

The examples are common practice of the trade; no published list was found.
"""

from itertools import pairwise

import pytest
from followed import objects_followed

from throwcount.engine.patterns.rules import read
from throwcount.engine.search.drills import (
    Drill,
    begun_near_ground,
    family,
    gaps,
    has_ones_in_a_row,
    is_plain,
    left_out,
    mixed,
    sisters,
    what_is_new,
)


def texts(drills: list[Drill]) -> list[str]:
    return [drill.pattern.text for drill in drills]


@pytest.mark.parametrize(
    ("target", "has", "expected"),
    [
        ("3", 2, "303 330"),
        ("4", 3, "40 4400 4440"),
        ("5", 4, "50505 55500 55550"),
        ("6", 5, "60 666600 666660"),
        ("7", 6, "7070707 7777700 7777770"),
        ("8", 7, "80 88888800 88888880"),
        ("9", 8, "909090909 999999900 999999990"),
        # With fewer objects to begin with, there are more rows.
        ("7", 4, "7070707 7777000 7777700 7777770"),
        ("7", 3, "7007070 7770000 7777000 7777700 7777770"),
        # The new throw of a pattern of three, with three.
        ("531", 3, "50505 55500"),
        ("51", 3, "50505 55500"),
        ("97531", 5, "900909090 909090909"),
        ("744", 5, "7070707 7077077 7777700"),
        ("(4,4)", 3, "(4,4)(0,0) (4,4)(0,0) (4,4)(4,0)"),
        ("(6x,6x)", 5, "(6x,6x)(0,0)(6x,6x) (6x,6x)(6x,6x)(0,0) (6x,6x)(6x,6x)(6x,0)*"),
        # Around a multiplex, and where gaps alone are harder, the target with one object fewer.
        ("[33]33", 4, "3[33]0"),
        ("(2,4)", 3, "(0,4)"),
        ("1", 1, ""),
    ],
)
def test_gaps(target: str, has: int, expected: str) -> None:
    assert texts(list(gaps(read(target), has))) == expected.split()


@pytest.mark.parametrize(
    ("target", "has", "among"),
    [
        ("4", 3, "42 423 441"),
        ("5", 4, "53 534 552 5551"),
        ("6", 5, "64 645"),
        ("7", 6, "744 75 756"),
        ("8", 7, "855 86 867"),
        ("531", 3, "522"),
        ("75751", 5, "744"),
        ("(4,4)", 3, "(4,2)"),
        ("(6x,6x)", 5, "(4x,6x)"),
        ("[43]1", 4, "23[43]"),
    ],
)
def test_mixed_in(target: str, has: int, among: str) -> None:
    found = texts(list(mixed(read(target), has)))
    assert set(among.split()) <= set(found)


@pytest.mark.parametrize("target", "4 5 7 9 531 97531 51 (4,4) (6x,4)* 24[54] [43]1".split())
def test_what_is_mixed_in_comes_with_throws_of_every_hand(target: str) -> None:
    known = read(target)
    new = sorted(map(str, what_is_new(known)))
    for drill in mixed(known, known.objects):
        hands = [sorted(map(str, throws)) for turn in drill.pattern.turns for throws in turn]
        assert new in hands
        assert all(hands)
        assert drill.pattern.highest == known.highest
        assert known.objects - 2 <= drill.pattern.objects <= known.objects
        assert not has_ones_in_a_row(drill.pattern)


@pytest.mark.parametrize(
    "members",
    [
        "b97531 97531 7531 531",
        "b1 91 71 51",
        "66661 5551 441",
        "756 645 534 423",
        "(6x,2x) (4x,2x)",
        "24[54] 24[42]",
    ],
)
def test_each_sister_follows_from_the_next(members: str) -> None:
    for one, sister in pairwise(members.split()):
        drill = next(sisters(read(one)))
        assert drill.pattern.text == sister
        assert drill.pattern.objects == read(one).objects - 1


@pytest.mark.parametrize(
    ("target", "has", "expected"),
    [
        ("97531", 5, "7531"),
        ("97531", 4, "7531 531"),
        ("b97531", 6, "97531"),
        ("4413", 3, "441"),
        ("423", 3, "42"),
        ("534", 4, "53 423"),
        # Of three objects, no member with two is given.
        ("531", 3, "51"),
        ("51", 3, ""),
        ("5", 4, ""),
    ],
)
def test_family(target: str, has: int, expected: str) -> None:
    assert texts(list(family(read(target), has))) == expected.split()


@pytest.mark.parametrize(
    "text", "5 531 97531 71 744 [33]33 [234] (4,2x)* ([44x],2)* (6x,4)* 645 24[54]".split()
)
def test_with_one_object_fewer_it_can_be_thrown(text: str) -> None:
    known = read(text)
    fewer = [*left_out(known), *(drill.pattern for drill in sisters(known))]
    assert fewer
    for one in fewer:
        assert objects_followed(one.text) == known.objects - 1


@pytest.mark.parametrize(
    ("text", "new"),
    [("531", "5"), ("(4,2x)*", "4"), ("(4x,2x)", "4x"), ("[33]33", "33"), ("24[54]", "54")],
)
def test_what_is_new(text: str, new: str) -> None:
    assert "".join(map(str, what_is_new(read(text)))) == new


@pytest.mark.parametrize(
    ("text", "row"), [("1", True), ("5111", True), ("1551", True), ("5151", False), ("2", False)]
)
def test_ones_in_a_row(text: str, row: bool) -> None:
    assert has_ones_in_a_row(read(text)) is row


@pytest.mark.parametrize(
    ("text", "plain"),
    [("5", True), ("55", True), ("(4x,4x)", True), ("(4,4)", True), ("[44]", False), ("40", False)],
)
def test_plain_patterns(text: str, plain: bool) -> None:
    assert is_plain(read(text)) is plain


@pytest.mark.parametrize(
    ("text", "begun"), [("315", "531"), ("252", "522"), ("51", "51"), ("25751", "57512")]
)
def test_it_begins_near_the_ground_state(text: str, begun: str) -> None:
    assert begun_near_ground(read(text)).text == begun
