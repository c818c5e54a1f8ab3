"""Passages as plain data, and the beats that the screen shows of them."""

import pickle
from dataclasses import replace

import pytest
from handmade import ToneVoice

from throwcount.engine.errors import TempoError
from throwcount.engine.patterns.rules import read
from throwcount.engine.timing.run import Part, Run, Wording
from throwcount.engine.timing.tempo import ramp
from throwcount.engine.timing.timeline import Cue
from throwcount.sounds.mixing.score import Balance
from throwcount.sounds.output.commands import Continue, ScheduledRun

AHEAD = 0.3
"""Seconds: a change has to be made before the words it concerns begin."""


RUN = Run(
    (Part(read("97531"), 200),),
    ramp(150, 330, 200, "ratio"),
    ready=0.5,
    announcement="get ready",
    announcement_seconds=1.0,
    wording=Wording({"1": "pass"}),
    prelude=(Cue(0.1, "rest"),),
)
PASSAGE = ScheduledRun(RUN, 7.25, Balance(clicks="left"), frozenset({"again"}))
VOICE = ToneVoice()


def test_a_passage_goes_from_process_to_process() -> None:
    there = pickle.loads(pickle.dumps(PASSAGE))
    assert there == PASSAGE
    assert list(there.timeline(VOICE)) == list(PASSAGE.timeline(VOICE))


def test_all_that_may_be_said_in_it() -> None:
    assert PASSAGE.texts() == {"get ready", "rest", "again", "stop", "pass", "three", "five",
                               "seven", "nine"}  # fmt: skip


@pytest.mark.parametrize("since", [-4, 0, 3, 44, 121, 199, 203])
def test_the_beats_from_one_on_are_those_of_the_whole(since: int) -> None:
    """Also where the calls thin out, which depends on the cycle that is under way."""
    whole = [beat for beat in PASSAGE.timeline(VOICE) if beat.beat >= since]
    assert any(beat.call is None for beat in whole)
    assert list(PASSAGE.timeline(VOICE, since)) == whole


def test_its_places_on_the_clock_of_the_deck() -> None:
    whole = PASSAGE.timeline(VOICE)
    for beat in whole:
        assert PASSAGE.time_at(beat.beat) == 7.25 + beat.time
        assert PASSAGE.beat_from(7.25 + beat.time - 0.001) == beat.beat
    assert whole.seconds is not None
    assert PASSAGE.end == 7.25 + whole.seconds
    assert PASSAGE.beat_from(PASSAGE.end) is None
    assert replace(PASSAGE, run=replace(RUN, parts=(Part(read("3"), None),))).end is None


@pytest.mark.parametrize("now", [0.0, 8.0, 9.6, 12.0, 40.0])
def test_another_tempo_begins_on_the_first_beat_that_can_be_changed(now: float) -> None:
    changed = PASSAGE.at_tempo(211, now)
    assert changed is not None
    pivot, after = changed.pivot, changed.scheduled
    assert PASSAGE.time_at(pivot) >= now + AHEAD
    assert pivot == -RUN.count_in or PASSAGE.time_at(pivot - 1) < now + AHEAD
    assert after.time_at(pivot) == pytest.approx(PASSAGE.time_at(pivot), abs=1e-9)
    assert after.time_at(pivot + 10) - after.time_at(pivot) == pytest.approx(10 * 60 / 211)
    assert (after.balance, after.words) == (PASSAGE.balance, PASSAGE.words)


def test_after_the_last_beat_no_tempo_can_be_changed() -> None:
    assert PASSAGE.end is not None
    assert PASSAGE.at_tempo(211, PASSAGE.end) is None


def test_a_tempo_that_cannot_be_kept_is_told() -> None:
    with pytest.raises(TempoError, match="outside what can be kept"):
        PASSAGE.at_tempo(4, 8.0)


def test_a_beat_is_resumed_where_it_is_wanted() -> None:
    resumed = PASSAGE.resumed(17, 100.0)
    assert resumed == Continue(replace(PASSAGE, start=resumed.scheduled.start), 17)
    assert resumed.scheduled.time_at(17) == pytest.approx(100.0, abs=1e-9)
