"""A general onset detector to compare with, as well set as can be.

It is librosa's (McFee et al., librosa: audio and music signal analysis in Python, SciPy 2015):
spectral flux over mel bands (Boeck & Widmer, Maximum filter vibrato suppression for onset
detection, DAFx 2013), its peaks picked over a moving mean. All of the settings below are tried, and
whoever compares takes those that are best on the takes at hand, which no one could do who does not
know the thuds.
"""

from collections.abc import Iterable, Iterator, Sequence
from itertools import product
from typing import NamedTuple

import librosa
import numpy as np
import numpy.typing as npt
from agreement import Agreement, pooled

from throwcount.sounds.samples import RATE, Mono

HOPS = (128, 256, 512)
DELTAS = (0.03, 0.05, 0.07, 0.1, 0.13, 0.16, 0.2, 0.25, 0.3, 0.4)
MAX_SIZES = (1, 3)
"""Frames from one spectrum to the next; how far a peak is above the mean, in shares of the highest;
over how many bands a maximum is taken, where 1 is plain flux."""

SPECTRUM = 1024
BANDS = 64


class Settings(NamedTuple):
    """Of the detector."""

    hop: int
    delta: float
    max_size: int


USUAL = Settings(512, 0.07, 1)


def onsets_with(settings: Settings, samples: Mono, rate: int) -> list[float]:
    """Return the times of onsets, in seconds."""
    return _peaks(_strength(settings.hop, settings.max_size, samples, rate), settings, rate)


def onsets_by_settings(samples: Mono, rate: int) -> Iterator[tuple[Settings, list[float]]]:
    """Yield the times of onsets, in seconds, for all settings."""
    for hop, max_size in product(HOPS, MAX_SIZES):
        strength = _strength(hop, max_size, samples, rate)
        for delta in DELTAS:
            settings = Settings(hop, delta, max_size)
            yield settings, _peaks(strength, settings, rate)


def _strength(hop: int, max_size: int, samples: Mono, rate: int) -> npt.NDArray[np.float32]:
    return np.asarray(
        librosa.onset.onset_strength(
            y=samples, sr=rate, hop_length=hop, n_fft=SPECTRUM, n_mels=BANDS, max_size=max_size
        )
    )


def _peaks(strength: npt.NDArray[np.float32], settings: Settings, rate: int) -> list[float]:
    found = librosa.onset.onset_detect(
        onset_envelope=strength,
        sr=rate,
        hop_length=settings.hop,
        units="time",
        delta=settings.delta,
    )
    return np.asarray(found).tolist()


def best_on(takes: Iterable[tuple[Sequence[float], Mono]]) -> tuple[Settings, Agreement]:
    """Return the settings that do best on all takes together, and how well they do.

    Parameters
    ----------
    takes
        Of each take, when thuds are there, and the samples at `RATE`.
    """
    heard: dict[Settings, list[tuple[Sequence[float], Sequence[float]]]] = {}
    for there, samples in takes:
        for settings, onsets in onsets_by_settings(samples, RATE):
            heard.setdefault(settings, []).append((there, onsets))
    return max(((each, pooled(of)) for each, of in heard.items()), key=lambda best: best[1].f)
