"""Which catches make one sound: a table."""

import pytest

from engine.catching.together import sounds_of


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
