import numpy as np
import pytest

from throwcount.sounds.mixing.music_bed import Ducking

ATTACK = 0.15
"""Seconds: a fall before a word that is not heard as early."""

RELEASE = 0.6
"""Seconds: slow enough not to pump."""

BRIDGED = 2.0
"""Seconds: longer than from one word of a count to the next."""


RATE = 1000
"""So that a frame is a millisecond."""

FALL, RISE, BRIDGE = (round(each * RATE) for each in (ATTACK, RELEASE, BRIDGED))


def depth(words: list[tuple[int, int]], first: int, last: int) -> list[float]:
    ducking = Ducking(RATE)
    for start, end in words:
        ducking.speak(start, end)
    found = ducking.depth(first, last)
    return [found] * (last - first) if isinstance(found, float) else found.tolist()


def test_music_is_down_from_the_first_frame_of_a_word_to_its_last() -> None:
    found = depth([(1000, 1400)], 0, 3000)
    assert found[1000:1400] == [1.0] * 400
    assert found[: 1000 - FALL] == [0.0] * (1000 - FALL)
    assert found[1400 + RISE :] == [0.0] * (3000 - 1400 - RISE)
    assert 0.0 < found[999] < 1.0
    assert 0.0 < found[1401] < 1.0


def test_it_falls_and_rises_smoothly() -> None:
    found = np.array(depth([(1000, 1400)], 0, 3000))
    assert np.all(np.diff(found[1000 - FALL : 1000]) > 0.0)
    assert np.all(np.diff(found[1401 : 1400 + RISE]) < 0.0)
    assert np.abs(np.diff(found)).max() <= np.pi / 2 / FALL


@pytest.mark.parametrize(
    ("gap", "bridged"), [(10, True), (BRIDGE - 1, True), (BRIDGE, False), (3 * BRIDGE, False)]
)
def test_it_stays_down_between_words_that_are_near(gap: int, bridged: bool) -> None:
    found = depth([(1000, 1200), (1200 + gap, 1500 + gap)], 1200, 1200 + gap)
    assert (min(found) == 1.0) == bridged
    assert (min(found) == 0.0) == (not bridged)


def test_a_word_within_a_longer_one_changes_nothing() -> None:
    assert depth([(1000, 2000), (1200, 1300)], 0, 4000) == depth([(1000, 2000)], 0, 4000)


@pytest.mark.parametrize(
    ("first", "last", "expected"), [(0, 100, 0.0), (1000, 1400, 1.0), (1100, 1200, 1.0)]
)
def test_where_it_is_the_same_throughout_it_is_one_number(
    first: int, last: int, expected: float
) -> None:
    ducking = Ducking(RATE)
    ducking.speak(1000, 1400)
    assert ducking.depth(first, last) == expected
    assert isinstance(ducking.depth(first, last), float)


def test_what_is_over_is_forgotten_and_nothing_else() -> None:
    kept, forgetful = Ducking(RATE), Ducking(RATE)
    for start in range(0, 100_000, 2 * BRIDGE):
        kept.speak(start, start + 300)
        forgetful.speak(start, start + 300)
        forgetful.forget(start)
        ask = (start, start + 100)
        assert np.array_equal(kept.depth(*ask), forgetful.depth(*ask))
