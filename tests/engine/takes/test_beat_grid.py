"""The rate of catches from thuds alone, on simulated takes and against directional statistics.

Places of a cadence: none left out, none counted twice, while the tempo changes.
"""

import math
from itertools import pairwise
from random import Random

import numpy as np
import pytest
from scipy.stats import circvar
from thud_times import Manner, catches_of, take_of

from throwcount.engine.takes.beat_grid import beat_grid, grid_tempos, overall, readings
from throwcount.engine.timing.tempo import TempoMap, ramp, steady

NEAR = 0.005
"""Of a rate, as a share: a third of the change of tempo that people notice at best (1.5 %, Drake &
Botte, Percept. Psychophys. 54 (1993) 277-286)."""

CLEAN = {"missing": 0.05, "extra": 0.05}
NOISY = {"missing": 0.2, "extra": 0.4}


@pytest.mark.parametrize(
    ("text", "bpm", "catches_a_beat"),
    [
        ("3", 60, 1),
        ("3", 200, 1),
        ("3", 260, 1),
        ("5", 150, 1),
        # One beat in three is silent, and still the others keep to the beat.
        ("423", 200, 1),
        ("531", 200, 1),
        ("441", 180, 1),
        ("97531", 220, 1),
        ("[33]33", 200, 1),
        # Both hands at once, or a 1 that is handed over as the 5 comes down: a sound in two beats.
        ("(4,4)", 200, 0.5),
        ("(4x,2x)", 200, 0.5),
        ("51", 220, 0.5),
    ],
)
@pytest.mark.parametrize(
    ("sd", "recorded"), [(0.003, CLEAN), (0.015, CLEAN), (0.015, NOISY), (0.03, CLEAN)]
)
def test_rate(
    text: str, bpm: float, catches_a_beat: float, sd: float, recorded: dict[str, float]
) -> None:
    """The usual rate of a take; at 60 a minute some 30 catches, with extra sounds, tell less."""
    take = take_of(catches_of(text, bpm, 120), Random(11), Manner(sd=sd, **recorded))
    found = overall(grid_tempos(take.times))
    assert found == pytest.approx(bpm * catches_a_beat, rel=NEAR if bpm > 100 else 0.02)


def test_a_tempo_that_changes_is_followed() -> None:
    tempo = ramp(140, 240, 240, "linear-time")
    catches = catches_of("3", tempo, 240)
    take = take_of(catches, Random(2), Manner(sd=0.015))
    windows = grid_tempos(take.times)
    assert len(windows) > 10
    for window in windows[1:-1]:
        middle = (window.start + window.end) / 2
        nearest = min(catches, key=lambda catch: abs(catch.time - middle))
        assert window.rate == pytest.approx(nearest.tempo, rel=0.02)


def test_in_step_is_what_circular_variance_leaves() -> None:
    take = take_of(catches_of("3", 200, 100), Random(4), Manner(sd=0.02))
    for window in grid_tempos(take.times):
        inside = [time for time in take.times if window.start <= time < window.end]
        turns = [time % (60 / window.rate) * window.rate / 60 for time in inside]
        expected = 1 - circvar(np.array(turns) * 2 * math.pi)
        assert window.in_step == pytest.approx(expected, abs=1e-9)


def test_thuds_at_random_are_seldom_taken_for_a_cadence() -> None:
    """Rayleigh's test, for the best of many rates: one window in ten is told as more than 0.9."""
    random = Random(9)
    told = [
        window.confidence
        for _ in range(30)
        for window in grid_tempos(sorted(random.uniform(0, 60) for _ in range(180)))
    ]
    assert len(told) > 300
    assert sum(confidence > 0.9 for confidence in told) < 0.1 * len(told)
    assert np.mean(told) < 0.5


@pytest.mark.parametrize("times", [[], [1.0], [1.0, 1.3, 1.6, 1.9, 2.2]])
def test_too_few_thuds_tell_nothing(times: list[float]) -> None:
    assert grid_tempos(times) == ()
    assert overall(()) is None


def test_phase_and_places() -> None:
    times = [5 + index * 0.3 for index in range(60) if index % 10]
    for window in grid_tempos(times):
        off = (times[20] - window.start - window.phase) / 0.3
        assert abs(off - round(off)) < 0.05
        assert window.confidence > 0.999


@pytest.mark.parametrize(("rate", "likelier"), [(90, 180), (100, 200), (200, 200), (240, 240)])
def test_readings_weigh_one_beat_to_a_catch_and_two(rate: float, likelier: float) -> None:
    meant = readings(rate)
    assert {reading.tempo for reading in meant} == {rate, 2 * rate}
    assert sum(reading.share for reading in meant) == pytest.approx(1)
    assert meant[0].tempo == likelier
    assert meant[0].share > 0.5


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
