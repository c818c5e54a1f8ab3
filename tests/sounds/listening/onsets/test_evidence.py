import numpy as np
import numpy.typing as npt
import pytest

from sounds.listening.onsets.evidence import EVIDENCE_FUTURE, EVIDENCE_PAST, decibels, evidence_of

LEFT_WEIGHT = 0.8
"""How far a thud that does not die away is doubted: rooms answer, so not wholly."""


FLOOR = np.ones(1)
START = EVIDENCE_PAST + 100
"""The moment at which something begins, below."""


def evidence_at_most(powers: npt.NDArray[np.float64]) -> tuple[int, float]:
    """Return which moment has the most evidence, counted from where something begins."""
    found = evidence_of(powers[:, np.newaxis], FLOOR)[:, 0]
    place = int(np.argmax(found))
    return place + EVIDENCE_PAST - START, float(found[place])


def moments(level: float = 1.0) -> npt.NDArray[np.float64]:
    return np.full(EVIDENCE_PAST + 300 + EVIDENCE_FUTURE, level)


def test_what_stays_as_it_is_has_none() -> None:
    assert evidence_at_most(moments()) == (-100, 0)


def test_there_is_one_row_for_each_moment_with_enough_around_it() -> None:
    assert evidence_of(moments()[:, np.newaxis], FLOOR).shape == (300, 1)


def test_what_rises_and_is_gone_has_its_rise_in_decibels() -> None:
    powers = moments()
    powers[START : START + 20] = 100
    assert evidence_at_most(powers) == (1, pytest.approx(20))


def test_what_rises_and_stays_has_little() -> None:
    powers = moments()
    powers[START:] = 100
    _, most = evidence_at_most(powers)
    assert most == pytest.approx(20 * (1 - LEFT_WEIGHT))


def test_another_one_close_behind_does_not_hide_the_first() -> None:
    powers = moments()
    powers[START : START + 10] = 100
    powers[START + 60 : START + 70] = 10_000
    found = evidence_of(powers[:, np.newaxis], FLOOR)[:, 0]
    assert found[START - EVIDENCE_PAST : START - EVIDENCE_PAST + 5].max() == pytest.approx(20)


def test_what_rises_slowly_has_little() -> None:
    powers = moments()
    powers[START : START + 100] = np.geomspace(1, 100, 100)
    powers[START + 100 : START + 200] = np.geomspace(100, 1, 100)
    assert evidence_at_most(powers)[1] < 5


def test_what_dies_away_hides_what_is_weaker() -> None:
    powers = moments()
    dying = 10_000 * 10 ** (-np.arange(200) / 30)
    powers[START : START + 200] += dying
    powers[START + 50] += dying[50] / 2
    found = evidence_of(powers[:, np.newaxis], FLOOR)[:, 0]
    later = found[START - EVIDENCE_PAST + 20 :]
    assert found.max() > 20
    assert later.max() < 1


def test_pulses_of_a_voice_are_no_thuds_after_the_first() -> None:
    powers = moments()
    powers[START - 50 :: 10] = 100
    found = evidence_of(powers[:, np.newaxis], FLOOR)[:, 0]
    assert found[START - EVIDENCE_PAST :].max() < 6


@pytest.mark.parametrize("floor", [1.0, 10.0])
def test_what_was_quieter_than_the_background_counts_as_the_background(floor: float) -> None:
    powers = moments(1e-6)
    powers[START : START + 20] = 1000
    most = evidence_of(powers[:, np.newaxis], np.array([floor])).max()
    assert most == pytest.approx(30 - 10 * np.log10(floor))


def test_decibels_of_nothing_are_finite() -> None:
    assert decibels(np.array([0.0, 1.0, 100.0])).tolist() == [-300, 0, 20]
