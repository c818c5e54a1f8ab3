"""The mixture: shares, spreads and rates that are known beforehand, and its neighbourhoods.

The best pairing, against every pairing there is.
"""

from collections.abc import Sequence
from itertools import pairwise
from random import Random

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import truncnorm

from throwcount.engine.takes.catches import Thuds
from throwcount.engine.takes.mixture import Choice, fit, near_pairs, pair_up

SOUNDS = 800
GAP = 0.3


def thuds(times: list[float]) -> Thuds:
    return Thuds(np.array(sorted(times)), np.ones(len(times)))


@given(
    st.lists(st.floats(0, 10), min_size=1, max_size=12),
    st.lists(st.floats(0, 10), max_size=12),
    st.floats(-1, 1),
)
def test_near_pairs_are_all_within_reach(
    sounds: list[float], heard: list[float], lead: float
) -> None:
    sounds, heard = sorted(sounds), sorted(heard)
    near = near_pairs(np.array(sounds), np.array(heard), np.full(len(sounds), lead), 0.5)
    expected = [
        (i, j)
        for i, sound in enumerate(sounds)
        for j, thud in enumerate(heard)
        if sound + lead - 0.5 <= thud < sound + lead + 0.5
    ]
    assert list(zip(near.sound.tolist(), near.thud.tolist(), strict=True)) == expected
    assert near.late.tolist() == pytest.approx([heard[j] - sounds[i] for i, j in expected])


@pytest.mark.parametrize("spread", [0.005, 0.02, 0.04])
@pytest.mark.parametrize(
    ("missing", "extra", "near"), [(0.0, 0.0, 0.03), (0.05, 0.17, 0.03), (0.3, 1.5, 0.1)]
)
def test_what_went_in_comes_out(spread: float, missing: float, extra: float, near: float) -> None:
    """In the mean of some takes; of one with five extra sounds to seven catches 14 % is the sd."""
    found = []
    for seed in range(8):
        random = Random(seed)
        sounds = np.arange(SOUNDS) * GAP
        late = [random.gauss(-0.05, spread) for _ in sounds]
        heard = [time for time in sounds + late if random.random() >= missing]
        seconds = SOUNDS * GAP
        heard += [random.uniform(0, seconds) for _ in range(round(extra * seconds))]
        mixture = fit(sounds, thuds(heard), np.full(SOUNDS, -0.04))
        lead = mixture.lead.mean()
        found.append((mixture.spread / np.std(late), mixture.heard, mixture.extra_rate, lead))
    ratio, heard_share, extra_rate, lead = np.mean(found, axis=0)
    assert ratio == pytest.approx(1, abs=near)
    assert heard_share == pytest.approx(1 - missing, abs=0.06)
    assert extra_rate == pytest.approx(extra, abs=0.2)
    assert lead == pytest.approx(-0.05, abs=0.003)


def test_a_wide_spread_is_not_cut_off_by_the_neighbours() -> None:
    """50 ms at 260 a minute: half-way to the neighbour lies 2.3 sd away."""
    ratios = []
    for seed in range(12):
        random = Random(seed)
        sounds = np.arange(SOUNDS) * 60 / 260
        late = [random.gauss(0, 0.05) for _ in sounds]
        heard = [time for time in sounds + late if random.random() >= 0.05]
        heard += [random.uniform(0, sounds[-1]) for _ in range(40)]
        ratios.append(fit(sounds, thuds(heard), np.zeros(SOUNDS)).spread / np.std(late))
    cut_off = truncnorm.std(-2.3, 2.3)
    assert cut_off < 0.935
    assert np.mean(ratios) == pytest.approx(1, abs=0.045)


def test_shares_of_a_thud_are_no_more_than_the_whole() -> None:
    random = Random(7)
    sounds = np.arange(100) * GAP
    mixture = fit(sounds, thuds([random.uniform(0, 30) for _ in range(200)]), np.zeros(100))
    shares = np.bincount(mixture.near.thud, mixture.share)
    assert shares.max() <= 1
    assert (mixture.share >= 0).all()


def test_an_unsure_thud_counts_less() -> None:
    sounds = np.arange(40) * GAP
    times = np.sort(np.concatenate([sounds, [sounds[20] + 0.02]]))
    weights = np.ones(41)
    weights[21] = 0.05
    fits = [fit(sounds, Thuds(times, each), np.zeros(40)) for each in (np.ones(41), weights)]
    extra = [float(each.share[each.near.thud == 21].sum()) for each in fits]
    assert extra[1] < extra[0]


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
