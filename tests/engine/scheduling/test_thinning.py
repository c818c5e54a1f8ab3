"""Calls that no pace of speech can carry thin out, and every value is heard all the same."""

from dataclasses import replace
from itertools import islice, pairwise

import pytest

from throwcount.engine.numbers import spoken
from throwcount.engine.patterns.rules import read
from throwcount.engine.scheduling.scheduler import schedule
from throwcount.engine.scheduling.thinning import CYCLES, spacings, thin
from throwcount.engine.timing.manners import Manner, throw_name
from throwcount.engine.timing.run import Part, Run
from throwcount.engine.timing.tempo import ramp, steady
from throwcount.engine.timing.timeline import Cue, Timeline


def run_of(text: str, tempo: float, beats: int | None) -> Run:
    return Run((Part(read(text), beats),), steady(tempo))


def called_beats(text: str, tempo: float, beats: int, word: float) -> list[int]:
    timeline = thin(schedule(run_of(text, tempo, beats)), lambda _: word)
    return [beat.beat for beat in timeline if beat.call]


@pytest.mark.parametrize(
    ("text", "word", "expected"),
    [
        # At 120 beats a minute a beat lasts 0.5 s; the last beat always says "stop".
        ("97531", 0.5, [0, 1, 2, 3, 4, 5, 6, 7, 8, 9]),
        ("97531", 0.6, [0, 2, 4, 6, 9]),  # on into the next cycle; 8 would run into "stop"
        ("4444", 0.6, [0, 2, 4, 6, 9]),
        ("531531", 0.9, [0, 2, 4, 6, 9]),
        ("531531", 1.2, [0, 3, 9]),
        ("51", 0.9, [0, 2, 5, 9]),  # 1 was left out twice and goes first
        ("3", 0.9, [0, 2, 4, 6, 9]),
        ("3", 1.3, [0, 3, 6, 9]),
        ("51", 1.3, [0, 3, 6, 9]),
    ],
)
def test_spacing(text: str, word: float, expected: list[int]) -> None:
    assert called_beats(text, 120, 10, word) == expected


def test_times_go_with_the_calls() -> None:
    timeline = thin(schedule(run_of("51", 120, 10)), lambda _: 0.9)
    assert all((beat.call is None) == (beat.call_time is None) for beat in timeline)


def test_only_fast_cycles_thin() -> None:
    run = Run((Part(read("4444"), 96),), ramp(60, 240, 96, "linear-beats"))
    timeline = schedule(run)
    every = [spacing.every for spacing in spacings(timeline, lambda _: 0.3)]
    assert every[0] == 1
    assert every[-1] == 2
    assert every == sorted(every)
    assert len([beat for beat in timeline if beat.call]) == 96


def test_endless_runs_thin_as_they_go() -> None:
    timeline = thin(schedule(run_of("531", 300, None)), lambda _: 0.25)
    beats = [beat for beat in islice(timeline, 3004) if beat.call]
    assert [beat.beat for beat in beats] == list(range(0, 3000, 2))


LENGTHS = {"double three": 0.41, "thirteen": 0.4, "eleven": 0.35, "seven": 0.3, "two": 0.18}
USUAL = 0.25


def seconds_of(text: str) -> float:
    return LENGTHS.get(text, USUAL)


PATTERNS = "3 531 744 97531 75751 51 423 441 b97531 db97531 (4,2x)* (6x,4)* [33]33 24[54]".split()
WINDOW = 6
"""Cycles in any of which a juggler hears every value that is thrown."""


@pytest.mark.parametrize("text", PATTERNS)
def test_every_value_is_heard_and_no_word_runs_into_the_next(text: str) -> None:
    pattern = read(text)
    cycles = 5 * WINDOW
    for tempo in range(200, 401, 20):
        whole = schedule(run_of(text, tempo, cycles * pattern.period))
        thinned = list(thin(whole, seconds_of))
        values = {
            frozenset((beat.call, whole.shorter.get(beat.call, beat.call)))
            for beat in whole
            if beat.call and beat.cycle == 0
        }
        heard = [
            {beat.call for beat in thinned if first <= (beat.cycle or 0) < first + WINDOW}
            for first in range(cycles - WINDOW)
        ]
        assert all(value & calls for calls in heard for value in values), tempo
        called = [(beat.call, beat.call_time) for beat in thinned if beat.call]
        assert called[-1][0] == "stop"
        gaps = [(call, later - time) for (call, time), (_, later) in pairwise(called)]
        assert all(gap > seconds_of(call) - 1e-6 for call, gap in gaps), tempo


@pytest.mark.parametrize("tempo", [60, 160, 220, 300])
def test_no_milestone_of_a_tally_is_left_out(tempo: float) -> None:
    run = replace(run_of("3", tempo, 331), say="tally")
    told = [beat.call for beat in thin(schedule(run), lambda _: 0.9) if beat.call]
    tens = [spoken(number) for number in range(10, 330, 10)]
    assert told == ["flash", "qualified", *tens, "stop"]


def test_fewer_words_are_said_before_a_call_is_left_out() -> None:
    slow, fast = (
        [beat.call for beat in thin(schedule(run_of("[33]33", tempo, 4)), seconds_of) if beat.call]
        for tempo in (140, 150)
    )
    assert slow == ["double three", "three", "three", "stop"]
    assert fast == ["double", "three", "three", "stop"]


def test_a_walk_from_a_later_beat_makes_the_same_calls() -> None:
    run = run_of("75751", 320, 200)
    whole = {beat.beat: beat.call for beat in thin(schedule(run), seconds_of)}
    for since in range(0, 200, 5 * CYCLES):
        later = thin(schedule(run, since), seconds_of)
        assert all(whole[beat.beat] == beat.call for beat in later)


def test_a_manner_gives_way_to_cues_and_to_other_manners_alone() -> None:
    """By hand: a beat lasts 0.5 s, "over" 0.6, what is said else 0.2, and in full 1.2 s."""
    pattern = read("531")
    full = Manner(throw_name("5", pattern), "over the top", "over the top", "over", 1.2)
    low = Manner(throw_name("every third 3", pattern), "low", "low")
    run = Run((Part(pattern, 12, manners=(full, low)),), steady(120), stop_word=False)
    timeline = schedule(run)
    cue = Cue(next(beat.time for beat in timeline if beat.beat == 10), "next", change=12)
    seconds = {"over": 0.6, "over the top": 0.7}

    def called(timeline: Timeline) -> list[str | None]:
        thinned = thin(timeline, lambda text: seconds.get(text, 0.2))
        return [beat.call for beat in thinned if beat.cycle is not None]

    usual = ["over", None, "one"]
    # The third 3 comes while "over" is said.
    assert called(timeline) == [*usual, *usual, *usual, *usual]
    silent = schedule(replace(run, say="nothing"))
    assert called(silent)[:6] == ["over the top", None, None, "over the top", None, None]
    assert called(silent)[6:9] == ["over", None, None]
    # No word is cut off by a cue that begins half a second later.
    assert called(replace(timeline, cues=(cue,)))[9:] == [None, "three", "one"]
