"""The throws between two parts: found, and the same when they are written by hand."""

import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from throwcount.engine.patterns.notation import parse_bridge
from throwcount.engine.patterns.pattern import Hand
from throwcount.engine.patterns.rules import read
from throwcount.engine.routines.joining import Join, Joining, JoiningError
from throwcount.engine.routines.ways import joined, joined_by, joined_in


def join(leaving: str, entering: str, left_after: int = 0, **more: object) -> Join:
    return Join(read(leaving), left_after, read(entering), **more)


def written(one: Join, text: str) -> Joining:
    return joined_by(one, parse_bridge(text, one.entering.kind))


TIMINGS = ["3", "4", "531", "51", "441", "423", "53", "40", "(4,4)", "(4x,2x)", "(2,4)", "(6x,2x)"]


@settings(max_examples=100)
@given(
    st.sampled_from(TIMINGS),
    st.sampled_from(TIMINGS),
    st.integers(0, 3),
    st.sampled_from(["right", "left"]),
)
def test_what_is_found_can_be_written_by_hand(
    leaving: str, entering: str, left_after: int, first: Hand
) -> None:
    one = join(leaving, entering, left_after, first=first)
    if one.leaving.objects != one.entering.objects:
        return
    found = joined(one)
    if found.text:
        again = written(one, found.text)
        assert (again.turns, again.beats) == (found.turns, found.beats)
        assert (again.change is None) == (found.change is None)
    longer = joined_in(one, found.beats + 4)
    if longer is not None:
        assert longer.beats == found.beats + 4
        assert written(one, longer.text).beats == longer.beats


@pytest.mark.parametrize("hand", ["right", "left"])
@pytest.mark.parametrize(
    ("leaving", "entering"), [("3", "(4x,2x)"), ("(4,4)", "4"), ("4", "(4,4)")]
)
def test_the_hand_that_is_wanted_waits_or_hurries(leaving: str, entering: str, hand: Hand) -> None:
    found = joined(join(leaving, entering, shifted=hand))
    assert found.change is not None
    assert found.change.hand == hand


def test_a_hand_that_cannot_wait_or_hurry_is_told() -> None:
    """Both objects come from the right hand, and the throws may be no higher than a 6."""
    with pytest.raises(JoiningError, match="the right hand cannot wait or hurry"):
        joined(join("60", "(0,6)", shifted="right"))


@pytest.mark.parametrize(
    ("leaving", "entering", "throws", "more", "fragment"),
    [
        ("3", "(4x,2x)", "4 3", {}, "does not lead from 3 to (4x,2x); “4 1” does"),
        ("3", "(4x,2x)", "4 [11]", {}, "Throw 2 of the bridge “4 [11]” takes 2 from the hand"),
        ("3", "(4x,2x)", "4 1", {"shifted": "right"}, "it is the left hand that waits or hurries"),
        ("(4,4)", "4", "(3,4) (3,4)", {"shifted": "right"}, "it is the left hand"),
        ("3", "51", "4 (4,4)", {}, "changes the timing, and 3 and 51 have the same one"),
        ("3", "(4,4)", "4 1", {}, "(4,4) has more objects than 3"),
        ("3", "(4x,2x)", "(4x,2x) 1", {}, "begins with the timing of (4x,2x)"),
    ],
)
def test_what_does_not_lead(
    leaving: str, entering: str, throws: str, more: dict[str, object], fragment: str
) -> None:
    with pytest.raises(JoiningError, match=re.escape(fragment)):
        written(join(leaving, entering, **more), throws)
