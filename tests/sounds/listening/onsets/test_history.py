import numpy as np
import pytest

from sounds.listening.onsets.history import RunningQuantile


def test_nothing_known_is_what_is_expected() -> None:
    assert RunningQuantile(3, [4.0, 5.0]).quantile(0.5).tolist() == [4, 5]


@pytest.mark.parametrize("sizes", [(1, 1, 1, 1, 1), (5,), (2, 3), (0, 4, 1)])
def test_the_last_rows_are_kept_whatever_they_came_in(sizes: tuple[int, ...]) -> None:
    history = RunningQuantile(3, [0.0])
    rows = np.array([[9.0], [9.0], [1.0], [2.0], [3.0]])
    start = 0
    for size in sizes:
        history.add(rows[start : start + size])
        start += size
    assert [history.quantile(share)[0] for share in (0, 0.5, 1)] == [1, 2, 3]


@pytest.mark.parametrize("share", [0.0, 0.1, 0.3, 0.5, 0.8, 0.9, 1.0])
def test_quantiles_are_those_of_numpy(share: float) -> None:
    rows = np.random.default_rng(1).normal(size=(101, 4))
    history = RunningQuantile(200, np.zeros(4))
    history.add(rows)
    assert np.array_equal(history.quantile(share), np.quantile(rows, share, axis=0))


def test_what_is_expected_counts_until_enough_is_known() -> None:
    history = RunningQuantile(4, [10.0], trust=2)
    history.add(np.array([[1.0]]))
    assert history.quantile(0.5).tolist() == [10]
    history.add(np.array([[1.0], [1.0]]))
    assert history.quantile(0.5).tolist() == [1]
    history.add(np.array([[1.0]]))
    assert history.quantile(1.0).tolist() == [1]
