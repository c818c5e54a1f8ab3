"""The lead is followed wherever it goes, and its steps are the best there are."""

from itertools import accumulate
from random import Random

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from throwcount.engine.takes.catches import Thuds
from throwcount.engine.takes.offsets import eased, follow

GAP = 0.3
NEAR = 0.03
"""Seconds; a mixture takes over from there."""


def heard_at(
    times: np.ndarray, random: Random, missing: float = 0.05, extra: float = 0.05
) -> Thuds:
    heard = [time for time in times if random.random() >= missing]
    heard += [random.uniform(0, times[-1]) for _ in range(round(extra * len(times)))]
    return Thuds(np.array(sorted(heard)), np.ones(len(heard)))


@pytest.mark.parametrize("slope", [0.0, 0.0002, -0.002, 0.005])
@pytest.mark.parametrize("extra", [0.05, 0.5])
def test_a_drift_however_far_it_leads(slope: float, extra: float) -> None:
    """From 200 millionths, two clocks, to half a percent, which leads more than a second away."""
    random = Random(5)
    sounds = np.arange(900) * GAP
    lead = -0.05 + slope * sounds
    late = np.array([random.gauss(0, 0.015) for _ in sounds])
    found = follow(sounds, heard_at(sounds + lead + late, random, extra=extra), -0.03)
    assert np.abs(found - lead).max() < NEAR


def test_a_juggler_who_wanders() -> None:
    random = Random(6)
    sounds = np.arange(900) * GAP
    lead = np.array(list(accumulate(random.gauss(0, 0.006) for _ in sounds)))
    late = np.array([random.gauss(0, 0.015) for _ in sounds])
    found = follow(sounds, heard_at(sounds + lead + late, random), 0.0)
    assert np.sqrt(np.mean((found - lead) ** 2)) < NEAR


@given(
    st.lists(st.floats(-20, 20), min_size=1, max_size=12),
    st.floats(0.01, 3),
    st.floats(0.5, 20),
)
def test_each_step_is_the_best(value: list[float], ease: float, leap: float) -> None:
    best, back = eased(np.array(value), ease, leap)
    for state in range(len(value)):
        ways = [before - min(ease * abs(state - other), leap) for other, before in enumerate(value)]
        assert best[state] == pytest.approx(max(ways), abs=1e-9)
        assert ways[int(back[state])] == pytest.approx(max(ways), abs=1e-9)


def test_nothing_heard_leaves_it_where_it_was() -> None:
    sounds = np.arange(50) * GAP
    silent = Thuds(np.zeros(0), np.zeros(0))
    assert np.abs(follow(sounds, silent, -0.03) + 0.03).max() < NEAR
