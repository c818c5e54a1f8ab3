"""The count and the clicks drop out and come back."""

import pytest

from engine.calling.calls import calls
from engine.calling.fading import is_heard
from engine.patterns.jugglable import read
from engine.timing.objects import Juggle
from engine.timing.run import Fading, Part, Run
from engine.timing.scheduler import schedule
from engine.timing.tempo import steady


@pytest.mark.parametrize(
    ("longest", "row"),
    [
        (0, "######"),
        (1, "#.#.#.#."),
        (2, "#.#..#.#..#."),
        (3, "#.#..#...#..#.#..#...#..#."),
    ],
)
def test_cycles_heard(longest: int, row: str) -> None:
    assert "".join("#" if is_heard(cycle, longest) else "." for cycle in range(len(row))) == row


def test_calls_and_clicks_fade_apart() -> None:
    run = Run((Part(read("51"), 12),), steady(120), fading=Fading(calls=1, clicks=2), count_in=2)
    beats = [beat for beat in schedule(run) if beat.cycle is not None]
    said = ["five", "one", None, None, "five", "one", None, None, "five", "one", None, "stop"]
    assert [beat.call for beat in beats] == said
    clicks = [beat.click is not None for beat in beats]
    assert clicks == [True] * 2 + [False] * 2 + [True] * 2 + [False] * 4 + [True] * 2


def test_stop_and_the_last_cycle_do_not_fade() -> None:
    run = Run((Part(read("51"), 8, last_cycle="last one"),), steady(120), fading=Fading(calls=5))
    said = [call for _, call in calls(Juggle(run), run)]
    assert said == ["five", "one", None, None, "five", "one", "last one", "stop"]
