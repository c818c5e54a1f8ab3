import math

import pytest

from sounds.listening.onsets.odds import ALIKE, EVEN, EXPECTED, REMEMBERED_RATIOS, Odds, ratio_at


def among_soft_thuds() -> Odds:
    """Return odds that know of no thud that stands out far."""
    odds = Odds()
    for _ in range(REMEMBERED_RATIOS):
        odds.confidence(1.5 * EVEN)
    return odds


@pytest.mark.parametrize("sureness", [0.01, 0.3, 0.5, 0.9, 0.999])
def test_a_ratio_is_as_sure_as_was_asked_for(sureness: float) -> None:
    assert among_soft_thuds().confidence(ratio_at(sureness)) == pytest.approx(sureness)


def test_all_and_nothing_are_ends() -> None:
    assert ratio_at(0.0) == 0
    assert ratio_at(1.0) == math.inf


def test_where_thuds_stand_out_far_what_stands_out_a_little_is_less_sure() -> None:
    odds = among_soft_thuds()
    assert odds.confidence(1.2 * EVEN) > 0.8
    for _ in range(20):
        assert odds.confidence(12.0) > 0.99
    assert odds.confidence(1.2 * EVEN) < 0.1


def test_at_first_thuds_of_a_usual_take_are_expected() -> None:
    assert Odds().confidence(EXPECTED / ALIKE) == pytest.approx(0.5)
    assert Odds().confidence(EVEN) < 0.05
    assert Odds().confidence(0.6 * EXPECTED) > 0.99


def test_thuds_that_grow_softer_for_good_become_sure_again() -> None:
    odds = Odds()
    for _ in range(100):
        odds.confidence(20.0)
    first = odds.confidence(5.0)
    for _ in range(31):
        last = odds.confidence(5.0)
    assert first < 0.5
    assert last > 0.99
