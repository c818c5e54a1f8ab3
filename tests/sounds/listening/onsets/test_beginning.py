import numpy as np
import pytest

from sounds.listening.onsets.beginning import (
    BEGINNING_FUTURE,
    BEGINNING_PAST,
    RISING,
    thud_beginning,
)

SHARE = 0.3
"""Of the peak: a thud passes it less than a millisecond after its first sound."""


FLOOR = np.ones(2)
EVEN = np.array([0.5, 0.5])


def taken(amplitudes: dict[int, float], last: float) -> np.ndarray:
    """Return powers around a moment, whose amplitude over the background is `amplitudes`.

    Moments are counted from that of most evidence; the `last` amplitude stays.
    """
    after = np.arange(-BEGINNING_PAST, BEGINNING_FUTURE)
    amplitude = np.array([amplitudes.get(place, 0.0) for place in after])
    amplitude[after > max(amplitudes)] = last
    return np.tile(((1 + amplitude) ** 2)[:, np.newaxis], 2)


@pytest.mark.parametrize("place", [-10, -3, 0, 4])
def test_a_jump_is_where_its_share_is_passed(place: int) -> None:
    found = thud_beginning(taken({place: 10.0}, 10.0), FLOOR, EVEN)
    assert found == pytest.approx(place - 1 + SHARE)


def test_a_rise_is_passed_between_moments() -> None:
    found = thud_beginning(taken({0: 2.0, 1: 4.0, 2: 10.0}, 10.0), FLOOR, EVEN)
    assert found == pytest.approx(0 + (10 * SHARE - 2) / 2)


def test_what_was_before_the_rise_does_not_matter() -> None:
    found = thud_beginning(taken({-9: 9.0, 0: 10.0}, 1.0), FLOOR, EVEN)
    assert found == pytest.approx(-1 + SHARE)


def test_bands_without_weight_do_not_matter() -> None:
    powers = taken({0: 10.0}, 10.0)
    powers[BEGINNING_PAST - 8 :, 1] = 1e6
    found = thud_beginning(powers, FLOOR, np.array([1.0, 0.0]))
    assert found == pytest.approx(-1 + SHARE)


def test_what_never_was_below_begins_as_early_as_is_looked_for() -> None:
    powers = taken({-BEGINNING_PAST: 0.0}, 0.0)
    powers[BEGINNING_PAST + RISING[0] :] = 9.0
    assert thud_beginning(powers, FLOOR, EVEN) == RISING[0]
