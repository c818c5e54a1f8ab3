"""The perceptual centre of a word: the moment at which it is heard to happen.

Words placed on a beat by their onsets sound uneven (Morton, Marcus & Frankish, Psychological
Review 83 (1976) 405-408): "six" opens with a long hiss, "eight" with its vowel. Three published
estimates of the centre are here, all read off a word's *envelope*: its strength over time between
300 and 3000 Hz, where vowels are, smoothed to the pace of syllables by a low pass at 10 Hz that
does not shift it. Where one is led astray by a word the others are not, so words are placed by
their mean.

Frames are counted from the first sample and are not rounded here. No mean is subtracted from a
word: that would put a step at its edges.
"""

from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np
import numpy.typing as npt

from sounds.voices.clip import Samples
from sounds.voices.trim import span

VOWEL_HERTZ: Final = (300.0, 3000.0)
SYLLABLE_HERTZ: Final = 10.0

CENTRE_PADDING_SECONDS: Final = 0.3
"""Silence around a word in which the filters ring out."""

TO_VOWEL: Final = 0.65
FROM_VOWEL: Final = 0.25
"""Shares of the time from onset to vowel and from vowel to end (Marcus, Perception &
Psychophysics 30 (1981) 247-256)."""

MARCUS_CONSTANT: Final = 0.028
"""Seconds. Marcus's rule holds up to a constant; this one brings it, over spoken digits of 0.2 to
0.4 s, to within 10 ms of the other two."""

SYLLABLE_SHARE: Final = 0.5
"""The envelope's first peak at least this high, against the highest, is the first syllable's."""

Envelope = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Centres:
    """Where each estimate puts the centre of a word, in frames."""

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
        """The mean of the three."""
        return (self.half_rise + self.hybrid + self.fastest_rise) / 3


def perceptual_centre(samples: Samples, rate: int) -> int:
    """Return the frame of a word that belongs on the beat; parameters as those of `centres`."""
    return min(max(round(centres(samples, rate).mean), 0), len(samples) - 1)


def centres(samples: Samples, rate: int) -> Centres:
    """Return the estimates of a word's perceptual centre.

    `samples` are float32, shape (frames,) or (frames, channels), not silent; of channels, the mean
    counts. `rate` is in frames a second, at least 6000.

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
    """Return the strength of a word's vowels over time.

    `samples` are float32, shape (frames,). `rate` is in frames a second. The result is float64,
    shape (frames,): the part from 300 to 3000 Hz, rectified and low-passed at 10 Hz. Both filters
    have the magnitude of a Butterworth filter of second order run forward and backward, and no
    phase.
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
    """Return the magnitudes of the band pass and the low pass for a transform of `length`."""
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
