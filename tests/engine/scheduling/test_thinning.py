"""Calls that no pace of speech can carry thin out, counted from the start of each cycle."""

from itertools import islice

import pytest

from throwcount.engine.patterns.rules import read
from throwcount.engine.scheduling.scheduler import schedule
from throwcount.engine.scheduling.thinning import spacings, thin
from throwcount.engine.timing.run import Part, Run
from throwcount.engine.timing.tempo import ramp, steady


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
        ("97531", 0.6, [0, 3, 5, 8, 9]),  # a call every 2 beats would run into the next cycle
        ("4444", 0.6, [0, 2, 4, 6, 8, 9]),
        ("531531", 0.9, [0, 2, 4, 6, 8, 9]),
        ("531531", 1.2, [0, 3, 6, 9]),
        ("51", 0.9, [0, 2, 4, 6, 8, 9]),
        ("3", 0.9, [0, 2, 4, 6, 8, 9]),  # a cycle of one beat: every second cycle
        ("3", 1.3, [0, 3, 6, 9]),
        ("51", 1.3, [0, 4, 8, 9]),
    ],
)
def test_spacing(text: str, word: float, expected: list[int]) -> None:
    assert called_beats(text, 120, 10, word) == expected


def test_times_go_with_the_calls() -> None:
    timeline = thin(schedule(run_of("51", 120, 10)), lambda _: 0.9)
    assert all((beat.call is None) == (beat.call_time is None) for beat in timeline)


def test_only_fast_cycles_thin() -> None:
    run = Run((Part(read("4444"), 64),), ramp(60, 240, 64, "linear-beats"))
    timeline = schedule(run)
    every = [spacing.every for spacing in spacings(timeline, lambda _: 0.3)]
    assert every[0] == 1
    assert every[-1] == 2
    assert every == sorted(every)
    assert len([beat for beat in timeline if beat.call]) == 64


def test_endless_runs_thin_as_they_go() -> None:
    timeline = thin(schedule(run_of("531", 300, None)), lambda _: 0.25)
    beats = [beat for beat in islice(timeline, 3004) if beat.call]
    assert [beat.beat for beat in beats] == list(range(0, 3000, 3))
