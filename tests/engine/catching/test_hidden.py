"""How much later catches seem that others hide, against draws of them."""

import numpy as np
import pytest

from engine.catching.hidden import masking_delay

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
