"""The spread behind pairs of catches, against pairs that are drawn at random."""

import numpy as np
import pytest

from engine.catching.doubled import heard_variance, spread_of_pairs

MERGED = 0.04
"""Seconds: two thuds that follow more closely are heard as one."""


PAIRS = 400_000


def heard_of_pairs(own: float, common: float = 0.0) -> tuple[float, float]:
    """Return the sd of the thuds of random pairs, and thuds for each pair."""
    random = np.random.default_rng(1)
    both = random.normal(0, own, (PAIRS, 2)) + random.normal(0, common, (PAIRS, 1))
    first, second = both.min(axis=1), both.max(axis=1)
    thuds = np.concatenate([first, second[second - first > MERGED]])
    return float(thuds.std()), len(thuds) / PAIRS


@pytest.mark.parametrize("own", [0.005, 0.01, 0.02, 0.03, 0.04, 0.08])
def test_variance_of_what_is_heard(own: float) -> None:
    assert heard_variance(own) ** 0.5 == pytest.approx(heard_of_pairs(own)[0], rel=0.01)


@pytest.mark.parametrize("own", [0.016, 0.02, 0.03, 0.04, 0.06])
@pytest.mark.parametrize("common", [0.0, 0.01, 0.03])
def test_spread_behind_it(own: float, common: float) -> None:
    spread, thuds = heard_of_pairs(own, common)
    true = np.hypot(own, common)
    assert spread_of_pairs(spread, 1.0, thuds) == pytest.approx(true, rel=0.04)


@pytest.mark.parametrize("own", [0.002, 0.005, 0.01])
def test_pairs_that_are_never_heard_as_two_are_left_as_they_are(own: float) -> None:
    """A hand's own part is then less than 14 ms, and what is lost of it less than 2.5 ms."""
    spread, thuds = heard_of_pairs(own)
    assert spread_of_pairs(spread, 1.0, thuds) == spread
    assert own - spread < 0.0025


def test_catches_that_are_not_heard_do_not_hide_the_pairs() -> None:
    random = np.random.default_rng(2)
    both = np.sort(random.normal(0, 0.03, (PAIRS, 2)), axis=1)
    there = random.random((PAIRS, 2)) >= 0.05
    merged = there.all(axis=1) & (both[:, 1] - both[:, 0] < MERGED)
    thuds = np.concatenate([both[:, 0][there[:, 0]], both[:, 1][there[:, 1] & ~merged]])
    heard = float(there.any(axis=1).mean())
    found = spread_of_pairs(float(thuds.std()), heard, len(thuds) / PAIRS)
    assert found == pytest.approx(0.03, rel=0.04)
