from itertools import pairwise

import pytest
from acts import act, one_pattern

from throwcount.caller.exports.events import bars
from throwcount.engine.timing.tempo import steady
from throwcount.engine.timing.timeline import Beat, Timeline


@pytest.mark.parametrize(
    ("pattern", "beats", "lengths"),
    [
        ("531", 9, [4, 3, 3, 3, 2]),
        ("531", 8, [4, 3, 3, 2, 3]),
        ("3", 3, [4, 1, 1, 1, 2]),
        ("(4,2x)*", 8, [4, 4, 4, 3]),
        # Cycles of 17 and 18 beats are cut in two; a pair is not.
        ("33333333333333342", 17, [4, 10, 7, 2]),
        ("(4,4)(4,4)(4,4)(4,4)(4,4)(4,4)(4,4)(4,4)(4,4)", 18, [4, 10, 8, 3]),
    ],
)
def test_a_bar_is_a_cycle(pattern: str, beats: int, lengths: list[int]) -> None:
    row = list(bars(one_pattern(pattern, beats, steady(240))))
    assert [len(bar.beats) for bar in row] == lengths


def test_bars_hold_every_beat_and_leave_no_gap() -> None:
    timeline = act().timeline
    row = list(bars(timeline))
    assert [beat for bar in row for beat in bar.beats] == list(timeline)
    assert all(before.end == after.start for before, after in pairwise(row))
    assert row[-1].end == timeline.seconds
    assert all(len({(beat.part, beat.cycle) for beat in bar.beats}) == 1 for bar in row)


def test_a_pattern_that_is_thrown_again_opens_a_bar() -> None:
    row = [Beat(n, n / 4, 240, "531", cycle=0, cycle_beat=n % 3) for n in range(6)]
    timeline = Timeline(lambda: iter(row), seconds=2.0)
    assert [len(bar.beats) for bar in bars(timeline)] == [3, 3]
    assert list(bars(Timeline(lambda: iter([]), seconds=2.0))) == []
