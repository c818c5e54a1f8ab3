"""Hands and throws that lean are found by how much they do, with an honest uncertainty.

How much later catches seem that others hide, against draws of them.
"""

from collections.abc import Sequence
from dataclasses import replace
from random import Random

import numpy as np
import pytest
from scipy.stats import ttest_ind
from thud_times import Manner, Take, catches_of, take_of

from throwcount.engine.takes.alignment import Aligned, align
from throwcount.engine.takes.catches import Catch, thuds_of
from throwcount.engine.takes.throw_bias import (
    Position,
    hand_bias,
    masking_delay,
    positions,
)

NEAR = 0.004


def aligned(catches: Sequence[Catch], take: Take) -> Aligned:
    found = align(catches, thuds_of(take.thuds), take.seconds, placed=True)
    assert found is not None
    return found


def positions_in(found: Aligned) -> tuple[Position, ...]:
    return positions(found)


@pytest.mark.parametrize("difference", [0.0, 0.015, -0.03])
@pytest.mark.parametrize(("right", "left"), [(0.01, 0.01), (0.01, 0.02), (0.02, 0.012)])
def test_right_against_left(difference: float, right: float, left: float) -> None:
    random = Random(4)
    catches = catches_of("3", 200, 400)
    sds = {"right": right, "left": left}
    late = [
        random.gauss(difference if catch.hand == "right" else 0, sds[catch.hand])
        for catch in catches
    ]
    found = hand_bias(aligned(catches, take_of(catches, random, Manner(), asynchronies=late)))
    assert found is not None
    assert found.difference == pytest.approx(difference, abs=NEAR)
    assert found.right.sd == pytest.approx(right, abs=max(0.003, 0.12 * right))
    assert found.left.sd == pytest.approx(left, abs=max(0.003, 0.12 * left))
    assert found.right.expected == found.left.expected == 200
    assert 0.75 * 200 < found.right.heard <= 200


def test_the_uncertainty_is_that_of_two_means() -> None:
    """Where all is clean it is the one of Welch's test, as scipy has it: difference over t."""
    random = Random(6)
    catches = catches_of("3", 200, 200)
    late = [random.gauss(0.02 if catch.hand == "right" else 0, 0.015) for catch in catches]
    manner = Manner(missing=0, extra=0, ppm=0)
    found = hand_bias(aligned(catches, take_of(catches, random, manner, asynchronies=late)))
    assert found is not None
    by_hand = {
        hand: [off for off, catch in zip(late, catches, strict=True) if catch.hand == hand]
        for hand in ("right", "left")
    }
    welch = ttest_ind(by_hand["right"], by_hand["left"], equal_var=False)
    difference = np.mean(by_hand["right"]) - np.mean(by_hand["left"])
    assert found.difference == pytest.approx(difference, abs=0.002)
    assert found.uncertainty == pytest.approx(difference / welch.statistic, rel=0.1)


def test_two_in_three_differences_lie_within_the_uncertainty() -> None:
    within = []
    for seed in range(60):
        catches = catches_of("3", 200, 100)
        found = hand_bias(aligned(catches, take_of(catches, Random(seed), Manner(sd=0.02))))
        assert found is not None
        within.append(abs(found.difference) < found.uncertainty)
    assert 0.53 < np.mean(within) < 0.85


def test_the_throw_that_is_late() -> None:
    random = Random(5)
    catches = catches_of("744", 220, 300)
    lean = {0: 0.035, 1: -0.01, 2: 0.0}
    late = [random.gauss(lean[catch.cycle_beat or 0], 0.012) for catch in catches]
    found = positions_in(aligned(catches, take_of(catches, random, Manner(), asynchronies=late)))
    assert [(each.cycle_beats, each.throws) for each in found] == [
        ((0,), ("7",)),
        ((1,), ("4",)),
        ((2,), ("4",)),
    ]
    others = (lean[1] + lean[2]) / 2
    for each, own in zip(found, lean.values(), strict=True):
        assert each.spread.mean == pytest.approx(own - others, abs=NEAR)
        assert each.spread.sd == pytest.approx(0.012, abs=0.003)
        assert each.spread.expected == 100


