"""How loud a word is, and words brought to one loudness.

The measure is the K-weighting of Recommendation ITU-R BS.1770: a high shelf for the head and a
high pass for the ear, then the mean square, summed over the channels. Programmes are measured in
blocks of 400 ms; words are shorter, so a word is as loud as its loudest 125 ms, about as long as
the ear sums up. Levels are in dB relative to full scale as the standard has them (LKFS), true
peaks are linear.
"""

from functools import lru_cache
from typing import Final

import numpy as np
import numpy.typing as npt
import soxr

from sounds.voices.clip import Samples

WORD_LEVEL: Final = -18.0
"""Level of every word, its loudest `WINDOW_SECONDS`, in LKFS."""

WORD_PEAK: Final = 10 ** (-1.0 / 20)
"""Highest true peak of a word, linear (-1 dBTP)."""

WINDOW_SECONDS: Final = 0.125

OFFSET: Final = -0.691
"""So that 997 Hz at full scale in one channel reads -3.01 LKFS (BS.1770)."""

OVERSAMPLING: Final = 4
"""For true peaks (BS.1770, annex 2)."""

LOUDNESS_PADDING_SECONDS: Final = 0.5
"""Silence in which the filters ring out; the high pass has fallen by 900 dB after it."""

# The standard gives both filters as coefficients at 48 kHz only. These analogue prototypes give
# the same coefficients there, to the last digit, and the same filters at any other rate.
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
    """Return samples as the K-weighting lets them through.

    `samples` are float32, shape (frames,) or (frames, channels). `rate` is in frames a second. The
    result is float64, of the same shape; what rings on after the last frame is left out.
    """
    padded = len(samples) + round(LOUDNESS_PADDING_SECONDS * rate)
    length = 1 << (padded - 1).bit_length()
    response = k_response(length, rate)
    spectrum = np.fft.rfft(samples.astype(np.float64), length, axis=0)
    weighted = np.fft.irfft((spectrum.T * response).T, length, axis=0)
    return np.asarray(weighted[: len(samples)], dtype=np.float64)


@lru_cache(maxsize=64)
def k_response(length: int, rate: int) -> npt.NDArray[np.complex128]:
    """Return the response of both filters at the frequencies of a real transform of `length`."""
    delay = np.exp(-2j * np.pi * np.fft.rfftfreq(length))
    response: npt.NDArray[np.complex128] = np.ones_like(delay)
    for above, below in (head_shelf(rate), ear_high_pass(rate)):
        response *= np.polyval(above[::-1], delay) / np.polyval(below[::-1], delay)
    return response


def word_loudness(samples: Samples, rate: int) -> float:
    """Return the loudness of the loudest 125 ms, in LKFS; -inf for silence.

    What is shorter is measured with silence around it.

    `samples` are float32, shape (frames,) or (frames, channels), at least one frame. `rate` is in
    frames a second.
    """
    window = round(WINDOW_SECONDS * rate)
    squares = k_weighted(samples, rate) ** 2
    power = squares if squares.ndim == 1 else squares.sum(axis=1)
    total = np.concatenate(([0.0], np.cumsum(power)))
    first = np.arange(max(len(power) - window, 0) + 1)
    energy = total[np.minimum(first + window, len(power))] - total[first]
    return level_of(float(np.max(energy)) / window)


def true_peak(samples: Samples, rate: int) -> float:
    """Return the highest magnitude between the samples as well as on them, linear.

    `samples` are float32, shape (frames,) or (frames, channels), at least one frame. `rate` is in
    frames a second.
    """
    between = soxr.resample(samples, rate, OVERSAMPLING * rate, quality="HQ")
    return float(max(np.max(np.abs(samples)), np.max(np.abs(between), initial=0.0)))


def levelled(samples: Samples, rate: int) -> Samples:
    """Return a word at `WORD_LEVEL`, or as near below it as a true peak of -1 dBTP allows.

    `samples` are float32, shape (frames,) or (frames, channels), not silent. `rate` is in frames a
    second.

    Raises
    ------
    ValueError
        If the samples are silent.
    """
    level = word_loudness(samples, rate)
    if np.isneginf(level):
        raise ValueError("Silence cannot be brought to the level of a word.")
    gain = 10 ** ((WORD_LEVEL - level) / 20)
    gain = min(gain, WORD_PEAK / true_peak(samples, rate))
    return (samples * gain).astype(np.float32)


def level_of(power: float) -> float:
    """Return the level of a K-weighted power, summed over the channels, in LKFS; -inf for 0."""
    return OFFSET + 10 * float(np.log10(power)) if power > 0.0 else -np.inf
