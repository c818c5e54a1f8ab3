import numpy as np
import pytest
from scipy.stats import multivariate_normal

from throwcount.engine.takes.catches import Thuds
from throwcount.engine.takes.timbre import (
    FEWEST,
    LEAST,
    LEAST_LEFT,
    MOST,
    UNCERTAIN,
    catch_nats,
    density_nats,
    with_timbre,
)

BANDS = 4
CATCH, FLOOR = np.array([20.0, 15.0, 5.0, 0.0]), np.array([5.0, 10.0, 20.0, 15.0])


def of_a_take(catches: int, others: int, sd: float = 3.0) -> np.ndarray:
    """Return the bands of catches, then of as many other thuds."""
    random = np.random.default_rng(7)
    means = np.repeat([CATCH, FLOOR], [catches, others], axis=0)
    return np.asarray(means + random.normal(0, sd, means.shape))


def test_the_density_of_each_among_the_others_is_that_of_scipy() -> None:
    """Against `scipy.stats.multivariate_normal`, but for its constant."""
    bands = of_a_take(30, 0)
    share = np.full(30, 0.5)
    found = density_nats(bands, share)
    spread = np.cov(bands.T, bias=True) + UNCERTAIN * np.eye(BANDS)
    off = bands - bands.mean(axis=0)
    squares = np.einsum("ij,jk,ik->i", off, np.linalg.inv(spread), off)
    weakened = squares / np.maximum(1 - squares / 30, LEAST_LEFT)
    there = multivariate_normal(bands.mean(axis=0), spread).logpdf(bands)
    constant = BANDS / 2 * np.log(2 * np.pi)
    assert found == pytest.approx(there + constant + 0.5 * (squares - weakened))


def test_thuds_like_the_catches_are_likelier_ones() -> None:
    bands = of_a_take(60, 20)
    share = np.repeat([0.9, 0.1], [60, 20])
    nats = catch_nats(bands, share)
    assert nats[:60].min() > nats[60:].max()
    assert LEAST <= nats.min() < 0 < nats.max() <= MOST


def test_where_all_sound_alike_none_is_likelier() -> None:
    bands = of_a_take(80, 0)
    nats = catch_nats(bands, np.repeat([0.9, 0.1], [60, 20]))
    assert abs(nats[:60].mean() - nats[60:].mean()) < 0.5


@pytest.mark.parametrize("catches", [0, int(FEWEST) - 1, int(FEWEST) + 1])
@pytest.mark.parametrize("known", [True, False])
def test_a_few_catches_tell_nothing(catches: int, known: bool) -> None:
    bands = of_a_take(catches, 5)
    share = np.repeat([1.0, 0.0], [catches, 5])
    times = np.arange(len(share), dtype=np.float64)
    thuds = Thuds(times, np.ones(len(share)), bands if known else None)
    told = with_timbre(thuds, share)
    assert (told.likeness is not None) == (known and catches > FEWEST)
    if told.likeness is not None:
        assert told.weights[:catches].min() > told.weights[catches:].max()
    else:
        assert told.weights.tolist() == [1] * len(share)


def test_thuds_that_all_sound_the_same_are_no_trouble() -> None:
    bands = np.tile(CATCH, (40, 1))
    assert np.ptp(catch_nats(bands, np.full(40, 0.7))) < 1e-9
