import tracemalloc
from collections.abc import Iterator

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from throwcount.sounds.measures import WORD_PEAK
from throwcount.sounds.mixing.clicks import CLICK_PEAK
from throwcount.sounds.mixing.mixer import Mixer, Placement, falling, lay_out_gains, linear


def impulse(*values: float) -> np.ndarray:
    """Return a sound with the same exactly representable values on both channels."""
    return np.repeat(np.array(values, np.float32)[:, np.newaxis], 2, axis=1)


def whole(mixer: Mixer, count: int = 1000) -> np.ndarray:
    blocks = []
    while len(block := mixer.read(count)):
        blocks.append(block)
    return np.concatenate(blocks)


@pytest.mark.parametrize(
    ("placements", "expected"),
    [
        ([], [0, 0, 0, 0, 0, 0]),
        ([Placement(0, impulse(1.0))], [1, 0, 0, 0, 0, 0]),
        ([Placement(5, impulse(1.0))], [0, 0, 0, 0, 0, 1]),
        ([Placement(5, impulse(1.0, 0.5))], [0, 0, 0, 0, 0, 1]),
        ([Placement(6, impulse(1.0))], [0, 0, 0, 0, 0, 0]),
        ([Placement(2, impulse(0.5), gain=0.5)], [0, 0, 0.25, 0, 0, 0]),
        # Two sounds that overlap are added, and neither replaces the other.
        (
            [Placement(1, impulse(0.5, 0.25)), Placement(2, impulse(0.5, 0.125))],
            [0, 0.5, 0.75, 0.125, 0, 0],
        ),
        ([Placement(1, impulse(0.5)), Placement(1, impulse(0.25))], [0, 0.75, 0, 0, 0, 0]),
        # A sound that is cut is silent from its stop on.
        ([Placement(1, impulse(1, 1, 1), stop=3)], [0, 1, 1, 0, 0, 0]),
        ([Placement(1, impulse(1, 1, 1), stop=4, fade=3)], [0, 1, 1, 1, 0, 0]),
        ([Placement(1, impulse(1, 1, 1), stop=1)], [0, 0, 0, 0, 0, 0]),
        ([Placement(3, impulse(1, 1, 1), stop=1)], [0, 0, 0, 0, 0, 0]),
    ],
)
@pytest.mark.parametrize("count", [1, 2, 3, 5, 6, 100])
def test_sounds_stand_on_their_frames(
    placements: list[Placement], expected: list[float], count: int
) -> None:
    mixed = whole(Mixer(placements, 6), count)
    assert mixed.dtype == np.float32
    assert np.array_equal(mixed, impulse(*expected))


def test_a_cut_sound_fades_smoothly_before_its_stop() -> None:
    mixed = whole(Mixer([Placement(0, impulse(*[1.0] * 100), stop=60, fade=20)], 100))[:, 0]
    assert np.array_equal(mixed[:40], np.ones(40, np.float32))
    assert np.array_equal(mixed[40:60], falling(20))
    assert np.all(np.diff(mixed[39:61]) < 0.0)
    assert not mixed[60:].any()


def test_a_fade_is_no_longer_than_what_is_heard() -> None:
    mixed = whole(Mixer([Placement(0, impulse(*[1.0] * 100), stop=3, fade=20)], 5))[:, 0]
    assert np.array_equal(mixed, np.concatenate((falling(3), np.zeros(2, np.float32))))


def test_the_order_of_two_sounds_at_one_place_does_not_matter() -> None:
    one, other = Placement(3, impulse(0.1, 0.7)), Placement(3, impulse(0.3, -0.2))
    assert np.array_equal(whole(Mixer([one, other], 9)), whole(Mixer([other, one], 9)))


def test_without_a_length_it_ends_with_the_last_sound() -> None:
    placements = [Placement(2, impulse(1, 1, 1, 1)), Placement(3, impulse(1))]
    for count in (1, 2, 3, 4, 7):
        assert len(whole(Mixer(placements), count)) == 6
    assert len(Mixer([]).read(10)) == 0


def test_sounds_out_of_order_are_refused() -> None:
    mixer = Mixer([Placement(5, impulse(1)), Placement(3, impulse(1))], 10)
    with pytest.raises(ValueError, match="frame 3 came after one placed at frame 5"):
        mixer.read(10)


starts = st.lists(st.integers(0, 60), max_size=12).map(sorted)
partitions = st.lists(st.integers(1, 40), min_size=1, max_size=20)


