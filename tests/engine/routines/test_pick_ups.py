"""Pick-ups and put-downs: hands with time for them.

That an object is taken up or put down on a turn on which the hand throws nothing, one at a time and
at least about a second apart, is common practice.
"""

from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from throwcount.engine.patterns.notation import parse_bridge
from throwcount.engine.patterns.rules import read
from throwcount.engine.routines.joining import Join, Joining
from throwcount.engine.routines.pick_ups import free_beats, has_time, with_time
from throwcount.engine.routines.ways import joined, joined_by, joined_in


def join(leaving: str, entering: str, left_after: int = 0, **more: object) -> Join:
    return Join(read(leaving), left_after, read(entering), **more)


def written(one: Join, text: str) -> Joining:
    return joined_by(one, parse_bridge(text, one.entering.kind))


@pytest.mark.parametrize(
    ("leaving", "entering", "throws", "time"),
    [
        # The left hand takes an object up and holds it, and throws it on its next turn.
        ("3", "4", "4 5 5 2", True),
        # It throws on every turn, with one more object from nowhere.
        ("3", "4", "4 4 4 4", False),
        ("4", "3", "0", True),
        # Two at once, and two with a turn for each but no second between them.
        ("5", "3", "0 0", False),
        ("(4,4)", "(2,2)", "(0,0)", False),
        # One object is put down while another is thrown by the same hand.
        ("[33]", "4", "0 [32] [43]", False),
        # A hand that was empty on its turn before has taken the object up.
        ("40", "3", "3 3", True),
    ],
)
def test_whether_a_hand_has_time(leaving: str, entering: str, throws: str, time: bool) -> None:
    one = join(leaving, entering)
    found = written(one, throws)
    assert has_time(one, found) == time
    assert found.rushed != time
    if not time:
        assert has_time(one, written(one, found.calmer))


def test_many_are_taken_up_one_at_a_time() -> None:
    one = join("1", "9", spacing=3)
    found = with_time(one)
    assert found is not None
    assert len(found.taken_up) == 8
    assert has_time(one, found)


@pytest.mark.parametrize(
    ("text", "beats"),
    [("3", []), ("423", [1]), ("441", []), ("4440", [3]), ("(4,2)", [0]), ("(4,4)(4,0)", [2])],
)
def test_free_beats(text: str, beats: list[int]) -> None:
    assert free_beats(read(text)) == beats


PATTERNS = ["2", "3", "4", "5", "6", "423", "441", "51", "531", "552", "(4,4)", "(4x,2x)", "(6,6)"]


@settings(max_examples=60)
@given(st.sampled_from(PATTERNS), st.sampled_from(PATTERNS), st.integers(0, 5), st.integers(2, 6))
def test_objects_are_taken_up_and_put_down_with_time(
    leaving: str, entering: str, left_after: int, spacing: int
) -> None:
    one = join(leaving, entering, left_after, spacing=spacing)
    change = one.change
    if abs(change) > 2 or one.leaving.kind != one.entering.kind:
        return
    found = joined(one)
    assert not found.rushed
    assert has_time(one, found)
    assert (len(found.taken_up), len(found.put_down)) == (max(change, 0), max(-change, 0))
    step = one.leaving.beats_per_turn
    beats = sorted(turn * step for turn, _ in (*found.taken_up, *found.put_down))
    assert all(later - beat >= spacing for beat, later in pairwise(beats))
    for turn, place in found.taken_up:
        assert [str(throw) for throw in found.turns[turn][place]] == ["2"]
    for turn, place in found.put_down:
        assert not found.turns[turn][place]
    again = joined_by(one, found.halves) if found.halves else found
    assert (again.taken_up, again.put_down) == (found.taken_up, found.put_down)


def test_without_time_objects_are_taken_up_all_the_same() -> None:
    """Five beats are too few to take up two objects with a second between them."""
    one = join("3", "5")
    assert joined_in(one, 5) is None
    found = joined_in(one, 5, in_haste=True)
    assert found is not None
    assert (found.text, found.rushed) == ("5 5 5 5 5", True)
    assert not has_time(one, found)
