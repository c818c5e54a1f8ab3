"""Where a take fell apart: against every moment there is, and how often without any."""

from random import Random

import numpy as np
import pytest
from scipy.stats import norm

from engine.catching.change import change_point


def asynchronies(seed: int, *stretches: tuple[int, float]) -> np.ndarray:
    random = Random(seed)
    return np.array([random.gauss(0, sd) for count, sd in stretches for _ in range(count)])


@pytest.mark.parametrize(("before", "after"), [(0.01, 0.03), (0.015, 0.04), (0.01, 0.025)])
def test_it_is_found_within_a_few_catches(before: float, after: float) -> None:
    off = []
    for seed in range(20):
        late = asynchronies(seed, (180, before), (120, after))
        found = change_point(np.arange(300) * 0.3, late)
        assert found is not None
        off.append(abs(found.time / 0.3 - 180))
        assert found.before == pytest.approx(before, rel=0.25)
        assert found.after == pytest.approx(after, rel=0.25)
    assert np.median(off) <= 5
    assert max(off) <= 40


def test_it_is_the_likeliest_moment() -> None:
    late = asynchronies(1, (60, 0.01), (40, 0.04))
    found = change_point(np.arange(100.0), late)

    def likelihood(split: int) -> float:
        parts = late[:split], late[split:]
        return sum(norm.logpdf(part, scale=np.sqrt(np.mean(part**2))).sum() for part in parts)

    assert found is not None
    assert found.time == max(range(16, 85), key=likelihood)


@pytest.mark.parametrize("count", [40, 200, 1000])
def test_a_steady_take_does_not_fall_apart(count: int) -> None:
    """At most one in a hundred, whatever its length; scored on 150 takes."""
    found = [
        change_point(np.arange(count) * 0.3, asynchronies(seed, (count, 0.02)))
        for seed in range(150)
    ]
    assert sum(change is not None for change in found) <= 2


def test_growing_steadier_is_not_falling_apart() -> None:
    assert change_point(np.arange(300.0), asynchronies(3, (150, 0.04), (150, 0.01))) is None


def test_catches_that_are_missing_do_not_matter() -> None:
    late = asynchronies(4, (180, 0.01), (120, 0.03))
    late[::7] = np.nan
    found = change_point(np.arange(300.0), late)
    assert found is not None
    assert found.time == pytest.approx(180, abs=10)


@pytest.mark.parametrize("count", [0, 1, 31])
def test_too_few_catches(count: int) -> None:
    assert change_point(np.arange(float(count)), asynchronies(0, (count, 0.02))) is None


def test_catches_that_are_all_alike() -> None:
    assert change_point(np.arange(100.0), np.zeros(100)) is None
