"""Spreads, lead and drift: what was simulated comes out, and clean takes agree with scipy."""

from collections.abc import Sequence
from random import Random

import numpy as np
import pytest
from scipy.stats import linregress
from thud_times import Manner, Take, catches_of, take_of, wandering

from engine.catching.alignment import align
from engine.catching.expected import Catch
from engine.catching.heard import thuds_of
from engine.catching.steadiness import Steadiness, residuals, steadiness

NEAR_SD, NEAR_SHARE = 0.003, 0.1
SEEDS = range(2)


def steady(catches: Sequence[Catch], take: Take) -> Steadiness:
    aligned = align(catches, thuds_of(take.thuds), take.seconds, placed=True)
    assert aligned is not None
    about = residuals(aligned)
    assert about is not None
    return steadiness(aligned, about)


@pytest.mark.parametrize(
    ("text", "bpm"),
    [("3", 200), ("3", 260), ("531", 200), ("441", 180), ("(4,4)", 200), ("(4x,2x)", 220)],
)
@pytest.mark.parametrize("sd", [0.005, 0.01, 0.02, 0.03, 0.04])
def test_sd_of_the_asynchronies(text: str, bpm: float, sd: float) -> None:
    """Within 3 ms or 10 % of the sd of what was simulated.

    With 5 % missing, 5 % stray, catches within 40 ms one thud, a lead of 20 to 80 ms and a clock
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
    """Nothing missing or stray: scipy's regression of the same asynchronies is the same line."""
    random = Random(8)
    catches = catches_of("3", 200, 300)
    times = np.array([catch.time for catch in catches])
    late = [random.gauss(0, 0.015) + drift / 60 * (time - times[0]) for time in times]
    manner = Manner(missing=0, extra=0, ppm=0, lead=0.05)
    found = steady(catches, take_of(catches, random, manner, asynchronies=late))
    line = linregress(times, np.array(late) - 0.05)
    assert found.drift == pytest.approx(60 * line.slope, abs=0.002)
    assert found.drift_uncertainty == pytest.approx(60 * line.stderr, rel=0.15)
    lead = found.lead
    assert lead is not None
    assert lead == pytest.approx(float(np.mean(late)) - 0.05, abs=0.002)
    assert (found.heard, found.expected) == (300, 300)


def test_the_uncertainty_of_the_drift_means_something() -> None:
    """Two in three estimates lie within it: a normal has 68 % within one sd."""
    within = []
    for seed in range(60):
        catches = catches_of("3", 200, 100)
        manner = Manner(sd=0.02, ppm=0, correlation=0.4)
        found = steady(catches, take_of(catches, Random(seed), manner))
        within.append(abs(found.drift) < found.drift_uncertainty)
    assert 0.5 < np.mean(within) < 0.85


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
