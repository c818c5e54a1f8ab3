import numpy as np
import pytest

from throwcount.sounds.echo.matching import parabolic_peak


@pytest.mark.parametrize("shift", [-0.5, -0.25, 0.0, 0.3, 0.5])
def test_the_summit_of_a_parabola_is_told_wherever_it_lies(shift: float) -> None:
    places = np.arange(-3, 4) - shift
    assert parabolic_peak(7.0 - 2.0 * places**2) == pytest.approx(7.0)


@pytest.mark.parametrize(
    "values",
    [
        [4.0],
        [4.0, 4.0, 4.0],
        [1.0, 2.0, 2.9, 4.0],
        [4.0, 2.9, 2.0, 1.0],
        # The parabola through the last three would have its summit far beyond.
        [0.0, 2.0, 3.001, 4.0],
    ],
)
def test_nothing_is_made_up_where_it_lies_beyond(values: list[float]) -> None:
    assert parabolic_peak(np.array(values)) == 4.0


def test_it_is_hardly_higher_than_the_highest() -> None:
    chance = np.random.default_rng(1)
    for values in chance.normal(size=(200, 9)):
        neighbours = np.max(values) - np.min(values)
        assert np.max(values) <= parabolic_peak(values) <= np.max(values) + neighbours / 4
