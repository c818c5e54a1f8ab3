"""Loudness of a whole signal by the weighting under test, without gates."""

import numpy as np

from sounds.voices.clip import Samples
from sounds.voices.loudness import k_weighted, level_of


def ungated(samples: Samples, rate: int) -> float:
    """Return the loudness in LKFS; every channel counts the same, as left and right do."""
    power = k_weighted(samples, rate) ** 2
    return level_of(float(np.mean(power.reshape(len(samples), -1).sum(axis=1))))
