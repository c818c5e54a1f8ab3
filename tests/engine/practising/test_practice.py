"""How the tempo moves from set to set."""

import pytest

from engine.errors import TempoError
from engine.practising.practice import Climb


@pytest.mark.parametrize(
    ("climb", "tempos"),
    [
        (Climb(150), [150, 150, 150]),
        (Climb(150, 10), [150, 160, 170, 180]),
        (Climb(150, -10), [150, 140, 130]),
        (Climb(150, 10, there=2), [150, 160, 170, 160, 150, 160, 170]),
        (Climb(990, 10), [990, 1000, 1000]),
    ],
)
def test_climb(climb: Climb, tempos: list[float]) -> None:
    for tempo in tempos:
        assert climb.tempo == tempo
        climb = climb.after("drop")


@pytest.mark.parametrize("climb", [{"start": 0.0}, {"start": 100.0, "there": 0}])
def test_climbs_that_cannot_be(climb: dict[str, float]) -> None:
    with pytest.raises(TempoError):
        Climb(**climb)
