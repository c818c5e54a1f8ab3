"""Going on at another tempo, and beginning in the middle: nothing but time changes."""

from dataclasses import replace
from itertools import dropwhile, islice, pairwise
from random import Random

import pytest

from engine.errors import TempoError
from engine.patterns.jugglable import read
from engine.timing.clock import clock_of
from engine.timing.nudge import first_beat_from, nudged
from engine.timing.run import SAY_MODES, Fading, Part, Run
from engine.timing.scheduler import last_beat, schedule
from engine.timing.tempo import TempoMap, ramp, steady, steps

RUNS = {
    "alternating": Run((Part(read("531"), None),), steady(200)),
    "odd period": Run((Part(read("97531"), 700),), ramp(120, 240, 700, "linear-beats"), "left"),
    "pairs": Run((Part(read("(6x,4)*"), 500),), steps(150, 200, 10, 24), count_in=6, lead=2),
    "several at once": Run((Part(read("[54]24"), 333),), ramp(240, 120, 99, "ratio")),
    "parts": Run(
        (Part(read("3"), 101), Part(read("441"), 303), Part(read("3"), 50, last_cycle="last one")),
        steady(173, 150) + ramp(173, 190, 40, "linear-time"),
        fading=Fading(2, 3),
    ),
}
ROUNDING = 1e-9
"""Seconds; a sample at 48 kHz takes 2e-5."""


@pytest.mark.parametrize("say", SAY_MODES)
@pytest.mark.parametrize("name", RUNS)
@pytest.mark.parametrize("since", [-2, 1, 211, 455])
def test_a_late_start_is_the_rest_of_the_whole(name: str, since: int, say: str) -> None:
    run = replace(RUNS[name], say=say)
    rest = dropwhile(lambda beat: beat.beat < since, schedule(run))
    late = schedule(run, since)
    assert list(islice(late, 60)) == list(islice(rest, 60))
    assert not late.cues
    assert late.seconds == schedule(run).seconds


def test_a_start_after_a_day_is_there_at_once() -> None:
    run = RUNS["alternating"]
    day = 24 * 60 * 200
    beat = next(iter(schedule(run, day)))
    assert (beat.beat, beat.time) == (day, clock_of(run).time_at(day))
    assert beat.cycle == day // 3


@pytest.mark.parametrize("name", RUNS)
@pytest.mark.parametrize("pivot", [-3, 0, 1, 99, 260])
def test_a_nudge_changes_nothing_but_the_time(name: str, pivot: int) -> None:
    run = RUNS[name]
    nudge = nudged(run, pivot, 133)
    before, after = list(islice(schedule(run), 330)), list(islice(schedule(nudge.run), 330))
    for old, new in zip(before, after, strict=True):
        timeless = replace(new, time=old.time, call_time=old.call_time, tempo=old.tempo)
        assert timeless == old
        if pivot > 0 and old.beat < pivot:
            assert new == old
        if new.beat >= pivot:
            expected = clock_of(run).time_at(pivot) + 60 / 133 * (new.beat - pivot)
            if len(run.parts) > 1:  # all intervals change alike
                share = run.tempo.tempo_at(pivot) / 133
                expected = clock_of(run).time_at(pivot)
                expected += (old.time - expected) * share
            assert nudge.later + new.time == pytest.approx(expected, abs=ROUNDING)
    assert nudge.later == 0 or pivot <= 0


def test_hundreds_of_nudges_do_not_drift() -> None:
    random = Random(7)
    run, pivot, expected = RUNS["alternating"], 0, clock_of(RUNS["alternating"]).time_at(0)
    tempo = 200.0
    for _ in range(500):
        beats = random.randrange(1, 40)
        pivot += beats
        expected += 60 / tempo * beats
        tempo = random.uniform(100, 250)
        run = nudged(run, pivot, tempo).run
        assert clock_of(run).time_at(pivot) == pytest.approx(expected, abs=ROUNDING)
    beats = list(islice(schedule(run), pivot))
    assert all(earlier.time < later.time for earlier, later in pairwise(beats))


@pytest.mark.parametrize("name", RUNS)
def test_the_first_beat_from_a_time(name: str) -> None:
    run = RUNS[name]
    for beat in islice(schedule(run), 0, 300, 7):
        assert first_beat_from(run, beat.time) == beat.beat
        assert first_beat_from(run, beat.time + 0.01) == beat.beat + 1
    assert first_beat_from(run, -5.0) == -run.count_in
    last = last_beat(run)
    if last is not None:
        assert first_beat_from(run, clock_of(run).time_at(last)) == last
        assert first_beat_from(run, clock_of(run).time_at(last) + 0.01) is None


def test_a_tempo_that_cannot_be_kept_is_told() -> None:
    with pytest.raises(TempoError, match="outside what can be kept"):
        nudged(RUNS["pairs"], 12, 5000)


MAPS = [
    steady(120, 8),
    steps(100, 130, 10, 4),
    ramp(90, 200, 12, "ratio"),
    ramp(80, 60, 5, "linear-time"),
]


@pytest.mark.parametrize("tempo", MAPS)
@pytest.mark.parametrize("beats", [1, 3, 4, 7.5, 30])
def test_a_map_that_is_cut_keeps_its_beats(tempo: TempoMap, beats: float) -> None:
    cut = tempo.until(beats)
    assert cut.beats == beats
    for part in range(9):
        beat = beats * part / 8
        assert cut.time_at(beat) == pytest.approx(tempo.time_at(beat), abs=ROUNDING)
        if beat < beats:
            assert cut.time_at(beat) == tempo.time_at(beat)
    # What was in force till then is held.
    assert cut.end == pytest.approx(tempo.tempo_at(beats - ROUNDING))
    assert cut.tempo_at(beats + 5) == cut.end


@pytest.mark.parametrize("beats", [0, -1])
def test_nothing_cannot_be_kept_of_a_map(beats: float) -> None:
    with pytest.raises(TempoError, match="more than 0"):
        MAPS[0].until(beats)
