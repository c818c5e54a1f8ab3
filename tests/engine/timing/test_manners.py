"""Single throws of a cycle: which are meant by a name, as a juggler would say it.

What is expected is worked out by hand. Counting values within a cycle, and telling throws by their
hand, are common practice.
"""

import pytest

from throwcount.engine.errors import MannerError
from throwcount.engine.patterns.pattern import Hand
from throwcount.engine.patterns.rules import read
from throwcount.engine.timing.manners import (
    Manner,
    manners_at,
    narrowest_first,
    never_made,
    throw_name,
)
from throwcount.engine.timing.objects import Juggle
from throwcount.engine.timing.run import Part


def manners(text: str, names: str) -> tuple[Manner, ...]:
    """Return manners a, b, c ... for the throws named, with commas between."""
    every = zip("abc", names.split(","), strict=False)
    return tuple(Manner(throw_name(name, read(text)), how) for how, name in every)


def made(text: str, names: str, beats: int, first: Hand = "right") -> str:
    """Return how each throw of each turn is made: a letter, or a dash for one made as ever."""
    part = Part(read(text), beats, manners=narrowest_first(manners(text, names)))
    turns = [manners_at(turn) for turn in Juggle([part], first) if turn.hands]
    hands = (
        ",".join("".join(each.how if each else "-" for each in hand) for hand in turn)
        for turn in turns
    )
    return " ".join(hands)


@pytest.mark.parametrize(
    ("text", "names", "beats", "expected"),
    [
        ("531", "5", 6, "a - - a - -"),
        ("531", "right 5", 9, "a - - - - - a - -"),  # a cycle of three beats changes the hands
        ("531", "left 5", 9, "- - - a - - - - -"),
        ("531", "every second 5", 12, "- - - a - - - - - a - -"),
        ("531", "every other 5,1", 9, "- - b a - b - - b"),
        ("531", "every other right 5", 21, "- - - - - - a - - - - - - - - - - - a - -"),
        ("75751", "second 7", 10, "- - a - - - - a - -"),
        ("75751", "LAST  5", 10, "- - - a - - - - a -"),
        ("75751", "every third 7", 10, "- - - - - a - - - -"),
        ("75751", "7,first 7", 5, "b - a - -"),  # the narrower name counts
        ("75751", "right 7,2nd 7", 10, "a - b - - - - b - -"),
        ("3", "every 4th 3", 9, "- - - a - - - a -"),
        ("3", "right 3,left 3", 4, "a b a b"),
        ("420", "0,2", 3, "- b a"),
        ("(4,2x)*", "4", 8, "a,- -,a a,- -,a"),
        (
            "(4,2x)*",
            "second 4,2x",
            8,
            "-,b b,a -,b b,a",
        ),  # in the half by the star
        ("(4x,4x)(4,4)", "4x,right 4", 4, "a,a -,b"),
        ("(4x,4x)(4,4)", "4", 4, "a,a a,a"),  # a value stands for its crossing throw, too
        ("24[54]", "4,[45]", 3, "- a bb"),
        ("24[54]", "second 4", 3, "- - -a"),
        ("[33]33", "every other [33]", 12, "-- - - aa - - -- - - aa - -"),
        ("x", "x", 2, "a a"),
    ],
)
def test_the_throws_that_are_meant(text: str, names: str, beats: int, expected: str) -> None:
    assert made(text, names, beats) == expected


def test_a_hand_is_the_one_that_throws() -> None:
    assert made("531", "right 5", 6, "left") == "- - - a - -"


@pytest.mark.parametrize(
    ("text", "name", "fragment"),
    [
        ("531", "7", "531 throws no 7; it throws 5, 3, 1."),
        (
            "531",
            "second 5",
            "A cycle of 531 has 1 throw of 5, so there is no “second 5”; “every",
        ),
        ("(4,2x)*", "third 4", "has 2 throws of 4"),
        ("(4x,2x)", "right 4x", "In (4x,2x) the right hand throws no 4x."),
        ("75751", "second right 7", "write “every second right 7”"),
        *(
            ("531", name, "names no throw: write what is thrown")
            for name in (
                "",
                "five",
                "second",
                "every",
                "0th 5",
                "last",
                "other 5",
                "every last 5",
                "[ ]",
            )
        ),
        ("531", "5 " * 1000, f"“{'5 ' * 20}” names"),
        ("531", "5x", "531 throws no 5x"),
        ("531", "[53]", "531 throws no [53]"),
    ],
)
def test_names_of_no_throw(text: str, name: str, fragment: str) -> None:
    with pytest.raises(MannerError) as caught:
        throw_name(name, read(text))
    assert fragment in str(caught.value)


@pytest.mark.parametrize(
    ("text", "names", "beats", "expected"),
    [
        ("531", "5,right 5,left 5", 3, "ca"),
        ("531", "5,left 5", 6, ""),
        ("531", "5,right 5,first 5,every second 1", 24, "ba"),
        ("5313", "right 5,left 5", 400, "b"),
        ("3", "every ninth 3,every 10th 3", 9, "b"),
        ("531", "1", 2, "a"),
        ("531", "every 50th right 1", 1_000_000, ""),
    ],
)
def test_what_never_comes(text: str, names: str, beats: int, expected: str) -> None:
    """The narrowest name of a throw counts, and may leave none for the others."""
    found = never_made(read(text), narrowest_first(manners(text, names)), "right", beats)
    assert "".join(each.how for each in found) == expected
