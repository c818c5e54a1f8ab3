"""Timelines one after another."""

import pytest

from throwcount.engine.errors import RunError
from throwcount.engine.patterns.rules import read
from throwcount.engine.scheduling.scheduler import in_turn, schedule
from throwcount.engine.timing.run import Part, Run
from throwcount.engine.timing.tempo import steady
from throwcount.engine.timing.timeline import Cue, Timeline


def set_of(text: str, beats: int | None) -> Timeline:
    run = Run((Part(read(text), beats),), steady(120), announcement="go", announcement_seconds=0.5)
    return schedule(run)


def test_each_set_starts_where_the_last_one_ended() -> None:
    first, second = set_of("3", 6), set_of("51", 4)
    both = in_turn([first, second])
    assert both.seconds == first.seconds + second.seconds
    beats = list(both)
    assert beats[: len(list(first))] == list(first)
    later = beats[len(list(first)) :]
    assert [beat.time - first.seconds for beat in later] == [beat.time for beat in second]
    assert [beat.call for beat in later] == [beat.call for beat in second]
    assert both.cues == (first.cues[0], Cue(second.cues[0].time + first.seconds, "go", seconds=0.5))
    assert both.words == first.words | second.words


def test_the_last_set_may_be_endless() -> None:
    assert in_turn([set_of("3", 6), set_of("3", None)]).seconds is None


def test_nothing_follows_an_endless_set() -> None:
    with pytest.raises(RunError, match="never ends"):
        in_turn([set_of("3", None), set_of("3", 6)])
