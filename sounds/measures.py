"""Measures of words: loudness and true peak, the perceptual centre, and where the sound begins.

*Loudness* is K-weighted (ITU-R BS.1770): a high shelf for the head and a high pass for the ear,
then the mean square, summed over the channels. The standard measures programmes in blocks of 400
ms; words are shorter, so the loudness of a word is that of its loudest 125 ms, about as long as the
ear integrates. Levels are in dB relative to full scale as the standard has them (LKFS); true peaks
are linear.

*Perceptual centre*: the moment at which a word is heard to happen. Words placed on a beat by their
onsets sound uneven (Morton, Marcus & Frankish, Psychological Review 83 (1976) 405-408): "six" opens
with a long hiss, "eight" with its vowel. Three published estimates are used here, all read off the
*envelope* of a word: its strength over time between 300 and 3000 Hz, where vowels are, smoothed to
the pace of syllables by a zero-phase low pass at 10 Hz. Where one of them errs on a word the others
do not, so words are placed by a weighted mean. Centres are in frames from the first sample, not
rounded. No mean is subtracted from a word, which would put a step at its edges.
"""

from dataclasses import dataclass
from functools import lru_cache, reduce
from typing import Final

import numpy as np
import numpy.typing as npt
import soxr
from numpy.lib.stride_tricks import sliding_window_view

from throwcount.sounds.samples import Mono, Samples

WORD_LEVEL: Final = -15.0
"""Loudness of every word in one channel, over its loudest `WINDOW_SECONDS`, in LKFS."""

WORD_PEAK: Final = 10 ** (-2.0 / 20)
"""Highest true peak of a word, linear (-2 dBTP)."""

MOST_LIMITED: Final = 9.0
"""Decibels by which a word is limited at most; one that peaks still higher stays softer."""

WINDOW_SECONDS: Final = 0.125

OFFSET: Final = -0.691
"""With it, 997 Hz at full scale in one channel reads -3.01 LKFS (BS.1770)."""

OVERSAMPLING: Final = 4
"""Oversampling for true peaks (BS.1770, annex 2)."""

LIMITER_STEP_SECONDS: Final = 0.0005
LIMITER_REACH_STEPS: Final = 24
"""How far the limiter looks, back and ahead: 12 ms, longer than a swing of a deep voice."""

LEVELLING_ROUNDS: Final = 8
LEVELLING_STEP: Final = 1.6
LEVELLED_WITHIN: Final = 0.05
"""A limited word is raised by so many times the decibels that it lacks, as limiting takes some of
them, until it is within so many of its level, in at most so many rounds."""

LOUDNESS_PADDING_SECONDS: Final = 0.5
"""Silence in which the filters ring out; after it the high pass has fallen by 900 dB."""

# The standard gives both filters as coefficients at 48 kHz only. These analogue prototypes give
# the same coefficients there, to the last digit, and the same filters at other rates.
SHELF_HERTZ: Final = 1681.974450955533
SHELF_GAIN: Final = 3.999843853973347
SHELF_QUALITY: Final = 0.7071752369554196
SHELF_BAND: Final = 0.4996667741545416
PASS_HERTZ: Final = 38.13547087602444
PASS_QUALITY: Final = 0.5003270373238773

Coefficients = tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]


def head_shelf(rate: int) -> Coefficients:
    """Return numerator and denominator, each of 3 numbers, of the first filter of BS.1770."""
    warped = np.tan(np.pi * SHELF_HERTZ / rate)
    high = 10 ** (SHELF_GAIN / 20)
    band = high**SHELF_BAND
    damping = warped / SHELF_QUALITY
    scale = 1 + damping + warped**2
    above = np.array(
        [
            high + band * damping + warped**2,
            2 * (warped**2 - high),
            high - band * damping + warped**2,
        ]
    )
    below = np.array([scale, 2 * (warped**2 - 1), 1 - damping + warped**2])
    return above / scale, below / scale


def ear_high_pass(rate: int) -> Coefficients:
    """Return numerator and denominator, each of 3 numbers, of the second filter of BS.1770."""
    warped = np.tan(np.pi * PASS_HERTZ / rate)
    damping = warped / PASS_QUALITY
    scale = 1 + damping + warped**2
    below = np.array([scale, 2 * (warped**2 - 1), 1 - damping + warped**2])
    return np.array([1.0, -2.0, 1.0]), below / scale


