"""The call's own sound: where it is on a take, and the take without it."""

from dataclasses import replace

import numpy as np
import pytest
from called_takes import Circumstances
from heard_takes import heard_take, usual_take
from takes import Room

from sounds.listening.rate import Mono

SEEDS = range(402, 405)
ABOVE_NOISE = (20, 10)
"""How far thuds are above the noise, in dB."""

WITHIN_SECONDS = 0.001
WITHIN_DRIFT = 5.0


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("above_noise", ABOVE_NOISE)
def test_it_is_found_to_a_millisecond(above_noise: int, seed: int) -> None:
    heard = usual_take(seed, above_noise)
    room, found = heard.take.room, heard.found
    assert found.delay == pytest.approx(room.delay, abs=WITHIN_SECONDS)
    assert found.drift == pytest.approx(room.drift, abs=WITHIN_DRIFT)
    assert found.sureness > 0.8


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("above_noise", ABOVE_NOISE)
def test_little_of_it_is_left_and_the_rest_stays(above_noise: int, seed: int) -> None:
    heard = usual_take(seed, above_noise)
    quiet, called = heard.take.quiet.samples, heard.take.called.samples
    assert len(heard.cleared) == len(called)
    assert power(heard.cleared - quiet) < 0.1 * power(called - quiet)


def test_next_to_nothing_is_left_of_a_call_much_louder_than_the_thuds() -> None:
    heard = heard_take(8, 20.0, circumstances=Circumstances(four_times_as_loud))
    take = heard.take
    left = power(heard.cleared - take.quiet.samples)
    assert left < 1e-3 * power(take.called.samples - take.quiet.samples)


def four_times_as_loud(room: Room) -> Room:
    return replace(room, call_level=12.0)


def power(samples: Mono) -> float:
    return float(np.mean(samples.astype(np.float64) ** 2))
