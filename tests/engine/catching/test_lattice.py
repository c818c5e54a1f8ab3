"""Places of a cadence: none left out, none counted twice, while the tempo changes."""

from itertools import pairwise
from random import Random

import pytest
from thud_times import Manner, catches_of, take_of

from engine.catching.cadence import grid_tempos
from engine.catching.lattice import beat_grid
from engine.timing.tempo import TempoMap, ramp, steady


@pytest.mark.parametrize("tempo", [steady(200), ramp(140, 240, 300, "linear-beats")])
def test_a_place_for_each_catch(tempo: TempoMap) -> None:
    catches = catches_of("3", tempo, 300)
    take = take_of(catches, Random(3), Manner(sd=0.015, lead=0.0, ppm=0))
    places = beat_grid(grid_tempos(take.times), catches[0].time - 0.1, catches[-1].time + 0.1)
    assert len(places) == pytest.approx(300, abs=1)
    nearest = [min(places, key=lambda place: abs(place - catch.time)) for catch in catches]
    assert len(set(nearest)) >= 299
    off = [abs(place - catch.time) for place, catch in zip(nearest, catches, strict=True)]
    assert sorted(off)[270] < 0.05


def test_it_goes_on_through_a_silence() -> None:
    times = [index * 0.3 for index in range(100) if not 40 <= index < 60]
    places = beat_grid(grid_tempos(times), -0.1, 29.9)
    assert len(places) == 100
    assert all(after - before == pytest.approx(0.3, abs=0.02) for before, after in pairwise(places))