def k_weighted(samples: Samples, rate: int) -> npt.NDArray[np.float64]:
    """Return K-weighted samples: float64, without what rings on after the last frame.

    `samples` have the shape (frames,) or (frames, channels), as the result. `rate` is in Hz.
    """
    padded = len(samples) + round(LOUDNESS_PADDING_SECONDS * rate)
    length = 1 << (padded - 1).bit_length()
    response = k_response(length, rate)
    spectrum = np.fft.rfft(samples.astype(np.float64), length, axis=0)
    weighted = np.fft.irfft((spectrum.T * response).T, length, axis=0)
    return np.asarray(weighted[: len(samples)], dtype=np.float64)


@lru_cache(maxsize=64)
def k_response(length: int, rate: int) -> npt.NDArray[np.complex128]:
    """Return the frequency response of both filters for a real transform of `length` frames."""
    delay = np.exp(-2j * np.pi * np.fft.rfftfreq(length))
    response: npt.NDArray[np.complex128] = np.ones_like(delay)
    for above, below in (head_shelf(rate), ear_high_pass(rate)):
        response *= np.polyval(above[::-1], delay) / np.polyval(below[::-1], delay)
    return response


def word_loudness(samples: Samples, rate: int) -> float:
    """Return the loudness of the loudest 125 ms, in LKFS; -inf for silence.

    Shorter words are measured with silence around them. `samples` have the shape (frames,) or
    (frames, channels), with at least one frame. `rate` is in Hz.
    """
    window = round(WINDOW_SECONDS * rate)
    squares = k_weighted(samples, rate) ** 2
    power = squares if squares.ndim == 1 else squares.sum(axis=1)
    total = np.concatenate(([0.0], np.cumsum(power)))
    first = np.arange(max(len(power) - window, 0) + 1)
    energy = total[np.minimum(first + window, len(power))] - total[first]
    return level_of(float(np.max(energy)) / window)


def true_peak(samples: Samples, rate: int) -> float:
    """Return the true peak, the highest magnitude on and between the samples, linear.

    `samples` have the shape (frames,) or (frames, channels), with at least one frame. `rate` is in
    Hz.
    """
    return float(heights(samples, rate).max())


def heights(samples: Samples, rate: int) -> Mono:
    """Return the highest magnitude at each frame and up to the next, over all channels.

    Parameters as those of `true_peak`; the result has the shape (frames,).
    """
    channels = samples.reshape(len(samples), -1)
    between = soxr.resample(channels, rate, OVERSAMPLING * rate, quality="HQ")
    fine = np.resize(between, (len(samples), OVERSAMPLING * channels.shape[1]))
    # Column by column: numpy is slow to reduce many short rows.
    highest: Mono = reduce(np.maximum, np.abs(np.hstack((fine, channels))).T)
    return highest


def limited(samples: Samples, rate: int) -> Samples:
    """Return a word with a true peak of at most `WORD_PEAK`.

    Parameters as those of `true_peak`. Its gain is what the highest peak within reach needs,
    averaged over that reach with the weights of a Hann window: it is lowered before the peak, and
    so slowly that it follows the strength of the voice and not its single swings.
    """
    return _limited(samples, rate, heights(samples, rate))


