"""When catches are expected: by hand, by Shannon's theorem, and against the throws that follow.

Which catches make one sound: a table.
"""

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import replace
from itertools import islice, pairwise

import numpy as np
import pytest
from thud_times import Heard

from throwcount.engine.errors import FlightError, MalformedError
from throwcount.engine.patterns.pattern import Throw
from throwcount.engine.patterns.rules import read
from throwcount.engine.routines.layout import lay_out
from throwcount.engine.routines.routine import Length, PatternPart, Routine
from throwcount.engine.routines.routine_run import run_parts
from throwcount.engine.scheduling.scheduler import in_turn, schedule
from throwcount.engine.takes.catches import (
    Catch,
    caught_by,
    expected_catches,
    read_throw,
    sounds_of,
    thuds_of,
)
from throwcount.engine.timing.run import Part, Run, clock_of
from throwcount.engine.timing.tempo import TempoMap, ramp, steady, steps
from throwcount.engine.timing.timeline import Beat, ByHand

EXACT = 1e-9
FAR_BELOW_HEARING = 5e-4
"""Seconds within which a catch between two beats of a ramp is placed."""


def run(text: str, beats: int, tempo: TempoMap | None = None) -> Run:
    return Run((Part(read(text), beats),), tempo or steady(60))


def places(text: str, beats: int, dwell: float = 2 / 3) -> list[tuple[float, str, str]]:
    """Return each catch of a run at one beat a second: beats since the first throw, throw, hand."""
    asked = run(text, beats)
    first = clock_of(asked).first_throw
    catches = expected_catches(schedule(asked), dwell)
    return [(round(catch.time - first, 3), catch.throw, catch.hand) for catch in catches]


@pytest.mark.parametrize(
    ("text", "beats", "expected"),
    [
        # n - 4/3 beats after the throw with the usual dwell; odd values cross.
        ("3", 3, [(1.667, "3", "left"), (2.667, "3", "right"), (3.667, "3", "left")]),
        ("4", 2, [(2.667, "4", "right"), (3.667, "4", "left")]),
        # A higher throw comes down after a later, lower one; a 1 is handed over within its beat.
        ("531", 3, [(2.5, "1", "left"), (2.667, "3", "right"), (3.667, "5", "left")]),
        # An empty hand and a held object are no catches.
        ("40", 2, [(2.667, "4", "right")]),
        ("42", 2, [(2.667, "4", "right")]),
        ("2", 4, []),
        ("0", 4, []),
        # Of a pair the first is the left hand's; an x crosses; a crossing 2 is thrown.
        ("(4x,2x)", 2, [(0.667, "2x", "left"), (2.667, "4x", "right")]),
        ("(4,2)", 2, [(2.667, "4", "left")]),
        # Several at once are several catches.
        ("[54]24", 1, [(2.667, "4", "right"), (3.667, "5", "left")]),
        ("b", 1, [(9.667, "b", "left")]),
    ],
)
def test_by_hand(text: str, beats: int, expected: list[tuple[float, str, str]]) -> None:
    assert places(text, beats) == expected


def test_what_a_waiting_hand_keeps_is_not_caught() -> None:
    def beat(number: int, right: dict[str, str], left: dict[str, str], *hurried: str) -> Beat:
        throws, objects = (
            (tuple(right), tuple(left)),
            (tuple(right.values()), tuple(left.values())),
        )
        return Beat(
            number, float(number), 60.0, "part", throws=ByHand(*throws),
            objects=ByHand(*objects), hurried=hurried,
        )  # fmt: skip

    waits = [
        beat(0, {"4": "A"}, {}),
        beat(1, {}, {"1": "B"}),
        beat(2, {"2x": "C"}, {"4x": "B"}, "left"),
    ]
    handed = [
        beat(0, {"4": "A"}, {}),
        beat(1, {}, {"1": "B"}),
        beat(2, {"2x": "B"}, {"4x": "C"}, "left"),
    ]
    assert [catch.throw for catch in expected_catches(waits)] == ["4", "2x", "4x"]
    assert [catch.throw for catch in expected_catches(handed)] == ["1", "4", "2x", "4x"]


