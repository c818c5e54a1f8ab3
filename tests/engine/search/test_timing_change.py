"""Bridges between hands in turn and hands together, against a plain search written separately.

That one hand waits or hurries a beat, and what the throws are then, is common practice.
"""

from collections.abc import Mapping
from functools import cache
from math import comb
from itertools import islice

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.helpers.hand_by_hand import Due, Node, distances, followed, in_turn, together
from throwcount.engine.patterns.pattern import Hand, Pattern
from throwcount.engine.patterns.rows import HandLimits
from throwcount.engine.patterns.rules import read
from throwcount.engine.patterns.states import State, state
from throwcount.engine.search.bridges import Bridge, bridge, bridges
from throwcount.engine.search.find import PatternQuery, find

HIGHEST = 6


@cache
def patterns_by_state(kind: str, objects: int) -> Mapping[State, Pattern]:
    """Return a pattern for every state in which one of up to six beats begins."""
    beats = range(1, 7) if kind == "async" else range(2, 7, 2)
    found: dict[State, Pattern] = {}
    for pattern in find(PatternQuery(objects, HandLimits(kind, HIGHEST), tuple(beats))):
        for turn in range(len(pattern.turns)):
            rotated = pattern.turns[turn:] + pattern.turns[:turn]
            one = Pattern.of(kind, rotated)
            found.setdefault(state(one), one)
    return found


def node(one: State, hand: Hand) -> Node:
    return (hand, in_turn(one[0], hand)) if len(one) == 1 else ("both", together(*one))


@pytest.mark.parametrize(
    ("objects", "first"), [(1, "left"), (2, "left"), (2, "right"), (3, "right"), (4, "right")]
)
@pytest.mark.parametrize(("kind", "other"), [("async", "sync"), ("sync", "async")])
def test_bridges_are_the_shortest(objects: int, kind: str, other: str, first: Hand) -> None:
    """Between all states of both timings up to a height of 6: of them all patterns consist."""
    leaving, entering = patterns_by_state(kind, objects), patterns_by_state(other, objects)
    assert len(leaving) == len(entering) == comb(HIGHEST, objects)
    for start, leave in leaving.items():
        known = distances(node(start, first), HIGHEST)
        for end, enter in entering.items():
            found = bridge(leave, enter, HIGHEST, first=first)
            hands = ("right", "left") if other == "async" else (first,)
            assert found.beats == min(known[node(end, hand)] for hand in hands)
            check_followed(found, leave, enter, first)


def counted(due: Due) -> dict[tuple[str, int], int]:
    return dict.fromkeys(due, 1)


def check_followed(one: Bridge, leave: Pattern, enter: Pattern, first: Hand) -> None:
    """Check that the throws, as they are written, lead from one pattern into the other."""
    assert one.change is not None
    rows = rows_of(one)
    pairs_from = one.change.start if one.kind == "async" else len(rows) + HIGHEST + 1
    left = followed(rows, due_by_hand(leave, first), pairs_from)
    if enter.kind == "sync":
        assert left == due_by_hand(enter, "right")
        return
    assert one.change.first is not None
    turned = (one.beats - one.change.start) % 2
    begins = {"right": "left", "left": "right"}[one.change.first] if turned else one.change.first
    assert left == due_by_hand(enter, begins)


def due_by_hand(pattern: Pattern, hand: Hand) -> dict[tuple[str, int], int]:
    found = {}
    for place, row in enumerate(state(pattern)):
        for turn, count in enumerate(row):
            if pattern.kind == "sync":
                found[("left", "right")[place], 2 * turn] = count
            else:
                found[hand if turn % 2 == 0 else "left" if hand == "right" else "right", turn] = count
    return {site: count for site, count in found.items() if count}


def rows_of(one: Bridge) -> list[dict[str, list[str]]]:
    return [
        {
            hand: [str(throw) for throw in row[hand]] or ["0"] if hand in row else []
            for hand in ("right", "left")
        }
        for _, row in one.by_hand()
    ]