def _limited(samples: Samples, rate: int, highest: Mono) -> Samples:
    """Return a word limited, as `limited` does, with its heights given."""
    step, reach = round(LIMITER_STEP_SECONDS * rate), LIMITER_REACH_STEPS
    steps = -(-len(samples) // step)
    padded = np.pad(highest, (0, steps * step - len(samples)))
    peaks = padded.reshape(steps, step).max(axis=1)
    needed = np.minimum(1.0, WORD_PEAK / np.maximum(peaks, WORD_PEAK))
    if needed.min() == 1.0:
        return samples
    around = np.pad(needed, 2 * reach + 1, constant_values=1.0)
    lowest = sliding_window_view(around, 2 * reach + 3).min(axis=1)  # a step more on either side
    weights = np.hanning(2 * reach + 3)[1:-1]
    gains = sliding_window_view(lowest, 2 * reach + 1) @ (weights / weights.sum())
    centres_of_steps = (np.arange(steps) + 0.5) * step - 0.5
    gain = np.interp(np.arange(len(samples)), centres_of_steps, gains)
    soft: Samples = (samples.T * gain).T.astype(np.float32)
    return soft


def level_gain(samples: Samples, rate: int) -> float:
    """Return the gain at which a word, limited, has `WORD_LEVEL`, or as near as it may come.

    It is linear. `samples` have the shape (frames,) or (frames, channels). `rate` is in Hz.

    Raises
    ------
    ValueError
        If the samples are silent.
    """
    level = word_loudness(samples, rate)
    if np.isneginf(level):
        raise ValueError("Silence cannot be brought to the level of a word.")
    highest = heights(samples, rate)
    most = WORD_PEAK / float(highest.max()) * 10 ** (MOST_LIMITED / 20)
    gain = min(10 ** ((WORD_LEVEL - level) / 20), most)
    for _ in range(LEVELLING_ROUNDS):
        louder = (samples * gain).astype(np.float32)
        level = word_loudness(_limited(louder, rate, gain * highest), rate)
        if abs(WORD_LEVEL - level) < LEVELLED_WITHIN or gain == most:
            break
        gain = min(gain * 10 ** (LEVELLING_STEP * (WORD_LEVEL - level) / 20), most)
    return float(gain)


def levelled(samples: Samples, rate: int) -> Samples:
    """Return a word brought to its level; parameters and errors as those of `level_gain`."""
    return limited((samples * level_gain(samples, rate)).astype(np.float32), rate)


def level_of(power: float) -> float:
    """Return the level in LKFS of a K-weighted power, summed over the channels; -inf for 0."""
    return OFFSET + 10 * float(np.log10(power)) if power > 0.0 else -np.inf


QUIET: Final = 10 ** (-40 / 20)
"""Level relative to the peak of a word, linear (-40 dB), below which its ends are silent."""

FADE_SECONDS: Final = 0.003
"""Length of the fades at both ends of a word, so that no edge clicks."""


def span(samples: Samples, quiet: float = QUIET) -> tuple[int, int]:
    """Return the first frame of a word and the frame after its last; both are 0 for silence.

    `samples` have the shape (frames,) or (frames, channels). `quiet` is relative to the peak,
    linear.
    """
    heights = np.abs(samples) if samples.ndim == 1 else np.abs(samples).max(axis=1)
    peak = heights.max(initial=0.0)
    if peak == 0.0:
        return 0, 0
    sounding = np.flatnonzero(heights >= quiet * peak)
    return int(sounding[0]), int(sounding[-1]) + 1


def trimmed(samples: Samples, rate: int) -> Samples:
    """Return a copy of a word without the silence around it, faded at the edges; empty for silence.

    `samples` have the shape (frames,) or (frames, channels). `rate` is in Hz.
    """
    first, last = span(samples)
    if first == last:
        return samples[:0].copy()
    fade = round(FADE_SECONDS * rate)
    head, tail = min(fade, first), min(fade, len(samples) - last)
    cut = samples[first - head : last + tail].copy()
    cut[:head] = (cut[:head].T * _rising(head)).T
    cut[len(cut) - tail :] = (cut[len(cut) - tail :].T * _rising(tail)[::-1]).T
    return cut


def with_soft_edges(samples: Samples, rate: int) -> Samples:
    """Return a copy of all of a word, faded at the edges; parameters as those of `trimmed`."""
    word = samples.copy()
    fade = min(round(FADE_SECONDS * rate), len(word) // 2)
    word[:fade] = (word[:fade].T * _rising(fade)).T
    word[len(word) - fade :] = (word[len(word) - fade :].T * _rising(fade)[::-1]).T
    return word


def _rising(frames: int) -> Samples:
    """Return `frames` factors that rise from near 0 to near 1 along a raised cosine."""
    phase = (np.arange(frames) + 0.5) / max(frames, 1)
    return (0.5 - 0.5 * np.cos(np.pi * phase)).astype(np.float32)


VOWEL_HERTZ: Final = (300.0, 3000.0)
SYLLABLE_HERTZ: Final = 10.0
"""Corners of the band pass and of the low pass behind the envelope."""

CENTRE_PADDING_SECONDS: Final = 0.3
"""Silence around a word in which the filters ring out."""

TO_VOWEL: Final = 0.65
FROM_VOWEL: Final = 0.25
"""Shares of the time from onset to vowel and from vowel to end (Marcus, Perception &
Psychophysics 30 (1981) 247-256)."""

MARCUS_CONSTANT: Final = 0.028
"""In seconds. Marcus's rule holds up to a constant; with this one it is within 10 ms of the other
two on spoken digits of 0.2 to 0.4 s."""

HYBRID_WEIGHT: Final = 0.4
"""Weight of the hybrid estimate, which spreads most: with it all three spread about alike."""

SYLLABLE_SHARE: Final = 0.5
"""The first peak of the envelope with this share of the highest is that of the first syllable."""

Envelope = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Centres:
    """Estimates of a word's perceptual centre, in frames."""

    half_rise: float
    """Where the envelope first reaches half its maximum."""
    hybrid: float
    """Onset + 0.65 (vowel - onset) + 0.25 (end - vowel) - `MARCUS_CONSTANT`, with the half rise for
    the vowel's start (Marcus 1981)."""
    fastest_rise: float
    """Where the envelope rises fastest on its way up the first syllable (Rathcke et al., Journal of
    the Acoustical Society of America 155 (2024) 2698-2706)."""

    @property
    def mean(self) -> float:
        """The mean of the three, weighted so that each is about as near to it."""
        rises = (self.half_rise + self.fastest_rise) / 2
        return HYBRID_WEIGHT * self.hybrid + (1 - HYBRID_WEIGHT) * rises


def perceptual_centre(samples: Samples, rate: int) -> int:
    """Return the frame of a word that belongs on the beat; parameters as those of `centres`."""
    return min(max(round(centres(samples, rate).mean), 0), len(samples) - 1)


def measured(samples: Samples, rate: int) -> tuple[float, int]:
    """Return the gain that levels a word, and its centre; errors as those of `level_gain`."""
    gain = level_gain(samples, rate)
    return gain, perceptual_centre(limited((samples * gain).astype(np.float32), rate), rate)


def centres(samples: Samples, rate: int) -> Centres:
    """Return the estimates of a word's perceptual centre.

    `samples` have the shape (frames,) or (frames, channels), whose mean counts. `rate` is in Hz, at
    least 6000.

    Raises
    ------
    ValueError
        If the samples are silent.
    """
    mono = samples if samples.ndim == 1 else samples.mean(axis=1)
    onset, end = span(mono)
    if onset == end:
        raise ValueError("Silence has no perceptual centre.")
    strength = envelope(mono, rate)
    half_rise = _half_rise(strength)
    hybrid = onset + TO_VOWEL * (half_rise - onset) + FROM_VOWEL * (end - half_rise)
    return Centres(half_rise, hybrid - MARCUS_CONSTANT * rate, _fastest_rise(strength))


def envelope(samples: Samples, rate: int) -> Envelope:
    """Return the envelope of a word: 300 to 3000 Hz, rectified and low-passed at 10 Hz.

    `samples` and the result (float64) have the shape (frames,). `rate` is in Hz. Both filters have
    no phase, and the magnitude of a second-order Butterworth filter run forward and backward.
    """
    padding = round(CENTRE_PADDING_SECONDS * rate)
    length = 1 << (len(samples) + 2 * padding - 1).bit_length()
    band, smooth = _responses(length, rate)
    padded = np.zeros(length)
    padded[padding : padding + len(samples)] = samples
    vowels = np.fft.irfft(np.fft.rfft(padded) * band, length)
    strength = np.fft.irfft(np.fft.rfft(np.abs(vowels)) * smooth, length)
    return np.asarray(strength[padding : padding + len(samples)], dtype=np.float64)


@lru_cache(maxsize=64)
def _responses(length: int, rate: int) -> tuple[Envelope, Envelope]:
    """Return the magnitudes of the band pass and low pass for a transform of `length` frames."""
    hertz = np.fft.rfftfreq(length, 1 / rate).astype(np.float64)
    low, high = VOWEL_HERTZ
    passed_above = 1 - _low_pass(hertz, low)
    return passed_above * _low_pass(hertz, high), _low_pass(hertz, SYLLABLE_HERTZ)


def _low_pass(hertz: Envelope, corner: float) -> Envelope:
    return 1 / (1 + (hertz / corner) ** 4)


def _half_rise(strength: Envelope) -> float:
    half = strength.max() / 2
    after = int(np.argmax(strength >= half))
    if after == 0:
        return 0.0
    before = strength[after - 1]
    return float(after - 1 + (half - before) / (strength[after] - before))


def _fastest_rise(strength: Envelope) -> float:
    rise = np.diff(strength)
    high = strength[1:-1] >= SYLLABLE_SHARE * strength.max()
    peaks = np.flatnonzero(high & (rise[:-1] > 0) & (rise[1:] <= 0))
    peak = int(peaks[0]) + 1 if len(peaks) else int(np.argmax(strength))
    return float(np.argmax(rise[:peak])) + 0.5 if peak else 0.0