@pytest.mark.parametrize(
    ("dwell", "value", "place"),
    [(0.5, "3", 2.0), (0.75, "3", 1.5), (0.4, "1", 0.2), (0.5, "1", 0.5), (0.9, "1", 0.5)],
)
def test_dwell(dwell: float, value: str, place: float) -> None:
    """A throw flies n - 2r beats where that is more than none; else it is caught half-way."""
    assert places(value, 1, dwell)[0][0] == pytest.approx(place, abs=EXACT)


@pytest.mark.parametrize("text", ["3", "531", "7", "(4x,2x)", "(6x,4)*", "[33]33", "b97531", "744"])
def test_each_object_is_thrown_again_by_the_hand_that_caught_it(text: str) -> None:
    """Two dwell ratios after the catch, as Shannon's theorem has it: F + D is n beats."""
    beats = list(schedule(run(text, 60)))
    thrown: dict[tuple[int, str], set[str]] = defaultdict(set)
    for beat in beats:
        thrown[beat.beat, "right"] |= set(beat.objects.right)
        thrown[beat.beat, "left"] |= set(beat.objects.left)
    first = next(beat.time for beat in beats if beat.beat == 0)
    checked = 0
    for catch in expected_catches(beats):
        again = catch.beat + catch.value
        if again < 60:
            assert catch.object in thrown[again, catch.hand]
            held = again - (catch.time - first)
            assert held == pytest.approx(4 / 3 if catch.value > 1 else 0.5, abs=EXACT)
            checked += 1
    assert checked > 30


@pytest.mark.parametrize(
    "tempo",
    [
        ramp(60, 120, 24, "linear-beats"),
        ramp(240, 90, 30, "linear-time"),
        ramp(100, 220, 20, "ratio"),
        steps(100, 200, 25, every=7),
    ],
)
def test_between_the_beats_of_a_ramp(tempo: TempoMap) -> None:
    """Against the closed form of the curve; where it jumps, within the beat before."""
    asked = run("5", 40, tempo)
    clock = clock_of(asked)
    for catch in expected_catches(schedule(asked)):
        assert catch.time == pytest.approx(
            clock.time_at(catch.beat + 5 - 4 / 3), abs=FAR_BELOW_HEARING
        )
        assert catch.tempo == pytest.approx(tempo.tempo_at(catch.beat + 5 - 4 / 3), rel=0.01)


def test_where_beats_are_not_at_the_tempo_they_note() -> None:
    """Half-way between beats that are listed one by one, as for music that breathes."""
    beats = [
        Beat(number, time, 600.0, "part", throws=ByHand(right=("3",)))
        for number, time in enumerate([0.0, 1.0, 3.0, 4.0])
    ]
    assert [catch.time for catch in expected_catches(beats, dwell=0.75)][:2] == [2.0, 3.5]


@pytest.mark.parametrize(
    "texts",
    [
        ("3", "(4x,2x)", "51", "(4,2x)*"),
        ("3", "(4,4)", "3"),
        ("53", "(6x,2x)", "4"),
        ("5", "(6x,4)*", "5", "(4x,2x)"),
    ],
)
def test_at_a_change_of_timing_too_an_object_is_thrown_by_the_hand_that_caught_it(
    texts: Sequence[str],
) -> None:
    parts = [PatternPart(pattern=read(text), length=Length(cycles=6)) for text in texts]
    changes = [after.pattern.objects - one.pattern.objects for one, after in pairwise(parts)]
    changed = [
        replace(part, change=change or None)
        for part, change in zip(parts, [0, *changes], strict=True)
    ]
    laid = lay_out(Routine(title="changes", parts=tuple(changed), tempo=200.0))
    beats = list(schedule(Run(tuple(part for _, part in run_parts(laid)), laid.tempo)))
    thrown = {
        (beat.beat, name): hand
        for beat in beats
        for hand in ("right", "left")
        for name in getattr(beat.objects, hand)
    }
    known = [
        (catch, thrown[catch.beat + catch.value, catch.object])
        for catch in expected_catches(beats)
        if (catch.beat + catch.value, catch.object) in thrown
    ]
    assert len(known) > 20
    for catch, hand in known:
        assert catch.hand == hand, catch