@given(starts, partitions, st.integers(0, 2**32 - 1))
def test_the_samples_do_not_depend_on_the_blocks(
    places: list[int], counts: list[int], seed: int
) -> None:
    random = np.random.default_rng(seed)
    placements = [
        Placement(
            place,
            random.standard_normal((random.integers(1, 30), 2)).astype(np.float32),
            float(random.uniform(0, 1)),
            place + int(random.integers(0, 40)),
            int(random.integers(0, 10)),
        )
        for place in places
    ]
    length = 100
    at_once = Mixer(placements, length).read(length)
    mixer = Mixer(placements, length)
    blocks = [mixer.read(count) for count in counts]
    blocks.append(mixer.read(length))
    assert np.array_equal(np.concatenate(blocks), at_once)


def test_memory_is_that_of_the_sounds_that_sound() -> None:
    def endless() -> Iterator[Placement]:
        start = 0
        while True:
            yield Placement(start, sound)
            start += 500

    sound = impulse(*np.linspace(0, 1, 1000))
    mixer = Mixer(endless())
    mixer.read(1000)
    tracemalloc.start()
    for _ in range(2000):
        mixer.read(1000)
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert mixer.position == 2_001_000
    assert peak < 10 * sound.nbytes


DUCKING = -6.0
"""dB: half the amplitude."""

TRUE_PEAK_CEILING = -1.0
"""dBTP (EBU R 128)."""


@pytest.mark.parametrize(("decibels", "factor"), [(0, 1.0), (-20, 0.1), (20, 10.0), (-6.0206, 0.5)])
def test_levels_become_factors(decibels: float, factor: float) -> None:
    assert linear(decibels) == pytest.approx(factor, rel=1e-5)


def test_what_stays_under_the_ceiling_is_left_as_it_is() -> None:
    gains = lay_out_gains(0.5, 0.4)
    assert (gains.word, gains.click, gains.lowered) == (1.0, 1.0, 0.0)
    assert gains.ducked_click == pytest.approx(linear(DUCKING))


@pytest.mark.parametrize("word_peak", [0.0, 0.3, 0.9, 1.5])
@pytest.mark.parametrize("click_peak", [0.0, 0.2, 0.7])
@pytest.mark.parametrize(("voice_level", "click_level"), [(0, 0), (20, -20), (-20, 20), (12, 12)])
def test_no_sum_exceeds_the_ceiling(
    word_peak: float, click_peak: float, voice_level: float, click_level: float
) -> None:
    gains = lay_out_gains(word_peak, click_peak, voice_level, click_level)
    ceiling = linear(TRUE_PEAK_CEILING)
    word, click = np.array([word_peak, word_peak / 3]), np.array([click_peak, click_peak / 2])
    beside = gains.click_beside(word * gains.word, click)
    assert np.max(word * gains.word + click * beside) <= ceiling
    assert click_peak * gains.click <= ceiling


def test_a_click_gives_way_to_a_word_only_as_far_as_it_must() -> None:
    gains = lay_out_gains(0.8, 0.8)
    room, click = gains.room, np.array([0.8, 0.2, 0.0])
    assert gains.click_beside(np.array([0.1, 0.4, 5.0]), click) == gains.ducked_click
    assert gains.click_beside(np.array([0.8, 0.1, 0.0]), click) == pytest.approx((room - 0.8) / 0.8)
    assert gains.click_beside(np.array([0.1, 0.8, 0.0]), click) == pytest.approx((room - 0.8) / 0.2)
    assert gains.click_beside(np.array([0.9, 0.0, 0.0]), click) == 0.0


def test_levels_keep_their_distance_when_all_is_lowered() -> None:
    gains = lay_out_gains(0.9, 0.7, 6.0, 12.0)
    assert gains.word < 1.0
    assert gains.click / gains.word == pytest.approx(linear(12.0 - 6.0))
    assert gains.ducked_click / gains.click == pytest.approx(linear(DUCKING))


def test_words_and_clicks_at_their_usual_levels_are_not_lowered() -> None:
    assert lay_out_gains(WORD_PEAK, CLICK_PEAK).lowered == 0.0


def test_it_is_known_how_much_lower_than_wanted_everything_is() -> None:
    usual, wanted = lay_out_gains(0.5, 0.4), lay_out_gains(0.5, 0.4, 12.0, 12.0)
    assert usual.lowered == 0.0
    assert wanted.word * linear(wanted.lowered) == pytest.approx(linear(12.0))
