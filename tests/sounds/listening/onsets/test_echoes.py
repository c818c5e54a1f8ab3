import random

import pytest

from sounds.listening.onsets.echoes import Echoes

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
