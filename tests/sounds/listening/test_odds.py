import math

import pytest

from sounds.listening.odds import EVEN, Odds, ratio_at


@pytest.mark.parametrize("sureness", [0.01, 0.3, 0.5, 0.9, 0.999])
def test_a_ratio_is_as_sure_as_was_asked_for(sureness: float) -> None:
    assert Odds().sureness(ratio_at(sureness)) == pytest.approx(sureness)


def test_all_and_nothing_are_ends() -> None:
    assert ratio_at(0.0) == 0
    assert ratio_at(1.0) == math.inf


def test_where_thuds_stand_out_far_what_stands_out_a_little_is_less_sure() -> None:
    odds = Odds()
    alone = odds.sureness(1.2 * EVEN)
    for _ in range(20):
        assert odds.sureness(12.0) > 0.99
    assert alone > 0.8
    assert odds.sureness(1.2 * EVEN) < 0.1


def test_thuds_that_grow_softer_for_good_become_sure_again() -> None:
    odds = Odds()
    for _ in range(100):
        odds.sureness(20.0)
    first = odds.sureness(5.0)
    for _ in range(31):
        last = odds.sureness(5.0)
    assert first < 0.5
    assert last > 0.99
