"""A clock that is told moments which are off, against the clock that they were made from."""

import random

import pytest

from throwcount.sounds.echo.clocks import TakeClock

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
