"""Perceptual centres of signals whose envelope is known, and against filters of scipy."""

import numpy as np
import numpy.typing as npt
import pytest
import scipy.signal

from throwcount.sounds.measures import (
    FROM_VOWEL,
    MARCUS_CONSTANT,
    TO_VOWEL,
    centres,
    envelope,
    perceptual_centre,
)
from throwcount.sounds.voices.recorded import built_in

RATE = 48_000
TONE = 1000
"""Hz; in the midst of the band of vowels."""

SHAPE_TOLERANCE = 0.002
"""Seconds; a tone's ripple and the filters' ends leave that much of an ideal envelope's centre."""

FILTER_TOLERANCE = 0.002
"""Seconds; scipy's filters are warped near the upper corner, ours are not."""

Signal = npt.NDArray[np.float32]


def shaped(*corners: tuple[float, float], hertz: float = TONE, rate: int = RATE) -> Signal:
    """Return a tone with an envelope of straight lines through (seconds, height)."""
    times, heights = zip(*corners, strict=True)
    moments = np.arange(round(times[-1] * rate)) / rate
    tone = np.sin(2 * np.pi * hertz * moments)
    return (0.5 * np.interp(moments, times, heights) * tone).astype(np.float32)


SWELL = ((0.0, 0.0), (0.3, 1.0), (0.6, 1.0), (0.9, 0.0))
"""Long lines, so that a symmetric low pass leaves their middle where it is."""

SYLLABLE = ((0.0, 0.0), (0.2, 0.3), (0.26, 0.8), (0.5, 1.0), (0.7, 1.0), (0.9, 0.0))
"""A slow rise to a third, a quick one, and a slow one again."""


def test_half_rise_of_a_swell_is_halfway() -> None:
    assert centres(shaped(*SWELL), RATE).half_rise == pytest.approx(
        0.15 * RATE, abs=SHAPE_TOLERANCE * RATE
    )


def test_fastest_rise_is_where_the_slope_is() -> None:
    assert centres(shaped(*SYLLABLE), RATE).fastest_rise == pytest.approx(
        0.23 * RATE, abs=2 * SHAPE_TOLERANCE * RATE
    )


@pytest.mark.parametrize(("vowel", "end"), [(0.15, 0.9), (0.15, 1.2), (0.15, 0.7)])
def test_hybrid_moves_by_a_quarter_of_the_end(vowel: float, end: float) -> None:
    # Marcus, Percept. Psychophys. 30 (1981) 247-256: 0.65 of the time to the vowel and 0.25 of
    # the time from it to the end, up to a constant.
    word = shaped((0.0, 0.0), (0.3, 1.0), (end - 0.01, 1.0), (end, 0.0))
    expected = TO_VOWEL * vowel + FROM_VOWEL * (end - vowel) - MARCUS_CONSTANT
    assert (TO_VOWEL, FROM_VOWEL) == (0.65, 0.25)
    assert centres(word, RATE).hybrid == pytest.approx(
        expected * RATE, abs=2 * SHAPE_TOLERANCE * RATE
    )


def test_fastest_rise_stays_in_the_first_syllable() -> None:
    # As in "zero": the second syllable rises faster, but the beat is on the first.
    word = shaped((0, 0), (0.15, 0.8), (0.25, 0.8), (0.33, 0.1), (0.36, 1.0), (0.5, 0.0))
    literal = int(np.argmax(np.diff(envelope(word, RATE))))
    assert literal > 0.3 * RATE
    assert centres(word, RATE).fastest_rise < 0.15 * RATE


@pytest.mark.parametrize("delay", [1, 480, 12_000])
def test_silence_before_a_word_delays_its_centre(delay: int) -> None:
    word = shaped(*SYLLABLE)
    late = np.concatenate((np.zeros(delay, dtype=np.float32), word))
    assert perceptual_centre(late, RATE) - perceptual_centre(word, RATE) == pytest.approx(
        delay, abs=1
    )


@pytest.mark.parametrize("gain", [0.001, 0.5, 1.9])
def test_loudness_does_not_move_the_centre(gain: float) -> None:
    word = shaped(*SYLLABLE)
    assert perceptual_centre((gain * word).astype(np.float32), RATE) == pytest.approx(
        perceptual_centre(word, RATE), abs=1
    )


@pytest.mark.parametrize("rate", [8_000, 16_000, 22_050, 24_000, 44_100, 96_000])
def test_the_rate_does_not_move_the_centre(rate: int) -> None:
    seconds = perceptual_centre(shaped(*SYLLABLE, rate=rate), rate) / rate
    assert seconds == pytest.approx(perceptual_centre(shaped(*SYLLABLE), RATE) / RATE, abs=0.001)


@pytest.mark.parametrize("hertz", [60, 9000])
def test_rumble_and_hiss_before_the_vowel_weigh_little(hertz: float) -> None:
    word = np.concatenate((np.zeros(RATE // 10, dtype=np.float32), shaped(*SYLLABLE)))
    noisy = word.copy()
    noisy[: RATE // 10] = shaped((0, 0.5), (0.1, 0.5), hertz=hertz)
    moved = centres(noisy, RATE).half_rise - centres(word, RATE).half_rise
    assert abs(moved) < 0.005 * RATE


@pytest.mark.parametrize("channels", [1, 2])
def test_channels_are_heard_together(channels: int) -> None:
    word = shaped(*SYLLABLE)
    several = np.repeat(word[:, np.newaxis], channels, axis=1)
    assert perceptual_centre(several, RATE) == perceptual_centre(word, RATE)


def test_a_constant_offset_is_not_taken_for_a_word() -> None:
    word = shaped(*SYLLABLE)
    lifted = (word + 0.002).astype(np.float32)
    assert perceptual_centre(lifted, RATE) == pytest.approx(
        perceptual_centre(word, RATE), abs=0.001 * RATE
    )


@pytest.mark.parametrize("frames", [1, 2, 100])
def test_a_sound_of_a_few_frames_has_its_centre_inside(frames: int) -> None:
    assert 0 <= perceptual_centre(np.full(frames, 0.5, dtype=np.float32), RATE) < frames


def test_silence_has_no_centre() -> None:
    with pytest.raises(ValueError, match="Silence has no perceptual centre"):
        centres(np.zeros(1000, dtype=np.float32), RATE)


@pytest.mark.parametrize("word", ["zero", "three", "six", "eight", "nine"])
def test_half_rise_of_speech_agrees_with_filters_run_both_ways(word: str) -> None:
    speech = built_in(RATE).clips(word)[0].samples[:, 0]
    assert centres(speech, RATE).half_rise == pytest.approx(
        filtered_half_rise(speech), abs=FILTER_TOLERANCE * RATE
    )


def filtered_half_rise(speech: Signal) -> int:
    around = np.pad(speech.astype(np.float64), RATE // 2)
    for corner, kind in ((300, "highpass"), (3000, "lowpass")):
        sections = scipy.signal.butter(2, corner, kind, fs=RATE, output="sos")
        around = scipy.signal.sosfiltfilt(sections, around)
    sections = scipy.signal.butter(2, 10, "lowpass", fs=RATE, output="sos")
    strength = scipy.signal.sosfiltfilt(sections, np.abs(around))
    return int(np.argmax(strength >= strength.max() / 2)) - RATE // 2
