"""Spreads, lead and drift: what was simulated comes out, and clean takes agree with scipy.

Where a take fell apart: against every moment there is, and how often without any.
"""

import math
from collections.abc import Sequence
from random import Random

import numpy as np
import pytest
from scipy.stats import linregress, norm
from thud_times import Manner, Take, catches_of, take_of, wandering

from throwcount.engine.takes.alignment import align
from throwcount.engine.takes.catches import Catch, thuds_of
from throwcount.engine.takes.steadiness import (
    Steadiness,
    change_point,
    residuals,
    steadiness,
)

NEAR_SD, NEAR_SHARE = 0.003, 0.1
SEEDS = range(2)

BEYOND_CHANCE = 2.24
"""Standard errors, one time in twenty of two tests (Sidak 1967)."""


def steady(catches: Sequence[Catch], take: Take) -> Steadiness:
    aligned = align(catches, thuds_of(take.thuds), take.seconds, placed=True)
    assert aligned is not None
    about = residuals(aligned)
    assert about is not None
    return steadiness(aligned, about)


@pytest.mark.parametrize(
    ("text", "bpm"),
    [("3", 200), ("3", 260), ("531", 200), ("441", 180), ("(4,4)", 200)],
)
@pytest.mark.parametrize("sd", [0.005, 0.01, 0.02, 0.03, 0.04])
def test_sd_of_the_asynchronies(text: str, bpm: float, sd: float) -> None:
    """Within 3 ms or 10 % of the sd of what was simulated.

    With 5 % missing, 5 % extra, catches within 40 ms one thud, a lead of 20 to 80 ms and a clock
    that is 100 millionths fast.
    """
    for seed in SEEDS:
        random = Random(seed)
        catches = catches_of(text, bpm, 400)
        late = wandering(random, len(catches), sd)
        manner = Manner(sd=sd, lead=random.uniform(0.02, 0.08))
        found = steady(catches, take_of(catches, random, manner, asynchronies=late))
        true = float(np.std(late))
        assert found.asynchrony_sd == pytest.approx(true, abs=max(NEAR_SD, NEAR_SHARE * true))


@pytest.mark.parametrize("correlation", [-0.3, 0.0, 0.5])
@pytest.mark.parametrize("sd", [0.008, 0.03])
def test_sd_of_the_intervals(sd: float, correlation: float) -> None:
    """Against numpy on the simulated catches: of differences of neighbours, all of them there."""
    for seed in SEEDS:
        random = Random(seed)
        catches = catches_of("3", 220, 400)
        late = wandering(random, len(catches), sd, correlation)
        found = steady(catches, take_of(catches, random, Manner(), asynchronies=late))
        assert found.interval_sd == pytest.approx(float(np.std(np.diff(late))), rel=0.1)
        assert found.correlation == pytest.approx(correlation, abs=0.17)


@pytest.mark.parametrize("drift", [0.0, 0.02, -0.06])
def test_lead_and_drift_agree_with_a_regression(drift: float) -> None:
    """Nothing missing or extra: scipy's regression of the same asynchronies is the same line.

    The error is no smaller; larger where the means of the batches say so.
    """
    random = Random(8)
    catches = catches_of("3", 200, 300)
    times = np.array([catch.time for catch in catches])
    late = [random.gauss(0, 0.015) + drift / 60 * (time - times[0]) for time in times]
    manner = Manner(missing=0, extra=0, ppm=0, lead=0.05)
    found = steady(catches, take_of(catches, random, manner, asynchronies=late))
    line = linregress(times, np.array(late) - 0.05)
    assert found.drift == pytest.approx(60 * line.slope, abs=0.002)
    assert 0.95 < found.drift_uncertainty / (60 * line.stderr) < 1.4
    lead = found.lead
    assert lead is not None
    assert lead == pytest.approx(float(np.mean(late)) - 0.05, abs=0.002)
    assert (found.heard, found.expected) == (300, 300)


def test_the_uncertainty_of_the_drift_means_something() -> None:
    """Two in three estimates lie within it, as 68 % of a normal do within one sd, or some more.

    It allows for timing that is correlated for longer than this.
    """
    within = []
    for seed in range(60):
        catches = catches_of("3", 200, 100)
        manner = Manner(sd=0.02, ppm=0, correlation=0.4)
        found = steady(catches, take_of(catches, Random(seed), manner))
        within.append(abs(found.drift) < found.drift_uncertainty)
    assert 0.6 < np.mean(within) < 0.9


def test_of_timing_that_is_correlated_no_drift_is_told() -> None:
    """On headphones, with noise of many time scales, as people make it (Chen et al. 1997).

    It is the sum of first-order processes over 1, 4 and 16 catches, much like 1/f noise, and
    of as much from the hands.
    """
    told = []
    for seed in range(30):
        random = Random(seed)
        catches = catches_of("3", 200, 150)
        scales = [
            wandering(random, len(catches), 0.008, math.exp(-1 / scale)) for scale in (1, 4, 16)
        ]
        late = [sum(each, random.gauss(0, 0.014)) for each in zip(*scales, strict=True)]
        take = take_of(catches, random, Manner(start=random.uniform(0, 8)), asynchronies=late)
        aligned = align(catches, thuds_of(take.thuds), take.seconds, placed=False)
        assert aligned is not None
        about = residuals(aligned)
        assert about is not None
        found = steadiness(aligned, about)
        told.append(abs(found.drift) > BEYOND_CHANCE * found.drift_uncertainty)
    assert sum(told) <= 2


def test_what_changes_slowly_is_told_apart() -> None:
    random = Random(3)
    catches = catches_of("3", 200, 400)
    slow = [0.03 * np.sin(index / 40) for index in range(400)]
    late = [wave + random.gauss(0, 0.01) for wave in slow]
    found = steady(catches, take_of(catches, random, Manner(), asynchronies=late))
    assert found.wander_sd == pytest.approx(float(np.std(slow)), rel=0.2)
    assert found.asynchrony_sd == pytest.approx(float(np.std(late)), rel=0.1)


def test_no_lead_where_the_call_is_not_on_the_take() -> None:
    catches = catches_of("531", 200, 120)
    take = take_of(catches, Random(1), Manner(start=7.0))
    aligned = align(catches, thuds_of(take.thuds), take.seconds, placed=False)
    assert aligned is not None
    about = residuals(aligned)
    assert about is not None
    assert steadiness(aligned, about).lead is None


def test_too_few_catches_tell_nothing() -> None:
    catches = catches_of("3", 200, 7)
    take = take_of(catches, Random(0), Manner(missing=0, extra=0))
    aligned = align(catches, thuds_of(take.thuds), take.seconds, placed=True)
    assert aligned is not None
    assert residuals(aligned) is None


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
