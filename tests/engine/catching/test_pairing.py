"""The best pairing, against every pairing there is."""

from collections.abc import Sequence
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.catching.pairing import Choice, pair_up

EXACT = 1e-9

tables = st.dictionaries(
    st.tuples(st.integers(0, 5), st.integers(0, 5)), st.floats(0.01, 10), max_size=10
)


def most(choices: Sequence[Choice], after: tuple[int, int] = (-1, -1)) -> float:
    """Return the most that can be gained, by trying everything."""
    return max(
        (
            gain + most(choices[index + 1 :], (sound, thud))
            for index, (sound, thud, gain) in enumerate(choices)
            if sound > after[0] and thud > after[1]
        ),
        default=0.0,
    )


@given(tables)
def test_no_pairing_gains_more(table: dict[tuple[int, int], float]) -> None:
    choices = [(*pair, gain) for pair, gain in sorted(table.items())]
    pairs = pair_up(choices)
    assert sum(table[pair] for pair in pairs) == pytest.approx(most(choices), abs=EXACT)
    for (sound, thud), (next_sound, next_thud) in pairwise(pairs):
        assert next_sound > sound
        assert next_thud > thud


@pytest.mark.parametrize(
    ("choices", "pairs"),
    [
        ([], []),
        ([(0, 0, 1.0)], [(0, 0)]),
        # One thud for two sounds: the one that gains more has it.
        ([(0, 0, 1.0), (1, 0, 2.0)], [(1, 0)]),
        # Crossing pairs exclude each other.
        ([(0, 1, 3.0), (1, 0, 2.0)], [(0, 1)]),
        ([(0, 0, 2.0), (0, 1, 3.0), (1, 1, 2.0)], [(0, 0), (1, 1)]),
    ],
)
def test_by_hand(choices: list[Choice], pairs: list[tuple[int, int]]) -> None:
    assert pair_up(choices) == pairs
