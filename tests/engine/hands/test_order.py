"""The order of difficulty against common practice: pairs that a coach would order the same way.

No published scale was found. Each pair follows from what jugglers hold to make a pattern harder,
or from the steps on which it is taught (both common practice). The first table was at hand while
the weights were reasoned out. The second was written down with it and only measured at the end.
"""

import math
from collections.abc import Callable
from itertools import count, pairwise
from statistics import pstdev

import pytest

from throwcount.engine.hands.difficulty import difficulty
from throwcount.engine.patterns.rows import HandLimits
from throwcount.engine.patterns.rules import read
from throwcount.engine.search.find import PatternQuery, find

AT_HAND = [
    # easier, harder, why
    ("3", "4", "one object more"),
    ("4", "5", "one object more"),
    ("5", "6", "one object more"),
    ("5", "7", "two objects more"),
    ("7", "9", "two objects more"),
    ("3", "423", "the plain pattern is learnt first"),
    ("3", "441", "the plain pattern is learnt first"),
    ("3", "531", "the plain pattern is learnt first"),
    ("3", "51", "the plain pattern is learnt first"),
    ("3", "522", "a higher throw, and holds to place"),
    ("4", "53", "the plain pattern is learnt first"),
    ("4", "534", "the plain pattern is learnt first"),
    ("5", "744", "the plain pattern is learnt first"),
    ("5", "97531", "the plain pattern is learnt first"),
    ("300", "330", "a gap less"),
    ("330", "3", "no gap any more"),
    ("55500", "55550", "a gap less"),
    ("50505", "55550", "a gap less"),
    ("55550", "5", "no gap any more"),
    ("7070707", "7777700", "one object more"),
    ("7777700", "7777770", "a gap less"),
    ("7777770", "7", "no gap any more"),
    ("40", "4", "the other hand is empty"),
    ("42", "4", "the other hand only holds"),
    ("4440", "4", "no gap any more"),
    ("53", "5", "its throw among lower ones, an object fewer"),
    ("534", "5", "its throw among lower ones, an object fewer"),
    ("552", "5", "a hold between, an object fewer"),
    ("5551", "5", "a hand-across between, an object fewer"),
    ("744", "7", "its throw among lower ones, two objects fewer"),
    ("75751", "7", "its throw among lower ones, two objects fewer"),
    ("756", "7", "its throw among lower ones, an object fewer"),
    ("531", "7531", "the next of the family"),
    ("7531", "97531", "the next of the family"),
    ("97531", "b97531", "the next of the family"),
    ("51", "71", "the next shower"),
    ("71", "91", "the next shower"),
    ("441", "5551", "the next of the family"),
    ("5551", "66661", "the next of the family"),
    ("423", "441", "a hold is a rest, a hand-across is not"),
    ("42", "441", "one hand rests, and each has one throw to know"),
    ("441", "531", "lower, and two throws to know, not three"),
    ("645", "744", "lower, and a narrower mixture"),
    ("744", "97531", "lower, and a narrower mixture"),
    ("75751", "97531", "lower, and a narrower mixture"),
    ("531", "5511", "two 1s in a row"),
    ("531", "711", "two 1s in a row, and higher"),
    ("3", "[32]", "an object more in each hand"),
    ("3", "[33]33", "two from one hand at once"),
    ("4", "[43]23", "two from one hand at once"),
    ("3", "(4,2x)*", "the plain pattern is learnt first"),
    ("(4,4)", "(4,4)(4x,4x)", "crossing throws that must not meet"),
    ("(4,4)", "(6x,4)*", "one object more, and higher"),
]
"""Pairs that were at hand while the weights were reasoned out."""

