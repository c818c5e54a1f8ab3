"""Bridges between hands in turn and hands together, against a plain search written separately.

That one hand waits or hurries a beat, and what the throws are then, is common practice.
"""

from collections.abc import Mapping
from functools import cache
from itertools import islice, pairwise
from math import comb

import pytest
from hand_by_hand import Due, Node, distances, followed, in_turn, together
from hypothesis import given, settings
from hypothesis import strategies as st

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
                found[hand if turn % 2 == 0 else "left" if hand == "right" else "right", turn] = (
                    count
                )
    return {site: count for site, count in found.items() if count}


def rows_of(one: Bridge) -> list[dict[str, list[str]]]:
    return [
        {
            hand: [str(throw) for throw in row[hand]] or ["0"] if hand in row else []
            for hand in ("right", "left")
        }
        for _, row in one.by_hand()
    ]


KNOWN = [
    # From the cascade: one throw a little higher, and the other hand waits.
    ("3", "(4x,2x)", "4 1", ("left", "wait", 2)),
    ("(4x,2x)", "3", "(1,3x)", ("left", "wait", 1)),
    ("3", "(4,2)", "4x 1", ("left", "wait", 2)),
    # From the fountain: one hand throws a little lower twice, and hurries.
    ("4", "(4,4)", "3 4 3", ("right", "hurry", 3)),
    ("(4,4)", "4", "(3,4) (3,4)", ("left", "hurry", 3)),
    # The hand that is empty joins the other, or throws a beat later than it.
    ("40", "(0,4)", "", ("left", "hurry", 0)),
    ("(0,4)", "40", "", ("left", "wait", 1)),
]


@pytest.mark.parametrize(("leaving", "entering", "throws", "change"), KNOWN)
def test_bridge(leaving: str, entering: str, throws: str, change: tuple[object, ...]) -> None:
    found = bridge(read(leaving), read(entering))
    assert " ".join(found.throws) == throws
    assert found.change is not None
    assert (found.change.hand, found.change.how, found.change.beat) == change


def test_pairs_with_one_hand_a_beat_late_are_a_shower() -> None:
    """(4x,2x) with the second hand a beat late is 51, begun by the first hand (common practice)."""
    pairs = due_by_hand(read("(4x,2x)"), "left")
    late = {(hand, beat + (hand == "right")): count for (hand, beat), count in pairs.items()}
    assert late == due_by_hand(read("51"), "left")


@st.composite
def ends(draw: st.DrawFn) -> tuple[Pattern, Pattern]:
    objects, capacity = draw(st.sampled_from([(2, 1), (3, 1), (4, 1), (5, 1), (2, 2), (4, 2)]))
    highest = 8 if capacity == 1 else 4
    one = draw(st.sampled_from(some("async", objects, capacity, highest)))
    other = draw(st.sampled_from(some("sync", objects, capacity, highest)))
    return (one, other) if draw(st.booleans()) else (other, one)


@cache
def some(kind: str, objects: int, capacity: int, highest: int) -> tuple[Pattern, ...]:
    limits = HandLimits(kind, highest, capacity)
    return tuple(
        islice(find(PatternQuery(objects, limits, (2, 4) if kind == "sync" else (1, 2, 3))), 300)
    )


@settings(max_examples=150)
@given(ends(), st.booleans(), st.sampled_from(["right", "left"]))
def test_bridges_lead_where_they_say(
    both: tuple[Pattern, Pattern], any_rotation: bool, first: Hand
) -> None:
    leaving, entering = both
    every = list(islice(bridges(*both, 9, any_rotation=any_rotation, first=first), 30))
    assert len(set(every)) == len(every)
    assert len({one.beats for one in every}) == 1
    for one in every:
        left = one.from_rotation // leaving.beats_per_turn
        entered = one.to_rotation // entering.beats_per_turn
        hand: Hand = (
            first if one.from_rotation % 2 == 0 else "left" if first == "right" else "right"
        )
        check_followed(one, rotated(leaving, left), rotated(entering, entered), hand)
        check_hands(one)


def rotated(pattern: Pattern, turns: int) -> Pattern:
    return Pattern.of(pattern.kind, pattern.turns[turns:] + pattern.turns[:turns])


def check_hands(one: Bridge) -> None:
    """Check that one hand, the one that is told, throws on two beats running, and no other does."""
    assert one.change is not None
    acts = {
        hand: [beat for beat, row in one.by_hand() if hand in row] for hand in ("right", "left")
    }
    for hand, beats in acts.items():
        gaps = {later: later - beat for beat, later in pairwise(beats)}
        close = {beat for beat, gap in gaps.items() if gap != 2}
        assert close <= ({one.change.beat} if hand == one.change.hand else set())