def test_in_order_of_time_with_what_is_known_of_each() -> None:
    catches = list(expected_catches(schedule(run("97531", 50, steady(200)))))
    assert [catch.time for catch in catches] == sorted(catch.time for catch in catches)
    first = catches[0]
    assert (first.part, first.cycle_beat, first.value, first.beat) == ("97531", 4, 1, 4)
    assert first.tempo == pytest.approx(200)


def test_sets_one_after_another_count_their_beats_anew() -> None:
    one = schedule(run("531", 30))
    alone = list(expected_catches(one))
    both = list(expected_catches(in_turn([one, one])))
    assert both[: len(alone)] == alone
    later = one.seconds
    assert later is not None
    assert [catch.time for catch in both[len(alone) :]] == pytest.approx(
        [catch.time + later for catch in alone], abs=EXACT
    )


def test_endless_throws_are_walked_one_by_one() -> None:
    endless = replace(run("3", 1), parts=(Part(read("3"), None),))
    catches: list[Catch] = list(islice(expected_catches(schedule(endless)), 1000))
    assert catches[-1].beat == 999


@pytest.mark.parametrize(
    ("text", "throw"),
    [("5", Throw(5)), ("4x", Throw(4, crossed=True)), ("x", Throw(33)), ("a", Throw(10))],
)
def test_a_throw(text: str, throw: Throw) -> None:
    assert read_throw(text) == throw


@pytest.mark.parametrize("text", ["", "?", "55", "4xx", "X5", " 5"])
def test_no_throw(text: str) -> None:
    with pytest.raises(MalformedError, match="is no throw: one digit or letter"):
        read_throw(text)


@pytest.mark.parametrize("dwell", [0, 1, -0.5, math.nan])
def test_dwell_out_of_range(dwell: float) -> None:
    with pytest.raises(FlightError, match="between 0 and 1"):
        list(expected_catches([], dwell))


@pytest.mark.parametrize(
    ("times", "sounds"),
    [
        ([], []),
        ([1.0], [(0,)]),
        ([1.0, 1.0, 2.0], [(0, 1), (2,)]),
        ([1.0, 1.039, 1.041], [(0, 1), (2,)]),
        # What counts is the time since the sound began, so that a row does not grow without end.
        ([0.0, 0.03, 0.06, 0.09], [(0, 1), (2, 3)]),
    ],
)
def test_sounds(times: list[float], sounds: list[tuple[int, ...]]) -> None:
    assert sounds_of(times) == sounds


@pytest.mark.parametrize(
    "text", ["531", "3", "744", "40", "97531", "(4,2x)*", "[33]33", "51", "423", "(4,[22])", "b1"]
)
@pytest.mark.parametrize("rounds", [1, 7])
def test_catches_by_a_beat_are_those_of_the_timeline(text: str, rounds: int) -> None:
    """At 60 beats a minute, a beat is a second."""
    pattern = read(text)
    thrown = rounds * pattern.period
    beats = [beat for beat in schedule(run(text, thrown)) if beat.cycle is not None]
    times = [catch.time - beats[0].time for catch in expected_catches(beats)]
    for beat in (-1.0, 0.0, 0.4, 1.7, 2.2, 3.9, 7.1, 10.9, 30.3, 100.0):
        assert caught_by(pattern, beat, thrown) == sum(time <= beat for time in times)
    assert caught_by(pattern, 1e4, None) >= 1e4 / pattern.period - pattern.highest


def test_thuds_keep_what_is_known_of_each() -> None:
    confidence = [0.03, 0.6, 0.9, 0.29, 1.0]
    heard = [Heard(4.0 - time, each, (10.0 * time,)) for time, each in enumerate(confidence)]
    thuds = replace(thuds_of(heard), likeness=np.arange(5.0))
    assert thuds.clear.tolist() == [True, True, True, True, False]
    for some in (thuds.between(1.5, 3.5), thuds.chosen(np.array([2, 3]))):
        assert some.times.tolist() == [2, 3]
        assert some.confidence.tolist() == [1, pytest.approx(2 / 3)]
        assert some.bands is not None
        assert some.bands.tolist() == [[20], [10]]
        assert some.weights.tolist() == [2, 2]
