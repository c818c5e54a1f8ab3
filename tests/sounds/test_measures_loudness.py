"""Loudness against the figures of the standards and against other meters."""

import numpy as np
import numpy.typing as npt
import pyloudnorm
import pytest
import scipy.signal
from ungated import ungated

from throwcount.sounds.measures import (
    WINDOW_SECONDS,
    ear_high_pass,
    head_shelf,
    k_weighted,
    levelled,
    limited,
    span,
    trimmed,
    true_peak,
    word_loudness,
)

WORD_LEVEL = -15.0
"""LKFS: so loud that words are plain, with room for clicks under the ceiling."""

WORD_PEAK = 10 ** (-2.0 / 20)
"""Linear: a little under the -1 dBTP that EBU R 128 allows."""


STANDARD_RATE = 48_000
METER_TOLERANCE = 0.1
"""dB; what meters may differ by (EBU Tech 3341)."""

Signal = npt.NDArray[np.float32]


def tone(hertz: float, level: float, seconds: float, rate: int = STANDARD_RATE) -> Signal:
    """Return a sine with its peaks at `level` dBFS."""
    moments = np.arange(round(seconds * rate)) / rate
    return (10 ** (level / 20) * np.sin(2 * np.pi * hertz * moments)).astype(np.float32)


def hiss(seconds: float, rate: int) -> Signal:
    return np.random.default_rng(7).normal(0, 0.05, round(seconds * rate)).astype(np.float32)


def test_filters_at_48_khz_are_those_of_the_standard() -> None:
    # ITU-R BS.1770, tables 1 and 2 (from memory).
    above, below = head_shelf(STANDARD_RATE)
    assert above == pytest.approx([1.53512485958697, -2.69169618940638, 1.19839281085285])
    assert below == pytest.approx([1.0, -1.69065929318241, 0.73248077421585])
    above, below = ear_high_pass(STANDARD_RATE)
    assert above == pytest.approx([1.0, -2.0, 1.0])
    assert below == pytest.approx([1.0, -1.99004745483398, 0.99007225036621])


@pytest.mark.parametrize("rate", [16_000, 24_000, 44_100, 48_000, 96_000])
def test_full_scale_in_one_channel_reads_minus_3(rate: int) -> None:
    # ITU-R BS.1770: 997 Hz at 0 dBFS in one channel reads -3.01 LKFS.
    assert ungated(tone(997, 0, 5, rate), rate) == pytest.approx(-3.01, abs=0.05)


def test_stereo_at_minus_23_reads_minus_23() -> None:
    # EBU Tech 3341, first case: 1 kHz at -23 dBFS in both channels reads -23.0 LUFS.
    both = np.repeat(tone(1000, -23, 20)[:, np.newaxis], 2, axis=1)
    assert ungated(both, STANDARD_RATE) == pytest.approx(-23.0, abs=METER_TOLERANCE)


@pytest.mark.parametrize("rate", [24_000, 44_100, 48_000])
@pytest.mark.parametrize("channels", [1, 2])
def test_noise_reads_as_on_another_meter(rate: int, channels: int) -> None:
    noise = np.stack([np.roll(hiss(5, rate), 99 * shift) for shift in range(channels)], axis=1)
    meter = pyloudnorm.Meter(rate, filter_class="DeMan")
    assert ungated(noise, rate) == pytest.approx(meter.integrated_loudness(noise), abs=0.05)


@pytest.mark.parametrize("rate", [22_050, 48_000])
def test_the_weighting_is_the_filters_run_forward(rate: int) -> None:
    noise = hiss(0.3, rate)
    expected = scipy.signal.lfilter(*head_shelf(rate), noise)
    expected = scipy.signal.lfilter(*ear_high_pass(rate), expected)
    assert k_weighted(noise, rate) == pytest.approx(expected, abs=1e-9)


