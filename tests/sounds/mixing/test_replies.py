"""The tones that answer a press: told from clicks and from each other on a single speaker."""

from itertools import combinations

import numpy as np
import pytest
from scipy.signal import spectrogram

from throwcount.engine.timing.timeline import Click
from throwcount.sounds.measures import true_peak, word_loudness
from throwcount.sounds.mixing.clicks import CLICK_PEAK, click_clip
from throwcount.sounds.mixing.replies import ReplyKind, reply_clip
from throwcount.sounds.samples import Samples

RATE = 48_000
KINDS: tuple[ReplyKind, ...] = ("drop", "clean", "go")
FIFTH = 1.5
SAME = 0.03
"""Two pitches are the same within half a semitone."""


def pitches(kind: ReplyKind) -> tuple[float, float]:
    """Return the strongest frequency of the first half of the tones, and of the second, in Hz."""
    mono = reply_clip(kind, RATE).samples.mean(axis=1)
    found = []
    for half in np.array_split(mono, 2):
        power = np.abs(np.fft.rfft(half * np.hanning(len(half)), 1 << 16))
        found.append(float(np.argmax(power) * RATE / (1 << 16)))
    return found[0], found[1]


def loud_seconds(samples: Samples) -> float:
    """Return how long a sound stays within 20 dB of its loudest 5 ms, on one speaker."""
    _, times, power = spectrogram(samples.mean(axis=1), RATE, nperseg=240, noverlap=180)
    total = power.sum(axis=0)
    return float((total > total.max() / 100).sum() * (times[1] - times[0]))


@pytest.mark.parametrize(("kind", "ratio"), [("drop", 1 / FIFTH), ("clean", FIFTH), ("go", 1.0)])
def test_a_drop_falls_clean_rises_and_go_stays(kind: ReplyKind, ratio: float) -> None:
    first, second = pitches(kind)
    assert second / first == pytest.approx(ratio, rel=SAME)


def test_each_differs_in_pitch_or_direction() -> None:
    for one, other in combinations(map(pitches, KINDS), 2):
        assert any(abs(a / b - 1) > SAME for a, b in zip(one, other, strict=True))


@pytest.mark.parametrize("kind", KINDS)
def test_they_last_several_times_as_long_as_a_click(kind: ReplyKind) -> None:
    longest = max(
        loud_seconds(click_clip(Click("throw", hand, accent, value), RATE).samples)
        for hand in ("right", "left", "both")
        for value in (1, 5, 9)
        for accent in (True, False)
    )
    assert loud_seconds(reply_clip(kind, RATE).samples) > 3 * longest


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("rate", [44_100, 48_000])
def test_they_are_in_the_middle_and_not_too_loud(kind: ReplyKind, rate: int) -> None:
    samples = reply_clip(kind, rate).samples
    assert np.array_equal(samples[:, 0], samples[:, 1])
    assert true_peak(samples, rate) <= CLICK_PEAK
    assert -23 < word_loudness(samples, rate) <= -19.9
    assert not samples[0].any()
    assert np.abs(samples[-10:]).max() < 0.01