KEPT = [
    ("2", "3", "nothing flies"),
    ("6", "7", "one object more"),
    ("8", "9", "one object more"),
    ("423", "4", "an object fewer, with a hold"),
    ("441", "4", "an object fewer, and a hand-across"),
    ("522", "552", "one object more, and a hold less"),
    ("531", "5", "two objects fewer, and lower throws between"),
    ("51", "5", "two objects fewer, and half of it hand-acrosses"),
    ("552", "744", "higher, with an object more"),
    ("5551", "744", "higher, with an object more"),
    ("53", "64", "an object more, and higher"),
    ("64", "75", "an object more, and higher"),
    ("423", "534", "the same a throw higher"),
    ("534", "645", "the same a throw higher"),
    ("645", "756", "the same a throw higher"),
    ("441", "552", "higher, with an object more"),
    ("4", "5551", "the plain pattern is learnt first"),
    ("71", "7", "three objects fewer"),
    ("91", "9", "four objects fewer"),
    ("531", "7131", "a higher throw among the same objects"),
    ("7131", "7531", "one object more"),
    ("60", "6", "the other hand is empty"),
    ("50505", "5", "two gaps, two objects fewer"),
    ("55500", "5", "two gaps, two objects fewer"),
    ("666660", "6", "a gap, an object fewer"),
    ("6662", "6", "a hold, an object fewer"),
    ("7733", "7", "two objects fewer, half of it low"),
    ("645", "7733", "lower, and a narrower mixture"),
    ("97531", "9", "four objects fewer"),
    ("3", "(4x,2x)", "the plain pattern is learnt first"),
    ("(4x,2x)", "51", "lower, and a narrower mixture"),
    ("(4,4)", "(6,6)", "two objects more"),
    ("(4,2)", "(4,4)", "one hand only holds"),
    ("(4,4)", "([44x],2)*", "two from one hand at once"),
    ("[33]33", "24[54]", "higher, with more objects"),
    ("4", "[33]33", "two from one hand at once"),
    ("[32]", "[43]23", "two to throw at once, not one to hold"),
    ("900", "9", "two gaps, six objects fewer"),
    ("40", "60", "one object more in the hand"),
    ("42", "423", "each hand has one thing to know"),
    ("441", "5241", "higher, and more to know"),
    ("744", "771", "two high throws in a row, and a wider mixture"),
    ("5", "75751", "the plain pattern is learnt first"),
    ("6", "756", "the plain pattern is learnt first"),
]
"""Pairs that were only measured at the end."""

GOAL = 0.95
"""Share of the pairs that are to be in order."""


def share_in_order(pairs: list[tuple[str, str, str]]) -> float:
    right = [
        difficulty(read(easier)).number < difficulty(read(harder)).number
        for easier, harder, _ in pairs
    ]
    return sum(right) / len(right)


@pytest.mark.parametrize(("easier", "harder", "why"), AT_HAND)
def test_a_coach_would_put_the_first_before_the_second(easier: str, harder: str, why: str) -> None:
    assert difficulty(read(easier)).number < difficulty(read(harder)).number, why


def test_pairs_that_were_only_measured_at_the_end() -> None:
    assert share_in_order(KEPT) >= GOAL


def burdens(text: str) -> tuple[float, ...]:
    """Return what makes a pattern of hands in turn harder, counted from its throws alone."""
    values = [int(value) for value in text]
    length = len(values)
    objects = sum(values) // length
    both = values * 2
    hands = both[::2], both[1::2]
    return (
        objects,
        max(values),
        # How much the throws differ; a 2 is held and flies no higher than a 1, a 0 is a rest.
        pstdev(1 if value == 2 else value for value in values if value),
        row_of(both, lambda value: value > objects),
        row_of(both, lambda value: value == 1),
        # Turns without a rest, and how soon a hand throws again.
        sum(value not in {0, 2} for value in values) / length,
        -min(turns_between_throws(hand) for hand in hands),
        # What the hands must know; an empty hand is nothing to know.
        sum(len({*hand} - {0}) for hand in hands),
        way_in(values),
    )


def row_of(values: list[int], wanted: Callable[[int], bool]) -> int:
    text = "".join("x" if wanted(value) else " " for value in values)
    return max(map(len, text.split()), default=0)


def way_in(values: list[int]) -> int:
    """Return how many objects are due after the first gap, before the best beat to begin on."""
    length = len(values)
    late = [
        {
            landing - beat
            for beats in range(beat)
            if (landing := beats + values[beats % length]) >= beat
        }
        for beat in range(9 * length, 10 * length)
    ]
    return min(len(due - {*range(next(n for n in count() if n not in due))}) for due in late)


def turns_between_throws(hand: list[int]) -> float:
    turns = [turn for turn, value in enumerate(hand * 2) if value not in {0, 2}]
    return min((later - turn for turn, later in pairwise(turns)), default=math.inf)


def test_what_is_harder_in_every_way_has_the_higher_number() -> None:
    # The ways are those that jugglers name (common practice).
    queries = [
        PatternQuery(objects, HandLimits(highest=objects + 4), (1, 2, 3, 4))
        for objects in (3, 4, 5)
    ]
    known = [
        (burdens(one.text), difficulty(one).number)
        for query in queries
        for one in find(query)
        if {*one.text} - {"0", "2"}
    ]
    in_order = [
        number < other_number
        for burden, number in known
        for other_burden, other_number in known
        if burden != other_burden
        and all(less <= more for less, more in zip(burden, other_burden, strict=True))
    ]
    assert len(in_order) > 2000
    assert sum(in_order) >= 0.99 * len(in_order)


def test_the_tables_share_no_pair() -> None:
    pairs = [(easier, harder) for easier, harder, _ in AT_HAND + KEPT]
    assert len(set(pairs)) == len(pairs)
