"""Counting gaps from when a device asks, and for what."""

from collections.abc import Iterator

import pytest

from throwcount.sounds.output.player_child import GapWatch

RATE = 48_000
BLOCK = 256


def requests(seconds: float, pace: float = 1.0) -> Iterator[tuple[int, float]]:
    """Yield positions and moments of a device that plays steadily, at `pace` times its rate."""
    for block in range(round(seconds * RATE / BLOCK)):
        yield block * BLOCK, 100.0 + block * BLOCK / RATE / pace


def gaps(*asked: tuple[int, float], underflows: frozenset[int] = frozenset()) -> int:
    watch = GapWatch(RATE)
    for number, (position, moment) in enumerate(asked):
        watch.note(position, moment, underflow=number in underflows)
    return watch.gaps


@pytest.mark.parametrize("pace", [1.0, 1 + 320e-6, 1 - 320e-6, 1.001])
def test_a_steady_device_has_none(pace: float) -> None:
    assert gaps(*requests(20, pace)) == 0


def test_requests_that_come_late_and_are_made_up_for_are_none() -> None:
    """As while the computer is busy: in bursts of 50 ms, a few of them a whole store late."""
    late = [
        (at, max(moment, 100 + 0.05 * round((moment - 100) / 0.05))) for at, moment in requests(20)
    ]
    assert gaps(*late) == 0


@pytest.mark.parametrize("missed", [0.015, 0.1, 0.7, 3.0])
@pytest.mark.parametrize("at", [4.0, 4.5, 4.99])
def test_time_that_went_by_without_sound_is_one(missed: float, at: float) -> None:
    asked = [(each, moment + (missed if moment > 100 + at else 0)) for each, moment in requests(12)]
    assert gaps(*asked) == 1


def test_what_the_device_tells_counts_once() -> None:
    asked = [(each, moment + (0.2 if moment > 105 else 0)) for each, moment in requests(12)]
    number = next(index for index, (_, moment) in enumerate(asked) if moment > 105)
    assert gaps(*asked, underflows=frozenset({number})) == 1
    assert gaps(*requests(12), underflows=frozenset({100, 1500})) == 2


@pytest.mark.parametrize("taken", [0.02, 0.1, 0.5])
def test_a_server_that_takes_in_more_at_first_has_none(taken: float) -> None:
    """It asks for the first of it at once, and from then on as it plays."""
    asked = [(each, max(100.0, moment - taken)) for each, moment in requests(12)]
    settled = [(each, moment + 0.015 * (moment > 100.4)) for each, moment in asked]
    assert gaps(*settled) == 0
