"""A sureness means something: of reports told as so sure, about that share is right.

What right means, and how the takes are made, stands in `judged_takes` and `engine.catching.
sureness`; the takes here are none of those that the weights were fitted to.
"""

from collections.abc import Sequence
from functools import lru_cache
from random import Random

import pytest
from judged_takes import any_case, judged, judged_cadence

from engine.catching.sureness import confidence_of, confidence_of_grid

TAKES = 150
FIRST_SEED = 700_000
BINS = ((0.0, 0.4), (0.4, 0.85), (0.85, 1.0))
OFF = 0.14
"""How far the share that is right may be from what was told: two sd of a share of fifty."""


@lru_cache(maxsize=1)
def told() -> tuple[list[tuple[float, bool]], list[tuple[float, bool]]]:
    """Return how sure each report was and whether it was right, with a pattern and without."""
    against, alone = [], []
    for seed in range(FIRST_SEED, FIRST_SEED + TAKES):
        case = any_case(Random(seed), longest=150)
        if aligned := judged(case):
            against.append((confidence_of(aligned[0]), aligned[1]))
        if found := judged_cadence(case):
            alone.append((confidence_of_grid(found[0]), found[1]))
    return against, alone


@pytest.mark.parametrize("known", [True, False], ids=["against a pattern", "alone"])
@pytest.mark.parametrize(("low", "high"), BINS)
def test_about_that_share_is_right(known: bool, low: float, high: float) -> None:
    inside = [each for each in told()[0 if known else 1] if low <= each[0] <= high]
    assert len(inside) >= 15
    sure = mean([sureness for sureness, _ in inside])
    right = mean([verdict for _, verdict in inside])
    assert right == pytest.approx(sure, abs=OFF)


@pytest.mark.parametrize("known", [True, False], ids=["against a pattern", "alone"])
def test_right_reports_are_told_apart_from_wrong_ones(known: bool) -> None:
    reports = told()[0 if known else 1]
    right = [sureness for sureness, verdict in reports if verdict]
    wrong = [sureness for sureness, verdict in reports if not verdict]
    above = mean([one > other for one in right for other in wrong])
    assert above > 0.85


def mean(values: Sequence[float]) -> float:
    return sum(values) / len(values)
