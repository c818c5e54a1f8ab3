"""A general onset detector to compare with, as well set as can be.

It is librosa's (McFee et al., librosa: audio and music signal analysis in Python, SciPy 2015):
spectral flux over mel bands (Boeck & Widmer, Maximum filter vibrato suppression for onset
detection, DAFx 2013), its peaks picked over a moving mean. All of the settings below are tried, and
whoever compares takes those that are best on the takes at hand, which no one could do who does not
know the thuds.
"""

from collections.abc import Iterator
from itertools import product
from typing import NamedTuple

import librosa
import numpy as np

from sounds.listening.rate import Mono

HOPS = (128, 256, 512)
DELTAS = (0.03, 0.05, 0.07, 0.1, 0.13, 0.16, 0.2, 0.25, 0.3)
MAX_SIZES = (1, 3)
"""Frames from one spectrum to the next; how far a peak is above the mean, in shares of the highest;
over how many bands a maximum is taken, where 1 is plain flux. The usual ones are 512, 0.07, 1."""

USUAL = (512, 0.07, 1)
SPECTRUM = 1024
BANDS = 64


class Settings(NamedTuple):
    """Of the detector."""

    hop: int
    delta: float
    max_size: int


def onsets_by_settings(samples: Mono, rate: int) -> Iterator[tuple[Settings, list[float]]]:
    """Yield the times of onsets, in seconds, for all settings."""
    for hop, max_size in product(HOPS, MAX_SIZES):
        strength = librosa.onset.onset_strength(
            y=samples, sr=rate, hop_length=hop, n_fft=SPECTRUM, n_mels=BANDS, max_size=max_size
        )
        for delta in DELTAS:
            found = librosa.onset.onset_detect(
                onset_envelope=strength, sr=rate, hop_length=hop, units="time", delta=delta
            )
            yield Settings(hop, delta, max_size), np.asarray(found).tolist()
