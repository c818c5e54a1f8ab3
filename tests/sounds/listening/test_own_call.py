"""The call's own sound: where it is on a take, and the take without it."""

from functools import lru_cache
from statistics import mean
from typing import NamedTuple

import numpy as np
import pytest
from agreement import Agreement, agreement
from called_takes import CalledTake, called_take
from other_detector import onsets_by_settings
from played import Recorded, played

from sounds.listening.own_call import CallOnTake, find_call, without_call
from sounds.listening.rate import RATE, Mono
from sounds.listening.thuds import find_thuds

SEEDS = range(4)
WANTED = {20: 0.95, 10: 0.85}
"""Least precision and recall on every take, by how far thuds are above the noise, in dB."""

WITHIN_SECONDS = 0.001
WITHIN_DRIFT = 5.0


class Cleared(NamedTuple):
    """A take, where the call was found on it, and what it is without."""

    take: CalledTake
    found: CallOnTake
    samples: Mono


@lru_cache
def cleared(above_noise: int, seed: int) -> Cleared:
    take = called_take(seed, above_noise, seconds=24.0)
    recorded, call = Recorded(take.called.samples), played(take.call)
    found = find_call(recorded, call)
    assert found is not None
    left = without_call(recorded.blocks(4096), call, found)
    return Cleared(take, found, np.concatenate(list(left)))


@lru_cache
def agreed_on(above_noise: int, seed: int) -> Agreement:
    take, _, samples = cleared(above_noise, seed)
    return agreement(take.called.thuds, times_in(samples))


def times_in(samples: Mono) -> list[float]:
    return [thud.time for thud in find_thuds(Recorded(samples).blocks(4096), RATE)]


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("above_noise", WANTED)
def test_it_is_found_to_a_millisecond(above_noise: int, seed: int) -> None:
    take, found, _ = cleared(above_noise, seed)
    assert found.delay == pytest.approx(take.room.delay, abs=WITHIN_SECONDS)
    assert found.drift == pytest.approx(take.room.drift, abs=WITHIN_DRIFT)
    assert found.sureness > 0.8


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("above_noise", WANTED)
def test_thuds_are_found_beside_it(above_noise: int, seed: int) -> None:
    agreed = agreed_on(above_noise, seed)
    assert min(agreed.precision, agreed.recall) >= WANTED[above_noise], agreed


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("above_noise", WANTED)
def test_little_of_it_is_left_and_the_rest_stays(above_noise: int, seed: int) -> None:
    take, _, samples = cleared(above_noise, seed)
    before, after = take.called.samples, samples
    assert len(before) == len(after)
    assert power(after - take.quiet.samples) < 0.1 * power(before - take.quiet.samples)


@pytest.mark.parametrize("above_noise", WANTED)
def test_a_general_detector_finds_less(above_noise: int) -> None:
    """Its settings are those that are best on these very takes; see `other_detector`."""
    for called in (True, False):
        ours, theirs = [], {}
        for seed in SEEDS:
            take, _, samples = cleared(above_noise, seed)
            there = take.called if called else take.quiet
            ours.append(agreement(there.thuds, times_in(samples if called else there.samples)).f)
            for settings, onsets in onsets_by_settings(there.samples, RATE):
                theirs.setdefault(settings, []).append(agreement(there.thuds, onsets).f)
        assert mean(ours) > max(mean(each) for each in theirs.values())


def power(samples: Mono) -> float:
    return float(np.mean(samples.astype(np.float64) ** 2))