def test_throws_that_are_caught_together_share_a_row() -> None:
    catches = catches_of("(4x,2x)", 200, 80)
    take = take_of(catches, Random(1), Manner(sd=0.01))
    found = aligned(catches, take)
    both = [each for each in positions_in(found) if len(each.throws) > 1]
    assert [(each.throws, each.cycle_beats) for each in both] == [(("2x", "4x"), (0, 0))]
    assert hand_bias(found) is None


@pytest.mark.parametrize(
    ("pattern", "tempo"), [("51", 180), ("531", 180), ("531", 220), ("441", 200), ("744", 200)]
)
def test_a_throw_that_others_hide_does_not_seem_late(pattern: str, tempo: int) -> None:
    """A 3 after a 1 is caught a sixth of a beat after it, and heard where it comes late."""
    late, hand = [], []
    for seed in range(8):
        catches = catches_of(pattern, tempo, 300)
        manner = Manner(sd=0.012, merged=0.046)
        found = aligned(catches, take_of(catches, Random(seed), manner))
        both = hand_bias(found)
        assert both is not None
        late += [each.spread.mean / each.spread.uncertainty for each in positions_in(found)]
        hand.append(both.difference / both.uncertainty)
    assert np.mean(np.abs(late) < 2) > 0.9
    assert np.mean(np.abs(hand) < 2) >= 0.75
    kinds = len(late) // 8
    assert np.abs(np.reshape(late, (8, kinds)).mean(axis=0)).max() < 1


@pytest.mark.parametrize(
    ("pattern", "tempo"),
    [("[33]33", 190), ("531", 255), ("97531", 260)],  # at these tempos a 3 and a 1 are one sound
)
def test_catches_that_make_one_sound_let_no_throw_seem_late(pattern: str, tempo: int) -> None:
    told = []
    for seed in range(6):
        catches = catches_of(pattern, tempo, 300)
        found = positions_in(aligned(catches, take_of(catches, Random(seed), Manner(sd=0.012))))
        assert sum(not each.comparable for each in found) == 1
        told += [each.spread for each in found if each.comparable]
    assert all(abs(each.mean) < NEAR for each in told)
    assert sum(abs(each.mean) < 2 * each.uncertainty for each in told) > 0.8 * len(told)


def test_a_cycle_that_is_gone_through_once() -> None:
    """No throw comes twice, and each may be an extra sound: nothing is told of it."""
    catches = [
        replace(catch, cycle_beat=index) for index, catch in enumerate(catches_of("3", 200, 40))
    ]
    assert (
        positions_in(aligned(catches, take_of(catches, Random(1), Manner(sd=0.012, extra=0)))) == ()
    )


def test_parts_keep_their_order() -> None:
    catches = catches_of("531", 180, 60)
    later = [
        type(catch)(
            catch.time + 30, catch.beat + 90, catch.hand, catch.cycle_beat, catch.value, "again"
        )
        for catch in catches
    ]
    both = [*catches, *later]
    take = take_of(both, Random(2), Manner(sd=0.01))
    assert [each.part for each in positions_in(aligned(both, take))] == ["531"] * 3 + ["again"] * 3


HIDDEN = 0.046
"""Seconds: measured on pairs of thuds of the same strength."""


DRAWS = 200_000


@pytest.mark.parametrize("spread", [0.005, 0.012, 0.03])
@pytest.mark.parametrize("gap", [0.03, 0.046, 0.056, 0.08, 0.3])
def test_those_that_are_heard_are_so_much_later(gap: float, spread: float) -> None:
    chance = np.random.default_rng(1)
    first, second = chance.normal(0, spread, (2, DRAWS))
    heard = gap + second - first > HIDDEN
    later = masking_delay(np.array([1.0, 1.0 + gap]), spread)
    assert later[0] == 0
    if heard.sum() > 1_000:
        assert later[1] == pytest.approx(second[heard].mean(), abs=0.0004)


@pytest.mark.parametrize("due", [[], [1.0], [1.0, 1.0], [1.0, 0.5], [1.0, 50.0]])
def test_nothing_odd_makes_it_infinite(due: list[float]) -> None:
    later = masking_delay(np.array(due), 0.001)
    assert len(later) == len(due)
    assert np.isfinite(later).all()