@pytest.mark.parametrize(
    ("share", "level"),
    [(3.0, -3.01), (1.0, -3.01), (0.5, -6.02), (0.1, -13.01)],
    ids=["longer", "as long as the window", "half the window", "a tenth"],
)
@pytest.mark.parametrize("silence", [0.0, 0.5])
def test_a_burst_counts_for_the_share_of_the_window_it_fills(
    share: float, level: float, silence: float
) -> None:
    around = np.zeros(round(silence * STANDARD_RATE), dtype=np.float32)
    burst = tone(997, 0, share * WINDOW_SECONDS)
    word = np.concatenate((around, burst, around))
    # A burst that starts and stops at once spills over the band of the shelf.
    assert word_loudness(word, STANDARD_RATE) == pytest.approx(level, abs=0.2)


def test_silence_is_infinitely_quiet() -> None:
    assert word_loudness(np.zeros(100, dtype=np.float32), STANDARD_RATE) == -np.inf
    with pytest.raises(ValueError, match="Silence cannot be brought"):
        levelled(np.zeros(100, dtype=np.float32), STANDARD_RATE)


@pytest.mark.parametrize("rate", [24_000, 44_100, 48_000])
def test_a_peak_between_samples_is_seen(rate: int) -> None:
    # ITU-R BS.1770, annex 2: a quarter of the rate at 45 degrees peaks 3 dB above its samples.
    frames = np.arange(rate // 10)
    between = np.hanning(len(frames)) * np.sin(np.pi / 2 * frames + np.pi / 4)
    samples = between.astype(np.float32)
    assert np.abs(samples).max() == pytest.approx(0.707, abs=0.002)
    assert true_peak(samples, rate) == pytest.approx(1.0, abs=0.01)


@pytest.mark.parametrize("rate", [24_000, 48_000])
def test_true_peak_of_noise_is_that_of_another_resampler(rate: int) -> None:
    noise = hiss(0.5, rate) * np.hanning(rate // 2).astype(np.float32)
    expected = np.abs(scipy.signal.resample_poly(noise.astype(np.float64), 4, 1)).max()
    assert 20 * np.log10(true_peak(noise, rate) / expected) == pytest.approx(0, abs=0.3)


@pytest.mark.parametrize("level", [-60, -30, -10])
@pytest.mark.parametrize("rate", [16_000, 44_100])
def test_words_come_to_one_level(level: float, rate: int) -> None:
    word = levelled(tone(997, level, 0.4, rate), rate)
    assert word.dtype == np.float32
    assert word_loudness(word, rate) == pytest.approx(WORD_LEVEL, abs=0.01)


def test_a_word_that_would_peak_too_high_stays_lower() -> None:
    knock = np.zeros(4800, dtype=np.float32)
    knock[2400] = 0.1
    word = levelled(knock, STANDARD_RATE)
    assert word_loudness(word, STANDARD_RATE) < WORD_LEVEL
    assert true_peak(word, STANDARD_RATE) == pytest.approx(WORD_PEAK, rel=1e-3)
    assert 20 * np.log10(WORD_PEAK) == pytest.approx(-2.0)


PULSES_HERTZ = 100
"""A low voice: the strength of what follows falls within each swing."""


@pytest.mark.parametrize("rate", [16_000, 44_100, 48_000])
@pytest.mark.parametrize("over", [1.0, 3.0, 6.0])
def test_a_limited_word_keeps_its_swings_and_its_peaks_come_under_the_limit(
    rate: int, over: float
) -> None:
    time = np.arange(rate) / rate
    swelling = np.exp(-(((time - 0.5) / 0.2) ** 2)) * np.exp(-(time * PULSES_HERTZ % 1))
    word = (np.sin(2 * np.pi * 1000 * time) * swelling).astype(np.float32)
    word *= np.float32(WORD_PEAK * 10 ** (over / 20) / true_peak(word, rate))
    soft = limited(word, rate)
    assert true_peak(soft, rate) <= WORD_PEAK * 1.005
    near = (time > 0.49) & (time < 0.51)
    gain = soft[near] / np.where(word[near] == 0, 1, word[near])
    gain = gain[np.abs(word[near]) > 0.01]
    assert 20 * np.log10(gain.max() / gain.min()) < 0.5, "it would distort a swing"
    assert np.array_equal(soft[: rate // 8], word[: rate // 8])


def test_a_word_under_the_limit_is_not_touched() -> None:
    word = tone(997, -12, 0.4, STANDARD_RATE)
    assert limited(word, STANDARD_RATE) is word


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
