import numpy as np
import numpy.typing as npt
import pytest

from sounds.voices.trim import span, trimmed

FADE_SECONDS = 0.003
"""Seconds: a fade that does not click."""


RATE = 48_000
FADE = round(FADE_SECONDS * RATE)


def word_in_silence(before: int, frames: int, after: int) -> npt.NDArray[np.float64]:
    return np.concatenate((np.zeros(before), np.full(frames, 0.5), np.zeros(after)))


@pytest.mark.parametrize(
    ("samples", "ends"),
    [
        ([0, 0, 1, 0.5, 0, 0], (2, 4)),
        ([1, 1], (0, 2)),
        ([0.0099, 1, 0.0099], (1, 2)),
        ([0.0101, 1, 0.0101], (0, 3)),
        ([-1, 0, 0, 0.02, 0], (0, 4)),
        ([0, 0, 0], (0, 0)),
        ([], (0, 0)),
    ],
)
def test_a_word_spans_what_is_above_minus_40_db(
    samples: list[float], ends: tuple[int, int]
) -> None:
    assert span(np.array(samples, dtype=np.float32)) == ends
    assert span(np.array(samples, dtype=np.float32)[:, np.newaxis]) == ends


@pytest.mark.parametrize(("before", "after"), [(0, 0), (10, 10), (5000, 9000)])
def test_a_trimmed_word_keeps_room_to_fade(before: int, after: int) -> None:
    word = trimmed(word_in_silence(before, 1000, after).astype(np.float32), RATE)
    assert len(word) == min(before, FADE) + 1000 + min(after, FADE)


def test_nothing_of_the_word_itself_is_faded() -> None:
    word = trimmed(word_in_silence(5000, 1000, 5000).astype(np.float32), RATE)
    assert (word[FADE : FADE + 1000] == 0.5).all()


def test_what_is_around_a_word_fades_to_nothing() -> None:
    noisy = word_in_silence(5000, 1000, 5000) + 0.004
    word = trimmed(noisy.astype(np.float32), RATE)
    assert abs(word[0]) < 1e-5
    assert abs(word[-1]) < 1e-5


def test_the_original_is_left_alone() -> None:
    noisy = (word_in_silence(500, 100, 500) + 0.004).astype(np.float32)
    before = noisy.copy()
    trimmed(noisy, RATE)
    assert (noisy == before).all()


def test_silence_leaves_nothing() -> None:
    assert len(trimmed(np.zeros((100, 2), dtype=np.float32), RATE)) == 0
