"""What holds for any pattern that can be thrown."""

from collections import Counter
from dataclasses import replace

from hypothesis import given
from hypothesis import strategies as st

from throwcount.engine.patterns.pattern import VALUE_DIGITS, Pattern
from throwcount.engine.patterns.rules import check, read
from throwcount.engine.patterns.states import (
    after,
    is_prime,
    orbits,
    start,
    state,
    states,
    swaps_hands,
    true_period,
)


@st.composite
def patterns(draw: st.DrawFn) -> Pattern:
    """Patterns that can be thrown, written from permutations of their landings.

    In a permutation of the sites every hand receives one object; several laid over each other
    make a multiplex.
    """
    places = draw(st.sampled_from([1, 2]))
    turns = draw(st.integers(1, 5))
    sites = [(turn, place) for turn in range(turns) for place in range(places)]
    written: dict[tuple[int, int], str] = dict.fromkeys(sites, "")
    for _ in range(draw(st.integers(1, 3))):
        landings = draw(st.permutations(sites))
        for (turn, place), (to_turn, to_place) in zip(sites, landings, strict=True):
            ahead = (to_turn - turn) % turns + turns * draw(st.integers(0, 2))
            crossed = place != to_place
            if crossed and ahead == 0:
                ahead = turns
            if ahead:
                written[turn, place] += VALUE_DIGITS[ahead * places] + "x" * crossed
    hands = [f"[{throws}]" if throws else "0" for throws in written.values()]
    if places == 1:
        return read("".join(hands))
    return read(
        "".join(f"({left},{right})" for left, right in zip(hands[::2], hands[1::2], strict=True))
    )


@given(patterns())
def test_tidied_text_reads_the_same(pattern: Pattern) -> None:
    assert read(pattern.text) == pattern


@given(patterns(), st.data())
def test_rotations_can_be_thrown(pattern: Pattern, data: st.DataObject) -> None:
    shift = data.draw(st.integers(1, len(pattern.turns)))
    rotated = replace(pattern, turns=pattern.turns[shift:] + pattern.turns[:shift])
    check(rotated)
    assert rotated.objects == pattern.objects
    assert true_period(rotated) == true_period(pattern)
    assert is_prime(rotated) == is_prime(pattern)
    assert Counter(states(rotated)) == Counter(states(pattern))


@given(patterns())
def test_a_repetition_returns_to_its_state(pattern: Pattern) -> None:
    current = state(pattern)
    for turn, before in zip(pattern.turns, states(pattern), strict=True):
        assert current == before
        assert sum(map(sum, current)) == pattern.objects
        assert [due[:1] or (0,) for due in current] == [(len(throws),) for throws in turn]
        current = after(current, turn)
    assert current == state(pattern)


@given(patterns())
def test_orbits_share_out_the_throws(pattern: Pattern) -> None:
    found = orbits(pattern)
    thrown = Counter(
        (site[0] * pattern.beats_per_turn, str(throw), pattern.hand(*site))
        for site, throw in pattern.throws()
    )
    shared = Counter(
        made for one in found for made in zip(one.beats, one.throws, one.hands, strict=True)
    )
    assert shared == thrown
    assert sum(one.objects for one in found) == pattern.objects
    assert all(one.objects >= 1 for one in found)


@given(patterns())
def test_an_orbit_closes_on_itself(pattern: Pattern) -> None:
    """Each hand receives from an orbit, over a repetition, what it throws from it."""
    for one in orbits(pattern):
        throws: Counter[tuple[int, str]] = Counter()
        landings: Counter[tuple[int, str]] = Counter()
        for beat, written, hand in zip(one.beats, one.throws, one.hands, strict=True):
            place = hand if pattern.kind == "sync" else ""
            crossed = {"right": "left", "left": "right"}[hand] if "x" in written[1:] else hand
            landing = (beat + VALUE_DIGITS.index(written[0])) % pattern.period
            throws[beat, place] += 1
            landings[landing, crossed if pattern.kind == "sync" else ""] += 1
        assert throws == landings


@given(patterns())
def test_start_holds_every_object(pattern: Pattern) -> None:
    right, left = start(pattern)["right"], start(pattern)["left"]
    assert right + left == pattern.objects
    if pattern.kind == "async":
        assert start(pattern, "left") == {"right": left, "left": right}
        assert swaps_hands(pattern) == (pattern.period % 2 == 1)
