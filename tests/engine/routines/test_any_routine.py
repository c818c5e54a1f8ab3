"""What holds of any routine: each object is accounted for, and no words overlap."""

from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from laid_out import opens, part, rest, routine, run_of, throwing_hands

from throwcount.engine.patterns.rules import read
from throwcount.engine.routines.layout import catch_beats, lay_out
from throwcount.engine.routines.routine import (
    RestPart,
    Routine,
    RoutinePart,
)
from throwcount.engine.scheduling.cues import cue_calls
from throwcount.engine.scheduling.scheduler import schedule
from throwcount.engine.timing.run import Part as RunPart
from throwcount.engine.timing.run import Run, clock_of
from throwcount.engine.timing.tempo import steady
from throwcount.engine.timing.timeline import Beat

ALTERNATING = [
    "3",
    "531",
    "51",
    "441",
    "4",
    "552",
    "5",
    "744",
    "55050",
    "97531",
    "[33]33",
    "423",
    "[33]",
    "40",
]
LONGEST_THROW = 9
"""In beats: parts are longer, so that every object is thrown in each of them."""

PAIRS = ["(4,4)", "(4,2x)*", "(6x,4)*", "(2,4)", "(4x,2x)", "(6x,2x)", "([44],0)", "(0,4)"]


@st.composite
def routines(draw: st.DrawFn) -> Routine:
    """Parts in any order, with rests or in one go, with more or fewer objects."""
    parts: list[RoutinePart] = []
    before = None
    for _ in range(draw(st.integers(1, 6))):
        text = draw(st.sampled_from(ALTERNATING + PAIRS))
        pattern = read(text)
        change = None
        if before is not None:
            stops = draw(st.booleans())
            if stops:
                parts.append(rest(draw(st.integers(12, 40)), count_in=draw(st.integers(0, 6))))
            else:
                change = pattern.objects - before.objects
        parts.append(
            part(
                text,
                -(-LONGEST_THROW // pattern.period) + draw(st.integers(0, 9)),
                change=change or None,
                tempo=draw(st.none() | st.floats(120, 260)),
                last_one=draw(st.booleans()),
            )
        )
        before = pattern
    return routine(*parts, first=draw(st.sampled_from(["right", "left"])))


@pytest.mark.parametrize("text", [*ALTERNATING, *PAIRS])
@pytest.mark.parametrize("cycles", [1, 2, 9])
def test_how_long_the_last_catches_take(text: str, cycles: int) -> None:
    pattern = read(text)
    beats = cycles * pattern.period
    run = Run((RunPart(pattern, beats),), steady(180))
    listed = sum(beat.part == "run-out" for beat in schedule(run))
    assert catch_beats(pattern, beats) == listed


@given(routines())
@settings(max_examples=100)
def test_every_object_is_accounted_for_at_every_beat(routine: Routine) -> None:
    """Counted without the engine: what is thrown comes down where and when its value says."""
    laid = lay_out(routine)
    due: dict[tuple[int, str], list[str]] = {}
    seen: set[str] = set()
    appeared = gone = 0
    expected_new = expected_gone = 0
    bridges = {f"{one.part.title} to {other.part.title}" for one, other in pairwise(laid.parts)}
    for each in laid.parts:
        if isinstance(each.part, RestPart):
            continue
        if opens(laid, each):
            expected_new += each.part.pattern.objects
        else:
            expected_new += max(each.change, 0)
            expected_gone += max(-each.change, 0)
    beats = list(schedule(run_of(laid)))
    pairs = {beat.beat for beat in beats if len(throwing_hands(beat)) > 1}
    for beat in beats:
        if beat.cycle is None:
            due, seen = {}, set()  # all is caught, and shared out again
            continue
        hands = throwing_hands(beat)
        for hand, throws, objects in hands:
            came = due.pop((beat.beat, hand), [])
            thrown = [throw for throw in throws if throw != "0"]
            assert len(thrown) == len(objects) == len(set(objects))
            assert not (set(objects) - set(came)) & seen  # nothing is in two places
            appeared += len(set(objects) - set(came))
            gone += len(set(came) - set(objects))
            seen.update(objects)
            for throw, name in zip(thrown, objects, strict=True):
                value = int(throw.rstrip("x"), 36)
                # On the way into another part, x tells the hand wherever both hands throw.
                told = len(hands) > 1 or (beat.part in bridges and beat.beat + value in pairs)
                crosses = throw.endswith("x") if told else value % 2 == 1
                to = {"right": "left", "left": "right"}[hand] if crosses else hand
                due.setdefault((beat.beat + value, to), []).append(name)
        assert all(when > beat.beat for when, _ in due)  # nothing falls to the floor
    assert appeared == expected_new
    assert gone == expected_gone
    check_hurried(beats)


def check_hurried(beats: list[Beat]) -> None:
    """Check that the hands told are those whose turns are not two beats apart, and are called."""
    last: dict[str, int] = {}
    calls = {beat.beat: beat.call for beat in beats}
    for beat in beats:
        if beat.cycle is None:
            last = {}
            assert not beat.hurried
            continue
        hands = {hand for hand, _, _ in throwing_hands(beat)}
        late = {hand for hand in hands if beat.beat - last.get(hand, beat.beat - 2) != 2}
        assert set(beat.hurried) == late
        for hand in late:
            before = beat.beat - last[hand]
            assert before in {1, 3}
            told = {calls[beat.beat - 1], calls[beat.beat - 2]}
            assert told & ({"wait"} if before == 3 else {"wait", "hurry"}), told
        last |= dict.fromkeys(hands, beat.beat)


@given(routines())
@settings(max_examples=100)
def test_no_cue_call_overlaps_its_change_or_a_call_of_the_count(routine: Routine) -> None:
    laid = lay_out(routine)
    run = run_of(laid)
    clock = clock_of(run)
    said = [call for call in cue_calls(run) if call.said]
    beats = list(schedule(run))
    for call in said:
        assert call.end < clock.time_at(call.change)
        during = [beat for beat in beats if call.time <= beat.time <= call.end]
        assert all(beat.call is None for beat in during)
        # The count gives way, the beat does not.
        assert all(beat.click for beat in during if throwing_hands(beat))
    for earlier, later in pairwise(said):
        assert earlier.end <= later.time
    assert {beat.call for beat in beats if beat.call == "stop"} == {"stop"}
