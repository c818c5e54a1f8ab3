import math
import random

import numpy as np
import pytest

from throwcount.sounds.listening.thuds import (
    ALIKE,
    EVEN,
    EXPECTED,
    REMEMBERED_RATIOS,
    Echoes,
    Odds,
    UsualThud,
    ratio_at,
)

LATEST = 0.15
"""Seconds: there and back from a wall 25 m off, at 343 m/s."""

MUCH_WEAKER = 15.0
"""dB: what follows that much weaker is an echo."""


INTERVAL = 0.3


def followed(lags: list[float], weaker: float) -> list[tuple[bool, bool]]:
    """Return what thuds and what follows them are taken for; a thud every 0.3 s."""
    echoes = Echoes()
    return [
        (
            echoes.is_echo(index * INTERVAL, 20.0),
            echoes.is_echo(index * INTERVAL + lag, 20.0 - weaker),
        )
        for index, lag in enumerate(lags)
    ]


def test_what_is_much_weaker_is_an_echo_at_once() -> None:
    assert followed([0.1], MUCH_WEAKER) == [(False, True)]


def test_what_comes_later_is_none_however_weak() -> None:
    assert followed([LATEST + 0.01], 30.0) == [(False, False)]


@pytest.mark.parametrize("jitter", [0.0, 0.0005])
def test_a_constant_lag_is_soon_taken_for_an_echo(jitter: float) -> None:
    chance = random.Random(1)
    taken = followed([0.09 + chance.uniform(-jitter, jitter) for _ in range(40)], 8.0)
    assert not any(thud for thud, _ in taken)
    assert all(echo for _, echo in taken[9:])


def test_the_lag_of_hands_is_none() -> None:
    chance = random.Random(2)
    taken = followed([chance.gauss(0.09, 0.01) for _ in range(100)], 8.0)
    assert sum(echo for _, echo in taken) <= 5


def test_as_loud_is_no_echo_however_regular() -> None:
    assert not any(echo for _, echo in followed([0.09] * 50, 1.0))


def among_soft_thuds() -> Odds:
    """Return odds that know of no thud that stands out far."""
    odds = Odds()
    for _ in range(REMEMBERED_RATIOS):
        odds.confidence(1.7 * EVEN)
    return odds


@pytest.mark.parametrize("sureness", [0.01, 0.3, 0.5, 0.9, 0.999])
def test_a_ratio_is_as_sure_as_was_asked_for(sureness: float) -> None:
    assert among_soft_thuds().confidence(ratio_at(sureness)) == pytest.approx(sureness)


def test_all_and_nothing_are_ends() -> None:
    assert ratio_at(0.0) == 0
    assert ratio_at(1.0) == math.inf


def test_where_thuds_stand_out_far_what_stands_out_a_little_is_less_sure() -> None:
    odds = among_soft_thuds()
    assert odds.confidence(1.2 * EVEN) > 0.7
    for _ in range(20):
        assert odds.confidence(12.0) > 0.99
    assert odds.confidence(1.2 * EVEN) < 0.2


def test_at_first_thuds_of_a_usual_take_are_expected() -> None:
    assert Odds().confidence(EXPECTED / ALIKE) == pytest.approx(0.5)
    assert Odds().confidence(0.6 * EVEN) < 0.05
    assert Odds().confidence(0.6 * EXPECTED) > 0.95


def test_thuds_that_grow_softer_for_good_become_sure_again() -> None:
    odds = Odds()
    for _ in range(100):
        odds.confidence(20.0)
    first = odds.confidence(5.0)
    for _ in range(31):
        last = odds.confidence(5.0)
    assert first < 0.5
    assert last > 0.98


def test_the_usual_thud_is_that_of_likely_ones() -> None:
    usual = UsualThud(2)
    first = usual.evidence.tolist()
    for _ in range(50):
        usual.add(np.array([0.0, 40.0]), 0.5)
    assert usual.evidence.tolist() == first == [10, 10]
    for _ in range(50):
        usual.add(np.array([3.0, 30.0]), 0.95)
    assert usual.evidence.tolist() == [3, 30]
