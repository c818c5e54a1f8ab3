"""A clock that is told moments which are off, against the clock that they were made from.

A call among its reflections and its cycles, where it was put.
"""

import random

import numpy as np
import pytest

from throwcount.sounds.echo.clocks import Clocks, TakeClock, candidates
from throwcount.sounds.echo.matching import Matches

RATE = 48_000
BLOCK = 1024
EXACT = 1e-9
NEARLY = 0.002


def noted(clock: TakeClock, blocks: range, start: float, late: float = 0.0) -> None:
    for block in blocks:
        clock.note(block * BLOCK, start + block * BLOCK / RATE + late)


def test_frames_that_come_in_time() -> None:
    clock = TakeClock(RATE)
    noted(clock, range(10), 100.0)
    assert clock.moment(2.5) == pytest.approx(102.5, abs=EXACT)


def test_some_that_come_late() -> None:
    clock, chance = TakeClock(RATE), random.Random(1)
    for block in range(400):
        late = chance.uniform(-0.003, 0.003) + (0.2 if chance.random() < 0.1 else 0.0)
        clock.note(block * BLOCK, 50 + block * BLOCK / RATE + late)
    assert clock.moment(8.0) == pytest.approx(58.0, abs=NEARLY)


def test_frames_that_were_lost_are_made_up_for() -> None:
    clock = TakeClock(RATE)
    noted(clock, range(500), 0.0)
    noted(clock, range(500, 600), 0.0, late=0.3)
    assert clock.moment(11.0) == pytest.approx(11.3, abs=EXACT)


TRUE = Clocks(3.2, 80.0)
CYCLE = 0.8


def in_a_room(middle: float, chance: random.Random) -> Matches:
    """Return where a piece of the call is found: its sound, two reflections, all of each cycle.

    Now the sound is strongest and now a reflection, but on the whole all three are alike.
    """
    heard = [
        (TRUE.take_time(middle) + late + cycle * CYCLE, chance.uniform(15, 30))
        for cycle in range(-3, 4)
        for late in (0.0, 0.009, 0.016)
    ]
    times, strengths = zip(*heard, strict=True)
    return Matches(middle, 2.0, 1_000.0, np.array(times), np.array(strengths))


@pytest.mark.parametrize("seed", range(4))
def test_a_call_is_in_line_with_itself_where_reflections_are_as_strong(seed: int) -> None:
    chance = random.Random(seed)
    pieces = [in_a_room(float(middle), chance) for middle in range(1, 50, 2)]
    found = candidates(pieces, 60.0)
    nearest, share = min(found, key=lambda each: abs(each[0].delay - TRUE.delay))
    assert nearest.delay == pytest.approx(TRUE.delay, abs=0.001)
    assert nearest.drift == pytest.approx(TRUE.drift, abs=5.0)
    assert share == 1.0
