"""A voice for loud rooms: brighter, and with consonants more even and nearer to the vowels.

A crowd masks most where speech is strongest, below 1 kHz, and consonants, which tell words apart,
are soft and lie above it. So each clip is shaped once, where it comes from its voice, and a mix is
made of it as of any other:

- its spectrum is raised from 2 to 5 kHz and lowered below 500 Hz;
- above 2 kHz, where consonants are, a compressor brings soft sounds up to the loud ones, while the
  vowels below rise and fall as before, so that the beat is heard where it was;
- it is brought back to the loudness of a word, and its centre is measured again.

Shaping the spectrum and then compressing it is the method of Zorila, Kandia & Stylianou, Speech-in-
noise intelligibility improvement based on spectral shaping and dynamic range compression,
Interspeech 2012, 635-638; the values here are our own, chosen in babble by other talkers than those
in which the benchmark judges.
"""

from collections.abc import Callable
from dataclasses import replace
from typing import Final, TypeAlias

import numpy as np
import numpy.typing as npt

from throwcount.sounds.measures import centres, levelled, with_soft_edges
from throwcount.sounds.samples import Clip, Samples

PRESENCE_HERTZ: Final = (2000.0, 5000.0)
PRESENCE_DECIBELS: Final = 6.0
"""The band that is raised, and by how much."""

BASS_HERTZ: Final = 500.0
BASS_DECIBELS: Final = -3.0
"""The corner below which sound is lowered, and by how much."""

CONSONANT_HERTZ: Final = 2000.0
"""The corner above which sound is compressed."""

ORDER: Final = 4
"""Of the filters, each with the squared magnitude of a Butterworth filter and without phase."""

SOUND_SECONDS: Final = 0.020
"""Length of the window in which the compressor measures: shorter than a consonant, longer than a
period of the voice."""

CURVE: Final = ((-60.0, 0.0), (-45.0, 20.0), (-30.0, 20.0), (0.0, 0.0))
"""Levels against the loudest moment of a clip, and by how much each is raised, in dB: a ratio of 3
down to -30 dB. What is softer than speech is left alone, such as the noise of a recording."""

LEAST: Final = 1e-15
"""The least power that counts, -150 dB."""

RINGING_SECONDS: Final = 0.05
"""Silence in which the filters ring out."""

FIRST_WORD_SECONDS: Final = 0.4
"""How far beyond its centre a clip is looked at to place the centre again: as far as a word goes,
and not into the words that may follow."""

Spectrum: TypeAlias = npt.NDArray[np.float64]


def for_loud_room(clip: Clip) -> Clip:
    """Return a word or a phrase shaped for a loud room, as long and as loud as any word."""
    if not clip.samples.any():
        return clip
    shaped = with_presence(clip.samples, clip.rate)
    high = with_response(shaped, clip.rate, lambda hertz: 1 - _low_pass(hertz, CONSONANT_HERTZ))
    shaped += compressed(high, clip.rate) - high
    samples = levelled(with_soft_edges(shaped, clip.rate), clip.rate)
    first_word = slice(clip.centre + round(FIRST_WORD_SECONDS * clip.rate))
    before = centres(clip.samples[first_word], clip.rate).mean
    moved = round(centres(samples[first_word], clip.rate).mean - before)
    return replace(clip, samples=samples, centre=min(max(clip.centre + moved, 0), clip.frames - 1))


def with_presence(samples: Samples, rate: int) -> Samples:
    """Return sound raised from 2 to 5 kHz and lowered below 500 Hz; as for `with_response`."""

    def response(hertz: Spectrum) -> Spectrum:
        low, high = PRESENCE_HERTZ
        presence = (1 - _low_pass(hertz, low)) * _low_pass(hertz, high)
        decibels = PRESENCE_DECIBELS * presence + BASS_DECIBELS * _low_pass(hertz, BASS_HERTZ)
        return np.asarray(10 ** (decibels / 20), dtype=np.float64)

    return with_response(samples, rate, response)


def with_response(samples: Samples, rate: int, response: Callable[[Spectrum], Spectrum]) -> Samples:
    """Return filtered sound, of the same shape and not shifted in time.

    `samples` have the shape (frames, channels). `rate` is in Hz. `response` returns the linear gain
    at frequencies in Hz.
    """
    length = 1 << (len(samples) + round(RINGING_SECONDS * rate) - 1).bit_length()
    gains = response(np.fft.rfftfreq(length, 1 / rate).astype(np.float64))
    spectrum = np.fft.rfft(samples, length, axis=0) * gains[:, np.newaxis]
    return np.asarray(np.fft.irfft(spectrum, length, axis=0)[: len(samples)], dtype=np.float32)


def _low_pass(hertz: Spectrum, corner: float) -> Spectrum:
    return 1 / (1 + (hertz / corner) ** (2 * ORDER))


def compressed(samples: Samples, rate: int) -> Samples:
    """Return sound whose soft parts are raised along `CURVE`, of the same shape.

    `samples` have the shape (frames, channels). `rate` is in Hz. The window is centred on each
    frame, so that a sound is not raised late.
    """
    window = np.hanning(round(SOUND_SECONDS * rate) | 1)
    length = 1 << (len(samples) + len(window) - 1).bit_length()
    power = np.fft.rfft((samples.astype(np.float64) ** 2).mean(axis=1), length)
    ringing = np.fft.irfft(power * np.fft.rfft(window / window.sum(), length), length)
    strength = ringing[len(window) // 2 :][: len(samples)]
    # Rounding may leave less than nothing, and there may be nothing at all.
    share = np.maximum(strength, LEAST) / max(float(strength.max()), LEAST)
    levels, raised = np.array(CURVE).T
    gain = 10 ** (np.interp(10 * np.log10(share), levels, raised) / 20)
    return np.asarray(samples * gain[:, np.newaxis], dtype=np.float32)
